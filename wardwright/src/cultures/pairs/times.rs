//! Times to positivity out of the laboratory's table.

use std::path::Path;

use culture::{PositiveTimes, SetId};
use exchange::laboratory::seconds_to_positivity;
use exchange::table::{NoColumn, Table, TableOptions};

use super::PairsArgs;
use crate::cultures::inputs;
use crate::message::Message;

/// The earliest time of each specimen, and rows that could not be used with their lines.
pub(super) fn read(args: &PairsArgs, path: &Path) -> Result<(PositiveTimes, Vec<String>), Message> {
    let (name, bytes) = inputs::named_file(path)?;
    let expected = "a table with a specimen number and hours to positivity (docs/pairs.md)";
    let mut table = Table::open(&bytes, &TableOptions::default())
        .map_err(|error| Message::new(&name, error.to_string(), expected, "give the file that was meant"))?;
    let specimen = column(&table, &name, &args.specimen_column, "--specimen-column")?;
    let hours = column(&table, &name, &args.hours_column, "--hours-column")?;
    let antibiotic = args
        .antibiotic_column
        .as_ref()
        .map(|wanted| column(&table, &name, wanted, "--antibiotic-column"))
        .transpose()?;
    let (mut times, mut unused) = (PositiveTimes::default(), Vec::new());
    while let Some(row) = table.next_row() {
        let row = match row {
            Ok(row) => row,
            Err(error) => {
                unused.push(format!("{name}, line {}: {error}", error.line()));
                continue;
            }
        };
        let id = row.text(specimen);
        if id.is_empty() {
            if !row.is_blank() {
                unused.push(format!("{name}, line {}: no specimen number", row.line));
            }
            continue;
        }
        let id = SetId(id.into_owned());
        if antibiotic.is_some_and(|column| is_yes(&row.text(column))) && !times.under_antibiotic.contains(&id)
        {
            times.under_antibiotic.push(id.clone());
        }
        let written = row.text(hours);
        if written.is_empty() {
            continue;
        }
        match seconds_to_positivity(&written).map(i64::from) {
            Some(after) => {
                let earliest = times.after_s.entry(id).or_insert(after);
                *earliest = after.min(*earliest);
            }
            None => unused.push(format!(
                "{name}, line {}: {written:?} is no time to positivity; hours as 13.5 or 13:30, 0 to 1000",
                row.line
            )),
        }
    }
    Ok((times, unused))
}

fn column(table: &Table<'_>, name: &str, wanted: &str, option: &str) -> Result<usize, Message> {
    table.column(wanted).map_err(|NoColumn { found, nearest, twice, .. }| {
        let what = if twice { "stands over more than one column" } else { "is not there" };
        let nearest = nearest.map_or_else(String::new, |near| format!("; did you mean {near:?}"));
        Message::new(
            name,
            format!("the column {wanted:?} {what}; the columns are {}", found.join(", ")),
            "the name of a column",
            format!("name it with {option}{nearest}"),
        )
    })
}

fn is_yes(written: &str) -> bool {
    ["yes", "y", "true", "1"].iter().any(|word| written.eq_ignore_ascii_case(word))
}
