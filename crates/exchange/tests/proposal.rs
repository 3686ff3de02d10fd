//! Proposed mappings: read back, they give the sets that hand-written mappings give.

#![expect(clippy::unwrap_used, reason = "helpers of tests that cannot go on without their values")]

mod support;

use std::path::{Path, PathBuf};

use culture::{Bottle, BottleKind, CultureSet};
use exchange::laboratory::{Import, InputFile, Mapping, Proposal, Sureness, propose, read};
use support::{TODAY, every_row_is_accounted_for, file, key, mapping, open_data, said, sorted};

fn proposal(name: &str, bytes: &[u8], others: &[(&str, Vec<u8>)]) -> Proposal {
    let others: Vec<InputFile<'_>> = others.iter().map(|(name, bytes)| InputFile { name, bytes }).collect();
    propose(&InputFile { name, bytes }, &others, TODAY).unwrap()
}

fn import(name: &str, bytes: &[u8], mapping: &Mapping, others: &[(&str, Vec<u8>)]) -> Import {
    let others: Vec<InputFile<'_>> = others.iter().map(|(name, bytes)| InputFile { name, bytes }).collect();
    let import = read(&[InputFile { name, bytes }], mapping, &others, &key(), TODAY);
    every_row_is_accounted_for(&import);
    import
}

fn sureness(proposal: &Proposal, key: &str) -> Option<(String, Sureness)> {
    proposal.says().into_iter().find(|said| said.key == key).map(|said| (said.value, said.sureness))
}

/// The shipped mapping and the proposal give the same sets, field by field.
#[track_caller]
fn same_as_shipped(folder: &Path, name: &str, shipped: &str, others: &[&str]) {
    let bytes = file(folder, name);
    let others: Vec<(&str, Vec<u8>)> = others.iter().map(|other| (*other, file(folder, other))).collect();
    let proposal = proposal(name, &bytes, &others);
    let text = proposal.to_toml();
    let proposed = mapping(&text);
    assert!(!proposed.is_confirmed());
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../mappings").join(shipped);
    let by_hand = mapping(&std::fs::read_to_string(path).unwrap());
    assert!(by_hand.is_confirmed());
    let (found, expected) =
        (import(name, &bytes, &proposed, &others), import(name, &bytes, &by_hand, &others));
    assert_eq!(found.holds, expected.holds, "{text}");
    assert_eq!(found.dates, expected.dates, "{text}");
    assert_eq!(found.sets.len(), expected.sets.len(), "{text}\n{}", said(&found));
    for (found, expected) in sorted(found.sets).into_iter().zip(sorted(expected.sets)) {
        assert_eq!(found, expected, "{text}");
    }
}

#[test]
fn mimic_iii_demo() {
    let Some(folder) = open_data("mimic-iii-demo", "the mapping proposed for the MIMIC-III demo") else {
        return;
    };
    let others =
        ["ADMISSIONS.csv", "ICUSTAYS.csv", "PATIENTS.csv", "TRANSFERS.csv", "D_ITEMS_microbiology.csv"];
    same_as_shipped(&folder, "MICROBIOLOGYEVENTS.csv", "mimic-iii-demo.toml", &others);
    let bytes = file(&folder, "MICROBIOLOGYEVENTS.csv");
    let proposal = proposal("MICROBIOLOGYEVENTS.csv", &bytes, &[]);
    assert_eq!(sureness(&proposal, "rows").unwrap().0, "susceptibility");
    assert_eq!(sureness(&proposal, "specimen"), None, "no column numbers the sets");
}

#[test]
fn amr_example_isolates() {
    let Some(folder) =
        open_data("amr-example-isolates", "the mappings proposed for the AMR example isolates")
    else {
        return;
    };
    same_as_shipped(&folder, "example_isolates.csv", "amr-example-isolates.toml", &["organism_names.csv"]);
}

/// Twelve spellings, four of them codes that stand in no table: the proposal leaves them as they are, so that the sets
/// are the same but for those names.
#[test]
fn amr_example_isolates_unclean() {
    let Some(folder) =
        open_data("amr-example-isolates", "the mapping proposed for the unclean example isolates")
    else {
        return;
    };
    for name in ["example_isolates_unclean.csv", "example_isolates_unclean.xlsx"] {
        let bytes = file(&folder, name);
        let proposed = mapping(&proposal(name, &bytes, &[]).to_toml());
        let found = import(name, &bytes, &proposed, &[]);
        // The counts of docs/open-data.md, found by an independent script.
        assert_eq!((found.counts[0].rows, found.sets.len()), (3_000, 2_997), "{name}: {}", said(&found));
        assert_eq!(found.holds, exchange::laboratory::Holds::PositivesOnly);
    }
}

/// Five invented sets of three patients: a commensal in one of two, a mixed growth, a set with an unknown status word.
fn expected() -> Vec<CultureSet> {
    let text = "specimen,patient,collected,received,organism,unit,collector,route,status,age,aerobic,anaerobic\n\
        B100,p1,2026-03-13 08:00,2026-03-13 09:10,Staphylococcus epidermidis,ICU,K7,vein,F,61,9.5,8\n\
        B101,p1,2026-03-13 08:20,2026-03-13 09:10,,ICU,K7,central line,F,61,10,7.5\n\
        B102,p2,2026-03-02 21:05,2026-03-02 22:00,Escherichia coli; Enterococcus faecalis,ED,K2,vein,F,44,8.5,8.5\n\
        B103,p2,2026-03-02 21:30,2026-03-02 22:00,Escherichia coli,ED,K2,vein,F,44,9,9\n\
        B104,p3,2026-04-21 00:15,2026-04-21 01:00,,ICU,,arterial line,P,79,4,\n\
        B105,p4,2026-04-22 10:15,2026-04-22 11:00,,ICU,K7,vein,F,35,9,8\n\
        B106,p4,2026-04-22 10:30,2026-04-22 11:00,,ICU,K7,vein,F,35,9,8\n";
    let mapping = mapping(
        r#"
schema = 1
name = "written by hand"
date_formats = ["YYYY-MM-DD hh:mm"]
organism_separator = ";"
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
received = "received"
organism = "organism"
unit = "unit"
collector = "collector"
route = "route"
status = "status"
age_years = "age"
[[wide_bottle]]
kind = "aerobic"
fill_ml = "aerobic"
[[wide_bottle]]
kind = "anaerobic"
fill_ml = "anaerobic"
"#,
    );
    let import = import("expected.csv", text.as_bytes(), &mapping, &[]);
    assert_eq!(import.unread, []);
    assert_eq!(import.sets.len(), 7);
    sorted(import.sets)
}

/// Reads a layout by its own proposal and compares the sets with what was meant, `kept` fields aside that it lacks.
#[track_caller]
fn reads_as_meant(name: &str, text: &str, rows: &str, meant: &[CultureSet]) -> Proposal {
    let proposal = proposal(name, text.as_bytes(), &[]);
    let written = proposal.to_toml();
    let import = import(name, text.as_bytes(), &mapping(&written), &[]);
    assert_eq!(import.unread, [], "{written}");
    assert_eq!(sureness(&proposal, "rows").unwrap().0, rows, "{written}");
    let found = sorted(import.sets);
    assert_eq!(found.len(), meant.len(), "{written}");
    for (found, meant) in found.iter().zip(meant) {
        assert_eq!(found, meant, "{written}");
    }
    proposal
}

fn without(meant: Vec<CultureSet>, change: impl Fn(&mut CultureSet)) -> Vec<CultureSet> {
    let mut meant = meant;
    meant.iter_mut().for_each(change);
    sorted(meant)
}

fn no_bottles(set: &mut CultureSet) {
    set.bottles.clear();
}

/// German, semicolons, a title above the header, decimal commas, day first with dots, one row for each bottle.
#[test]
fn a_german_export_with_a_row_for_each_bottle() {
    let text = "Klinik Larkfield (erfunden), Monatsauszug\n\
        Labornummer;Patientennummer;Entnahmezeitpunkt;Eingang;Keim;Station;Entnommen von;Entnahmeort;Befundstatus;Alter;Flaschentyp;Füllvolumen (mL)\n\
        B100;p1;13.03.2026 08:00;13.03.2026 09:10;Staphylococcus epidermidis;ICU;K7;Venenpunktion;Endbefund;61;aerob;9,5\n\
        B100;p1;13.03.2026 08:00;13.03.2026 09:10;kein Wachstum;ICU;K7;Venenpunktion;Endbefund;61;anaerob;8\n\
        B101;p1;13.03.2026 08:20;13.03.2026 09:10;kein Wachstum;ICU;K7;ZVK;Endbefund;61;aerob;10\n\
        B101;p1;13.03.2026 08:20;13.03.2026 09:10;kein Wachstum;ICU;K7;ZVK;Endbefund;61;anaerob;7,5\n\
        B102;p2;02.03.2026 21:05;02.03.2026 22:00;Escherichia coli;ED;K2;Venenpunktion;Endbefund;44;aerob;8,5\n\
        B102;p2;02.03.2026 21:05;02.03.2026 22:00;Enterococcus faecalis;ED;K2;Venenpunktion;Endbefund;44;anaerob;8,5\n\
        B103;p2;02.03.2026 21:30;02.03.2026 22:00;Escherichia coli;ED;K2;Venenpunktion;Endbefund;44;aerob;9\n\
        B103;p2;02.03.2026 21:30;02.03.2026 22:00;kein Wachstum;ED;K2;Venenpunktion;Endbefund;44;anaerob;9\n\
        B104;p3;21.04.2026 00:15;21.04.2026 01:00;kein Wachstum;ICU;;arteriell;Zwischenbefund;79;aerob;4\n\
        B105;p4;22.04.2026 10:15;22.04.2026 11:00;kein Wachstum;ICU;K7;Venenpunktion;Endbefund;35;aerob;9\n\
        B105;p4;22.04.2026 10:15;22.04.2026 11:00;kein Wachstum;ICU;K7;Venenpunktion;Endbefund;35;anaerob;8\n\
        B106;p4;22.04.2026 10:30;22.04.2026 11:00;kein Wachstum;ICU;K7;Venenpunktion;Endbefund;35;aerob;9\n\
        B106;p4;22.04.2026 10:30;22.04.2026 11:00;kein Wachstum;ICU;K7;Venenpunktion;Endbefund;35;anaerob;8\n";
    let proposal = reads_as_meant("auszug.csv", text, "bottle", &expected());
    assert!(proposal.lacks().is_empty());
    assert!(proposal.to_toml().contains("header_line = 2"));
}

/// French, tabs, day first with slashes, date and time in two columns, one row for each set.
#[test]
fn a_french_export_with_date_and_time_apart() {
    let text = "N° demande\tIPP\tDate de prélèvement\tHeure de prélèvement\tGerme\tService\tPréleveur\tVoie\tStatut\tÂge\tVolume aérobie\tVolume anaérobie\n\
        B100\tp1\t13/03/2026\t08:00\tStaphylococcus epidermidis\tICU\tK7\tponction veineuse\tdéfinitif\t61\t9,5\t8\n\
        B101\tp1\t13/03/2026\t08:20\tAbsence de culture à 5 jours\tICU\tK7\tvoie centrale\tdéfinitif\t61\t10\t7,5\n\
        B102\tp2\t02/03/2026\t21:05\tEscherichia coli + Enterococcus faecalis\tED\tK2\tponction veineuse\tdéfinitif\t44\t8,5\t8,5\n\
        B103\tp2\t02/03/2026\t21:30\tEscherichia coli\tED\tK2\tponction veineuse\tdéfinitif\t44\t9\t9\n\
        B104\tp3\t21/04/2026\t00:15\tAbsence de culture à 2 jours\tICU\t\tcathéter artériel\tprovisoire\t79\t4\t\n\
        B105\tp4\t22/04/2026\t10:15\tAbsence de culture à 5 jours\tICU\tK7\tponction veineuse\tdéfinitif\t35\t9\t8\n\
        B106\tp4\t22/04/2026\t10:30\tAbsence de culture à 5 jours\tICU\tK7\tponction veineuse\tdéfinitif\t35\t9\t8\n";
    let proposal =
        reads_as_meant("extraction.txt", text, "set", &without(expected(), |set| set.received = None));
    assert_eq!(sureness(&proposal, "date_formats").unwrap().1, Sureness::Sure, "13/03 settles the order");
}

/// Spanish, bars, one row for each isolate, other specimens in the file.
#[test]
fn a_spanish_export_with_other_specimens() {
    let text = "Nº muestra|NHC|Tipo de muestra|Fecha y hora de toma|Fecha recepción|Microorganismo|Servicio|Extraído por|Sitio|Estado|Edad\n\
        B100|p1|Hemocultivo|13/03/2026 08:00|13/03/2026 09:10|Staphylococcus epidermidis|ICU|K7|venopunción|Definitivo|61\n\
        B101|p1|Hemocultivo|13/03/2026 08:20|13/03/2026 09:10|Sin crecimiento|ICU|K7|vía central|Definitivo|61\n\
        U200|p1|Orina|13/03/2026 08:20|13/03/2026 09:10|Escherichia coli|ICU|K7||Definitivo|61\n\
        B102|p2|Hemocultivo|02/03/2026 21:05|02/03/2026 22:00|Escherichia coli|ED|K2|venopunción|Definitivo|44\n\
        B102|p2|Hemocultivo|02/03/2026 21:05|02/03/2026 22:00|Enterococcus faecalis|ED|K2|venopunción|Definitivo|44\n\
        B103|p2|Hemocultivo|02/03/2026 21:30|02/03/2026 22:00|Escherichia coli|ED|K2|venopunción|Definitivo|44\n\
        B104|p3|Hemocultivo|21/04/2026 00:15|21/04/2026 01:00|Sin crecimiento|ICU||catéter arterial|Pendiente|79\n\
        B105|p4|Hemocultivo|22/04/2026 10:15|22/04/2026 11:00|Sin crecimiento|ICU|K7|venopunción|Definitivo|35\n\
        U201|p4|Orina|22/04/2026 10:15|22/04/2026 11:00|Sin crecimiento|ICU|K7||Definitivo|35\n\
        B106|p4|Hemocultivo|22/04/2026 10:30|22/04/2026 11:00|Sin crecimiento|ICU|K7|venopunción|Definitivo|35\n";
    reads_as_meant("hemocultivos.csv", text, "isolate", &without(expected(), no_bottles));
}

/// English with headers cut short, month first, hours with AM and PM, two organism columns, one row for each set.
#[test]
fn an_american_export_with_two_organism_columns() {
    let text = "Acc_No,MRN,CollectDtTm,RecDtTm,Organism 1,Organism 2,Nursing Unit,Collected By,Draw Site,Result Status,Pt Age (yrs),TTP (hrs)\n\
        B100,p1,3/13/2026 8:00 AM,3/13/2026 9:10 AM,STAPHYLOCOCCUS EPIDERMIDIS,,ICU,K7,Peripheral,F,61,21.4\n\
        B101,p1,3/13/2026 8:20 AM,3/13/2026 9:10 AM,NO GROWTH AFTER 5 DAYS,,ICU,K7,PICC,F,61,\n\
        B102,p2,3/2/2026 9:05 PM,3/2/2026 10:00 PM,ESCHERICHIA COLI,ENTEROCOCCUS FAECALIS,ED,K2,Peripheral,F,44,9.5\n\
        B103,p2,3/2/2026 9:30 PM,3/2/2026 10:00 PM,ESCHERICHIA COLI,,ED,K2,Peripheral,F,44,10:15\n\
        B104,p3,4/21/2026 12:15 AM,4/21/2026 1:00 AM,NO GROWTH AT 2 DAYS,,ICU,,Art line,P,79,\n\
        B105,p4,4/22/2026 10:15 AM,4/22/2026 11:00 AM,NO GROWTH AFTER 5 DAYS,,ICU,K7,Peripheral,F,35,\n\
        B106,p4,4/22/2026 10:30 AM,4/22/2026 11:00 AM,NO GROWTH AFTER 5 DAYS,,ICU,K7,Peripheral,F,35,\n";
    let meant = without(expected(), |set| {
        no_bottles(set);
        for isolate in &mut set.isolates {
            isolate.reported_name = isolate.reported_name.to_uppercase();
        }
        set.positive_after_s = match set.id.0.as_str() {
            "B100" => Some(77_040),
            "B102" => Some(34_200),
            "B103" => Some(36_900),
            _ => None,
        };
    });
    reads_as_meant("micro_extract.csv", text, "set", &meant);
}

/// Compact dates, no header for the organism that helps, one row for each susceptibility, rows numbered.
#[test]
fn a_row_for_each_susceptibility_with_compact_dates() {
    let mut text = String::from(
        "Row_ID,Accession,PatID,Drawn,Arrived,Finding,Ward,Sampler,Source,State,Age,Antibiotic,SIR\n",
    );
    let mut number = 0;
    for (row, drugs) in [
        ("B100,p1,20260313080000,20260313091000,S. epidermidis,ICU,K7,vein,F,61", 3),
        ("B101,p1,20260313082000,20260313091000,no growth,ICU,K7,line,F,61", 1),
        ("B102,p2,20260302210500,20260302220000,E. coli,ED,K2,vein,F,44", 3),
        ("B102,p2,20260302210500,20260302220000,Enterococcus faecalis,ED,K2,vein,F,44", 2),
        ("B103,p2,20260302213000,20260302220000,E. coli,ED,K2,vein,F,44", 3),
        ("B104,p3,20260421001500,20260421010000,no growth,ICU,,art line,P,79", 1),
        ("B105,p4,20260422101500,20260422110000,no growth,ICU,K7,vein,F,35", 1),
        ("B106,p4,20260422103000,20260422110000,no growth,ICU,K7,vein,F,35", 1),
    ] {
        for drug in ["AMX", "CIP", "GEN"].iter().take(drugs) {
            number += 1;
            let (drug, sir) = if drugs == 1 { ("", "") } else { (*drug, "S") };
            text.push_str(&format!("{number},{row},{drug},{sir}\n"));
        }
    }
    let short = |name: &str| match name {
        "Staphylococcus epidermidis" => "S. epidermidis".to_owned(),
        "Escherichia coli" => "E. coli".to_owned(),
        other => other.to_owned(),
    };
    let meant = without(expected(), |set| {
        no_bottles(set);
        for isolate in &mut set.isolates {
            isolate.reported_name = short(&isolate.reported_name);
        }
    });
    reads_as_meant("lab.csv", &text, "susceptibility", &meant);
}

/// Swedish, Windows-1252, year first, bottles weighed empty and full.
#[test]
fn a_swedish_export_with_weighed_bottles() {
    let mut text = String::from(
        "Provnummer;Personnummer;Provtagningstid;Ankomst;Fynd;Avdelning;Provtagare;Flaska;Tara;Brutto\n",
    );
    for (id, patient, day, time, arrived, finding, unit, collector, fills) in [
        ("B100", "p1", "2026-03-13", "08:00", "09:10", "Staphylococcus epidermidis", "ICU", "K7", [9.5, 8.0]),
        ("B101", "p1", "2026-03-13", "08:20", "09:10", "Ingen växt", "ICU", "K7", [10.0, 7.5]),
        ("B103", "p2", "2026-03-02", "21:30", "22:00", "Escherichia coli", "ED", "K2", [9.0, 9.0]),
    ] {
        for (kind, fill) in ["aerob", "anaerob"].iter().zip(fills) {
            // 1.0506 g/mL, whole blood at 37 degrees (Trudnowski and Rico 1974).
            let full = format!("{:.4}", 60.0 + fill * 1.0506).replace('.', ",");
            let finding = if *kind == "aerob" { finding } else { "Ingen växt" };
            text.push_str(&format!("{id};{patient};{day} {time};{day} {arrived};{finding};{unit};{collector};{kind};60,0;{full}\n"));
        }
    }
    let (bytes, _, _) = encoding_rs::WINDOWS_1252.encode(&text);
    let proposal = proposal("prover.csv", &bytes, &[]);
    let written = proposal.to_toml();
    let found = sorted(import("prover.csv", &bytes, &mapping(&written), &[]).sets);
    let ids: Vec<&str> = found.iter().map(|set| set.id.0.as_str()).collect();
    assert_eq!(ids, ["B100", "B101", "B103"], "{written}");
    let fills: Vec<Vec<(BottleKind, f64)>> = found
        .iter()
        .map(|set| {
            set.bottles
                .iter()
                .map(|bottle: &Bottle| (bottle.kind, (bottle.fill_ml.unwrap() * 100.0).round() / 100.0))
                .collect()
        })
        .collect();
    use BottleKind::{Aerobic, Anaerobic};
    assert_eq!(
        fills,
        [
            vec![(Aerobic, 9.5), (Anaerobic, 8.0)],
            vec![(Aerobic, 10.0), (Anaerobic, 7.5)],
            vec![(Aerobic, 9.0), (Anaerobic, 9.0)],
        ],
        "{written}"
    );
    assert_eq!(found[1].isolates, []);
}

/// Where every date can be read both ways, the proposal says so instead of guessing in silence.
#[test]
fn dates_that_can_be_read_both_ways_are_asked_about() {
    let text = "Accession,MRN,Collected,Organism\nB1,p1,03/04/2026 08:00,E. coli\nB2,p2,05/04/2026 08:00,no growth\n";
    let proposal = proposal("a.csv", text.as_bytes(), &[]);
    assert_eq!(
        sureness(&proposal, "date_formats").unwrap(),
        ("DD/MM/YYYY hh:mm".to_owned(), Sureness::Unsure)
    );
    assert!(proposal.to_toml().contains("EVERY DATE CAN BE READ WITH THE DAY OR THE MONTH FIRST"));
}

/// A column called like a specimen number whose numbers several patients share does not number sets.
#[test]
fn a_number_that_patients_share_is_no_specimen_number() {
    let mut text = String::from("Specimen ID,MRN,Collected,Organism\n");
    for n in 0..40 {
        text.push_str(&format!("{},p{n},2026-03-{:02} 08:00,no growth\n", 70_012 + n % 3, 1 + n % 28));
    }
    let proposal = proposal("a.csv", text.as_bytes(), &[]);
    assert_eq!(sureness(&proposal, "specimen"), None, "{}", proposal.to_toml());
    assert_eq!(sureness(&proposal, "set_by").unwrap().0, "patient, collected");
}

/// No cell of a patient's or collector's column, and no free text that stands there once, is in a proposal.
#[test]
fn a_proposal_names_nobody() {
    let mut text =
        String::from("Accession,Patient ID,Patient name,DOB,Collected,Organism,Collected by,Site\n");
    for n in 0..30 {
        text.push_str(&format!(
            "B{n},MRN-77{n:03},Invented Person{n},1950-01-{:02},2026-03-{:02} 08:00,no growth,NURSE{n},left arm of Invented{n}\n",
            1 + n % 28,
            1 + n % 28
        ));
    }
    let proposal = proposal("a.csv", text.as_bytes(), &[]);
    let all = format!("{}{:?}", proposal.to_toml(), proposal.says());
    for secret in ["MRN-77", "Person", "1950", "NURSE", "left arm", "B12"] {
        assert!(!all.contains(secret), "{secret}: {all}");
    }
}

#[test]
fn what_is_no_table_is_refused_in_words() {
    let refused =
        |bytes: &[u8]| propose(&InputFile { name: "x", bytes }, &[], TODAY).unwrap_err().to_string();
    assert!(refused(b"MSH|^~\\&|LAB").contains("messages name their own fields"));
    assert!(refused(b"").contains("an empty file"));
    assert!(refused(b"Accession,MRN\n").contains("no row under the column names"));
    let lacking = proposal("a.csv", b"colour,shape\nred,round\n", &[]);
    assert_eq!(lacking.lacks(), ["patient", "collected", "organism"]);
    assert!(lacking.to_toml().contains("NO COLUMN WAS FOUND FOR: patient, collected, organism"));
}

#[test]
fn any_bytes_are_refused_or_proposed_without_a_panic() {
    use proptest::prelude::*;
    proptest!(ProptestConfig::with_cases(200), |(text in "[A-Za-z0-9;,|\t\"\n .:/äß-]{0,300}")| {
        if let Ok(proposal) = propose(&InputFile { name: "x.csv", bytes: text.as_bytes() }, &[], TODAY) {
            // Whatever is proposed is a sound file, unless a column that is needed was not found.
            let written = proposal.to_toml();
            match Mapping::from_toml(&written) {
                Ok(mapping) => prop_assert!(!mapping.is_confirmed()),
                Err(error) => prop_assert!(!proposal.lacks().is_empty(), "{error}\n{written}"),
            }
        }
    });
}
