//! What `wardwright cultures` says beside the rate, and `wardwright cultures map`, from the outside.

#![expect(clippy::unwrap_used, reason = "a helper of tests that cannot go on without its values")]

mod laboratory;

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

use laboratory::{Bench, MAPPING};

/// Invented sets: C1, C2, C5 of the worked cases, Kocuria (on the long list only), one login in two units.
const CULTURES: &str = "specimen,patient,collected,unit,collector,organism,status
S1,p1,2026-03-02 08:00,ICU,K1,CoNS,F
S2,p1,2026-03-02 08:20,ICU,K1,,F
S3,p2,2026-03-05 22:00,ICU,,S. epidermidis,F
S4,p2,2026-03-05 22:15,ED,K2,S. epidermidis,F
S5,p3,2026-04-01 10:00,ED,K2,CoNS,F
S6,p3,2026-04-02 11:00,ED,K2,,F
S7,p4,2026-04-03 10:00,ICU,K1,Kocuria rosea,F
S8,p4,2026-04-03 10:10,ED,K1,,F
S8,p4,2026-04-03 10:10,ED,K1,,F
";

/// A folder with these sets and their mapping.
fn ward() -> Bench {
    let bench = Bench::new();
    bench.write("cultures.csv", CULTURES);
    bench
}

const GIVEN: [&str; 6] = ["rates", "cultures.csv", "--map", "map.toml", "--as-of", "2026-04-30"];

#[track_caller]
fn rates(bench: &Bench, arguments: &[&str]) -> (String, Value) {
    let (code, text, err) = bench.run(&[&GIVEN[..], arguments].concat());
    assert_eq!(code, 0, "{err}");
    let (_, json, _) = bench.run(&[&GIVEN[..], arguments, &["--json"]].concat());
    (text, serde_json::from_str(&json).unwrap())
}

#[track_caller]
fn refused(bench: &Bench, arguments: &[&str], said: &str) {
    let (code, _, err) = bench.run(&[&GIVEN[..], arguments].concat());
    assert_eq!(code, 2, "{err}");
    assert!(err.contains(said), "{err}");
}

#[test]
fn two_rules_stand_side_by_side_with_what_moved() {
    let (text, json) = rates(&ward(), &["--compare", "episode-48h", "--compare", "cap-series"]);
    let compared = json["comparisons"].as_array().unwrap();
    assert_eq!(compared.len(), 2);
    // C5: within 24 h it cannot be told, within 48 h it is contaminated.
    assert_eq!(
        (&compared[0]["first"]["contaminated"], &compared[0]["second"]["contaminated"]),
        (&2.into(), &3.into())
    );
    assert_eq!((&compared[0]["changed"], &compared[0]["sets"]), (&1.into(), &8.into()));
    assert_eq!(compared[0]["changes"][0]["from_clause"], "commensal-single-set");
    assert_eq!(compared[0]["changes"][0]["to_clause"], "commensal-in-one-set");
    // The short list has no Kocuria.
    assert_eq!(compared[1]["changes"][0]["to_clause"], "recognised-organism");
    // Wilson intervals of 2/8 and 3/8, by hand from the formula of Wilson 1927: centre (x + 1.9207)/(n + 3.8415).
    for (part, x) in [("first", 2.0_f64), ("second", 3.0)] {
        let (n, z) = (8.0_f64, 1.959_963_984_540_054_f64);
        let centre = (x + z * z / 2.0) / (n + z * z);
        let half = z * (x * (n - x) / n + z * z / 4.0).sqrt() / (n + z * z);
        let bounds = compared[0][part]["interval"].as_array().unwrap();
        assert!((bounds[0].as_f64().unwrap() - (centre - half)).abs() < 1e-12);
        assert!((bounds[1].as_f64().unwrap() - (centre + half)).abs() < 1e-12);
    }
    for said in [
        "Compared with episode-48h, version 1",
        "2 of 8 closed sets",
        "3 of 8 closed sets",
        "Verdict changed in 1 of 8 sets",
        "undetermined [commensal-single-set] -> contaminated [commensal-in-one-set]",
        "It is the rule.",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
}

#[test]
fn a_signed_judgement_stands_beside_the_rule() {
    let bench = ward();
    bench.write(
        "judged.csv",
        "set,verdict,by,on,because\nS5,contaminated,Invented physician,2026-04-09,no line and no fever\n",
    );
    let (text, json) = rates(&bench, &["--judgements", "judged.csv"]);
    assert_eq!(json["contaminated"], 2, "the rule's figures stay");
    let judged = &json["judgements"];
    assert_eq!((&judged["with_judgements"]["contaminated"], &judged["signed"]), (&3.into(), &1.into()));
    assert_eq!(judged["differing"][0]["by_rule"], "undetermined");
    assert_eq!(judged["differing"][0]["because"], "no line and no fever");
    assert!(
        text.contains("contaminated by Invented physician on 2026-04-09, because: no line and no fever"),
        "{text}"
    );
    for (row, said) in [
        ("S5,contaminated,,2026-04-09,x", "judged.csv, line 2"),
        ("S5,contaminated,x,9 April,x", "a day as YYYY-MM-DD"),
        ("S5,provisional,x,2026-04-09,x", "contaminated, true-positive, negative or undetermined"),
        ("S99,negative,x,2026-04-09,x", "not in the files, the first on set \"S99\""),
    ] {
        bench.write("judged.csv", format!("set,verdict,by,on,because\n{row}\n"));
        refused(&bench, &["--judgements", "judged.csv"], said);
    }
    bench.write("judged.csv", "set,verdict\nS5,negative\n");
    refused(&bench, &["--judgements", "judged.csv"], "a column \"by\", once");
}

#[test]
fn doubts_are_counted_and_listed_with_their_lines() {
    let (text, json) = rates(&ward(), &["--quality"]);
    let quality = &json["quality"];
    assert_eq!((&quality["rows"], &quality["repeated_rows"]), (&9.into(), &1.into()));
    let doubt = |id: &str| {
        quality["doubts"].as_array().unwrap().iter().find(|doubt| doubt["doubt"] == id).unwrap().clone()
    };
    assert_eq!(
        (&doubt("two-units-at-once")["events"], &doubt("two-units-at-once")["denominator"]),
        (&2.into(), &7.into())
    );
    assert_eq!(doubt("two-units-at-once")["places"][0]["line"], 8);
    assert_eq!(doubt("collector-not-recorded")["places"][0]["line"], 4);
    for said in ["1 of 9 rows repeat another word for word", "      line 8, line 9\n", "[two-units-at-once]"]
    {
        assert!(text.contains(said), "{said}: {text}");
    }
    let all = format!("{text}{json}");
    assert!(!all.contains("p1") && !all.contains("\"K1\""), "nobody is named");
}

#[test]
fn sets_per_thousand_patient_days_carry_their_interval() {
    let bench = ward();
    bench.write("days.csv", "month,patient_days\n2026-03,400\n");
    let (text, json) = rates(&bench, &["--patient-days", "days.csv"]);
    let days = &json["patient_days"];
    assert_eq!((&days["all"]["sets"], &days["sets_without_days"]), (&4.into(), &4.into()));
    assert_eq!(days["all"]["per_thousand"], 10.0);
    // Exact Poisson limits of 4 events: 1.0899 to 10.2416 (Garwood 1936, Biometrika 28:437, from memory), over 0.4.
    let bounds = days["all"]["interval"].as_array().unwrap();
    assert!((bounds[0].as_f64().unwrap() - 1.0899 / 0.4).abs() < 5e-4, "{bounds:?}");
    assert!((bounds[1].as_f64().unwrap() - 10.2416 / 0.4).abs() < 5e-4, "{bounds:?}");
    assert!(text.contains("10.0 (4 sets in 400 patient-days; 2.7 to 25.6)"), "{text}");
    bench.write("days.csv", "month,unit,patient_days\n2026-03,ICU,300\n2026-03,ED,100\n2026-04,ICU,300\n");
    let (_, json) = rates(&bench, &["--patient-days", "days.csv"]);
    assert_eq!(json["patient_days"]["rows"][0]["name"], "2026-03 ED");
    assert_eq!(
        (&json["patient_days"]["rows"][1]["sets"], &json["patient_days"]["sets_without_days"]),
        (&3.into(), &3.into())
    );
    for (rows, said) in [
        ("2026-03,400\n2026-03,400", "line 3"),
        ("2026-13,400", "a month as YYYY-MM"),
        ("2026-03,NaN", "a number above 0"),
        ("2026-03,0", "a number above 0"),
    ] {
        bench.write("days.csv", format!("month,patient_days\n{rows}\n"));
        refused(&bench, &["--patient-days", "days.csv"], said);
    }
}

#[test]
fn one_persons_figures_are_no_bare_percentage() {
    let bench = ward();
    let (text, json) = rates(&bench, &["--collector", "K1"]);
    let person = &json["collector"];
    assert_eq!((&person["contaminated"], &person["closed"]), (&2.into(), &4.into()));
    assert_eq!(person["for_whom"], "this person and their trainer only");
    let figures = &person["figures"];
    let interval = figures["credible_interval"].as_array().unwrap();
    let estimate = figures["estimate"].as_f64().unwrap();
    assert!(interval[0].as_f64().unwrap() <= estimate && estimate <= interval[1].as_f64().unwrap());
    assert_eq!((&figures["everyone_contaminated"], &figures["everyone_closed"]), (&2.into(), &7.into()));
    assert!(text.contains("Collector K1: for this person and their trainer only"), "{text}");
    assert!(!text.contains("50.0 %"), "2 of 4 is no percentage: {text}");
    refused(&bench, &["--collector", "K9"], "no set with this collector");
    let (text, json) = rates(&bench, &["--collectors"]);
    assert_eq!(json["by_collector"].as_array().unwrap().len(), 3, "K1, K2 and not recorded");
    assert!(text.contains("For the trainer only"), "{text}");
    let (text, json) = rates(&bench, &[]);
    assert!(!format!("{text}{json}").contains("K1"), "no collector unless asked for");
}

/// By the standing that the record book gives each collector at the time of the draw: N-21 of the example in
/// docs/entries.md was released on 2026-01-14 at 09:00.
#[test]
fn sets_are_told_apart_by_the_collectors_standing_at_the_draw() {
    let bench = ward();
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    fs::copy(root.join("breakdowns/vein.txt"), bench.path("vein.txt")).unwrap();
    let page = fs::read_to_string(root.join("docs/entries.md")).unwrap();
    let path = page.split("## A learner's path").nth(1).unwrap();
    bench.write("entries.toml", path.split("```toml\n").nth(1).unwrap().split("```").next().unwrap());
    for arguments in [
        vec!["setup", "--unit", "Invented Critical Care", "--data", "data"],
        vec!["book", "add", "entries.toml", "--data", "data"],
    ] {
        let folder = bench.path("");
        Command::cargo_bin("wardwright").unwrap().current_dir(folder).args(arguments).assert().success();
    }
    bench.write("map.toml", format!("{MAPPING}route = \"route\"\n"));
    bench.write(
        "cultures.csv",
        "specimen,patient,collected,unit,collector,organism,status,route\n\
         S1,p1,2026-01-14 08:59,ICU,N-21,CoNS,F,vein\n\
         S2,p1,2026-01-14 09:20,ICU,N-21,,F,vein\n\
         S3,p2,2026-01-20 10:00,ICU,X-99,,F,vein\n\
         S4,p3,2026-01-20 11:00,ICU,,,F,vein\n",
    );
    let (text, json) = rates(&bench, &["--data", "data"]);
    let rows: Vec<(&str, u64, u64)> = json["standings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| {
            (
                row["name"].as_str().unwrap(),
                row["sets"].as_u64().unwrap(),
                row["contaminated"].as_u64().unwrap(),
            )
        })
        .collect();
    assert_eq!(rows.len(), 4, "{rows:?}");
    for row in [
        ("not released on the breakdown at the draw", 1, 1),
        ("released on the breakdown", 1, 0),
        ("collector not of this unit", 1, 0),
        ("collector not recorded", 1, 0),
    ] {
        assert!(rows.contains(&row), "{row:?} in {rows:?}");
    }
    assert!(text.contains("By collector's standing at the draw"), "{text}");
    refused(&bench, &["--data", "nowhere"], "nowhere");
}

/// By hand: (70.5 - 60) / 1.05 = 10 mL within 8 to 10, (65.25 - 60) / 1.05 = 5 mL below it.
#[test]
fn weighed_bottles_name_the_density_they_were_taken_at() {
    let bench = ward();
    let map = MAPPING.replace(
        "[columns]",
        "density_g_per_ml = 1.05\n[columns]\nlot = \"lot\"\nmass_full_g = \"full\"\nbottle = \"bottle\"",
    );
    bench.write("map.toml", format!("{map}[lot_tare_g]\n\"L1\" = 60.0\n"));
    bench.write(
        "cultures.csv",
        "specimen,patient,collected,unit,collector,organism,status,bottle,lot,full\n\
         S1,p1,2026-03-02 08:00,ICU,K1,,F,aerobic,L1,70.5\n\
         S1,p1,2026-03-02 08:00,ICU,K1,,F,anaerobic,L1,65.25\n",
    );
    let (text, json) = rates(&bench, &[]);
    let fill = &json["fill"];
    assert_eq!((&fill["density_g_per_ml"], &fill["mean_ml"]), (&1.05.into(), &7.5.into()));
    assert_eq!((&fill["under"]["events"], &fill["under"]["denominator"]), (&1.into(), &2.into()));
    assert!(text.contains("masses were taken at 1.05 g/mL"), "{text}");
}

/// By hand: in March 9 and 5 mL in the ICU, 7 mL below the target in Ward 2; in April 10 mL and one bottle not known.
#[test]
fn fills_are_given_by_month_and_by_unit() {
    let bench = ward();
    let map = MAPPING.replace("[columns]", "[columns]\nfill_ml = \"fill\"\nbottle = \"bottle\"");
    bench.write("map.toml", map);
    bench.write(
        "cultures.csv",
        "specimen,patient,collected,unit,collector,organism,status,bottle,fill\n\
         S1,p1,2026-03-02 08:00,ICU,K1,,F,aerobic,9\n\
         S1,p1,2026-03-02 08:00,ICU,K1,,F,anaerobic,5\n\
         S2,p2,2026-03-03 08:00,Ward 2,K1,,F,aerobic,7\n\
         S3,p3,2026-04-01 08:00,ICU,K1,,F,aerobic,10\n\
         S3,p3,2026-04-01 08:00,ICU,K1,,F,anaerobic,\n",
    );
    let (text, json) = rates(&bench, &[]);
    let fill = |part: &Value| {
        let fill = &part["fill"];
        (
            fill["bottles"].as_u64().unwrap(),
            fill["with_fill"].as_u64().unwrap(),
            fill["under"]["events"].as_u64().unwrap(),
            fill["under"]["denominator"].as_u64().unwrap(),
            fill["mean_ml"].as_f64().unwrap(),
        )
    };
    let of = |parts: &str| json[parts].as_array().unwrap().iter().map(fill).collect::<Vec<_>>();
    assert_eq!(of("months"), [(3, 3, 2, 3, 7.0), (2, 1, 0, 1, 10.0)]);
    assert_eq!(of("units"), [(4, 3, 1, 3, 8.0), (1, 1, 1, 1, 7.0)]);
    assert_eq!(fill(&json), (5, 4, 2, 4, 7.75));
    assert!(json["months"][0]["fill"]["under"]["interval"].is_array());
    for line in ["Fill by month", "Fill by unit", "2 of 3: too few bottles for a percentage"] {
        assert!(text.contains(line), "{line} in {text}");
    }
}

/// Proposed, refused while nobody has confirmed it, then used; the sets are those of the mapping written by hand.
#[test]
fn a_proposed_mapping_counts_once_a_person_has_confirmed_it() {
    let bench = ward();
    let (code, out, err) = bench.run(&["map", "cultures.csv", "--write", "proposed.toml"]);
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("8 sets of 4 patients, 5 with growth, from 2026-03-02 to 2026-04-03"), "{out}");
    let asked = ["rates", "cultures.csv", "--map", "proposed.toml", "--as-of", "2026-04-30", "--json"];
    let (code, _, err) = bench.run(&asked);
    assert_eq!(code, 2);
    assert!(err.contains("a proposed mapping that nobody has confirmed"), "{err}");
    let path = bench.path("proposed.toml");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("confirmed = false", "confirmed = true")).unwrap();
    let (code, out, err) = bench.run(&asked);
    assert_eq!(code, 0, "{err}");
    let (proposed, (_, by_hand)) = (serde_json::from_str::<Value>(&out).unwrap(), rates(&bench, &[]));
    assert_eq!(proposed, by_hand);
    // A file that is there is not written over.
    let (code, _, err) = bench.run(&["map", "cultures.csv", "--write", "proposed.toml"]);
    assert_eq!(code, 2, "{err}");
    let (_, out, _) = bench.run(&["map", "cultures.csv", "--json"]);
    let object: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        (&object["schema"], &object["confirmed"], &object["read"]["sets"]),
        (&1.into(), &false.into(), &8.into())
    );
    let specimen =
        object["says"].as_array().unwrap().iter().find(|said| said["key"] == "specimen").unwrap().clone();
    assert_eq!((&specimen["value"], &specimen["sureness"]), (&"specimen".into(), &"sure".into()));
    bench.write("colours.csv", "colour,shape\nred,round\n");
    let (code, out, err) = bench.run(&["map", "colours.csv"]);
    assert_eq!(code, 1, "{out}");
    assert!(err.contains("no column that can be taken for patient or collected or organism"), "{err}");
}
