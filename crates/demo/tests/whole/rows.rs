//! The laboratory's files as any reader of CSV sees them: the latest rows of each specimen number.

#![expect(clippy::unwrap_used, reason = "a check that cannot read its input must fail")]

use std::collections::BTreeMap;

use demo::DemoUnit;
use jiff::civil::{Date, DateTime};
use practice::{Event, History};

/// What a specimen number's latest rows say.
#[derive(Debug, Clone)]
pub struct Specimen {
    pub collected: DateTime,
    pub location: String,
    pub collector: String,
    pub source: String,
    pub status: String,
    pub age: u32,
}

/// Blood cultures by specimen number; rows whose collection time cannot be read are left out.
pub fn specimens(unit: &DemoUnit) -> BTreeMap<String, Specimen> {
    let mut specimens = BTreeMap::new();
    for file in &unit.laboratory_files {
        let mut reader = csv::Reader::from_reader(file.text.as_bytes());
        let headers = reader.headers().unwrap().clone();
        for row in reader.records() {
            let row = row.unwrap();
            let field =
                |name: &str| row[headers.iter().position(|header| header == name).unwrap()].to_owned();
            let Some(collected) = read_time(&field("Collected")) else { continue };
            if field("Test") != "BLOOD CULTURE" {
                continue;
            }
            let specimen = Specimen {
                collected,
                location: field("Location"),
                collector: field("Collected By"),
                source: field("Source"),
                status: field("Status"),
                age: field("Age").parse().unwrap(),
            };
            specimens.insert(field("Specimen No"), specimen);
        }
    }
    specimens
}

/// "14/05/2025 03:20", read here by hand so that the check does not lean on the writer.
fn read_time(text: &str) -> Option<DateTime> {
    let number = |range: std::ops::Range<usize>| text.get(range)?.parse::<i16>().ok();
    let day = Date::new(number(6..10)?, number(3..5)? as i8, number(0..2)? as i8).ok()?;
    Some(day.at(number(11..13)? as i8, number(14..16)? as i8, 0, 0))
}

/// The unit's entries as the rules of practice read them.
pub fn history(unit: &DemoUnit) -> History {
    let events: Vec<Event> = unit.events.iter().map(demo::DemoEvent::to_event).collect();
    History { events, laboratory_draws: None }
}
