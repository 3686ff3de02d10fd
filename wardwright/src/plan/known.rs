//! A plan written earlier with `--json`, read back so that a new one changes little of it.

use std::path::Path;

use ::breakdown::JobCode;
use practice::PersonId;
use serde::Deserialize;
use timetable::plan::PlannedPairing;
use timetable::{Shift, ShiftKind};

use crate::folder::read as read_bytes;
use crate::message::Message;

#[derive(Debug, Deserialize)]
struct PlanFile {
    schema: u32,
    job: String,
    assignments: Vec<AssignmentFile>,
}

#[derive(Debug, Deserialize)]
struct AssignmentFile {
    date: String,
    shift: String,
    learner: String,
    preceptor: String,
    turns: u8,
    of_turns: u8,
}

pub(super) fn read(path: &Path, job: &JobCode) -> Result<Vec<PlannedPairing>, Message> {
    let place = path.display().to_string();
    let expected = "a plan written by `wardwright plan --json`, schema 1";
    let what_to_do = "give the file of the last plan, or plan without --known";
    let refused = |found: String| Message::new(place.clone(), found, expected, what_to_do);
    let bytes = read_bytes(path)?;
    let file: PlanFile = serde_json::from_slice(&bytes).map_err(|error| refused(error.to_string()))?;
    if file.schema != 1 {
        return Err(refused(format!("schema {}", file.schema)));
    }
    if file.job != job.0 {
        return Err(refused(format!("a plan for the job {:?}, not {:?}", file.job, job.0)));
    }
    file.assignments
        .into_iter()
        .map(|one| {
            let on = one.date.parse().map_err(|_| refused(format!("the date {:?}", one.date)))?;
            let kind = ShiftKind::ALL
                .into_iter()
                .find(|kind| kind.words() == one.shift)
                .ok_or_else(|| refused(format!("the shift {:?}", one.shift)))?;
            Ok(PlannedPairing {
                shift: Shift { on, kind },
                learner: PersonId(one.learner),
                preceptor: PersonId(one.preceptor),
                turns: one.turns,
                of_turns: one.of_turns,
                draws: 0.0,
            })
        })
        .collect()
}
