//! Opening what a command on laboratory files is given: files, mappings, rule sets.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use culture::{READY_RULE_SETS, RuleSet};
use exchange::laboratory::{BulkFile, BulkImport, Mapping, Pace, PatientHashKey};
use jiff::civil::Date;
use uuid::Uuid;

use crate::message::Message;

/// Largest laboratory file that is opened.
const LARGEST_FILE_BYTES: u64 = 4 << 30;

/// A rule set by its name, or from a file.
pub fn named_rules(name: &str) -> Result<RuleSet, Message> {
    if let Some(ready) = RuleSet::ready(name) {
        return Ok(ready);
    }
    let path = Path::new(name);
    let text = fs::read_to_string(path).map_err(|error| {
        Message::new(
            format!("rule set {name}"),
            format!("no ready rule set of that name, and no file: {error}"),
            format!("one of {}, or a file", READY_RULE_SETS.join(", ")),
            "write one of these names, or the path of a rule set file (docs/rules.md)",
        )
    })?;
    RuleSet::from_toml(&text).map_err(|error| {
        Message::new(
            name.to_owned(),
            error.to_string(),
            "a rule set as docs/rules.md describes it",
            "correct the line named above",
        )
    })
}

/// Reads a mapping file.
pub fn mapping(path: &Path) -> Result<Mapping, Message> {
    let bytes = read(path)?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Message::new(
            path.display().to_string(),
            "text that is not UTF-8",
            "a mapping in TOML, which is UTF-8",
            "save the mapping as UTF-8",
        )
    })?;
    let mapping = Mapping::from_toml(text.trim_start_matches('\u{feff}')).map_err(|error| {
        Message::new(format!("{}, {}", path.display(), error.place), error.found, error.expected, error.to_do)
    })?;
    if !mapping.is_confirmed() {
        return Err(Message::new(
            path.display().to_string(),
            "confirmed = false: a proposed mapping that nobody has confirmed",
            "confirmed = true",
            "read every line with someone from the laboratory, correct what is wrong, then write confirmed = true",
        ));
    }
    Ok(mapping)
}

/// The further files a mapping names, looked for beside it.
pub fn companions(mapping: &Mapping, map: &Path) -> Result<Vec<(String, Vec<u8>)>, Message> {
    companions_in(mapping, &map.parent().into_iter().collect::<Vec<_>>())
}

/// The further files a mapping names, looked for in these folders. One that is nowhere is left to the reader, which
/// says what is lost by it.
pub fn companions_in(mapping: &Mapping, folders: &[&Path]) -> Result<Vec<(String, Vec<u8>)>, Message> {
    let mut found = Vec::new();
    for name in mapping.companions() {
        let place = folders.iter().map(|folder| folder.join(name)).find(|path| path.is_file());
        if let Some(path) = place {
            found.push((name.to_owned(), read(&path)?));
        }
    }
    Ok(found)
}

/// A laboratory file with the name to use in messages.
pub fn named_file(path: &Path) -> Result<(String, Vec<u8>), Message> {
    Ok((name_of(path), read(path)?))
}

/// Tables of any size, read without being held whole; `None` where a file or the mapping asks for that.
pub fn in_bulk(
    paths: &[PathBuf],
    mapping: &Mapping,
    key: &PatientHashKey,
    last_day: Date,
) -> Result<Option<BulkImport>, Message> {
    // What is no plain file, such as a pipe, can be read only once and may have to be held.
    let plain = |path: &PathBuf| fs::metadata(path).is_ok_and(|about| about.is_file());
    if !paths.iter().all(plain) {
        return Ok(None);
    }
    let cannot = |path: &Path, error: std::io::Error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be read: {error}"),
            "a file that can be read",
            "check the name and whether it may be opened; nothing was changed",
        )
    };
    let names: Vec<String> = paths.iter().map(|path| name_of(path)).collect();
    let mut files = Vec::new();
    for (path, name) in paths.iter().zip(&names) {
        let content = File::open(path).map_err(|error| cannot(path, error))?;
        files.push(BulkFile { name, content: Box::new(content) });
    }
    let pace = Pace { threads: threads().min(MOST_SCANNERS), ..Pace::default() };
    exchange::laboratory::read_in_bulk(files, mapping, key, last_day, pace)
        .map_err(|(place, error)| cannot(&paths[place], error))
}

/// With more of them the one thread that brings rows into sets is what takes the time.
const MOST_SCANNERS: usize = 4;

/// Threads to work with: as many as the machine has processors, up to 16.
pub fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from).min(16)
}

fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

fn read(path: &Path) -> Result<Vec<u8>, Message> {
    let too_large = fs::metadata(path).is_ok_and(|about| about.len() > LARGEST_FILE_BYTES);
    if too_large {
        return Err(Message::new(
            path.display().to_string(),
            format!("more than {} GB", LARGEST_FILE_BYTES >> 30),
            "a smaller file",
            "export shorter periods and give the files one after the other",
        ));
    }
    crate::folder::read(path)
}

/// Without a record book patients are told apart for this run only: the key is made afresh and forgotten.
pub fn key_for_this_run() -> Result<PatientHashKey, Message> {
    let bytes: Vec<u8> = (0..4).flat_map(|_| Uuid::now_v7().into_bytes()).collect();
    PatientHashKey::new(&bytes)
        .map_err(|error| Message::new("patient key", error.to_string(), "a key", "report this as a fault"))
}
