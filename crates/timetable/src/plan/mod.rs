//! The plan of the coming weeks: who learns with whom on which shift, when each learner will be done, when the trainer
//! comes by, and what stands in the way.

mod chances;
mod dates;
mod faults;
mod make;
mod stands;
mod visits;

pub use chances::{met_after_draws, outcome_chance};
pub use faults::PlanFault;
pub use make::make_plan;
pub use stands::{PlanAsItStands, plan_as_it_stands};
pub use visits::{CheckDue, PlannedCheck};

use jiff::civil::Date;
use practice::PersonId;
use stats::Probability;

use crate::draws::DrawRates;
use crate::pairing::PairingEffort;
use crate::roster::Roster;
use crate::shift::Shift;

/// A learner to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnerToPlan {
    /// Who.
    pub person: PersonId,
    /// Chance that their release rule is met once they have had so many further draws, from none on; never falling. A
    /// rule that only counts draws is 0 up to the number needed and 1 from there ([`met_after_draws`]).
    pub met_after: Vec<f64>,
    /// Last day that counts.
    pub by: Date,
    /// Further draws before the trainer's own look may count; `None` when the rule asks for none or it is done.
    pub look_after: Option<u16>,
}

/// What a unit sets for its plans. All of it is common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanLimits {
    /// Learners who may share the draws of one shift, in turn; 1 to 8.
    pub learners_per_shift: u8,
    /// Most pairings of one preceptor in a week.
    pub preceptor_pairings_per_week: u32,
    /// Most pairings of one preceptor over the plan, as a multiple of an even share of those the learners could have;
    /// it keeps the load from falling on few.
    pub preceptor_share: f64,
    /// Most watched shifts of one learner in a week.
    pub learner_shifts_per_week: u32,
    /// Fewest watched shifts each learner is to have over the plan, so that nobody is left out for the sake of the mean.
    pub least_watched_shifts: u32,
    /// Trainer's visits on one shift.
    pub visits_per_shift: u32,
    /// What changing one pairing of a known plan costs, in learners done.
    pub cost_per_change: f64,
}

impl Default for PlanLimits {
    fn default() -> Self {
        PlanLimits {
            learners_per_shift: 2,
            preceptor_pairings_per_week: 3,
            preceptor_share: 2.0,
            learner_shifts_per_week: 7,
            least_watched_shifts: 1,
            visits_per_shift: 2,
            cost_per_change: 0.01,
        }
    }
}

/// Days on which somebody is not to be planned, whatever the roster says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Absence {
    /// Who.
    pub person: PersonId,
    /// First day.
    pub from: Date,
    /// Last day.
    pub to: Date,
}

/// What a plan is made from.
#[derive(Debug, Clone)]
pub struct PlanQuestion<'a> {
    /// First day of the plan.
    pub from: Date,
    /// Last day of the plan.
    pub until: Date,
    /// Who works when.
    pub roster: &'a Roster,
    /// Learners.
    pub learners: &'a [LearnerToPlan],
    /// Those who may watch, trainers among them.
    pub watchers: &'a [PersonId],
    /// Trainers.
    pub trainers: &'a [PersonId],
    /// Draws on a shift.
    pub rates: &'a DrawRates,
    /// Share of the draws on a watched shift that are offered to learners.
    pub offered: Probability,
    /// Absences known today.
    pub absences: &'a [Absence],
    /// Follow-up checks of those released.
    pub checks: &'a [CheckDue],
    /// The unit's limits.
    pub limits: PlanLimits,
    /// The last plan, when it is to change as little as possible.
    pub known: Option<&'a [PlannedPairing]>,
    /// How long to look.
    pub effort: PairingEffort,
}

/// One learner with one preceptor on one shift.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPairing {
    /// When.
    pub shift: Shift,
    /// Who learns.
    pub learner: PersonId,
    /// Who watches.
    pub preceptor: PersonId,
    /// Turns offered to this learner, of those the shift has: with 1 of 2, every other draw.
    pub turns: u8,
    /// Turns of the shift.
    pub of_turns: u8,
    /// Draws expected to be offered to this learner.
    pub draws: f64,
}

/// What the plan gives one learner.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnerPlan {
    /// Who.
    pub person: PersonId,
    /// Last day that counts.
    pub by: Date,
    /// Shifts they work up to that day within the plan.
    pub n_shifts: usize,
    /// Watched shifts among them.
    pub n_watched: usize,
    /// Mean number of draws offered by then.
    pub mean_draws: f64,
    /// Chance of being done by the day.
    pub done_by_date: Probability,
    /// First day by which the chance is at least a half; `None` when not within the plan.
    pub date_50: Option<Date>,
    /// First day by which the chance is at least nine tenths.
    pub date_90: Option<Date>,
}

/// Something that stands in the way of the plan as a whole, and what its removal would give.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanBottleneck {
    /// What would be different: "one more person to watch on every night shift".
    pub without: String,
    /// Learners done in the mean, as planned and with the difference.
    pub learners_done: (f64, f64),
    /// The learner whom it helps most, with their chance before and after.
    pub helps_most: Option<(PersonId, f64, f64)>,
}

/// How a plan differs from the one known before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlanChanges {
    /// Pairings of the known plan from the first day on.
    pub n_known: usize,
    /// Kept with the same preceptor.
    pub n_kept: usize,
    /// Kept with another preceptor.
    pub n_other_preceptor: usize,
    /// Dropped.
    pub n_dropped: usize,
    /// Added.
    pub n_added: usize,
}

/// The plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Learners done by their dates in the mean, less what changes cost; as the optimiser counts it.
    pub objective: f64,
    /// No plan within the limits has a higher objective.
    pub bound: f64,
    /// In the order asked.
    pub learners: Vec<LearnerPlan>,
    /// By shift.
    pub pairings: Vec<PlannedPairing>,
    /// When the trainer comes by.
    pub checks: Vec<PlannedCheck>,
    /// The most helpful first.
    pub bottlenecks: Vec<PlanBottleneck>,
    /// What differs from the known plan.
    pub changes: Option<PlanChanges>,
    /// What was found wanting and planned around.
    pub faults: Vec<PlanFault>,
}

/// Why there is no plan. The last good plan stays.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// No plan keeps every limit.
    #[error("no plan keeps every limit")]
    Infeasible(Vec<PlanFault>),
    /// A day, count or share out of range.
    #[error("{found}; expected {expected}")]
    BadQuestion {
        /// What was found.
        found: String,
        /// What was expected.
        expected: String,
    },
    /// A number could not be worked out.
    #[error(transparent)]
    Number(#[from] stats::StatsError),
    /// The pairing problem was refused.
    #[error(transparent)]
    Pairing(#[from] crate::pairing::PairingError),
}
