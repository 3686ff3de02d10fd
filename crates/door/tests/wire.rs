//! The listener as senders meet it, and as it is killed: what was acknowledged is in the book, once.
//!
//! The listener that is killed runs in a process of its own: this test program again, with the test `a_listener` alone.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::net::{SocketAddr, TcpListener};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

use book::{SqliteBook, Store as _};
use common::{SAID, Said, Sender, clock, open, versions};
use culture::SetId;
use door::{Door, Limits, Listened, News, listen};
use exchange::laboratory::acknowledge::Manner;
use exchange::laboratory::mllp::frame;

const BOOK_OF_THE_CHILD: &str = "WARDWRIGHT_TEST_LISTENS_FOR";

/// Not a test by itself: listens for the test that started this process, until it is killed.
#[test]
fn a_listener() {
    let Some(book) = std::env::var_os(BOOK_OF_THE_CHILD) else { return };
    let mut door = open(Path::new(&book));
    door.store_mut().write_ahead().unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    println!("\nlistening {}", listener.local_addr().unwrap());
    let limits = Limits { manner: Manner::Always, ..Limits::default() };
    listen(listener, door, limits, clock(), Arc::new(|_| ()), Arc::new(AtomicBool::new(false))).unwrap();
}

/// Starts this program again as a listener on a book; `before` is put before it in a shell.
fn listener_on(book: &Path, before: &str) -> (Child, SocketAddr) {
    let program = std::env::current_exe().unwrap();
    let mut child = Command::new("sh")
        .arg("-c")
        .arg(format!("{before} exec \"$0\" --exact a_listener --nocapture --test-threads 1"))
        .arg(program)
        .env(BOOK_OF_THE_CHILD, book)
        .env("RUST_BACKTRACE", "0")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let address = lines
        .find_map(|line| Some(line.ok()?.strip_prefix("listening ")?.parse::<SocketAddr>().unwrap()))
        .expect("the listener says where it listens");
    // Read on, so that the child never waits for somebody to read.
    std::thread::spawn(move || lines.for_each(drop));
    (child, address)
}

/// Numbers that look random and are the same in every run (a linear congruential generator; constants of Knuth's MMIX).
struct Dice(u64);

impl Dice {
    fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// One message of the long feed. Every fifth set comes in two messages, of which the second names the organism.
fn fed(sender: usize, number: usize) -> (String, String) {
    let in_two_parts = number % 5 == 4;
    let set = if in_two_parts { number - 1 } else { number };
    let specimen = format!("S-{sender}-{set}");
    let patient = format!("{sender}{set:06}");
    let control = format!("{sender}-{number}");
    let made = if in_two_parts { "20260312080000" } else { "20260311080000" };
    let results: &[(&str, &str)] = if in_two_parts { &[("1", "Escherichia coli")] } else { &[] };
    let said = Said { control: &control, specimen: &specimen, patient: &patient, made, results, ..SAID };
    (said.message(), specimen)
}

/// Sends from `next` on until the listener is gone; gives how many of the messages from the beginning are acknowledged.
/// What was not acknowledged is sent again by the next call, as a sender on the wire would.
fn feed(
    address: SocketAddr,
    sender: usize,
    ahead: usize,
    mut acknowledged: usize,
    most: usize,
    mut first: Option<std::sync::mpsc::Sender<()>>,
) -> usize {
    let Ok(mut wire) = Sender::connect(address) else { return acknowledged };
    let mut sent = acknowledged;
    while acknowledged < most {
        while sent < most && sent - acknowledged < ahead {
            if wire.send(&fed(sender, sent).0).is_err() {
                break;
            }
            sent += 1;
        }
        let Some((code, control)) = wire.answer() else { return acknowledged };
        assert_eq!((code.as_str(), control), ("AA", format!("{sender}-{acknowledged}")));
        acknowledged += 1;
        if let Some(first) = first.take() {
            // Only the first of all senders is waited for.
            let _ = first.send(());
        }
    }
    acknowledged
}

/// 200 times the listener is killed at a random moment of its intake (SIGKILL: it can do nothing about it).
#[test]
fn no_acknowledged_message_is_missing_or_doubled_after_200_kills() {
    let n_kills: usize =
        std::env::var("WARDWRIGHT_KILLS").ok().and_then(|text| text.parse().ok()).unwrap_or(200);
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.sqlite");
    drop(open(&book));
    let mut dice = Dice(20_261_125);
    // One sender waits for each answer, one sends ahead.
    let ahead = [1, 40];
    let mut acknowledged = [0_usize; 2];
    let mut n_in_the_middle = 0;
    for round in 0..n_kills {
        let (mut child, address) = listener_on(&book, "");
        let (first, answered) = std::sync::mpsc::channel();
        let senders: Vec<JoinHandle<usize>> = (0..2)
            .map(|sender| {
                let (done, first) = (acknowledged[sender], first.clone());
                std::thread::spawn(move || {
                    feed(address, sender, ahead[sender], done, usize::MAX, Some(first))
                })
            })
            .collect();
        // Every other time from the first answer on, so that a slow machine is killed in the middle of its work too.
        if round % 2 == 0 {
            answered.recv_timeout(Duration::from_secs(60)).unwrap();
        }
        std::thread::sleep(Duration::from_micros(dice.below(60_000)));
        child.kill().unwrap();
        child.wait().unwrap();
        let before = acknowledged;
        for (sender, thread) in senders.into_iter().enumerate() {
            acknowledged[sender] = thread.join().unwrap();
        }
        n_in_the_middle += usize::from(before != acknowledged);
    }
    println!(
        "{n_kills} kills, {acknowledged:?} messages acknowledged, {n_in_the_middle} kills after an answer"
    );
    assert!(n_in_the_middle * 2 >= n_kills, "most kills must fall into the intake: {n_in_the_middle}");
    let door = open(&book);
    let verification = door.store().verify().unwrap();
    assert!(verification.is_sound(), "{:#?}", verification.faults);
    let stored: BTreeMap<SetId, book::SetVersion> = door
        .store()
        .latest_set_versions()
        .unwrap()
        .into_iter()
        .map(|version| (version.set.id.clone(), version))
        .collect();
    for (sender, n_acknowledged) in acknowledged.into_iter().enumerate() {
        for number in 0..n_acknowledged {
            let (_, specimen) = fed(sender, number);
            let in_the_book = stored.get(&SetId(specimen.clone())).unwrap_or_else(|| {
                panic!("{specimen} of the acknowledged message {sender}-{number} is missing")
            });
            // Both parts once both are acknowledged; never a version too many.
            let both = number % 5 == 4;
            if both {
                // Two versions, or one where both parts came with one commit.
                assert!(in_the_book.version <= 2, "{specimen}");
                assert_eq!(in_the_book.set.isolates[0].reported_name, "Escherichia coli", "{specimen}");
            } else if number % 5 != 3 {
                assert_eq!(in_the_book.version, 1, "{specimen}");
            }
        }
        // What was not acknowledged may be there: it was on the disk and the answer did not come through.
        let of_sender = stored.keys().filter(|id| id.0.starts_with(&format!("S-{sender}-"))).count();
        let n_messages = of_sender + of_sender / 4;
        assert!(n_messages <= n_acknowledged + ahead[sender] + 2, "{n_messages} of {n_acknowledged}");
    }
}

/// No more room: a limit on the size of files stands for a disk that is full (EFBIG in place of ENOSPC).
#[test]
fn a_full_disk_refuses_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.sqlite");
    drop(open(&book));
    // The signal is ignored, so that the write fails as on a full disk. 6,000 blocks of 512 bytes (POSIX).
    let (mut child, address) = listener_on(&book, "trap '' XFSZ; ulimit -f 6000;");
    let mut wire = Sender::connect(address).unwrap();
    let (mut n_taken, mut n_refused) = (0, 0);
    for number in 0..4_000 {
        wire.send(&fed(7, number * 5).0).unwrap();
        match wire.answer().expect("an answer").0.as_str() {
            "AA" => {
                assert_eq!(n_refused, 0, "nothing frees the disk in this test");
                n_taken += 1;
            }
            "AR" => n_refused += 1,
            other => panic!("{other}"),
        }
        if n_refused == 5 {
            break;
        }
    }
    assert_eq!(n_refused, 5, "the limit must be reached; {n_taken} were taken in");
    assert!(n_taken > 20);
    child.kill().unwrap();
    child.wait().unwrap();
    let door = open(&book);
    assert!(door.store().verify().unwrap().is_sound());
    assert_eq!(door.store().sets().unwrap().len(), n_taken);
    // With room again, what was refused goes in.
    let (mut child, address) = listener_on(&book, "");
    let mut wire = Sender::connect(address).unwrap();
    wire.send(&fed(7, n_taken * 5).0).unwrap();
    assert_eq!(wire.answer().unwrap().0, "AA");
    child.kill().unwrap();
    child.wait().unwrap();
}

/// A listener in this process, with its news.
struct Here {
    address: SocketAddr,
    stop: Arc<AtomicBool>,
    news: Arc<Mutex<Vec<News>>>,
    thread: JoinHandle<std::io::Result<(Door<SqliteBook>, Listened)>>,
}

impl Here {
    fn listen(book: &Path, limits: Limits) -> Here {
        let door = open(book);
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let stop = Arc::new(AtomicBool::new(false));
        let news = Arc::new(Mutex::new(Vec::new()));
        let (stopping, told) = (Arc::clone(&stop), Arc::clone(&news));
        let tell = Arc::new(move |item| told.lock().unwrap().push(item));
        let thread = std::thread::spawn(move || listen(listener, door, limits, clock(), tell, stopping));
        Here { address, stop, news, thread }
    }

    fn stop(self) -> (Door<SqliteBook>, Listened, Vec<News>) {
        self.stop.store(true, Ordering::Relaxed);
        let (door, listened) = self.thread.join().unwrap().unwrap();
        let news = self.news.lock().unwrap().clone();
        (door, listened, news)
    }
}

fn closed_because(news: &[News], words: &str) -> bool {
    news.iter().any(|item| matches!(item, News::Closed { why, .. } if why.contains(words)))
}

#[test]
fn many_senders_share_commits_and_each_gets_its_own_answers() {
    let folder = tempfile::tempdir().unwrap();
    let here = Here::listen(&folder.path().join("book.sqlite"), Limits::default());
    let address = here.address;
    std::thread::scope(|scope| {
        for sender in 0..8 {
            scope.spawn(move || assert_eq!(feed(address, sender, 1 + sender * 5, 0, 100, None), 100));
        }
    });
    let (door, listened, news) = here.stop();
    assert_eq!(listened.taken_in, 800);
    assert!(listened.commits < 800, "{listened:?}");
    assert_eq!(news, []);
    assert_eq!(door.store().sets().unwrap().len(), 8 * 80);
    assert_eq!(versions(&door, "S-3-3").1, ["Escherichia coli"]);
    assert!(door.store().verify().unwrap().is_sound());
}

#[test]
fn what_is_wrong_on_the_wire_is_answered_or_closed_and_others_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let limits = Limits {
        longest_message: 5_000,
        most_connections: 3,
        one_message: Duration::from_millis(400),
        idle: Duration::from_millis(1_500),
        ..Limits::default()
    };
    let here = Here::listen(&folder.path().join("book.sqlite"), limits);
    // A web browser knocks at the wrong door.
    let mut browser = Sender::connect(here.address).unwrap();
    browser.send_bytes(&b"GET / HTTP/1.1\r\n".repeat(400)).unwrap();
    assert_eq!(browser.answer(), None);
    // A message that never ends, then one that does.
    let mut broken = Sender::connect(here.address).unwrap();
    broken.send_bytes(&[&b"\x0B"[..], &SAID.message().as_bytes()[..200]].concat()).unwrap();
    broken.send(&SAID.message()).unwrap();
    assert_eq!(broken.answer(), Some(("AE".to_owned(), "1".to_owned())));
    assert_eq!(broken.answer(), Some(("AA".to_owned(), "1".to_owned())));
    // One that is too long is answered and passed over.
    let long = Said { control: "long", ..SAID }.message() + &"NTE|1||x\r".repeat(1_000);
    broken.send(&long).unwrap();
    assert_eq!(broken.answer(), Some(("AE".to_owned(), "long".to_owned())));
    // Byte by byte, slower than a message may take.
    let mut slow = Sender::connect(here.address).unwrap();
    let framed = frame(SAID.message().as_bytes());
    let mut n_sent = 0;
    while n_sent < 40 && slow.send_bytes(&framed[n_sent..=n_sent]).is_ok() {
        n_sent += 1;
        std::thread::sleep(Duration::from_millis(30));
    }
    // A fourth at one time is turned away; the first three are heard.
    let mut others: Vec<Sender> = Vec::new();
    std::thread::sleep(Duration::from_millis(2_000));
    for control in ["a", "b", "c"] {
        let mut other = Sender::connect(here.address).unwrap();
        other.send(&Said { control, ..SAID }.message()).unwrap();
        assert_eq!(other.answer(), Some(("AA".to_owned(), control.to_owned())));
        others.push(other);
    }
    let mut fourth = Sender::connect(here.address).unwrap();
    let _ = fourth.send(&SAID.message());
    assert_eq!(fourth.answer(), None);
    drop(others);
    let (door, listened, news) = here.stop();
    for words in ["outside any frame", "did not end within", "no message for", "which is the most"] {
        assert!(closed_because(&news, words), "{words}: {news:#?}");
    }
    assert_eq!(listened.kept_aside, 3, "unfinished, too long, too slow: {news:#?}");
    assert_eq!(door.kept_aside().unwrap().len(), 3);
    assert_eq!(door.store().sets().unwrap().len(), 1);
}

#[test]
fn on_a_stop_what_has_come_is_finished_and_answered() {
    let folder = tempfile::tempdir().unwrap();
    let here = Here::listen(&folder.path().join("book.sqlite"), Limits::default());
    let mut wire = Sender::connect(here.address).unwrap();
    for number in 0..200 {
        wire.send(&fed(1, number).0).unwrap();
    }
    let first = wire.answer();
    assert!(first.is_some());
    let (door, listened, _) = here.stop();
    let mut n_answers = 1;
    while let Some((code, _)) = wire.answer() {
        assert_eq!(code, "AA");
        n_answers += 1;
    }
    assert_eq!(n_answers, listened.taken_in);
    assert!(door.store().verify().unwrap().is_sound());
}

#[test]
fn the_senders_wish_about_answers_is_followed_where_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let enhanced = |accept: &str, application: &str| {
        SAID.message().replace("|1|P|2.5.1\r", &format!("|1|P|2.5.1|||{accept}|{application}\r"))
    };
    for (manner, expected) in [(Manner::AsAsked, "CA"), (Manner::Always, "AA")] {
        let book = folder.path().join(format!("{expected}.sqlite"));
        let here = Here::listen(&book, Limits { manner, ..Limits::default() });
        let mut wire = Sender::connect(here.address).unwrap();
        wire.send(&enhanced("AL", "NE")).unwrap();
        assert_eq!(wire.answer().unwrap().0, expected);
        here.stop();
    }
}
