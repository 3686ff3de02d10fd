//! Prints the story of a seed in short, for whoever changes it.

use std::collections::BTreeMap;

use practice::{EventKind, Scope};

fn main() {
    let seed = std::env::args().nth(1).and_then(|text| text.parse().ok()).unwrap_or(demo::SEED);
    match demo::unit(seed) {
        Ok(unit) => print(&unit),
        Err(error) => eprintln!("{error}"),
    }
}

fn print(unit: &demo::DemoUnit) {
    println!(
        "{}: {} people, {} entries, {} files",
        unit.unit_name,
        unit.people.len(),
        unit.events.len(),
        unit.laboratory_files.len()
    );
    for file in &unit.laboratory_files {
        println!(
            "{:44} {:5} rows, taken in {}",
            file.name,
            file.text.lines().count().saturating_sub(1),
            file.taken_in
        );
    }
    if let Some(folder) = std::env::args().nth(2) {
        for file in &unit.laboratory_files {
            if let Err(error) = std::fs::write(std::path::Path::new(&folder).join(&file.name), &file.text) {
                eprintln!("{}: {error}", file.name);
            }
        }
    }
    let mut told: BTreeMap<(String, String), String> = BTreeMap::new();
    for event in &unit.events {
        let mut add = |who: &practice::PersonId, job: &breakdown::JobCode, word: &str| {
            let line = told.entry((who.0.clone(), job.0.clone())).or_default();
            line.push_str(&format!(" {word}{:02}{:02}", event.happened.month(), event.happened.day()));
        };
        match &event.kind {
            EventKind::Planned { person, job, .. } => add(person, job, "plan"),
            EventKind::Demonstrated { person, job, .. } => add(person, job, "demo"),
            EventKind::TeachBackHeard { person, teachback } => add(person, &teachback.job, "said"),
            EventKind::DrawObserved(draw) => {
                add(&draw.drawn_by, &draw.job, if draw.taken_over { "x" } else { "d" })
            }
            EventKind::SpotChecked(check) => add(&check.0.drawn_by, &check.0.job, "CHECK"),
            EventKind::Released(release) => add(
                &release.person,
                &release.job,
                match release.scope {
                    Scope::OwnPatients => "OWN",
                    Scope::AllPatients => "ALL",
                    Scope::MayPrecept => "PRECEPT",
                },
            ),
            EventKind::Withdrawn { person, job, .. } => add(person, job, "WITHDRAWN"),
            EventKind::RefresherDone { person, job, .. } => add(person, job, "refreshed"),
            _ => {}
        }
    }
    for ((who, job), line) in told {
        println!("{who} {job}:{line}");
    }
    let history = practice::History {
        events: unit.events.iter().map(demo::DemoEvent::to_event).collect(),
        laboratory_draws: None,
    };
    for standing in practice::standings(&history, unit.today, &practice::ReleaseRule::default()) {
        if standing.level != practice::Level::NotPlanned {
            println!(
                "{} {} {}{} {:?} next {:?}",
                standing.person,
                standing.job,
                standing.level.words(),
                if standing.rule_met { " RULE MET" } else { "" },
                standing.missing,
                standing.next_check.map(|due| due.on.to_string()),
            );
        }
    }
    println!("corrections:");
    for event in unit.events.iter().filter(|event| event.corrects.is_some()) {
        println!("  {} {:?}", event.recorded, event.correction_reason);
    }
    println!("{:?}\n{:?}", unit.unreadable, unit.drawn_alone);
}
