//! Totals of the open laboratory files, beside those an independent script finds with pandas.
//!
//! `tests/reference/open_data_pandas.py DATA OUT.json` computes them from the files and the published definitions; the
//! test script runs it and names OUT.json in WARDWRIGHT_OPEN_DATA_REFERENCE.

mod support;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use culture::{Nomenclature, RuleSet, Tally, judge};
use exchange::laboratory::{DateKind, Import, InputFile, Mapping, read};
use serde_json::Value;
use support::{TODAY, every_row_is_accounted_for, file, key, open_data, said};

fn shipped_mapping(name: &str) -> Mapping {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../mappings").join(name);
    Mapping::from_toml(&String::from_utf8(file(path.parent().expect("a folder"), name)).expect("UTF-8"))
        .unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn import(folder: &Path, name: &str, mapping: &Mapping) -> Import {
    let companions: Vec<(&str, Vec<u8>)> =
        mapping.companions().into_iter().map(|companion| (companion, file(folder, companion))).collect();
    let companions: Vec<InputFile<'_>> =
        companions.iter().map(|(name, bytes)| InputFile { name, bytes }).collect();
    let bytes = file(folder, name);
    let import = read(&[InputFile { name, bytes: &bytes }], mapping, &companions, &key(), TODAY);
    every_row_is_accounted_for(&import);
    assert_eq!(import.unread, [], "{}", said(&import));
    import
}

fn reference() -> Option<Value> {
    let Some(path) = std::env::var_os("WARDWRIGHT_OPEN_DATA_REFERENCE") else {
        println!(
            "NOT CHECKED against pandas: WARDWRIGHT_OPEN_DATA_REFERENCE is not set. Make the file with tests/reference/open_data_pandas.py DATA OUT.json (needs pandas and openpyxl), as the test script does."
        );
        return None;
    };
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    Some(serde_json::from_str(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
}

#[track_caller]
fn tallies_agree(import: &Import, expected: &Value) {
    let rules = expected.as_object().expect("rules");
    assert!(!rules.is_empty());
    for (name, expected) in rules {
        let as_of = (import.dates == DateKind::AsRecorded).then_some(TODAY);
        let judged = judge(&import.sets, &RuleSet::ready(name).expect("a ready rule set"), as_of);
        let tally = Tally::of(&judged);
        let count = |key: &str| expected[key].as_u64().unwrap_or_else(|| panic!("{name}: no {key}"));
        let found =
            [tally.contaminated, tally.true_positive, tally.negative, tally.undetermined, tally.sets()];
        let wanted = ["contaminated", "true_positive", "negative", "undetermined", "sets"].map(count);
        assert_eq!(found, wanted, "{name}: contaminated, true positive, negative, undetermined, sets");
        if let Some(bounds) = expected["interval"].as_array() {
            let interval = tally.rate().expect("closed sets").interval;
            for (found, wanted) in [interval.lower(), interval.upper()].into_iter().zip(bounds) {
                let wanted = wanted.as_f64().expect("a bound");
                assert!((found - wanted).abs() < 1e-12, "{name}: {found} and {wanted}");
            }
        }
    }
}

/// The counts are those of the provenance note, read from the file by a script before this program existed: 2,003 rows,
/// 559 of blood cultures, 396 draws, 28 of them with an organism.
#[test]
fn mimic_iii_demo() {
    let Some(folder) = open_data("mimic-iii-demo", "totals of the MIMIC-III demo") else { return };
    let import = import(&folder, "MICROBIOLOGYEVENTS.csv", &shipped_mapping("mimic-iii-demo.toml"));
    assert_eq!((import.counts[0].rows, import.counts[0].kept), (2_003, 559));
    assert_eq!(import.sets.len(), 396);
    assert_eq!(import.sets.iter().filter(|set| !set.isolates.is_empty()).count(), 28);
    // The provenance note says 2 draws with more than one organism.
    assert_eq!(import.sets.iter().filter(|set| set.isolates.len() > 1).count(), 2);
    if let Some(reference) = reference() {
        let expected = &reference["mimic"];
        assert_eq!(expected["sets"], 396);
        assert_eq!(expected["with_growth"], 28);
        tallies_agree(&import, &expected["rules"]);
    }
}

/// 2,000 isolates of blood cultures, by the provenance note; positives only, so no rate.
#[test]
fn amr_example_isolates() {
    let Some(folder) = open_data("amr-example-isolates", "totals of the AMR example isolates") else {
        return;
    };
    let import = import(&folder, "example_isolates.csv", &shipped_mapping("amr-example-isolates.toml"));
    assert_eq!(import.counts[0].rows, 2_000);
    if let Some(reference) = reference() {
        let expected = &reference["amr"];
        tallies_agree(&import, &expected["rules"]);
        assert_eq!(import.dropped[0].rows, expected["repeated_rows"].as_u64().expect("a count"));
        let judged = judge(&import.sets, &RuleSet::ready("adult-24h").expect("ready"), Some(TODAY));
        assert_eq!(Some(Tally::of(&judged).excluded), expected["excluded"].as_u64());
    }
}

/// The same 3,000 rows as text and as a workbook with true date cells give the same sets.
#[test]
fn names_spelt_in_several_ways() {
    let Some(folder) = open_data("amr-example-isolates", "names spelt in several ways") else { return };
    let mapping = shipped_mapping("amr-example-isolates-unclean.toml");
    let text = import(&folder, "example_isolates_unclean.csv", &mapping);
    let sheet = import(&folder, "example_isolates_unclean.xlsx", &mapping);
    assert_eq!(text.counts[0].rows, 3_000);
    assert_eq!(text.sets, sheet.sets);
    let Some(reference) = reference() else { return };
    for (name, expected) in [("text", &reference["unclean_csv"]), ("workbook", &reference["unclean_xlsx"])] {
        assert_eq!(Some(text.sets.len() as u64), expected["sets"].as_u64(), "{name}");
    }
    // Organisms by row, not by set: every row has one, and sets of one day hold each name once.
    let bytes = file(&folder, "example_isolates_unclean.csv");
    let rows = String::from_utf8(bytes).expect("UTF-8");
    let mut organisms: BTreeMap<String, u64> = BTreeMap::new();
    for row in rows.lines().skip(1) {
        let written = row.split(',').nth(3).expect("a name");
        // The four codes are in the mapping; here the mapping's words stand for them.
        let name = match written {
            "esccol" => "Escherichia coli",
            "klepne" => "Klebsiella pneumoniae",
            "staaur" => "Staphylococcus aureus",
            "strpne" => "Streptococcus pneumoniae",
            other => other,
        };
        *organisms.entry(Nomenclature::built_in().identify(name).identity.to_string()).or_insert(0) += 1;
    }
    let expected: BTreeMap<String, u64> =
        serde_json::from_value(reference["unclean_csv"]["organisms"].clone()).expect("counts by organism");
    assert_eq!(organisms, expected);
}
