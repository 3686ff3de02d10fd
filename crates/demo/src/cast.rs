//! Who is who in the story, by number of the staff identifier.

use practice::PersonId;

use crate::people::id;

/// People whose stories the demo tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cast {
    /// The trainers.
    pub trainers: [PersonId; 2],
    /// Two contaminated sets in fourteen, and no worse than the unit.
    pub two_of_fourteen: PersonId,
    /// Contaminates about three times as often as colleagues.
    pub high_rate: PersonId,
    /// Only planned.
    pub just_planned: PersonId,
    /// Demonstrated, no teach-back yet.
    pub demonstrated: PersonId,
    /// Teach-back not complete.
    pub teach_back_incomplete: PersonId,
    /// Two of five draws; drew once alone before release, as a note records.
    pub two_of_five: PersonId,
    /// Five draws, a safety point missed within the last three.
    pub safety_point_missed: PersonId,
    /// The release rule is met on vein draws and the trainer has not decided.
    pub decision_due: PersonId,
    /// Released to own patients.
    pub own_patients: PersonId,
    /// Released to all patients.
    pub all_patients: PersonId,
    /// Works nights, where hardly anybody may watch.
    pub nights_only: PersonId,
    /// Withdrawn in June 2026, taught again, released again.
    pub retrained: PersonId,
    /// Back from four months of leave: the release has lapsed.
    pub back_from_leave: PersonId,
    /// From the float pool.
    pub float_nurse: PersonId,
}

pub(crate) const TRAINER_NORTH: usize = 1;
pub(crate) const TRAINER_SOUTH: usize = 2;
pub(crate) const BACK_FROM_LEAVE: usize = 16;
pub(crate) const RETRAINED: usize = 24;
pub(crate) const HIGH_RATE: usize = 27;
pub(crate) const TWO_OF_FOURTEEN: usize = 35;
pub(crate) const TWO_OF_FIVE: usize = 39;
pub(crate) const SAFETY_POINT_MISSED: usize = 40;
pub(crate) const DECISION_DUE: usize = 41;
pub(crate) const NIGHTS_ONLY: usize = 44;
pub(crate) const FLOAT_NURSE: usize = 46;

pub(crate) fn cast() -> Cast {
    Cast {
        trainers: [id(TRAINER_NORTH), id(TRAINER_SOUTH)],
        two_of_fourteen: id(TWO_OF_FOURTEEN),
        high_rate: id(HIGH_RATE),
        just_planned: id(36),
        demonstrated: id(37),
        teach_back_incomplete: id(38),
        two_of_five: id(TWO_OF_FIVE),
        safety_point_missed: id(SAFETY_POINT_MISSED),
        decision_due: id(DECISION_DUE),
        own_patients: id(42),
        all_patients: id(43),
        nights_only: id(NIGHTS_ONLY),
        retrained: id(RETRAINED),
        back_from_leave: id(BACK_FROM_LEAVE),
        float_nurse: id(FLOAT_NURSE),
    }
}
