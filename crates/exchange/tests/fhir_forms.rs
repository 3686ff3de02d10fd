//! FHIR R4 as servers write it: references, members, versions, amounts, bulk exports, and what goes wrong.

mod support;

use culture::{BottleKind, Collected, ReportStatus};
use exchange::laboratory::{Import, InputFile, Mapping, read};
use jiff::civil::date;
use serde_json::{Value, json};
use support::{TODAY, every_row_is_accounted_for, key, mapping, said};

fn import_all(files: &[&[u8]]) -> Import {
    let files: Vec<InputFile<'_>> =
        files.iter().map(|bytes| InputFile { name: "file.json", bytes }).collect();
    let import = read(&files, &Mapping::for_messages(), &[], &key(), TODAY);
    every_row_is_accounted_for(&import);
    import
}

fn import(resources: &[Value]) -> Import {
    let entries: Vec<Value> = resources.iter().map(|resource| json!({"resource": resource})).collect();
    import_all(&[json!({"resourceType": "Bundle", "type": "searchset", "entry": entries})
        .to_string()
        .as_bytes()])
}

#[track_caller]
fn sound(resources: &[Value]) -> Import {
    let import = import(resources);
    assert!(import.unread.is_empty(), "{}", said(&import));
    assert_eq!(import.sets.len(), 1, "{}", said(&import));
    import
}

fn organisms(import: &Import) -> Vec<&str> {
    import.sets.iter().flat_map(|set| &set.isolates).map(|isolate| isolate.reported_name.as_str()).collect()
}

fn code(code: &str) -> Value {
    json!({"coding": [{"system": "http://loinc.org", "code": code}]})
}

fn patient() -> Value {
    json!({"resourceType": "Patient", "id": "p", "identifier": [{"value": "QX77"}], "birthDate": "1970-01-01"})
}

fn observation(id: &str, of: &str, words: &str) -> Value {
    json!({"resourceType": "Observation", "id": id, "status": "final", "code": code(of),
        "subject": {"reference": "Patient/p"}, "effectiveDateTime": "2026-03-02T08:00:00+01:00", "valueString": words})
}

fn report(results: &[&str]) -> Value {
    let results: Vec<Value> =
        results.iter().map(|id| json!({"reference": format!("Observation/{id}")})).collect();
    json!({"resourceType": "DiagnosticReport", "id": "r", "status": "final", "code": code("600-7"),
        "subject": {"reference": "Patient/p"}, "effectiveDateTime": "2026-03-02T08:00:00+01:00", "result": results})
}

fn with(mut value: Value, field: &str, content: Value) -> Value {
    value[field] = content;
    value
}

#[test]
fn members_and_derived_observations_belong_to_their_culture() {
    let culture =
        with(observation("c", "600-7", "positive"), "hasMember", json!([{"reference": "Observation/m"}]));
    let member = observation("m", "634-6", "Candida albicans");
    let derived = with(
        observation("d", "634-6", "Candida glabrata"),
        "derivedFrom",
        json!([{"reference": "Observation/c"}]),
    );
    let drug = with(observation("s", "18862-3", "S"), "derivedFrom", json!([{"reference": "Observation/m"}]));
    for top in [vec![], vec![report(&["c"])]] {
        let all =
            [vec![patient(), culture.clone(), member.clone(), derived.clone(), drug.clone()], top].concat();
        let import = sound(&all);
        assert_eq!(organisms(&import), ["Candida albicans", "Candida glabrata"]);
        assert_eq!(import.counts[0].rows, 1, "what belongs to a culture is no row of its own");
    }
    // Two that name each other are still read, once.
    let one = with(
        observation("c", "600-7", "Candida albicans"),
        "hasMember",
        json!([{"reference": "Observation/m"}]),
    );
    let other = with(
        observation("m", "634-6", "Candida albicans"),
        "hasMember",
        json!([{"reference": "Observation/c"}]),
    );
    assert_eq!(organisms(&sound(&[patient(), one, other])), ["Candida albicans"]);
    let parts = with(
        observation("c", "600-7", "positive"),
        "component",
        json!([{"code": code("634-6"), "valueCodeableConcept": {"text": "Candida albicans"}}]),
    );
    assert_eq!(organisms(&sound(&[patient(), parts])), ["Candida albicans"]);
}

/// FHIR R4 value sets diagnostic-report-status and observation-status.
#[test]
fn statuses_of_reports_and_observations() {
    for (status, expected) in [
        ("registered", ReportStatus::Preliminary),
        ("partial", ReportStatus::Preliminary),
        ("preliminary", ReportStatus::Preliminary),
        ("final", ReportStatus::Final),
        ("amended", ReportStatus::Corrected),
        ("corrected", ReportStatus::Corrected),
        ("appended", ReportStatus::Corrected),
        ("cancelled", ReportStatus::Cancelled),
        ("entered-in-error", ReportStatus::Cancelled),
        ("unknown", ReportStatus::Final),
    ] {
        let all = [
            patient(),
            with(report(&["o"]), "status", json!(status)),
            observation("o", "600-7", "Candida albicans"),
        ];
        assert_eq!(sound(&all).sets[0].status, expected, "{status}; unknown takes that of the observation");
    }
    for (status, n_isolates) in [("final", 1), ("amended", 1), ("entered-in-error", 0), ("cancelled", 0)] {
        let grown = with(observation("o", "600-7", "Candida albicans"), "status", json!(status));
        assert_eq!(organisms(&sound(&[patient(), report(&["o"]), grown])).len(), n_isolates, "{status}");
    }
}

#[test]
fn a_later_version_replaces_all_of_an_earlier_one() {
    let old = with(report(&["a"]), "meta", json!({"lastUpdated": "2026-03-04T08:00:00Z"}));
    let new = with(report(&["b"]), "meta", json!({"lastUpdated": "2026-03-06T08:00:00Z"}));
    let (a, b) = (
        observation("a", "600-7", "Staphylococcus hominis"),
        observation("b", "600-7", "Staphylococcus aureus"),
    );
    for pair in [[old.clone(), new.clone()], [new.clone(), old.clone()]] {
        let [one, other] = pair;
        let import = sound(&[patient(), one, a.clone(), b.clone(), other]);
        assert_eq!(organisms(&import), ["Staphylococcus aureus"]);
        assert_eq!(import.dropped[0].reason, "an earlier version of a resource that is given again");
    }
    // Messages carry the order's number and resources with new names each time.
    let filler = json!([{"type": {"coding": [{"code": "FILL"}]}, "value": "F1"}]);
    let message = |id: &str, result: &str, issued: &str| {
        let report = with(with(report(&[result]), "id", json!(id)), "identifier", filler.clone());
        with(report, "issued", json!(issued))
    };
    let first = message("r1", "a", "2026-03-04T08:00:00Z");
    let last = message("r2", "b", "2026-03-06T08:00:00Z");
    assert_eq!(organisms(&sound(&[patient(), last, b, first, a])), ["Staphylococcus aureus"]);
}

#[test]
fn patients_are_found_however_they_are_named() {
    let hash = |all: &[Value]| sound(all).sets[0].patient.clone();
    let plain = observation("o", "600-7", "no growth");
    assert_eq!(hash(&[patient(), plain.clone()]), key().hash("QX77"));
    let contained = with(
        with(plain.clone(), "contained", json!([with(patient(), "id", json!("q"))])),
        "subject",
        json!({"reference": "#q"}),
    );
    assert_eq!(hash(&[contained]), key().hash("QX77"));
    let by_number = with(plain.clone(), "subject", json!({"identifier": {"value": "QX77"}}));
    assert_eq!(hash(&[by_number]), key().hash("QX77"));
    let merged = json!({"resourceType": "Patient", "id": "old", "identifier": [{"value": "QX1"}],
        "link": [{"type": "replaced-by", "other": {"reference": "Patient/p"}}]});
    let of_merged = with(plain.clone(), "subject", json!({"reference": "Patient/old"}));
    assert_eq!(hash(&[patient(), merged, of_merged]), key().hash("QX77"));
    let alone = import(&[plain]);
    assert!(said(&alone).contains("not among the files"), "{}", said(&alone));
    let none = import(&[with(observation("o", "600-7", "x"), "subject", Value::Null)]);
    insta::assert_snapshot!(said(&none), @"file.json: field subject: found Observation/o without a patient; expected a subject that refers to a Patient; ask the interface team; without it no set can be compared with the others of the patient");
}

#[test]
fn specimens_give_number_times_bottles_and_fills() {
    let blood = json!({"coding": [{"code": "119297000"}]});
    let specimen = json!({"resourceType": "Specimen", "id": "s", "type": blood, "accessionIdentifier": {"value": "L1"},
        "receivedTime": "2026-03-02T07:30:00Z",
        "collection": {"collectedPeriod": {"start": "2026-03-02T08:15:00+01:00"}, "method": {"text": "PICC"}},
        "container": [
            {"identifier": [{"value": "C1"}], "type": {"text": "aerobic"}, "specimenQuantity": {"value": 9.5, "unit": "mL"}},
            {"identifier": [{"value": "C2"}], "type": {"text": "anaerobic"}, "specimenQuantity": {"value": 8400, "code": "uL"}}]});
    let isolate = json!({"resourceType": "Specimen", "id": "i", "type": {"coding": [{"code": "119303007"}]},
        "identifier": [{"value": "L1-I"}], "parent": [{"reference": "Specimen/s"}]});
    let grown = observation("o", "600-7", "Candida albicans");
    for named in ["s", "i"] {
        let top = with(report(&["o"]), "specimen", json!([{"reference": format!("Specimen/{named}")}]));
        let import = sound(&[patient(), top, grown.clone(), specimen.clone(), isolate.clone()]);
        let set = &import.sets[0];
        assert_eq!(set.id.0, "L1", "an isolate leads to the blood it came from");
        assert_eq!(set.collected, Collected::At(date(2026, 3, 2).at(8, 15, 0, 0)));
        assert_eq!(set.received, Some(date(2026, 3, 2).at(8, 30, 0, 0)), "in the offset of the draw");
        assert_eq!(set.route, Some(culture::Route::CentralLine));
        let fills: Vec<_> = set.bottles.iter().map(|bottle| (bottle.kind, bottle.fill_ml)).collect();
        assert_eq!(fills, [(BottleKind::Aerobic, Some(9.5)), (BottleKind::Anaerobic, Some(8.4))]);
    }
    let too_much = with(
        specimen,
        "container",
        json!([{"type": {"text": "aerobic"}, "specimenQuantity": {"value": 950, "unit": "mL"}}]),
    );
    let top = with(report(&["o"]), "specimen", json!([{"reference": "Specimen/s"}]));
    let import = sound(&[patient(), top, grown, too_much]);
    assert!(said(&import).contains("an amount of specimen was left out"), "{}", said(&import));
}

#[test]
fn the_unit_is_where_the_patient_was_at_the_draw() {
    let encounter = json!({"resourceType": "Encounter", "id": "e", "location": [
        {"location": {"display": "ED"}, "period": {"start": "2026-03-01T20:00:00+01:00", "end": "2026-03-02T03:00:00+01:00"}},
        {"location": {"display": "ICU-2"}, "period": {"start": "2026-03-02T03:00:00+01:00", "end": "2026-03-09T03:00:00+01:00"}},
        {"location": {"display": "Ward 5"}, "period": {"start": "2026-03-09T03:00:00+01:00"}}]});
    let grown =
        with(observation("o", "600-7", "no growth"), "encounter", json!({"reference": "Encounter/e"}));
    assert_eq!(sound(&[patient(), encounter, grown]).sets[0].unit.as_deref(), Some("ICU-2"));
}

#[test]
fn stains_codes_and_interpretations() {
    let stain = observation("s", "664-3", "Gram positive cocci");
    let silent = with(observation("o", "600-7", ""), "interpretation", json!([code("POS")]));
    for all in [vec![patient(), report(&["s"]), stain], vec![patient(), silent.clone()]] {
        assert_eq!(organisms(&sound(&all)), ["growth reported, no organism named"]);
    }
    let negative = with(silent, "interpretation", json!([code("NEG")]));
    assert_eq!(organisms(&sound(&[patient(), negative])), [""; 0]);
    let coded = with(
        observation("o", "600-7", ""),
        "valueCodeableConcept",
        json!({"coding": [{"code": "264868006"}]}),
    );
    assert_eq!(organisms(&sound(&[patient(), coded])), [""; 0], "SNOMED CT no growth, without words");
}

#[test]
fn exports_that_are_damaged_give_what_can_be_read() {
    let good = observation("o", "600-7", "Candida albicans").to_string();
    // A bundle that was cut off: entries before the cut are there.
    let bundle = json!({"resourceType": "Bundle", "entry": [
        {"resource": patient()}, {"resource": observation("o", "600-7", "Candida albicans")}, {"resource": patient()}]})
    .to_string();
    let cut = import_all(&[&bundle.as_bytes()[..bundle.len() - 20]]);
    assert_eq!(organisms(&cut), ["Candida albicans"]);
    assert!(said(&cut).contains("JSON that ends too early"), "{}", said(&cut));
    // Lines: one broken, one not UTF-8, one nested too deeply.
    let deep = format!("{{\"resourceType\":\"Observation\",\"code\":{}", "[".repeat(100_000));
    let lines: Vec<&[u8]> = vec![
        patient_line(),
        b"{\"resourceType\":\"Obs",
        b"{\"id\":\"\xFF\"}",
        deep.as_bytes(),
        good.as_bytes(),
    ];
    let import = import_all(&[&lines.join(&b'\n')]);
    assert_eq!(organisms(&import), ["Candida albicans"]);
    insta::assert_snapshot!(said(&import), @"
    file.json, line 2: found JSON that ends too early at column 20; expected one FHIR resource as JSON on each line; export the file anew; it may have been cut off
    file.json, line 3: found a line that is not UTF-8; expected one FHIR resource as JSON on each line; export the file anew; it may have been cut off
    file.json, line 4: found JSON that is nested too deeply at column 164; expected one FHIR resource as JSON on each line; export the file anew; it may have been cut off
    ");
    // The first line may be the broken one.
    let lines: Vec<&[u8]> = vec![b"{\"resourceType\":\"Pat", good.as_bytes(), patient_line()];
    assert_eq!(organisms(&import_all(&[&lines.join(&b'\n')])), ["Candida albicans"]);
    let enormous = format!("{good}\n{{\"id\":\"{}\"}}\n", "x".repeat(33 << 20));
    assert!(said(&import_all(&[enormous.as_bytes()])).contains("line 2: found a line of 34603017 bytes"));
}

fn patient_line() -> &'static [u8] {
    br#"{"resourceType":"Patient","id":"p","identifier":[{"value":"QX77"}]}"#
}

#[test]
fn no_patient_is_named_in_what_is_said() {
    let odd = [
        with(observation("o", "600-7", "x"), "effectiveDateTime", json!("QX77")),
        with(report(&["o"]), "result", json!([{"reference": "Patient/QX77"}])),
        with(report(&["o"]), "result", json!([{"display": "QX77"}])),
    ];
    for resource in odd {
        let import = import(&[patient(), resource]);
        assert_eq!(import.unread.len(), 1);
        assert!(!said(&import).contains("QX77"), "{}", said(&import));
    }
}

#[test]
fn times_in_utc_are_converted_by_the_clock_of_the_mapping() {
    let clock = mapping("schema = 1\nname = \"clock\"\n[messages]\nclock = \"EST5EDT,M3.2.0,M11.1.0\"\n");
    let resource =
        with(observation("o", "600-7", "no growth"), "effectiveDateTime", json!("2026-03-02T02:30:00Z"));
    let text = resource.to_string();
    let import = read(&[InputFile { name: "x", bytes: text.as_bytes() }], &clock, &[], &key(), TODAY);
    assert_eq!(
        import.sets[0].collected,
        Collected::At(date(2026, 3, 1).at(21, 30, 0, 0)),
        "the evening before"
    );
}

#[test]
fn times_to_positivity_come_under_the_code_of_the_mapping() {
    let local = mapping("schema = 1\nname = \"times\"\n[messages]\npositive_after_codes = [\"TTP\"]\n");
    let after = |value: Value| {
        let timed = with(
            with(observation("t", "TTP", ""), "valueString", Value::Null),
            "valueQuantity",
            json!({"value": value, "unit": "h", "code": "h"}),
        );
        let bundle = json!({"resourceType": "Bundle", "type": "searchset", "entry": [
            {"resource": patient()}, {"resource": report(&["o", "t"])},
            {"resource": observation("o", "600-7", "Staphylococcus capitis")}, {"resource": timed}]});
        let text = bundle.to_string();
        let import = read(&[InputFile { name: "x", bytes: text.as_bytes() }], &local, &[], &key(), TODAY);
        assert_eq!(organisms(&import), ["Staphylococcus capitis"], "{}", said(&import));
        (import.sets[0].positive_after_s, import.notes.len())
    };
    assert_eq!(after(json!(13.5)), (Some(48_600), 0));
    assert_eq!(after(json!(5000)), (None, 1));
}
