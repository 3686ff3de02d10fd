//! How far long work has come: one line on the terminal that is written over, and nothing where no person looks on.

use std::cell::Cell;
use std::io::{IsTerminal as _, Write as _, stderr};
use std::time::{Duration, Instant};

/// The line is not written anew more often than this.
const PAUSE: Duration = Duration::from_millis(100);

/// A line on standard error, cleared when it is dropped.
pub struct Progress {
    on_terminal: bool,
    last: Cell<Option<Instant>>,
}

impl Progress {
    /// A line where standard error is a terminal.
    pub fn new() -> Progress {
        Progress { on_terminal: stderr().is_terminal(), last: Cell::new(None) }
    }

    /// Says what is being done now.
    pub fn stage(&self, what: &str) {
        self.write(what);
    }

    /// Says how many of all are done; quick steps are not all shown.
    pub fn count(&self, done: usize, all: usize, what: &str) {
        if self.last.get().is_none_or(|last| last.elapsed() >= PAUSE) {
            self.write(&format!("{done} of {all} {what}"));
        }
    }

    /// Takes the line away before something else is printed.
    pub fn clear(&self) {
        if self.on_terminal && self.last.take().is_some() {
            // A terminal that has gone away is no fault of the work.
            let _ = write!(stderr(), "\r\x1b[2K");
        }
    }

    fn write(&self, text: &str) {
        if self.on_terminal {
            let _ = write!(stderr(), "\r\x1b[2K{text} …").and_then(|()| stderr().flush());
            self.last.set(Some(Instant::now()));
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.clear();
    }
}
