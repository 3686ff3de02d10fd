//! HL7 v2 as laboratories write it: versions, character sets, statuses, specimens, batches, and what goes wrong.

mod support;

use culture::{BottleKind, Collected, ReportStatus, Route, Specimen};
use exchange::laboratory::{Import, InputFile, Mapping, read};
use jiff::civil::date;
use support::{TODAY, every_row_is_accounted_for, key, mapping, said};

fn import_by(mapping: &Mapping, bytes: &[u8]) -> Import {
    let import = read(&[InputFile { name: "feed.hl7", bytes }], mapping, &[], &key(), TODAY);
    every_row_is_accounted_for(&import);
    import
}

fn import(text: &str) -> Import {
    import_by(&Mapping::for_messages(), text.as_bytes())
}

fn organisms(import: &Import) -> Vec<&str> {
    import.sets.iter().flat_map(|set| &set.isolates).map(|isolate| isolate.reported_name.as_str()).collect()
}

const HEAD: &str = "MSH|^~\\&|LAB|||ICU|20260304||ORU^R01^ORU_R01|1|P|2.5.1";
const PATIENT: &str = "PID|1||QX77^^^^MR||||19700101\rPV1|1|I|ICU-2";
const ORDER: &str = "OBR|1||A1|600-7^Blood culture^LN|||20260302080000|||||||||||||||20260304||MB|F";
const RESULT: &str = "OBX|1|CWE|600-7^Blood culture^LN|1|^Staphylococcus capitis||||||F";
const SPECIMEN: &str = "SPM|1|^L1||119297000^Blood^SCT";

fn message(segments: &[&str]) -> String {
    [&[HEAD, PATIENT], segments].concat().join("\r") + "\r"
}

#[track_caller]
fn sound(text: &str) -> Import {
    let import = import(text);
    assert!(import.unread.is_empty(), "{}", said(&import));
    assert_eq!(import.sets.len(), 1, "{}", said(&import));
    import
}

#[track_caller]
fn notes_say(import: &Import, words: &str) {
    assert!(import.notes.iter().any(|note| note.text.contains(words)), "{words:?} in {}", said(import));
}

/// Version 2.3 has no SPM: source, site and method stand in OBR-15 (from memory), the patient may stand in PID-2.
#[test]
fn version_2_3_without_specimens() {
    let text = "MSH|^~\\&|LAB|||ICU|199803021000||ORU^R01|1|P|2.3\rPID|1|QX77\rPV1|1|I|ICU-2^4\r\
        OBR|1|P9|A1|600-7^Blood culture^LN|||199803020800||2.5^ML|K12||||199803020830|BLDV&Venous blood^^^^^BCPD||||||||||F\r\
        OBX|1|CE|600-7^Blood culture^LN|1|^Candida albicans^L||||||F\r\
        OBX|2|ST|600-7^Blood culture^LN|2|Candida glabrata~Candida krusei||||||F\r";
    let import = sound(text);
    let set = &import.sets[0];
    assert_eq!(set.id.0, "A1");
    assert_eq!(set.patient, key().hash("QX77"));
    assert_eq!(set.collected, Collected::At(date(1998, 3, 2).at(8, 0, 0, 0)));
    assert_eq!((set.bottles[0].kind, set.bottles[0].fill_ml), (BottleKind::Paediatric, Some(2.5)));
    assert_eq!(organisms(&import), ["Candida albicans", "Candida glabrata", "Candida krusei"]);
    let line = sound(&text.replace("BLDV&Venous blood^^^^^BCPD", "BLDV^^^PICC"));
    assert_eq!(line.sets[0].route, Some(Route::CentralLine));
}

#[test]
fn character_sets_by_msh_18() {
    let with = |set: &str, name: &[u8]| {
        let text = message(&[ORDER, RESULT]).replacen("2.5.1", &format!("2.5.1||||||{set}"), 1);
        let (before, after) = text.split_once("Staphylococcus capitis").expect("the organism");
        [before.as_bytes(), name, after.as_bytes()].concat()
    };
    for (set, bytes, expected) in [
        ("UNICODE UTF-8", "Candida krüsei".as_bytes(), "Candida krüsei"),
        ("8859/1", b"Candida kr\xFCsei", "Candida krüsei"),
        ("8859/2", b"Candida \xB3", "Candida ł"),
        ("ASCII~ISO IR87", b"\x1B$B\x24\x22\x1B(B", "あ"),
        ("BIG-5", b"\xA4\xA4\xB1\x7C", "中悴"),
        ("", "Candida krüsei".as_bytes(), "Candida krüsei"),
        ("", b"Candida kr\\XC3BC\\sei", "Candida krüsei"),
        ("8859/1", b"Candida kr\\XFC\\sei", "Candida krüsei"),
        ("CNS 11643-1992", b"Candida krusei", "Candida krusei"),
    ] {
        let import = import_by(&Mapping::for_messages(), &with(set, bytes));
        assert_eq!(organisms(&import), [expected], "{set}: {}", said(&import));
    }
    // A set nobody knows: the message is named, and the next one is read.
    let two =
        [with("CNS 11643-1992", b"\xA4\xA4"), message(&[&ORDER.replace("A1", "A2"), RESULT]).into_bytes()]
            .concat();
    let import = import_by(&Mapping::for_messages(), &two);
    assert_eq!(organisms(&import), ["Staphylococcus capitis"]);
    insta::assert_snapshot!(import.unread[0].to_string(), @"feed.hl7, line 1: field MSH-18: found a character set (MSH-18) that is not known, and bytes beyond ASCII; expected a set of HL7 table 0211 that can be read: ASCII, 8859/1 to 8859/9, 8859/15, UNICODE UTF-8, ISO IR87, GB 18030-2000, KS X 1001 or BIG-5; ask the interface team to send UNICODE UTF-8, or state the encoding in the mapping");
    // Bytes that are not what is stated: the rest is read, and an identifier is never made of them.
    let wrong = import_by(&Mapping::for_messages(), &with("UNICODE UTF-8", b"kr\xFCsei"));
    assert_eq!(organisms(&wrong), ["kr\u{fffd}sei"]);
    notes_say(&wrong, "not of the character set it states");
    let mut bytes = with("UNICODE UTF-8", b"x");
    let at = bytes.windows(4).position(|part| part == b"QX77").expect("the patient");
    bytes[at] = 0xFC;
    let refused = import_by(&Mapping::for_messages(), &bytes);
    assert!(refused.unread[0].found.contains("unreadable characters"), "{}", said(&refused));
}

#[test]
fn escapes_in_values_are_resolved_and_unknown_ones_stay() {
    let import =
        sound(&message(&[ORDER, &RESULT.replace("capitis", "capitis \\T\\ \\H\\hominis\\N\\ \\Zx\\")]));
    assert_eq!(organisms(&import), ["Staphylococcus capitis & hominis \\Zx\\"]);
}

#[test]
fn a_message_may_bring_several_patients() {
    let second = "PID|2||QX88^^^^MR\rPV1|1|I|ED";
    let text = message(&[ORDER, RESULT, second, &ORDER.replace("A1", "B1"), RESULT]);
    let import = import(&text);
    let found: Vec<_> =
        import.sets.iter().map(|set| (set.id.0.as_str(), set.patient.clone(), set.unit.clone())).collect();
    assert_eq!(
        found,
        [
            ("A1", key().hash("QX77"), Some("ICU-2".to_owned())),
            ("B1", key().hash("QX88"), Some("ED".to_owned()))
        ]
    );
}

#[test]
fn one_specimen_number_for_two_patients_is_refused_with_both_lines() {
    let other = message(&[&ORDER.replace("A1", "A2"), RESULT, SPECIMEN]).replace("QX77", "QX88");
    let import = import(&(message(&[ORDER, RESULT, SPECIMEN]) + &other));
    assert!(import.sets.is_empty());
    insta::assert_snapshot!(said(&import), @r#"
    feed.hl7, line 4: found specimen number "L1" on lines 4 and 10 for two different patients; expected one patient for each specimen number; ask the laboratory which patient the specimen belongs to; until then no row of it is counted
    feed.hl7, line 10: found specimen number "L1" on lines 4 and 10 for two different patients; expected one patient for each specimen number; ask the laboratory which patient the specimen belongs to; until then no row of it is counted
    "#);
}

/// HL7 tables 0123 (orders) and 0085 (results), from memory.
#[test]
fn statuses_of_orders_and_results() {
    let order = |status: &str, result: &str| {
        let order = ORDER.replace("|MB|F", &format!("|MB|{status}"));
        let import = sound(&message(&[&order, &RESULT.replace("||F", &format!("||{result}"))]));
        (import.sets[0].status, import.sets[0].isolates.len())
    };
    for (of_order, of_result, status, n_isolates) in [
        ("F", "F", ReportStatus::Final, 1),
        ("P", "P", ReportStatus::Preliminary, 1),
        ("I", "I", ReportStatus::Preliminary, 1),
        ("A", "F", ReportStatus::Preliminary, 1),
        ("M", "C", ReportStatus::Preliminary, 1),
        ("C", "C", ReportStatus::Corrected, 1),
        ("X", "X", ReportStatus::Cancelled, 0),
        ("F", "D", ReportStatus::Final, 0),
        ("F", "W", ReportStatus::Final, 0),
        ("", "F", ReportStatus::Final, 1),
        ("", "A", ReportStatus::Corrected, 1),
        ("", "P", ReportStatus::Preliminary, 1),
        ("", "", ReportStatus::NotStated, 1),
    ] {
        assert_eq!(order(of_order, of_result), (status, n_isolates), "{of_order:?} and {of_result:?}");
    }
    let cancelled = sound(&message(&["ORC|OC||A1", ORDER]));
    assert_eq!(cancelled.sets[0].status, ReportStatus::Cancelled);
    let rejected = SPECIMEN.to_owned() + "|||||||||||||||||QS^Insufficient";
    assert_eq!(sound(&message(&[ORDER, &rejected])).sets[0].status, ReportStatus::Cancelled);
    assert_eq!(sound(&message(&[ORDER, RESULT, &rejected])).sets[0].status, ReportStatus::Final);
}

#[test]
fn the_latest_word_on_a_result_counts() {
    let preliminary = RESULT.replace("Staphylococcus capitis", "Gram positive cocci").replace("||F", "||P");
    // Told twice in one message, under one sub-id: the final one, in either order.
    for pair in [[&preliminary, RESULT], [RESULT, &preliminary]] {
        assert_eq!(organisms(&sound(&message(&[ORDER, pair[0], pair[1]]))), ["Staphylococcus capitis"]);
    }
    // Under another sub-id in a later, final report: the preliminary one is gone, whichever message comes first.
    let early =
        message(&[&ORDER.replace("20260304||MB|F", "20260303||MB|P"), &preliminary.replace("|1|^", "|9|^")]);
    let late = message(&[ORDER, RESULT]);
    assert_eq!(organisms(&sound(&(early.clone() + &late))), ["Staphylococcus capitis"]);
    assert_eq!(organisms(&sound(&(late.clone() + &early))), ["Staphylococcus capitis"]);
    // Beside a report that is preliminary too, both hold.
    let second = late.replace("20260304||MB|F", "20260304||MB|P");
    assert_eq!(organisms(&sound(&(early + &second))), ["Staphylococcus capitis", "Gram positive cocci"]);
    // Final without its value: what was said before holds.
    let kept = message(&[
        &ORDER.replace("20260304||", "20260305||"),
        &RESULT.replace("^Staphylococcus capitis", "").replace("||F", "||U"),
    ]);
    assert_eq!(organisms(&sound(&(late + &kept))), ["Staphylococcus capitis"]);
}

#[test]
fn a_stain_without_a_culture_is_growth_without_a_name() {
    let stain = |words: &str| format!("OBX|1|ST|664-3^Gram^LN|1|{words}||||||P");
    assert_eq!(
        organisms(&sound(&message(&[ORDER, &stain("Gram positive cocci in clusters")]))),
        ["growth reported, no organism named"]
    );
    assert_eq!(organisms(&sound(&message(&[ORDER, &stain("No organisms seen")]))), [""; 0]);
    assert_eq!(
        organisms(&sound(&message(&[ORDER, &stain("Gram positive cocci"), RESULT]))),
        ["Staphylococcus capitis"]
    );
}

/// There is no code that laboratories agree on, so the mapping names theirs; the earliest bottle counts, also where a
/// later message brings it.
#[test]
fn times_to_positivity_come_under_the_code_of_the_mapping() {
    let local = mapping("schema = 1\nname = \"times\"\n[messages]\npositive_after_codes = [\"TTP\"]\n");
    let after = |import: &Import| import.sets[0].positive_after_s;
    let timed = |value: &str, unit: &str, status: &str| {
        format!("OBX|2|NM|TTP^Time to positivity^L||{value}|{unit}|||||{status}")
    };
    let of = |segments: &[&str]| import_by(&local, message(segments).as_bytes());
    for (value, unit, seconds) in
        [("13.5", "h^hour^UCUM", 48_600), ("13:30", "", 48_600), ("810", "min", 48_600), ("1", "d", 86_400)]
    {
        let import = of(&[ORDER, RESULT, &timed(value, unit, "F")]);
        assert_eq!(after(&import), Some(seconds), "{value} {unit}");
        assert_eq!(organisms(&import), ["Staphylococcus capitis"], "a time is no organism");
    }
    let two = of(&[ORDER, RESULT, &timed("15", "h", "F"), &timed("13.5", "h", "F")]);
    assert_eq!(after(&two), Some(48_600));
    let withdrawn = of(&[ORDER, RESULT, &timed("2", "h", "X"), &timed("13.5", "h", "F")]);
    assert_eq!(after(&withdrawn), Some(48_600));
    let nonsense = of(&[ORDER, RESULT, &timed("13.5", "mL", "F")]);
    assert_eq!(after(&nonsense), None);
    notes_say(&nonsense, "time to positivity");
    assert_eq!(after(&sound(&message(&[ORDER, RESULT, &timed("13.5", "h", "F")]))), None, "code not named");
    let later = message(&[ORDER, RESULT]).replace("ICU|20260304|", "ICU|20260305|");
    let both = message(&[ORDER, RESULT, &timed("13.5", "h", "F")]) + &later;
    assert_eq!(
        after(&import_by(&local, both.as_bytes())),
        Some(48_600),
        "a shorter report takes nothing away"
    );
}

#[test]
fn fills_come_from_specimens_and_from_results() {
    let local = mapping(
        "schema = 1\nname = \"volumes\"\n[messages]\nvolume_codes = { VA = \"aerobic\", VN = \"anaerobic\" }\n",
    );
    let fills = |import: &Import| -> Vec<(BottleKind, Option<f64>)> {
        import.sets[0].bottles.iter().map(|bottle| (bottle.kind, bottle.fill_ml)).collect()
    };
    let text = message(&[
        ORDER,
        RESULT,
        "OBX|2|NM|VA^Volume^L||8.5|mL|||||F",
        "OBX|3|NM|VN^Volume^L||7400|uL^^UCUM|||||F",
    ]);
    assert_eq!(
        fills(&import_by(&local, text.as_bytes())),
        [(BottleKind::Aerobic, Some(8.5)), (BottleKind::Anaerobic, Some(7.4))]
    );
    let amount = |method: &str, amount: &str, containers: &str| {
        format!("SPM|1|^L1||119297000^Blood^SCT|||{method}|||||{amount}||||||||||||||{containers}")
    };
    let one = sound(&message(&[ORDER, &amount("BCAE", "9^mL&&UCUM", "")]));
    assert_eq!(fills(&one), [(BottleKind::Aerobic, Some(9.0))]);
    let by_weight = sound(&message(&[ORDER, &amount("BCAE", "9.4554^g&&UCUM", "")]));
    assert!(
        fills(&by_weight)[0].1.is_some_and(|ml| (ml - 9.0).abs() < 1e-9),
        "1.0506 g/mL, as docs/mapping.md says"
    );
    let unknown = sound(&message(&[ORDER, &amount("", "20^mL&&UCUM", "2")]));
    assert_eq!(fills(&unknown), []);
    notes_say(&unknown, "SPM-12");
    let single = sound(&message(&[ORDER, &amount("", "9^mL&&UCUM", "1")]));
    assert_eq!(fills(&single), [(BottleKind::Other, Some(9.0))]);
    // The codes of aerobe and anaerobe culture name their bottles; both under one order number are two orders.
    let halves = message(&[
        &ORDER.replace("600-7", "17928-3"),
        RESULT,
        SPECIMEN,
        &ORDER.replace("600-7", "17934-1"),
        RESULT,
        SPECIMEN,
    ]);
    assert_eq!(fills(&sound(&halves)), [(BottleKind::Aerobic, None), (BottleKind::Anaerobic, None)]);
}

#[test]
fn specimens_say_what_was_in_the_bottle() {
    let kind = |specimen: &str| sound(&message(&[ORDER, specimen])).sets[0].specimen;
    assert_eq!(kind(SPECIMEN), Specimen::Blood);
    assert_eq!(kind("SPM|1|^L1||X^Synovial fluid^L"), Specimen::OtherFluid);
    assert_eq!(kind("SPM|1|^L1||119297000^Blood^SCT|||||||Q"), Specimen::QualityControl);
}

#[test]
fn orders_are_known_by_what_they_are_about() {
    let organism = RESULT.replace("600-7", "634-6");
    let other = ORDER.replace("600-7^Blood culture^LN", "MICRO^Microbiology^L");
    let on_blood = import(&message(&[&other, &organism, SPECIMEN]));
    assert_eq!(organisms(&on_blood), ["Staphylococcus capitis"], "an organism on blood");
    let on_wound = import(&message(&[&other, &organism, "SPM|1|^L1||119365002^Wound^SCT"]));
    assert!(on_wound.sets.is_empty(), "an organism from elsewhere");
    let by_result = import(&message(&[&other, RESULT]));
    assert_eq!(by_result.sets.len(), 1, "a result of a blood culture under a local code");
    let unknown = import(&message(&[&ORDER.replace("600-7^Blood culture^LN", "BC9^BLOOD CULTURE^L")]));
    assert!(unknown.sets.is_empty());
    notes_say(&unknown, "blood_culture_codes");
    let rule = mapping(
        "schema = 1\nname = \"local\"\n[messages]\nblood_culture_codes = [\"bc9\"]\norganism_codes = [\"ORG\"]\n",
    );
    let text = message(&[
        &ORDER.replace("600-7^Blood culture^LN", "BC9^BLOOD CULTURE^L"),
        &RESULT.replace("600-7", "ORG"),
    ]);
    assert_eq!(organisms(&import_by(&rule, text.as_bytes())), ["Staphylococcus capitis"]);
}

#[test]
fn susceptibilities_are_held_against_their_isolate() {
    let panel = |sub_id: &str| {
        format!(
            "OBR|2||A1-S|18769-0^Susceptibility^LN|||20260303||||||||||||||||||F|600-7&&LN^{sub_id}^x|||^A1\rOBX|1|SN|28-1^Amp^LN|1|>^32||||||F"
        )
    };
    let fine = sound(&message(&[ORDER, RESULT, &panel("1")]));
    assert_eq!(fine.dropped[0].reason, "susceptibilities of an isolate that is counted with its culture");
    assert_eq!(fine.notes, []);
    notes_say(&sound(&message(&[ORDER, RESULT, &panel("2")])), "an organism may be missing");
    let elsewhere = import(&message(&[&panel("1")]));
    assert_eq!(elsewhere.dropped[0].reason, "not a blood culture");
}

#[test]
fn a_batch_that_was_cut_off_gives_what_it_holds_and_says_so() {
    let batch = format!("FHS|^~\\&\rBHS|^~\\&\r{}BTS|3\rFTS|1\r", message(&[ORDER, RESULT]));
    notes_say(&sound(&batch), "messages in a batch (BTS-1) is stated as 3 and 1 were found");
    let cut = batch.split_once("||||||F\rBTS").expect("a trailer").0;
    let import = sound(cut);
    assert_eq!(organisms(&import), ["Staphylococcus capitis"]);
    notes_say(&import, "a result carries no status (OBX-11)");
    notes_say(&import, "has no batch trailer (BTS) at its end");
    // Wherever a message is cut, nothing is made up: the set is that of the whole, or it is named as unread.
    let whole = message(&[ORDER, RESULT, SPECIMEN]);
    for end in 0..whole.len() {
        let import = self::import(&whole[..end]);
        let read = import.sets.len() + import.unread.len() + import.dropped.len();
        assert!(read > 0 || end < HEAD.len() + 8, "{end}: {}", said(&import));
        assert!(!said(&import).contains("QX77"), "{end}");
    }
}

#[test]
fn a_line_end_inside_a_result_is_mended_and_said() {
    let import = sound(&message(&[ORDER, "OBX|1|TX|600-7^x^LN|1|Staphylococcus\ncapitis||||||F"]));
    assert_eq!(organisms(&import), ["Staphylococcus capitis"]);
    notes_say(&import, "taken for the rest of the result");
}

#[test]
fn a_line_of_100_mb_is_named_and_the_next_message_is_read() {
    let mut bytes = message(&[ORDER]).into_bytes();
    bytes.extend_from_slice(b"OBX|1|TX|600-7||");
    bytes.resize(100 << 20, b'x');
    bytes.extend_from_slice(b"\r");
    bytes.extend_from_slice(message(&[&ORDER.replace("A1", "A2"), RESULT]).as_bytes());
    let import = import_by(&Mapping::for_messages(), &bytes);
    assert_eq!(organisms(&import), ["Staphylococcus capitis"]);
    insta::assert_snapshot!(said(&import), @"feed.hl7, line 1: found a message of 104857601 bytes; expected a message of at most 33554432 bytes; look for line ends that were lost, or for a document inside the message");
}

#[test]
fn leap_days_clocks_and_the_nights_they_change() {
    let at = |time: &str| import(&message(&[&ORDER.replace("20260302080000", time)]));
    assert_eq!(at("20240229").sets[0].collected, Collected::On(date(2024, 2, 29)));
    let refused = at("202302290800");
    insta::assert_snapshot!(said(&refused), @r#"feed.hl7, line 4: field OBR-7: found a value of the form "999999999999"; expected a time of collection as YYYYMMDDhhmm in SPM-17 or OBR-7; ask the interface team; without it the set belongs to no day and no window"#);
    let clock = mapping("schema = 1\nname = \"clock\"\n[messages]\nclock = \"CET-1CEST,M3.5.0,M10.5.0/3\"\n");
    let by_clock = |time: &str| {
        let text = message(&[&ORDER.replace("20260302080000", time)]);
        import_by(&clock, text.as_bytes()).sets[0].collected.to_owned()
    };
    // EU Directive 2000/84/EC: 30 March and 26 October 2025 are the nights.
    let at_civil = |day, hour, minute| {
        Collected::At(date(2025, day, if day == 3 { 30 } else { 26 }).at(hour, minute, 0, 0))
    };
    assert_eq!(by_clock("202503300059+0000"), at_civil(3, 1, 59));
    assert_eq!(by_clock("202503300100+0000"), at_civil(3, 3, 0));
    assert_eq!(by_clock("202510260030+0000"), at_civil(10, 2, 30));
    assert_eq!(by_clock("202510260130+0000"), at_civil(10, 2, 30));
    // Without a rule, UTC is noticed, and the receipt is compared in the offset of the draw.
    let text = message(&[
        &ORDER.replace("20260302080000", "20260302080000+0100"),
        RESULT,
        &(SPECIMEN.to_owned() + "||||||||||||||20260302073000+0000"),
    ]);
    let import = sound(&text);
    assert_eq!(import.sets[0].received, Some(date(2026, 3, 2).at(8, 30, 0, 0)));
    notes_say(&at("20260302080000+0000"), "times of collection are in UTC");
    // A specimen time that cannot be read leaves that of the order.
    let spoilt = sound(&message(&[ORDER, RESULT, &(SPECIMEN.to_owned() + "|||||||||||||soon")]));
    notes_say(&spoilt, "SPM-17");
}

/// From version 2.7 on the collector may stand in a segment of participation (PRT-4 SC of table 0912, from memory).
#[test]
fn the_collector_of_version_2_7() {
    let segment = "PRT|1|UC||SC^Specimen collector^HL70912|N7^Collector^Seven";
    let other = "PRT|2|UC||OP^Order placer^HL70912|D1^Doctor^One";
    let import = sound(&message(&[ORDER, other, segment, RESULT]).replace("2.5.1", "2.7"));
    assert_eq!(import.sets[0].collector.as_deref(), Some("N7"));
    let both = ORDER.replace("20260302080000|||", "20260302080000|||K12");
    assert_eq!(sound(&message(&[&both, segment, RESULT])).sets[0].collector.as_deref(), Some("K12"));
}

#[test]
fn messages_of_other_kinds_and_test_messages() {
    let order = message(&[ORDER, RESULT]).replace("ORU^R01^ORU_R01", "ORM^O01");
    let import = import(&order);
    assert_eq!(import.dropped[0].reason, "not a message of results (ORU)");
    notes_say(
        &sound(&message(&[ORDER, RESULT]).replace("|P|2.5.1", "|T|2.5.1")),
        "training or debugging (MSH-11)",
    );
}
