//! A short run of damaged files through every reader; `examples/fuzz_readers.rs` runs as long as one likes.

#[path = "support/fuzz.rs"]
mod fuzz;

use std::time::{Duration, Instant};

/// Enough to meet every kind of damage; the time only keeps a slow machine from waiting.
fn check(reader: fuzz::Reader) {
    let tally = fuzz::run(reader, 7, Instant::now() + Duration::from_secs(20), 400);
    assert!(tally.inputs >= 50, "{tally:?}");
    assert!(tally.sets > 0 && tally.unread > 0, "some are read and some are not: {tally:?}");
}

#[test]
fn messages() {
    check(fuzz::Reader::Hl7);
}

#[test]
fn resources() {
    check(fuzz::Reader::Fhir);
}

#[test]
fn tables() {
    check(fuzz::Reader::Csv);
}

#[test]
fn mappings() {
    check(fuzz::Reader::Mapping);
}
