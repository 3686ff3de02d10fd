//! Files into the book.

use std::collections::BTreeSet;
use std::fmt;

use book::{BookError, Store, TakeInOutcome, TakenInCounts};
use culture::{CultureSet, SetId};
use exchange::laboratory::acknowledge::{Problem, split_messages};
use exchange::laboratory::{Import, InputFile, Unread};

use crate::intake::{Commit, Door, LaboratoryFile, Moment};
use crate::messages::{Arrival, Fate};
use crate::numbers::Arriving;

const MESSAGES_AT_ONCE: usize = 512;

/// What became of the messages of a file.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OfMessages {
    /// Taken in now.
    pub taken_in: usize,
    /// Taken in before.
    pub again: usize,
    /// Without a blood culture, or of another type.
    pub others: usize,
    /// Kept aside in the book's folder, sealed.
    pub kept_aside: usize,
}

impl fmt::Display for OfMessages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let OfMessages { taken_in, again, others, kept_aside } = self;
        write!(
            f,
            "{taken_in} messages taken in, {again} known already, {others} without a blood culture, {kept_aside} kept aside."
        )
    }
}

impl LaboratoryFile<'_> {
    /// Whether it is a file of HL7 v2 messages, a batch or one by one.
    pub fn is_messages(&self) -> bool {
        let start = self.bytes.trim_ascii_start();
        [b"MSH", b"FHS", b"BHS"].iter().any(|header| start.starts_with(*header))
    }
}

impl<S: Store> Door<S> {
    /// Reads a laboratory file and names what cannot be read of it; nothing is stored. A specimen number that the book
    /// has under another patient is a fault too, and its set is left out: nobody can tell whose set it is.
    pub fn read_file(&self, file: LaboratoryFile<'_>, now: &Moment) -> Result<Import, BookError> {
        let mut import = self.read(&[InputFile { name: file.name, bytes: file.bytes }], now.today);
        let halves = import.halves.iter().flatten();
        let ids: BTreeSet<SetId> = import.sets.iter().chain(halves).map(|set| set.id.clone()).collect();
        let known = self.store.patients_of_sets(&ids)?;
        let is_others = |set: &CultureSet| known.get(&set.id).is_some_and(|patient| *patient != set.patient);
        let torn: BTreeSet<SetId> = import
            .halves
            .iter()
            .filter(|halves| halves.iter().any(is_others))
            .map(|[first, _]| first.id.clone())
            .collect();
        import.halves.retain(|[first, _]| !torn.contains(&first.id));
        let sources = std::mem::take(&mut import.sources);
        let sets = std::mem::take(&mut import.sets);
        for (set, source) in sets.into_iter().zip(sources) {
            if !is_others(&set) && !torn.contains(&set.id) {
                import.sets.push(set);
                import.sources.push(source);
                continue;
            }
            import.unread.push(Unread {
                file: file.name.to_owned(),
                line: source.line,
                column: None,
                found: format!("specimen number {}, which the book has under another patient", set.id),
                expected: "one patient for each specimen number".to_owned(),
                to_do: "ask the laboratory which patient the specimen belongs to; the book keeps what it has"
                    .to_owned(),
            });
            if let Some(counts) = import.counts.first_mut() {
                counts.unread += 1;
                counts.kept = counts.kept.saturating_sub(1);
            }
        }
        Ok(import)
    }

    /// Takes a file of messages in. Each message goes through the same door as one on the wire, so that a set of which
    /// two files bring a part each is one set. Fails where the book cannot be written; what was taken in till then stays,
    /// and is known again when the file comes again.
    pub fn take_in_message_file(
        &mut self,
        file: LaboratoryFile<'_>,
        next: &dyn Fn() -> Moment,
    ) -> Result<OfMessages, Problem> {
        let mut of_messages = OfMessages::default();
        for some in split_messages(file.bytes).chunks(MESSAGES_AT_ONCE) {
            let arrivals: Vec<Arrival> = some
                .iter()
                .map(|message| Arrival { bytes: message.to_vec(), source: file.name.to_owned(), fault: None })
                .collect();
            for fate in self.take_in_messages(&arrivals, &next(), next) {
                match fate {
                    Fate::TakenIn => of_messages.taken_in += 1,
                    Fate::TakenInBefore => of_messages.again += 1,
                    Fate::NothingForUs | Fate::NotOurs(_) => of_messages.others += 1,
                    Fate::KeptAside(_) => of_messages.kept_aside += 1,
                    Fate::NotStored(problem) => return Err(problem),
                }
            }
        }
        Ok(of_messages)
    }

    /// Stores what was read of a table or FHIR file, with verdicts, in one commit.
    pub fn take_in_file(
        &mut self,
        file: LaboratoryFile<'_>,
        import: &Import,
        now: &Moment,
    ) -> Result<TakeInOutcome, BookError> {
        let commit = Commit {
            name: file.name,
            sha256: book::sha256_hex(file.bytes),
            counts: TakenInCounts {
                rows: import.counts.iter().map(|file| file.rows).sum(),
                rows_unread: import.counts.iter().map(|file| file.unread).sum(),
                sets: import.sets.len() as u64,
            },
            entry_when_unchanged: true,
        };
        let outcome = self.commit(&Arriving::of(import), Some(&commit), &[], now)?;
        // An entry was asked for whatever the file changes.
        outcome.file.ok_or(BookError::Moved)
    }
}
