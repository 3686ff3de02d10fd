//! Every set with its verdict, as CSV.

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
    std::fs::write(path, table(figures)).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be written: {error}"),
            "a place where a file can be written",
            "choose another name or folder for --sets",
        )
    })
}

fn table(figures: &Figures<'_>) -> String {
    let mut out = row(COLUMNS.into_iter().map(str::to_owned));
    let sets = &figures.import.sets;
    for ((set, judged), source) in sets.iter().zip(figures.judged).zip(&figures.import.sources) {
        let organisms: Vec<&str> =
            set.isolates.iter().map(|isolate| isolate.reported_name.as_str()).collect();
        let flags: Vec<&str> = judged.flags.iter().map(culture::Flag::id).collect();
        let decided_by = judged.decided_by().and_then(|place| sets.get(place));
        out.push_str(&row([
            set.id.to_string(),
            figures.import.counts.get(source.file).map(|file| file.file.clone()).unwrap_or_default(),
            source.line.map(|line| line.to_string()).unwrap_or_default(),
            match set.collected {
                Collected::At(at) => at.to_string(),
                Collected::On(date) => date.to_string(),
            },
            set.unit.clone().unwrap_or_default(),
            set.route.map(route_id).unwrap_or_default().to_owned(),
            organisms.join("; "),
            judged.verdict().id().to_owned(),
            judged.clause.id().to_owned(),
            judged.clause.sentence(figures.rules),
            figures.rules.label(),
            judged.n_in_window.to_string(),
            decided_by.map(|set| set.id.to_string()).unwrap_or_default(),
            flags.join(" "),
        ]));
    }
    out
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
