use std::collections::{BTreeMap, BTreeSet};

use breakdown::JobCode;
use jiff::civil::Date;
use practice::{Level, PersonId, Scope, Standing};

/// One cell of the timetable: a person and a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Can do it now, this far.
    CanDo(Scope),
    /// Could do it, and needs a refresher or a watched draw first.
    ToRefresh,
    /// In training, with the date on which it is needed, where one is set.
    InTraining(Option<Date>),
    /// Not begun, needed by this date.
    NeededBy(Date),
    /// Not on the timetable.
    NotPlanned,
    /// Away.
    Away,
}

/// The timetable of the trade: people by jobs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grid {
    /// Jobs, in the order of the columns.
    pub jobs: Vec<JobCode>,
    /// One row for each person, a cell for each job.
    pub rows: Vec<(PersonId, Vec<Cell>)>,
}

/// Who can do which job, who is in training, and who is to learn it by when.
pub fn grid(standings: &[Standing]) -> Grid {
    let jobs: BTreeSet<&JobCode> = standings.iter().map(|standing| &standing.job).collect();
    let mut by_person: BTreeMap<&PersonId, BTreeMap<&JobCode, Cell>> = BTreeMap::new();
    for standing in standings {
        by_person.entry(&standing.person).or_default().insert(&standing.job, cell(standing));
    }
    let rows = by_person
        .into_iter()
        .map(|(person, mut cells)| {
            let cells = jobs.iter().map(|job| cells.remove(*job).unwrap_or(Cell::NotPlanned)).collect();
            (person.clone(), cells)
        })
        .collect();
    Grid { jobs: jobs.into_iter().cloned().collect(), rows }
}

fn cell(standing: &Standing) -> Cell {
    match standing.level {
        Level::OwnPatients => Cell::CanDo(Scope::OwnPatients),
        Level::AllPatients => Cell::CanDo(Scope::AllPatients),
        Level::MayPrecept => Cell::CanDo(Scope::MayPrecept),
        Level::ToBeUpdated | Level::Lapsed => Cell::ToRefresh,
        Level::Learning | Level::Withdrawn => Cell::InTraining(standing.needed_by),
        Level::Planned | Level::NotPlanned => standing.needed_by.map_or(Cell::NotPlanned, Cell::NeededBy),
        Level::Away => Cell::Away,
    }
}
