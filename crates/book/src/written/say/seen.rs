//! What else was seen of a draw: fills, difficulty, where the blood came from and why, why it was stopped.

use practice::{Bottle, Circumstances, Difficulty, DrawnFrom, Stopped, WhyThere};

use crate::written::table::EntryTable;

/// Keys of the fills, in the order of the bottles.
const FILLS: [(&str, Bottle); 3] = [
    ("fill-aerobic-ml", Bottle::Aerobic),
    ("fill-anaerobic-ml", Bottle::Anaerobic),
    ("fill-paediatric-ml", Bottle::Paediatric),
];

/// Most blood in one bottle, in millilitres: as on the page at the bed.
const MOST_ML: f64 = 60.0;

/// Reads what a file says of a draw beside its marks.
pub(super) fn circumstances(table: &EntryTable<'_>) -> Circumstances {
    let fills = FILLS.into_iter().filter_map(|(key, bottle)| {
        let ml = table.decimal(key, 0.0, MOST_ML)?;
        Some((bottle, (ml.value * 10.0).round() as u16))
    });
    let fills = fills.collect();
    let mut difficulty = Vec::new();
    for written in table.list("difficulty") {
        if let Some(one) =
            word(table, "difficulty", &written.value, written.line, &Difficulty::ALL, |one| one.words())
            && !difficulty.contains(&one)
        {
            difficulty.push(one);
        }
    }
    Circumstances {
        fills,
        difficulty,
        drawn_from: choice(table, "drawn-from", &DrawnFrom::ALL, |one| one.words()),
        why_there: choice(table, "why-there", &WhyThere::ALL, |one| one.words()),
        stopped: choice(table, "stopped", &Stopped::ALL, |one| one.words()),
        ..Circumstances::default()
    }
}

fn choice<T: Copy>(
    table: &EntryTable<'_>,
    key: &'static str,
    all: &[T],
    words: impl Fn(T) -> &'static str,
) -> Option<T> {
    let written = table.optional_text(key)?;
    word(table, key, &written.value, written.line, all, words)
}

/// One of the words that the pages show for it.
fn word<T: Copy>(
    table: &EntryTable<'_>,
    key: &'static str,
    written: &str,
    line: usize,
    all: &[T],
    words: impl Fn(T) -> &'static str,
) -> Option<T> {
    let found = all.iter().copied().find(|one| words(*one) == written);
    if found.is_none() {
        let known: Vec<&str> = all.iter().map(|one| words(*one)).collect();
        table.fault(line, key, &format!("{written:?}"), &known.join(", "), "correct the words");
    }
    found
}
