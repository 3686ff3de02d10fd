//! Who learns with whom on which shift: the pairing problem, an answer, and a bound that no answer can pass.
//!
//! Everything here is in places of lists, not in people and days; `plan` fills it in. So the very same numbers can be
//! given to any solver of whole-number programs, which is how the answers are checked.

mod assign;
mod bound;
mod circulation;
mod column;
mod curve;
mod flow;
mod master;
mod network;
mod prepared;
mod prices;
mod search;
mod shared;
mod solve;
mod watchers;

pub use solve::{Pairing, PairingAnswer, PairingEffort, PairingOutcome, best_pairings};

/// One shift on which somebody may learn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PairingShift {
    /// Week it falls into, from 0.
    pub week: usize,
    /// Turns: the shift's draws are offered in turn, so at most this many learners share them. At least 1, at most 8.
    pub turns: u8,
    /// What one turn is worth, in units of expected draws. At least 1.
    pub units_per_turn: u32,
}

/// One learner.
#[derive(Debug, Clone, PartialEq)]
pub struct PairingLearner {
    /// Places of the shifts they work and may be watched on, each once.
    pub shifts: Vec<usize>,
    /// Chance of being done by their date when the units come to the place in the list; never falling, within 0 to 1,
    /// not empty. More units than places count as the last place.
    pub done: Vec<f64>,
    /// Fewest watched shifts they are to have over the whole plan.
    pub least_pairings: u32,
    /// Most watched shifts in one week.
    pub most_per_week: u32,
}

/// One person who may watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PairingPreceptor {
    /// Places of the shifts they work and may watch on, each once.
    pub shifts: Vec<usize>,
    /// Most pairings in one week.
    pub most_per_week: u32,
    /// Most pairings over the whole plan, so that the load is shared.
    pub most_in_all: u32,
}

/// One pairing of a plan people already know.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KnownPairing {
    /// Place of the learner.
    pub learner: usize,
    /// Place of the shift.
    pub shift: usize,
    /// Place of the preceptor who was to watch; `None` when they cannot any more.
    pub preceptor: Option<usize>,
}

/// A plan people already know, and what it costs to change it.
#[derive(Debug, Clone, PartialEq)]
pub struct KnownPlan {
    /// Its pairings that are still possible; a learner and a shift each once.
    pub pairings: Vec<KnownPairing>,
    /// Cost of one pairing dropped or added, in learners done; 0 or more.
    pub cost_per_change: f64,
}

/// The pairing problem.
///
/// # Formula
/// Whole numbers t(l, s) from 0 to T(s), the turns of shift s offered to learner l; x(l, s) is 1 where t(l, s) > 0, else
/// 0; z(p, s) is 0 or 1, preceptor p watches on shift s. Maximise
///
/// sum over l of done_l(sum over s of units(s) t(l, s)) − c × (pairings of the known plan not kept + pairings not in it)
///
/// subject to: sum over l of t(l, s) ≤ T(s); sum over l of x(l, s) ≤ sum over p of z(p, s); z(p, s) only where p works s,
/// and t(l, s) only where l does; for each preceptor at most so many z in a week and in all; for each learner at most so
/// many x in a week and at least so many in all. A preceptor thus watches one learner at a time. The objective is
/// separable: one function of one sum for each learner, and linear costs.
#[derive(Debug, Clone, PartialEq)]
pub struct PairingProblem {
    /// Shifts.
    pub shifts: Vec<PairingShift>,
    /// Learners.
    pub learners: Vec<PairingLearner>,
    /// Preceptors.
    pub preceptors: Vec<PairingPreceptor>,
    /// The plan already known, when an old one is to change as little as possible.
    pub known: Option<KnownPlan>,
}

/// Why a problem could not be taken.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PairingError {
    /// A place beyond its list, or named twice.
    #[error("{who} {place} names shift {shift}, which is not among the {n_shifts} shifts or is named twice")]
    BadShift {
        /// Learner, preceptor or known pairing.
        who: &'static str,
        /// Their place.
        place: usize,
        /// The shift named.
        shift: usize,
        /// How many there are.
        n_shifts: usize,
    },
    /// Turns or units out of range.
    #[error("shift {place} has {turns} turns of {units} units; expected 1 to 8 turns of 1 to 1000000 units")]
    BadTurns {
        /// Place of the shift.
        place: usize,
        /// Its turns.
        turns: u8,
        /// Units of one turn.
        units: u32,
    },
    /// Chances of being done that are empty, fall or leave 0 to 1.
    #[error("the chances of learner {place} must be 1 to 100000 values within 0 to 1 that never fall")]
    BadChances {
        /// Place of the learner.
        place: usize,
    },
    /// A cost that is negative or not a number.
    #[error("a change costs {cost}; expected 0 or more")]
    BadCost {
        /// The cost.
        cost: f64,
    },
}
