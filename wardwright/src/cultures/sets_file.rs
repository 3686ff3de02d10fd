//! Every set with its verdict, as CSV.

use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::Path;

use culture::Collected;

use super::figures::Figures;
use super::json::route_id;
use crate::message::Message;

const COLUMNS: [&str; 14] = [
    "set",
    "file",
    "line",
    "collected",
    "unit",
    "route",
    "organisms",
    "verdict",
    "clause",
    "sentence",
    "rule",
    "sets_in_window",
    "decided_by",
    "flags",
];

/// Writes one row for each set. Patients are left out: rows of this file name nobody.
pub fn write(path: &Path, figures: &Figures<'_>) -> Result<(), Message> {
    table(path, figures).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be written: {error}"),
            "a place where a file can be written",
            "choose another name or folder for --sets",
        )
    })
}

fn table(path: &Path, figures: &Figures<'_>) -> std::io::Result<()> {
    let mut out = BufWriter::new(File::create(path)?);
    out.write_all(row(COLUMNS.into_iter().map(str::to_owned)).as_bytes())?;
    let import = figures.import;
    for (place, (set, judged)) in import.sets.iter().zip(figures.judged).enumerate() {
        let organisms: Vec<&str> = set.organisms().collect();
        let flags: Vec<&str> = judged.flags.iter().map(culture::Flag::id).collect();
        let source = import.sources.get(place);
        let file = source.and_then(|source| import.counts.get(source.file));
        let decided_by = judged.decided_by().map(|place| import.sets.id(place));
        let line = row([
            set.id.to_owned(),
            file.map(|file| file.file.clone()).unwrap_or_default(),
            source.and_then(|source| source.line).map(|line| line.to_string()).unwrap_or_default(),
            match set.collected {
                Collected::At(at) => at.to_string(),
                Collected::On(date) => date.to_string(),
            },
            set.unit.unwrap_or_default().to_owned(),
            set.route.map(route_id).unwrap_or_default().to_owned(),
            organisms.join("; "),
            judged.verdict().id().to_owned(),
            judged.clause.id().to_owned(),
            judged.clause.sentence(figures.rules),
            figures.rules.label(),
            judged.n_in_window.to_string(),
            decided_by.unwrap_or_default().to_owned(),
            flags.join(" "),
        ]);
        out.write_all(line.as_bytes())?;
    }
    out.flush()
}

/// One line of CSV by RFC 4180. A cell that a spreadsheet would take for a formula starts with an apostrophe.
fn row(cells: impl IntoIterator<Item = String>) -> String {
    let written: Vec<String> = cells
        .into_iter()
        .map(|cell| {
            let cell = if cell.starts_with(['=', '+', '-', '@']) { format!("'{cell}") } else { cell };
            if cell.contains(['"', ',', '\n', '\r']) {
                format!("\"{}\"", cell.replace('"', "\"\""))
            } else {
                cell
            }
        })
        .collect();
    written.join(",") + "\r\n"
}
