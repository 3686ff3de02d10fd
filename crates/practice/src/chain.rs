//! The draws of one learner as a Markov chain, followed from fault to fault.
//!
//! After a fault the run of clean draws begins anew, so all that matters of it is when the rule is met if no further fault
//! comes between: once the run is long enough, the points are reached and the draws are enough, and then after the wait
//! for fewer prompts. The chain therefore goes by draws and by points of those who lack them; runs and prompts need no states.

use stats::Probability;

use crate::error_rates::Progress;
use crate::prompts::Waiting;
use crate::rule::ReleaseRule;
use crate::score::Walk;

/// Chances below this are left out of sums that are close to 1.
const NOTHING: f64 = 1e-18;

/// A learner's draws, one after another.
pub(crate) struct Chain<'a> {
    clean: f64,
    run: usize,
    /// The first draw after which the rule can be met.
    first: usize,
    /// Where the trainer's look is asked for, is missing, and no run is asked that would bring it: the draw from which
    /// it may come.
    look_from: Option<usize>,
    waiting: &'a Waiting,
    /// Draws so far.
    n: usize,
    /// Those who lack points, and how many they are.
    walk: Walk,
    lacking: f64,
    /// Those who have the points and lack the look only.
    unseen: f64,
    met: f64,
    /// By draw: chance that a run has all that is asked for but fewer prompts, for the first time in it.
    ready: Vec<f64>,
    /// Chance of just so long a wait for fewer prompts and no fault during it.
    waits: Vec<f64>,
    /// Waits longer than those, which fall by one share from draw to draw.
    long_waits: f64,
    falls_by: f64,
    /// Powers of the chance of a clean draw.
    powers: Vec<f64>,
    after_fault: Vec<f64>,
    mean: Option<Mean>,
}

/// What the mean needs of the time before the rule can be met.
struct Mean {
    /// Sums over the wait for fewer prompts, of q^t times the chance that it is t, and that it is more.
    met: f64,
    waiting: f64,
    /// Draws still to come, up to the next fault, for those who will be ready after so many, times q to the minus that many.
    to_come: Vec<f64>,
    /// Mean number of draws in the runs that have begun and have all points, from the draw before the first that can meet
    /// the rule, or from when they have them, up to their next fault.
    runs: f64,
}

impl<'a> Chain<'a> {
    pub(crate) fn of(rule: &ReleaseRule, fault_rate: Probability, waiting: &'a Waiting) -> Chain<'a> {
        Chain::at(rule, Progress::default(), fault_rate, waiting)
    }

    /// The chain at a learner's place. Of somebody's prompts so far nothing is known.
    pub(crate) fn at(
        rule: &ReleaseRule,
        progress: Progress,
        fault_rate: Probability,
        waiting: &'a Waiting,
    ) -> Chain<'a> {
        let run = usize::from(rule.clean_in_a_row);
        let had = usize::from(progress.draws_counted);
        // The look is a clean draw with the trainer there, at the earliest the next one.
        let look_from = rule
            .spot_check_from_draw
            .filter(|_| !progress.look_done)
            .map(|from| usize::from(from).max(had + 1));
        // A run ends on a clean draw, so with a run the look comes by itself once its draw is reached.
        let first = usize::from(rule.draws_needed).max(look_from.unwrap_or(0)).max(run.min(1));
        let clean = 1.0 - fault_rate.get();
        let walk = Walk::begun(rule.points, progress.points, clean);
        let points_left = walk.needed().saturating_sub(usize::from(progress.points));
        let run_left = run.saturating_sub(usize::from(progress.clean_in_a_row));

        let longest = run.max(walk.needed()).max(first);
        let powers: Vec<f64> =
            std::iter::successors(Some(1.0), |power| Some(power * clean)).take(longest + 1).collect();
        let mut power = 1.0;
        let mut waits = Vec::new();
        let mut falls_by = waiting.share * clean;
        for (just, more) in waiting.just.iter().zip(&waiting.more) {
            waits.push(just * power);
            if more * power < NOTHING {
                falls_by = 0.0;
                break;
            }
            power *= clean;
        }
        let after_fault = vec![0.0; walk.n_after_fault()];
        let lacking = walk.waiting();
        let mut chain = Chain {
            clean,
            run,
            first,
            look_from: look_from.filter(|_| run == 0),
            waiting,
            n: had,
            walk,
            lacking,
            unseen: 0.0,
            met: 0.0,
            ready: Vec::new(),
            waits,
            long_waits: 0.0,
            falls_by,
            powers,
            after_fault,
            mean: None,
        };
        let ahead = run_left.max(points_left);
        if ahead == 0 && had >= first {
            chain.met = 1.0;
        } else {
            let ahead = ahead.max(first.saturating_sub(had));
            chain.ready = vec![0.0; had + ahead + 1];
            chain.ready[had + ahead] = chain.powers[ahead];
        }
        chain.see_look();
        chain
    }

    /// The chain with what its mean needs; for a learner who begins.
    pub(crate) fn with_mean(mut self) -> Chain<'a> {
        let (met, waiting) = self.waiting.sums(self.clean);
        let mut to_come = vec![waiting];
        let mut power = 1.0;
        for _ in 0..self.run.max(1) {
            power /= self.clean;
            to_come.push(to_come.last().copied().unwrap_or_default() + power);
        }
        let mut mean = Mean { met, waiting, to_come, runs: 0.0 };
        if self.run > 0 {
            let ahead = self.run.max(self.walk.needed()).max(self.first);
            mean.see(self.powers[ahead], ahead, self.walk.needed().max(self.first - 1));
        }
        self.mean = Some(mean);
        self
    }

    pub(crate) fn met(&self) -> f64 {
        self.met.clamp(0.0, 1.0)
    }

    /// Chance of still waiting.
    pub(crate) fn still(&self) -> f64 {
        (1.0 - self.met).max(0.0)
    }

    /// Chance of lacking points.
    pub(crate) fn lacking(&self) -> f64 {
        self.lacking
    }

    /// The draw after which waiting can fall by shares that settle: the rule can be met, and a run and the points come in.
    pub(crate) fn settles_from(&self) -> usize {
        self.first.max(self.walk.needed()) + self.run
    }

    /// One more draw.
    pub(crate) fn step(&mut self) {
        let have_points = (1.0 - self.lacking - self.met).max(0.0);
        self.n += 1;
        if self.walk.needed() > 0 {
            self.walk.step(&mut self.after_fault);
            self.lacking = self.walk.waiting();
        }
        if self.run == 0 {
            self.unseen *= 1.0 - self.clean;
            self.see_look();
            return;
        }
        self.begin_runs(have_points * (1.0 - self.clean));
        self.meet();
    }

    /// Without a run, who has the points has met the rule but for the look, which is missing after faults alone from its
    /// first draw on.
    fn see_look(&mut self) {
        if self.run > 0 {
            return;
        }
        if self.look_from == Some(self.n + 1) {
            self.unseen = 1.0 - self.lacking;
        }
        if self.n >= self.first {
            self.met = 1.0 - self.lacking - self.unseen;
        }
    }

    /// The runs that begin after a fault with this draw: of those who have the points, with the chance given, and of the others.
    fn begin_runs(&mut self, have_points: f64) {
        let needed = self.walk.needed();
        let least = self.run.max(self.first.saturating_sub(self.n));
        let longest = least.max(needed);
        if self.ready.len() <= self.n + longest {
            self.ready.resize(self.n + longest + 64, 0.0);
        }
        // Those who will wait for their points longest have the fewest.
        let n_lacking = self.after_fault.len().min(needed.saturating_sub(least));
        let (lacking, others) = self.after_fault.split_at(n_lacking);
        let together = have_points + others.iter().sum::<f64>();
        self.ready[self.n + least] += together * self.powers[least];
        if n_lacking > 0 {
            let last = self.n + needed;
            let there = self.ready[last + 1 - n_lacking..=last].iter_mut().rev();
            let powers = self.powers[needed + 1 - n_lacking..=needed].iter().rev();
            for ((ready, power), mass) in there.zip(powers).zip(lacking) {
                *ready += mass * power;
            }
        }
        let Some(mean) = self.mean.as_mut().filter(|_| self.n < self.first) else { return };
        mean.see(have_points * self.powers[least], self.n + least, self.n.max(self.first - 1));
        for (points, mass) in self.after_fault.iter().enumerate() {
            let ahead = least.max(needed - points);
            let has_points = self.n + needed - points;
            mean.see(mass * self.powers[ahead], self.n + ahead, has_points.max(self.first - 1));
        }
    }

    /// Those whose wait for fewer prompts ends with this draw.
    fn meet(&mut self) {
        if self.n < self.first {
            return;
        }
        let n_waits = self.waits.len();
        let begin = (self.n + 1).saturating_sub(n_waits).max(self.first);
        let ready = &self.ready[begin..=self.n];
        let waits = &self.waits[..ready.len()];
        self.met += backwards(ready, waits);
        if self.falls_by > 0.0 {
            let longest = self.n.checked_sub(n_waits - 1).filter(|from| *from >= self.first);
            // The last of the waits was counted just now; it is where the longer ones begin.
            self.met += self.long_waits;
            let begins = longest.map_or(0.0, |from| self.ready[from] * self.waits[n_waits - 1]);
            self.long_waits = (self.long_waits + begins) * self.falls_by;
        }
    }

    /// Mean number of draws until the rule is met, once the chain is at [`Chain::mean_from`]; without end where it is
    /// never met.
    pub(crate) fn mean_draws(&self) -> f64 {
        let Some(mean) = &self.mean else { return f64::NAN };
        if self.run == 0 {
            let at_fault = vec![0.0; self.after_fault.len()];
            let still_unseen = if self.unseen > 0.0 { self.unseen / self.clean } else { 0.0 };
            return self.n as f64 + self.walk.mean_to_come(&at_fault) + still_unseen;
        }
        // Draws of a run with all points that is ready after so many, up to its fault or its end, and the chance of its
        // fault; after a fault such runs follow one another until one is met.
        let draws =
            |ahead: usize| self.powers[..ahead].iter().sum::<f64>() + self.powers[ahead] * mean.waiting;
        let after_fault = draws(self.run) / (self.powers[self.run] * mean.met);
        let with_those_after = 1.0 + (1.0 - self.clean) * after_fault;
        let needed = self.walk.needed();
        let at_fault: Vec<f64> = (0..self.after_fault.len())
            .map(|points| {
                let left = needed - points;
                self.powers[left] * draws(self.run.saturating_sub(left)) * with_those_after
            })
            .collect();
        self.n as f64 + mean.runs * with_those_after + self.walk.mean_to_come(&at_fault)
    }

    /// The draw after which [`Chain::mean_draws`] can be asked for.
    pub(crate) fn mean_from(&self) -> usize {
        if self.run > 0 { self.first - 1 } else { self.first }
    }
}

impl Mean {
    /// A run that is ready with the chance given, and when, and from when on its draws count.
    fn see(&mut self, chance: f64, ready: usize, from: usize) {
        self.runs += chance * self.to_come[ready - from];
    }
}

/// The sum of products of the first of one with the last of the other and so on, four side by side: one after another,
/// each addition waits for the one before.
fn backwards(ready: &[f64], waits: &[f64]) -> f64 {
    let mut sums = [0.0; 4];
    let last = waits.len() % 4;
    let (rest, ready) = ready.split_at(last);
    let (fours, rest_of_waits) = waits.split_at(waits.len() - last);
    for (ready, waits) in ready.rchunks_exact(4).zip(fours.chunks_exact(4)) {
        for place in 0..4 {
            sums[place] += ready[3 - place] * waits[place];
        }
    }
    sums.iter().sum::<f64>()
        + rest.iter().rev().zip(rest_of_waits).map(|(ready, wait)| ready * wait).sum::<f64>()
}
