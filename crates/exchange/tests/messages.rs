//! HL7 v2 and FHIR: corrections, repeated statuses, orders that share a specimen, batches; and the open files.

mod support;

use culture::{Collected, ReportStatus, Route};
use exchange::laboratory::{Import, InputFile, Mapping, read};
use jiff::civil::date;
use support::{TODAY, every_row_is_accounted_for, file, key, mapping, open_data, said, sorted};

const HEAD: &str = "MSH|^~\\&|LAB|||ICU|{stamp}||ORU^R01|1|P|2.5.1\rPID|1||900^^^^XX~77^^^^MR||||19700101\rPV1|1|I|ICU-2^4\r";

fn message(stamp: &str, body: &[&str]) -> String {
    HEAD.replace("{stamp}", stamp) + &body.join("\r") + "\r"
}

fn order(number: &str, status: &str) -> String {
    format!("OBR|1||{number}|600-7^Blood culture^LN|||20260302080000+0100|||K12|||||||||||||||{status}")
}

fn result(sub_id: &str, organism: &str, status: &str) -> String {
    format!("OBX|1|CWE|600-7^Blood culture^LN|{sub_id}|1^{organism}^SCT||||||{status}")
}

const SPECIMEN: &str = "SPM|1|W1^L1||119297000|||CVC||||||||||20260302081500|20260302090000";

fn import(texts: &[String]) -> Import {
    let files: Vec<InputFile<'_>> =
        texts.iter().map(|text| InputFile { name: "feed.hl7", bytes: text.as_bytes() }).collect();
    let import = read(&files, &Mapping::for_messages(), &[], &key(), TODAY);
    every_row_is_accounted_for(&import);
    import
}

fn organisms(import: &Import) -> Vec<&str> {
    import.sets.iter().flat_map(|set| &set.isolates).map(|isolate| isolate.reported_name.as_str()).collect()
}

/// HL7 v2.5.1 chapter 7: SPM-2, SPM-17, SPM-18, OBR-10, OBR-25, PV1-3, PID-3 and PID-7.
#[test]
fn fields_are_those_of_the_standard() {
    let import = import(&[message(
        "20260304",
        &[&order("A1", "F"), &result("1", "Staphylococcus hominis", "F"), SPECIMEN],
    )]);
    let set = &import.sets[0];
    assert_eq!(set.id.0, "L1", "the laboratory's own specimen number");
    assert_eq!(set.collected, Collected::At(date(2026, 3, 2).at(8, 15, 0, 0)), "SPM-17 before OBR-7");
    assert_eq!(set.received, Some(date(2026, 3, 2).at(9, 0, 0, 0)));
    assert_eq!(set.unit.as_deref(), Some("ICU-2"));
    assert_eq!(set.collector.as_deref(), Some("K12"));
    assert_eq!(set.route, Some(Route::CentralLine));
    assert_eq!(set.status, ReportStatus::Final);
    assert_eq!(set.age_years, Some(56.0));
    assert_eq!(set.patient, key().hash("77"), "the medical record number, whatever its place");
    assert_eq!(organisms(&import), ["Staphylococcus hominis"]);
}

/// Case C15: the same message twice is one report; case C9: a correction replaces by code and sub-id.
#[test]
fn repeated_and_corrected_reports_count_once() {
    let first = message("20260303", &[&order("A1", "P"), &result("1", "Gram positive cocci", "P"), SPECIMEN]);
    let last =
        message("20260305", &[&order("A1", "C"), &result("1", "Staphylococcus aureus", "C"), SPECIMEN]);
    for feed in [
        vec![first.clone(), first.clone(), last.clone()],
        vec![last.clone(), first.clone()],
        vec![first.clone() + &last],
    ] {
        let import = import(&feed);
        assert_eq!(organisms(&import), ["Staphylococcus aureus"]);
        assert_eq!(import.sets[0].status, ReportStatus::Corrected);
    }
    let withdrawn =
        message("20260306", &[&order("A1", "C"), &result("1", "Staphylococcus aureus", "D"), SPECIMEN]);
    assert_eq!(organisms(&import(&[last, withdrawn])), [""; 0]);
}

#[test]
fn one_culture_over_two_orders_is_one_set() {
    let import = import(&[message(
        "20260304",
        &[
            &order("A1", "F"),
            &result("1", "Candida albicans", "F"),
            SPECIMEN,
            &order("A2", "F"),
            &result("1", "Escherichia coli", "F"),
            SPECIMEN,
        ],
    )]);
    assert_eq!(import.sets.len(), 1);
    assert_eq!(organisms(&import), ["Candida albicans", "Escherichia coli"]);
}

#[test]
fn growth_without_a_name_is_left_to_a_person_and_words_of_no_growth_are_none() {
    let say = |value: &str| {
        let result = format!("OBX|1|ST|600-7^Blood culture^LN|1|{value}||||||F");
        import(&[message("20260304", &[&order("A1", "F"), &result, SPECIMEN])])
    };
    assert_eq!(organisms(&say("No growth after 5 days")), [""; 0]);
    assert_eq!(organisms(&say("POSITIVE")), ["growth reported, no organism named"]);
    let both = import(&[message(
        "20260304",
        &[&order("A1", "F"), &result("", "POSITIVE", "F"), &result("1", "Micrococcus luteus", "F"), SPECIMEN],
    )]);
    assert_eq!(organisms(&both), ["Micrococcus luteus"]);
}

#[test]
fn other_delimiters_and_local_codes_are_read() {
    let text = "MSH$%~\\&$LAB$$$ICU$20260304$$ORU%R01$1$P$2.5.1\nPID$1$$77\nOBR$1$$A1$BC%Blood culture%L$$$20260302080000$$$$$$$$$$$$$$$$$$F\nOBX$1$CWE$BC%Blood culture%L$1$%Staphylococcus capitis%L$$$$$$F\n";
    assert_eq!(
        import(&[text.to_owned()]).sets.len(),
        0,
        "a local code is unknown until the mapping names it"
    );
    let local = mapping("schema = 1\nname = \"local\"\n[messages]\nblood_culture_codes = [\"BC\"]\n");
    let import = read(&[InputFile { name: "feed.hl7", bytes: text.as_bytes() }], &local, &[], &key(), TODAY);
    assert_eq!(import.sets[0].id.0, "A1");
    assert_eq!(organisms(&import), ["Staphylococcus capitis"]);
}

#[test]
fn faults_name_the_line_and_the_field() {
    let cut = message("20260304", &[&order("A1", "F").replace("20260302080000+0100", "2 March")]);
    let no_patient = cut.replace("900^^^^XX~77^^^^MR", "");
    let future = message("20260304", &[&order("A1", "F").replace("20260302", "20270302")]);
    let stray = message("20260304", &["quux"]);
    let texts = [cut, no_patient, future, "MSH||||\rPID|1\r".to_owned(), stray];
    let all: Vec<String> = texts.iter().map(|text| said(&import(std::slice::from_ref(text)))).collect();
    insta::assert_snapshot!(all.join("\n"), @r#"
    feed.hl7, line 4: field OBR-7: found a value of the form "9 aaaaa"; expected a time of collection as YYYYMMDDhhmm in SPM-17 or OBR-7; ask the interface team; without it the set belongs to no day and no window
    feed.hl7, line 4: field PID-3: found no patient identifier; expected an identifier in PID-3; ask the interface team; without it no set can be compared with the others of the patient
    feed.hl7, line 4: found the collection day 2027-03-02, which is after 2026-04-30; expected a day that is not in the future; correct the time in the laboratory's file, or, if dates were shifted to protect patients, write dates = "shifted" in the mapping
    feed.hl7, line 1: found a message header whose delimiters cannot be used; expected MSH, the field separator and the encoding characters, as in MSH|^~\&|; ask the interface team for the message as it was sent
    note: feed.hl7, 0 rows, line None: nothing to import here: 0 orders, none of them a blood culture
    feed.hl7, line 1: found a message of results without an order (OBR); expected at least one OBR segment; look for a message that was cut off
    feed.hl7, line 4: found a line that is no segment; expected a segment of three capital letters after a message header (MSH); look for a message that was cut off, or a line end inside a field
    note: feed.hl7, 0 rows, line None: nothing to import here: 1 orders, none of them a blood culture
    "#);
}

fn shifted() -> Mapping {
    mapping("schema = 1\nname = \"test messages\"\ndates = \"shifted\"\n[messages]\nday_from_report = true\n")
}

fn read_files(folder: &std::path::Path, names: &[&str]) -> Import {
    let bytes: Vec<Vec<u8>> = names.iter().map(|name| file(folder, name)).collect();
    let files: Vec<InputFile<'_>> =
        names.iter().zip(&bytes).map(|(name, bytes)| InputFile { name, bytes }).collect();
    let import = read(&files, &shifted(), &[], &key(), TODAY);
    every_row_is_accounted_for(&import);
    import
}

/// The message has five encoding characters in MSH-2, corrected results and two orders on one specimen.
/// What it holds was read from the file by hand: specimen M12776123, right arm, 2028-08-02 02:52:01, two organisms.
#[test]
fn the_open_culture_is_the_same_set_as_hl7_and_as_fhir() {
    let (Some(hl7), Some(fhir)) = (
        open_data("hl7v2-oru-micro", "the HL7 v2 blood culture"),
        open_data("fhir-r4-micro", "the same as FHIR"),
    ) else {
        return;
    };
    let by_hl7 = read_files(&hl7, &["blood_culture_two_sets_elr251.hl7"]);
    let by_fhir = read_files(&fhir, &["blood_culture_two_sets_message_bundle.json"]);
    let set = &by_hl7.sets[0];
    assert_eq!(set.id.0, "M12776123");
    assert_eq!(set.collected, Collected::At(date(2028, 8, 2).at(2, 52, 1, 0)));
    assert_eq!(set.received, Some(date(2021, 8, 4).at(0, 18, 0, 0)));
    assert_eq!(set.status, ReportStatus::Preliminary);
    assert_eq!(set.age_years, Some(91.0));
    assert_eq!(organisms(&by_hl7), ["Vancomycin resistant Enterococcus raffinosus", "Candida albicans"]);
    // Its susceptibilities name their parent by a number that no order has in OBR-3, and by its result (OBR-26).
    let dropped: Vec<(&str, u64)> =
        by_hl7.dropped.iter().map(|dropped| (dropped.reason.as_str(), dropped.rows)).collect();
    let of_isolates = "susceptibilities of an isolate that is counted with its culture";
    assert_eq!(dropped, [("not a blood culture", 1), (of_isolates, 2)]);
    // The FHIR copy lost the names of the place and of the collector on its way; everything else must agree.
    let without_lost = |import: Import| {
        let mut sets = sorted(import.sets);
        for set in &mut sets {
            set.unit = None;
            set.collector = None;
        }
        sets
    };
    assert_eq!(without_lost(by_hl7), without_lost(by_fhir));
}

/// FHIR R4 specification examples: DiagnosticReport f202 refers to Observation f206 (Staphylococcus aureus).
#[test]
fn the_examples_of_the_specification_are_read() {
    let Some(fhir) = open_data("fhir-r4-micro", "the FHIR specification's blood culture") else { return };
    let import = read_files(
        &fhir,
        &["fhir401_Bundle-f202.json", "fhir401_Observation-f206.json", "fhir401_Patient-f201.json"],
    );
    assert_eq!(organisms(&import), ["Staphylococcus aureus"]);
    assert_eq!(
        import.sets[0].collected,
        Collected::On(date(2013, 3, 11)),
        "the day of the report: no collection time is given"
    );
    assert_eq!(import.sets[0].status, ReportStatus::Final);
    let alone = read_files(&fhir, &["fhir401_Bundle-f202.json"]);
    assert!(alone.sets.is_empty());
    assert!(said(&alone).contains("Observation/f206 among the files"), "{}", said(&alone));
}

/// None of these is a blood culture; the counts of messages are those of their provenance note.
#[test]
fn messages_about_other_things_say_so() {
    let Some(hl7) = open_data("hl7v2-oru-micro", "messages that are no blood culture") else { return };
    for (name, n_messages) in [
        ("batch_fhs_bhs_20_messages_not_culture.hl7", 20),
        ("nist_oru_r01_251_case1.hl7", 1),
        ("nist_oru_r01_251_case2.hl7", 1),
        ("nist_oru_r01_251_case4.hl7", 1),
        ("nist_oru_r01_251_case5.hl7", 1),
        ("elr_bordetella_pcr.hl7", 1),
        ("elr_campylobacter_stool_culture.hl7", 1),
    ] {
        let import = read_files(&hl7, &[name]);
        assert!(import.sets.is_empty() && import.unread.is_empty(), "{name}: {}", said(&import));
        let note = format!("nothing to import here: {n_messages} orders");
        assert!(import.notes.iter().any(|found| found.text.starts_with(&note)), "{name}: {}", said(&import));
    }
}

#[test]
fn one_resource_on_each_line_is_read_with_its_line() {
    let observation = |id: &str, code: &str| {
        format!(
            r#"{{"resourceType":"Observation","id":"{id}","status":"final","code":{{"coding":[{{"code":"{code}"}}]}},"subject":{{"reference":"Patient/p"}},"effectiveDateTime":"2026-03-02T08:00:00+01:00","valueString":"No growth"}}"#
        )
    };
    let text = [
        observation("1", "600-7"),
        observation("2", "17928-3"),
        observation("3", "2345-7"),
        "{broken".to_owned(),
    ]
    .join("\n");
    let import = import(&[text]);
    assert_eq!(import.sets.len(), 2);
    assert_eq!(import.sources[1].line, Some(2));
    assert_eq!(import.unread.len(), 1);
    assert_eq!(import.unread[0].line, Some(4));
}
