//! What becomes of messages: versions, parts, duplicates, and what cannot be taken in.

mod common;

use std::time::Duration;

use book::{SqliteBook, Store as _};
use common::{SAID, Said, arrival, moment, moment_on, open, terms, versions};
use door::{Door, Fate, LaboratoryFile};
use exchange::laboratory::Mapping;
use jiff::civil::date;

fn take(door: &mut Door<SqliteBook>, messages: &[String]) -> Vec<Fate> {
    let arrivals: Vec<_> = messages.iter().map(|message| arrival(message)).collect();
    door.take_in_messages(&arrivals, &moment(), &moment)
}

#[test]
fn preliminary_final_and_corrected_make_versions_and_old_verdicts_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open(&folder.path().join("book.sqlite"));
    let preliminary = Said {
        status: "P",
        collected: "202603190410",
        results: &[("1", "Gram positive cocci in clusters")],
        ..SAID
    };
    let final_ = Said {
        status: "F",
        made: "20260312080000",
        results: &[("1", "Escherichia coli")],
        ..preliminary.clone()
    };
    let corrected = Said {
        status: "C",
        made: "20260314080000",
        results: &[("1", "Staphylococcus aureus")],
        ..preliminary.clone()
    };
    for said in [&preliminary, &final_, &corrected] {
        assert_eq!(take(&mut door, &[said.message()]), [Fate::TakenIn]);
    }
    let (verdicts, organisms) = versions(&door, "S-1");
    assert_eq!(verdicts, ["provisional", "true-positive", "true-positive"]);
    assert_eq!(organisms, ["Staphylococcus aureus"], "the same result again replaces what it said");
    // An older message that comes late changes nothing.
    let late = Said { control: "late", made: "20260313080000", ..final_ };
    assert_eq!(take(&mut door, &[late.message()]), [Fate::TakenIn]);
    assert_eq!(versions(&door, "S-1").1, ["Staphylococcus aureus"]);
    assert_eq!(versions(&door, "S-1").0.len(), 3);
    assert!(door.store().verify().unwrap().is_sound());
}

/// A set in parts, taken in message by message, in one batch, and as one file: the same sets.
#[test]
fn parts_of_a_set_are_the_same_however_they_come() {
    let one = Said { control: "1", results: &[("1", "Staphylococcus epidermidis")], ..SAID };
    let two = Said { control: "2", results: &[("2", "Candida albicans")], made: "20260312080000", ..SAID };
    let other = Said { control: "3", specimen: "S-2", ..SAID };
    let withdrawn =
        Said { control: "4", results: &[("2", "Candida glabrata")], made: "20260313080000", ..SAID };
    let messages: Vec<String> = [one, two, other, withdrawn].iter().map(Said::message).collect();
    let folder = tempfile::tempdir().unwrap();
    let mut singly = open(&folder.path().join("singly.sqlite"));
    for message in &messages {
        assert_eq!(take(&mut singly, std::slice::from_ref(message)), [Fate::TakenIn]);
    }
    let mut together = open(&folder.path().join("together.sqlite"));
    assert_eq!(take(&mut together, &messages), [Fate::TakenIn, Fate::TakenIn, Fate::TakenIn, Fate::TakenIn]);
    let mut as_file = open(&folder.path().join("file.sqlite"));
    let text = messages.concat();
    let file = LaboratoryFile { name: "all.hl7", bytes: text.as_bytes() };
    let import = as_file.read_file(file, &moment()).unwrap();
    as_file.take_in_file(file, &import, &moment()).unwrap();
    let sets = as_file.store().sets().unwrap();
    assert_eq!(sets.len(), 2);
    assert_eq!(sets[0].isolates.len(), 2);
    assert_eq!(singly.store().sets().unwrap(), sets);
    assert_eq!(together.store().sets().unwrap(), sets);
    assert_eq!(together.store().entries().unwrap().len(), 1, "one commit, one entry");
}

/// The open HL7 file of blood cultures, message by message and as one file.
#[test]
fn an_open_file_gives_the_same_sets_by_the_wire_and_by_hand() {
    let data = std::env::var_os("WARDWRIGHT_OPEN_DATA").map_or_else(
        || std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"),
        std::path::PathBuf::from,
    );
    let name = "blood_culture_two_sets_elr251.hl7";
    let Ok(bytes) = std::fs::read(data.join("hl7v2-oru-micro").join(name)) else {
        println!("not run: {name} is not there; docs/open-data.md says where it is published");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    // The file's days lie in August 2028, so it is read some days later.
    let then = || moment_on(date(2028, 8, 10));
    let mut by_hand = open(&folder.path().join("hand.sqlite"));
    let file = LaboratoryFile { name, bytes: &bytes };
    let import = by_hand.read_file(file, &then()).unwrap();
    assert!(!import.sets.is_empty());
    by_hand.take_in_file(file, &import, &then()).unwrap();
    let mut by_wire = open(&folder.path().join("wire.sqlite"));
    for message in exchange::laboratory::acknowledge::split_messages(&bytes) {
        let arrivals = [door::Arrival { bytes: message.to_vec(), source: "wire".to_owned(), fault: None }];
        let fates = by_wire.take_in_messages(&arrivals, &then(), &then);
        assert!(matches!(fates[0], Fate::TakenIn | Fate::TakenInBefore), "{fates:?}");
    }
    assert_eq!(by_wire.store().sets().unwrap(), by_hand.store().sets().unwrap());
}

#[test]
fn a_message_sent_again_adds_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open(&folder.path().join("book.sqlite"));
    let message = SAID.message();
    assert_eq!(take(&mut door, &[message.clone(), message.clone()]), [Fate::TakenIn, Fate::TakenInBefore]);
    let head = door.store().head().unwrap();
    assert_eq!(take(&mut door, &[message]), [Fate::TakenInBefore]);
    // Sent anew with another control number it says the same, and makes no version and no entry.
    assert_eq!(take(&mut door, &[Said { control: "again", ..SAID }.message()]), [Fate::TakenIn]);
    assert_eq!(door.store().head().unwrap(), head);
    assert_eq!(versions(&door, "S-1").0.len(), 1);
}

#[test]
fn a_set_that_settles_another_gives_both_their_verdict() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open(&folder.path().join("book.sqlite"));
    let results: &[(&str, &str)] = &[("1", "Staphylococcus epidermidis")];
    let first = Said { results, ..SAID };
    let second = Said { control: "2", specimen: "S-2", collected: "202603100425", ..SAID };
    take(&mut door, &[first.message()]);
    assert_eq!(versions(&door, "S-1").0, ["undetermined"], "a single set does not tell");
    take(&mut door, &[second.message()]);
    assert_eq!(versions(&door, "S-1").0, ["undetermined", "contaminated"]);
    assert_eq!(versions(&door, "S-2").0, ["negative"]);
}

#[test]
fn two_patients_under_one_specimen_number_are_not_mixed() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open(&folder.path().join("book.sqlite"));
    let (right, wrong) = (SAID.message(), Said { control: "2", patient: "4712", ..SAID }.message());
    let good = Said { control: "3", specimen: "S-3", ..SAID }.message();
    let fates = take(&mut door, &[right, wrong.clone(), good]);
    assert_eq!((&fates[0], &fates[2]), (&Fate::TakenIn, &Fate::TakenIn));
    let Fate::KeptAside(problem) = &fates[1] else { panic!("{fates:?}") };
    assert!(problem.text.contains("S-1") && problem.text.contains("another patient"), "{}", problem.text);
    assert_eq!(door.store().sets().unwrap().len(), 2);
    // As a file it is a fault of its line, and nothing of it is used.
    let file = LaboratoryFile { name: "later.hl7", bytes: wrong.as_bytes() };
    let import = door.read_file(file, &moment()).unwrap();
    assert!(import.sets.is_empty());
    let unread = import.unread[0].to_string();
    assert!(unread.contains("later.hl7, line") && unread.contains("S-1"), "{unread}");
    assert!(!unread.contains("4711") && !unread.contains("4712"), "{unread}");
}

#[test]
fn what_cannot_be_read_is_kept_sealed_and_can_be_tried_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.sqlite");
    let mut door = open(&path);
    let future = Said { collected: "202603250410", patient: "47114711", ..SAID }.message();
    let cut = SAID.message()[..90].to_owned();
    let shifted =
        "MSH|^~\\&|LAB|NORTH|WARD|ICU|2026||ORU^R01|9|P|2.5.1\r47114711^VERYINVENTED\rPID|1\r".to_owned();
    let other = "MSH|^~\\&|LAB|NORTH|WARD|ICU|2026||ADT^A01|9|P|2.5.1\rPID|1||47114711\r".to_owned();
    let stool =
        SAID.message().replace("600-7^Blood culture", "625-4^Stool culture").replace("600-7", "625-4");
    let fates = take(&mut door, &[future.clone(), cut, shifted, "quux 47114711".to_owned(), other, stool]);
    assert!(fates[..4].iter().all(|fate| matches!(fate, Fate::KeptAside(_))), "{fates:#?}");
    assert!(matches!(fates[4], Fate::NotOurs(_)), "{fates:#?}");
    assert_eq!(fates[5], Fate::NothingForUs);
    assert!(door.store().sets().unwrap().is_empty());
    let waiting = door.kept_aside().unwrap();
    assert_eq!(waiting.len(), 4);
    for message in &waiting {
        assert!(!message.reason.contains("4711") && !message.reason.contains("INVENTED"), "{message:?}");
        assert!(message.reason.contains("expected"), "{message:?}");
    }
    assert_eq!(door.message_kept_aside(waiting[0].number).unwrap().unwrap(), future.as_bytes());
    assert_eq!(door.message_kept_aside(99).unwrap(), None);
    // No byte of the book names the patient.
    let bytes = std::fs::read(&path).unwrap();
    for name in [&b"47114711"[..], b"VERYINVENTED"] {
        assert!(!bytes.windows(name.len()).any(|window| window == name));
    }
    // With another key the door does not open, and nothing is lost by trying.
    let mut other_key = terms(Mapping::for_messages());
    other_key.patient_key = vec![1; 32];
    assert!(Door::open(SqliteBook::open(&path).unwrap(), other_key).is_err());
    // A week later the collection lies in the past.
    let later = || moment_on(date(2026, 3, 27));
    let fates = door.retry(&later).unwrap();
    assert_eq!(fates.len(), 4);
    assert_eq!(fates[0], (waiting[0].number, Fate::TakenIn));
    assert_eq!(door.store().sets().unwrap().len(), 1);
    assert_eq!(door.kept_aside().unwrap().len(), 3);
    assert!(door.dismiss(waiting[1].number, &later()).unwrap());
    assert!(!door.dismiss(waiting[1].number, &later()).unwrap(), "it waits no more");
    assert_eq!(door.kept_aside().unwrap().len(), 2);
    assert!(door.store().verify().unwrap().is_sound());
}

#[test]
fn a_locked_book_takes_nothing_and_says_to_send_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book.sqlite");
    drop(open(&path));
    let book = SqliteBook::open_waiting(&path, Duration::from_millis(20)).unwrap();
    let mut door = Door::open(book, terms(Mapping::for_messages())).unwrap();
    let locking = std::process::Command::new("python3")
        .arg("-c")
        .arg("import sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None); c.execute('BEGIN EXCLUSIVE'); print('locked', flush=True); sys.stdin.read()")
        .arg(&path)
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn();
    let Ok(mut locking) = locking else {
        println!("not run: python3, which locks the book in this test, is not installed");
        return;
    };
    let mut line = String::new();
    std::io::BufRead::read_line(&mut std::io::BufReader::new(locking.stdout.take().unwrap()), &mut line)
        .unwrap();
    assert_eq!(line, "locked\n");
    let fates = take(&mut door, &[SAID.message()]);
    let Fate::NotStored(problem) = &fates[0] else { panic!("{fates:?}") };
    assert!(
        problem.text.contains("send it again") && problem.text.contains("another program"),
        "{problem:?}"
    );
    drop(locking.stdin.take());
    locking.wait().unwrap();
    assert_eq!(take(&mut door, &[SAID.message()]), [Fate::TakenIn]);
    assert_eq!(door.store().sets().unwrap().len(), 1);
}
