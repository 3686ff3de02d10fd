//! Which column of a file is what.

use crate::laboratory::account::Fault;
use crate::laboratory::mapping::{Columns, Mapping};
use crate::table::{NoColumn, Table};

/// The places of the columns in one file.
#[derive(Clone)]
pub(super) struct Places {
    pub specimen: Option<usize>,
    pub patient: Option<usize>,
    pub collected: Option<usize>,
    pub collected_date: Option<usize>,
    pub collected_time: Option<usize>,
    pub received: Option<usize>,
    pub reported: Option<usize>,
    pub unit: Option<usize>,
    pub collector: Option<usize>,
    pub specimen_type: Option<usize>,
    pub organisms: Vec<usize>,
    pub route: Option<usize>,
    pub status: Option<usize>,
    pub age_years: Option<usize>,
    pub birth_date: Option<usize>,
    pub bottle: Option<usize>,
    pub bottle_id: Option<usize>,
    pub fill_ml: Option<usize>,
    pub mass_gain_g: Option<usize>,
    pub mass_empty_g: Option<usize>,
    pub mass_full_g: Option<usize>,
    pub lot: Option<usize>,
    pub positive_after_h: Option<usize>,
    pub wide_bottles: Vec<usize>,
    pub filters: Vec<usize>,
}

/// The places of all columns the mapping names, and a fault for each that is not there.
pub(super) fn find_places(table: &Table<'_>, mapping: &Mapping) -> (Places, Vec<Fault>) {
    let mut missing = Vec::new();
    let mut find = |wanted: &str, role: &str| {
        table.column(wanted).map_err(|no_column| missing.push(missing_column(&no_column, role))).ok()
    };
    let columns: &Columns = &mapping.columns;
    let mut one = |wanted: &Option<String>, role: &str| wanted.as_ref().and_then(|wanted| find(wanted, role));
    let places = Places {
        specimen: one(&columns.specimen, "specimen"),
        patient: one(&columns.patient, "patient"),
        collected: one(&columns.collected, "collected"),
        collected_date: one(&columns.collected_date, "collected_date"),
        collected_time: one(&columns.collected_time, "collected_time"),
        received: one(&columns.received, "received"),
        reported: one(&columns.reported, "reported"),
        unit: one(&columns.unit, "unit"),
        collector: one(&columns.collector, "collector"),
        specimen_type: one(&columns.specimen_type, "specimen_type"),
        route: one(&columns.route, "route"),
        status: one(&columns.status, "status"),
        age_years: one(&columns.age_years, "age_years"),
        birth_date: one(&columns.birth_date, "birth_date"),
        bottle: one(&columns.bottle, "bottle"),
        bottle_id: one(&columns.bottle_id, "bottle_id"),
        fill_ml: one(&columns.fill_ml, "fill_ml"),
        mass_gain_g: one(&columns.mass_gain_g, "mass_gain_g"),
        mass_empty_g: one(&columns.mass_empty_g, "mass_empty_g"),
        mass_full_g: one(&columns.mass_full_g, "mass_full_g"),
        lot: one(&columns.lot, "lot"),
        positive_after_h: one(&columns.positive_after_h, "positive_after_h"),
        organisms: columns.organisms.iter().filter_map(|wanted| find(wanted, "organism")).collect(),
        wide_bottles: mapping
            .wide_bottles
            .iter()
            .filter_map(|(_, wanted)| find(wanted, "wide_bottle"))
            .collect(),
        filters: mapping.only_where.iter().filter_map(|filter| find(&filter.column, "only_where")).collect(),
    };
    (places, missing)
}

/// The fault of a column that is not there.
pub(in crate::laboratory) fn missing_column(missing: &NoColumn, role: &str) -> Fault {
    let list = if missing.found.is_empty() { "no columns".to_owned() } else { missing.found.join(", ") };
    if missing.twice {
        return Fault::new(
            format!("more than one column {:?} among {list}", missing.wanted),
            format!("one column {:?} ({role} in the mapping)", missing.wanted),
            "rename one of them in the file",
        );
    }
    let to_do = match &missing.nearest {
        Some(near) => format!("the nearest is {near:?}: if that is it, write it in the mapping"),
        None => "write the column's name as it stands in the file in the mapping".to_owned(),
    };
    Fault::new(
        format!("the columns {list}"),
        format!("a column {:?} ({role} in the mapping)", missing.wanted),
        to_do,
    )
}
