//! The words a line of a breakdown file starts with.

use std::fmt;

use quantity::spelling;

/// A keyword of the file format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Keyword {
    /// Name of the job.
    Job,
    /// Short name of the job.
    Code,
    /// Version number.
    Version,
    /// Date from which the version is in force.
    Effective,
    /// Who wrote it.
    Author,
    /// Who approved it.
    ApprovedBy,
    /// What changed: safety or sequence.
    ChangeMajor,
    /// What changed: wording only.
    ChangeMinor,
    /// `change` without saying which.
    Change,
    /// A caution over the whole job.
    Caution,
    /// Something that must lie ready.
    Supply,
    /// Words for one thing.
    Words,
    /// An important step.
    Step,
    /// A key point that makes or breaks the step.
    KeyPoint,
    /// A key point that could injure someone.
    SafetyPoint,
    /// A key point that makes the work easier.
    Knack,
    /// Why a key point is a key point.
    Reason,
    /// A number the learner must know.
    Quantity,
    /// Two labels whose order binds.
    Order,
}

const ALL: &[(&str, Keyword)] = &[
    ("job", Keyword::Job),
    ("code", Keyword::Code),
    ("version", Keyword::Version),
    ("effective", Keyword::Effective),
    ("author", Keyword::Author),
    ("approved by", Keyword::ApprovedBy),
    ("change (major)", Keyword::ChangeMajor),
    ("change (minor)", Keyword::ChangeMinor),
    ("change", Keyword::Change),
    ("caution", Keyword::Caution),
    ("supply", Keyword::Supply),
    ("words", Keyword::Words),
    ("step", Keyword::Step),
    ("key point", Keyword::KeyPoint),
    ("safety point", Keyword::SafetyPoint),
    ("knack", Keyword::Knack),
    ("reason", Keyword::Reason),
    ("quantity", Keyword::Quantity),
    ("order", Keyword::Order),
];

impl Keyword {
    /// Reads a keyword whatever its capitals and spaces. A number behind it, as in "step 3", says nothing: steps and
    /// key points are counted in the order they stand.
    pub fn parse(text: &str) -> Option<Keyword> {
        let plain = plain(text);
        let plain =
            plain.trim_end_matches(|letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ' '));
        ALL.iter().find(|(name, _)| *name == plain).map(|&(_, keyword)| keyword)
    }

    /// The keyword a misspelt one most likely means, at most `most` letters away.
    pub fn nearest(text: &str, most: usize) -> Option<Keyword> {
        let plain = plain(text);
        let name = spelling::nearest(&plain, ALL.iter().map(|(name, _)| *name), most)?;
        Keyword::parse(name)
    }

    /// The keyword as it is written in a file, without its colon.
    pub fn name(self) -> &'static str {
        ALL.iter().find(|(_, keyword)| *keyword == self).map_or("", |(name, _)| name)
    }

    /// True for the three kinds of key point.
    pub fn is_point(self) -> bool {
        matches!(self, Keyword::KeyPoint | Keyword::SafetyPoint | Keyword::Knack)
    }

    /// True for a keyword that may stand only once in a file.
    pub(crate) fn is_single(self) -> bool {
        use Keyword::*;
        matches!(
            self,
            Job | Code | Version | Effective | Author | ApprovedBy | ChangeMajor | ChangeMinor | Change
        )
    }
}

impl fmt::Display for Keyword {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// Lower case, single spaces, one space before a parenthesis.
fn plain(text: &str) -> String {
    let spaced = text.replace('(', " (").replace("( ", "(").replace(" )", ")").replace(['_', '-'], " ");
    spaced.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
