//! One culture told in several ways gives the same sets: HL7 v2 with any line ends and delimiters, in a batch or message
//! by message, and FHIR as a bundle or as the files of a bulk export. All of it is invented.

mod support;

use culture::{BottleKind, Collected, CultureSet, ReportStatus, Route};
use exchange::laboratory::{Import, InputFile, Mapping, read};
use jiff::civil::date;
use proptest::prelude::*;
use support::{TODAY, every_row_is_accounted_for, key, mapping, said, sorted};

const HL7: &str = include_str!("data/larkfield_two_sets.hl7");
const FHIR: &str = include_str!("data/larkfield_two_sets.json");

fn import_with(texts: &[&[u8]], mapping: &Mapping) -> Import {
    let files: Vec<InputFile<'_>> = texts.iter().map(|bytes| InputFile { name: "file", bytes }).collect();
    let import = read(&files, mapping, &[], &key(), TODAY);
    every_row_is_accounted_for(&import);
    assert!(import.unread.is_empty(), "{}", said(&import));
    import
}

#[track_caller]
fn sets(texts: &[&[u8]]) -> Vec<CultureSet> {
    sorted(import_with(texts, &Mapping::for_messages()).sets)
}

/// What the file holds, read by hand.
#[test]
fn the_sets_of_the_batch_are_those_written_into_it() {
    let import = import_with(&[HL7.as_bytes()], &Mapping::for_messages());
    let [first, second] = import.sets.as_slice() else { panic!("{:?}", import.sets) };
    assert_eq!(first.id.0, "A26-1001", "two orders, told twice, are one set");
    assert_eq!(first.status, ReportStatus::Final);
    assert_eq!(first.route, Some(Route::CentralLine));
    assert_eq!(first.unit.as_deref(), Some("CCU-2"));
    assert_eq!(first.collector.as_deref(), Some("N117"));
    assert_eq!(first.age_years, Some(63.0));
    let names: Vec<&str> = first.isolates.iter().map(|isolate| isolate.reported_name.as_str()).collect();
    assert_eq!(names, ["Staphylococcus epidermidis"], "the preliminary stain is gone");
    let fills: Vec<_> = first.bottles.iter().map(|bottle| (bottle.kind, bottle.fill_ml)).collect();
    assert_eq!(fills, [(BottleKind::Aerobic, Some(9.1)), (BottleKind::Anaerobic, Some(8.4))]);
    assert_eq!(second.id.0, "A26-1002");
    assert_eq!(second.collected, Collected::At(date(2026, 3, 2).at(7, 40, 0, 0)));
    assert_eq!((second.route, second.isolates.len()), (Some(Route::Vein), 0));
    assert_eq!(second.patient, first.patient);
    let dropped: Vec<(&str, u64)> =
        import.dropped.iter().map(|dropped| (dropped.reason.as_str(), dropped.rows)).collect();
    assert_eq!(
        dropped,
        [
            ("a repeated or corrected report on an order that is counted once", 2),
            ("susceptibilities of an isolate that is counted with its culture", 1),
        ]
    );
}

#[test]
fn hl7_and_fhir_give_the_same_sets() {
    let by_hl7 = sets(&[HL7.as_bytes()]);
    assert_eq!(by_hl7.len(), 2);
    assert_eq!(by_hl7, sets(&[FHIR.as_bytes()]));
    // A bulk export: one file for each kind, one resource on each line, in any order of files.
    let bundle: serde_json::Value = serde_json::from_str(FHIR).expect("JSON");
    let mut kinds: std::collections::BTreeMap<String, Vec<String>> = std::collections::BTreeMap::new();
    for entry in bundle["entry"].as_array().expect("entries") {
        let kind = entry["resource"]["resourceType"].as_str().expect("a kind").to_owned();
        kinds.entry(kind).or_default().push(entry["resource"].to_string());
    }
    let mut files: Vec<String> = kinds.into_values().map(|lines| lines.join("\n") + "\n").collect();
    for _ in 0..files.len() {
        files.rotate_left(1);
        let texts: Vec<&[u8]> = files.iter().map(String::as_bytes).collect();
        assert_eq!(by_hl7, sets(&texts));
    }
}

#[test]
fn however_the_messages_are_written() {
    let expected = sets(&[HL7.as_bytes()]);
    let unix = HL7.replace("\r\n", "\n");
    for end in ["\r", "\r\n", "\n\n"] {
        assert_eq!(sets(&[unix.replace('\n', end).as_bytes()]), expected, "{end:?}");
    }
    // Other delimiters, named by each header.
    let other = unix.replace('|', "$").replace('^', "*").replace('&', "+").replace("$*~\\+$", "$*~\\+#$");
    assert_eq!(sets(&[other.as_bytes()]), expected);
    // Message by message, framed as on the wire, the last one first, and each twice.
    let messages: Vec<String> = unix
        .split("MSH|")
        .skip(1)
        .map(|rest| {
            let lines: Vec<&str> = rest.lines().filter(|line| !line.contains("TS|")).collect();
            format!("\u{b}MSH|{}\r\u{1c}\r", lines.join("\r"))
        })
        .collect();
    assert_eq!(messages.len(), 2);
    let (first, last) = (messages[0].as_bytes(), messages[1].as_bytes());
    assert_eq!(sets(&[first, last]), expected);
    assert_eq!(sets(&[last, first]), expected, "a late preliminary report changes nothing");
    assert_eq!(sets(&[first, last, first, last]), expected);
    // As UTF-16 with its mark.
    let wide: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain(unix.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(sets(&[&wide]), expected);
}

#[test]
fn two_numbers_become_one_set_by_a_rule_of_the_mapping() {
    let text = HL7
        .replacen("^A26-1001&LAB", "^A26-1001-AER&LAB", 1)
        .replace("BCAN^Blood Culture, Anaerobic Bottle^HL70488", "")
        .replace("BCAE^Blood Culture, Aerobic Bottle^HL70488", "");
    let ending = |number: &str, order: &str| {
        let mut lines = Vec::new();
        let mut inside = "";
        for line in text.lines() {
            if line.starts_with("OBR|") {
                inside = if line.contains("A26-1001-1^LAB|600") { "-AER" } else { "-ANA" };
            }
            lines.push(if line.starts_with("SPM|") && line.contains(number) {
                line.replace(number, &format!("^{order}{inside}&LAB"))
            } else {
                line.to_owned()
            });
        }
        lines.join("\r")
    };
    let text = ending("^A26-1001&LAB", "A26-1001").replace("^A26-1001-AER-AER&", "^A26-1001-AER&");
    let rule = mapping(
        "schema = 1\nname = \"endings\"\n[messages]\nnumber_endings = { \"-AER\" = \"aerobic\", \"-ANA\" = \"anaerobic\" }\n",
    );
    assert_eq!(sorted(import_with(&[text.as_bytes()], &rule).sets), sets(&[HL7.as_bytes()]));
    // Without the rule, one aerobic and one anaerobic bottle of one minute are joined only where their kinds are known.
    assert_eq!(import_with(&[text.as_bytes()], &Mapping::for_messages()).sets.len(), 3);
    // The number may stand in another field: the group of the common order.
    let grouped = HL7
        .replace("ORC|RE||A26-1001-1^LAB", "ORC|RE||A26-1001-1^LAB|G^A26-1001")
        .replace("ORC|RE||A26-1001-2^LAB", "ORC|RE||A26-1001-2^LAB|G^A26-1001");
    let grouped = grouped
        .replace("^A26-1001&LAB", "")
        .replace("ORC|RE||A26-1002-1^LAB", "ORC|RE||A26-1002-1^LAB|G^A26-1002");
    let rule = mapping("schema = 1\nname = \"group\"\n[messages]\nspecimen_number = \"ORC-4.2\"\n");
    assert_eq!(sorted(import_with(&[grouped.as_bytes()], &rule).sets), sets(&[HL7.as_bytes()]));
}

/// Sub-id and place in the list of names.
type Isolates = Vec<(u8, usize)>;

/// One report of a feed: on which of two orders, and what its isolates are called by sub-id. Reports of an order are
/// first preliminary, then final, then corrected, as the days go by.
fn reports() -> impl Strategy<Value = Vec<(usize, Isolates)>> {
    let isolates = prop::collection::vec((1_u8..4, 0_usize..4), 0..3);
    prop::collection::vec((0_usize..2, isolates), 1..7)
}

fn feed(reports: &[(usize, Isolates)]) -> Vec<String> {
    const NAMES: [&str; 4] = ["Staphylococcus hominis", "Escherichia coli", "Candida albicans", "No growth"];
    let last = |order: usize| reports.iter().rposition(|(of, _)| *of == order);
    let message = |(day, (order, isolates)): (usize, &(usize, Isolates))| {
        let left = reports[day..].iter().filter(|(of, _)| of == order).count();
        let status = match left {
            1 if last(*order) == Some(day) && day % 2 == 1 => "C",
            1 | 2 => "F",
            _ => "P",
        };
        let results: String = isolates
            .iter()
            .map(|(sub_id, name)| format!("OBX|1|CWE|600-7^x^LN|{sub_id}|^{}||||||{status}\r", NAMES[*name]))
            .collect();
        format!(
            "MSH|^~\\&|LAB|||ICU|2026030{day}||ORU^R01|{day}|P|2.5.1\rPID|1||QX77\rOBR|1||A{order}|600-7^x^LN|||20260301080000|||||||||||||||2026030{}||MB|{status}\r{results}SPM|1|^L1\r",
            day + 1
        )
    };
    reports.iter().enumerate().map(message).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Messages may come late, twice, and in any order of arrival: the sets are those of the feed as it was sent.
    #[test]
    fn the_order_of_arrival_does_not_matter(
        reports in reports(),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..12),
    ) {
        let sent = feed(&reports);
        let expected = sets(&sent.iter().map(String::as_bytes).collect::<Vec<_>>());
        let mut arrived: Vec<&String> = order.iter().map(|index| index.get(&sent)).collect();
        arrived.extend(sent.iter().rev());
        let found = sets(&arrived.iter().map(|text| text.as_bytes()).collect::<Vec<_>>());
        prop_assert_eq!(found, expected);
    }
}

/// One message of a culture whose second order names no specimen and hangs under the first (OBR-29), as HL7 v2.5.1,
/// section 7.4.1.29, has it. Times repeat, so that only the status and the control number tell messages apart.
fn of_two_orders((under, minute, status, name): (bool, u8, usize, usize), control: usize) -> String {
    const NAMES: [&str; 4] = ["Staphylococcus hominis", "Escherichia coli", "Candida albicans", "No growth"];
    let status = ["P", "F", "C", "X"][status];
    let (order, parent, specimen) = match under {
        true => ("A1-2", "||A^A1-1", String::new()),
        false => ("A1-1", "", "SPM|1|^L1\r".to_owned()),
    };
    format!(
        "MSH|^~\\&|LAB|||ICU|2026030208{minute:02}||ORU^R01|{control}|P|2.5.1\rPID|1||QX77\rOBR|1||{order}|600-7^x^LN|||20260301080000||||||||||||||||||{status}||{parent}\rOBX|1|CWE|600-7^x^LN|1|^{}||||||{status}\r{specimen}",
        NAMES[name]
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Also where messages bear the same time, and where an order comes before the one it hangs under.
    #[test]
    fn the_order_of_arrival_does_not_matter_in_one_minute(
        said in prop::collection::vec((any::<bool>(), 0_u8..3, 0_usize..4, 0_usize..4), 1..7),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..12),
    ) {
        let mut sent: Vec<String> =
            said.iter().enumerate().map(|(control, said)| of_two_orders(*said, control)).collect();
        sent.push(of_two_orders((false, 0, 0, 3), 99));
        let expected = sets(&sent.iter().map(String::as_bytes).collect::<Vec<_>>());
        prop_assert_eq!(expected.len(), 1);
        prop_assert_eq!(&expected[0].id.0, "L1");
        let mut arrived: Vec<&String> = order.iter().map(|index| index.get(&sent)).collect();
        arrived.extend(sent.iter().rev());
        let found = sets(&arrived.iter().map(|text| text.as_bytes()).collect::<Vec<_>>());
        prop_assert_eq!(found, expected);
    }
}

/// What was corrected, or withdrawn, stays so when the earlier report of the same minute comes after it.
#[test]
fn in_one_minute_the_report_that_is_further_counts() {
    let of = |status, name, control| of_two_orders((false, 0, status, name), control);
    let names = |texts: [&String; 2]| -> Vec<String> {
        let sets = sets(&texts.map(|text| text.as_bytes()));
        sets[0].isolates.iter().map(|isolate| isolate.reported_name.clone()).collect()
    };
    let (said, corrected, withdrawn) = (of(1, 0, 1), of(2, 1, 2), of(3, 0, 3));
    assert_eq!(names([&said, &corrected]), ["Escherichia coli"]);
    assert_eq!(names([&corrected, &said]), ["Escherichia coli"]);
    assert_eq!(names([&withdrawn, &said]), Vec::<String>::new());
    // Of two that are equally far the one with the higher control number, and 10 is higher than 9.
    let (ninth, tenth) = (of(1, 2, 9), of(1, 1, 10));
    assert_eq!(names([&tenth, &ninth]), ["Escherichia coli"]);
}
