//! The results page over HTTP while the laboratory's messages come in: it answers at once, says when its figures are of
//! an earlier time, and shows the new ones soon after.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Enough for the figures to take longer than a page waits for them.
const SETS: &str = "60000";

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_wardwright"))
}

fn run(arguments: &[&str]) -> String {
    let output = program().args(arguments).output().unwrap();
    let text = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
    assert!(output.status.success(), "{arguments:?}: {text}");
    text
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The pages, stopped at the end of the test whatever becomes of it.
struct Pages(Child, String);

impl Drop for Pages {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Pages {
    fn of(data: &str) -> Pages {
        let mut child =
            program().args(["serve", "--data", data, "--port", "0"]).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        let mut told = BufReader::new(child.stdout.take().unwrap());
        told.read_line(&mut line).unwrap();
        std::thread::spawn(move || told.lines().count());
        let address = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
        Pages(child, address)
    }

    /// The results page, and how long it took.
    fn results(&self) -> (String, Duration) {
        let started = Instant::now();
        let mut stream = TcpStream::connect(&self.1).unwrap();
        write!(stream, "GET /results HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.1).unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
        (answer, started.elapsed())
    }
}

const OLDER: &str = "The record book has grown since";

#[test]
fn the_results_page_answers_at_once_and_says_when_it_is_older() {
    let folder = tempfile::tempdir().unwrap();
    let (data, file) = (folder.path().join("data"), folder.path().join("sets.csv"));
    let (data, map) = (text(&data), file.with_extension("toml"));
    run(&["setup", "--data", data, "--unit", "Invented unit"]);
    run(&["bench-data", SETS, "--into", text(&file)]);
    run(&["cultures", "take-in", text(&file), "--map", text(&map), "--data", data, "--by", "T-01"]);
    let pages = Pages::of(data);
    let (before, _) = pages.results();
    assert!(!before.contains(OLDER));

    // One set more, of a patient and a day of its own.
    let one = folder.path().join("one.csv");
    let header = std::fs::read_to_string(&file).unwrap().lines().next().unwrap().to_owned();
    let row = "Z000000001,PZ000001,2026-01-05 04:10,2026-01-05 05:10,Unit of its own,,vein,aerobic,8.5,No growth after 5 days,final";
    std::fs::write(&one, format!("{header}\n{row}\n")).unwrap();
    run(&["cultures", "take-in", text(&one), "--map", text(&map), "--data", data, "--by", "T-01"]);
    let (page, _) = pages.results();
    assert!(page.contains(OLDER), "the figures take longer than a page waits, and it says so");
    assert!(!page.contains("Unit of its own"), "these are the earlier figures");
    assert!(page.contains("seconds ago"));
    let give_up = Instant::now() + Duration::from_secs(120);
    loop {
        let (page, _) = pages.results();
        if page.contains("Unit of its own") {
            assert!(!page.contains(OLDER), "new figures are not called old");
            break;
        }
        assert!(page.contains(OLDER), "figures without the new set say that they are older");
        assert!(Instant::now() < give_up, "the new set never showed");
        std::thread::sleep(Duration::from_millis(20));
    }
}
