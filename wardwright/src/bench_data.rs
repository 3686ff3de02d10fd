//! `wardwright bench-data`: a laboratory file as large as one likes, for measuring. Everything in it is invented.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use jiff::civil::{Date, date};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};

use crate::message::{Message, say};

/// Write an invented laboratory file of many sets, for measuring speed and size
///
/// One row for each bottle, and one more for each further isolate of a bottle. The same count and seed give the same
/// file. The mapping that reads it is written beside it. Everything in it is invented.
#[derive(Debug, Args)]
pub struct BenchDataArgs {
    /// How many sets, 1 to 50,000,000
    #[arg(value_name = "SETS", value_parser = clap::value_parser!(u64).range(1..=50_000_000))]
    sets: u64,
    /// File to write; the mapping goes beside it with the ending .toml
    #[arg(long, value_name = "FILE.csv")]
    into: PathBuf,
    /// Another seed gives other sets
    #[arg(long, default_value_t = 1)]
    seed: u64,
}

/// Writes the file and its mapping.
pub fn run(args: &BenchDataArgs) -> ExitCode {
    match write(args) {
        Ok(rows) => {
            say!("{}: {} invented sets in {rows} rows", args.into.display(), args.sets);
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

const COLUMNS: &str =
    "specimen,patient,collected,received,unit,collector,site,bottle,fill_ml,organism,status";

const MAPPING: &str = r#"# Reads a file written by wardwright bench-data. Invented.
schema = 1
name = "Larkfield laboratory, invented sets in bulk"
about = "Invented. One row for each bottle, and one more for each further isolate of a bottle."
date_formats = ["YYYY-MM-DD hh:mm"]
# Every set stands under one number.
split_sets = "leave"

[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
received = "received"
unit = "unit"
collector = "collector"
route = "site"
bottle = "bottle"
fill_ml = "fill_ml"
organism = "organism"
status = "status"
"#;

fn write(args: &BenchDataArgs) -> Result<u64, Message> {
    let cannot = |path: &Path, error: std::io::Error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be written: {error}"),
            "a place where a file of about 110 bytes for each row can be written",
            "choose another name or folder with --into, or make room",
        )
    };
    let mapping = args.into.with_extension("toml");
    if mapping == args.into {
        return Err(Message::new(
            args.into.display().to_string(),
            "a name that ends in .toml, which is the mapping's",
            "a name that ends in .csv",
            "choose another name with --into",
        ));
    }
    std::fs::write(&mapping, MAPPING).map_err(|error| cannot(&mapping, error))?;
    let file = File::create(&args.into).map_err(|error| cannot(&args.into, error))?;
    let mut out = BufWriter::with_capacity(1 << 20, file);
    Story::new(args.seed).tell(args.sets, &mut out).map_err(|error| cannot(&args.into, error))
}

/// First day of the story, and how many days its 60 months have.
const FIRST_DAY: Date = date(2020, 1, 1);
const DAYS: u64 = 1_827;
const MINUTES: u64 = DAYS * 24 * 60;

/// Skin commensals, by weight; the names are those of the NHSN list and common laboratory spellings.
const COMMENSALS: [(&str, u32); 7] = [
    ("Staphylococcus epidermidis", 42),
    ("Staphylococcus, coagulase negative", 26),
    ("Staphylococcus hominis", 11),
    ("Corynebacterium species", 8),
    ("Micrococcus luteus", 5),
    ("Cutibacterium acnes", 5),
    ("STAPH. EPIDERMIDIS", 3),
];
const PATHOGENS: [(&str, u32); 7] = [
    ("Escherichia coli", 30),
    ("Staphylococcus aureus", 24),
    ("Klebsiella pneumoniae", 16),
    ("Enterococcus faecalis", 12),
    ("Pseudomonas aeruginosa", 9),
    ("Candida albicans", 6),
    ("Streptococcus pneumoniae", 3),
];
const SITES: [(&str, u32); 4] =
    [("venepuncture", 74), ("central line", 14), ("arterial line", 8), ("cannula", 4)];
const N_UNITS: u32 = 12;
const N_COLLECTORS: u32 = 600;
/// Patients whose episodes lie close enough together to meet again.
const RECENT: usize = 4_096;

/// Episodes one after the other: a patient, one to three sets within a day, what grew.
struct Story {
    chance: ChaCha8Rng,
    days: Vec<String>,
    recent: Vec<u32>,
    next_patient: u32,
    row: Vec<u8>,
}

struct Draw {
    specimen: u64,
    patient: u32,
    minute: u64,
    organisms: Vec<&'static str>,
    both_bottles: bool,
}

impl Story {
    fn new(seed: u64) -> Self {
        // A week more than the story has, for blood that is received after the last day.
        let days = (0..DAYS as i64 + 7)
            .map(|day| FIRST_DAY.checked_add(jiff::Span::new().days(day)).unwrap_or(FIRST_DAY).to_string())
            .collect();
        Self {
            chance: ChaCha8Rng::seed_from_u64(seed),
            days,
            recent: Vec::new(),
            next_patient: 0,
            row: Vec::new(),
        }
    }

    fn tell(&mut self, sets: u64, out: &mut impl Write) -> std::io::Result<u64> {
        writeln!(out, "{COLUMNS}")?;
        let (mut told, mut rows) = (0, 0);
        while told < sets {
            let start = (u128::from(told) * u128::from(MINUTES) / u128::from(sets)) as u64;
            let n = match self.below(20) {
                0..4 => 1,
                4..17 => 2,
                _ => 3,
            };
            let n = sets.min(told + n) - told;
            let patient = self.patient();
            let grown = self.episode();
            for place in 0..n {
                let later = if place == 0 { 0 } else { u64::from(self.below(40 * 60)).saturating_sub(900) };
                let minute = (start + later).min(MINUTES - 1);
                let (organisms, both_bottles) = self.growth(grown);
                let draw = Draw { specimen: told, patient, minute, organisms, both_bottles };
                rows += self.set(&draw, out)?;
                told += 1;
            }
        }
        out.flush()?;
        Ok(rows)
    }

    /// A patient seen lately, in one episode of three; a new one otherwise.
    fn patient(&mut self) -> u32 {
        if self.recent.len() == RECENT && self.below(3) == 0 {
            let place = self.below(RECENT as u32) as usize;
            return self.recent[place];
        }
        let patient = self.next_patient;
        self.next_patient += 1;
        if self.recent.len() < RECENT {
            self.recent.push(patient);
        } else {
            self.recent[patient as usize % RECENT] = patient;
        }
        patient
    }

    /// What circulates in the patient's blood: in 8 episodes of 100 a pathogen, in 6 of 1,000 a commensal.
    fn episode(&mut self) -> Option<&'static str> {
        match self.below(1_000) {
            0..80 => Some(self.one_of(&PATHOGENS)),
            80..86 => Some(self.one_of(&COMMENSALS)),
            _ => None,
        }
    }

    /// What grows in one set: what circulates, four times of five, and what came from the skin, in 23 sets of 1,000.
    fn growth(&mut self, circulates: Option<&'static str>) -> (Vec<&'static str>, bool) {
        let mut organisms = Vec::new();
        let mut both_bottles = false;
        if let Some(organism) = circulates
            && self.below(5) > 0
        {
            organisms.push(organism);
            both_bottles = self.below(10) < 7;
        }
        if self.below(1_000) < 23 {
            organisms.push(self.one_of(&COMMENSALS));
            if self.below(20) == 0 {
                organisms.push(self.one_of(&COMMENSALS));
            }
            both_bottles |= self.below(10) == 0;
        }
        (organisms, both_bottles)
    }

    /// Writes the rows of one set and says how many they were.
    fn set(&mut self, draw: &Draw, out: &mut impl Write) -> std::io::Result<u64> {
        let unit = self.below(N_UNITS) + 1;
        let collector = (self.below(100) >= 4).then(|| self.below(N_COLLECTORS) / N_UNITS * N_UNITS + unit);
        let site = self.one_of(&SITES);
        // In one set of 2,000 the clock of the ward runs ahead and the blood is received before it was drawn.
        let ahead = self.below(2_000) == 0;
        let carried = u64::from(self.below(160) + 20);
        let received = if ahead { draw.minute.saturating_sub(carried) } else { draw.minute + carried };
        let status = if self.below(250) == 0 { "cancelled" } else { "final" };
        let grew_in = if draw.both_bottles { 2 } else { 1 };
        let first = self.below(2);
        let n_bottles = if self.below(100) == 0 { 1 } else { 2 };
        let mut rows = 0;
        for bottle in 0..n_bottles {
            let fill_tenths = 55 + self.below(30) + self.below(30);
            let grew = bottle < grew_in && !draw.organisms.is_empty() && status == "final";
            let organisms: &[&str] = if grew { &draw.organisms } else { &["No growth after 5 days"] };
            for organism in organisms {
                self.row.clear();
                let kind = if (bottle + first).is_multiple_of(2) { "aerobic" } else { "anaerobic" };
                write!(self.row, "B{:09},P{:08},", draw.specimen + 1, draw.patient + 1)?;
                self.time(draw.minute);
                self.time(received);
                write!(self.row, "Unit {unit:02},")?;
                if let Some(collector) = collector {
                    write!(self.row, "C{collector:04}")?;
                }
                let (whole, tenth) = (fill_tenths / 10, fill_tenths % 10);
                // A name with a comma in it stands in quotation marks, as RFC 4180 says.
                let mark = if organism.contains(',') { "\"" } else { "" };
                writeln!(self.row, ",{site},{kind},{whole}.{tenth},{mark}{organism}{mark},{status}")?;
                out.write_all(&self.row)?;
                rows += 1;
                // The interface sent one row of 4,000 twice.
                if self.below(4_000) == 0 {
                    out.write_all(&self.row)?;
                    rows += 1;
                }
            }
        }
        Ok(rows)
    }

    fn time(&mut self, minute: u64) {
        let day = self.days.get((minute / 1_440) as usize).map_or("", String::as_str);
        // Writing into a vector cannot fail.
        let _ = write!(self.row, "{day} {:02}:{:02},", minute / 60 % 24, minute % 60);
    }

    fn one_of(&mut self, weighted: &[(&'static str, u32)]) -> &'static str {
        let total = weighted.iter().map(|(_, weight)| weight).sum();
        let mut left = self.below(total);
        for (name, weight) in weighted {
            if left < *weight {
                return name;
            }
            left -= weight;
        }
        ""
    }

    /// A whole number from 0 up to, not including, `bound`. Multiply and shift (Lemire 2019).
    fn below(&mut self, bound: u32) -> u32 {
        ((u64::from(self.chance.next_u32()) * u64::from(bound)) >> 32) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(sets: u64, seed: u64) -> String {
        let mut out = Vec::new();
        Story::new(seed).tell(sets, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn the_same_seed_gives_the_same_file() {
        assert_eq!(told(2_000, 1), told(2_000, 1));
        assert_ne!(told(2_000, 1), told(2_000, 2));
    }

    #[test]
    fn every_set_is_there_and_none_more() {
        let text = told(5_000, 3);
        let specimens: std::collections::BTreeSet<&str> =
            text.lines().skip(1).map(|line| line.split(',').next().unwrap()).collect();
        assert_eq!(specimens.len(), 5_000);
        assert_eq!(specimens.last(), Some(&"B000005000"));
    }
}
