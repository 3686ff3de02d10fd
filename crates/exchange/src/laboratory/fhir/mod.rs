//! FHIR R4 resources as JSON or NDJSON into reports.
//!
//! Only the fields that are needed are read and the rest is tolerated: real feeds carry extensions everywhere and are
//! not valid by every profile. Files are read one after the other and joined at the end, since a bulk export parts
//! what belongs together by the kind of resource.

mod bottles;
mod culture_report;
mod growth;
mod json;
mod results;
mod store;
mod values;

use std::collections::HashMap;

use serde::de::IgnoredAny;
use serde_json::error::Category;

use culture_report::Builder;
use growth::Growth;
use store::Store;

use super::InputFile;
use super::account::{Account, Fault};
use super::mapping::Mapping;
use super::patient::PatientHashKey;
use super::reports::Reports;
use crate::text::decode;

/// Longest line of a bulk export that is read, in bytes.
const LONGEST_LINE_BYTES: usize = 32 << 20;

/// The resources of all files, since one may refer to another.
#[derive(Debug, Default)]
pub(super) struct Resources {
    store: Store,
    files: Vec<u16>,
}

impl Resources {
    /// Takes in one file: a resource, a Bundle, a list of resources, or one resource on each line.
    pub(super) fn add(&mut self, file: &InputFile<'_>, account: &mut Account) {
        self.files.push(account.file());
        if is_one_on_each_line(file.bytes) {
            self.lines(file.bytes, account);
            return;
        }
        let decoded = match decode(file.bytes, Some(crate::text::TextEncoding::Utf8)) {
            Ok(decoded) => decoded,
            Err(error) => {
                account.unread_file(Fault::new(
                    error.to_string(),
                    "UTF-8 text, which JSON must be",
                    "export the file anew as UTF-8",
                ));
                return;
            }
        };
        if let Err(error) = self.store.take(&decoded.text, account.place(0)) {
            account.unread_file(Fault::new(
                format!("{} at line {}, column {}", what_is_wrong(&error), error.line(), error.column()),
                "FHIR R4 resources as JSON, or one resource on each line",
                "export the file anew; it may have been cut off; resources before the fault were read",
            ));
        }
    }

    fn lines(&mut self, bytes: &[u8], account: &mut Account) {
        let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
        for (number, line) in bytes.split(|&byte| byte == b'\n').enumerate() {
            let line = line.trim_ascii();
            let place = account.place(number as u64 + 1);
            let found = match std::str::from_utf8(line) {
                _ if line.is_empty() => continue,
                _ if line.len() > LONGEST_LINE_BYTES => {
                    format!("a line of {} bytes, more than {LONGEST_LINE_BYTES}", line.len())
                }
                Err(_) => "a line that is not UTF-8".to_owned(),
                Ok(text) => match self.store.take(text, place) {
                    Ok(()) => continue,
                    Err(error) => format!("{} at column {}", what_is_wrong(&error), error.column()),
                },
            };
            account.row();
            account.unread_row(
                place,
                Fault::new(
                    found,
                    "one FHIR resource as JSON on each line",
                    "export the file anew; it may have been cut off",
                ),
            );
        }
    }

    /// Reads every report of a blood culture. Every DiagnosticReport, and every Observation outside of one, counts as
    /// one row.
    pub(super) fn read(
        self,
        mapping: &Mapping,
        key: &PatientHashKey,
        reports: &mut Reports,
        account: &mut Account,
    ) {
        let growth = Growth::of(&self.store);
        let builder = Builder { store: &self.store, growth: &growth, mapping, key };
        let mut seen: HashMap<u16, Seen> = HashMap::new();
        for at in growth.rows(&self.store) {
            let resource = self.store.at(at);
            let file = resource.place.file;
            account.start(usize::from(file));
            account.row();
            let seen = seen.entry(file).or_default();
            seen.rows += 1;
            if resource.replaced {
                account.drop_row(file, "an earlier version of a resource that is given again");
                continue;
            }
            match builder.report(at, account) {
                Ok(Some(report)) => {
                    seen.any_kept_or_unread = true;
                    reports.add(report);
                }
                Ok(None) => account.drop_row(file, "not a blood culture"),
                Err(fault) => {
                    seen.any_kept_or_unread = true;
                    account.unread_row(resource.place, fault);
                }
            }
        }
        let any = seen.values().any(|seen| seen.any_kept_or_unread);
        for file in &self.files {
            let found = seen.get(file).copied().unwrap_or_default();
            // A file of patients or specimens serves the reports of another file.
            let serves_others = found.rows == 0 && any;
            if !found.any_kept_or_unread && !serves_others {
                account.start(usize::from(*file));
                account.note_file(format!(
                    "nothing to import here: {} reports or observations, none of them a blood culture",
                    found.rows
                ));
            }
        }
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Seen {
    rows: u64,
    any_kept_or_unread: bool,
}

/// Bulk exports write one resource on each line. The first line may be the broken one.
fn is_one_on_each_line(bytes: &[u8]) -> bool {
    let bytes = bytes.strip_prefix(&[0xEF, 0xBB, 0xBF]).unwrap_or(bytes);
    let mut lines =
        bytes.split(|&byte| byte == b'\n').map(<[u8]>::trim_ascii).filter(|line| !line.is_empty());
    let (Some(first), Some(second)) = (lines.next(), lines.next()) else { return false };
    let starts_a_resource = |line: &[u8]| line.starts_with(b"{") && line.len() > 2 && line.ends_with(b"}");
    serde_json::from_slice::<IgnoredAny>(first).is_ok()
        || (starts_a_resource(second) && first.starts_with(b"{\""))
}

/// In words of our own: those of the reader may quote what stands in the file.
fn what_is_wrong(error: &serde_json::Error) -> &'static str {
    match error.classify() {
        Category::Eof => "JSON that ends too early",
        Category::Data => "JSON that is no resource",
        _ if error.to_string().starts_with("recursion limit") => "JSON that is nested too deeply",
        Category::Syntax | Category::Io => "text that is not JSON",
    }
}
