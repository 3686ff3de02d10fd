//! `wardwright draw plan` and `wardwright release-rule`, run as a nurse and a trainer run them. The unit is invented.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

fn policies() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../policies")
}

/// Runs a command in a folder: exit code, standard output, standard error.
#[track_caller]
fn run_in(folder: &Path, words: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("wardwright").unwrap().current_dir(folder).args(words).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

/// A folder with the example policy as an invented unit confirmed it, lines changed as given.
#[track_caller]
fn confirmed(changes: &[(&str, &str)]) -> TempDir {
    let example = fs::read_to_string(policies().join("example.toml")).unwrap();
    let mut text = example
        .lines()
        .map(|line| match line.starts_with("# confirmed_by") {
            true => "confirmed_by = \"the medical lead of the invented Larkfield unit\"",
            false => line,
        })
        .collect::<Vec<_>>()
        .join("\n");
    for (from, to) in changes {
        assert!(text.contains(from), "the example has no {from:?}");
        text = text.replace(from, to);
    }
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("policy.toml"), text).unwrap();
    folder
}

#[track_caller]
fn plan(folder: &TempDir, words: &[&str]) -> (i32, String, String) {
    run_in(folder.path(), &[&["draw", "plan", "--policy", "policy.toml"], words].concat())
}

#[track_caller]
fn plan_json(folder: &TempDir, words: &[&str]) -> Value {
    let (code, out, err) = plan(folder, &[words, &["--json"]].concat());
    assert_eq!(code, 0, "{err}");
    serde_json::from_str(&out).unwrap()
}

/// No plan: exit code 2, nothing on standard output, and words that name the place and what to do.
#[track_caller]
fn refused(answer: (i32, String, String), needles: &[&str]) {
    let (code, out, err) = answer;
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    for needle in needles {
        assert!(err.contains(needle), "no {needle:?} in:\n{err}");
    }
    assert!(!err.contains("panicked"), "{err}");
}

#[track_caller]
fn ml(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn kinds(notes: &Value) -> Vec<&str> {
    notes.as_array().unwrap().iter().map(|note| note["kind"].as_str().unwrap()).collect()
}

/// By hand. Nadler 1962 for a man of 1.75 m and 70 kg: 0.3669 x 1.75^3 + 0.03219 x 70 + 0.6041 = 4.823755 L; 3 % of it
/// are 144.7 mL. Two sets of two bottles of 10 mL are 40 mL.
#[test]
fn an_adults_plan_adds_up_and_names_where_its_numbers_are_from() {
    let unit = confirmed(&[]);
    let words =
        ["--adult", "--weight-kg", "70", "--height-cm", "175", "--sex", "male", "--taken-today-ml", "25"];
    let report = plan_json(&unit, &words);
    assert_eq!(report["patient"], "adult");
    assert!((ml(&report["blood_volume_ml"]) - 4823.755).abs() < 0.001, "{report}");
    assert!((ml(&report["day_limit_ml"]) - 144.713).abs() < 0.001, "{report}");
    assert_eq!(
        [&report["cultured_ml"], &report["waste_ml"], &report["total_ml"], &report["day_total_ml"]].map(ml),
        [40.0, 0.0, 40.0, 65.0]
    );
    let sets = report["sets"].as_array().unwrap();
    let targets: Vec<f64> = sets
        .iter()
        .flat_map(|set| set["bottles"].as_array().unwrap())
        .map(|bottle| ml(&bottle["target_ml"]))
        .collect();
    assert_eq!(targets, [10.0; 4]);
    assert_eq!(report["policy"]["confirmed_by"], "the medical lead of the invented Larkfield unit");

    let (code, out, _) = plan(&unit, &words);
    assert_eq!(code, 0);
    for needle in [
        "confirmed by: the medical lead of the invented Larkfield unit",
        "needle out at once",
        "haemoglobin               left out: it was not entered",
        "1 set               65.1 to 91.5 % by sets; 20 mL of blood: 64 to 78 %",
        "Set 2 of 2, from a fresh vein",
        "bottle 1    aerobic    fill to 10 mL",
        "65 mL of at most 144.7 mL",
        "policy blood.day_limit_percent",
        "Nadler",
        "Howie 2011",
        "a licensed clinician decides",
    ] {
        assert!(out.contains(needle), "no {needle:?} in:\n{out}");
    }
}

/// Kellogg 2000, as printed by IDSA/ASM 2018, Table 3, in millilitres of all sets together; weights whose limit leaves
/// room for all of it (by hand, 3 % of 76.5 mL/kg: 2.3 mL at 1 kg, 6.9 mL at 3 kg).
#[test]
fn a_childs_volumes_go_by_weight() {
    let unit = confirmed(&[]);
    for (kg, age, expected_ml) in
        [("1", "0", 2.0), ("3", "0", 6.0), ("12.7", "12", 6.0), ("12.8", "12", 20.0), ("36.4", "130", 40.0)]
    {
        let report =
            plan_json(&unit, &["--child", "--weight-kg", kg, "--age-months", age, "--weight-confirmed"]);
        assert_eq!(ml(&report["cultured_ml"]), expected_ml, "{kg} kg: {report}");
        assert!(kinds(&report["notes"]).contains(&"read-weight-again"));
        assert_eq!(report["found_by_sets"], serde_json::json!([]), "the published yields are of adults");
    }
    // At 2.1 kg the table asks for 4 and 2 mL, and 3 % of 160.65 mL are 4.82 mL: the limit keeps the first set.
    let report =
        plan_json(&unit, &["--child", "--weight-kg", "2.1", "--age-months", "0", "--weight-confirmed"]);
    assert_eq!(ml(&report["total_ml"]), 4.0);
    assert!(kinds(&report["notes"]).contains(&"fewer-sets"), "{report}");
}

#[test]
fn a_weight_that_changes_the_volumes_is_asked_for_once_more() {
    let unit = confirmed(&[]);
    // 7.0 typed as 70: 40 mL from a child who gives 6.
    refused(
        plan(&unit, &["--child", "--weight-kg", "70"]),
        &["--weight-kg", "at 7 kg it would be 6 mL", "--weight-confirmed"],
    );
    refused(plan(&unit, &["--adult", "--weight-kg", "7.0"]), &["a child's weight", "--weight-confirmed"]);
    refused(plan(&unit, &["--adult", "--weight-kg", "390"]), &["39 kg", "--weight-confirmed"]);
    assert_eq!(plan(&unit, &["--adult", "--weight-kg", "70"]).0, 0);
    assert_eq!(plan(&unit, &["--child", "--weight-kg", "70", "--weight-confirmed"]).0, 0);
}

/// 70 kg at 70 mL/kg and 3 %: 147 mL in 24 hours, by hand.
#[test]
fn the_units_limit_holds_and_what_it_takes_is_said() {
    let unit = confirmed(&[]);
    let words = |taken| ["--adult", "--weight-kg", "70", "--taken-today-ml", taken];
    let report = plan_json(&unit, &words("120"));
    assert_eq!((ml(&report["total_ml"]), ml(&report["day_limit_ml"])), (20.0, 147.0));
    assert!(kinds(&report["notes"]).contains(&"fewer-sets"), "{report}");
    let (_, out, _) = plan(&unit, &words("120"));
    assert!(out.contains("1 of the 2 sets asked for"), "{out}");
    refused(
        plan(&unit, &words("146.5")),
        &["limit is 147 mL", "0.5 mL is left", "ask the clinician who decides"],
    );
    let (_, out, _) = plan(&unit, &["--adult", "--weight-kg", "70"]);
    assert!(out.contains("NOT ENTERED, counted as 0 mL"), "{out}");
}

#[test]
fn a_suspected_line_is_drawn_first_with_its_discard() {
    let unit = confirmed(&[]);
    let report = plan_json(
        &unit,
        &[
            "--adult",
            "--weight-kg",
            "70",
            "--access",
            "vein,central-line",
            "--lumens",
            "3",
            "--line-suspected",
        ],
    );
    let sites: Vec<&Value> = report["sets"].as_array().unwrap().iter().map(|set| &set["site"]).collect();
    assert_eq!(sites, ["central-line", "vein"]);
    assert_eq!((ml(&report["waste_ml"]), ml(&report["total_ml"])), (5.0, 45.0));
    assert_eq!(report["sets"][0]["lumen"], 1);
    let line = |words: &[&str]| plan(&unit, &[&["--adult", "--weight-kg", "70"], words].concat());
    refused(line(&["--line-suspected"]), &["--line-suspected", "no line"]);
    refused(line(&["--access", "central-line", "--lumens", "9"]), &["--lumens", "1 to 5"]);
    refused(line(&["--access", "new-cannula"]), &["line.from_new_cannula = false"]);
    let (_, out, _) = line(&["--access", "central-line"]);
    assert!(out.contains("because no vein can be had") && out.contains("counted as one"), "{out}");
}

/// The draw is planned for a day and an hour of its own, so that no clock decides the test: within a day of now.
#[test]
fn the_antibiotic_and_the_way_to_the_laboratory() {
    let unit = confirmed(&[]);
    let now = jiff::ZonedDateTime::now().datetime();
    let after = |minutes: i64| {
        let at = now.checked_add(jiff::SignedDuration::from_mins(minutes)).unwrap();
        at.strftime("%Y-%m-%d %H:%M").to_string()
    };
    let report = |words: &[&str]| {
        let adult = ["--adult", "--weight-kg", "70", "--haemoglobin-g-per-l", "85"];
        plan_json(&unit, &[&adult, words].concat())
    };
    let draw_time = after(30);
    let kind = |minutes: i64| {
        let due = after(30 + minutes);
        report(&["--draw-time", &draw_time, "--antibiotic-due", &due])["antibiotic"]["kind"].clone()
    };
    // Two sets take 180 s of contact and drying; the default lets a dose wait 45 minutes: by hand.
    assert_eq!(
        [kind(3), kind(2), kind(-42), kind(-43)],
        ["draw-first", "dose-waits", "dose-waits", "dose-first"]
    );
    let report = report(&["--draw-time", &draw_time, "--antibiotic-given", &after(-60)]);
    assert_eq!(report["antibiotic"], serde_json::json!({ "kind": "given", "before_draw_s": 5400.0 }));
    assert!(report["laboratory_by"].as_str().unwrap().starts_with(&after(150).replace(' ', "T")), "{report}");
    assert!(report["incubator_by"].as_str().unwrap().starts_with(&after(270).replace(' ', "T")));
    assert_eq!(ml(&report["shortest_s"]), 180.0);
    // 40 mL at 85 g/L are 3.4 g.
    assert!((ml(&report["haemoglobin"]["taken_g"]) - 3.4).abs() < 1e-9);
    let adult = |words: &[&str]| plan(&unit, &[&["--adult", "--weight-kg", "70"], words].concat());
    refused(adult(&["--antibiotic-given", &after(5)]), &["it is", "has passed", "no plan was made"]);
    refused(adult(&["--antibiotic-given", "2pm"]), &["HH:MM"]);
    refused(adult(&["--draw-time", "2020-01-01 10:00"]), &["--draw-time", "within a day of now"]);
    refused(adult(&["--haemoglobin-g-per-l", "8.5"]), &["8.5 g/dL are 85 g/L"]);
}

#[test]
fn faults_of_the_patient_give_plain_words_and_no_plan() {
    let unit = confirmed(&[]);
    for kg in ["0", "700", "-4", "NaN", "inf"] {
        refused(
            plan(&unit, &["--adult", "--weight-kg", kg]),
            &["--weight-kg", "0.3 to 400 kg", "no plan was made"],
        );
    }
    refused(plan(&unit, &["--adult", "--weight-kg", "7,0"]), &["write a number with a point"]);
    refused(plan(&unit, &["--adult"]), &["no weight", "no plan was made"]);
    refused(plan(&unit, &["--weight-kg", "70"]), &["--adult or --child"]);
    refused(plan(&unit, &["--adult", "--child", "--weight-kg", "70"]), &["cannot be used with"]);
    refused(plan(&unit, &["--adult", "--weight-kg", "70", "--height-cm", "1.75"]), &["100 to 250 cm"]);
    refused(
        plan(&unit, &["--adult", "--weight-kg", "70", "--taken-today-ml", "-1"]),
        &["--taken-today-ml", "-1 mL"],
    );
    refused(plan(&unit, &["--adult", "--weight-kg", "70", "--sets", "9"]), &["--sets", "1 to 4"]);
    refused(
        plan(&unit, &["--child", "--weight-kg", "10", "--weight-confirmed", "--sets", "2"]),
        &["weight table"],
    );
}

#[test]
fn a_child_with_adult_bottles_at_hand_gets_no_plan() {
    let unit = confirmed(&[]);
    let words = |bottles| ["--child", "--weight-kg", "10", "--weight-confirmed", "--bottles", bottles];
    refused(plan(&unit, &words("adult")), &["a child and no paediatric bottles", "no plan was made"]);
    assert_eq!(plan(&unit, &words("paediatric")).0, 0);
    assert_eq!(plan(&unit, &words("adult,paediatric")).0, 0);
    refused(
        plan(&unit, &["--adult", "--weight-kg", "70", "--bottles", "paediatric"]),
        &["an adult and no adult bottles"],
    );
}

#[test]
fn without_a_confirmed_policy_there_is_no_plan() {
    let adult = ["--adult", "--weight-kg", "70"];
    let folder = policies();
    let without = run_in(&folder, &[&["draw", "plan"][..], &adult].concat());
    refused(without, &["--policy", "no policy", "policies/example.toml"]);
    let as_shipped = run_in(&folder, &[&["draw", "plan", "--policy", "example.toml"][..], &adult].concat());
    refused(as_shipped, &["nobody has confirmed", "confirmed_by", "no plan was made"]);
    let missing = run_in(&folder, &[&["draw", "plan", "--policy", "no-such.toml"][..], &adult].concat());
    refused(missing, &["no-such.toml", "could not be read"]);
    // Faults of the file come with their place.
    let check = |from: &str, to: &str, needles: &[&str]| {
        refused(plan(&confirmed(&[(from, to)]), &adult), needles);
    };
    check("sets = 2 ", "sets = \"two\" ", &["policy.toml:", "expected a whole number"]);
    check("sets = 2 ", "stes = 2 ", &["unknown field `stes`"]);
    check("vein_divert_ml = 0 ", "# ", &["missing field `vein_divert_ml`", "nothing is filled in"]);
    check("day_limit_percent = 3 ", "day_limit_percent = 30 ", &["limit of a day", "0.01 to 0.05"]);
    check("schema = 2", "schema = 1", &["older form", "antisepsis", "no plan was made"]);
    check("contact_s = 30 ", "contact_s = 0 ", &["cleaning of the skin", "above 0"]);
    check("mask = \"at-lines\"", "mask = \"sometimes\"", &["unknown variant `sometimes`", "at-lines"]);
    check("from_kg = 2.1", "from_kg = 1.0", &["weight bands", "bands must rise"]);
}

#[test]
fn a_policy_that_costs_something_is_followed_and_says_so() {
    let unit = confirmed(&[
        ("fill_least_ml = 8 ", "fill_least_ml = 5 "),
        ("fill_target_ml = 10 ", "fill_target_ml = 5 "),
    ]);
    let report = plan_json(&unit, &["--adult", "--weight-kg", "70", "--sets", "1"]);
    let kinds = kinds(&report["notes"]);
    assert!(kinds.contains(&"fills-less") && kinds.contains(&"single-set"), "{report}");
    let (_, out, _) = plan(&unit, &["--adult", "--weight-kg", "70"]);
    assert!(out.contains("3 mL below the 8 mL of the guides"), "{out}");
    // At 3 points a millilitre, and 9/6 to 37/6 over the interval of Mermel and Maki 1993: 9, 4.5 and 18.5.
    assert!(out.contains("about 9 percentage points"), "{out}");
    assert!(out.contains("adult.bottle_most_ml; the unit's own"), "{out}");
}

#[test]
fn a_policy_that_dries_too_short_or_discards_too_much_says_what_it_costs() {
    let unit = confirmed(&[
        ("dry_s = 30                      # DEFAULT: 30 s, longer", "dry_s = 5 # longer"),
        ("line_discard_ml = 5 ", "line_discard_ml = 25 "),
    ]);
    let report = plan_json(&unit, &["--adult", "--weight-kg", "70", "--access", "central-line"]);
    let kinds = kinds(&report["notes"]);
    for kind in ["dries-too-short", "discards-more-than-it-cultures", "waste-of-the-limit"] {
        assert!(kinds.contains(&kind), "{kind} in {report}");
    }
}

#[track_caller]
fn curve(folder: &Path, words: &[&str]) -> (i32, Value) {
    let (code, out, err) = run_in(folder, &[&["release-rule", "--json"], words].concat());
    assert!(!out.is_empty(), "{err}");
    (code, serde_json::from_str(&out).unwrap())
}

#[track_caller]
fn rule_file(changes: &[(&str, &str)]) -> TempDir {
    let mut text = fs::read_to_string(policies().join("release-rule.toml")).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "the example has no {from:?}");
        text = text.replace(from, to);
    }
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("rule.toml"), text).unwrap();
    folder
}

/// By hand: five draws with the last three clean, judged after the fifth. One who fails one draw in five is released
/// with 0.8 x 0.8 x 0.8 = 0.512, one who fails one in fifty with 0.98 cubed = 0.941192, one in two with 0.125.
#[test]
fn the_curve_is_the_rules_exact_chance() {
    let folder = rule_file(&[("most_draws = 10 ", "most_draws = 5 ")]);
    let (code, report) = curve(folder.path(), &["rule.toml"]);
    assert_eq!(code, 0);
    let points = report["curve"].as_array().unwrap();
    assert_eq!(points.len(), 51);
    for (at, fault_rate, released) in
        [(0, 0.0, 1.0), (2, 0.02, 0.941_192), (20, 0.2, 0.512), (50, 0.5, 0.125)]
    {
        assert!((points[at]["fault_rate"].as_f64().unwrap() - fault_rate).abs() < 1e-12);
        assert!((points[at]["released"].as_f64().unwrap() - released).abs() < 1e-12, "{}", points[at]);
    }
    assert_eq!((ml(&points[0]["mean_draws"]), ml(&points[0]["draws_90"])), (5.0, 5.0));
    let sentences = report["sentences"].as_array().unwrap();
    assert_eq!(sentences.len(), 2);
    assert!(sentences[0].as_str().unwrap().contains("51 would meet this rule within 5 draws"), "{report}");
    assert!(sentences[1].as_str().unwrap().contains("94 would meet this rule within 5 draws"), "{report}");
}

/// Feller 1968, XIII.7 (from memory): three heads in a row take 14 tosses of a fair coin in the mean.
#[test]
fn the_mean_is_the_published_wait_for_a_run() {
    let folder =
        rule_file(&[("draws_needed = 5 ", "draws_needed = 0 "), ("spot_check_from_draw = 2 ", "# ")]);
    let (_, report) = curve(folder.path(), &["rule.toml"]);
    assert!((ml(&report["curve"][50]["mean_draws"]) - 14.0).abs() < 1e-9, "{}", report["curve"][50]);
}

#[test]
fn the_rule_that_comes_along_is_the_one_shown_without_a_file() {
    let folder = policies();
    let (code, shipped) = curve(&folder, &["release-rule.toml"]);
    assert_eq!((code, &shipped), (0, &curve(&folder, &[]).1));
    let (code, out, _) = run_in(&folder, &["release-rule"]);
    assert_eq!(code, 0);
    for needle in [
        "five draws, last three clean, version 1",
        "On the last 3 draws no safety point missed.",
        "90 % have met it",
        "no interval",
        "a person decides",
    ] {
        assert!(out.contains(needle), "no {needle:?} in:\n{out}");
    }
}

#[test]
fn a_rule_that_can_never_be_met_is_named() {
    let folder = rule_file(&[
        ("clean_in_a_row = 3 ", "clean_in_a_row = 12 "),
        ("draws_needed = 5 ", "draws_needed = 11 "),
    ]);
    let (code, report) = curve(folder.path(), &["rule.toml"]);
    assert_eq!((code, &report["can_be_met"]), (1, &Value::Bool(false)));
    assert!(report["curve"].as_array().unwrap().iter().all(|point| point["released"] == 0.0), "{report}");
    let (code, out, _) = run_in(folder.path(), &["release-rule", "rule.toml"]);
    assert_eq!(code, 1);
    assert!(out.contains("CAN NEVER BE MET"), "{out}");
    assert!(
        out.contains("it asks for 12 clean draws in a row, and the trainer takes stock after 10"),
        "{out}"
    );
    assert!(out.contains("it asks for 11 observed draws, and the trainer takes stock after 10"), "{out}");
}

#[test]
fn a_rule_that_asks_for_no_clean_draw_is_named() {
    let folder =
        rule_file(&[("clean_in_a_row = 3 ", "clean_in_a_row = 0 "), ("spot_check_from_draw = 2 ", "# ")]);
    let (code, out, _) = run_in(folder.path(), &["release-rule", "rule.toml"]);
    assert_eq!(code, 0);
    assert!(out.contains("ASKS FOR NO CLEAN DRAW"), "{out}");
}

#[test]
fn faults_of_a_rule_file_are_named_with_their_place() {
    let check = |from: &str, to: &str, needles: &[&str]| {
        let folder = rule_file(&[(from, to)]);
        refused(run_in(folder.path(), &["release-rule", "rule.toml"]), needles);
    };
    check("draws_needed = 5 ", "draws_needed = -5 ", &["rule.toml:12", "draws_needed", "a whole number"]);
    check("draws_needed = 5 ", "draws_needed = 5000 ", &["rule.toml: draws_needed", "0 to 1000"]);
    check("clean_in_a_row = 3 ", "clean_in_row = 3 ", &["unknown field `clean_in_row`"]);
    check("most_draws = 10 ", "# ", &["missing field `most_draws`"]);
    check("least_share_of_key_points = 0.9 ", "least_share_of_key_points = 90 ", &["90 % is 0.9"]);
    refused(run_in(&policies(), &["release-rule", "no-such.toml"]), &["no-such.toml", "could not be read"]);
}
