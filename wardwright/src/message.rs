//! One shape for every message about something that went wrong: where, what was found, what was expected, what to do.

use std::fmt;
use std::process::ExitCode;

/// Prints a line. A reader that stops early, such as a pager, is no fault: what it no longer reads is not printed.
macro_rules! say {
    ($($part:tt)*) => {{
        use std::io::Write as _;
        let _ = writeln!(std::io::stdout(), $($part)*);
    }};
}
pub(crate) use say;

/// Exit code when the input had faults but something could be said about it.
pub const FAULTS: u8 = 1;
/// Exit code when nothing could be done.
pub const NOTHING_DONE: u8 = 2;

/// Something that went wrong, in the words a trainer needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    /// File, line, entry or option.
    pub place: String,
    /// What was found there.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do about it.
    pub to_do: String,
    /// True when it passes by itself and trying again will do.
    pub passes: bool,
}

impl Message {
    /// Builds a message from its four parts.
    pub fn new(
        place: impl Into<String>,
        found: impl Into<String>,
        expected: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Message {
        Message {
            place: place.into(),
            found: found.into(),
            expected: expected.into(),
            to_do: to_do.into(),
            passes: false,
        }
    }

    /// Prints the message to standard error and gives the exit code for "nothing could be done".
    pub fn give_up(&self) -> ExitCode {
        eprintln!("{self}");
        ExitCode::from(NOTHING_DONE)
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.place)?;
        writeln!(f, "  found:    {}", self.found)?;
        writeln!(f, "  expected: {}", self.expected)?;
        write!(f, "  to do:    {}", self.to_do)
    }
}
