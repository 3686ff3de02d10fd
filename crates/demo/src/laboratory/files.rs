//! The laboratory's exports: one row per bottle and organism, one file a month, and corrections when they came.

use jiff::civil::{Date, DateTime, date};

use super::set::{DemoBottle, DemoSet, Infection, Source};
use crate::calendar::{FIRST_DAY, MAIN_FROM, TODAY, days_after, minutes_after, months_from};
use crate::dice::Dice;
use crate::{LaboratoryFile, UnreadableRow};

const HEADER: &str = "Specimen No,Patient No,Age,Location,Collected,Received,Collected By,Test,Source,Bottle,Fill mL,Result,Status,Reported,Comment,Hours to Positive";

/// What the laboratory first reported, and the corrections that followed.
#[derive(Debug, Clone)]
pub(crate) struct Sent {
    /// Sets as first reported.
    pub(crate) first: Vec<DemoSet>,
    /// Corrected sets with the day on which the corrected report came.
    pub(crate) corrected: Vec<(Date, DemoSet)>,
}

/// One row with what the story must know of it.
struct Row {
    specimen: String,
    watched: bool,
    text: String,
}

/// Every file in the order it arrived, and the rows that cannot be read.
pub(crate) fn files(seed: u64, sent: &Sent) -> (Vec<LaboratoryFile>, Vec<UnreadableRow>) {
    let mut dice = Dice::new(seed, "files");
    let mut earlier_dice = Dice::new(seed, "earlier files");
    let mut files = Vec::new();
    let mut unreadable = Vec::new();
    for month in months_from(FIRST_DAY) {
        let dice = if month < MAIN_FROM { &mut earlier_dice } else { &mut dice };
        let next = days_after(month.last_of_month(), 1);
        let exported = days_after(next, 8).min(TODAY).at(6, 15, 0, 0);
        let sets = sent.first.iter().filter(|set| set.collected.date().first_of_month() == month);
        let mut rows: Vec<Row> = sets.flat_map(|set| rows(set, exported, false, dice)).collect();
        rows.extend(other_samples(month, dice));
        rows.sort_by(|a, b| a.specimen.cmp(&b.specimen));
        let name = format!("lccu-cultures-{:04}-{:02}.csv", month.year(), month.month());
        spoil(month, &name, &mut rows, &mut unreadable);
        files.push(LaboratoryFile { name, taken_in: minutes_after(exported, 95), text: text(&rows) });
    }
    let mut days: Vec<Date> = sent.corrected.iter().map(|(day, _)| *day).collect();
    days.dedup();
    for day in days {
        let exported = day.at(13, 5, 0, 0);
        let sets = sent.corrected.iter().filter(|(on, _)| *on == day);
        let rows: Vec<Row> = sets.flat_map(|(_, set)| rows(set, exported, true, &mut dice)).collect();
        files.push(LaboratoryFile {
            name: format!("lccu-cultures-corrected-{day}.csv"),
            taken_in: minutes_after(exported, 40),
            text: text(&rows),
        });
    }
    files.sort_by_key(|file| file.taken_in);
    (files, unreadable)
}

fn text(rows: &[Row]) -> String {
    let mut text = format!("{HEADER}\n");
    for row in rows {
        text.push_str(&row.text);
        text.push('\n');
    }
    text
}

/// The rows of one set as they stand when the file is written. All carry the time of the set's latest report, so that
/// a corrected report is later than the one it replaces.
fn rows(set: &DemoSet, exported: DateTime, corrected: bool, dice: &mut Dice) -> Vec<Row> {
    let flagged = minutes_after(set.received, dice.between(14 * 60, 40 * 60));
    let named = minutes_after(flagged, dice.between(20 * 60, 44 * 60));
    let closed = minutes_after(set.received, 5 * 24 * 60);
    let mut results = Vec::new();
    for bottle in &set.bottles {
        if set.cancelled.is_some() {
            results.push((bottle, String::new(), "X", minutes_after(set.received, 30)));
        } else if !bottle.organisms.is_empty() {
            for name in &bottle.organisms {
                let (result, status, reported) = growth(name, exported, flagged, named);
                results.push((bottle, result, status, reported));
            }
        } else if closed <= exported {
            // A bottle without growth is watched to the end of its five days, whatever its sister grew.
            results.push((bottle, "No growth after 5 days".to_owned(), "F", closed));
        } else {
            results.push((bottle, "No growth to date".to_owned(), "P", exported));
        }
    }
    let latest = results.iter().map(|(.., reported)| *reported).max().unwrap_or(exported);
    let reported = if corrected { exported } else { latest };
    let row_of = |(bottle, result, status, _): (&DemoBottle, String, &str, DateTime)| {
        let fill =
            if set.weighed && set.cancelled.is_none() { tenths(bottle.fill_tenths) } else { String::new() };
        let fields = [
            set.specimen.clone(),
            set.patient.clone(),
            set.age.to_string(),
            set.area.name().to_owned(),
            moment(set.collected),
            moment(set.received),
            set.collector.clone(),
            "BLOOD CULTURE".to_owned(),
            source(set.source).to_owned(),
            bottle.code.to_owned(),
            fill,
            result,
            if corrected { "C" } else { status }.to_owned(),
            moment(reported),
            set.cancelled.unwrap_or_default().to_owned(),
            if bottle.organisms.is_empty() || flagged > exported {
                String::new()
            } else {
                hours_to_positive(set, bottle, minutes_between(set.received, flagged))
            },
        ];
        row(set.specimen.clone(), set.watched, &fields)
    };
    results.into_iter().map(row_of).collect()
}

/// Hours and minutes from loading to positive, made up without a throw of the dice, so that everything else stays as it
/// was: germs of the blood are there after some twelve hours, germs of the skin after a day. In every second episode the
/// central line is the source, and its blood is positive some hours earlier. No bottle is positive after the report.
fn hours_to_positive(set: &DemoSet, bottle: &DemoBottle, reported_min: i64) -> String {
    // A number for the words that stays the same from one machine to the next (the hash FNV-1a).
    let number = |words: &str| {
        words.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        })
    };
    let below = |words: String, most: u64| i64::try_from(number(&words) % most).unwrap_or(0);
    let own = below(format!("{}{}", set.specimen, bottle.code), 50);
    let minutes = match set.infection {
        Infection::None => 20 * 60 + below(set.specimen.clone(), 900) + own,
        Infection::With(_) => {
            let of_episode = below(format!("episode {}", set.episode), 180);
            let is_source = set.source == Source::CentralLine && set.episode.is_multiple_of(2);
            let earlier = if is_source { 150 + below(format!("line {}", set.episode), 150) } else { 0 };
            11 * 60 + of_episode - earlier + own
        }
    };
    let minutes = minutes.min(reported_min - 20).max(0);
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

/// Whole minutes from one moment to a later one.
fn minutes_between(from: DateTime, to: DateTime) -> i64 {
    to.duration_since(from).as_secs() / 60
}

/// What stands for a growing bottle: nothing yet, what the stain showed, or the name.
fn growth(
    name: &str,
    exported: DateTime,
    flagged: DateTime,
    named: DateTime,
) -> (String, &'static str, DateTime) {
    if named <= exported {
        (name.to_owned(), "F", named)
    } else if flagged <= exported {
        (stain(name).to_owned(), "P", flagged)
    } else {
        ("No growth to date".to_owned(), "P", exported)
    }
}

/// What the stain shows before the name is known.
fn stain(name: &str) -> &'static str {
    let name = name.to_lowercase();
    let has = |words: &[&str]| words.iter().any(|word| name.contains(word));
    if has(&["staph", "micrococcus"]) {
        "Gram positive cocci in clusters"
    } else if has(&["strep", "enterococcus"]) {
        "Gram positive cocci in chains"
    } else if has(&["coryne", "cuti", "bacillus", "diphth"]) {
        "Gram positive rods"
    } else if has(&["candida"]) {
        "Yeast"
    } else {
        "Gram negative rods"
    }
}

/// Fluids sent in culture bottles: in the same export, but no blood cultures.
fn other_samples(month: Date, dice: &mut Dice) -> Vec<Row> {
    let count = dice.between(1, 3);
    (0..count)
        .map(|_| {
            let day = days_after(month, i64::from(dice.below(28)));
            let collected = day.at(dice.between(8, 17) as i8, dice.below(60) as i8, 0, 0);
            let specimen = format!("F{:02}-{:06}", month.year() % 100, dice.between(1_000, 99_000));
            let fields = [
                specimen.clone(),
                format!("LF{:07}", 8_000_000 + dice.below(900_000)),
                dice.between(31, 88).to_string(),
                crate::people::NORTH.to_owned(),
                moment(collected),
                moment(minutes_after(collected, 80)),
                String::new(),
                "FLUID IN CULTURE BOTTLE".to_owned(),
                "PLEURAL FLUID".to_owned(),
                "AER".to_owned(),
                String::new(),
                "No growth after 5 days".to_owned(),
                "F".to_owned(),
                moment(minutes_after(collected, 5 * 24 * 60)),
                String::new(),
                String::new(),
            ];
            row(specimen, true, &fields)
        })
        .collect()
}

/// The few faults a real export has: each is put in by name and listed.
fn spoil(month: Date, name: &str, rows: &mut Vec<Row>, unreadable: &mut Vec<UnreadableRow>) {
    let free = |row: &Row| !row.watched && row.text.contains("BLOOD CULTURE");
    let mut list = |line: usize, what: &str| {
        unreadable.push(UnreadableRow { file: name.to_owned(), line, what: what.to_owned() });
    };
    // Line 1 is the header, so the row at place 0 is line 2.
    if month == date(2025, 11, 1) {
        if let Some(place) = rows.iter().skip(40).position(free).map(|place| place + 40) {
            set_field(&mut rows[place], 4, "31/11/2025 22:10");
            list(place + 2, "a day that does not exist: 31 November");
        }
    } else if month == date(2026, 9, 1) {
        if let Some(place) = rows.iter().skip(60).position(free).map(|place| place + 60) {
            set_field(&mut rows[place], 4, "14/09/2062 11:05");
            list(place + 2, "collected in the future: 2062");
        }
    } else if month == date(2026, 4, 1) {
        let Some(place) = rows.iter().skip(30).position(free).map(|place| place + 30) else { return };
        let specimen = rows[place].specimen.clone();
        let mut stray = row(specimen.clone(), false, &fields(&rows[place].text));
        set_field(&mut stray, 1, "LF9000415");
        rows.insert(place + 1, stray);
        for (place, row) in rows.iter().enumerate() {
            if row.specimen == specimen {
                list(place + 2, "one specimen number for two patients");
            }
        }
    } else if month == date(2026, 2, 1) {
        // Received before it was collected: readable, and a time to ask about.
        let Some(place) = rows.iter().skip(50).position(free).map(|place| place + 50) else { return };
        let specimen = rows[place].specimen.clone();
        for row in rows.iter_mut().filter(|row| row.specimen == specimen) {
            let collected = fields(&row.text).get(4).cloned().unwrap_or_default();
            let (day, _) = collected.split_once(' ').unwrap_or_default();
            set_field(row, 5, &format!("{day} 00:01"));
        }
    } else if month == date(2025, 8, 1) {
        // Sent twice by the laboratory: the same row again, which is counted and read once.
        if let Some(last) = rows.len().checked_sub(4) {
            let again = row(rows[last].specimen.clone(), true, &fields(&rows[last].text));
            rows.insert(last + 1, again);
        }
    }
}

fn fields(text: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    for letter in text.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            letter => {
                if let Some(field) = fields.last_mut() {
                    field.push(letter);
                }
            }
        }
    }
    fields
}

fn set_field(target: &mut Row, place: usize, value: &str) {
    let mut all = fields(&target.text);
    if let Some(field) = all.get_mut(place) {
        value.clone_into(field);
    }
    target.text = row(String::new(), true, &all).text;
}

fn row(specimen: String, watched: bool, fields: &[String]) -> Row {
    let quoted = |field: &String| if field.contains(',') { format!("\"{field}\"") } else { field.clone() };
    let text = fields.iter().map(quoted).collect::<Vec<_>>().join(",");
    Row { specimen, watched, text }
}

fn source(source: Source) -> &'static str {
    match source {
        Source::Vein => "VENEPUNCTURE",
        Source::CentralLine => "CENTRAL LINE",
        Source::ArterialLine => "ARTERIAL LINE",
    }
}

fn tenths(value: u32) -> String {
    format!("{}.{}", value / 10, value % 10)
}

/// Day, month, year and time, as this laboratory writes them.
fn moment(when: DateTime) -> String {
    format!(
        "{:02}/{:02}/{:04} {:02}:{:02}",
        when.day(),
        when.month(),
        when.year(),
        when.hour(),
        when.minute()
    )
}
