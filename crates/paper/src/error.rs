use std::fmt;

/// Which paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PaperName {
    /// A breakdown to carry.
    PocketCard,
    /// A breakdown to mark by hand.
    ObservationSheet,
    /// One person's record.
    PersonRecord,
    /// One month of the unit.
    MonthReport,
}

impl fmt::Display for PaperName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PocketCard => "pocket card",
            Self::ObservationSheet => "observation sheet",
            Self::PersonRecord => "person's record",
            Self::MonthReport => "monthly report",
        })
    }
}

/// Why a paper could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PaperError {
    /// The breakdown has no important step, so that the paper would be empty.
    #[error(
        "the {paper} for '{job}' was not made: its breakdown has no important step; write at least one step, check the breakdown and print again"
    )]
    NoSteps {
        /// Which paper.
        paper: PaperName,
        /// Job of the breakdown.
        job: String,
    },
    /// A date lies outside the years that a PDF can hold, 0 to 9999.
    #[error(
        "the {paper} was not made: the year {year} cannot be printed; expected 0 to 9999; check the date it was asked for"
    )]
    Date {
        /// Which paper.
        paper: PaperName,
        /// Year found.
        year: i16,
    },
    /// The typesetter refused the template: a fault of this program, not of the input.
    #[error("the {paper} was not made: the typesetter stopped ({}); nothing stored was changed; please report it with this message", .messages.join("; "))]
    Typesetting {
        /// Which paper.
        paper: PaperName,
        /// What the typesetter said, with the place in the template.
        messages: Vec<String>,
    },
}
