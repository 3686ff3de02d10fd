//! Damaged files for the readers: files that are sound, changed again and again.
//!
//! Used by the test `damaged_files` for seconds and by the example `fuzz_readers` for as long as one likes. A run is
//! told by its reader, seed and number: the same three give the same bytes.

#![allow(dead_code, reason = "the test and the example each use a part")]

use std::fmt::Write as _;
use std::path::PathBuf;
use std::time::Instant;

use exchange::laboratory::acknowledge::{
    ErrorCode, Manner, Problem, Reply, acknowledge, identity, split_messages,
};
use exchange::laboratory::mllp::{Frame, Frames};
use exchange::laboratory::{Import, InputFile, Mapping, PatientHashKey, read};
use jiff::civil::{Date, date};

/// Stands for the patient in every file that is made here, and must never be said.
pub const IDENTIFIER: &str = "QX4711770";

const TODAY: Date = date(2026, 4, 30);

/// What is fuzzed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reader {
    Hl7,
    Fhir,
    Csv,
    Mapping,
}

impl Reader {
    pub fn named(name: &str) -> Option<Self> {
        match name {
            "hl7" => Some(Self::Hl7),
            "fhir" => Some(Self::Fhir),
            "csv" => Some(Self::Csv),
            "mapping" => Some(Self::Mapping),
            _ => None,
        }
    }
}

/// A small generator of numbers (SplitMix64; Steele, Lea and Flood 2014), so that a seed tells a whole run.
#[derive(Debug, Clone)]
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// From 0 to below `end`; 0 where `end` is 0.
    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % (end.max(1) as u64)).unwrap_or_default()
    }

    fn one_of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

/// What one run did.
#[derive(Debug, Default)]
pub struct Tally {
    pub inputs: u64,
    pub bytes: u64,
    pub sets: u64,
    pub unread: u64,
    pub slowest_ms: u128,
    pub identifier_checks: u64,
}

/// Runs damaged files through one reader until `until` or `most` inputs; panics where something is wrong.
pub fn run(reader: Reader, seed: u64, until: Instant, most: u64) -> Tally {
    let seeds = sound_files(reader);
    let mut tally = Tally::default();
    let mut number = 0;
    while number < most && Instant::now() < until {
        let mut random = Random(seed ^ number.wrapping_mul(0xD1B5_4A32_D192_ED03));
        let bytes = damaged(reader, &seeds, &mut random);
        let begun = Instant::now();
        let outcome = std::panic::catch_unwind(|| check(reader, &bytes));
        match outcome {
            Ok((n_sets, n_unread, checked)) => {
                tally.sets += n_sets;
                tally.unread += n_unread;
                tally.identifier_checks += u64::from(checked);
            }
            Err(_) => {
                let path = std::env::temp_dir().join(format!("wardwright-fuzz-{reader:?}-{seed}-{number}"));
                let _ = std::fs::write(&path, &bytes);
                panic!(
                    "{reader:?}, seed {seed}, input {number}: see above; the bytes are in {}",
                    path.display()
                );
            }
        }
        tally.slowest_ms = tally.slowest_ms.max(begun.elapsed().as_millis());
        tally.inputs += 1;
        tally.bytes += bytes.len() as u64;
        number += 1;
    }
    tally
}

fn key() -> PatientHashKey {
    PatientHashKey::new(b"a key that is used by tests only").unwrap_or_else(|error| panic!("{error}"))
}

fn import(bytes: &[u8], mapping: &Mapping) -> Import {
    let import = read(&[InputFile { name: "file", bytes }], mapping, &[], &key(), TODAY);
    for file in &import.counts {
        assert_eq!(file.rows, file.kept + file.dropped + file.unread, "{file:?}");
    }
    import
}

fn said(import: &Import) -> String {
    let mut said = String::new();
    for unread in &import.unread {
        let _ = writeln!(said, "{unread}");
    }
    for note in &import.notes {
        let _ = writeln!(said, "{}", note.text);
    }
    for dropped in &import.dropped {
        let _ = writeln!(said, "{}", dropped.reason);
    }
    said
}

/// Sets read, rows unread, and whether it could be checked that the patient's identifier is not said.
fn check(reader: Reader, bytes: &[u8]) -> (u64, u64, bool) {
    match reader {
        Reader::Hl7 => {
            let import = import(bytes, &Mapping::for_messages());
            let checkable = is_only_the_patients(bytes);
            if checkable {
                assert!(!said(&import).contains(IDENTIFIER), "the identifier is said: {}", said(&import));
            }
            on_the_wire(bytes, &import, checkable);
            (import.sets.len() as u64, import.unread.len() as u64, checkable)
        }
        Reader::Fhir => {
            let import = import(bytes, &Mapping::for_messages());
            let count = bytes.windows(IDENTIFIER.len()).filter(|part| *part == IDENTIFIER.as_bytes()).count();
            let checkable = count == 1;
            if checkable {
                assert!(!said(&import).contains(IDENTIFIER), "the identifier is said: {}", said(&import));
            }
            (import.sets.len() as u64, import.unread.len() as u64, checkable)
        }
        Reader::Csv => {
            let mapping = Mapping::from_toml(TABLE_MAPPING).unwrap_or_else(|error| panic!("{error}"));
            let import = import(bytes, &mapping);
            (import.sets.len() as u64, import.unread.len() as u64, false)
        }
        Reader::Mapping => match Mapping::from_toml(&String::from_utf8_lossy(bytes)) {
            Ok(mapping) => {
                let import = import(TABLE.as_bytes(), &mapping);
                (import.sets.len() as u64, import.unread.len() as u64, false)
            }
            Err(error) => {
                assert!(!error.to_string().is_empty());
                (0, 1, false)
            }
        },
    }
}

/// The same bytes as they would come over a connection: frames, answers, identities.
fn on_the_wire(bytes: &[u8], import: &Import, checkable: bool) {
    let mut frames = Frames::new(1 << 16);
    for chunk in bytes.chunks(1 + bytes.len() % 997) {
        frames.push(chunk);
    }
    frames.close();
    while let Some(frame) = frames.next_frame() {
        if let Frame::Message(message) | Frame::Unfinished(message) | Frame::TooLong { start: message, .. } =
            frame
        {
            assert!(message.len() <= 1 << 16);
        }
    }
    let messages = split_messages(bytes);
    assert_eq!(messages.concat(), bytes, "no byte is lost between messages");
    let now = TODAY.at(8, 0, 0, 0);
    let problem = import.unread.first().map_or(Problem::new(ErrorCode::Internal, "none"), Problem::of);
    for message in messages.into_iter().take(50) {
        let known = identity(message, &key());
        assert_eq!(known.digest.len(), 64);
        for answer in acknowledge(message, &Reply::Error(problem.clone()), Manner::Always, "A1", now) {
            assert!(answer.starts_with(b"MSH") && answer.ends_with(b"\r"));
            assert_eq!(answer.iter().filter(|&&byte| byte == b'\r').count(), 3, "MSH, MSA and ERR");
            let text = String::from_utf8_lossy(&answer);
            let of_error = text.rsplit("ERR").next().unwrap_or_default();
            assert!(!checkable || !of_error.contains(IDENTIFIER), "{text}");
        }
    }
}

/// Whether the identifier stands nowhere but in the patient's segment or in a line that is no segment.
fn is_only_the_patients(bytes: &[u8]) -> bool {
    let mut found = false;
    for line in bytes.split(|byte| matches!(byte, b'\r' | b'\n')) {
        if line.windows(IDENTIFIER.len()).any(|part| part == IDENTIFIER.as_bytes()) {
            found = true;
            let known = [b"MSH", b"ORC", b"OBR", b"OBX", b"SPM", b"PV1"];
            if known.iter().any(|name| line.windows(3).any(|part| part == *name)) {
                return false;
            }
        }
    }
    found
}

const TABLE_MAPPING: &str = "schema = 1\nname = \"fuzz\"\ndate_formats = [\"YYYY-MM-DD hh:mm\", \"DD.MM.YYYY\"]\n\
    organism_separator = \";\"\n[columns]\nspecimen = \"specimen\"\npatient = \"patient\"\ncollected = \"collected\"\n\
    organism = \"organism\"\nstatus = \"status\"\nfill_ml = \"fill\"\nbottle = \"bottle\"\nage_years = \"age\"\n";

const TABLE: &str = "specimen,patient,collected,organism,status,fill,bottle,age\n\
    S1,QX4711770,2026-03-02 08:00,\"Staphylococcus epidermidis; E. coli\",F,8.5,aerobic,61\n\
    S1,QX4711770,2026-03-02 08:00,,F,7,anaerobic,61\n\
    S2,p2,02.03.2026,no growth,P,,,\n\"S3\",p3,2026-03-02 23:59,\"two\nlines\",C,9,aerobic,0.5\n";

const BATCH: &str = "FHS|^~\\&|LAB\rBHS|^~\\&|LAB\rMSH|^~\\&#|LAB|NORTH|WARD|SOUTH|20260304080000+0100||ORU^R01^ORU_R01|C1|P|2.5.1||||||UNICODE UTF-8\r\
    PID|1||QX4711770^^^LAB^MR~9^^^X||Invented^Person||19500101|F\rPV1|1|I|ICU-2^4^1\r\
    ORC|RE|P1|F1|G1^77\rOBR|1|P1|F1|600-7^Blood culture^LN|||20260302080000+0100||20^mL|K12^Name||||20260302090000||||||||20260304070000||MB|F\r\
    OBX|1|CWE|600-7^Blood culture^LN|1|1^Staphylococcus \\T\\ epidermidis^SCT||||||F|||20260303\r\
    OBX|2|FT|664-3^Gram^LN|2|Gram \\H\\positive\\N\\\\.br\\cocci \\XE9\\||||||P\rNTE|1|L|text\r\
    SPM|1|W1^L1||119297000^Blood^SCT|||BCAE^Aerobic|RA||||P|9.5^mL|||||20260302081500^20260302081600|20260302090000||||||||1\r\
    OBR|2|P1|F2|18769-0^Susceptibility^LN|||20260303|||||||||||||||||||P|600-7&&LN^1^Staphylococcus|||P1^F1\rOBX|1|SN|28-1^Amp^LN|1|>^32|ug/mL||R|||F\r\
    MSH|^~\\&|LAB|||ICU|20260305||ORU^R01|C2|P|2.3\rPID|1|QX4711770\rOBR|1||F1|BC^BLOOD CULTURE^L^17934-1|||202603020800|||||||||BLDV&Blood^^^RA^^BCAN|||||||||P\r\
    OBX|1|ST|17934-1^x^LN||No growth\rat 2 days||||||P\rBTS|2\rFTS|1\r";

const BUNDLE: &str = r##"{"resourceType":"Bundle","type":"message","entry":[
{"fullUrl":"urn:uuid:p","resource":{"resourceType":"Patient","id":"p","identifier":[{"type":{"coding":[{"code":"MR"}]},"value":"QX4711770"}],"birthDate":"1950-01-01"}},
{"fullUrl":"urn:uuid:d","resource":{"resourceType":"DiagnosticReport","id":"d","status":"final","code":{"coding":[{"system":"http://loinc.org","code":"600-7"}]},"subject":{"reference":"urn:uuid:p"},"issued":"2026-03-04T08:00:00Z","specimen":[{"reference":"#s"}],"result":[{"reference":"Observation/o"}],"encounter":{"reference":"Encounter/e"},"contained":[{"resourceType":"Specimen","id":"s","accessionIdentifier":{"value":"L1"},"type":{"coding":[{"code":"119297000"}]},"receivedTime":"2026-03-02T09:00:00+01:00","collection":{"collectedDateTime":"2026-03-02T08:15:00+01:00","quantity":{"value":9.5,"unit":"mL"},"method":{"coding":[{"code":"BCAE"}]},"collector":{"display":"K12"}},"container":[{"type":{"text":"aerobic"},"specimenQuantity":{"value":8,"code":"mL"}}]}]}},
{"resource":{"resourceType":"Observation","id":"o","status":"final","code":{"coding":[{"code":"600-7"}]},"hasMember":[{"reference":"Observation/m"}],"component":[{"code":{"coding":[{"code":"634-6"}]},"valueString":"Candida albicans"}],"valueCodeableConcept":{"coding":[{"code":"1","display":"Staphylococcus aureus"}]}}},
{"resource":{"resourceType":"Observation","id":"m","status":"corrected","code":{"coding":[{"code":"664-3"}]},"derivedFrom":[{"reference":"Observation/o"}],"valueString":"Gram positive cocci"}},
{"resource":{"resourceType":"Encounter","id":"e","location":[{"location":{"display":"ICU-2"},"period":{"start":"2026-03-01"}}]}}]}"##;

fn sound_files(reader: Reader) -> Vec<Vec<u8>> {
    let mut files: Vec<Vec<u8>> = match reader {
        Reader::Hl7 => {
            vec![BATCH.into(), BATCH.replace('\r', "\r\n").into(), format!("\u{b}{BATCH}\u{1c}\r").into()]
        }
        Reader::Fhir => {
            let lines = BUNDLE.lines().skip(1).filter_map(|line| {
                let resource = line.split_once("\"resource\":")?.1.trim_end_matches(['}', ',', ']']);
                Some(format!("{resource}}}"))
            });
            vec![BUNDLE.into(), lines.collect::<Vec<_>>().join("\n").into(), BUNDLE.replace('\n', "").into()]
        }
        Reader::Csv => vec![TABLE.into(), TABLE.replace(',', ";").into(), TABLE.replace('\n', "\r\n").into()],
        Reader::Mapping => {
            let page = include_str!("../../../../docs/mapping.md");
            let example = page.split("```toml").nth(1).and_then(|rest| rest.split("```").next());
            vec![TABLE_MAPPING.into(), example.unwrap_or_default().into()]
        }
    };
    let folder = match reader {
        Reader::Hl7 => "hl7v2-oru-micro",
        Reader::Fhir => "fhir-r4-micro",
        Reader::Csv | Reader::Mapping => return files,
    };
    let root = std::env::var_os("WARDWRIGHT_OPEN_DATA").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"),
        PathBuf::from,
    );
    let mut paths: Vec<PathBuf> = std::fs::read_dir(root.join(folder))
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|kind| kind == "hl7" || kind == "json"))
        .collect();
    paths.sort();
    files.extend(paths.iter().filter_map(|path| std::fs::read(path).ok()));
    files
}

const TOKENS: [&[u8]; 44] = [
    b"|",
    b"^",
    b"~",
    b"\\",
    b"&",
    b"#",
    b"\r",
    b"\n",
    b"\r\n",
    b"\x0B",
    b"\x1C\r",
    b"\"\"",
    b"\\X",
    b"\\XC3\\",
    b"\\.br\\",
    b"\\.sp99999\\",
    b"MSH|^~\\&|",
    b"MSH",
    b"FHS|",
    b"BTS|999999999999999999999|",
    b"OBR|1||",
    b"OBX|1|",
    b"SPM|1|",
    b"PID|",
    b"20260302080000+9999",
    b"99999999999999",
    b"-1",
    b"1e999",
    b"{",
    b"}",
    b"[",
    b"]",
    b":",
    b",",
    b"null",
    b"\"resourceType\"",
    b"\"reference\":\"#s\"",
    b"\xFF\xFE",
    b"\xEF\xBB\xBF",
    b"\x00",
    b"\xED\xA0\x80",
    b"UNICODE UTF-16",
    b"= [[",
    b"'''",
];

fn damaged(reader: Reader, seeds: &[Vec<u8>], random: &mut Random) -> Vec<u8> {
    let mut bytes = seeds[random.below(seeds.len())].clone();
    if bytes.len() > 20_000 && random.below(4) > 0 {
        // A part of a large file is damaged faster and as well.
        let start = random.below(bytes.len() - 20_000);
        bytes = bytes[start..].to_vec();
        bytes.truncate(20_000);
        if reader == Reader::Hl7 {
            bytes.splice(0..0, b"MSH|^~\\&|LAB|||ICU|20260304||ORU^R01|C|P|2.5.1\r".iter().copied());
        }
    }
    for _ in 0..=random.below(12) {
        let at = random.below(bytes.len() + 1);
        let length = random.below(40).min(bytes.len() - at);
        match random.below(12) {
            0 if at < bytes.len() => bytes[at] ^= 1 << random.below(8),
            1 if at < bytes.len() => bytes[at] = random.below(256) as u8,
            2 | 3 => drop(bytes.splice(at..at, random.one_of(&TOKENS).iter().copied())),
            4 => drop(bytes.drain(at..at + length)),
            5 => bytes.truncate(at),
            6 => {
                let part = bytes[at..at + length].to_vec();
                let to = random.below(bytes.len() + 1);
                bytes.splice(to..to, part);
            }
            7 => {
                let part = bytes[at..at + length].repeat(random.below(200));
                bytes.splice(at..at, part);
            }
            8 => {
                let other = &seeds[random.below(seeds.len())];
                let from = random.below(other.len());
                let part = &other[from..other.len().min(from + random.below(400))];
                bytes.splice(at..at, part.iter().copied());
            }
            9 => {
                let deep = random.one_of(&[b"[".as_slice(), b"{\"a\":", b"\\F", b"~", b"\"", b"[a."]);
                bytes.splice(at..at, deep.repeat(random.below(3_000)));
            }
            10 => {
                // A line comes again, or goes.
                let start = bytes[..at].iter().rposition(|byte| *byte == b'\r').map_or(0, |place| place + 1);
                let end =
                    bytes[at..].iter().position(|byte| *byte == b'\r').map_or(bytes.len(), |n| at + n + 1);
                let line = bytes[start..end].to_vec();
                if random.below(2) == 0 && !line.starts_with(b"PID") {
                    bytes.splice(start..start, line);
                } else {
                    bytes.drain(start..end);
                }
            }
            _ => {
                let number = random.next().to_string();
                bytes.splice(at..at, number.bytes());
            }
        }
    }
    bytes.truncate(2 << 20);
    bytes
}
