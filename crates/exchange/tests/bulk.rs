//! Tables read in bulk against the same tables read the general way: nothing may differ, faults and notes included.

#![expect(clippy::unwrap_used, reason = "an input that cannot be made ends the test")]

use std::collections::HashMap;
use std::fmt::Write as _;

use culture::SetTable;
use exchange::laboratory::{
    BulkFile, BulkImport, InputFile, Mapping, Pace, PatientHashKey, read, read_in_bulk,
};
use jiff::civil::date;
use proptest::prelude::*;

fn key() -> PatientHashKey {
    PatientHashKey::new(b"a key of a test, sixteen and more").unwrap()
}

fn general(files: &[String], mapping: &Mapping) -> BulkImport {
    let files: Vec<InputFile<'_>> = files
        .iter()
        .zip(["a.csv", "b.csv", "c.csv"])
        .map(|(text, name)| InputFile { name, bytes: text.as_bytes() })
        .collect();
    read(&files, mapping, &[], &key(), date(2026, 3, 31)).in_little_space()
}

fn in_bulk(files: &[String], mapping: &Mapping, pace: Pace) -> Option<BulkImport> {
    let files = files
        .iter()
        .zip(["a.csv", "b.csv", "c.csv"])
        .map(|(text, name)| BulkFile { name, content: Box::new(text.as_bytes()) })
        .collect();
    read_in_bulk(files, mapping, &key(), date(2026, 3, 31), pace).unwrap()
}

/// Every set as text, patients by the order in which they were first met.
fn written(sets: &SetTable) -> Vec<String> {
    let mut patients = HashMap::new();
    sets.iter()
        .map(|set| {
            let next = patients.len();
            let patient = *patients.entry(set.patient).or_insert(next);
            let bottles: Vec<_> = set.bottles().collect();
            let organisms: Vec<_> = set.organisms().collect();
            format!(
                "{} patient {patient} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {:?} {bottles:?} {organisms:?}",
                set.id,
                set.collected,
                set.received,
                set.unit,
                set.collector,
                set.route,
                set.specimen,
                set.age_years,
                set.status
            )
        })
        .collect()
}

#[track_caller]
fn same(bulk: &BulkImport, general: &BulkImport) -> Result<(), TestCaseError> {
    prop_assert_eq!(&bulk.unread, &general.unread);
    prop_assert_eq!(&bulk.notes, &general.notes);
    prop_assert_eq!(&bulk.dropped, &general.dropped);
    prop_assert_eq!(&bulk.counts, &general.counts);
    prop_assert_eq!(written(&bulk.sets), written(&general.sets));
    let sources =
        |import: &BulkImport| (0..=import.sets.len()).map(|n| import.sources.get(n)).collect::<Vec<_>>();
    prop_assert_eq!(sources(bulk), sources(general));
    Ok(())
}

const MAPPING: &str = r#"
schema = 1
name = "test"
about = "Invented."
DUPLICATES
EMPTY
SEPARATOR
SPLIT
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
received = "received"
unit = "unit"
collector = "collector"
route = "site"
bottle = "bottle"
fill_ml = "fill"
age_years = "age"
specimen_type = "type"
organism = ["organism", "second organism"]
status = "status"
[[only_where]]
column = "type"
is_not = ["urine"]
reason = "not a blood culture"
[organism_names]
sauepi = "Staphylococcus epidermidis"
"#;

fn mapping(duplicates: &str, empty: &str, separator: &str, split: &str) -> Mapping {
    let text = MAPPING
        .replace("DUPLICATES", &format!("duplicate_rows = \"{duplicates}\""))
        .replace("EMPTY", &format!("empty_organism = \"{empty}\""))
        .replace("SEPARATOR", &format!("organism_separator = \"{separator}\""))
        .replace("SPLIT", &format!("split_sets = \"{split}\""));
    Mapping::from_toml(&text).unwrap()
}

const COLUMNS: &str = "specimen,patient,collected,received,unit,collector,site,bottle,fill,age,type,organism,second organism,status";

/// A cell by the place of its column; most are plain, some are not what the column wants.
fn cell(column: usize) -> BoxedStrategy<String> {
    let words = |words: &'static [&'static str]| prop::sample::select(words).prop_map(str::to_owned).boxed();
    let plain = match column {
        0 => words(&["S1", "S2", "S3", "S4", " S5", "S6", "S7", "Ä8"]),
        1 => words(&["P1", "P1", "P1", "P1", "P2", "P3 "]),
        2 => words(&["2026-01-02 10:20", "2026-01-02 10:20", "2026-01-03T04:05:06", "2026-01-03"]),
        3 => words(&["2026-01-02 12:00", "2026-01-02 09:00", "", "2026-02-02"]),
        4 => words(&["ICU", "ICU", "Ward 2", "", "Étage 3"]),
        5 => words(&["C1", "C2", ""]),
        6 => words(&["venepuncture", "CVC", "elbow", ""]),
        7 => words(&["aerobic", "anaerobic", "Aerobic ", "paediatric", "blue", ""]),
        8 => words(&["8.5", "9", "8,5", "-0", "0", "70", "much", ""]),
        9 => words(&["50", "12", ">89", "old", ""]),
        10 => words(&["blood", "urine", "pleural fluid", ""]),
        11 | 12 => words(&["", "No growth", "E. coli", "sauepi", "CoNS; E. coli", "cancelled"]),
        _ => words(&["final", "preliminary", "X", "who knows", ""]),
    };
    let odd = prop_oneof![
        Just(String::new()),
        Just("2027-01-01 10:00".to_owned()),
        Just("31.12.2025".to_owned()),
        "[ a-c\"\u{a0}]{0,4}",
    ];
    prop_oneof![40 => plain, 1 => odd].boxed()
}

/// A line of the file: a row, a repeated or a broken one.
fn line() -> impl Strategy<Value = String> {
    let quoted = |text: String, how: u8| match how {
        0 => format!("\"{}\"", text.replace('"', "\"\"")),
        1 => format!("\"{},\n{}\"", text.replace('"', "\"\""), text.replace('"', "")),
        2 => format!("{text}\""),
        3 => format!("\"{text}\"x"),
        _ => text.replace('"', "'"),
    };
    let how = prop_oneof![300 => Just(9_u8), 12 => Just(0), 1 => Just(1), 1 => Just(2), 1 => Just(3)];
    let cells: Vec<_> = (0..14).map(|column| (cell(column), how.clone())).collect();
    let row = cells.prop_map(move |cells| {
        cells.into_iter().map(|(text, how)| quoted(text, how)).collect::<Vec<_>>().join(",")
    });
    prop_oneof![
        60 => row.clone(),
        2 => row.clone().prop_map(|row| row + ",,"),
        1 => row.clone().prop_map(|row| row + ",more"),
        1 => row.prop_map(|row| row.chars().take(20).collect()),
        1 => Just(String::new()),
        1 => Just(",,,,,,,,,,,,,".to_owned()),
        1 => Just("   ".to_owned()),
    ]
}

fn file() -> impl Strategy<Value = String> {
    let ends = prop::sample::select(&["\n", "\n", "\r\n", "\r"][..]);
    (prop::collection::vec((line(), prop::bool::weighted(0.1)), 1..60), ends, any::<bool>(), any::<bool>())
        .prop_map(|(lines, end, mark, ended)| {
            let mut text = if mark { "\u{feff}".to_owned() } else { String::new() };
            text.push_str(COLUMNS);
            for (line, twice) in lines {
                for _ in 0..=usize::from(twice) {
                    // Writing into a String cannot fail.
                    let _ = write!(text, "{end}{line}");
                }
            }
            if ended {
                text.push_str(end);
            }
            text
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]
    #[test]
    fn what_is_read_in_bulk_is_what_is_read_the_general_way(
        files in prop::collection::vec(file(), 1..3),
        duplicates in prop::sample::select(&["count-once", "keep", "unread"][..]),
        empty in prop::sample::select(&["no-growth", "unread"][..]),
        separator in prop::sample::select(&[";", ""][..]),
        split in prop::sample::select(&["join", "leave"][..]),
        threads in 1_usize..4,
    ) {
        let mapping = mapping(duplicates, empty, separator, split);
        if let Some(bulk) = in_bulk(&files, &mapping, Pace { threads, block_bytes: 1_024 }) {
            same(&bulk, &general(&files, &mapping))?;
        }
    }
}

/// The property above would hold for a way that never fits; here it must fit, over many blocks.
#[test]
fn a_plain_file_is_read_in_bulk() {
    let mut text = COLUMNS.to_owned() + "\n";
    for n in 0..4_000 {
        let _ = writeln!(
            text,
            "S{},P{},2026-01-{:02} 10:{:02},2026-01-30 12:00,ICU {},C{},CVC,{},{}.5,{},blood,{},,final",
            n / 2,
            n / 8,
            n / 200 + 1,
            n / 2 % 60,
            n % 3,
            n % 11,
            if n % 2 == 0 { "aerobic" } else { "anaerobic" },
            n % 12,
            20 + n % 70,
            if n % 9 == 0 { "\"Staphylococcus, coagulase negative\"" } else { "no growth" },
        );
    }
    let mapping = mapping("count-once", "no-growth", ";", "join");
    let files = [text];
    let bulk =
        in_bulk(&files, &mapping, Pace { threads: 3, block_bytes: 1_024 }).expect("nothing in it is unusual");
    assert_eq!(bulk.sets.len(), 2_000);
    same(&bulk, &general(&files, &mapping)).unwrap();
    let default = in_bulk(&files, &mapping, Pace::default()).unwrap();
    same(&default, &bulk).unwrap();
}

/// A laboratory's file in another encoding than UTF-8, and a mapping that asks for more, go the general way.
#[test]
fn what_does_not_fit_is_left_to_the_general_way() {
    let mapping = mapping("count-once", "no-growth", ";", "join");
    let latin = [COLUMNS.as_bytes(), b"\nS1,P1,2026-01-02 10:20,,Stra\xdfe,,,,,,,,,\n"].concat();
    let file = BulkFile { name: "latin.csv", content: Box::new(latin.as_slice()) };
    assert!(
        read_in_bulk(vec![file], &mapping, &key(), date(2026, 3, 31), Pace::default()).unwrap().is_none()
    );
    for text in ["", "MSH|^~\\&|", "{}", "PK\u{3}\u{4}"] {
        assert!(in_bulk(&[text.to_owned()], &mapping, Pace::default()).is_none(), "{text:?}");
    }
}

/// A line of 100 MB, made while it is read: a quotation mark that is closed only much later.
#[test]
fn a_line_of_a_hundred_megabytes_is_named_and_the_rest_is_read() {
    use std::io::Read as _;

    let start = format!("{COLUMNS}\nS1,P1,\"");
    let end = "\"\nS2,P1,2026-01-02 10:20,,ICU,,,,,,,no growth,,final\n";
    let content = start.as_bytes().chain(std::io::repeat(b'x').take(100 << 20)).chain(end.as_bytes());
    let mapping = mapping("count-once", "no-growth", ";", "leave");
    let file = BulkFile { name: "long.csv", content: Box::new(content) };
    let import =
        read_in_bulk(vec![file], &mapping, &key(), date(2026, 3, 31), Pace::default()).unwrap().unwrap();
    let told: Vec<String> = import.unread.iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].starts_with("long.csv, line 2: found a row longer than 1 MB; expected one cell"),
        "{}",
        told[0]
    );
    assert_eq!(written(&import.sets).len(), 1);
    assert_eq!(import.sources.get(0).and_then(|source| source.line), Some(3));
}
