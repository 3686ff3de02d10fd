//! A plan as a nurse reads it in a terminal.

use std::fmt::Write;

use desk::{BottleSheet, CAUTION, CollectionSheet, PlanBlock};

/// The whole text.
pub(super) fn report(sheet: &CollectionSheet) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    line(format!("Plan of one collection: {}", sheet.patient));
    line(sheet.policy.clone());
    line(CAUTION.to_owned());
    for (at, set) in sheet.sets.iter().enumerate() {
        line(format!("\nSet {} of {}, {}", at + 1, sheet.sets.len(), set.site_words));
        if let Some(first) = &set.first {
            line(format!("  first       {first}"));
        }
        for (number, bottle) in set.bottles.iter().enumerate() {
            line(format!("  bottle {}    {}", number + 1, bottle_line(bottle)));
        }
        if let Some(then) = &set.then {
            line(format!("  then        {then}"));
        }
    }
    line("\nStop".to_owned());
    for stop in &sheet.stops {
        line(format!("  - {stop}"));
    }
    if !sheet.notes.is_empty() {
        line("\nTo know".to_owned());
        for note in &sheet.notes {
            line(format!("  - {}", note.sentence));
        }
    }
    for block in &sheet.blocks {
        block_lines(block, &mut line);
    }
    line("\nCautions (common practice, no source; your policy comes first)".to_owned());
    for caution in &sheet.cautions {
        line(format!("  - {caution}"));
    }
    text
}

fn block_lines(block: &PlanBlock, line: &mut impl FnMut(String)) {
    line(format!("\n{}", block.title));
    let width = block.rows.iter().map(|row| row.what.chars().count()).max().unwrap_or(0);
    for row in &block.rows {
        // What to fetch is one line each; everything else has its source below.
        if block.key == "supplies" {
            line(format!("  {:<width$}  {} ({})", row.what, row.value, row.from));
            continue;
        }
        line(format!("  {:<width$}  {}", row.what, row.value));
        line(format!("  {:<width$}    from: {}", "", row.from));
    }
    if let Some(remark) = &block.remark {
        line(format!("  {remark}"));
    }
}

fn bottle_line(bottle: &BottleSheet) -> String {
    format!(
        "{:<10} fill to {} mL (at least {}, at most {} mL)",
        bottle.kind, bottle.target_ml, bottle.least_ml, bottle.most_ml
    )
}
