//! `wardwright cultures rates` from the outside: what it prints, what it writes, how it ends.

mod laboratory;

use std::fs;
use std::path::Path;

use insta::assert_snapshot;
use serde_json::Value;

use laboratory::{Bench, MAPPING};

/// Invented sets: C1, C2 and C4 of the worked cases, a clear infection, a child's bottle left out by age elsewhere.
const CULTURES: &str = "specimen,patient,collected,unit,collector,organism,status
S1,p1,2026-03-02 08:00,ICU,K1,CoNS,F
S2,p1,2026-03-02 08:20,ICU,K1,,F
S3,p2,2026-03-05 22:00,ICU,,S. epidermidis,F
S4,p2,2026-03-05 22:15,ED,K2,S. epidermidis,F
S5,p3,2026-04-01 10:00,ED,K2,CoNS,F
S6,p4,2026-04-02 10:00,ICU,K1,E. coli,F
S7,p5,2026-04-03 10:00,ICU,K1,no growth,F
";

fn run(bench: &Bench, arguments: &[&str]) -> (i32, String, String) {
    bench.run(&[&["rates"], arguments].concat())
}

#[track_caller]
fn json(bench: &Bench, arguments: &[&str], code: i32) -> Value {
    let (found, out, err) = run(bench, &[arguments, &["--json"]].concat());
    assert_eq!(found, code, "{err}");
    serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}"))
}

const GIVEN: [&str; 5] = ["cultures.csv", "--map", "map.toml", "--as-of", "2026-04-30"];

#[test]
fn the_object_has_the_documented_keys_and_the_counts_of_the_worked_cases() {
    let bench = Bench::new();
    bench.write("cultures.csv", CULTURES);
    let report = json(&bench, &GIVEN, 0);
    let counts: Vec<u64> =
        ["sets", "contaminated", "true_positive", "negative", "undetermined", "provisional"]
            .iter()
            .map(|key| report[key].as_u64().unwrap())
            .collect();
    assert_eq!(counts, [7, 1, 3, 2, 1, 0]);
    assert_eq!(report["denominator"], 7);
    assert!((report["rate"].as_f64().unwrap() - 1.0 / 7.0).abs() < 1e-15);
    assert_eq!(report["rule"]["name"], "adult-24h");
    assert_eq!(report["rule"]["version"], "1");
    assert_eq!(report["unread"], Value::Array(Vec::new()));
    let months: Vec<(&str, u64)> = report["months"]
        .as_array()
        .unwrap()
        .iter()
        .map(|month| (month["month"].as_str().unwrap(), month["sets"].as_u64().unwrap()))
        .collect();
    assert_eq!(months, [("2026-03", 4), ("2026-04", 3)]);
    let units: Vec<(&str, u64, u64)> = report["units"]
        .as_array()
        .unwrap()
        .iter()
        .map(|unit| {
            (
                unit["unit"].as_str().unwrap(),
                unit["sets"].as_u64().unwrap(),
                unit["contaminated"].as_u64().unwrap(),
            )
        })
        .collect();
    assert_eq!(units, [("ED", 2, 0), ("ICU", 5, 1)]);
    // Parts have the keys of the whole.
    for part in report["months"].as_array().unwrap().iter().chain(report["units"].as_array().unwrap()) {
        for key in [
            "sets",
            "contaminated",
            "true_positive",
            "negative",
            "undetermined",
            "provisional",
            "rate",
            "interval",
        ] {
            assert!(part.get(key).is_some(), "{key} in {part}");
        }
    }
    assert_eq!(report["collectors"]["events"], 6);
    // The same question gives the same bytes, although the patient key is made afresh each time.
    assert_eq!(
        run(&bench, &[&GIVEN[..], &["--json"]].concat()),
        run(&bench, &[&GIVEN[..], &["--json"]].concat())
    );
}

/// Newcombe 1998, Statistics in Medicine 17:857, Table I: 15 of 148, Wilson 0.0624 to 0.1605.
#[test]
fn the_interval_is_wilsons() {
    let bench = Bench::new();
    let mut rows = String::from("specimen,patient,collected,unit,collector,organism,status\n");
    for patient in 0..74 {
        // 15 patients with a commensal in one of two sets, 59 with two sets without growth.
        let organism = if patient < 15 { "Micrococcus luteus" } else { "" };
        rows.push_str(&format!("A{patient},p{patient},2026-03-02 08:00,ICU,K,{organism},F\n"));
        rows.push_str(&format!("B{patient},p{patient},2026-03-02 08:10,ICU,K,,F\n"));
    }
    bench.write("cultures.csv", rows);
    let report = json(&bench, &GIVEN, 0);
    assert_eq!((&report["contaminated"], &report["denominator"]), (&Value::from(15), &Value::from(148)));
    let bounds: Vec<String> = report["interval"]
        .as_array()
        .unwrap()
        .iter()
        .map(|bound| format!("{:.4}", bound.as_f64().unwrap()))
        .collect();
    assert_eq!(bounds, ["0.0624", "0.1605"]);
    let (_, text, _) = run(&bench, &GIVEN);
    assert!(text.contains("10.1 % (15 of 148 closed sets; 95 % Wilson interval 6.2 % to 16.0 %)"), "{text}");
}

#[test]
fn the_text_is_one_a_trainer_understands() {
    let bench = Bench::new();
    bench.write("cultures.csv", CULTURES);
    let (code, out, err) = run(&bench, &GIVEN);
    assert_eq!((code, err.as_str()), (0, ""));
    assert_snapshot!(out, @r#"
    Blood culture sets, as of 2026-04-30
    Rule: adult-24h, version 1. Adult measure: a commensal in one set of two or more within 24 hours
    Commensals: NHSN common commensals, 445-row copy

    Sets                     7
      contaminated           1
      true positive          3
      negative               2
      undetermined           1
      provisional            0
    Excluded                 0

    Contamination rate: 14.3 % (1 of 7 closed sets; 95 % Wilson interval 2.6 % to 51.3 %)
      if every undetermined set were contaminated: 28.6 % (2 of 7 closed sets; 95 % Wilson interval 8.2 % to 64.1 %)
    Single sets, by venepuncture: 42.9 % (3 of 7 sets; 95 % Wilson interval 15.8 % to 75.0 %)
    Single sets, by occasion: 60.0 % (3 of 5 occasions, each 24 h of one patient; 95 % Wilson interval 23.1 % to 88.2 %)
    Positivity, sets with any growth: 71.4 % (5 of 7 closed sets; 95 % Wilson interval 35.9 % to 91.8 %)
    Collector recorded: 6 of 7 sets

    By month   sets contam.  true+   neg. undet.  prov.  rate
    2026-03       4       1      2      1      0      0  1 of 4: too few sets for a percentage
    2026-04       3       0      1      1      1      0  0 of 3: too few sets for a percentage

    By unit   sets contam.  true+   neg. undet.  prov.  rate
    ED           2       0      1      0      1      0  0 of 2: too few sets for a percentage
    ICU          5       1      2      2      0      0  1 of 5: too few sets for a percentage

    By shift   sets contam.  true+   neg. undet.  prov.  rate
    day           5       1      1      2      1      0  1 of 5: too few sets for a percentage
    night         2       0      2      0      0      0  0 of 2: too few sets for a percentage
    (day is 07:00 to 19:00)

    Why the sets are called what they are called
           1  contaminated: A skin commensal grew in this set and in no other of 2 or more sets within 24 hours from the first set of the series. [commensal-in-one-set]
           1  true positive: An organism grew that is on no commensal list. [recognised-organism]
           2  true positive: The same skin commensal grew in another set within 24 hours from the first set of the series: a probable infection, for review by infection prevention. [commensal-matched]
           2  negative: No growth was reported. [no-growth]
           1  undetermined: A skin commensal grew, and fewer than 2 sets lie within 24 hours from the first set of the series: one set cannot tell; a person must decide. [commensal-single-set]

    To know besides
           7  No age is given; the patient was taken to be of the ages the rule is for. [age-unknown]

    Rows
      cultures.csv: 7 rows in, 7 kept, 0 left out, 0 unread

    Training support, not a medical device: local policy and the laboratory's instructions come first, and a licensed clinician decides. Verdicts follow a counting rule; they say nothing about how a patient should be treated.
    "#);
}

#[test]
fn rule_sets_by_name_and_by_file() {
    let bench = Bench::new();
    bench.write("cultures.csv", "specimen,patient,collected,unit,collector,organism,status\nS1,p1,2026-03-02 08:00,ICU,K1,CoNS,F\nS2,p1,2026-03-03 09:00,ICU,K1,,F\n");
    assert_eq!(json(&bench, &GIVEN, 0)["contaminated"], 0, "C5 at 24 h");
    let wider = json(&bench, &[&GIVEN[..], &["--rules", "episode-48h"]].concat(), 0);
    assert_eq!(wider["contaminated"], 1, "C5 at 48 h");
    let own = "schema = 1\nname = \"ours\"\nversion = \"7\"\ntitle = \"Our own\"\nsource = \"local policy\"\nlist = \"common-commensals\"\nminimum_sets = 2\ndays_to_close = 6\nmatching = \"species\"\nsingle_set = \"contaminated\"\nmixed_growth = \"true-positive\"\ndifferent_commensals = \"contaminated\"\n[window]\nkind = \"rolling-hours\"\nhours = 12\n";
    bench.write("ours.toml", own);
    let ours = json(&bench, &[&GIVEN[..], &["--rules", "ours.toml"]].concat(), 0);
    assert_eq!((&ours["contaminated"], &ours["rule"]["version"]), (&Value::from(1), &Value::from("7")));
    bench.write("ours.toml", own.replace("hours = 12", "hours = 0"));
    let (code, _, err) = run(&bench, &[&GIVEN[..], &["--rules", "ours.toml"]].concat());
    assert_eq!(code, 2);
    assert_snapshot!(err, @"
    ours.toml
      found:    rule set: window hours 0 is not within 1 to 336
      expected: a rule set as docs/rules.md describes it
      to do:    correct the line named above
    ");
    let (code, _, err) = run(&bench, &[&GIVEN[..], &["--rules", "adult"]].concat());
    assert_eq!(code, 2);
    assert!(err.contains("one of adult-24h, nhsn-match, episode-48h, cap-series,"), "{err}");
}

#[test]
fn as_of_decides_what_is_provisional() {
    let bench = Bench::new();
    bench.write("cultures.csv", CULTURES.replace(",F\n", ",P\n"));
    let early = json(&bench, &["cultures.csv", "--map", "map.toml", "--as-of", "2026-04-05"], 0);
    assert_eq!((&early["provisional"], &early["denominator"]), (&Value::from(3), &Value::from(4)));
    let before = json(&bench, &["cultures.csv", "--map", "map.toml", "--as-of", "2026-03-31"], 0);
    assert_eq!((&before["sets"], &before["excluded"]), (&Value::from(4), &Value::from(3)));
    let (code, _, err) = run(&bench, &["cultures.csv", "--map", "map.toml", "--as-of", "31.03.2026"]);
    assert_eq!(code, 2);
    assert!(err.contains("a day as YYYY-MM-DD"), "{err}");
}

#[test]
fn a_file_of_positives_gives_no_rate_and_says_why() {
    let bench = Bench::new();
    bench.write("cultures.csv", CULTURES);
    bench.write("map.toml", format!("holds = \"positives-only\"\n{MAPPING}"));
    let report = json(&bench, &GIVEN, 0);
    assert_eq!((&report["rate"], &report["interval"]), (&Value::Null, &Value::Null));
    assert_eq!(report["why_no_rate"], "the file holds only sets that grew: a rate would have no denominator");
    let (code, _, err) = run(&bench, &[&GIVEN[..], &["--chart", "chart.svg"]].concat());
    assert_eq!(code, 2);
    assert!(err.contains("positive cultures only") && !bench.path("chart.svg").exists(), "{err}");
}

#[test]
fn chart_and_sets_are_written() {
    let bench = Bench::new();
    let mut rows = String::from("specimen,patient,collected,unit,collector,organism,status\n");
    for month in 1..=12 {
        for n in 0..20 {
            let organism = if n < 2 { "CoNS" } else { "" };
            rows.push_str(&format!(
                "A{month}-{n},p{month}-{n},2025-{month:02}-05 08:00,ICU,=K1,{organism},F\n"
            ));
            rows.push_str(&format!("B{month}-{n},p{month}-{n},2025-{month:02}-05 08:10,ICU,K1,,F\n"));
        }
    }
    bench.write("cultures.csv", rows);
    let (code, out, err) =
        run(&bench, &[&GIVEN[..], &["--chart", "chart.svg", "--sets", "sets.csv"]].concat());
    assert_eq!(code, 0, "{out}{err}");
    let svg = fs::read_to_string(bench.path("chart.svg")).unwrap();
    assert!(
        svg.starts_with("<svg") && svg.contains("2025-12") && svg.contains("adult-24h, version 1"),
        "{svg}"
    );
    let sets = fs::read_to_string(bench.path("sets.csv")).unwrap();
    assert_eq!(sets.lines().count(), 481);
    let first = sets.lines().nth(1).unwrap();
    assert!(
        first.starts_with(
            "A1-0,cultures.csv,2,2025-01-05T08:00:00,ICU,,CoNS,contaminated,commensal-in-one-set,"
        ),
        "{first}"
    );
    assert!(!sets.contains("p1-0"), "no patient is named");
}

#[test]
fn bad_input_is_listed_by_line_and_the_rest_is_counted() {
    let bench = Bench::new();
    let bad = CULTURES
        .replace("2026-03-05 22:00", "5 March")
        .replace("2026-04-02 10:00", "2099-04-02 10:00")
        .replace("S7,p5", "S1,p5");
    bench.write("cultures.csv", bad);
    let report = json(&bench, &GIVEN, 0);
    let unread: Vec<(u64, &str)> = report["unread"]
        .as_array()
        .unwrap()
        .iter()
        .map(|unread| (unread["line"].as_u64().unwrap(), unread["reason"].as_str().unwrap()))
        .collect();
    assert_eq!(unread.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2, 4, 7, 8]);
    assert!(unread[1].1.contains("\"5 March\"") && unread[1].1.contains("YYYY-MM-DD hh:mm"), "{unread:?}");
    assert!(unread[2].1.contains("2099-04-02"), "{unread:?}");
    assert!(unread[3].1.contains("lines 2 and 8 for two different patients"), "{unread:?}");
    assert_eq!(report["sets"], 3);
    let (code, out, _) = run(&bench, &GIVEN);
    assert_eq!(code, 0);
    assert!(
        out.contains("Not read: 4")
            && out.contains("cultures.csv, line 4: column \"collected\": found \"5 March\""),
        "{out}"
    );
}

#[test]
fn where_nothing_can_be_done_the_exit_code_says_so() {
    let bench = Bench::new();
    bench.write("empty.csv", "");
    bench.write("columns.csv", "a,b\n1,2\n");
    bench.write("latin.csv", [&CULTURES.as_bytes()[..60], b"\xFC\n"].concat());
    bench.write("utf8.toml", format!("encoding = \"utf-8\"\n{MAPPING}"));
    for (arguments, expected) in [
        (vec!["empty.csv", "--map", "map.toml"], "empty.csv: found an empty file; expected"),
        (vec!["columns.csv", "--map", "map.toml"], "found the columns a, b; expected a column \"specimen\""),
        (vec!["latin.csv", "--map", "utf8.toml"], "found text that is not UTF-8 on line"),
        (vec!["absent.csv", "--map", "map.toml"], "cannot be read"),
        (vec!["empty.csv", "--map", "absent.toml"], "absent.toml"),
        (vec!["columns.csv"], "give one with --map FILE.toml"),
    ] {
        let (code, out, err) = run(&bench, &arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(expected), "{arguments:?}: {err}");
        assert!(!err.contains("panicked"), "{err}");
    }
    let report = json(&bench, &["empty.csv", "--map", "map.toml"], 2);
    assert_eq!((&report["sets"], &report["unread"][0]["line"]), (&Value::from(0), &Value::Null));
    bench.write("slip.toml", MAPPING.replace("patient =", "patients ="));
    let (code, _, err) = run(&bench, &["cultures.csv", "--map", "slip.toml"]);
    assert_eq!(code, 2);
    assert_snapshot!(err, @"
    slip.toml, line 6
      found:    the unknown key patients
      expected: a key of the mapping
      to do:    did you mean patient? docs/mapping.md lists every key
    ");
}

/// One file that cannot be read does not lose the others.
#[test]
fn a_bad_file_beside_a_good_one() {
    let bench = Bench::new();
    bench.write("empty.csv", "");
    bench.write("cultures.csv", CULTURES);
    let report =
        json(&bench, &["empty.csv", "cultures.csv", "--map", "map.toml", "--as-of", "2026-04-30"], 0);
    assert_eq!(report["sets"], 7);
    assert_eq!(report["unread"][0]["file"], "empty.csv");
}

/// The mappings for open files that come with the program can be read.
#[test]
fn shipped_mappings_are_sound() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../mappings");
    let mut n_mappings = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        exchange::laboratory::Mapping::from_toml(&text)
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        n_mappings += 1;
    }
    assert!(n_mappings >= 4, "{n_mappings}");
}
