//! One row for a set, a bottle, an isolate or a susceptibility: the same sets come out.

mod support;

use culture::{BottleKind, Collected, CultureSet, ReportStatus, Route};
use exchange::laboratory::{InputFile, read};
use jiff::civil::date;
use support::{MAPPING, TODAY, every_row_is_accounted_for, key, mapping, read_one, said, sorted};

const BY_BOTTLE: &str = r#"
schema = 1
name = "a row for each bottle, isolate or susceptibility"
date_formats = ["YYYY-MM-DD hh:mm"]
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
organism = "organism"
status = "status"
route = "route"
unit = "unit"
bottle = "bottle"
fill_ml = "fill"
"#;

const BY_SET: &str = r#"
schema = 1
name = "a row for each set"
date_formats = ["YYYY-MM-DD hh:mm"]
organism_separator = ";"
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
organism = "organisms"
status = "status"
route = "route"
unit = "unit"
[[wide_bottle]]
kind = "aerobic"
fill_ml = "aerobic"
[[wide_bottle]]
kind = "anaerobic"
fill_ml = "anaerobic"
"#;

fn sets(text: &str, mapping_text: &str) -> Vec<CultureSet> {
    let import = read_one(text.as_bytes(), mapping_text);
    assert_eq!(import.unread, [], "{}", said(&import));
    every_row_is_accounted_for(&import);
    sorted(import.sets)
}

#[test]
fn every_grain_gives_the_same_sets() {
    let by_set = "specimen,patient,collected,organisms,status,route,unit,aerobic,anaerobic\n\
        S1,p1,2026-03-02 08:00,S. epidermidis; E. coli,F,vein,ICU,9.5,8.0\n\
        S2,p1,2026-03-02 08:20,no growth,F,PICC,ICU,10,7.5\n";
    let by_bottle = "specimen,patient,collected,organism,status,route,unit,bottle,fill\n\
        S1,p1,2026-03-02 08:00,S. epidermidis,F,vein,ICU,aerobic,9.5\n\
        S1,p1,2026-03-02 08:00,E. coli,F,vein,ICU,anaerobic,8.0\n\
        S2,p1,2026-03-02 08:20,,F,PICC,ICU,aerobic,10\n\
        S2,p1,2026-03-02 08:20,,F,PICC,ICU,anaerobic,7.5\n";
    let by_isolate = "specimen,patient,collected,organism,status,route,unit,bottle,fill\n\
        S1,p1,2026-03-02 08:00,S. epidermidis,F,vein,ICU,aerobic,9.5\n\
        S1,p1,2026-03-02 08:00,E. coli,F,vein,ICU,aerobic,9.5\n\
        S1,p1,2026-03-02 08:00,E. coli,F,vein,ICU,anaerobic,8.0\n\
        S2,p1,2026-03-02 08:20,no growth,F,PICC,ICU,aerobic,10\n\
        S2,p1,2026-03-02 08:20,no growth,F,PICC,ICU,anaerobic,7.5\n";
    let mut by_susceptibility = String::from("drug,");
    for (place, line) in by_isolate.lines().enumerate() {
        if place == 0 {
            by_susceptibility.push_str(&format!("{line}\n"));
            continue;
        }
        for drug in ["AMX", "CIP", "GEN"] {
            by_susceptibility.push_str(&format!("{drug},{line}\n"));
        }
    }
    let expected = sets(by_set, BY_SET);
    assert_eq!(expected.len(), 2);
    assert_eq!(expected[0].isolates.len(), 2);
    assert_eq!(expected[0].status, ReportStatus::Final);
    assert_eq!(expected[0].route, Some(Route::Vein));
    assert_eq!(expected[1].route, Some(Route::CentralLine));
    let fills: Vec<_> = expected[1].bottles.iter().map(|bottle| (bottle.kind, bottle.fill_ml)).collect();
    assert_eq!(fills, [(BottleKind::Aerobic, Some(10.0)), (BottleKind::Anaerobic, Some(7.5))]);
    assert_eq!(sets(by_bottle, BY_BOTTLE), expected, "a row for each bottle");
    assert_eq!(sets(by_isolate, BY_BOTTLE), expected, "a row for each isolate");
    assert_eq!(sets(&by_susceptibility, BY_BOTTLE), expected, "a row for each susceptibility");
}

#[test]
fn a_bottle_still_incubated_keeps_the_set_open() {
    let text = "specimen,patient,collected,organism,status,route,unit,bottle,fill\n\
        S1,p1,2026-03-02 08:00,,F,,,aerobic,9.5\n\
        S1,p1,2026-03-02 08:00,,P,,,anaerobic,8.0\n";
    assert_eq!(sets(text, BY_BOTTLE)[0].status, ReportStatus::Preliminary);
}

#[test]
fn a_later_report_replaces_an_earlier_one() {
    let with_reported =
        MAPPING.replace("organism = \"organism\"", "organism = \"organism\"\nreported = \"reported\"");
    let text = "specimen,patient,collected,organism,reported\n\
        S1,p1,2026-03-02 08:00,gram positive cocci,2026-03-03 10:00\n\
        S1,p1,2026-03-02 08:00,S. aureus,2026-03-05 10:00\n\
        S1,p1,2026-03-02 08:00,S. epidermidis,2026-03-04 10:00\n";
    let import = read_one(text.as_bytes(), &with_reported);
    assert_eq!(import.sets[0].isolates.len(), 1);
    assert_eq!(import.sets[0].isolates[0].reported_name, "S. aureus");
    every_row_is_accounted_for(&import);
    assert_eq!(said(&import), "left out: 2 rows: replaced by a later report on the same set");
}

#[test]
fn without_a_specimen_number_the_mapping_says_what_makes_a_set() {
    let set_by = r#"
schema = 1
name = "test"
date_formats = ["YYYY-MM-DD hh:mm", "YYYY-MM-DD"]
set_by = ["patient", "collected"]
[columns]
patient = "patient"
collected = "collected"
organism = "organism"
"#;
    let text = "row,patient,collected,organism\n\
        1,p1,2026-03-02 08:00,CoNS\n2,p1,2026-03-02 08:00,E. coli\n3,p1,2026-03-02,\n4,p1,2026-03-02,\n5,p2,2026-03-02 08:00,\n";
    let by_date = sets(text, set_by);
    assert_eq!(by_date.len(), 3);
    assert!(by_date.iter().any(|set| set.collected == Collected::On(date(2026, 3, 2))));
    let per_row = set_by.replace("name = \"test\"", "name = \"test\"\nwithout_time = \"one-set-per-row\"");
    assert_eq!(sets(text, &per_row).len(), 4);
    let refused = set_by.replace("name = \"test\"", "name = \"test\"\nwithout_time = \"unread\"");
    let import = read_one(text.as_bytes(), &refused);
    assert_eq!((import.sets.len(), import.unread.len()), (2, 2));
    // No identifier of a patient is part of what a set is called.
    assert!(by_date.iter().all(|set| !set.id.0.contains("p1") && !set.id.0.contains("p2")), "{by_date:?}");
}

#[test]
fn weighed_bottles_and_decimal_commas_are_read() {
    let weighed = BY_BOTTLE
        .replace("fill_ml = \"fill\"", "mass_empty_g = \"empty\"\nmass_full_g = \"full\"")
        .replace("name = \"a row", "density_g_per_ml = 1.05\nname = \"a row");
    let text = "specimen;patient;collected;organism;status;route;unit;bottle;empty;full\n\
        S1;p1;2026-03-02 08:00;;F;;;BCAE;60,25;70,75\n";
    // Arithmetic checkable by hand: 10.5 g at 1.05 g/mL is 10 mL.
    assert_eq!(sets(text, &weighed)[0].bottles[0].fill_ml, Some(10.0));
}

#[test]
fn the_unit_comes_from_the_stay_at_the_time_of_the_draw() {
    let with_stays = format!(
        "{}\n[stays]\nfile = \"stays.csv\"\npatient = \"who\"\nin = \"from\"\nout = \"until\"\nunit = \"unit\"\ndate_formats = [\"DD.MM.YYYY hh:mm\"]\n",
        MAPPING
    );
    let stays = "who,from,until,unit\n\
        p1,01.03.2026 10:00,02.03.2026 09:00,ED\np1,02.03.2026 09:00,,ICU\np2,01.03.2026 10:00,01.03.2026 12:00,ED\n";
    let text = "specimen,patient,collected,organism\n\
        S1,p1,2026-03-02 08:59,\nS2,p1,2026-03-02 09:00,\nS3,p2,2026-03-02 08:00,\nS4,p3,2026-03-02 08:00,\n";
    let import = read(
        &[InputFile { name: "cultures.csv", bytes: text.as_bytes() }],
        &mapping(&with_stays),
        &[InputFile { name: "stays.csv", bytes: stays.as_bytes() }],
        &key(),
        TODAY,
    );
    let units: Vec<Option<&str>> = import.sets.iter().map(|set| set.unit.as_deref()).collect();
    assert_eq!(units, [Some("ED"), Some("ICU"), None, None]);
    let alone = read_one(text.as_bytes(), &with_stays);
    assert_eq!(alone.sets.len(), 4);
    assert!(said(&alone).contains("units are not known"), "{}", said(&alone));
}

#[test]
fn one_set_under_two_specimen_numbers_is_joined_and_said() {
    let text = "specimen,patient,collected,organism,status,route,unit,bottle,fill\n\
        X,p1,2026-03-02 08:00,CoNS,F,vein,ICU,aerobic,9\n\
        Y,p1,2026-03-02 08:00,,F,vein,ICU,anaerobic,9\n";
    let import = read_one(text.as_bytes(), BY_BOTTLE);
    assert_eq!(import.sets.len(), 1);
    assert!(said(&import).contains("joined"), "{}", said(&import));
    let left = BY_BOTTLE.replace("name = \"a row", "split_sets = \"leave\"\nname = \"a row");
    assert_eq!(read_one(text.as_bytes(), &left).sets.len(), 2);
}
