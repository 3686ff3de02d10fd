//! What the mapping says of rows and lots.

mod support;

use support::{mapping, read_one};

const WEIGHED: &str = r#"
schema = 1
name = "weighed bottles of an invented laboratory"
rows = "bottle"
density_g_per_ml = 1.05
date_formats = ["YYYY-MM-DD hh:mm"]
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
organism = "organism"
bottle = "bottle"
lot = "lot"
mass_full_g = "full"
mass_empty_g = "empty"
[lot_tare_g]
"4711A" = 60.5
"#;

/// By hand: (71 - 60.5) / 1.05 = 10 mL by the lot's mass; (69.4 - 61.0) / 1.05 = 8 mL by the bottle's own.
#[test]
fn a_bottle_weighed_empty_goes_before_its_lot() {
    let text = "specimen,patient,collected,organism,bottle,lot,full,empty\n\
        S1,p1,2026-03-02 08:00,,aerobic,4711a,71.0,\n\
        S1,p1,2026-03-02 08:00,,anaerobic,4711A,69.4,61.0\n\
        S2,p1,2026-03-02 08:20,,aerobic,0815,71.0,\n";
    let import = read_one(text.as_bytes(), WEIGHED);
    let fills: Vec<Vec<Option<f64>>> = import
        .sets
        .iter()
        .map(|set| {
            set.bottles.iter().map(|bottle| bottle.fill_ml.map(|fill| (fill * 1e6).round() / 1e6)).collect()
        })
        .collect();
    assert_eq!(fills, [vec![Some(10.0), Some(8.0)], vec![None]]);
    assert!(
        import.notes.iter().any(|note| note.text.contains("the lot \"0815\" has no mass")),
        "{:?}",
        import.notes
    );
}

#[test]
fn a_mass_of_a_lot_that_cannot_be_is_refused() {
    for (slip, said) in [
        ("\"4711A\" = 60.5", "\"4711A\" = 6.05"),
        ("\"4711A\" = 60.5", "\"4711A\" = nan"),
        ("lot = \"lot\"\n", ""),
    ]
    .map(|(found, instead)| {
        (
            WEIGHED.replacen(found, instead, 1),
            if instead.is_empty() { "both columns" } else { "10 to 200 grams" },
        )
    }) {
        let error = exchange::laboratory::Mapping::from_toml(&slip).expect_err("refused").to_string();
        assert!(error.contains(said), "{error}");
    }
}

#[test]
fn a_mapping_that_is_wrong_about_its_rows_is_noticed() {
    let text = "specimen,patient,collected,organism,bottle,lot,full,empty\n\
        S1,p1,2026-03-02 08:00,E. coli,aerobic,,,\n\
        S1,p1,2026-03-02 08:00,,anaerobic,,,\n";
    let noticed = |rows: &str| {
        let import =
            read_one(text.as_bytes(), &WEIGHED.replace("rows = \"bottle\"", &format!("rows = {rows:?}")));
        assert_eq!(import.sets.len(), 1, "rows of one number are one set in any case");
        import.notes.iter().any(|note| note.text.contains("sets have further rows"))
    };
    assert!(noticed("set"));
    assert!(!noticed("bottle"));
    assert!(!mapping(&format!("confirmed = false\n{WEIGHED}")).is_confirmed());
    assert!(mapping(WEIGHED).is_confirmed());
}
