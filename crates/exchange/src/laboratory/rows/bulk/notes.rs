//! What was noticed about rows, counted as it comes and told in the order of the lines.

use std::collections::HashMap;

use crate::laboratory::account::Account;

/// A note by its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct NoteId(usize);

/// Where in a row a note arises: notes of one row are told in this order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Step {
    Row,
    Status,
    Route,
    Age,
    Bottle,
    Fill,
    Set,
}

#[derive(Default)]
pub(super) struct Notes {
    ids: HashMap<String, usize>,
    notes: Vec<Counted>,
}

struct Counted {
    text: String,
    count: u64,
    first: (u64, Step),
}

impl Notes {
    /// The number of a note. It is told only if it is counted.
    pub(super) fn id(&mut self, text: String) -> NoteId {
        let notes = &mut self.notes;
        NoteId(*self.ids.entry(text).or_insert_with_key(|text| {
            notes.push(Counted { text: text.clone(), count: 0, first: (0, Step::Row) });
            notes.len() - 1
        }))
    }

    /// Counts a note on a line. Lines come in order.
    pub(super) fn count(&mut self, note: NoteId, line: u64, step: Step) {
        if let Some(note) = self.notes.get_mut(note.0) {
            if note.count == 0 {
                note.first = (line, step);
            }
            note.count += 1;
        }
    }

    /// Tells the account.
    pub(super) fn tell(mut self, account: &mut Account) {
        self.notes.retain(|note| note.count > 0);
        // Stable: notes of one step stay in the order in which they arose.
        self.notes.sort_by_key(|note| note.first);
        for note in self.notes {
            account.note_rows(note.text, note.count, note.first.0);
        }
    }
}
