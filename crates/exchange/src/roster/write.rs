//! A plan as iCalendar (RFC 5545), one person's part at a time.

use jiff::civil::{Date, DateTime, date};
use jiff::tz::{Dst, Offset, TimeZone};
use jiff::{Timestamp, ToSpan as _};

/// One event to be written, in the unit's local time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarEvent {
    /// What tells it from every other event; the same again when the plan is written again, so that a calendar replaces
    /// it.
    pub uid: String,
    /// Start.
    pub from: DateTime,
    /// End.
    pub to: DateTime,
    /// One line.
    pub summary: String,
    /// More, for those who open the event.
    pub description: String,
}

/// A calendar with these events in the unit's time zone, dated on the day it is written.
///
/// A zone of the time zone database is named with each time and defined in the calendar, with the shift of the clocks before
/// the first event and each up to the last (RFC 5545, 3.3.5, form 3, and 3.6.5): a phone elsewhere shows the moments of the ward.
/// In a zone without a name the times are written in UTC (form 2). Lines end with carriage return and line feed and are
/// folded before 75 octets (3.1); text is escaped (3.3.11).
pub fn write_calendar(events: &[CalendarEvent], written: Date, zone: &TimeZone) -> String {
    let mut text = String::new();
    let mut line = |content: &str| fold(&mut text, content);
    let named = zone.iana_name().filter(|name| !matches!(*name, "UTC" | "Etc/UTC"));
    line("BEGIN:VCALENDAR");
    line("VERSION:2.0");
    line("PRODID:-//Wardwright//Plan//EN");
    if let Some(name) = named {
        zone_lines(events, name, zone).iter().for_each(|content| line(content));
    }
    let at = |property: &str, when: DateTime| match named {
        Some(name) => format!("{property};TZID={name}:{}", when.strftime(LOCAL)),
        None => format!("{property}:{}Z", Offset::UTC.to_datetime(moment(when, zone)).strftime(LOCAL)),
    };
    let stamp = format!("{}T000000Z", written.strftime("%Y%m%d"));
    for event in events {
        line("BEGIN:VEVENT");
        line(&format!("UID:{}", escaped(&event.uid)));
        line(&format!("DTSTAMP:{stamp}"));
        line(&at("DTSTART", event.from));
        line(&at("DTEND", event.to));
        line(&format!("SUMMARY:{}", escaped(&event.summary)));
        line(&format!("DESCRIPTION:{}", escaped(&event.description)));
        line("END:VEVENT");
    }
    line("END:VCALENDAR");
    text
}

const LOCAL: &str = "%Y%m%dT%H%M%S";

/// The moment of a local time: one that the clocks skip is read with the offset before, one that comes twice is the first
/// (RFC 5545, 3.3.5).
fn moment(when: DateTime, zone: &TimeZone) -> Timestamp {
    zone.to_ambiguous_timestamp(when).compatible().unwrap_or_default()
}

/// What the zone's clocks do from before the first event to the last.
fn zone_lines(events: &[CalendarEvent], name: &str, zone: &TimeZone) -> Vec<String> {
    let moments = || events.iter().flat_map(|event| [event.from, event.to]).map(|when| moment(when, zone));
    let first = moments().min().unwrap_or_default();
    let last = moments().max().unwrap_or(first);
    let mut lines = vec!["BEGIN:VTIMEZONE".to_owned(), format!("TZID:{name}")];
    let mut observance = |dst: Dst, begins: DateTime, (from, to): (Offset, Offset), abbreviation: &str| {
        let kind = if dst == Dst::Yes { "DAYLIGHT" } else { "STANDARD" };
        lines.extend([
            format!("BEGIN:{kind}"),
            format!("DTSTART:{}", begins.strftime(LOCAL)),
            format!("TZOFFSETFROM:{}", offset_words(from)),
            format!("TZOFFSETTO:{}", offset_words(to)),
            format!("TZNAME:{abbreviation}"),
            format!("END:{kind}"),
        ]);
    };
    let before = zone.preceding(first.saturating_add(1.second()).unwrap_or(first)).next();
    let mut offset = match &before {
        Some(shift) => zone.to_offset(shift.timestamp().saturating_sub(1.second()).unwrap_or_default()),
        None => {
            let info = zone.to_offset_info(first);
            let since = date(1970, 1, 1).at(0, 0, 0, 0);
            observance(info.dst(), since, (info.offset(), info.offset()), info.abbreviation());
            info.offset()
        }
    };
    let later = zone.following(first).take_while(|shift| shift.timestamp() <= last);
    for shift in before.into_iter().chain(later) {
        let begins = offset.to_datetime(shift.timestamp());
        observance(shift.dst(), begins, (offset, shift.offset()), shift.abbreviation());
        offset = shift.offset();
    }
    lines.push("END:VTIMEZONE".to_owned());
    lines
}

/// An offset from UTC as RFC 5545, 3.3.14 writes it: `+0130`.
fn offset_words(offset: Offset) -> String {
    let (sign, seconds) =
        if offset.is_negative() { ('-', -offset.seconds()) } else { ('+', offset.seconds()) };
    let (hours, minutes) = (seconds / 3_600, seconds / 60 % 60);
    match seconds % 60 {
        0 => format!("{sign}{hours:02}{minutes:02}"),
        left => format!("{sign}{hours:02}{minutes:02}{left:02}"),
    }
}

fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '\\' | ';' | ',' => escaped.extend(['\\', sign]),
            '\n' => escaped.push_str("\\n"),
            '\r' => {}
            sign if sign.is_control() && sign != '\t' => {}
            sign => escaped.push(sign),
        }
    }
    escaped
}

/// Adds a content line, folded so that no line is longer than 75 octets and no sign is torn.
fn fold(text: &mut String, content: &str) {
    let mut length = 0;
    for sign in content.chars() {
        if length + sign.len_utf8() > 75 {
            text.push_str("\r\n ");
            length = 1;
        }
        text.push(sign);
        length += sign.len_utf8();
    }
    text.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(from: DateTime, to: DateTime) -> CalendarEvent {
        CalendarEvent {
            uid: "vein-1".to_owned(),
            from,
            to,
            summary: "Watch n014, n015; \\ and\nmore".to_owned(),
            description: "ä".repeat(80),
        }
    }

    #[test]
    fn lines_are_folded_and_text_is_escaped() {
        let event = event(date(2026, 11, 2).at(19, 0, 0, 0), date(2026, 11, 3).at(7, 0, 0, 0));
        let text = write_calendar(&[event], date(2026, 11, 1), &TimeZone::UTC);
        assert!(text.contains("DTSTART:20261102T190000Z\r\nDTEND:20261103T070000Z\r\n"), "{text}");
        assert!(text.contains("SUMMARY:Watch n014\\, n015\\; \\\\ and\\nmore\r\n"), "{text}");
        assert!(text.lines().all(|line| line.len() <= 75), "{text}");
        let unfolded = text.replace("\r\n ", "");
        assert!(unfolded.contains(&format!("DESCRIPTION:{}\r\n", "ä".repeat(80))), "{text}");
        assert!(text.starts_with("BEGIN:VCALENDAR\r\n") && text.ends_with("END:VCALENDAR\r\n"));
    }

    /// The United States' clocks from 2007 on: forward at 02:00 on the second Sunday of March, back at 02:00 on the first
    /// Sunday of November (Energy Policy Act of 2005, section 110); the form is that of RFC 5545, 3.6.5.
    #[test]
    fn a_zone_is_defined_with_every_shift_of_its_clocks() {
        let zone = TimeZone::get("America/New_York").unwrap();
        let nights = [
            event(date(2026, 10, 31).at(19, 0, 0, 0), date(2026, 11, 1).at(7, 0, 0, 0)),
            event(date(2026, 11, 1).at(19, 0, 0, 0), date(2026, 11, 2).at(7, 0, 0, 0)),
        ];
        let text = write_calendar(&nights, date(2026, 10, 1), &zone);
        let expected = [
            "BEGIN:VTIMEZONE",
            "TZID:America/New_York",
            "BEGIN:DAYLIGHT",
            "DTSTART:20260308T020000",
            "TZOFFSETFROM:-0500",
            "TZOFFSETTO:-0400",
            "TZNAME:EDT",
            "END:DAYLIGHT",
            "BEGIN:STANDARD",
            "DTSTART:20261101T020000",
            "TZOFFSETFROM:-0400",
            "TZOFFSETTO:-0500",
            "TZNAME:EST",
            "END:STANDARD",
            "END:VTIMEZONE",
        ];
        assert!(text.contains(&expected.join("\r\n")), "{text}");
        assert!(text.contains("DTSTART;TZID=America/New_York:20261031T190000\r\n"), "{text}");
        // Half hours, in a zone whose clocks do not move any more.
        let zone = TimeZone::get("Asia/Kolkata").unwrap();
        let text = write_calendar(&nights, date(2026, 10, 1), &zone);
        assert!(text.contains("TZOFFSETTO:+0530\r\nTZNAME:IST\r\n"), "{text}");
        // A zone without a name: the moments in UTC.
        let zone = TimeZone::fixed(Offset::constant(-5));
        let text = write_calendar(&nights, date(2026, 10, 1), &zone);
        assert!(text.contains("DTSTART:20261101T000000Z\r\n") && !text.contains("TZID"), "{text}");
    }
}
