//! A plan as iCalendar (RFC 5545), one person's part at a time.

use jiff::civil::{Date, DateTime};

/// One event to be written. Times are the unit's local time, written as local time without a zone (RFC 5545, 3.3.5,
/// form 1): a calendar shows them as the ward's clock does.
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

/// A calendar with these events, dated on the day it is written.
///
/// Lines end with carriage return and line feed and are folded before 75 octets (RFC 5545, 3.1); text is escaped
/// (3.3.11).
pub fn write_calendar(events: &[CalendarEvent], written: Date) -> String {
    let mut text = String::new();
    let mut line = |content: &str| fold(&mut text, content);
    line("BEGIN:VCALENDAR");
    line("VERSION:2.0");
    line("PRODID:-//Wardwright//Plan//EN");
    let stamp = format!("{}T000000Z", written.strftime("%Y%m%d"));
    for event in events {
        line("BEGIN:VEVENT");
        line(&format!("UID:{}", escaped(&event.uid)));
        line(&format!("DTSTAMP:{stamp}"));
        line(&format!("DTSTART:{}", event.from.strftime("%Y%m%dT%H%M%S")));
        line(&format!("DTEND:{}", event.to.strftime("%Y%m%dT%H%M%S")));
        line(&format!("SUMMARY:{}", escaped(&event.summary)));
        line(&format!("DESCRIPTION:{}", escaped(&event.description)));
        line("END:VEVENT");
    }
    line("END:VCALENDAR");
    text
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
    use jiff::civil::date;

    use super::*;

    #[test]
    fn lines_are_folded_and_text_is_escaped() {
        let event = CalendarEvent {
            uid: "vein-1".to_owned(),
            from: date(2026, 11, 2).at(19, 0, 0, 0),
            to: date(2026, 11, 3).at(7, 0, 0, 0),
            summary: "Watch n014, n015; \\ and\nmore".to_owned(),
            description: "ä".repeat(80),
        };
        let text = write_calendar(&[event], date(2026, 11, 1));
        assert!(text.contains("DTSTART:20261102T190000\r\nDTEND:20261103T070000\r\n"), "{text}");
        assert!(text.contains("SUMMARY:Watch n014\\, n015\\; \\\\ and\\nmore\r\n"), "{text}");
        assert!(text.lines().all(|line| line.len() <= 75), "{text}");
        let unfolded = text.replace("\r\n ", "");
        assert!(unfolded.contains(&format!("DESCRIPTION:{}\r\n", "ä".repeat(80))), "{text}");
        assert!(text.starts_with("BEGIN:VCALENDAR\r\n") && text.ends_with("END:VCALENDAR\r\n"));
    }
}
