//! How many messages a second the listener takes in, each acknowledged after it is on the disk.
//!
//! `cargo bench -p wardwright-door --bench feed` prints, for one sender that waits for each answer, for one that sends
//! ahead, and for many that wait: acknowledged messages per second, with the commits behind them. The folder for the
//! books is made in the working folder, so that a real disk is measured and not memory; `WARDWRIGHT_BENCH_FOLDER`
//! names another. The disk's own limit is printed beside: how often one small write can be made durable in a second.
//!
//! With a number as argument it measures the book instead: a file of so many sets into an empty book, then one of 5,000
//! sets of the next month, with the time on the clock and the time of the processor, which differ on a busy machine.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use book::{SqliteBook, Store as _};
use culture::RuleSet;
use door::{Clock, Door, LaboratoryFile, Limits, Listened, Moment, Terms, listen};
use exchange::laboratory::Mapping;
use exchange::laboratory::mllp::frame;
use jiff::Timestamp;
use jiff::civil::date;
use practice::PersonId;

const N_MESSAGES: usize = 10_000;

fn main() {
    let base = std::env::var_os("WARDWRIGHT_BENCH_FOLDER").map_or_else(|| PathBuf::from("."), PathBuf::from);
    let folder = tempfile::tempdir_in(base).expect("a folder for the books");
    let n_sets = std::env::args().skip(1).find_map(|argument| argument.parse::<usize>().ok());
    if let Some(n_sets) = n_sets {
        months(folder.path(), n_sets);
        return;
    }
    println!("one durable write of 4 KiB: {:.0} a second", durable_writes(folder.path()));
    // One message is 590 bytes: a set with one organism, by specimen number.
    for (name, n_senders, ahead) in [
        ("one sender that waits for each answer", 1, 1),
        ("one sender, up to 64 messages ahead", 1, 64),
        ("one sender, up to 512 messages ahead", 1, 512),
        ("16 senders that wait for each answer", 16, 1),
        ("64 senders that wait for each answer", 64, 1),
    ] {
        let book = folder.path().join(format!("{n_senders}-{ahead}.sqlite"));
        let (seconds, listened) = feed(&book, n_senders, ahead);
        println!(
            "{name}: {:.0} messages a second ({} messages, {} commits)",
            N_MESSAGES as f64 / seconds,
            listened.taken_in,
            listened.commits
        );
        assert_eq!(listened.taken_in as usize, N_MESSAGES);
    }
}

fn durable_writes(folder: &Path) -> f64 {
    let mut file = std::fs::File::create(folder.join("durable")).expect("a file");
    let started = Instant::now();
    for _ in 0..500 {
        file.write_all(&[7; 4096]).and_then(|()| file.sync_data()).expect("a durable write");
    }
    500.0 / started.elapsed().as_secs_f64()
}

fn clock() -> Arc<Clock> {
    // Identifiers count up, and the moment stands still: what is measured is the door.
    let next = AtomicU64::new(0);
    Arc::new(move || {
        let number = next.fetch_add(1, Ordering::Relaxed);
        let mut tail = [0; 10];
        tail[2..].copy_from_slice(&number.to_be_bytes());
        Moment {
            local: date(2026, 3, 20).at(9, 0, 0, 0),
            at: Timestamp::new(1_773_997_200, 0).expect("a moment"),
            today: date(2026, 12, 31),
            id: uuid::Builder::from_unix_timestamp_millis(1_773_997_200_000, &tail).into_uuid(),
        }
    })
}

fn door(book: &Path, mapping: Mapping) -> Door<SqliteBook> {
    let terms = Terms {
        rules: RuleSet::ready("adult-24h").expect("a ready rule set"),
        mapping,
        companions: Vec::new(),
        patient_key: vec![7; 32],
        by: PersonId("bench".to_owned()),
    };
    Door::open(SqliteBook::create(book).expect("a new book"), terms).expect("a door")
}

fn feed(book: &Path, n_senders: usize, ahead: usize) -> (f64, Listened) {
    let mut door = door(book, Mapping::for_messages());
    door.store_mut().write_ahead().expect("writing ahead");
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address");
    let stop = Arc::new(AtomicBool::new(false));
    let stopping = Arc::clone(&stop);
    let limits = Limits { most_connections: 100, ..Limits::default() };
    let listening =
        std::thread::spawn(move || listen(listener, door, limits, clock(), Arc::new(|_| ()), stopping));
    let started = Instant::now();
    std::thread::scope(|scope| {
        for sender in 0..n_senders {
            scope.spawn(move || {
                send(
                    address,
                    sender,
                    N_MESSAGES / n_senders + usize::from(sender < N_MESSAGES % n_senders),
                    ahead,
                )
            });
        }
    });
    let seconds = started.elapsed().as_secs_f64();
    stop.store(true, Ordering::Relaxed);
    let (door, listened) = listening.join().expect("the listener").expect("it listened");
    assert!(door.store().verify().expect("a book").is_sound());
    (seconds, listened)
}

/// Sends messages and takes the answers, never more than `ahead` unanswered.
fn send(address: SocketAddr, sender: usize, n_messages: usize, ahead: usize) {
    let mut stream = TcpStream::connect(address).expect("a connection");
    stream.set_nodelay(true).expect("no delay");
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a limit");
    let framed: Vec<Vec<u8>> =
        (0..n_messages).map(|number| frame(message(sender, number).as_bytes())).collect();
    let (mut n_sent, mut n_answered) = (0, 0);
    let mut buffer = vec![0; 64 << 10];
    while n_answered < n_messages {
        let until = n_messages.min(n_answered + ahead);
        if n_sent < until {
            stream.write_all(&framed[n_sent..until].concat()).expect("sent");
            n_sent = until;
        }
        let n_bytes = stream.read(&mut buffer).expect("an answer");
        assert!(n_bytes > 0, "the listener closed");
        n_answered += buffer[..n_bytes].iter().filter(|byte| **byte == 0x1C).count();
    }
}

fn message(sender: usize, number: usize) -> String {
    let (day, hour) = (1 + number % 19, number % 24);
    let grew = if number.is_multiple_of(12) { "Staphylococcus epidermidis" } else { "No growth" };
    [
        format!("MSH|^~\\&|LAB|NORTH|WARD|ICU|20260320080000||ORU^R01^ORU_R01|{sender}-{number}|P|2.5.1"),
        format!("PID|1||{sender}-{}^^^NORTH^MR||INVENTED^PERSON||19600101|F", number / 2),
        "PV1|1|I|ICU".to_owned(),
        format!("OBR|1|{sender}-{number}|S-{sender}-{number}|600-7^Blood culture^LN|||202603{day:02}{hour:02}10|||N-03||||||||||||20260320||LAB|F"),
        format!("OBX|1|ST|600-7^Bacteria identified^LN|1|{grew}||||||F"),
        format!("SPM|1|S-{sender}-{number}||BLD^Blood^HL70487|||||||||||||202603{day:02}{hour:02}10|20260320"),
    ]
    .map(|segment| segment + "\r")
    .concat()
}

/// A file of many sets into an empty book, and the next month's after it.
fn months(folder: &Path, n_sets: usize) {
    let mapping = Mapping::from_toml(MAPPING).expect("a mapping");
    let mut door = door(&folder.join("months.sqlite"), mapping);
    let clock = clock();
    let history = table(0, n_sets);
    let next_month = table(n_sets, 5_000);
    for (name, text) in [("history.csv", &history), ("next-month.csv", &next_month)] {
        let file = LaboratoryFile { name, bytes: text.as_bytes() };
        let now = clock();
        let (started, worked) = (Instant::now(), processor_seconds());
        let import = door.read_file(file, &now).expect("read");
        assert!(import.unread.is_empty(), "{:?}", import.unread.first());
        let read = started.elapsed().as_secs_f64();
        door.take_in_file(file, &import, &now).expect("taken in");
        println!(
            "{name}: {} sets into a book of {}: {:.2} s, of which reading {read:.2} s; {:.2} s of one processor",
            import.sets.len(),
            if name == "history.csv" { 0 } else { n_sets },
            started.elapsed().as_secs_f64(),
            processor_seconds() - worked
        );
    }
    let started = Instant::now();
    let sets = door.store().sets().expect("sets");
    println!("reading all {} sets back: {:.2} s", sets.len(), started.elapsed().as_secs_f64());
}

/// Time of the processor that this program has used so far, as Linux counts it (proc(5), fields 14 and 15 of stat, in
/// hundredths of a second); NaN elsewhere.
fn processor_seconds() -> f64 {
    let text = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = text.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks: Option<Vec<f64>> =
        after_name.split_whitespace().skip(11).take(2).map(|field| field.parse().ok()).collect();
    ticks.filter(|ticks| ticks.len() == 2).map_or(f64::NAN, |ticks| (ticks[0] + ticks[1]) / 100.0)
}

const MAPPING: &str = r#"
schema = 1
name = "made for measuring"

[columns]
patient = "patient"
specimen = "specimen"
collected = "collected"
unit = "unit"
collector = "collector"
organism = "organism"
status = "status"
"#;

fn table(from: usize, n_sets: usize) -> String {
    let mut text = String::from("specimen,patient,collected,unit,collector,organism,status\n");
    for number in from..from + n_sets {
        let month = 1 + number * 9 / 10_000_000 % 9;
        let (day, hour) = (1 + number / 2 % 28, number % 24);
        let grew = match number % 24 {
            0 => "Staphylococcus epidermidis",
            7 => "Escherichia coli",
            _ => "",
        };
        text.push_str(&format!(
            "S{number:08},P{:08},2025-{month:02}-{day:02} {hour:02}:10,ICU {},N-{:02},{grew},final\n",
            number / 3,
            number % 4,
            number % 60
        ));
    }
    text
}
