//! The laboratory's door from the command line: listen, watch, kept-aside.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_wardwright"))
}

fn run(arguments: &[&str]) -> (Option<i32>, String) {
    let output = program().args(arguments).output().unwrap();
    let text = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8(text).unwrap())
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A listener, killed when the test fails before it was stopped.
struct Listener(Child);

impl Drop for Listener {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// An invented message; fields numbered as in HL7 v2.5.1, chapter 7.
fn message(specimen: &str, collected: &str) -> String {
    format!(
        "MSH|^~\\&|LAB|NORTH|WARD|ICU|20260311080000||ORU^R01^ORU_R01|{specimen}|P|2.5.1\r\
         PID|1||4711471^^^NORTH^MR||VERYINVENTED^PERSON\rPV1|1|I|ICU\r\
         OBR|1|{specimen}|{specimen}|600-7^Blood culture^LN|||{collected}||||||||||||||||||F\r\
         OBX|1|ST|600-7^Bacteria identified^LN|1|No growth||||||F\r\
         SPM|1|{specimen}||BLD^Blood^HL70487|||||||||||||{collected}\r"
    )
}

/// Sends a message in its frame (0x0B before, 0x1C 0x0D after; MLLP, Release 1) and reads one answer.
fn exchange(wire: &mut TcpStream, message: &str) -> String {
    wire.write_all(format!("\x0B{message}\x1C\r").as_bytes()).unwrap();
    let mut answer = Vec::new();
    let mut byte = [0];
    while answer.last() != Some(&0x1C) {
        wire.read_exact(&mut byte).unwrap();
        answer.push(byte[0]);
    }
    wire.read_exact(&mut byte).unwrap();
    String::from_utf8(answer).unwrap()
}

#[test]
fn results_come_in_on_the_wire_and_what_waits_is_listed() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let data = text(&data);
    assert_eq!(run(&["setup", "--data", data, "--unit", "Invented unit"]).0, Some(0));
    let (code, told) = run(&["listen", "--data", data, "--address", "0.0.0.0", "--port", "0"]);
    assert_eq!(code, Some(2));
    assert!(told.contains("--trusted-network") && told.contains("found:"), "{told}");

    let child = program()
        .args(["listen", "--data", data, "--port", "0"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut listener = Listener(child);
    let mut lines = BufReader::new(listener.0.stdout.take().unwrap()).lines();
    let first = lines.next().unwrap().unwrap();
    assert!(first.contains("not encrypted"), "{first}");
    let address = first.strip_prefix("Listening: ").unwrap().split(' ').next().unwrap().to_owned();
    let mut wire = TcpStream::connect(address).unwrap();
    wire.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
    assert!(exchange(&mut wire, &message("S-1", "202603100410")).contains("\rMSA|AA|S-1\r"));
    assert!(exchange(&mut wire, &message("S-1", "202603100410")).contains("\rMSA|AA|S-1\r"), "again");
    let refused = exchange(&mut wire, &message("S-2", "20"));
    assert!(refused.contains("\rMSA|AE|S-2\r") && refused.contains("time of collection"), "{refused}");
    // Others read and write the book meanwhile.
    assert_eq!(run(&["book", "verify", "--data", data]).0, Some(0));

    // Stopped as the system stops a program.
    let id = listener.0.id().to_string();
    assert!(Command::new("kill").args(["-TERM", &id]).status().unwrap().success());
    assert_eq!(listener.0.wait().unwrap().code(), Some(0));
    let last = lines.last().unwrap().unwrap();
    assert!(last.contains("1 messages taken in") && last.contains("1 known already"), "{last}");
    let mut errors = String::new();
    listener.0.stderr.take().unwrap().read_to_string(&mut errors).unwrap();
    assert!(
        errors.contains("kept aside") && !errors.contains("4711") && !errors.contains("INVENTED"),
        "{errors}"
    );
    let names: Vec<_> = std::fs::read_dir(data).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(!names.iter().any(|name| name.to_string_lossy().contains("-wal")), "one file again: {names:?}");

    let (code, listed) = run(&["kept-aside", "--data", data]);
    assert_eq!(code, Some(1));
    assert!(listed.starts_with("2  first ") && !listed.contains("4711"), "{listed}");
    assert!(run(&["kept-aside", "show", "2", "--data", data]).1.contains("PID|1||4711471"));
    let (code, again) = run(&["kept-aside", "retry", "--data", data]);
    assert_eq!(code, Some(1));
    assert!(again.contains("still waits"), "{again}");
    assert_eq!(run(&["kept-aside", "dismiss", "2", "--data", data]).0, Some(0));
    let (code, told) = run(&["kept-aside", "dismiss", "2", "--data", data]);
    assert_eq!(code, Some(2));
    assert!(told.contains("message 2"), "{told}");
    assert_eq!(run(&["kept-aside", "--data", data]), (Some(0), "No message waits.\n".to_owned()));
}

#[test]
fn a_folder_is_taken_in_once() {
    let folder = tempfile::tempdir().unwrap();
    let (data, inbox) = (folder.path().join("data"), folder.path().join("inbox"));
    let (data, inbox_name) = (text(&data), text(&inbox));
    assert_eq!(run(&["setup", "--data", data, "--unit", "Invented unit"]).0, Some(0));
    let (code, told) = run(&["watch", inbox_name, "--data", data, "--once", "--every", "0.1"]);
    assert_eq!(code, Some(2));
    assert!(told.contains("no such folder"), "{told}");
    std::fs::create_dir(&inbox).unwrap();
    std::fs::write(inbox.join("feed.hl7"), message("S-1", "202603100410") + &message("S-2", "202603100510"))
        .unwrap();
    let (code, told) = run(&["watch", inbox_name, "--data", data, "--once", "--every", "0.1"]);
    assert_eq!(
        (code, told.as_str()),
        (
            Some(0),
            "feed.hl7: 2 messages taken in, 0 known already, 0 without a blood culture, 0 kept aside.\n"
        )
    );
    assert!(inbox.join("done/feed.hl7").exists());
    assert_eq!(
        run(&["watch", inbox_name, "--data", data, "--once", "--every", "0.1"]),
        (Some(0), String::new())
    );
}

/// One set whose bottles are reported in two files, taken in by hand: the second adds to the first and does not stand in
/// its place. A file that cannot be read is refused whole; with `--with-unread` its message is kept aside.
#[test]
fn a_set_in_two_files_taken_in_by_hand_is_one_set() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let data = text(&data);
    assert_eq!(run(&["setup", "--data", data, "--unit", "Invented unit"]).0, Some(0));
    let lay = |name: &str, message: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, message).unwrap();
        path
    };
    let first = message("S-1", "202603100410");
    let second = first.replace("|S-1|P|", "|S-1b|P|").replace("|LN|1|No growth|", "|LN|2|Escherichia coli|");
    let second = second.replace("^LN|1|No growth", "^LN|2|Escherichia coli");
    assert_ne!(first.replace("|S-1|P|", "|S-1b|P|"), second);
    let take_in = |name: &str, more: &[&str]| {
        let path = folder.path().join(name);
        let mut arguments = vec!["cultures", "take-in", text(&path), "--data", data, "--by", "n001"];
        arguments.extend(more);
        run(&arguments)
    };
    lay("monday.hl7", &first);
    lay("tuesday.hl7", &second);
    let counts = |n: usize, again: usize, aside: usize| {
        format!(
            "{n} messages taken in, {again} known already, 0 without a blood culture, {aside} kept aside.\n"
        )
    };
    assert_eq!(take_in("monday.hl7", &[]), (Some(0), format!("monday.hl7: {}", counts(1, 0, 0))));
    assert_eq!(take_in("tuesday.hl7", &[]), (Some(0), format!("tuesday.hl7: {}", counts(1, 0, 0))));
    assert_eq!(take_in("monday.hl7", &[]), (Some(0), format!("monday.hl7: {}", counts(0, 1, 0))));
    let store = book::SqliteBook::open(folder.path().join("data/book.sqlite")).unwrap();
    let sets = book::Store::sets(&store).unwrap();
    assert_eq!(sets.len(), 1, "{sets:#?}");
    let names: Vec<&str> = sets[0].isolates.iter().map(|isolate| isolate.reported_name.as_str()).collect();
    assert_eq!(names, ["Escherichia coli"]);
    assert_eq!(sets[0].status, culture::ReportStatus::Final);
    drop(store);

    lay("bad.hl7", &message("S-2", "20"));
    let (code, told) = take_in("bad.hl7", &[]);
    assert_eq!(code, Some(2));
    assert!(told.contains("time of collection") && told.contains("nothing was stored"), "{told}");
    let (code, told) = take_in("bad.hl7", &["--with-unread"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.ends_with(&counts(0, 0, 1)), "{told}");
    assert_eq!(run(&["kept-aside", "--data", data]).0, Some(1));
}
