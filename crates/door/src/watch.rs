//! A folder the laboratory lays its files into.
//!
//! A file is taken in when it has been left alone between two looks. Then it is moved: to `done` once it is in the book,
//! to `kept-aside` with the reason beside it when it cannot be taken in. Until it is moved it counts as new, so a program
//! that stops at any moment takes the file in again, and the book knows it again.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use book::{Body, BookError, Store, TakeInOutcome};
use exchange::laboratory::{Holds, Unread};

use crate::files::OfMessages;
use crate::intake::{Door, LaboratoryFile, Moment};

const DONE: &str = "done";
const KEPT_ASIDE: &str = "kept-aside";
/// Endings under which programs write a file that is not whole yet.
const UNFINISHED: [&str; 5] = [".tmp", ".part", ".partial", ".filepart", ".crdownload"];
const LARGEST_FILE_BYTES: u64 = 4 << 30;

/// A folder that is watched.
#[derive(Debug)]
pub struct Watch {
    folder: PathBuf,
    with_unread: bool,
    seen: BTreeMap<String, (u64, Option<SystemTime>)>,
}

/// What became of a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Found {
    /// A table or FHIR file, now in the book and moved to `done`.
    TakenIn {
        /// Name of the file.
        name: String,
        /// Its entry.
        outcome: Box<TakeInOutcome>,
        /// What could not be read of it and was left out.
        unread: Vec<Unread>,
    },
    /// A file of messages, moved to `done`.
    Messages {
        /// Name of the file.
        name: String,
        /// What became of them.
        of_messages: OfMessages,
    },
    /// Moved to `kept-aside` with the reason.
    KeptAside {
        /// Name of the file.
        name: String,
        /// Why, line by line.
        why: Vec<String>,
    },
    /// Left where it is; the next look tries again.
    Left {
        /// Name of the file.
        name: String,
        /// Why.
        why: String,
    },
}

/// The folder itself cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{}: {error}", path.display())]
pub struct WatchError {
    /// Folder or file.
    pub path: PathBuf,
    /// What the system said.
    pub error: io::Error,
}

impl Watch {
    /// Watches a folder, making the two folders in it that files are moved to. With `with_unread` a file goes in although
    /// some of its rows cannot be read.
    pub fn open(folder: &Path, with_unread: bool) -> Result<Watch, WatchError> {
        for inside in [DONE, KEPT_ASIDE] {
            let path = folder.join(inside);
            if !folder.is_dir() {
                let error = io::Error::new(io::ErrorKind::NotFound, "no such folder");
                return Err(WatchError { path: folder.to_owned(), error });
            }
            fs::create_dir_all(&path).map_err(|error| WatchError { path, error })?;
        }
        Ok(Watch { folder: folder.to_owned(), with_unread, seen: BTreeMap::new() })
    }

    /// Looks once: takes in every file that is as it was at the look before.
    pub fn look<S: Store>(
        &mut self,
        door: &mut Door<S>,
        next: &dyn Fn() -> Moment,
    ) -> Result<Vec<Found>, WatchError> {
        let mut now = BTreeMap::new();
        let here = |error| WatchError { path: self.folder.clone(), error };
        for entry in fs::read_dir(&self.folder).map_err(here)? {
            let entry = entry.map_err(here)?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let lower = name.to_lowercase();
            // A file may be gone again by now; it then was not ours to take.
            let Ok(about) = entry.metadata() else { continue };
            let unfinished = UNFINISHED.iter().any(|ending| lower.ends_with(ending));
            if !about.is_file() || name.starts_with('.') || unfinished {
                continue;
            }
            now.insert(name, (about.len(), about.modified().ok()));
        }
        let before = std::mem::replace(&mut self.seen, now);
        let mut found = Vec::new();
        for (name, state) in self.seen.clone() {
            if before.get(&name) != Some(&state) {
                continue;
            }
            let what = self.take(door, &name, state.0, next)?;
            if !matches!(what, Found::Left { .. }) {
                self.seen.remove(&name);
            }
            found.push(what);
        }
        Ok(found)
    }

    fn take<S: Store>(
        &self,
        door: &mut Door<S>,
        name: &str,
        length: u64,
        next: &dyn Fn() -> Moment,
    ) -> Result<Found, WatchError> {
        let left = |why: String| Ok(Found::Left { name: name.to_owned(), why });
        if length > LARGEST_FILE_BYTES {
            return self.aside(
                name,
                vec![format!("more than {} GB; export shorter periods", LARGEST_FILE_BYTES >> 30)],
            );
        }
        let bytes = match fs::read(self.folder.join(name)) {
            Ok(bytes) => bytes,
            Err(error) => return left(error.to_string()),
        };
        let file = LaboratoryFile { name, bytes: &bytes };
        if file.is_messages() {
            return match door.take_in_message_file(file, next) {
                Ok(of_messages) => {
                    self.moved_to(DONE, name)?;
                    Ok(Found::Messages { name: name.to_owned(), of_messages })
                }
                Err(problem) => left(problem.text),
            };
        }
        let now = next();
        let import = match door.read_file(file, &now) {
            Ok(import) => import,
            Err(error) => return left(error.to_string()),
        };
        let mut why: Vec<String> = import.unread.iter().map(ToString::to_string).collect();
        if import.holds == Holds::PositivesOnly {
            why.push(
                "positive cultures only, as the mapping says; ask the laboratory for every set".to_owned(),
            );
            return self.aside(name, why);
        }
        if import.sets.is_empty() && why.is_empty() {
            why.push("no set in it could be read; look at the file and at the mapping".to_owned());
        }
        if import.sets.is_empty() || (!why.is_empty() && !self.with_unread) {
            return self.aside(name, why);
        }
        match door.take_in_file(file, &import, &now) {
            Ok(outcome) => {
                self.moved_to(DONE, name)?;
                Ok(Found::TakenIn {
                    name: name.to_owned(),
                    outcome: Box::new(outcome),
                    unread: import.unread,
                })
            }
            Err(error @ BookError::BadDraft { .. }) => self.aside(name, vec![error.to_string()]),
            Err(error) => left(error.to_string()),
        }
    }

    fn aside(&self, name: &str, why: Vec<String>) -> Result<Found, WatchError> {
        // The reason first: a file without one would be a riddle.
        let moved = self.free_name(KEPT_ASIDE, name);
        let mut reason = moved.clone().into_os_string();
        reason.push(".why.txt");
        let text = why.join("\n") + "\n";
        let reason = PathBuf::from(reason);
        fs::write(&reason, text).map_err(|error| WatchError { path: reason, error })?;
        fs::rename(self.folder.join(name), &moved).map_err(|error| WatchError { path: moved, error })?;
        Ok(Found::KeptAside { name: name.to_owned(), why })
    }

    fn moved_to(&self, inside: &str, name: &str) -> Result<(), WatchError> {
        let moved = self.free_name(inside, name);
        fs::rename(self.folder.join(name), &moved).map_err(|error| WatchError { path: moved, error })
    }

    /// The name itself, or with a number where one of that name lies there already.
    fn free_name(&self, inside: &str, name: &str) -> PathBuf {
        let folder = self.folder.join(inside);
        let (stem, ending) = match name.rsplit_once('.') {
            Some((stem, ending)) => (stem, format!(".{ending}")),
            None => (name, String::new()),
        };
        let mut path = folder.join(name);
        let mut number = 2;
        while path.exists() {
            path = folder.join(format!("{stem}-{number}{ending}"));
            number += 1;
        }
        path
    }
}

impl Found {
    /// One line that says what became of the file.
    pub fn line(&self) -> String {
        match self {
            Found::TakenIn { name, outcome, unread } => {
                let entry = outcome.entry();
                let Body::LaboratoryFileTakenIn(taken) = entry.body() else {
                    return format!("{name}: entry {}", entry.seq());
                };
                match **outcome {
                    TakeInOutcome::AlreadyTakenIn(_) => {
                        format!("{name}: taken in before as entry {}; nothing was added.", entry.seq())
                    }
                    TakeInOutcome::TakenIn(_) => format!(
                        "{name}: entry {}, {} rows, {} not read; {} sets new, {} with a new version, {} unchanged.",
                        entry.seq(),
                        taken.counts.rows,
                        unread.len(),
                        taken.sets_new,
                        taken.sets_changed,
                        taken.sets_unchanged
                    ),
                }
            }
            Found::Messages { name, of_messages } => format!("{name}: {of_messages}"),
            Found::KeptAside { name, why } => {
                let first = why.first().map(String::as_str).unwrap_or_default();
                format!(
                    "{name}: kept aside for {} reason(s), written beside it in {KEPT_ASIDE}; the first: {first}",
                    why.len()
                )
            }
            Found::Left { name, why } => format!("{name}: left where it is and tried again later: {why}"),
        }
    }
}
