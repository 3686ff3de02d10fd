//! Files into the book.

use std::collections::BTreeSet;

use book::{BookError, Store, TakeInOutcome, TakenInCounts};
use culture::{CultureSet, SetId};
use exchange::laboratory::{Import, InputFile, Unread};

use crate::intake::{Commit, Door, LaboratoryFile, Moment};
use crate::numbers::Arriving;

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

    /// Stores what was read of a file, with verdicts, in one commit.
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
