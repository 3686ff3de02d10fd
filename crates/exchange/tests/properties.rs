//! No bytes make a reader panic, and no row is lost.

mod support;

use exchange::laboratory::{InputFile, Mapping, read};
use proptest::prelude::*;
use support::{MAPPING, TODAY, every_row_is_accounted_for, key, mapping, read_one};

const HL7: &str = "MSH|^~\\&#|LAB|||ICU|20260302||ORU^R01|1|P|2.5.1\rPID|1||77^^^^MR||||19700101\r\
    OBR|1||A1|600-7^Blood culture^LN|||20260302080000|||||||||||||||||F\r\
    OBX|1|CWE|600-7^Blood culture^LN|1|1^Staphylococcus epidermidis^SCT||||||F\rSPM|1|^SP1||119297000\r";

const FHIR: &str = r#"{"resourceType":"Bundle","entry":[{"fullUrl":"x","resource":{"resourceType":"Observation","id":"o",
    "code":{"coding":[{"code":"600-7"}]},"subject":{"reference":"Patient/p"},"effectiveDateTime":"2026-03-02T08:00:00Z",
    "valueCodeableConcept":{"coding":[{"code":"1","display":"Staphylococcus aureus"}]},"status":"final"}}]}"#;

/// A good text with some bytes put in, taken out or exchanged.
fn damaged(text: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let change = (any::<prop::sample::Index>(), any::<u8>(), 0_u8..3);
    prop::collection::vec(change, 0..12).prop_map(move |changes| {
        let mut bytes = text.as_bytes().to_vec();
        for (place, byte, how) in changes {
            if bytes.is_empty() {
                break;
            }
            let place = place.index(bytes.len());
            match how {
                0 => bytes[place] = byte,
                1 => bytes.insert(place, byte),
                _ => drop(bytes.remove(place)),
            }
        }
        bytes
    })
}

fn all_readers_take(bytes: &[u8]) {
    every_row_is_accounted_for(&read_one(bytes, MAPPING));
    let files = [InputFile { name: "messages", bytes }];
    every_row_is_accounted_for(&read(&files, &Mapping::for_messages(), &[], &key(), TODAY));
    let shifted = mapping(&format!("dates = \"shifted\"\n{MAPPING}"));
    let companions = [InputFile { name: "stays.csv", bytes }];
    every_row_is_accounted_for(&read(&files, &shifted, &companions, &key(), TODAY));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        all_readers_take(&bytes);
    }

    #[test]
    fn any_bytes_that_start_like_a_known_kind(start in 0_usize..6, bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let starts: [&[u8]; 6] = [b"MSH|^~\\&|", b"FHS|^~\\&\rMSH", b"{\"resourceType\":\"Bundle\",\"entry\":[", b"PK\x03\x04", b"specimen,patient,collected,organism\n", b"[{"];
        all_readers_take(&[starts[start], &bytes].concat());
    }

    #[test]
    fn damaged_messages(bytes in damaged(HL7)) {
        all_readers_take(&bytes);
    }

    #[test]
    fn damaged_resources(bytes in damaged(FHIR)) {
        all_readers_take(&bytes);
    }

    #[test]
    fn damaged_tables(bytes in damaged("specimen,patient,collected,organism\nS1,p1,2026-03-02 08:00,\"CoNS\"\nS2,p1,2026-03-02 08:20,\n")) {
        all_readers_take(&bytes);
    }

    #[test]
    fn damaged_mappings(bytes in damaged(MAPPING)) {
        let _ = Mapping::from_toml(&String::from_utf8_lossy(&bytes));
    }
}

/// The undamaged texts are read, so that the damaged ones start from something.
#[test]
fn the_starting_points_are_sound() {
    for text in [HL7, FHIR] {
        let files = [InputFile { name: "messages", bytes: text.as_bytes() }];
        let import = read(&files, &Mapping::for_messages(), &[], &key(), TODAY);
        assert_eq!(import.sets.len(), 1, "{import:?}");
        assert_eq!(import.sets[0].isolates.len(), 1);
    }
}

/// Deep nesting must not use up the stack.
#[test]
fn deep_json_is_refused() {
    let deep = format!("{}{}", "[".repeat(100_000), "]".repeat(100_000));
    all_readers_take(deep.as_bytes());
    let deep = format!(
        "{{\"resourceType\":\"Bundle\",\"entry\":{}",
        "[{\"resource\":{\"resourceType\":\"Bundle\",\"entry\":".repeat(10_000)
    );
    all_readers_take(deep.as_bytes());
}
