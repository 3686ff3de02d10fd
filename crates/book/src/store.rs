use std::collections::{BTreeMap, BTreeSet};

use culture::{CultureSet, PatientKey, SetId};
use jiff::Timestamp;
use jiff::civil::DateTime;
use practice::PersonId;
use uuid::Uuid;

use crate::entry::{Draft, Recorded, RuleNamed, TakenInCounts};
use crate::error::{BookError, Fault};
use crate::messages::{Intake, IntakeOutcome, KeptMessage};

/// What any backend of the record book does. Entries are added and read; there is no update and no delete.
pub trait Store {
    /// Adds entries that were all recorded at one time, all or none. An entry whose identifier and content are already
    /// in the book is kept once; the same identifier with other content is [`BookError::IdTaken`].
    fn append(&mut self, drafts: Vec<Draft>, recorded_at: Timestamp) -> Result<Appended, BookError> {
        self.append_timed(drafts.into_iter().map(|draft| (draft, recorded_at)).collect())
    }

    /// Adds entries each with its own time of recording, all or none: for a book made from a record kept elsewhere.
    /// Otherwise as [`Store::append`].
    fn append_timed(&mut self, drafts: Vec<(Draft, Timestamp)>) -> Result<Appended, BookError>;

    /// Every entry in the order recorded.
    fn entries(&self) -> Result<Vec<Recorded>, BookError>;

    /// Every entry but those about laboratory files, in the order recorded: what bears on people. A feed of messages
    /// writes an entry at each commit, so these are few among many.
    fn entries_of_people(&self) -> Result<Vec<Recorded>, BookError>;

    /// Takes in a laboratory file: one entry, and one row for each set that is new or has changed. A file that was taken
    /// in before and would change nothing adds nothing.
    fn take_in(&mut self, file: TakeIn, recorded_at: Timestamp) -> Result<TakeInOutcome, BookError> {
        let intake = Intake { file: Some(file), entry_when_unchanged: true, ..Intake::default() };
        let outcome = self.take_in_with_messages(intake, recorded_at)?;
        // An entry was asked for whatever the file changes.
        outcome.file.ok_or(BookError::Moved)
    }

    /// Takes in, in one commit, sets and the messages that brought them, and messages to be kept aside. The verdicts of
    /// the sets hold for the book that was [`seen`](Intake::seen).
    fn take_in_with_messages(
        &mut self,
        intake: Intake,
        recorded_at: Timestamp,
    ) -> Result<IntakeOutcome, BookError>;

    /// The message of this identity, if it has come before.
    fn message(&self, identity: &str) -> Result<Option<KeptMessage>, BookError>;

    /// Messages that speak of any of these sets, each once, in the order in which they first came.
    fn messages_of_sets(&self, sets: &BTreeSet<SetId>) -> Result<Vec<KeptMessage>, BookError>;

    /// Messages that could not be taken in and wait for a person, oldest first.
    fn messages_kept_aside(&self) -> Result<Vec<KeptMessage>, BookError>;

    /// Forgets the text of messages taken in that came before this time; that they came stays known. A set that
    /// changes after that is taken from the later messages alone.
    fn forget_messages_before(&mut self, time: Timestamp) -> Result<(), BookError>;

    /// What the book says last of every specimen number of these patients, in no order, those that are
    /// [part of another](Stands::PartOf) set included.
    fn sets_of_patients(&self, patients: &BTreeSet<PatientKey>) -> Result<Vec<KnownSet>, BookError>;

    /// Whose each of these sets is by its latest version; sets the book does not know are left out.
    fn patients_of_sets(&self, sets: &BTreeSet<SetId>) -> Result<BTreeMap<SetId, PatientKey>, BookError>;

    /// What entries after this place wrote of sets: what a reader who knows the book up to there has not seen yet.
    fn sets_after(&self, seq: u64) -> Result<SetsAfter, BookError>;

    /// Notes which key patients are hashed under, the first time; from then on refuses any other with
    /// [`BookError::OtherPatientKey`], which would quietly split one patient's sets in two. To be called before sets are
    /// made. The book keeps a check value, never the key.
    fn accept_patient_key(&mut self, key: &[u8]) -> Result<(), BookError>;

    /// The latest version of every set, ordered by set identifier, with the verdict it had when it was taken in. Numbers
    /// that are part of another set are left out.
    fn latest_set_versions(&self) -> Result<Vec<SetVersion>, BookError>;

    /// Every version of one set, oldest first.
    fn set_versions(&self, id: &SetId) -> Result<Vec<SetVersion>, BookError>;

    /// Whether anything that bears on people was written after this place.
    fn has_entries_of_people_after(&self, seq: u64) -> Result<bool, BookError>;

    /// Whether the book as it stands goes on from this head: holds that entry with that hash.
    fn goes_on_from(&self, head: &Head) -> Result<bool, BookError>;

    /// The last entry's place and hash.
    fn head(&self) -> Result<Head, BookError>;

    /// Walks the whole book and names everything that is not as it was written.
    fn verify(&self) -> Result<Verification, BookError>;

    /// The latest version of every set, ordered by set identifier.
    fn sets(&self) -> Result<Vec<CultureSet>, BookError> {
        Ok(self.latest_set_versions()?.into_iter().map(|version| version.set).collect())
    }
}

/// What [`Store::append`] did.
#[derive(Debug, Clone, PartialEq)]
pub struct Appended {
    /// Entries written now, in the order given.
    pub recorded: Vec<Recorded>,
    /// Identifiers that were in the book already with the same content.
    pub already_there: Vec<Uuid>,
}

/// A laboratory file to be taken in.
#[derive(Debug, Clone, PartialEq)]
pub struct TakeIn {
    /// Identifier made where the file was read.
    pub id: Uuid,
    /// When it was read, unit's local time.
    pub happened: DateTime,
    /// Who takes it in.
    pub by: PersonId,
    /// Name of the file, without its folder.
    pub file_name: String,
    /// SHA-256 of the file's bytes, 64 hexadecimal digits.
    pub file_sha256: String,
    /// Counts of the file.
    pub counts: TakenInCounts,
    /// Rule that gave the verdicts.
    pub rule: RuleNamed,
    /// The sets with their verdicts; each set identifier at most once.
    pub sets: Vec<JudgedSet>,
}

/// A set with the verdict a rule gave it.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedSet {
    /// The set.
    pub set: CultureSet,
    /// The verdict in the culture room's own word, such as `contaminated`.
    pub verdict: String,
    /// The clause of the rule that fired.
    pub clause: String,
    /// Whether it is a set of its own.
    pub stands: Stands,
}

/// How a specimen number stands to the sets: laboratories book the bottles of one set under two numbers.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Stands {
    /// It is a set of its own.
    #[default]
    Alone,
    /// It is the set that these halves make, each as it was reported under its own number.
    Joined(Box<[CultureSet; 2]>),
    /// It is part of the set with this number, which holds its bottles and isolates; it is no set of its own.
    PartOf(SetId),
}

/// What the book says last of a specimen number.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownSet {
    /// The set, or what is part of another, as it was reported.
    pub set: CultureSet,
    /// Whether it is a set of its own.
    pub stands: Stands,
}

/// What entries after some place wrote of sets.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SetsAfter {
    /// The latest version of every set they wrote, in no order.
    pub sets: Vec<CultureSet>,
    /// Numbers that are part of another set now.
    pub gone: Vec<SetId>,
}

/// What [`Store::take_in`] did.
#[derive(Debug, Clone, PartialEq)]
pub enum TakeInOutcome {
    /// The file is in the book now.
    TakenIn(Recorded),
    /// This very file had been taken in before and would have changed nothing; nothing was written.
    AlreadyTakenIn(Recorded),
}

impl TakeInOutcome {
    /// The entry that stands for the file in the book.
    pub fn entry(&self) -> &Recorded {
        match self {
            TakeInOutcome::TakenIn(entry) | TakeInOutcome::AlreadyTakenIn(entry) => entry,
        }
    }
}

/// One version of a set: what the laboratory said at one time, and the verdict that followed from it then.
#[derive(Debug, Clone, PartialEq)]
pub struct SetVersion {
    /// Counted from 1.
    pub version: u32,
    /// The set as the laboratory reported it.
    pub set: CultureSet,
    /// The verdict in the culture room's own word.
    pub verdict: String,
    /// Rule that gave it.
    pub rule: RuleNamed,
    /// The clause of the rule that fired.
    pub clause: String,
    /// Whether the number was a set of its own by this version.
    pub stands: Stands,
    /// Entry that took it in.
    pub entry_seq: u64,
    /// When the book recorded it.
    pub recorded_at: Timestamp,
}

/// The last entry's place and hash. Printed on papers, it lets anyone show later that nothing before it changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    /// Number of the last entry; 0 for an empty book.
    pub seq: u64,
    /// Its hash; all zeros for an empty book.
    pub hash: String,
}

/// What [`Store::verify`] found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Verification {
    /// Entries walked.
    pub n_entries: u64,
    /// Rows of laboratory sets walked, all versions.
    pub n_set_rows: u64,
    /// The last entry's place and hash as found.
    pub head: Head,
    /// Everything that is not as it was written, in the book's order.
    pub faults: Vec<Fault>,
}

impl Verification {
    /// True when nothing was found wrong.
    pub fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }
}
