//! An invented laboratory: messages, a clock that stands still, a book in a folder.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]
#![expect(dead_code, reason = "each test file uses its own part")]

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use book::{SqliteBook, Store as _};
use culture::{RuleSet, SetId};
use door::{Arrival, Clock, Door, Moment, Terms};
use exchange::laboratory::Mapping;
use exchange::laboratory::mllp::{Frame, Frames, frame};
use jiff::Timestamp;
use jiff::civil::{Date, date};
use practice::PersonId;
use uuid::Uuid;

pub const KEY: [u8; 32] = [9; 32];

pub fn terms(mapping: Mapping) -> Terms {
    Terms {
        rules: RuleSet::ready("adult-24h").unwrap(),
        mapping,
        companions: Vec::new(),
        patient_key: KEY.to_vec(),
        by: PersonId("T-01".to_owned()),
    }
}

pub fn open(book: &Path) -> Door<SqliteBook> {
    Door::open(SqliteBook::open_or_create(book).unwrap(), terms(Mapping::for_messages())).unwrap()
}

/// 2026-03-20, nine in the morning.
pub fn moment() -> Moment {
    moment_on(date(2026, 3, 20))
}

pub fn moment_on(today: Date) -> Moment {
    Moment {
        local: today.at(9, 0, 0, 0),
        at: "2026-03-20T08:00:00Z".parse::<Timestamp>().unwrap(),
        today,
        id: Uuid::now_v7(),
    }
}

pub fn clock() -> Arc<Clock> {
    Arc::new(moment)
}

pub fn arrival(message: &str) -> Arrival {
    Arrival { bytes: message.as_bytes().to_vec(), source: "an invented laboratory".to_owned(), fault: None }
}

/// One message on one set of one patient.
#[derive(Clone)]
pub struct Said<'a> {
    pub control: &'a str,
    pub specimen: &'a str,
    pub patient: &'a str,
    /// When the message was made, which tells the later from the earlier: "20260311080000".
    pub made: &'a str,
    pub collected: &'a str,
    /// P, F or C.
    pub status: &'a str,
    /// Sub-identifier and organism of each result; none is no growth.
    pub results: &'a [(&'a str, &'a str)],
}

pub const SAID: Said<'_> = Said {
    control: "1",
    specimen: "S-1",
    patient: "4711",
    made: "20260311080000",
    collected: "202603100410",
    status: "F",
    results: &[],
};

impl Said<'_> {
    /// The message with segments as HL7 v2.5.1, chapter 7, numbers their fields.
    pub fn message(&self) -> String {
        let Said { control, specimen, patient, made, collected, status, results } = self;
        let mut segments = vec![
            format!("MSH|^~\\&|LAB|NORTH|WARD|ICU|{made}||ORU^R01^ORU_R01|{control}|P|2.5.1"),
            format!("PID|1||{patient}^^^NORTH^MR||VERYINVENTED^PERSON||19600101|F"),
            "PV1|1|I|ICU".to_owned(),
            format!(
                "OBR|1|{specimen}|{specimen}|600-7^Blood culture^LN|||{collected}|||N-03||||||||||||{made}||LAB|{status}"
            ),
        ];
        if results.is_empty() {
            segments.push(format!("OBX|1|ST|600-7^Bacteria identified^LN|1|No growth||||||{status}"));
        }
        for (place, (sub, organism)) in results.iter().enumerate() {
            segments.push(format!(
                "OBX|{}|ST|600-7^Bacteria identified^LN|{sub}|{organism}||||||{status}",
                place + 1
            ));
        }
        segments.push(format!("SPM|1|{specimen}||BLD^Blood^HL70487|||||||||||||{collected}|{collected}"));
        segments.iter().map(|segment| format!("{segment}\r")).collect()
    }
}

/// What the book says of a set: verdict of each version, and the organisms of the last.
pub fn versions(door: &Door<SqliteBook>, specimen: &str) -> (Vec<String>, Vec<String>) {
    let versions = door.store().set_versions(&SetId(specimen.to_owned())).unwrap();
    let verdicts = versions.iter().map(|version| version.verdict.clone()).collect();
    let organisms = versions
        .last()
        .map(|version| version.set.isolates.iter().map(|isolate| isolate.reported_name.clone()).collect());
    (verdicts, organisms.unwrap_or_default())
}

/// A sender on the wire.
pub struct Sender {
    stream: TcpStream,
    frames: Frames,
}

impl Sender {
    pub fn connect(address: SocketAddr) -> std::io::Result<Sender> {
        let stream = TcpStream::connect(address)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        Ok(Sender { stream, frames: Frames::new(1 << 20) })
    }

    pub fn send(&mut self, message: &str) -> std::io::Result<()> {
        self.stream.write_all(&frame(message.as_bytes()))
    }

    pub fn send_bytes(&mut self, bytes: &[u8]) -> std::io::Result<()> {
        self.stream.write_all(bytes)
    }

    /// The next answer: MSA-1 and MSA-2. Nothing when the listener has closed.
    pub fn answer(&mut self) -> Option<(String, String)> {
        loop {
            if let Some(Frame::Message(bytes)) = self.frames.next_frame() {
                let text = String::from_utf8(bytes).unwrap();
                let msa = text.split('\r').find(|segment| segment.starts_with("MSA")).unwrap().to_owned();
                let mut fields = msa.split('|').skip(1).map(str::to_owned);
                return Some((fields.next().unwrap_or_default(), fields.next().unwrap_or_default()));
            }
            let mut buffer = [0; 4_096];
            match self.stream.read(&mut buffer) {
                Ok(0) | Err(_) => return None,
                Ok(n_bytes) => self.frames.push(&buffer[..n_bytes]),
            }
        }
    }
}
