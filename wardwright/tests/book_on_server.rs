//! A data folder whose record book lies on a PostgreSQL server, from the command line. Needs a database in which it may make
//! schemas: `WARDWRIGHT_TEST_POSTGRES` holds its address, as `./test` sets it up. Without it the test says that it did not run.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use std::path::Path;
use std::process::Command;

fn run(arguments: &[&str]) -> (Option<i32>, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_wardwright")).args(arguments).output().unwrap();
    let text = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8(text).unwrap())
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

const LABORATORY: &str = "\
specimen,patient,collected,organism
S-1,4711,2026-03-10 04:10,
S-2,4712,2026-03-10 05:10,Escherichia coli
S-2,4712,2026-03-10 05:10,Klebsiella pneumoniae
";
const MAPPING: &str = "schema = 1\nname = \"invented ward\"\ndate_formats = [\"YYYY-MM-DD hh:mm\"]\n[columns]\nspecimen = \"specimen\"\npatient = \"patient\"\n\
                       collected = \"collected\"\norganism = \"organism\"\n";

#[test]
fn the_loop_runs_on_a_book_on_a_server() {
    let address = std::env::var("WARDWRIGHT_TEST_POSTGRES").unwrap_or_default();
    if address.is_empty() {
        println!("not run: WARDWRIGHT_TEST_POSTGRES names no PostgreSQL database; ./test starts one");
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let schema = format!("command_{}", uuid::Uuid::now_v7().simple());
    let set_up = |name: &str| {
        let data = folder.path().join(name);
        let data = text(&data);
        run(&[
            "setup",
            "--data",
            data,
            "--unit",
            "Invented unit",
            "--postgresql",
            &address,
            "--schema",
            &schema,
        ])
    };
    let (code, told) = set_up("data");
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains(&format!("on the PostgreSQL server, schema {schema}")), "{told}");
    // A second folder would hash patients under another key.
    let (code, told) = set_up("other");
    assert_eq!(code, Some(2), "{told}");
    assert!(told.contains("found:    a record book") && !folder.path().join("other").exists(), "{told}");

    let data = folder.path().join("data");
    assert!(!data.join("book.sqlite").exists());
    let data_name = text(&data);
    let (file, map) = (folder.path().join("lab.csv"), folder.path().join("lab.toml"));
    std::fs::write(&file, LABORATORY).unwrap();
    std::fs::write(&map, MAPPING).unwrap();
    let take_in = || {
        let arguments =
            ["cultures", "take-in", text(&file), "--map", text(&map), "--data", data_name, "--by", "n001"];
        run(&arguments)
    };
    let (code, told) = take_in();
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("2 sets new"), "{told}");
    assert!(take_in().1.contains("taken in before"));
    let (code, told) = run(&["book", "verify", "--data", data_name]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.starts_with("Sound: 1 entries and 2 rows of laboratory sets"), "{told}");
    let breakdown = Path::new(env!("CARGO_MANIFEST_DIR")).join("../breakdowns/vein.txt");
    let (code, told) = run(&["breakdown", "publish", text(&breakdown), "--data", data_name, "--by", "n001"]);
    assert_eq!(code, Some(0), "{told}");
    let (code, told) = run(&["book", "show", "--data", data_name]);
    assert_eq!(code, Some(0), "{told}");
    assert!(told.contains("lab.csv") && told.contains("Breakdown of vein published"), "{told}");

    // Into a file, and to the server again, under another schema: the same entries, and the settings otherwise as they were.
    let verified = |place: &str| {
        let (code, told) = run(&["book", "verify", "--data", place]);
        assert_eq!(code, Some(0), "{told}");
        told
    };
    let before = verified(data_name);
    let settings_before = std::fs::read_to_string(data.join("wardwright.toml")).unwrap();
    std::fs::write(data.join("wardwright.toml"), format!("# ours\n{settings_before}")).unwrap();
    let (code, told) = run(&["book", "move", "--data", data_name, "--to-file"]);
    assert_eq!(code, Some(0), "{told}");
    assert_eq!(verified(text(&data.join("book.sqlite"))), before);
    assert_eq!(verified(data_name), before);
    let settings_now = std::fs::read_to_string(data.join("wardwright.toml")).unwrap();
    assert!(settings_now.starts_with("# ours") && !settings_now.contains("postgresql"), "{settings_now}");
    let (code, told) = run(&["book", "move", "--data", data_name, "--to-file"]);
    assert!(code == Some(2) && told.contains("in a file already"), "{told}");
    let to_server = |schema: &str| {
        run(&["book", "move", "--data", data_name, "--postgresql", &address, "--schema", schema])
    };
    // The schema it came from still holds the book: it is not written over.
    let (code, told) = to_server(&schema);
    assert!(code == Some(2) && told.contains("a book of 2 entries"), "{told}");
    assert_eq!(verified(data_name), before);
    let (code, told) = to_server(&format!("{schema}b"));
    assert_eq!(code, Some(0), "{told}");
    assert!(data.join("book-before-the-server.sqlite").exists() && !data.join("book.sqlite").exists());
    assert_eq!(verified(data_name), before);
    assert!(take_in().1.contains("taken in before"));

    // A settings file with a password that others can read is refused, and the password is not repeated.
    let settings = data.join("wardwright.toml");
    let held = std::fs::read_to_string(&settings).unwrap();
    std::fs::write(&settings, held.replace("user=", "password=sesame user=")).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = |mode| std::fs::set_permissions(&settings, std::fs::Permissions::from_mode(mode)).unwrap();
        mode(0o644);
        let (code, told) = run(&["book", "verify", "--data", data_name]);
        assert_eq!(code, Some(2), "{told}");
        assert!(told.contains("chmod 600") && !told.contains("sesame"), "{told}");
        mode(0o600);
        assert_eq!(run(&["book", "verify", "--data", data_name]).0, Some(0));
    }
}
