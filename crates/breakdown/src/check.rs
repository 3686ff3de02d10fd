//! Whether a breakdown holds together. Each finding has a place, what was found, what was expected and what to do.

mod order;
mod quantities;
mod structure;

use crate::fault::{Fault, FaultKind, Place};
use crate::keyword::Keyword;
use crate::model::Breakdown;
use crate::read::{Places, PointPlaces};

/// Most steps of one breakdown: 5 to 7 are usual (a modern Job Instruction workbook), 5 to 9 are seen.
pub const MOST_STEPS: usize = 9;
/// Steps beyond which the job is better split: 5 to 7 are usual.
pub const USUAL_STEPS: usize = 7;
/// Most key points of one step: 3 to 5 (Job Instruction workbook).
pub const MOST_KEY_POINTS: usize = 5;

/// Checks a breakdown that did not come from a file; a finding names the line kept in the model, where there is one.
pub fn check(breakdown: &Breakdown) -> Vec<Fault> {
    let mut faults = check_with(breakdown, &Places::default());
    faults.sort_by_key(|fault| fault.place);
    faults
}

pub(crate) fn check_with(breakdown: &Breakdown, places: &Places) -> Vec<Fault> {
    let mut faults = structure::check(breakdown, places);
    faults.extend(quantities::check(breakdown, places));
    faults.extend(order::check(breakdown, places));
    faults
}

/// Header lines that were not given. A line that was there and wrong already has its own fault.
pub(crate) fn missing(given: &[(Keyword, usize)], breakdown: &Breakdown) -> Vec<Fault> {
    let absent = |keyword: Keyword| !given.iter().any(|(known, _)| *known == keyword);
    let mut faults = Vec::new();
    for keyword in [Keyword::Job, Keyword::Code, Keyword::Version] {
        if absent(keyword) {
            faults.push(Fault::new(Place::line(1), FaultKind::Missing { keyword }));
        }
    }
    for keyword in [Keyword::Effective, Keyword::Author, Keyword::ApprovedBy] {
        if absent(keyword) {
            faults.push(Fault::new(Place::line(1), FaultKind::NotYetGiven { keyword }));
        }
    }
    let changed = breakdown.version.0 > 1 && absent(Keyword::Change);
    if changed && absent(Keyword::ChangeMajor) && absent(Keyword::ChangeMinor) {
        let kind = FaultKind::NotYetGiven { keyword: Keyword::ChangeMajor };
        faults.push(Fault::new(Place::line(1), kind));
    }
    faults
}

impl Places {
    fn point(&self, step: usize, point: usize) -> Option<&PointPlaces> {
        self.points.get(step)?.get(point)
    }

    /// Place of a reason, or of its key point.
    fn reason(&self, step: usize, point: usize, reason: usize, line: usize) -> Place {
        let place = self.point(step, point).and_then(|places| places.reasons.get(reason));
        place.copied().unwrap_or(Place::line(line))
    }

    /// Place of a quantity, or of its key point.
    fn quantity(&self, step: usize, point: usize, quantity: usize, line: usize) -> Place {
        let place = self.point(step, point).and_then(|places| places.quantities.get(quantity));
        place.copied().unwrap_or(Place::line(line))
    }
}
