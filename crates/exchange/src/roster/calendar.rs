//! Rosters as iCalendar (RFC 5545): events with a start and an end, once or by a rule.

use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr as _;

use calcard::common::timezone::Tz;
use calcard::icalendar::{
    ICalendar, ICalendarComponent, ICalendarComponentType, ICalendarParameterName, ICalendarProperty,
    ICalendarStatus, ICalendarValue,
};
use calcard::{Entry, Parser};
use jiff::civil::{Date, DateTime};

/// Most repetitions followed of one event: ten years of days.
const MOST_REPEATS: usize = 3_660;
/// Most bytes read: a year of a large hospital is a few megabytes.
const MOST_BYTES: usize = 64 << 20;

/// One stretch of work as a calendar has it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct CalendarDuty {
    /// When it begins, the unit's local time.
    pub from: DateTime,
    /// When it ends, the unit's local time.
    pub to: DateTime,
    /// Who works, as the calendar names them.
    pub person: String,
    /// The event it comes from (UID).
    pub event: String,
}

/// What a calendar holds between two days, and what could not be read of it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct CalendarFile {
    /// By start, each once.
    pub duties: Vec<CalendarDuty>,
    /// Event (UID, "" for the whole file) and reason.
    pub unread: Vec<(String, String)>,
}

/// Reads the events of a calendar that touch a day from `from` to `until`, both included.
///
/// Who works is each attendee: their common name, or their address without what follows the sign @. An event without
/// attendees belongs to the person its summary names: the first word. A cancelled event is no work.
///
/// Times with a zone are brought to the unit's zone where `zone` names it (such as "Europe/Berlin"), and are taken as the
/// clock shows them where it does not; times in UTC need it. Without `zone` the calendar's own X-WR-TIMEZONE counts. Repetitions follow RRULE, RDATE, EXDATE and RECURRENCE-ID;
/// a repeated shift keeps its hours on the clock when the clocks are moved.
pub fn read_calendar(bytes: &[u8], zone: Option<&str>, from: Date, until: Date) -> CalendarFile {
    let mut file = CalendarFile::default();
    let mut whole = |why: String| file.unread.push((String::new(), why));
    if bytes.len() > MOST_BYTES {
        whole(format!("more than {} MB; split the calendar by time", MOST_BYTES >> 20));
        return file;
    }
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{feff}');
    // What many programs write for the zone of a whole calendar.
    let own_zone = text.lines().find_map(|line| line.trim_end().strip_prefix("X-WR-TIMEZONE:"));
    let zone = match zone.or(own_zone).map(Tz::from_str) {
        None => None,
        Some(Ok(zone)) => Some(zone),
        Some(Err(())) => {
            whole(
                "the unit's time zone is not one of the time zone database; name it such as Europe/Berlin"
                    .to_owned(),
            );
            return file;
        }
    };
    if text.contains('\u{fffd}') {
        whole("signs that are not UTF-8; they are shown as \u{fffd}".to_owned());
    }
    let mut parser = Parser::new(text);
    let mut n_calendars = 0;
    let mut duties = BTreeSet::new();
    loop {
        match parser.entry() {
            Entry::ICalendar(calendar) => {
                n_calendars += 1;
                read_one(&calendar, zone, from, until, &mut duties, &mut file.unread);
            }
            Entry::Eof => break,
            Entry::InvalidLine(line) => {
                let line: String = line.chars().take(60).collect();
                file.unread.push((
                    String::new(),
                    format!("the line {line:?} belongs to no calendar; it is left out"),
                ));
            }
            _ => file
                .unread
                .push((String::new(), "a part that is not a complete calendar; it is left out".to_owned())),
        }
    }
    if n_calendars == 0 {
        file.unread.push((
            String::new(),
            "no calendar; a file that begins with BEGIN:VCALENDAR is expected".to_owned(),
        ));
    }
    file.duties = duties.into_iter().collect();
    file
}

fn read_one(
    calendar: &ICalendar,
    zone: Option<Tz>,
    from: Date,
    until: Date,
    duties: &mut BTreeSet<CalendarDuty>,
    unread: &mut Vec<(String, String)>,
) {
    let is_event =
        |component: &&ICalendarComponent| component.component_type == ICalendarComponentType::VEvent;
    // An event with its exceptions at a time, so that one endless rule takes nothing from the others.
    let mut by_uid: BTreeMap<String, Vec<&ICalendarComponent>> = BTreeMap::new();
    for (place, component) in calendar.components.iter().enumerate().filter(|(_, one)| is_event(one)) {
        // Without a UID an event stands alone.
        let uid = component.uid().map_or_else(|| format!("event {place}"), str::to_owned);
        by_uid.entry(uid).or_default().push(component);
    }
    let others: Vec<&ICalendarComponent> = calendar.components.iter().filter(|one| !is_event(one)).collect();
    for (uid, events) in by_uid {
        let mut refuse = |why: &str| unread.push((uid.clone(), why.to_owned()));
        let starts: Vec<_> = events.iter().filter_map(|event| start_of(event)).collect();
        if starts.iter().any(|start| start.hour.is_none()) {
            refuse("days without hours; a shift needs a start and an end on the clock");
            continue;
        }
        let has_no_end = |event: &&ICalendarComponent| {
            !event.has_property(&ICalendarProperty::Dtend)
                && !event.has_property(&ICalendarProperty::Duration)
        };
        if events.iter().any(has_no_end) {
            refuse("no end; a shift needs a start and an end on the clock");
            continue;
        }
        if zone.is_some()
            && let Some(unknown) = unknown_zone(&events)
        {
            refuse(&format!(
                "the time zone {unknown:?}, which is not one of the time zone database; write the events in the unit's zone"
            ));
            continue;
        }
        if zone.is_none() && starts.iter().any(|start| start.tz_hour.is_some()) {
            refuse("times in UTC; name the unit's time zone so that they can be told in local time");
            continue;
        }
        let mut own = ICalendar { components: others.iter().copied().cloned().collect() };
        let first = own.components.len();
        own.components.extend(events.iter().map(|event| with_local_until(event)));
        // The whole calendar component names its parts by place: the places of this one are its own.
        let places: Vec<u32> =
            (1..own.components.len()).filter_map(|place| u32::try_from(place).ok()).collect();
        if let Some(root) = own.components.first_mut() {
            root.component_ids = places;
        }
        let expanded = own.expand_dates(zone.unwrap_or(Tz::Floating), MOST_REPEATS);
        for error in &expanded.errors {
            refuse(&format!("{}; the event is left out", error.error));
        }
        if expanded.events.len() >= MOST_REPEATS {
            refuse("a rule without an end; ten years of it are followed, counted from its start");
        }
        for event in expanded.events {
            let component = event.comp_id as usize;
            let Some(event) = event.try_into_date_time() else {
                refuse("an end that does not exist on the clock");
                continue;
            };
            let (start, end) = match zone {
                Some(zone) => (
                    event.start.with_timezone(&zone).naive_local().to_string(),
                    event.end.with_timezone(&zone).naive_local().to_string(),
                ),
                None => (event.start.naive_local().to_string(), event.end.naive_local().to_string()),
            };
            let (Ok(start), Ok(end)) = (start.parse::<DateTime>(), end.parse::<DateTime>()) else {
                refuse("a year beyond 9999");
                continue;
            };
            if end.date() < from || start.date() > until {
                continue;
            }
            let Some(component) = component.checked_sub(first).and_then(|place| events.get(place)) else {
                continue;
            };
            if is_cancelled(component) {
                continue;
            }
            if end <= start {
                refuse(&format!("an end ({end}) that is not after its start ({start})"));
                continue;
            }
            let people = people_of(component);
            if people.is_empty() {
                refuse(
                    "nobody named; a shift needs an attendee, or a summary that begins with the staff identifier",
                );
                break;
            }
            for person in people {
                duties.insert(CalendarDuty { from: start, to: end, person, event: uid.clone() });
            }
        }
    }
}

fn start_of(event: &ICalendarComponent) -> Option<&calcard::common::PartialDateTime> {
    match event.property(&ICalendarProperty::Dtstart)?.values.first()? {
        ICalendarValue::PartialDateTime(start) => Some(start),
        _ => None,
    }
}

/// The zone an event's start names, where the time zone database does not have it.
fn unknown_zone(events: &[&ICalendarComponent]) -> Option<String> {
    let mut zones = events.iter().filter_map(|event| zone_name(event));
    zones.find(|name| Tz::from_str(name).is_err()).map(str::to_owned)
}

fn zone_name(event: &ICalendarComponent) -> Option<&str> {
    event.property(&ICalendarProperty::Dtstart)?.tz_id()
}

/// The event with the end of its rule told in the zone of its start. RFC 5545, 3.3.10: where the start has a zone, UNTIL
/// is in UTC; the reader of rules compares clock times, and would lose the last repetition or keep one too many.
fn with_local_until(event: &ICalendarComponent) -> ICalendarComponent {
    let mut event = event.clone();
    let Some(zone) = zone_name(&event).and_then(|name| Tz::from_str(name).ok()) else { return event };
    for entry in event.entries.iter_mut().filter(|entry| entry.name == ICalendarProperty::Rrule) {
        for value in &mut entry.values {
            let ICalendarValue::RecurrenceRule(rule) = value else { continue };
            let Some(until) = rule.until.as_mut().filter(|until| until.tz_hour.is_some()) else { continue };
            let local = until
                .to_date_time_with_tz(Tz::UTC)
                .and_then(|at| at.with_timezone(&zone).naive_local().to_string().parse::<DateTime>().ok());
            let Some(local) = local else { continue };
            let small = |number: i8| u8::try_from(number).ok();
            until.year = u16::try_from(local.year()).ok();
            (until.month, until.day) = (small(local.month()), small(local.day()));
            (until.hour, until.minute, until.second) =
                (small(local.hour()), small(local.minute()), small(local.second()));
            (until.tz_hour, until.tz_minute, until.tz_minus) = (None, None, false);
        }
    }
    event
}

fn is_cancelled(event: &ICalendarComponent) -> bool {
    let status = event.property(&ICalendarProperty::Status).and_then(|entry| entry.values.first());
    matches!(status, Some(ICalendarValue::Status(ICalendarStatus::Cancelled)))
}

fn people_of(event: &ICalendarComponent) -> Vec<String> {
    let attendees = event.properties(&ICalendarProperty::Attendee).filter_map(|entry| {
        let name = entry.params.iter().find(|param| param.name == ICalendarParameterName::Cn);
        let name = name.and_then(|param| param.value.as_text()).map(str::trim);
        let address = entry.values.first().and_then(|value| value.as_text()).map(|address| {
            let address = address.trim();
            let after = address.get(..7).filter(|head| head.eq_ignore_ascii_case("mailto:"));
            let address = if after.is_some() { &address[7..] } else { address };
            address.split('@').next().unwrap_or_default()
        });
        name.filter(|name| !name.is_empty()).or(address).filter(|name| !name.is_empty()).map(str::to_owned)
    });
    let people: Vec<String> = attendees.collect();
    if !people.is_empty() {
        return people;
    }
    let summary = event.property(&ICalendarProperty::Summary).and_then(|entry| entry.values.first());
    let word = summary.and_then(|summary| summary.as_text()).and_then(|text| text.split_whitespace().next());
    word.map(|word| word.trim_end_matches([':', ',', ';']).to_owned())
        .into_iter()
        .filter(|word| !word.is_empty())
        .collect()
}
