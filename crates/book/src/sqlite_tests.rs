//! The SQLite backend: the story every backend tells, damage that must be named, and files that are no book.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use practice::{EventKind, Role};
use tempfile::TempDir;

use crate::error::BookError;
use crate::sqlite::{SAFEGUARDS, SqliteBook};
use crate::store::{Store, Verification};
use crate::story::{any_store_tells_the_story, at, draft, file, id, judged, person};

const BOOK_FILE: &str = "book.sqlite";

#[test]
fn sqlite_tells_the_story() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("data").join(BOOK_FILE);
    any_store_tells_the_story(SqliteBook::create(&path).unwrap(), |book| {
        drop(book);
        SqliteBook::open(&path).unwrap()
    });
    let left: Vec<_> =
        fs::read_dir(path.parent().unwrap()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, [BOOK_FILE], "between appends the book is one file");
}

/// A book of five entries, the last two of which took in files with two sets and one set.
fn small_book() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(BOOK_FILE);
    let mut book = SqliteBook::create(&path).unwrap();
    let add = |number, who: &str, role| {
        draft(number, "2026-01-02T08:00", "T-01", EventKind::PersonAdded(person(who, role)))
    };
    let drafts =
        vec![add(1, "T-01", Role::Trainer), add(2, "P-02", Role::Preceptor), add(3, "N-03", Role::Nurse)];
    book.append(drafts, at("2026-01-02T08:00:00Z")).unwrap();
    let first =
        file(4, "a.csv", vec![judged("S-1", &["CNS"], "contaminated"), judged("S-2", &[], "negative")]);
    book.take_in(first, at("2026-02-03T09:00:00Z")).unwrap();
    book.take_in(file(5, "b.csv", vec![judged("S-3", &[], "negative")]), at("2026-02-04T09:00:00Z")).unwrap();
    (folder, path)
}

/// The book after somebody with a database tool has been at it.
fn tampered(sql: &str) -> Verification {
    let (_folder, path) = small_book();
    let database = rusqlite::Connection::open(&path).unwrap();
    let triggers = SAFEGUARDS;
    let kept: Vec<String> = triggers
        .iter()
        .map(|name| {
            database
                .query_row("SELECT sql FROM sqlite_master WHERE name = ?1", [name], |row| row.get(0))
                .unwrap()
        })
        .collect();
    database.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
    for name in triggers {
        database.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    database.execute_batch(sql).unwrap();
    for trigger in kept {
        database.execute_batch(&trigger).unwrap();
    }
    drop(database);
    SqliteBook::open(&path).unwrap().verify().unwrap()
}

#[track_caller]
fn check(sql: &str, places: &[&str], found: &str) {
    let verification = tampered(sql);
    let named: Vec<_> = verification.faults.iter().map(|fault| fault.place.as_str()).collect();
    assert_eq!(named.len(), places.len(), "{sql}: {:#?}", verification.faults);
    for (named, place) in named.iter().zip(places) {
        assert!(named.starts_with(place), "{sql}: {named} is not {place}");
    }
    let first = verification.faults.first().map_or("", |fault| fault.found.as_str());
    assert!(first.contains(found), "{sql}: {:#?}", verification.faults);
    assert!(
        verification.faults.iter().all(|fault| !fault.what_to_do.is_empty() && !fault.expected.is_empty())
    );
}

#[test]
fn a_book_nobody_touched_is_sound() {
    check("SELECT 1", &[], "");
}

#[test]
fn altered_entries_are_named() {
    check(
        "UPDATE entry SET body = replace(body, 'Invented P-02', 'Invented P-03') WHERE seq = 2",
        &["entry 2 (person-added"],
        "text whose hash is",
    );
    check(
        "UPDATE entry SET happened = '2026-01-02T08:01:00' WHERE seq = 1",
        &["entry 1 "],
        "text whose hash is",
    );
    check("UPDATE entry SET by_person = 'N-03' WHERE seq = 3", &["entry 3 "], "text whose hash is");
    check("UPDATE entry SET body = X'00FF' WHERE seq = 3", &["entry 3 "], "text whose hash is");
    check(
        "UPDATE entry SET seq = 20 WHERE seq = 2",
        &["entry 2", "entries 6 to 19", "entry 20 (", "the note of how long"],
        "removed from the book",
    );
}

#[test]
fn an_entry_rewritten_with_its_own_hash_no_longer_fits_the_next() {
    // Whoever rewrites an entry and its hash must rewrite every later one.
    check(
        "UPDATE entry SET hash = 'aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa' WHERE seq = 2",
        &["entry 2 ", "entry 3 "],
        "text whose hash is",
    );
}

#[test]
fn removed_and_swapped_entries_are_named() {
    check("DELETE FROM entry WHERE seq = 2", &["entry 2"], "nothing: removed from the book");
    check("DELETE FROM entry WHERE seq IN (2, 3)", &["entries 2 to 3"], "nothing: removed from the book");
    check(
        "DELETE FROM culture_set_version WHERE entry_seq = 5; DELETE FROM entry WHERE seq = 5",
        &["entry 5"],
        "removed from the end of the book",
    );
    check(
        "UPDATE entry SET seq = 99 WHERE seq = 2; UPDATE entry SET seq = 2 WHERE seq = 3; UPDATE entry SET seq = 3 WHERE seq = 99",
        &["entry 2 ", "entry 2 ", "entry 3 ", "entry 3 ", "entry 4 "],
        "that it follows",
    );
    check("DELETE FROM entry; DELETE FROM culture_set_version", &["entries 1 to 5"], "removed from the end");
}

#[test]
fn altered_rows_of_sets_are_named() {
    check(
        "UPDATE culture_set_version SET verdict = 'negative' WHERE set_id = 'S-1'",
        &["set S-1 version 1 (taken in by entry 4)", "entry 4 "],
        "text whose hash is",
    );
    check(
        "UPDATE culture_set_version SET unit = NULL WHERE set_id = 'S-3'",
        &["set S-3 version 1 (taken in by entry 5)", "entry 5 "],
        "text whose hash is",
    );
    check("DELETE FROM culture_set_version WHERE set_id = 'S-2'", &["entry 4 "], "1 rows of sets");
    check("DELETE FROM culture_set_version WHERE entry_seq = 5", &["entry 5 "], "0 rows of sets");
    check(
        "UPDATE culture_set_version SET entry_seq = 3 WHERE set_id = 'S-3'",
        &["set S-3", "entry 5", "entry 3"],
        "text whose hash is",
    );
}

#[test]
fn a_removed_safeguard_is_named() {
    let (_folder, path) = small_book();
    rusqlite::Connection::open(&path).unwrap().execute_batch("DROP TRIGGER entry_refuses_update").unwrap();
    let faults = SqliteBook::open(&path).unwrap().verify().unwrap().faults;
    assert_eq!(faults.len(), 1);
    assert_eq!(faults[0].place, "the safeguard entry_refuses_update");
}

#[test]
fn the_tables_refuse_changes() {
    let (_folder, path) = small_book();
    let database = rusqlite::Connection::open(&path).unwrap();
    for sql in [
        "UPDATE entry SET by_person = 'X'",
        "DELETE FROM entry",
        "UPDATE culture_set_version SET verdict = 'negative'",
        "DELETE FROM culture_set_version",
        "UPDATE book_head SET seq = 1",
        "DELETE FROM book_head",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry WHERE seq = 1",
        "INSERT OR REPLACE INTO entry SELECT 6, id, happened, recorded_at, by_person, kind, kind_version, body, corrects, \
         correction_reason, 'x', 'y' FROM entry WHERE seq = 2",
        "INSERT OR REPLACE INTO culture_set_version SELECT * FROM culture_set_version WHERE set_id = 'S-1'",
        "INSERT OR REPLACE INTO book_head (only_row, seq, hash) VALUES (1, 1, 'x')",
    ] {
        assert!(database.execute_batch(sql).is_err(), "{sql}");
    }
    assert!(SqliteBook::open(&path).unwrap().verify().unwrap().is_sound());
}

#[test]
fn every_altered_byte_is_noticed_or_harms_nothing() {
    let (folder, path) = small_book();
    let sound = fs::read(&path).unwrap();
    let entries = SqliteBook::open(&path).unwrap().entries().unwrap();
    let sets = SqliteBook::open(&path).unwrap().latest_set_versions().unwrap();
    let copy = folder.path().join("altered.sqlite");
    let mut noticed = 0;
    // A step that is prime to every page size, so that all parts of pages are reached.
    for place in (0..sound.len()).step_by(97) {
        let mut altered = sound.clone();
        altered[place] ^= 0x20;
        fs::write(&copy, &altered).unwrap();
        let verdict = SqliteBook::open(&copy).and_then(|book| book.verify());
        if verdict.is_ok_and(|verification| verification.is_sound()) {
            // A byte in an empty part of a page says nothing; the book must read as it was written.
            let book = SqliteBook::open(&copy).unwrap();
            assert_eq!(book.entries().unwrap(), entries, "byte {place}");
            assert_eq!(book.latest_set_versions().unwrap(), sets, "byte {place}");
        } else {
            noticed += 1;
        }
    }
    assert!(noticed > 20, "only {noticed} alterations were noticed");
}

#[test]
fn a_truncated_book_is_damaged() {
    let (_folder, path) = small_book();
    let whole = fs::read(&path).unwrap();
    for length in [whole.len() - 1, whole.len() / 2, 4096, 100, 17] {
        fs::write(&path, &whole[..length]).unwrap();
        let told = match SqliteBook::open(&path).and_then(|book| book.verify()) {
            Ok(verification) => {
                assert!(!verification.is_sound(), "{length} bytes of {}", whole.len());
                continue;
            }
            Err(error) => error,
        };
        assert!(matches!(told, BookError::Damaged { .. } | BookError::NotABook { .. }), "{length}: {told}");
        assert_eq!(fs::read(&path).unwrap(), &whole[..length], "left as it was");
    }
}

#[test]
fn what_is_no_book_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let told = |path: &Path| SqliteBook::open(path).unwrap_err();
    assert!(matches!(told(&at("none")), BookError::Missing { .. }));
    assert!(matches!(told(folder.path()), BookError::NotABook { .. }));
    for (name, content) in
        [("empty", &b""[..]), ("text", b"Dear colleague, please find attached"), ("short", b"SQL")]
    {
        fs::write(at(name), content).unwrap();
        let error = told(&at(name));
        assert!(matches!(error, BookError::NotABook { .. }), "{error}");
        assert_eq!(fs::read(at(name)).unwrap(), content, "left as it was");
        assert!(matches!(SqliteBook::create(at(name)), Err(BookError::AlreadyThere { .. })));
        assert_eq!(fs::read(at(name)).unwrap(), content, "left as it was");
    }
    let other = at("other.sqlite");
    rusqlite::Connection::open(&other).unwrap().execute_batch("CREATE TABLE entry (seq)").unwrap();
    let before = fs::read(&other).unwrap();
    assert_eq!(
        told(&other).to_string(),
        format!(
            "{}: found a database that another program made; expected a record book; what to do: name the folder that holds the book; nothing was changed",
            other.display()
        )
    );
    assert_eq!(fs::read(&other).unwrap(), before);
}

#[test]
fn a_newer_book_is_refused_and_left_alone() {
    let (_folder, path) = small_book();
    rusqlite::Connection::open(&path)
        .unwrap()
        .execute_batch("INSERT INTO schema_step (name) VALUES ('29990101_000000_from_later')")
        .unwrap();
    let before = fs::read(&path).unwrap();
    for error in [SqliteBook::open(&path).unwrap_err(), SqliteBook::open_read_only(&path).unwrap_err()] {
        assert!(
            matches!(&error, BookError::Newer { found, .. } if found == "29990101_000000_from_later"),
            "{error}"
        );
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_locked_book_says_so_and_nothing_is_written() {
    let (_folder, path) = small_book();
    let mut book = SqliteBook::open_waiting(&path, Duration::from_millis(20)).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let left = draft(9, "2026-02-05T09:00", "T-01", EventKind::PersonLeft { person: id("P-02") });
    let error = book.append(vec![left.clone()], at("2026-02-05T09:00:00Z")).unwrap_err();
    assert!(matches!(error, BookError::Locked { waited_ms: 20, .. }), "{error}");
    assert_eq!(book.head().unwrap().seq, 5, "reading goes on");
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(book.append(vec![left], at("2026-02-05T09:00:00Z")).unwrap().recorded[0].seq(), 6);
}

#[test]
fn a_book_opened_for_reading_is_read_and_not_written() {
    let (_folder, path) = small_book();
    let mut book = SqliteBook::open_read_only(&path).unwrap();
    assert_eq!(book.entries().unwrap().len(), 5);
    assert!(book.verify().unwrap().is_sound());
    let left = draft(9, "2026-02-05T09:00", "T-01", EventKind::PersonLeft { person: id("P-02") });
    let error = book.append(vec![left], at("2026-02-05T09:00:00Z")).unwrap_err();
    assert!(matches!(error, BookError::NotWritable { .. }), "{error}");
}

#[cfg(unix)]
#[test]
fn a_folder_without_leave_to_write_is_told() {
    use std::os::unix::fs::PermissionsExt;

    let (folder, path) = small_book();
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
    let new_file = folder.path().join("new");
    if fs::write(&new_file, "").is_ok() {
        println!(
            "not checked here: this user may write in a folder that forbids it (run as another user than root)"
        );
        fs::remove_file(&new_file).unwrap();
    } else {
        let left = draft(9, "2026-02-05T09:00", "T-01", EventKind::PersonLeft { person: id("P-02") });
        let before = fs::read(&path).unwrap();
        let error =
            SqliteBook::open(&path).unwrap().append(vec![left], at("2026-02-05T09:00:00Z")).unwrap_err();
        assert!(matches!(error, BookError::NotWritable { .. }), "{error}");
        assert!(matches!(SqliteBook::create(new_file), Err(BookError::NotWritable { .. })));
        assert_eq!(fs::read(&path).unwrap(), before);
    }
    fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
}

#[test]
fn the_book_knows_its_patient_key_and_does_not_hold_it() {
    let (_folder, path) = small_book();
    let mut book = SqliteBook::open(&path).unwrap();
    let key = b"thirty-two bytes of a random key";
    book.accept_patient_key(key).unwrap();
    book.accept_patient_key(key).unwrap();
    assert_eq!(book.accept_patient_key(b"another"), Err(BookError::OtherPatientKey));
    assert!(book.verify().unwrap().is_sound());
    let bytes = fs::read(&path).unwrap();
    assert!(!bytes.windows(key.len()).any(|window| window == key));
}

/// A power cut in the middle of a long write: pages of the file are already overwritten and only the journal knows what
/// stood there. The copy of both is what the disk holds at that moment.
#[test]
fn a_write_cut_off_in_the_middle_is_undone() {
    let (folder, path) = small_book();
    let before = SqliteBook::open(&path).unwrap().entries().unwrap();
    let sound = fs::read(&path).unwrap();
    let writing = rusqlite::Connection::open(&path).unwrap();
    writing.execute_batch("PRAGMA cache_size = 2; BEGIN IMMEDIATE").unwrap();
    for number in 0..2_000 {
        writing.execute("INSERT INTO schema_step (name) VALUES (?1)", [format!("step {number}")]).unwrap();
    }
    writing.execute_batch("UPDATE book_head SET seq = 9, hash = 'x'").unwrap();
    let cut = folder.path().join("cut");
    fs::create_dir(&cut).unwrap();
    let journal = |path: &Path| PathBuf::from(format!("{}-journal", path.display()));
    let copy = cut.join(BOOK_FILE);
    fs::copy(&path, &copy).unwrap();
    fs::copy(journal(&path), journal(&copy)).unwrap();
    assert_ne!(fs::read(&copy).unwrap(), sound, "the cut must fall in the middle of a write");
    let book = SqliteBook::open(&copy).unwrap();
    assert!(book.verify().unwrap().is_sound());
    assert_eq!(book.entries().unwrap(), before);
    assert!(!journal(&copy).exists());
}

#[test]
fn two_programs_write_one_after_the_other() {
    let (_folder, path) = small_book();
    std::thread::scope(|scope| {
        for program in 1..=2 {
            let path = &path;
            scope.spawn(move || {
                let mut book = SqliteBook::open(path).unwrap();
                for number in 0..15 {
                    let left = EventKind::PersonLeft { person: id("P-02") };
                    let draft = draft(1_000 * program + number, "2026-02-05T09:00", "T-01", left);
                    book.append(vec![draft], at("2026-02-05T09:00:00Z")).unwrap();
                }
            });
        }
    });
    let book = SqliteBook::open(&path).unwrap();
    let seqs: Vec<_> = book.entries().unwrap().iter().map(|entry| entry.seq()).collect();
    assert_eq!(seqs, (1..=35).collect::<Vec<u64>>());
    assert!(book.verify().unwrap().is_sound());
}
