//! Further files a mapping names: where patients were when, and the names of organism codes.

use std::collections::HashMap;

use super::missing_column;
use crate::laboratory::InputFile;
use crate::laboratory::account::{Account, Fault};
use crate::laboratory::mapping::Mapping;
use crate::laboratory::patient::PatientHashKey;
use crate::laboratory::stays::StayTable;
use crate::laboratory::words::plain;
use crate::table::{Table, TableOptions};

/// Further files a mapping names, read once.
#[derive(Debug, Default)]
pub(in crate::laboratory) struct Aids {
    pub stays: StayTable,
    pub(super) organism_codes: HashMap<String, String>,
}

impl Aids {
    pub(in crate::laboratory) fn open(
        mapping: &Mapping,
        companions: &[InputFile<'_>],
        key: &PatientHashKey,
        account: &mut Account,
    ) -> Self {
        let mut aids = Self::default();
        let find = |name: &str| companions.iter().find(|file| file.name == name);
        if let Some(stays) = &mapping.stays {
            match find(&stays.file) {
                Some(file) => aids.stays = StayTable::read(file, stays, key, account),
                // No row is lost by it, so it is a note and not a fault.
                None => account.note_file(format!(
                    "units are not known: the file {:?}, which the mapping names under [stays], was not found beside the laboratory's file or the mapping",
                    stays.file
                )),
            }
        }
        if let Some(codes) = &mapping.organism_codes {
            match find(&codes.file) {
                Some(file) => aids.organism_codes = read_codes(file, &codes.code, &codes.name, account),
                None => account.unread_companion(&codes.file, Fault::new(
                    "no such file",
                    format!("the table of organism codes that the mapping {:?} names", mapping.name),
                    "put it beside the laboratory's file or beside the mapping; without it no code becomes a name",
                )),
            }
        }
        aids
    }
}

fn read_codes(
    file: &InputFile<'_>,
    code: &str,
    name: &str,
    account: &mut Account,
) -> HashMap<String, String> {
    let mut table = match Table::open(file.bytes, &TableOptions::default()) {
        Ok(table) => table,
        Err(error) => {
            let fault = Fault::new(
                error.to_string(),
                "a table of organism codes",
                "give the file that the mapping names under [organism_codes]",
            );
            account.unread_companion(file.name, fault);
            return HashMap::new();
        }
    };
    let mut place = |column: &str, role: &str| {
        table
            .column(column)
            .map_err(|missing| account.unread_companion(file.name, missing_column(&missing, role)))
            .ok()
    };
    let (Some(code), Some(name)) = (place(code, "organism_codes.code"), place(name, "organism_codes.name"))
    else {
        return HashMap::new();
    };
    let mut codes = HashMap::new();
    while let Some(row) = table.next_row() {
        let Ok(row) = row else { continue };
        codes.insert(plain(&row.text(code)), row.text(name).into_owned());
    }
    codes
}
