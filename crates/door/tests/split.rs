//! One set that the laboratory books under two specimen numbers or two orders: by messages, by files, on different days.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

mod common;

use std::fs;
use std::path::Path;

use book::{SqliteBook, Stands, Store as _};
use common::{arrival, moment, moment_on, terms};
use culture::{BottleKind, CultureSet, SetId};
use door::{Arrival, Door, Fate, LaboratoryFile, Watch};
use exchange::laboratory::Mapping;
use exchange::laboratory::acknowledge::split_messages;
use jiff::civil::date;
use proptest::prelude::*;

const JOIN: &str = "schema = 1\nname = \"an invented laboratory\"\nsplit_sets = \"join\"\n";

fn open_with(book: &Path, mapping: &str) -> Door<SqliteBook> {
    Door::open(SqliteBook::open_or_create(book).unwrap(), terms(Mapping::from_toml(mapping).unwrap()))
        .unwrap()
}

fn take(door: &mut Door<SqliteBook>, message: &str) -> Fate {
    door.take_in_messages(&[arrival(message)], &moment(), &moment).remove(0)
}

/// One bottle under its own number, of one patient at one minute.
fn bottle(number: &str, kind: &str, made: &str, status: &str, organism: &str) -> String {
    of_patient("4711", number, kind, made, status, organism)
}

fn of_patient(patient: &str, number: &str, kind: &str, made: &str, status: &str, organism: &str) -> String {
    format!(
        "MSH|^~\\&|LAB|NORTH|WARD|ICU|{made}||ORU^R01^ORU_R01|{number}{made}{status}|P|2.5.1\r\
         PID|1||{patient}^^^NORTH^MR\r\
         OBR|1||F-{number}|600-7^Blood culture^LN|||202603100410|||||||||||||||{made}||LAB|{status}\r\
         OBX|1|ST|600-7^Bacteria identified^LN|1|{organism}||||||{status}\r\
         SPM|1|{number}||BLD^Blood^HL70487|||{kind}^{kind} bottle^L||||||||||202603100410\r"
    )
}

fn aerobic(number: &str, made: &str, status: &str, organism: &str) -> String {
    bottle(number, "AEROBIC", made, status, organism)
}

fn anaerobic(number: &str, made: &str, status: &str, organism: &str) -> String {
    bottle(number, "ANAEROBIC", made, status, organism)
}

/// An order that names no specimen and hangs under another (OBR-29).
fn under(parent: &str, made: &str, status: &str, organism: &str) -> String {
    format!(
        "MSH|^~\\&|LAB|NORTH|WARD|ICU|{made}||ORU^R01^ORU_R01|U{made}{status}|P|2.5.1\r\
         PID|1||4711^^^NORTH^MR\r\
         OBR|1||F-U|600-7^Blood culture^LN|||202603100410|||||||||||||||{made}||LAB|{status}||||^{parent}\r\
         OBX|1|ST|600-7^Bacteria identified^LN|7|{organism}||||||{status}\r"
    )
}

fn names(set: &CultureSet) -> Vec<&str> {
    set.isolates.iter().map(|isolate| isolate.reported_name.as_str()).collect()
}

fn kinds(set: &CultureSet) -> Vec<BottleKind> {
    set.bottles.iter().map(|bottle| bottle.kind).collect()
}

#[test]
fn halves_in_two_messages_are_one_set_and_the_old_verdict_stays() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open_with(&folder.path().join("book.sqlite"), JOIN);
    assert_eq!(take(&mut door, &anaerobic("77", "20260311", "F", "No growth")), Fate::TakenIn);
    assert_eq!(take(&mut door, &aerobic("78", "20260312", "F", "Escherichia coli")), Fate::TakenIn);
    let sets = door.store().sets().unwrap();
    assert_eq!(sets.len(), 1, "{sets:#?}");
    assert_eq!(sets[0].id.0, "77");
    assert_eq!(kinds(&sets[0]), [BottleKind::Anaerobic, BottleKind::Aerobic]);
    assert_eq!(names(&sets[0]), ["Escherichia coli"]);
    let versions = door.store().set_versions(&SetId("77".to_owned())).unwrap();
    let verdicts: Vec<&str> = versions.iter().map(|version| version.verdict.as_str()).collect();
    assert_eq!(verdicts, ["negative", "true-positive"], "what was said before stands with its date");
    let part = door.store().set_versions(&SetId("78".to_owned())).unwrap();
    assert_eq!(part.last().unwrap().stands, Stands::PartOf(SetId("77".to_owned())));

    // A corrected report on one half replaces what that half said, and nothing of the other.
    let corrected = aerobic("78", "20260313", "C", "Staphylococcus aureus");
    assert_eq!(take(&mut door, &corrected), Fate::TakenIn);
    let sets = door.store().sets().unwrap();
    assert_eq!((sets.len(), names(&sets[0])), (1, vec!["Staphylococcus aureus"]));
    // The number of a half belongs to its patient too.
    let others = of_patient("4712", "78", "AEROBIC", "20260314", "F", "No growth");
    assert!(matches!(take(&mut door, &others), Fate::KeptAside(_)));
    // Without the word in the mapping two numbers are two sets, and what was joined stays joined.
    drop(door);
    let plain = "schema = 1\nname = \"an invented laboratory\"\n";
    let mut door = open_with(&folder.path().join("book.sqlite"), plain);
    take(&mut door, &anaerobic("77", "20260314", "C", "Candida albicans"));
    let sets = door.store().sets().unwrap();
    assert_eq!((sets.len(), names(&sets[0])), (1, vec!["Candida albicans", "Staphylococcus aureus"]));
    take(&mut door, &bottle("79", "ANAEROBIC", "20260311", "F", "No growth"));
    assert_eq!(door.store().sets().unwrap().len(), 2);
    assert!(door.store().verify().unwrap().is_sound());
}

/// A correction that shows the bottles were of different minutes parts them again.
#[test]
fn halves_that_turn_out_to_be_two_sets_are_two_sets() {
    let folder = tempfile::tempdir().unwrap();
    let mut door = open_with(&folder.path().join("book.sqlite"), JOIN);
    take(&mut door, &aerobic("77", "20260311", "F", "No growth"));
    take(&mut door, &anaerobic("78", "20260311", "F", "No growth"));
    assert_eq!(door.store().sets().unwrap().len(), 1);
    let later = anaerobic("78", "20260312", "C", "No growth").replace("202603100410", "202603100455");
    take(&mut door, &later);
    let sets = door.store().sets().unwrap();
    assert_eq!(sets.iter().map(|set| set.bottles.len()).collect::<Vec<_>>(), [1, 1]);
    assert!(door.store().verify().unwrap().is_sound());
}

/// Halves in files of two days, laid into the watched folder, and the second file again.
#[test]
fn halves_in_two_files_of_a_watched_folder_are_one_set() {
    let folder = tempfile::tempdir().unwrap();
    let inbox = folder.path().join("inbox");
    fs::create_dir(&inbox).unwrap();
    let mapping = format!(
        "{JOIN}rows = \"bottle\"\n[columns]\nspecimen = \"no\"\npatient = \"mrn\"\ncollected = \"at\"\norganism = \"grew\"\nbottle = \"bottle\"\nfill_ml = \"ml\"\n"
    );
    let mut door = open_with(&folder.path().join("book.sqlite"), &mapping);
    let mut watch = Watch::open(&inbox, false).unwrap();
    let mut lay = |name: &str, rows: &str, door: &mut Door<SqliteBook>| {
        fs::write(inbox.join(name), format!("no,mrn,at,grew,bottle,ml\n{rows}")).unwrap();
        watch.look(door, &moment).unwrap();
        let lines: Vec<String> = watch.look(door, &moment).unwrap().iter().map(door::Found::line).collect();
        assert_eq!(lines.len(), 1, "{lines:?}");
        lines[0].clone()
    };
    let monday = lay("monday.csv", "81,77,2026-03-01 04:10,,anaerobic,8.0\n", &mut door);
    assert!(monday.contains("1 sets new"), "{monday}");
    let second = "80,77,2026-03-01 04:10,CNS,aerobic,9.5\n";
    lay("tuesday.csv", second, &mut door);
    let sets = door.store().sets().unwrap();
    assert_eq!(sets.len(), 1);
    assert_eq!((sets[0].id.0.as_str(), names(&sets[0])), ("80", vec!["CNS"]));
    let fills: Vec<Option<f64>> = sets[0].bottles.iter().map(|bottle| bottle.fill_ml).collect();
    assert_eq!(fills, [Some(9.5), Some(8.0)]);
    let again = lay("wednesday.csv", &format!("{second}90,78,2026-03-02 04:10,,aerobic,9\n"), &mut door);
    assert!(again.contains("1 sets new, 0 with a new version"), "{again}");
    assert_eq!(door.store().sets().unwrap().len(), 2);
    // Both halves in one file, which knows nothing of the book, give the same set.
    let both = "80,77,2026-03-01 04:10,CNS,aerobic,9.5\n81,77,2026-03-01 04:10,,anaerobic,8.0\n";
    let mut fresh = open_with(&folder.path().join("fresh.sqlite"), &mapping);
    let text = format!("no,mrn,at,grew,bottle,ml\n{both}");
    let file = LaboratoryFile { name: "both.csv", bytes: text.as_bytes() };
    let import = fresh.read_file(file, &moment()).unwrap();
    assert_eq!(import.sets.len(), 1);
    fresh.take_in_file(file, &import, &moment()).unwrap();
    assert_eq!(fresh.store().sets().unwrap(), sets);
    assert!(door.store().verify().unwrap().is_sound() && fresh.store().verify().unwrap().is_sound());
}

/// An order that hangs under another comes on the wire before it, by itself: first a set of its own, for nobody can know
/// whose it is, and then part of the set it belongs to.
#[test]
fn an_order_joins_the_set_of_the_order_it_hangs_under() {
    let first = under("F-S9", "20260311", "F", "Candida albicans");
    let second = aerobic("S9", "20260312", "F", "Escherichia coli");
    let folder = tempfile::tempdir().unwrap();
    let mut early = open_with(&folder.path().join("early.sqlite"), JOIN);
    take(&mut early, &first);
    assert_eq!(early.store().sets().unwrap()[0].id.0, "F-U");
    take(&mut early, &second);
    let sets = early.store().sets().unwrap();
    assert_eq!(sets.len(), 1, "{sets:#?}");
    assert_eq!((sets[0].id.0.as_str(), names(&sets[0]).len()), ("S9", 2));
    let mut late = open_with(&folder.path().join("late.sqlite"), JOIN);
    take(&mut late, &second);
    take(&mut late, &first);
    assert_eq!(late.store().sets().unwrap(), sets);
    assert!(early.store().verify().unwrap().is_sound());
}

fn message() -> impl Strategy<Value = String> {
    let organism = prop::sample::select(vec!["No growth", "CNS", "Escherichia coli", "Candida albicans"]);
    let made = prop::sample::select(vec!["20260311", "20260312080000", "20260312080000.5"]);
    let status = prop::sample::select(vec!["P", "F", "C", "X"]);
    (0..4, made, status, organism).prop_map(|(which, made, status, organism)| match which {
        0 => aerobic("77", made, status, organism),
        1 => anaerobic("78", made, status, organism),
        2 => under("F-77", made, status, organism),
        // Both halves in one message.
        _ => aerobic("77", made, status, organism) + &anaerobic("78", made, status, organism),
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Messages of one culture in any order, any of them again and again, one by one or several at once: the set is the
    /// same, and so is its verdict.
    #[test]
    fn any_order_and_any_repetition_give_the_same_set(
        sent in prop::collection::vec(message(), 1..6),
        order in prop::collection::vec(any::<prop::sample::Index>(), 0..8),
        at_once in 1_usize..4,
    ) {
        let folder = tempfile::tempdir().unwrap();
        // The order's own specimen is known in any case, and so is the other half.
        let mut sent = sent;
        sent.push(aerobic("77", "20260310", "P", "No growth"));
        sent.push(anaerobic("78", "20260310", "P", "No growth"));
        let mut arrived: Vec<&String> = order.iter().map(|index| index.get(&sent)).collect();
        arrived.extend(sent.iter().rev());
        let mut one = open_with(&folder.path().join("one.sqlite"), JOIN);
        let mut other = open_with(&folder.path().join("other.sqlite"), JOIN);
        for message in &sent {
            prop_assert!(matches!(take(&mut one, message), Fate::TakenIn | Fate::TakenInBefore));
        }
        for some in arrived.chunks(at_once) {
            let arrivals: Vec<Arrival> = some.iter().map(|message| arrival(message)).collect();
            let fates = other.take_in_messages(&arrivals, &moment(), &moment);
            let good = |fate: &Fate| matches!(fate, Fate::TakenIn | Fate::TakenInBefore);
            prop_assert!(fates.iter().all(good), "{:?}", fates);
        }
        let verdicts = |door: &Door<SqliteBook>| -> Vec<(CultureSet, String, String)> {
            let versions = door.store().latest_set_versions().unwrap();
            versions.into_iter().map(|version| (version.set, version.verdict, version.clause)).collect()
        };
        prop_assert_eq!(verdicts(&one).len(), 1);
        prop_assert_eq!(verdicts(&one), verdicts(&other));
        prop_assert!(other.store().verify().unwrap().is_sound());
    }
}

/// The open message reports one blood culture in two orders. Sent order by order, in either order, as a feed does that
/// reports each by itself, it is the set it is in one message.
#[test]
fn an_open_culture_in_two_orders_is_one_set_however_they_are_sent() {
    let data = std::env::var_os("WARDWRIGHT_OPEN_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"),
        std::path::PathBuf::from,
    );
    let name = "blood_culture_two_sets_elr251.hl7";
    let Ok(bytes) = fs::read(data.join("hl7v2-oru-micro").join(name)) else {
        println!("not run: {name} is not there; docs/open-data.md says where it is published");
        return;
    };
    let then = || moment_on(date(2028, 8, 10));
    let text = String::from_utf8(bytes.clone()).unwrap();
    let lines: Vec<&str> = text.lines().filter(|line| !line.is_empty()).collect();
    let starts: Vec<usize> = (0..lines.len()).filter(|&at| lines[at].starts_with("ORC|")).collect();
    assert!(starts.len() >= 2, "the file has more than one order");
    let head = lines[..starts[0]].join("\r");
    let ends = starts[1..].iter().copied().chain([lines.len()]);
    let orders: Vec<String> = starts
        .iter()
        .zip(ends)
        .map(|(&start, end)| format!("{head}\r{}\r", lines[start..end].join("\r")))
        .collect();
    let folder = tempfile::tempdir().unwrap();
    let plain = "schema = 1\nname = \"messages\"\n";
    let sets_of = |book: &str, messages: &[&[u8]]| -> Vec<CultureSet> {
        let mut door = open_with(&folder.path().join(book), plain);
        for message in messages {
            let arrivals = [Arrival { bytes: message.to_vec(), source: "wire".to_owned(), fault: None }];
            let fates = door.take_in_messages(&arrivals, &then(), &then);
            assert!(matches!(fates[0], Fate::TakenIn | Fate::NothingForUs), "{fates:?}");
        }
        assert!(door.store().verify().unwrap().is_sound());
        door.store().sets().unwrap()
    };
    let whole = sets_of("whole.sqlite", &split_messages(&bytes));
    assert_eq!(whole.len(), 1, "{whole:#?}");
    let forward: Vec<&[u8]> = orders.iter().map(String::as_bytes).collect();
    let backward: Vec<&[u8]> = forward.iter().rev().copied().collect();
    assert_eq!(sets_of("forward.sqlite", &forward), whole);
    assert_eq!(sets_of("backward.sqlite", &backward), whole);
}
