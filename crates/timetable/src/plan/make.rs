use std::collections::BTreeMap;

use jiff::civil::Date;
use practice::{PersonId, day_in_words};
use stats::Probability;

use super::chances::chance_by_units;
use super::dates::{chance_of, learner_plan};
use super::faults::{last_day, learner_faults, roster_faults};
use super::visits::visits;
use super::{Plan, PlanBottleneck, PlanChanges, PlanError, PlanFault, PlanQuestion, PlannedPairing};
use crate::draws::Slot;
use crate::pairing::{
    KnownPairing, KnownPlan, PairingAnswer, PairingEffort, PairingLearner, PairingOutcome, PairingPreceptor,
    PairingProblem, PairingShift, best_pairings,
};
use crate::shift::{Shift, ShiftKind};

/// Units of the mean turn: how finely the optimiser counts. Where every shift has one rate, nothing is rounded.
const PER_TURN: f64 = 16.0;
/// Longest plan: half a year.
const MOST_DAYS: i32 = 184;
/// Learners done, below which a bottleneck is not worth naming.
const WORTH_NAMING: f64 = 0.01;

impl PlanQuestion<'_> {
    pub(super) fn is_absent(&self, person: &PersonId, on: Date) -> bool {
        self.absences
            .iter()
            .any(|absence| absence.person == *person && (absence.from..=absence.to).contains(&on))
    }

    fn is_on(&self, person: &PersonId, shift: Shift) -> bool {
        self.roster.works(person, shift) && !self.is_absent(person, shift.on)
    }
}

/// The plan that brings most learners to the end of their rule by their dates, with a bound on how many could be.
///
/// # Formula
/// The objective is the sum over learners of the chance of being done by their date, less what changes to a known plan
/// cost. A learner on a shift with t of T turns is offered the share t / T of the draws offered on that shift, on which
/// they expect rate × offered × t / T. For the optimiser the draws of a learner are negative binomial: Poisson with one
/// gamma rate, whose relative variance is that of all the learner's shifts together, and expected draws are counted in
/// sixteenths of the mean turn. [`crate::pairing`] states the limits. The chances given for each learner are worked out again without
/// rounding from the rate of each weekday and shift.
/// # Range
/// From one day to half a year; at most 8 learners a shift.
/// # Ends
/// No learner: an empty plan with objective and bound 0. A learner without a watched shift: the chance of being done
/// without a further draw, and a fault that says so.
/// # Source
/// As `stats::arrivals` for the draws and [`crate::pairing::best_pairings`] for the plan; turns of equal worth are our
/// assumption.
/// # Check
/// The pairings against OR-Tools CP-SAT; the chances against 100,000 simulated periods.
pub fn make_plan(question: &PlanQuestion<'_>) -> Result<Plan, PlanError> {
    check(question)?;
    let as_is = Setting { offered: question.offered, extra: None, free_preceptors: false };
    let built = Built::new(question, &as_is);
    let mut faults = roster_faults(question);
    faults.extend(learner_faults(question, &built.has_watched_shift));
    let answer = match best_pairings(&built.problem, &question.effort)? {
        PairingOutcome::Found(answer) => answer,
        PairingOutcome::Infeasible(short) => {
            faults.extend(short.into_iter().map(|(l, missing)| {
                let least = question.limits.least_watched_shifts;
                PlanFault::new(
                    question.learners.get(l).map(|learner| &learner.person),
                    format!("{missing} too few watched shifts for the {least} that each learner is to have"),
                    "room for every learner's fewest watched shifts",
                    "let preceptors take more pairings in a week, roster the learner with other preceptors, or ask \
                     for fewer watched shifts",
                )
            }));
            return Err(PlanError::Infeasible(faults));
        }
    };
    let pairings = built.named(question, &answer);
    let learners = question
        .learners
        .iter()
        .map(|learner| learner_plan(question, learner, &pairings))
        .collect::<Result<Vec<_>, _>>()?;
    let chances: Vec<f64> = learners.iter().map(|learner| learner.done_by_date.get()).collect();
    Ok(Plan {
        from: question.from,
        until: question.until,
        objective: answer.objective,
        bound: answer.bound,
        bottlenecks: bottlenecks(question, &pairings, &chances)?,
        checks: visits(question, &pairings)?,
        changes: question.known.map(|known| changes(question, known, &pairings)),
        learners,
        pairings,
        faults,
    })
}

fn check(question: &PlanQuestion<'_>) -> Result<(), PlanError> {
    let bad =
        |found: String, expected: &str| Err(PlanError::BadQuestion { found, expected: expected.to_owned() });
    let days = question.from.until(question.until).map_or(i32::MAX, |span| span.get_days());
    if !(0..=MOST_DAYS).contains(&days) {
        let found =
            format!("a plan from {} to {}", day_in_words(question.from), day_in_words(question.until));
        return bad(found, "a last day on or after the first, at most half a year later");
    }
    let limits = &question.limits;
    if !(1..=8).contains(&limits.learners_per_shift) {
        return bad(format!("{} learners to share a shift", limits.learners_per_shift), "1 to 8");
    }
    if !(limits.preceptor_share.is_finite() && limits.preceptor_share >= 1.0) {
        return bad(format!("{} times an even share", limits.preceptor_share), "1 or more");
    }
    for learner in question.learners {
        let met = &learner.met_after;
        if met.is_empty() || !met.is_sorted() || !met.iter().all(|met| (0.0..=1.0).contains(met)) {
            return bad(
                format!("chances of {} that fall or leave 0 to 1", learner.person),
                "0 to 1, never falling",
            );
        }
    }
    Ok(())
}

/// What is asked: as things are, or with one thing different.
#[derive(Debug, Clone, Copy)]
struct Setting {
    offered: Probability,
    /// One more person to watch on every shift of this kind.
    extra: Option<ShiftKind>,
    /// No limit on a preceptor's pairings.
    free_preceptors: bool,
}

/// The pairing problem of a question, with the people and days behind its places.
struct Built {
    problem: PairingProblem,
    shifts: Vec<Shift>,
    watchers: Vec<PersonId>,
    has_watched_shift: Vec<bool>,
}

impl Built {
    fn new(question: &PlanQuestion<'_>, setting: &Setting) -> Built {
        let shifts: Vec<Shift> =
            Shift::between(question.from, question.until, question.roster.times()).collect();
        let of_turns = question.limits.learners_per_shift;
        let mean = |shift: &Shift| question.rates.of(Slot::of(*shift)).map_or(0.0, |rate| rate.mean());
        let all: f64 = shifts.iter().map(mean).sum();
        let mean_turn = setting.offered.get() * all / shifts.len() as f64 / f64::from(of_turns);
        let per_draw = if mean_turn > 0.0 { PER_TURN / mean_turn } else { PER_TURN };
        let units = |shift: &Shift| {
            let units = per_draw * mean(shift) * setting.offered.get() / f64::from(of_turns);
            (libm::round(units) as u32).clamp(1, 1_000_000)
        };
        let week_of = |shift: &Shift| {
            let days = question.from.until(shift.on).map_or(0, |span| span.get_days());
            usize::try_from(days / 7).unwrap_or(0)
        };
        let pairing_shifts: Vec<PairingShift> = shifts
            .iter()
            .map(|shift| PairingShift { week: week_of(shift), turns: of_turns, units_per_turn: units(shift) })
            .collect();
        let learners: Vec<&PersonId> = question.learners.iter().map(|learner| &learner.person).collect();
        let watchers: Vec<PersonId> =
            question.watchers.iter().filter(|person| !learners.contains(person)).cloned().collect();
        let places = |person: &PersonId, until: Date| -> Vec<usize> {
            shifts
                .iter()
                .enumerate()
                .filter(|(_, shift)| shift.on <= until && question.is_on(person, **shift))
                .map(|(place, _)| place)
                .collect()
        };
        let mut watched = vec![false; shifts.len()];
        let mut preceptors: Vec<PairingPreceptor> = watchers
            .iter()
            .map(|person| {
                let shifts = places(person, question.until);
                shifts.iter().for_each(|shift| watched[*shift] = true);
                let most_per_week = match setting.free_preceptors {
                    true => u32::MAX,
                    false => question.limits.preceptor_pairings_per_week,
                };
                PairingPreceptor { shifts, most_per_week, most_in_all: u32::MAX }
            })
            .collect();
        if let Some(kind) = setting.extra {
            let shifts = (0..shifts.len()).filter(|place| shifts[*place].kind == kind).collect::<Vec<_>>();
            shifts.iter().for_each(|shift| watched[*shift] = true);
            preceptors.push(PairingPreceptor { shifts, most_per_week: u32::MAX, most_in_all: u32::MAX });
        }
        let mut has_watched_shift = Vec::new();
        let pairing_learners: Vec<PairingLearner> = question
            .learners
            .iter()
            .map(|learner| {
                let mut own = places(&learner.person, last_day(question, learner.by));
                own.retain(|place| watched[*place]);
                has_watched_shift.push(!own.is_empty());
                let most: u64 = own
                    .iter()
                    .map(|place| u64::from(pairing_shifts[*place].units_per_turn) * u64::from(of_turns))
                    .sum();
                let shape = shape_of(question, own.iter().map(|place| shifts[*place]));
                PairingLearner {
                    done: chance_by_units(&learner.met_after, shape, per_draw, most.min(20_000) as usize),
                    // Nobody's date is missed because a shift that is not there was asked for.
                    least_pairings: match learner.met_after.first() {
                        Some(met) if *met >= 1.0 => 0,
                        _ => question.limits.least_watched_shifts.min(own.len() as u32),
                    },
                    most_per_week: question.limits.learner_shifts_per_week,
                    shifts: own,
                }
            })
            .collect();
        if !setting.free_preceptors {
            share_load(question, &pairing_learners, &mut preceptors[..watchers.len()]);
        }
        let known =
            question.known.map(|known| known_plan(question, known, &shifts, &watchers, &pairing_learners));
        let problem =
            PairingProblem { shifts: pairing_shifts, learners: pairing_learners, preceptors, known };
        Built { problem, shifts, watchers, has_watched_shift }
    }

    fn named(&self, question: &PlanQuestion<'_>, answer: &PairingAnswer) -> Vec<PlannedPairing> {
        let of_turns = question.limits.learners_per_shift;
        let mut pairings: Vec<PlannedPairing> = answer
            .pairings
            .iter()
            .filter_map(|pairing| {
                let shift = *self.shifts.get(pairing.shift)?;
                let rate = question.rates.of(Slot::of(shift))?;
                let share = f64::from(pairing.turns) / f64::from(of_turns);
                Some(PlannedPairing {
                    shift,
                    learner: question.learners.get(pairing.learner)?.person.clone(),
                    // Only a preceptor who was asked about as different has no name.
                    preceptor: self.watchers.get(pairing.preceptor)?.clone(),
                    turns: pairing.turns,
                    of_turns,
                    draws: rate.mean() * question.offered.get() * share,
                })
            })
            .collect();
        pairings.sort_by(|a, b| (a.shift, &a.learner).cmp(&(b.shift, &b.learner)));
        pairings
    }
}

/// Nobody has more pairings over the plan than so many times an even share of what the learners could have.
fn share_load(question: &PlanQuestion<'_>, learners: &[PairingLearner], preceptors: &mut [PairingPreceptor]) {
    let wanted: usize = learners.iter().map(|learner| learner.shifts.len()).sum();
    let could: usize = preceptors.iter().filter(|preceptor| !preceptor.shifts.is_empty()).count();
    if could > 0 {
        let share = libm::ceil(question.limits.preceptor_share * wanted as f64 / could as f64);
        preceptors.iter_mut().for_each(|preceptor| preceptor.most_in_all = share as u32);
    }
}

/// Shape of one gamma rate that varies as much, relatively, as all the draws of these shifts together.
fn shape_of(question: &PlanQuestion<'_>, shifts: impl Iterator<Item = Shift>) -> f64 {
    let mut by_slot: BTreeMap<(i8, ShiftKind), (f64, f64)> = BTreeMap::new();
    let mut mean = 0.0;
    for shift in shifts {
        let slot = Slot::of(shift);
        let Some(rate) = question.rates.of(slot) else { continue };
        let key = if question.rates.is_alike() { (0, ShiftKind::DAY) } else { slot.place() };
        by_slot.entry(key).or_insert((0.0, rate.shape())).0 += rate.mean();
        mean += rate.mean();
    }
    let variance: f64 = by_slot.values().map(|(mean, shape)| mean * mean / shape).sum();
    if variance > 0.0 { mean * mean / variance } else { 1.0 }
}

fn known_plan(
    question: &PlanQuestion<'_>,
    known: &[PlannedPairing],
    shifts: &[Shift],
    watchers: &[PersonId],
    learners: &[PairingLearner],
) -> KnownPlan {
    let mut pairings: Vec<KnownPairing> = Vec::new();
    for one in known {
        let Ok(shift) = shifts.binary_search(&one.shift) else { continue };
        let Some(learner) = question.learners.iter().position(|learner| learner.person == one.learner) else {
            continue;
        };
        let again = pairings.iter().any(|other| (other.learner, other.shift) == (learner, shift));
        if again || !learners[learner].shifts.contains(&shift) {
            continue;
        }
        let preceptor = watchers
            .iter()
            .position(|person| *person == one.preceptor)
            .filter(|place| question.is_on(&watchers[*place], one.shift));
        pairings.push(KnownPairing { learner, shift, preceptor });
    }
    KnownPlan { pairings, cost_per_change: question.limits.cost_per_change }
}

fn changes(question: &PlanQuestion<'_>, known: &[PlannedPairing], new: &[PlannedPairing]) -> PlanChanges {
    let within = |one: &&PlannedPairing| (question.from..=question.until).contains(&one.shift.on);
    let known: Vec<&PlannedPairing> = known.iter().filter(within).collect();
    let same = |a: &PlannedPairing, b: &PlannedPairing| a.shift == b.shift && a.learner == b.learner;
    let found: Vec<_> = known
        .iter()
        .filter_map(|one| new.iter().find(|other| same(one, other)).map(|other| (one, other)))
        .collect();
    let n_kept = found.iter().filter(|(one, other)| one.preceptor == other.preceptor).count();
    PlanChanges {
        n_known: known.len(),
        n_kept,
        n_other_preceptor: found.len() - n_kept,
        n_dropped: known.len() - found.len(),
        n_added: new.len() - found.len(),
    }
}

/// The plan made again with one thing different, for each thing that may stand in the way. Quick plans: what they give is
/// the least that the difference gives.
fn bottlenecks(
    question: &PlanQuestion<'_>,
    pairings: &[PlannedPairing],
    chances: &[f64],
) -> Result<Vec<PlanBottleneck>, PlanError> {
    if question.learners.is_empty() {
        return Ok(Vec::new());
    }
    let now: f64 = chances.iter().sum();
    let as_is = Setting { offered: question.offered, extra: None, free_preceptors: false };
    let mut asked: Vec<(String, Setting)> = question
        .roster
        .times()
        .kinds()
        .map(|kind| {
            let words = format!("one more person to watch on every {} shift", kind.words());
            (words, Setting { extra: Some(kind), ..as_is })
        })
        .collect();
    let limit = question.limits.preceptor_pairings_per_week;
    asked.push((
        format!("no limit of {limit} pairings a week for a preceptor"),
        Setting { free_preceptors: true, ..as_is },
    ));
    if question.offered.get() < 1.0 {
        let percent = question.offered.get() * 100.0;
        let words =
            format!("every draw on a watched shift offered to a learner instead of {percent:.0} of 100");
        asked.push((words, Setting { offered: Probability::new(1.0)?, ..as_is }));
    }
    let effort =
        PairingEffort { first_rounds: 60, branches: 0, moves: question.effort.moves / 2, ..question.effort };
    let mut found = Vec::new();
    for (without, setting) in asked {
        let mut built = Built::new(question, &setting);
        built.problem.known = None;
        // The plan as it is stays possible: it is where the search begins.
        let start = known_plan(question, pairings, &built.shifts, &built.watchers, &built.problem.learners);
        built.problem.known = Some(KnownPlan { cost_per_change: 0.0, ..start });
        let PairingOutcome::Found(answer) = best_pairings(&built.problem, &effort)? else { continue };
        if setting.extra.is_some() {
            built.watchers.push(PersonId(String::new()));
        }
        let different = PlanQuestion { offered: setting.offered, ..question.clone() };
        let with = built.named(&different, &answer);
        let mut after = Vec::with_capacity(chances.len());
        for learner in question.learners {
            let until = last_day(question, learner.by);
            let own: Vec<&PlannedPairing> =
                with.iter().filter(|one| one.learner == learner.person && one.shift.on <= until).collect();
            after.push(chance_of(&different, learner, &own)?.get());
        }
        let then: f64 = after.iter().sum();
        if then < now + WORTH_NAMING {
            continue;
        }
        let helps_most = (0..after.len())
            .max_by(|a, b| (after[*a] - chances[*a]).total_cmp(&(after[*b] - chances[*b])))
            .map(|l| (question.learners[l].person.clone(), chances[l], after[l]));
        found.push(PlanBottleneck { without, learners_done: (now, then), helps_most });
    }
    found.sort_by(|a, b| b.learners_done.1.total_cmp(&a.learners_done.1));
    Ok(found)
}
