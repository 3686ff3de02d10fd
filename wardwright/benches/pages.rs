//! How long the results page takes over HTTP on a large book, by itself and while messages come in.
//!
//! `cargo bench -p wardwright --bench pages -- 1000000` makes an invented book of that many sets in the system's
//! temporary folder, serves it, and asks for the page again and again: first at rest, then while a listener takes in
//! messages one after another and each of them makes the figures old. Nothing is said to be fast that was not timed here.

#![expect(clippy::unwrap_used, reason = "a bench that cannot go on stops")]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Each part lasts this long.
const LASTS: Duration = Duration::from_secs(20);
const BETWEEN_PAGES: Duration = Duration::from_millis(50);
/// A ward's laboratory is slower; this one makes the figures old all the time.
const BETWEEN_MESSAGES: Duration = Duration::from_millis(100);

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_wardwright"))
}

fn run(arguments: &[&str]) {
    let status = program().args(arguments).stdout(Stdio::null()).status().unwrap();
    assert!(status.success(), "{arguments:?}");
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Starts a command and waits for the line that names its address.
fn started(arguments: &[&str], before: &str) -> (Running, String) {
    let mut child = program().args(arguments).stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    let mut told = BufReader::new(child.stdout.take().unwrap());
    told.read_line(&mut line).unwrap();
    // What it says later is read too, so that it never waits for a reader.
    std::thread::spawn(move || told.lines().count());
    let rest = line.split(before).nth(1).unwrap().to_owned();
    let address = rest.trim_start().split(['/', ' ', '\n']).next().unwrap().to_owned();
    (Running(child), address)
}

fn page(address: &str) -> (String, Duration) {
    let began = Instant::now();
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET /results HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    let took = began.elapsed();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    (answer, took)
}

fn asked(address: &str, what: &str) {
    let (began, mut times, mut n_older) = (Instant::now(), Vec::new(), 0);
    while began.elapsed() < LASTS {
        let (answer, took) = page(address);
        n_older += usize::from(answer.contains("has grown since"));
        times.push(took);
        std::thread::sleep(BETWEEN_PAGES);
    }
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100].as_secs_f64() * 1_000.0;
    println!(
        "{what}: {} pages, {n_older} of them with older figures; median {:.1} ms, 95 of 100 within {:.1} ms, slowest {:.1} ms",
        times.len(),
        at(50),
        at(95),
        at(100)
    );
}

/// One invented set; fields numbered as in HL7 v2.5.1, chapter 7.
fn message(number: u64) -> String {
    format!(
        "\x0BMSH|^~\\&|LAB|NORTH|WARD|ICU|20260311080000||ORU^R01^ORU_R01|{number}|P|2.5.1\r\
         PID|1||Q{number}^^^NORTH^MR\rPV1|1|I|Unit 01\r\
         OBR|1|W{number}|W{number}|600-7^Blood culture^LN|||202603100410||||||||||||||||||F\r\
         OBX|1|ST|600-7^Bacteria identified^LN|1|No growth||||||F\r\
         SPM|1|W{number}||BLD^Blood^HL70487|||||||||||||202603100410\r\x1C\r"
    )
}

fn main() {
    let sets = std::env::args().skip(1).find_map(|argument| argument.parse::<u64>().ok()).unwrap_or(200_000);
    let folder = tempfile::tempdir().unwrap();
    let (data, file) = (folder.path().join("data"), folder.path().join("sets.csv"));
    let (data, map) = (text(&data), file.with_extension("toml"));
    run(&["setup", "--data", data, "--unit", "Invented unit"]);
    run(&["bench-data", &sets.to_string(), "--into", text(&file)]);
    run(&["cultures", "take-in", text(&file), "--map", text(&map), "--data", data, "--by", "T-01"]);
    let (_pages, address) = started(&["serve", "--data", data, "--port", "0"], "http://");
    println!("a book of {sets} sets");
    asked(&address, "at rest");

    let (_listener, wire) = started(&["listen", "--data", data, "--port", "0"], "Listening: ");
    let stop = Arc::new(AtomicBool::new(false));
    let sent = Arc::new(AtomicU64::new(0));
    let sender = std::thread::spawn({
        let (stop, sent) = (Arc::clone(&stop), Arc::clone(&sent));
        move || {
            let mut stream = TcpStream::connect(wire).unwrap();
            let mut answer = [0; 4_096];
            while !stop.load(Ordering::Relaxed) {
                stream.write_all(message(sent.fetch_add(1, Ordering::Relaxed)).as_bytes()).unwrap();
                let _ = stream.read(&mut answer).unwrap();
                std::thread::sleep(BETWEEN_MESSAGES);
            }
        }
    });
    asked(&address, "while messages come in");
    stop.store(true, Ordering::Relaxed);
    sender.join().unwrap();
    println!("{} messages were taken in meanwhile", sent.load(Ordering::Relaxed));
}
