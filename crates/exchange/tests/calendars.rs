//! Rosters as iCalendar: worked examples of RFC 5545, shifts of our own, and the same files read by other libraries.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::io::Write as _;
use std::process::{Command, Stdio};

use exchange::roster::{CalendarEvent, CalendarFile, read_calendar, write_calendar};
use jiff::ToSpan as _;
use jiff::civil::{Date, DateTime, date};
use jiff::tz::{Offset, TimeZone};

fn calendar(events: &str) -> String {
    format!(
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test\r\n{}\r\nEND:VCALENDAR\r\n",
        events.trim().replace('\n', "\r\n")
    )
}

fn event(lines: &str) -> String {
    calendar(&format!("BEGIN:VEVENT\nUID:e1\nSUMMARY:n012 shift\n{lines}\nEND:VEVENT"))
}

fn read(text: &str, from: Date, until: Date) -> CalendarFile {
    read_calendar(text.as_bytes(), None, from, until)
}

/// Days on which an event starts, as "1997-09-02 09-03" words are too long: month and day.
fn days(file: &CalendarFile) -> Vec<String> {
    file.duties.iter().map(|duty| duty.from.strftime("%y%m%d").to_string()).collect()
}

/// RFC 5545 (2009), 3.8.5.3, the worked examples with the dates the standard lists; 3.3.10 for the date that does not
/// exist. All in America/New_York, here without the zone's definition: the names are those of the zone database.
#[test]
fn the_worked_examples_of_the_standard_give_its_dates() {
    #[track_caller]
    fn check(start: &str, rule: &str, expected: &str) {
        let text = event(&format!(
            "DTSTART;TZID=America/New_York:{start}T090000\nDTEND;TZID=America/New_York:{start}T100000\n{rule}"
        ));
        let file = read(&text, date(1997, 1, 1), date(2008, 12, 31));
        assert_eq!(file.unread, [], "{rule}");
        assert_eq!(days(&file).join(" "), expected, "{rule}");
        assert!(file.duties.iter().all(|duty| duty.from.hour() == 9 && duty.person == "n012"), "{rule}");
    }
    check(
        "19970902",
        "RRULE:FREQ=DAILY;COUNT=10",
        "970902 970903 970904 970905 970906 970907 970908 970909 970910 970911",
    );
    check("19970902", "RRULE:FREQ=DAILY;INTERVAL=10;COUNT=5", "970902 970912 970922 971002 971012");
    check(
        "19970902",
        "RRULE:FREQ=WEEKLY;COUNT=10",
        "970902 970909 970916 970923 970930 971007 971014 971021 971028 971104",
    );
    check(
        "19970901",
        "RRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
        "970901 970903 970905 970915 970917 970919 970929 971001 971003 971013 971015 971017 971027 971029 971031 \
         971110 971112 971114 971124 971126 971128 971208 971210 971212 971222",
    );
    check(
        "19970905",
        "RRULE:FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
        "970905 971003 971107 971205 980102 980206 980306 980403 980501 980605",
    );
    check(
        "19970928",
        "RRULE:FREQ=MONTHLY;BYMONTHDAY=-3;COUNT=6",
        "970928 971029 971128 971229 980129 980226",
    );
    check(
        "19970610",
        "RRULE:FREQ=YEARLY;COUNT=10;BYMONTH=6,7",
        "970610 970710 980610 980710 990610 990710 000610 000710 010610 010710",
    );
    check(
        "19970902",
        "EXDATE;TZID=America/New_York:19970902T090000\nRRULE:FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13;COUNT=6",
        "980213 980313 981113 990813 001013 010413",
    );
    check("20070115", "RRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5", "070115 070130 070215 070315 070330");
    check(
        "19970805",
        "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO",
        "970805 970810 970819 970824",
    );
    check(
        "19970805",
        "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU",
        "970805 970817 970819 970831",
    );
}

#[test]
fn shifts_across_midnight_and_moved_clocks_keep_their_hours() {
    // Nights of four days around the last Sunday of March 2026, when clocks go forward in Berlin.
    let text = event(
        "DTSTART;TZID=Europe/Berlin:20260327T190000\nDTEND;TZID=Europe/Berlin:20260328T070000\n\
         RRULE:FREQ=DAILY;COUNT=4\nEXDATE;TZID=Europe/Berlin:20260329T190000",
    );
    let file = read(&text, date(2026, 3, 1), date(2026, 4, 30));
    assert_eq!(file.unread, []);
    let spans: Vec<String> = file.duties.iter().map(|duty| format!("{} {}", duty.from, duty.to)).collect();
    assert_eq!(
        spans,
        [
            "2026-03-27T19:00:00 2026-03-28T07:00:00",
            "2026-03-28T19:00:00 2026-03-29T07:00:00",
            "2026-03-30T19:00:00 2026-03-31T07:00:00"
        ]
    );
    // One of a series moved to the day before: RECURRENCE-ID.
    let text = calendar(
        "BEGIN:VEVENT\nUID:e1\nSUMMARY:n012\nDTSTART:20260105T070000\nDTEND:20260105T190000\nRRULE:FREQ=WEEKLY;COUNT=3\n\
         END:VEVENT\nBEGIN:VEVENT\nUID:e1\nRECURRENCE-ID:20260112T070000\nSUMMARY:n012\nDTSTART:20260111T070000\n\
         DTEND:20260111T190000\nEND:VEVENT",
    );
    assert_eq!(days(&read(&text, date(2026, 1, 1), date(2026, 1, 31))), ["260105", "260111", "260119"]);
    // In UTC, with the unit's zone: 18:00Z in January is 19:00 in Berlin.
    let text = event("DTSTART:20260105T180000Z\nDTEND:20260106T060000Z");
    let file = read_calendar(text.as_bytes(), Some("Europe/Berlin"), date(2026, 1, 1), date(2026, 1, 31));
    assert_eq!(file.duties[0].from, date(2026, 1, 5).at(19, 0, 0, 0));
    let file = read(&text, date(2026, 1, 1), date(2026, 1, 31));
    assert!(file.duties.is_empty() && file.unread[0].1.contains("UTC"), "{:?}", file.unread);
}

#[test]
fn people_are_attendees_or_the_first_word_of_the_summary() {
    let times = "DTSTART:20260105T070000\nDTEND:20260105T190000";
    let people = |lines: &str| -> Vec<String> {
        let text = calendar(&format!("BEGIN:VEVENT\nUID:e1\n{times}\n{lines}\nEND:VEVENT"));
        let file = read(&text, date(2026, 1, 1), date(2026, 1, 31));
        file.duties.into_iter().map(|duty| duty.person).collect()
    };
    assert_eq!(people("SUMMARY:n012: day shift"), ["n012"]);
    assert_eq!(
        people("SUMMARY:Day shift\nATTENDEE;CN=n014:mailto:x@example.org\nATTENDEE:mailto:n013@example.org"),
        ["n013", "n014"]
    );
    assert!(people("STATUS:CANCELLED\nSUMMARY:n012").is_empty());
    assert!(people("DESCRIPTION:nobody").is_empty());
}

#[test]
fn what_is_no_shift_is_named_and_the_rest_is_read() {
    let text = calendar(
        "BEGIN:VEVENT\nUID:holiday\nSUMMARY:n012\nDTSTART;VALUE=DATE:20260105\nEND:VEVENT\n\
         BEGIN:VEVENT\nUID:backwards\nSUMMARY:n012\nDTSTART:20260106T190000\nDTEND:20260106T070000\nEND:VEVENT\n\
         BEGIN:VEVENT\nUID:nobody\nDTSTART:20260107T070000\nDTEND:20260107T190000\nEND:VEVENT\n\
         BEGIN:VEVENT\nUID:good\nSUMMARY:n012\nDTSTART:20260108T070000\nDTEND:20260108T190000\nEND:VEVENT",
    );
    let file = read(&text, date(2026, 1, 1), date(2026, 1, 31));
    assert_eq!(days(&file), ["260108"]);
    let named: Vec<&str> = file.unread.iter().map(|(uid, _)| uid.as_str()).collect();
    assert_eq!(named, ["backwards", "holiday", "nobody"]);
    for bytes in [
        &b""[..],
        b"staff id,date,shift\n",
        b"\xff\xfe\x00",
        b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:2026",
    ] {
        let file = read_calendar(bytes, None, date(2026, 1, 1), date(2026, 1, 31));
        assert!(file.duties.is_empty() && !file.unread.is_empty(), "{bytes:?}");
    }
    let file = read_calendar(text.as_bytes(), Some("Ward/Seven"), date(2026, 1, 1), date(2026, 1, 31));
    assert!(file.duties.is_empty() && file.unread[0].1.contains("time zone"));
    // An endless rule is followed for ten years and says so.
    let text = event("DTSTART:20200101T070000\nDTEND:20200101T190000\nRRULE:FREQ=DAILY");
    let file = read(&text, date(2026, 1, 1), date(2026, 1, 3));
    assert_eq!(days(&file), ["260101", "260102", "260103"]);
    assert!(file.unread[0].1.contains("without an end"));
}

/// Lines "start end" of every event between two days, as Python's icalendar and recurring_ical_events read it.
fn by_python(text: &str) -> Option<Vec<String>> {
    let python = std::env::var_os("WARDWRIGHT_PYTHON")?;
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/icalendar_reference.py");
    let mut child = Command::new(python)
        .args([script, "1990-01-01", "2029-12-31"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(text.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success());
    let text = String::from_utf8(output.stdout).unwrap();
    Some(text.lines().filter(|line| !line.is_empty()).map(str::to_owned).collect())
}

fn not_run(what: &str) {
    println!(
        "Not run: {what} against Python's icalendar and recurring_ical_events. ./test installs them; by hand, set"
    );
    println!("WARDWRIGHT_PYTHON to a Python with tests/reference/requirements.txt installed.");
}

#[test]
fn what_is_written_is_read_back_here_and_by_python() {
    let events: Vec<CalendarEvent> = (0..20)
        .map(|day: i64| CalendarEvent {
            uid: format!("vein-{day}"),
            from: date(2026, 10, 31).at(19, 0, 0, 0) + day.days(),
            to: date(2026, 11, 1).at(7, 0, 0, 0) + day.days(),
            summary:
                "n012 learns, with n014; \u{e4}\u{f6}\u{fc} and a line that is long enough to be folded once"
                    .to_owned(),
            description: "Plan, not an order\nthe charge nurse decides".to_owned(),
        })
        .collect();
    let ours_of = |text: &str, zone: &str| -> Vec<String> {
        let file = read_calendar(text.as_bytes(), Some(zone), date(2026, 1, 1), date(2026, 12, 31));
        assert_eq!(file.unread, []);
        file.duties.iter().map(|duty| format!("{} {}", duty.from, duty.to)).collect()
    };
    // In New York the clocks go back in the first night; those of Kolkata never move.
    for name in ["UTC", "America/New_York", "Asia/Kolkata", "Europe/London", "Australia/Lord_Howe"] {
        let zone = TimeZone::get(name).unwrap();
        let text = write_calendar(&events, date(2026, 11, 1), &zone);
        let local: Vec<String> = events.iter().map(|one| format!("{} {}", one.from, one.to)).collect();
        assert_eq!(ours_of(&text, name), local, "{name}");
        // Python tells UTC. The zone's name is taken away, so that only its definition in the calendar is there to go by.
        let own = text.replace(name, "The ward");
        let Some(theirs) = by_python(&own) else { return not_run("the calendar of a plan") };
        let utc = |when: DateTime| {
            Offset::UTC.to_datetime(zone.to_ambiguous_timestamp(when).compatible().unwrap()).to_string()
        };
        let moments: Vec<String> =
            events.iter().map(|one| format!("{} {}", utc(one.from), utc(one.to))).collect();
        assert_eq!(theirs, moments, "{name}");
    }
}

/// Open calendars of several kinds, with somebody named in each event so that every event is somebody's.
#[test]
fn open_calendars_are_read_as_python_reads_them() {
    let root = std::env::var("WARDWRIGHT_OPEN_DATA")
        .unwrap_or_else(|_| concat!(env!("CARGO_MANIFEST_DIR"), "/../../../shared/data").to_owned());
    let folder = std::path::Path::new(&root).join("icalendar");
    let Ok(entries) = std::fs::read_dir(&folder) else {
        println!("Not run: open calendars; none at {}.", folder.display());
        println!(
            "They are the test calendars of the Python package icalendar (BSD-2-Clause); docs/open-data.md."
        );
        return;
    };
    let (mut n_compared, mut n_events) = (0, 0);
    let mut paths: Vec<_> = entries.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    for path in paths.iter().filter(|path| path.extension().is_some_and(|ending| ending == "ics")) {
        let text = String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
        // Never a panic, whatever zone the unit is in.
        for zone in [None, Some("Europe/Berlin"), Some("UTC")] {
            let _ = read_calendar(text.as_bytes(), zone, date(1990, 1, 1), date(2029, 12, 31));
        }
        // Everybody's: the summary is replaced, attendees are taken out. Days without hours are no shifts, and a calendar
        // that names several zones is told in one.
        let named: String = text
            .replace("\r\n ", "")
            .replace("\n ", "")
            .lines()
            .filter(|line| {
                !line.starts_with("ATTENDEE") && !line.starts_with("SUMMARY") && !line.starts_with("STATUS")
            })
            .map(|line| match line.trim_end() {
                "BEGIN:VEVENT" => "BEGIN:VEVENT\r\nSUMMARY:n012\r\n".to_owned(),
                line => format!("{line}\r\n"),
            })
            .collect();
        let ours = read_calendar(named.as_bytes(), Some("UTC"), date(1990, 1, 1), date(2029, 12, 31));
        let Some(theirs) = by_python(&named) else { return not_run("open calendars") };
        let mut ours: Vec<String> =
            ours.duties.iter().map(|duty| format!("{} {}", duty.from, duty.to)).collect();
        ours.sort();
        ours.dedup();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if theirs.iter().any(|line| line.starts_with("unread")) {
            continue;
        }
        match name.as_str() {
            // A zone of its own making: refused here with the zone named, guessed there from its definition.
            "america_new_york.ics" => assert!(ours.is_empty(), "{ours:?}"),
            // Periods as RDATE are repetitions (RFC 5545, 3.8.5.2); the reference follows only the first.
            "issue_156_RDATE_with_PERIOD_TZID_khal.ics" => {
                assert_eq!(ours.len(), 19);
                assert!(theirs.iter().all(|line| ours.contains(line)));
            }
            // One of its zones is a name the database does not have; the reference strips its front.
            "issue_313_globally_unique_tzid.ics" => {
                assert!(ours.iter().all(|line| theirs.contains(line)), "{ours:?} {theirs:?}");
            }
            _ => assert_eq!(ours, theirs, "{name}"),
        }
        n_compared += 1;
        n_events += theirs.len();
    }
    println!("{n_compared} files, {n_events} events");
    assert!(n_compared > 15 && n_events > 400, "{n_compared} {n_events}");
}
