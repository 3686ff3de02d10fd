//! Bad input gets a clear message: where, what was found, what was expected, what to do; the good rows are kept.

mod support;

use exchange::laboratory::{InputFile, Mapping, read};
use insta::assert_snapshot;
use support::{MAPPING, TODAY, every_row_is_accounted_for, key, mapping, read_one, said};

const GOOD: &str = "specimen,patient,collected,organism\n\
    S1,p1,2026-03-02 08:00,CoNS\n\
    S2,p1,2026-03-02 08:20,\n";

#[track_caller]
fn check(bytes: &[u8], mapping_text: &str, n_sets: usize) -> String {
    let import = read_one(bytes, mapping_text);
    every_row_is_accounted_for(&import);
    assert_eq!(import.sets.len(), n_sets, "{}", said(&import));
    said(&import)
}

#[test]
fn good_input_is_read_without_a_word() {
    assert_eq!(check(GOOD.as_bytes(), MAPPING, 2), "");
}

#[test]
fn an_empty_file() {
    for bytes in [&b""[..], b"\n\n", b"\xEF\xBB\xBF"] {
        assert_eq!(
            check(bytes, MAPPING, 0),
            "cultures.csv: found an empty file; expected a line of column names and rows; export the file anew from the laboratory's system"
        );
    }
    assert_snapshot!(check(b"specimen,patient,collected,organism\n", MAPPING, 0), @"cultures.csv: found a line of column names and no row; expected rows of sets; export the file anew; if there were no sets in that time, leave it out");
}

#[test]
fn another_encoding() {
    let with_umlaut = GOOD.replace("CoNS", "CoNS für S1");
    let latin: Vec<u8> = with_umlaut.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    assert_snapshot!(check(&latin, MAPPING, 2), @r#"note: cultures.csv, 0 rows, line None: line 2 holds the byte 0xFC, which is not UTF-8; the file was read as Windows-1252 (write encoding = "windows-1252" in the mapping to settle it)"#);
    let stated = format!("encoding = \"utf-8\"\n{MAPPING}");
    assert_snapshot!(check(&latin, &stated, 0), @"cultures.csv: found text that is not UTF-8 on line 2; expected UTF-8 text, as the mapping states; correct encoding in the mapping (windows-1252 is usual for older systems), or leave it out and it is recognised");
    let stated = format!("encoding = \"latin-1\"\n{MAPPING}");
    assert_eq!(check(&latin, &stated, 2), "");
    // A byte-order mark is no fault, and none of it sticks to the first column.
    let utf16: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(GOOD.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(check(&utf16, MAPPING, 2), "");
    let marked = [b"\xEF\xBB\xBF", GOOD.as_bytes()].concat();
    assert_eq!(check(&marked, MAPPING, 2), "");
}

#[test]
fn a_missing_column() {
    let text = GOOD.replace("collected", "Collected at");
    assert_snapshot!(check(text.as_bytes(), MAPPING, 0), @r#"cultures.csv: found the columns specimen, patient, Collected at, organism; expected a column "collected" (collected in the mapping); the nearest is "Collected at": if that is it, write it in the mapping"#);
    let text = GOOD.replace("organism", "collected");
    assert_snapshot!(check(text.as_bytes(), MAPPING, 0), @r#"
    cultures.csv: found more than one column "collected" among specimen, patient, collected, collected; expected one column "collected" (collected in the mapping); rename one of them in the file
    cultures.csv: found the columns specimen, patient, collected, collected; expected a column "organism" (organism in the mapping); write the column's name as it stands in the file in the mapping
    "#);
}

#[test]
fn unreadable_dates_and_empty_cells() {
    let text = "specimen,patient,collected,organism\n\
        S1,p1,2026-02-30 08:00,CoNS\n\
        S2,p1,02/03/2026,\n\
        S3,p1,,\n\
        S4,,2026-03-02 08:00,\n\
        ,p1,2026-03-02 08:00,\n\
        S5,p1,2026-03-02 08:00,\n";
    assert_snapshot!(check(text.as_bytes(), MAPPING, 1), @r#"
    cultures.csv, line 2: column "collected": found "2026-02-30 08:00"; expected a time of collection as YYYY-MM-DD hh:mm; correct the cell, or add its format to date_formats in the mapping
    cultures.csv, line 3: column "collected": found "02/03/2026"; expected a time of collection as YYYY-MM-DD hh:mm; correct the cell, or add its format to date_formats in the mapping
    cultures.csv, line 4: column "collected": found an empty cell; expected the time of collection; fill it in; without it the set belongs to no day and no window
    cultures.csv, line 5: column "patient": found an empty cell; expected something that tells patients apart; fill it in; without it no set can be compared with the others of the patient
    cultures.csv, line 6: column "specimen": found an empty cell; expected a specimen number; fill it in, or say with set_by in the mapping what makes a set where the number is missing
    "#);
}

#[test]
fn a_future_collection_time() {
    let text = GOOD.replace("2026-03-02 08:20", "2027-03-02 08:20");
    assert_snapshot!(check(text.as_bytes(), MAPPING, 1), @r#"cultures.csv, line 3: column "collected": found the collection day 2027-03-02, which is after 2026-04-30; expected a day that is not in the future; correct the time in the laboratory's file, or, if dates were shifted to protect patients, write dates = "shifted" in the mapping"#);
    let shifted = format!("dates = \"shifted\"\n{MAPPING}");
    assert_eq!(check(text.as_bytes(), &shifted, 2), "");
}

#[test]
fn one_specimen_number_for_two_patients() {
    let text = "specimen,patient,collected,organism\n\
        S1,Lagerlöf,2026-03-02 08:00,CoNS\n\
        S2,Lagerlöf,2026-03-02 08:20,\n\
        S1,Andersen,2026-03-02 08:00,CoNS\n";
    let said = check(text.as_bytes(), MAPPING, 1);
    assert_snapshot!(said, @r#"
    cultures.csv, line 2: found specimen number "S1" on lines 2 and 4 for two different patients; expected one patient for each specimen number; ask the laboratory which patient the specimen belongs to; until then no row of it is counted
    cultures.csv, line 4: found specimen number "S1" on lines 2 and 4 for two different patients; expected one patient for each specimen number; ask the laboratory which patient the specimen belongs to; until then no row of it is counted
    "#);
    assert!(!said.contains("Lagerl") && !said.contains("Andersen"), "no identifier is printed");
}

#[test]
fn duplicate_rows() {
    let text = format!("{GOOD}S2,p1,2026-03-02 08:20,\nS2,p1,2026-03-02 08:20,\n");
    assert_snapshot!(check(text.as_bytes(), MAPPING, 2), @r"
    note: cultures.csv, 2 rows, line Some(4): rows repeat another row word for word and were counted once
    left out: 2 rows: repeats another row word for word
    ");
    let refused = format!("duplicate_rows = \"unread\"\n{MAPPING}");
    assert_snapshot!(check(text.as_bytes(), &refused, 2), @r#"
    cultures.csv, line 4: found a row that repeats line 3 word for word; expected every row once; take the repetition out, or write duplicate_rows = "count-once" in the mapping
    cultures.csv, line 5: found a row that repeats line 3 word for word; expected every row once; take the repetition out, or write duplicate_rows = "count-once" in the mapping
    "#);
    let kept = format!("duplicate_rows = \"keep\"\n{MAPPING}");
    assert_eq!(check(text.as_bytes(), &kept, 2), "");
}

#[test]
fn rows_of_another_length_and_unknown_words() {
    let text = "specimen,patient,collected,organism\n\
        S1,p1,2026-03-02 08:00\n\
        \n\
        S2,p1,2026-03-02 08:20,,,\n\
        S3,p1,2026-03-02 08:20,CoNS,more\n\
        ,,,\n";
    assert_snapshot!(check(text.as_bytes(), MAPPING, 1), @r"
    cultures.csv, line 2: found 3 cells under 4 columns; expected one cell for each column; look for a quotation mark that is not closed or a separator inside a cell, and export the file anew
    cultures.csv, line 5: found 5 cells under 4 columns; expected one cell for each column; look for a quotation mark that is not closed or a separator inside a cell, and export the file anew
    left out: 1 rows: blank row
    ");
    let with_status =
        MAPPING.replace("organism = \"organism\"", "organism = \"organism\"\nstatus = \"status\"");
    let text = "specimen,patient,collected,organism,status\nS1,p1,2026-03-02 08:00,,quux\nS2,p1,2026-03-02 08:00,,F\n";
    assert_snapshot!(check(text.as_bytes(), &with_status, 2), @r#"note: cultures.csv, 1 rows, line Some(2): "quux" is no known word of [status_words]; add it there to use it"#);
}

#[test]
fn lines_are_counted_as_a_person_counts_them() {
    for end in ["\n", "\r\n", "\r"] {
        let lines = [
            "specimen,patient,collected,organism",
            "S1,p1,\"2026-03-02 08:00\",\"two",
            "lines\"",
            "",
            "S2,p1,never,",
            "S3,p1,2026-03-02 08:00,",
        ];
        let import = read_one(lines.join(end).as_bytes(), MAPPING);
        let unread: Vec<_> = import.unread.iter().map(|unread| unread.line).collect();
        assert_eq!(unread, [Some(5)], "{end:?}: {}", said(&import));
        let sources: Vec<_> = import.sources.iter().map(|source| source.line).collect();
        assert_eq!(sources, [Some(2), Some(6)], "{end:?}");
    }
}

#[test]
fn a_quotation_mark_that_never_closes_loses_no_row_in_silence() {
    let text =
        "specimen,patient,collected,organism\nS1,p1,2026-03-02 08:00,\"CoNS\nS2,p1,2026-03-02 08:20,\n";
    let import = read_one(text.as_bytes(), MAPPING);
    every_row_is_accounted_for(&import);
    let swallowed = &import.sets[0].isolates[0].reported_name;
    assert!(swallowed.contains("S2"), "the rest of the file is in one cell: {swallowed:?}");
    let long =
        format!("specimen,patient,collected,organism\nS1,p1,2026-03-02 08:00,\"{}\n", "x".repeat(2 << 20));
    assert_snapshot!(check(long.as_bytes(), MAPPING, 0), @"cultures.csv, line 2: found a row longer than 1 MB; expected one cell for each column; look for a quotation mark that is not closed or a separator inside a cell, and export the file anew");
}

#[test]
fn no_mapping_and_a_broken_workbook() {
    let import = read(
        &[InputFile { name: "cultures.csv", bytes: GOOD.as_bytes() }],
        &Mapping::for_messages(),
        &[],
        &key(),
        TODAY,
    );
    assert_snapshot!(said(&import), @"cultures.csv: found a table; expected a mapping that says which column is what; give one with --map FILE.toml; docs/mapping.md shows how to write it");
    let broken = check(b"PK\x03\x04 this is no archive", MAPPING, 0);
    assert!(broken.starts_with("cultures.csv: found a workbook that cannot be opened: "), "{broken}");
    let old = check(&[0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1], MAPPING, 0);
    assert!(old.contains("older .xls form"), "{old}");
}

#[test]
fn faults_of_a_mapping() {
    let fault = |text: &str| Mapping::from_toml(text).unwrap_err().to_string();
    assert_snapshot!(fault(&format!("set_bye = []\n{MAPPING}")), @"line 1: found the unknown key set_bye; expected a key of the mapping; did you mean set_by? docs/mapping.md lists every key");
    assert_snapshot!(fault(&MAPPING.replace("specimen = ", "speciment = ")), @"line 6: found the unknown key speciment; expected a key of the mapping; did you mean specimen? docs/mapping.md lists every key");
    assert_snapshot!(fault(&MAPPING.replace("patient = \"patient\"\n", "")), @"columns: found no patient; expected the key patient; name the column that tells patients apart; its content is hashed and never shown");
    assert_snapshot!(fault(&MAPPING.replace("specimen = \"specimen\"\n", "")), @r#"set_by: found neither columns.specimen nor set_by; expected the column of specimen numbers, or what makes a set; write specimen = "..." under [columns], or set_by = ["patient", "collected", "specimen_type"]"#);
    assert_snapshot!(fault(&MAPPING.replace("YYYY-MM-DD hh:mm", "yyyy-mm-dd")), @r#"date_formats: found "yyyy-mm-dd"; expected a date such as DD.MM.YYYY hh:mm, or a time such as hh:mm; use YYYY, MM, DD, hh, mm and ss; docs/mapping.md lists them all"#);
    assert_snapshot!(fault(&format!("without_time = \"guess\"\n{MAPPING}")), @r#"line 1: found "guess"; expected one of by-date, one-set-per-row, unread; write one of these words"#);
    assert_snapshot!(fault(&MAPPING.replace("schema = 1", "schema = 2")), @"schema: found 2; expected 1; use a version of this program that reads the newer form, or write schema = 1");
    assert_snapshot!(fault("schema = 1\n"), @"line 1: found no key name; expected the key name; add it; docs/mapping.md shows a full example");
    let broken = fault("schema = 1\nname = [broken\n");
    assert!(broken.starts_with("line 2: found ") && broken.contains("docs/mapping.md"), "{broken}");
    assert_eq!(mapping(MAPPING).name(), "test");
}

/// The full example of docs/mapping.md is a mapping, and names every key there is.
#[test]
fn the_documented_example_is_a_mapping_with_every_key() {
    let page = include_str!("../../../docs/mapping.md");
    let example = page.split("```toml").nth(1).unwrap().split("```").next().unwrap();
    let read = mapping(example);
    assert_eq!(read.companions(), ["stays.csv", "organisms.csv"]);
    let source = include_str!("../src/laboratory/mapping_file.rs");
    let mut n_keys = 0;
    for line in source.lines() {
        let Some((key, _)) = line.trim().strip_prefix("pub ").and_then(|line| line.split_once(':')) else {
            continue;
        };
        let key = match key {
            "final_" => "final",
            "from" => "in",
            "until" => "out",
            other => other,
        };
        let word =
            |text: &str| text.split(|c: char| !(c.is_alphanumeric() || c == '_')).any(|found| found == key);
        let shown = word(example) || key == "schema";
        assert!(shown, "docs/mapping.md does not show {key}");
        n_keys += 1;
    }
    assert!(n_keys > 50, "{n_keys}");
}

/// A file of which nothing can be read names its first rows and counts the rest, and the rows still add up.
#[test]
fn a_file_of_nothing_but_faults_does_not_fill_the_memory() {
    let text = "specimen,patient,collected,organism\n".to_owned() + &"S1,p1,never,\n".repeat(12_000);
    let keep = format!("duplicate_rows = \"keep\"\n{MAPPING}");
    let import = read_one(text.as_bytes(), &keep);
    every_row_is_accounted_for(&import);
    assert_eq!((import.counts[0].rows, import.counts[0].unread), (12_000, 12_000));
    assert_eq!(import.unread.len(), 10_001);
    let last = import.unread.last().map(ToString::to_string).unwrap_or_default();
    assert!(
        last.contains("2000 further rows that cannot be read, besides the 10000 that are named"),
        "{last}"
    );
}
