//! Runs damaged files through a reader for a while.
//!
//!     cargo run --release -p wardwright-exchange --example fuzz_readers -- hl7 600 1
//!
//! Reader (hl7, fhir, csv, mapping), seconds and seed. It stops at the first panic, at counts that do not add up, at a
//! patient's identifier in a message, and at a peak of memory above 600 MB; the damaged file is then in the folder for
//! temporary files.

#[path = "../tests/support/fuzz.rs"]
mod fuzz;

use std::process::ExitCode;
use std::time::{Duration, Instant};

const MOST_MEMORY_KB: u64 = 600_000;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let reader = arguments.next().as_deref().and_then(fuzz::Reader::named);
    let seconds = arguments.next().and_then(|text| text.parse::<u64>().ok());
    let seed = arguments.next().and_then(|text| text.parse::<u64>().ok());
    let (Some(reader), Some(seconds)) = (reader, seconds) else {
        eprintln!("expected: fuzz_readers hl7|fhir|csv|mapping SECONDS [SEED]");
        return ExitCode::from(2);
    };
    let seed = seed.unwrap_or(1);
    let begun = Instant::now();
    let tally = fuzz::run(reader, seed, begun + Duration::from_secs(seconds), u64::MAX);
    let memory = peak_memory_kb();
    println!(
        "{reader:?}, seed {seed}: {} files of {} bytes in {} s; {} sets, {} faults, {} times the identifier was looked for; slowest {} ms; peak memory {}",
        tally.inputs,
        tally.bytes,
        begun.elapsed().as_secs(),
        tally.sets,
        tally.unread,
        tally.identifier_checks,
        tally.slowest_ms,
        memory.map_or("not known".to_owned(), |kb| format!("{} MB", kb / 1_000)),
    );
    if memory.is_some_and(|kb| kb > MOST_MEMORY_KB) {
        eprintln!("more than {} MB of memory", MOST_MEMORY_KB / 1_000);
        return ExitCode::FAILURE;
    }
    ExitCode::SUCCESS
}

/// The most memory this process had, where the system says it (Linux).
fn peak_memory_kb() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
