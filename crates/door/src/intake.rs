//! What files and messages have in common on their way into the book.

use std::collections::BTreeSet;

use book::{BookError, Intake, IntakeOutcome, NewMessage, RuleNamed, Store, TakeIn, TakenInCounts};
use culture::{PatientKey, RuleSet, SetId};
use exchange::laboratory::{Holds, Import, InputFile, Mapping, PatientHashKey};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use practice::PersonId;
use uuid::Uuid;

use crate::numbers::{Arriving, Numbers};
use crate::seal::{Seal, SealError};

/// How often a commit is worked out anew because another program wrote in the book meanwhile.
const MOST_TRIES: usize = 20;

/// A moment as the door needs it: read from a clock by whoever calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Local time of the unit.
    pub local: DateTime,
    /// The same in UTC.
    pub at: Timestamp,
    /// The last day on which a set can have been taken.
    pub today: Date,
    /// An identifier nobody else has (UUIDv7), for an entry made at this moment.
    pub id: Uuid,
}

/// Gives the present moment, with a new identifier each time.
pub type Clock = dyn Fn() -> Moment + Send + Sync;

/// On what terms things are taken in.
#[derive(Debug, Clone)]
pub struct Terms {
    /// Rule for verdicts.
    pub rules: RuleSet,
    /// Which column or code is what.
    pub mapping: Mapping,
    /// The further files the mapping names, with their names.
    pub companions: Vec<(String, Vec<u8>)>,
    /// The secret under which patients are hashed.
    pub patient_key: Vec<u8>,
    /// Who takes in, and on whose word it stands.
    pub by: PersonId,
}

/// A laboratory file: its name, for messages, and its bytes.
#[derive(Debug, Clone, Copy)]
pub struct LaboratoryFile<'a> {
    /// Name without the folder.
    pub name: &'a str,
    /// What is in it.
    pub bytes: &'a [u8],
}

/// Why the door does not open, or what came could not be taken in.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DoorError {
    /// The book said no.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The patient key is no key, or the system gives no random bytes.
    #[error(transparent)]
    Seal(#[from] SealError),
    /// The mapping says that only sets with growth come.
    #[error("a mapping of positive cultures only: without the negative sets there is no rate")]
    PositivesOnly,
}

/// The door of one book.
#[derive(Debug)]
pub struct Door<S> {
    pub(crate) store: S,
    pub(crate) terms: Terms,
    pub(crate) key: PatientHashKey,
    pub(crate) seal: Seal,
}

impl<S: Store> Door<S> {
    /// Opens the door of a book, under the patient key the book was written with.
    pub fn open(mut store: S, terms: Terms) -> Result<Door<S>, DoorError> {
        let seal = Seal::new(&terms.patient_key)?;
        let short = |_| SealError::ShortKey(terms.patient_key.len());
        let key = PatientHashKey::new(&terms.patient_key).map_err(short)?;
        store.accept_patient_key(&terms.patient_key)?;
        Ok(Door { store, terms, key, seal })
    }

    /// The book behind the door.
    pub fn store(&self) -> &S {
        &self.store
    }

    /// The book behind the door, to be changed.
    pub fn store_mut(&mut self) -> &mut S {
        &mut self.store
    }

    /// Refuses a mapping that says the laboratory sends positive cultures only.
    pub fn needs_every_set(&self, today: Date) -> Result<(), DoorError> {
        match self.read(&[], today).holds {
            Holds::PositivesOnly => Err(DoorError::PositivesOnly),
            _ => Ok(()),
        }
    }

    /// Reads files; nothing is stored.
    pub(crate) fn read(&self, files: &[InputFile<'_>], today: Date) -> Import {
        let companions: Vec<InputFile<'_>> =
            self.terms.companions.iter().map(|(name, bytes)| InputFile { name, bytes }).collect();
        exchange::laboratory::read(files, &self.terms.mapping, &companions, &self.key, today)
    }

    /// Gives sets their verdicts beside what the book holds of the same patients, and commits them with their messages.
    ///
    /// Should another program write in the book meanwhile, the verdicts are worked out anew.
    pub(crate) fn commit(
        &mut self,
        arriving: &Arriving,
        what: Option<&Commit<'_>>,
        messages: &[NewMessage],
        now: &Moment,
    ) -> Result<IntakeOutcome, BookError> {
        let mut tries = 0;
        loop {
            let intake = self.worked_out(arriving, what, messages, now)?;
            match self.store.take_in_with_messages(intake, now.at) {
                Err(BookError::Moved) if tries < MOST_TRIES => tries += 1,
                done => return done,
            }
        }
    }

    fn worked_out(
        &self,
        arriving: &Arriving,
        what: Option<&Commit<'_>>,
        messages: &[NewMessage],
        now: &Moment,
    ) -> Result<Intake, BookError> {
        let messages = messages.to_vec();
        let Some(what) = what else { return Ok(Intake { messages, ..Intake::default() }) };
        let seen = self.store.head()?;
        let arriving_ids = arriving.sets.iter().map(|set| set.id.clone());
        let ids: BTreeSet<SetId> =
            arriving_ids.chain(arriving.parts.iter().map(|(part, _)| part.clone())).collect();
        // A set that moves from one patient to another can change the verdicts of both.
        let mut patients: BTreeSet<PatientKey> = self.store.patients_of_sets(&ids)?.into_values().collect();
        patients.extend(arriving.sets.iter().map(|set| set.patient.clone()));
        let known = self.store.sets_of_patients(&patients)?;
        let numbers = Numbers::of(known, arriving, self.terms.mapping.joins_split_sets());
        let file = TakeIn {
            id: now.id,
            happened: now.local,
            by: self.terms.by.clone(),
            file_name: what.name.to_owned(),
            file_sha256: what.sha256.clone(),
            counts: what.counts,
            rule: RuleNamed {
                name: self.terms.rules.name.clone(),
                version: self.terms.rules.version.clone(),
            },
            sets: numbers.judged(&self.terms.rules, now.local.date()),
        };
        Ok(Intake {
            seen: Some(seen),
            file: Some(file),
            entry_when_unchanged: what.entry_when_unchanged,
            messages,
        })
    }
}

/// What the entry of a commit says about where its sets came from.
pub(crate) struct Commit<'a> {
    pub name: &'a str,
    pub sha256: String,
    pub counts: TakenInCounts,
    pub entry_when_unchanged: bool,
}
