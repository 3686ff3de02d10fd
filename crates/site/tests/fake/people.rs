//! Invented people.

use breakdown::{ItemId, JobCode};
use desk::{Chance, DrawRow, EvidenceRow, JobStanding, PersonPage, PersonResults, PersonRow};
use jiff::civil::{Date, date};
use practice::{PersonId, Role};

use super::{contaminated, rate};

/// Names that try to break a page: markup, right to left with an override, and emoji.
pub const SCRIPT: &str = "<script>alert('x')</script> & \"Co\"";
pub const RIGHT_TO_LEFT: &str = "\u{202e}דנה שדה";
pub const EMOJI: &str = "Zoë 🩸 O’Larkin";

fn standing(job: &str, short: &str) -> JobStanding {
    let since = Some(date(2025, 6, 4));
    let by = Some("Ansa Wolfendale".to_owned());
    let job_name = if job == "vein" { "Vein draw, adult, one set" } else { "Central line draw, adult" };
    let base = JobStanding {
        job: JobCode(job.into()),
        job_name: job_name.into(),
        standing: short.into(),
        short: short.into(),
        since: None,
        on_word_of: None,
        missing: Vec::new(),
        rule_met: false,
        next: None,
        planned_by: None,
    };
    match short {
        "planned" => JobStanding {
            standing: "on the timetable, not started".into(),
            planned_by: Some(date(2026, 6, 30)),
            ..base
        },
        "learning" => JobStanding {
            standing: "learning: draws only watched".into(),
            since: Some(date(2026, 1, 12)),
            missing: vec![
                "3 more observed draws on real patients (2 of 5)".into(),
                "the last 3 draws without a missed safety point (1 of 3)".into(),
                "the trainer’s spot check".into(),
            ],
            planned_by: Some(date(2026, 3, 31)),
            ..base
        },
        "own patients" => JobStanding {
            standing: "released to draw alone on own patients".into(),
            since,
            on_word_of: by,
            next: Some((date(2026, 3, 9), "one-month check".into())),
            ..base
        },
        "all patients" => JobStanding {
            standing: "released to draw alone on all patients".into(),
            since,
            on_word_of: by,
            next: Some((date(2026, 6, 4), "yearly refresher".into())),
            ..base
        },
        "may precept" => JobStanding {
            standing: "released on all patients, and may watch learners".into(),
            since: Some(date(2023, 10, 2)),
            on_word_of: by,
            next: Some((date(2026, 10, 2), "yearly refresher".into())),
            ..base
        },
        "to be updated" => JobStanding {
            standing: "released on version 2; version 3 is a major change".into(),
            since,
            on_word_of: by,
            missing: vec!["update on version 3".into()],
            next: Some((date(2026, 3, 16), "update on version 3".into())),
            ..base
        },
        _ => base,
    }
}

fn person(id: &str, name: &str, role: Role, started: Date, vein: &str, line: &str) -> PersonPage {
    PersonPage {
        row: PersonRow {
            id: PersonId(id.into()),
            name: name.into(),
            role,
            started,
            standings: vec![standing("vein", vein), standing("central-line", line)],
        },
        draws: Vec::new(),
        evidence: Vec::new(),
        practise: Vec::new(),
        results: PersonResults {
            contamination: super::withheld(0, 0, "no closed set names this person as collector"),
            chance: None,
            unknown_collectors: rate(61, 1296, "sets without a collector", "sets"),
        },
    }
}

pub fn everybody() -> Vec<PersonPage> {
    use Role::{Nurse, Preceptor, Trainer};
    let mut people = vec![
        person("N-101", "Ansa Wolfendale", Trainer, date(2016, 4, 1), "may precept", "may precept"),
        person("N-102", "Bram Teuila", Preceptor, date(2019, 9, 1), "may precept", "all patients"),
        person("N-103", "Corisande Mbeki-Strand", Preceptor, date(2020, 2, 3), "may precept", "all patients"),
        person("N-104", "Tomas Kerrin", Nurse, date(2024, 11, 4), "to be updated", "not planned"),
        person("N-107", "Piet Oduya", Nurse, date(2025, 3, 10), "own patients", "planned"),
        person("N-109", "Ilse Varga", Nurse, date(2022, 8, 15), "all patients", "learning"),
        person("N-112", "Maren Adeyemi-Holt", Nurse, date(2025, 10, 6), "learning", "not planned"),
        person("N-113", "Juno Castellane", Nurse, date(2026, 1, 12), "learning", "not planned"),
        person(
            "N-114",
            "Rafe Lindqvist-Okonkwo-Featherstonehaugh",
            Nurse,
            date(2026, 2, 23),
            "planned",
            "not planned",
        ),
        person("N-120", SCRIPT, Nurse, date(2025, 1, 1), "all patients", "not planned"),
        person("N-121", RIGHT_TO_LEFT, Nurse, date(2025, 1, 1), "all patients", "withdrawn"),
        person("N-122", EMOJI, Nurse, date(2025, 1, 1), "not planned", "not planned"),
    ];
    for page in &mut people {
        if page.row.id.0 == "N-112" {
            fill(page);
        }
    }
    people
}

/// A learner about to be released, with a correction on record.
fn fill(page: &mut PersonPage) {
    let vein = JobCode("vein".into());
    if let Some(first) = page.row.standings.first_mut() {
        first.missing = Vec::new();
        first.rule_met = true;
    }
    page.practise = vec![
        (ItemId::key_point(6, 1), "label at the bedside after filling, before leaving".into()),
        (ItemId::key_point(3, 3), "let it dry fully, do not wipe or blow".into()),
    ];
    let draw = |when: Date, hour, by: &str, done, open: &[(ItemId, &str)]| DrawRow {
        entry: String::new(),
        when: when.at(hour, 20, 0, 0),
        job: vein.clone(),
        watched_by: by.into(),
        spot_check: false,
        done,
        seen: 14,
        open: open.iter().map(|(item, words)| (*item, (*words).to_owned())).collect(),
        counts: Ok(()),
        result: None,
    };
    page.draws = vec![
        DrawRow { spot_check: true, ..draw(date(2026, 2, 27), 9, "Ansa Wolfendale", 14, &[]) },
        DrawRow {
            result: Some("no growth, final".into()),
            ..draw(date(2026, 2, 21), 3, "Bram Teuila", 14, &[])
        },
        DrawRow {
            result: Some("no growth, final".into()),
            ..draw(
                date(2026, 2, 14),
                22,
                "Bram Teuila",
                13,
                &[(ItemId::key_point(3, 3), "let it dry fully, do not wipe or blow")],
            )
        },
        DrawRow {
            counts: Err("the watcher took over".into()),
            result: Some("contaminated".into()),
            ..draw(
                date(2026, 2, 2),
                14,
                "Corisande Mbeki-Strand",
                9,
                &[
                    (ItemId::key_point(3, 3), "let it dry fully, do not wipe or blow"),
                    (ItemId::key_point(6, 1), "label at the bedside after filling, before leaving"),
                ],
            )
        },
    ];
    let row = |entry: &str, when: Date, hour, kind: &str, what: &str, by: &str| EvidenceRow {
        entry: entry.into(),
        when: when.at(hour, 40, 0, 0),
        kind: kind.into(),
        what: what.into(),
        by: by.into(),
        corrected_by: None,
        corrects: None,
    };
    page.evidence = vec![
        row(
            "0195-0009",
            date(2026, 2, 27),
            9,
            "done",
            "Spot check by the trainer: 14 of 14 key points without help.",
            "Ansa Wolfendale",
        ),
        row(
            "0195-0008",
            date(2026, 2, 21),
            3,
            "done",
            "Observed draw: 14 of 14 key points without help.",
            "Bram Teuila",
        ),
        EvidenceRow {
            corrects: Some("0195-0006".into()),
            ..row(
                "0195-0007",
                date(2026, 2, 14),
                22,
                "done",
                "Observed draw: 13 of 14 key points without help; 3.3 after a prompt.",
                "Bram Teuila",
            )
        },
        EvidenceRow {
            corrected_by: Some((
                "0195-0007".into(),
                "3.3 was marked not done; it was done after a prompt".into(),
            )),
            ..row(
                "0195-0006",
                date(2026, 2, 14),
                22,
                "done",
                "Observed draw: 13 of 14 key points without help; 3.3 not done.",
                "Bram Teuila",
            )
        },
        row(
            "0195-0005",
            date(2026, 2, 9),
            11,
            "said",
            "Teach-back, second pass: all steps in order, 13 of 14 key points unprompted, every safety point unprompted.",
            "Ansa Wolfendale",
        ),
        row(
            "0195-0004",
            date(2026, 2, 2),
            14,
            "done",
            "Observed draw, taken over by the watcher: counts as watched only.",
            "Corisande Mbeki-Strand",
        ),
        row(
            "0195-0003",
            date(2026, 1, 26),
            10,
            "said",
            "Teach-back, first pass: 10 of 14 key points unprompted, 3 after a neutral question, 1 missed.",
            "Ansa Wolfendale",
        ),
        row(
            "0195-0002",
            date(2026, 1, 19),
            10,
            "decision",
            "Demonstrated on version 3 of the breakdown.",
            "Ansa Wolfendale",
        ),
        row(
            "0195-0001",
            date(2026, 1, 12),
            8,
            "plan",
            "On the timetable for the vein draw by 31 March 2026.",
            "Ansa Wolfendale",
        ),
    ];
    page.results = PersonResults {
        contamination: super::withheld(2, 14, "14 closed sets are too few for a percentage"),
        chance: Some(Chance {
            unit_rate: 0.033,
            at_least_this_many: 0.079,
            shrunk: 0.041,
            shrunk_interval: (0.018, 0.074),
            target: 0.03,
            above_target: 0.74,
            sets_to_know: Some(410),
            sentence: "Two contaminated sets in 14 can be chance: at the unit’s rate, 8 in 100 equally good colleagues would show as many. It is a reason to watch a draw, not a verdict.".into(),
            anchors: vec!["chance_of_at_least".into(), "beta_binomial".into()],
        }),
        unknown_collectors: rate(61, 1296, "sets without a collector", "sets"),
    };
    debug_assert!(contaminated(2, 14).of == 14);
}
