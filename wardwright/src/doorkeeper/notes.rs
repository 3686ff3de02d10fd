//! What is kept about accounts beside the record book: who saw whose figures, and who changed which account. Each is a file
//! of lines that are only added, until their time is over.

use std::fs::{self, File};
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use account::AccountName;
use jiff::civil::{Date, DateTime};
use jiff::{SignedDuration, Span};
use practice::PersonId;
use rustix::fs::{FlockOperation, flock};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use site::{ChangeNote, View};

/// Name of the file that keeps who saw whose figures.
pub const VIEWS: &str = "views.jsonl";
/// Name of the file that keeps who changed which account.
pub const CHANGES: &str = "account-changes.jsonl";
const LOCK: &str = "views.lock";

/// The files of a data folder.
pub struct Notes {
    folder: PathBuf,
    kept_days: u32,
    /// Day on which old lines were forgotten last.
    forgotten: Mutex<Option<Date>>,
}

impl Notes {
    pub fn of(folder: &Path, kept_days: u32) -> Notes {
        Notes { folder: folder.to_owned(), kept_days, forgotten: Mutex::new(None) }
    }

    /// How long lines are kept.
    pub fn kept_days(&self) -> u32 {
        self.kept_days
    }

    /// Keeps that somebody saw figures. Gives back why it cannot.
    pub fn note_view(&self, view: &View) -> Result<(), String> {
        self.note(VIEWS, &StoredView::of(view))?;
        self.forget_old(view.when);
        Ok(())
    }

    /// Keeps that somebody changed an account.
    pub fn note_change(&self, change: &ChangeNote) -> Result<(), String> {
        self.note(CHANGES, &StoredChange::of(change))
    }

    /// Views for which this holds, latest first.
    pub fn views(&self, wanted: impl Fn(&View) -> bool) -> Result<Vec<View>, String> {
        self.read(VIEWS, |stored: StoredView| stored.view().filter(&wanted))
    }

    /// Changes, latest first.
    pub fn changes(&self) -> Result<Vec<ChangeNote>, String> {
        self.read(CHANGES, StoredChange::change)
    }

    fn held(&self) -> MutexGuard<'_, Option<Date>> {
        self.forgotten.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Held while a line is added and while old ones are forgotten, so that none is lost between two programs.
    fn locked(&self) -> Result<File, String> {
        let failed = |error: std::io::Error| format!("{LOCK}: {error}");
        let lock = private(&self.folder.join(LOCK), false).map_err(failed)?;
        flock(&lock, FlockOperation::LockExclusive).map_err(|error| failed(error.into()))?;
        Ok(lock)
    }

    fn note(&self, name: &str, stored: &impl Serialize) -> Result<(), String> {
        let line = serde_json::to_string(stored).map_err(|error| format!("{name}: {error}"))?;
        let _one_at_a_time = self.held();
        let _lock = self.locked()?;
        private(&self.folder.join(name), true)
            .and_then(|mut file| file.write_all(format!("{line}\n").as_bytes()))
            .map_err(|error| format!("{name}: {error}"))
    }

    fn read<S: DeserializeOwned, T>(
        &self,
        name: &str,
        keep: impl Fn(S) -> Option<T>,
    ) -> Result<Vec<T>, String> {
        let file = match File::open(self.folder.join(name)) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(format!("{name}: {error}")),
        };
        let mut lines = Vec::new();
        for line in BufReader::new(file).lines() {
            let line = line.map_err(|error| format!("{name}: {error}"))?;
            // A line cut short by a full disk is one less, and no reason to hide the others.
            lines.extend(serde_json::from_str::<S>(&line).ok().and_then(&keep));
        }
        lines.reverse();
        Ok(lines)
    }

    /// Forgets lines whose time is over, once a day. What fails is told on the log and tried again with the next line.
    pub fn forget_old(&self, now: DateTime) {
        let mut forgotten = self.held();
        if *forgotten == Some(now.date()) {
            return;
        }
        let done = self
            .locked()
            .and_then(|_lock| [VIEWS, CHANGES].iter().try_for_each(|name| self.forget(name, now)));
        match done {
            Ok(()) => *forgotten = Some(now.date()),
            Err(error) => eprintln!("wardwright accounts: old lines are still there: {error}"),
        }
    }

    fn forget(&self, name: &str, now: DateTime) -> Result<(), String> {
        #[derive(Deserialize)]
        struct When {
            when: String,
        }
        let path = self.folder.join(name);
        let failed = |error: std::io::Error| format!("{name}: {error}");
        let text = match fs::read(&path) {
            Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(failed(error)),
        };
        let when = |line: &str| serde_json::from_str::<When>(line).ok()?.when.parse::<DateTime>().ok();
        // A clock that jumped ahead by years must not empty the file: lines count as at most a month newer than the newest.
        let newest = text.lines().filter_map(when).max();
        let now = newest
            .and_then(|newest| newest.checked_add(SignedDuration::from_hours(24 * 31)).ok())
            .map_or(now, |latest| now.min(latest));
        let Ok(first) = now.checked_sub(Span::new().days(i64::from(self.kept_days))) else { return Ok(()) };
        let is_over = |line: &str| when(line).is_some_and(|when| when < first);
        if !text.lines().any(is_over) {
            return Ok(());
        }
        let kept: String = text.lines().filter(|line| !is_over(line)).flat_map(|line| [line, "\n"]).collect();
        let new = self.folder.join(format!("{name}.new"));
        let _ = fs::remove_file(&new);
        private(&new, true)
            .and_then(|mut file| file.write_all(kept.as_bytes()).and_then(|()| file.sync_all()))
            .map_err(failed)?;
        fs::rename(&new, &path).map_err(failed)
    }
}

/// A file that only its owner may read.
fn private(path: &Path, append: bool) -> std::io::Result<File> {
    let mut options = fs::OpenOptions::new();
    options.create(true).append(append).write(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    options.open(path)
}

/// One line about a view.
#[derive(Debug, Serialize, Deserialize)]
struct StoredView {
    when: String,
    by: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    of: Option<String>,
    page: String,
}

impl StoredView {
    fn of(view: &View) -> StoredView {
        StoredView {
            when: view.when.to_string(),
            by: view.by.to_string(),
            of: view.of.as_ref().map(ToString::to_string),
            page: view.page.clone(),
        }
    }

    fn view(self) -> Option<View> {
        Some(View {
            when: self.when.parse::<DateTime>().ok()?,
            by: AccountName::new(&self.by).ok()?,
            of: self.of.map(PersonId),
            page: self.page,
        })
    }
}

/// One line about a change.
#[derive(Debug, Serialize, Deserialize)]
struct StoredChange {
    when: String,
    by: String,
    account: String,
    what: String,
}

impl StoredChange {
    fn of(change: &ChangeNote) -> StoredChange {
        StoredChange {
            when: change.when.to_string(),
            by: change.by.clone(),
            account: change.account.clone(),
            what: change.what.clone(),
        }
    }

    fn change(self) -> Option<ChangeNote> {
        let when = self.when.parse::<DateTime>().ok()?;
        Some(ChangeNote { when, by: self.by, account: self.account, what: self.what })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(when: &str, of: &str) -> View {
        View {
            when: when.parse().unwrap(),
            by: AccountName::new("trainer").unwrap(),
            of: Some(PersonId(of.to_owned())),
            page: "/people/{id}".to_owned(),
        }
    }

    fn who(notes: &Notes) -> Vec<String> {
        notes.views(|_| true).unwrap().into_iter().filter_map(|view| view.of.map(|of| of.0)).collect()
    }

    #[test]
    fn a_view_is_kept_for_its_time_and_no_longer() {
        let folder = tempfile::tempdir().unwrap();
        let notes = Notes::of(folder.path(), 400);
        notes.note_view(&view("2025-01-10T08:00:00", "n001")).unwrap();
        notes.note_view(&view("2026-01-10T08:00:00", "n002")).unwrap();
        fs::OpenOptions::new()
            .append(true)
            .open(folder.path().join(VIEWS))
            .and_then(|mut file| file.write_all(b"cut sho\n"))
            .unwrap();
        assert_eq!(who(&notes), ["n002", "n001"]);
        // 400 days after the first are over on 14 February 2026.
        notes.note_view(&view("2026-02-14T07:59:00", "n003")).unwrap();
        assert_eq!(who(&notes), ["n003", "n002", "n001"]);
        notes.forget_old("2026-02-15T00:00:00".parse().unwrap());
        assert_eq!(who(&notes), ["n003", "n002"]);
        let text = fs::read_to_string(folder.path().join(VIEWS)).unwrap();
        assert!(text.contains("cut sho"), "what cannot be read is not thrown away");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            let mode = fs::metadata(folder.path().join(VIEWS)).unwrap().permissions().mode();
            assert_eq!(mode & 0o077, 0, "its owner alone may read it");
        }
    }

    #[test]
    fn a_clock_years_ahead_forgets_nothing_of_this_year() {
        let folder = tempfile::tempdir().unwrap();
        let notes = Notes::of(folder.path(), 400);
        notes.note_view(&view("2026-01-10T08:00:00", "n001")).unwrap();
        notes.forget_old("2099-01-01T00:00:00".parse().unwrap());
        assert_eq!(who(&notes), ["n001"]);
    }
}
