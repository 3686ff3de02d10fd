//! A month's report published from the command line, on a book of an invented unit.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::fs;
use std::path::Path;
use std::process::Command;

fn run(folder: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let output =
        Command::new(env!("CARGO_BIN_EXE_wardwright")).current_dir(folder).args(arguments).output().unwrap();
    (output.status.code(), String::from_utf8([output.stdout, output.stderr].concat()).unwrap())
}

const PEOPLE: &str = "\
by = \"t1\"
[[entry]]
what = \"person added\"
on = 2026-01-02
person = \"t1\"
name = \"Invented Trainer\"
role = \"trainer\"
unit = \"Invented unit\"
started = 2026-01-02
";
const MAPPING: &str = "schema = 1\nname = \"invented ward\"\ndate_formats = [\"YYYY-MM-DD hh:mm\"]\n[columns]\nspecimen = \"specimen\"\n\
                       patient = \"patient\"\ncollected = \"collected\"\norganism = \"organism\"\n";

#[test]
fn a_published_report_keeps_its_figures_and_only_a_trainer_publishes() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let run = |arguments: &[&str]| run(folder, arguments);
    assert_eq!(run(&["setup", "--data", "d", "--unit", "Invented unit"]).0, Some(0));
    fs::write(folder.join("people.toml"), PEOPLE).unwrap();
    let (code, told) = run(&["book", "add", "people.toml", "--data", "d"]);
    assert_eq!(code, Some(0), "{told}");
    // Two sets within a day; the skin germ grew in one of them: contaminated.
    let rows = "S-1,4711,2026-03-10 04:10,Staphylococcus epidermidis\nS-2,4711,2026-03-10 04:20,\n";
    fs::write(folder.join("lab.csv"), format!("specimen,patient,collected,organism\n{rows}")).unwrap();
    fs::write(folder.join("lab.toml"), MAPPING).unwrap();
    let (code, told) =
        run(&["cultures", "take-in", "lab.csv", "--map", "lab.toml", "--data", "d", "--by", "t1"]);
    assert_eq!(code, Some(0), "{told}");

    let publish = |by: &str| run(&["papers", "--data", "d", "--month", "2026-03", "--publish", "--by", by]);
    let (code, told) = publish("somebody");
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("no trainer on the unit") && told.contains("nothing was published"), "{told}");
    let (code, told) = publish("t1");
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("Published: the report of March 2026, on the word of t1."), "{told}");

    let store = book::SqliteBook::open(folder.join("d/book.sqlite")).unwrap();
    let entries = book::Store::entries(&store).unwrap();
    let book::Body::ReportPublished(report) = entries.last().unwrap().body() else { panic!("no report") };
    let counts: Vec<(&str, u64, u64)> =
        report.figures.iter().map(|figure| (figure.name.as_str(), figure.events, figure.trials)).collect();
    assert_eq!(counts[0], ("contaminated sets of closed sets", 1, 2));
    assert!(counts.contains(&("sets without a collector", 2, 2)), "{counts:?}");
    let file = fs::read(folder.join("d/papers/month-2026-03.pdf")).unwrap();
    assert_eq!(report.file_sha256.as_deref(), Some(book::sha256_hex(&file).as_str()));
}
