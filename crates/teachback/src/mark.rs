use breakdown::{ItemId, JobCode, Version};

use crate::proposed::Proposed;

/// How an item of the breakdown was said, in rising concern.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// Said right without help.
    Unprompted,
    /// Said right after a neutral question.
    Prompted,
    /// Said after a leading question: counts as not known.
    Led,
    /// A quantity or condition was missing.
    Partial,
    /// Not said.
    Missed,
    /// Something false was said.
    Wrong,
    /// Something false was said on a safety point: the pass stops.
    Unsafe,
}

impl Mark {
    /// Every mark, in rising concern.
    pub const ALL: [Mark; 7] =
        [Mark::Unprompted, Mark::Prompted, Mark::Led, Mark::Partial, Mark::Missed, Mark::Wrong, Mark::Unsafe];

    /// The one word by which files, forms and `--json` call it; it never changes.
    pub fn name(self) -> &'static str {
        match self {
            Mark::Unprompted => "unprompted",
            Mark::Prompted => "prompted",
            Mark::Led => "led",
            Mark::Partial => "partial",
            Mark::Missed => "missed",
            Mark::Wrong => "wrong",
            Mark::Unsafe => "unsafe",
        }
    }

    /// The mark that a name stands for.
    pub fn from_name(name: &str) -> Option<Mark> {
        Mark::ALL.into_iter().find(|mark| mark.name() == name)
    }

    /// The word a trainer uses for it.
    pub fn words(self) -> &'static str {
        match self {
            Mark::Unprompted => "unprompted",
            Mark::Prompted => "after a prompt",
            Mark::Led => "led",
            Mark::Partial => "partial",
            Mark::Missed => "missed",
            Mark::Wrong => "wrong",
            Mark::Unsafe => "unsafe",
        }
    }
}

/// One item as the trainer heard it.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachBackItem {
    /// Which item.
    pub item: ItemId,
    /// How it was said.
    pub mark: Mark,
    /// Seconds from the start of the pass, where kept.
    pub at_s: Option<f64>,
}

/// One pass of a teach-back.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachBack {
    /// Job.
    pub job: JobCode,
    /// Version of the breakdown it was heard against.
    pub version: Version,
    /// Items in the order they were said; items not listed were not judged.
    pub items: Vec<TeachBackItem>,
    /// Trainer's note about the pass; never about a patient.
    pub note: Option<String>,
    /// Where somebody else has written down the same pass before: the identifier of their entry.
    pub same_pass_as: Option<String>,
    /// What the program proposed from a transcript, where the marks were decided on one.
    pub proposed: Option<Box<Proposed>>,
}

impl TeachBack {
    /// A pass that one person heard, without a transcript.
    pub fn heard(
        job: JobCode,
        version: Version,
        items: Vec<TeachBackItem>,
        note: Option<String>,
    ) -> TeachBack {
        TeachBack { job, version, items, note, same_pass_as: None, proposed: None }
    }
}
