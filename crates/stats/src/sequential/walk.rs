//! A walk that goes up by one size or down by another, followed exactly until it leaves a band.
//!
//! After `age` steps with `ups` of them up the walk stands at `ups·up − (age − ups)·down`, whatever their order.
//! At one age only a handful of such places lie inside the band (its width divided by `up + down`), so the whole
//! distribution is a short vector pushed forward one step at a time. Nothing is rounded to a grid and no linear
//! system is solved; every term is positive, so nothing cancels. This is what makes two step sizes without a
//! common measure as exact as a lattice.

use crate::error::StatsError;

/// More steps than any chart in use needs before its walk has left the band; beyond, the answer is refused.
pub(crate) const MOST_STEPS: u64 = 20_000_000;

/// Places visited, over all steps, after which the answer is refused: some seconds of work.
pub(crate) const MOST_PLACES: u64 = 4_000_000_000;

/// The band and the two step sizes. The walk leaves at or below `lower` and at or above `upper`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Band {
    pub start: f64,
    pub up: f64,
    pub down: f64,
    pub lower: f64,
    pub upper: f64,
}

/// A place within this share of the band of one of its ends counts as there, so a tie such as three rises of 0.1
/// against a limit of 0.3 does not hang on the last bit.
const TIE: f64 = 1e-12;

impl Band {
    /// Where the walk stands after so many steps up and down.
    pub(crate) fn place(&self, ups: u64, downs: u64) -> f64 {
        self.start + ups as f64 * self.up - downs as f64 * self.down
    }

    /// Whether a place is at or above the upper end.
    pub(crate) fn is_above(&self, place: f64) -> bool {
        place >= self.upper - TIE * (self.upper - self.lower)
    }

    /// Whether a place is at or below the lower end.
    pub(crate) fn is_below(&self, place: f64) -> bool {
        place <= self.lower + TIE * (self.upper - self.lower)
    }
}

/// The probability that left at one step, and what is still inside after it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    pub left_below: f64,
    pub left_above: f64,
    pub inside: f64,
}

/// The distribution of the walk at one age.
pub(crate) struct Walk {
    band: Band,
    chance_up: f64,
    age: u64,
    /// The number of ups that `inside[0]` stands for.
    fewest_ups: u64,
    /// Probability by number of ups, ends trimmed to places inside the band.
    inside: Vec<f64>,
    n_places: u64,
}

impl Walk {
    /// Starts with all probability at `band.start`, which need not lie above `band.lower`: the ends are looked at
    /// after the first step.
    pub(crate) fn new(band: Band, chance_up: f64) -> Self {
        let places = (band.upper - band.lower) / (band.up + band.down);
        // Room for the widest vector of any chart in use, so a step does not allocate.
        let mut inside = Vec::with_capacity(places.min(1e5) as usize + 4);
        inside.push(1.0);
        Self { band, chance_up, age: 0, fewest_ups: 0, inside, n_places: 0 }
    }

    /// Whether the walk has taken more work than a chart in use ever needs.
    pub(crate) fn is_too_long(&self) -> bool {
        self.age > MOST_STEPS || self.n_places > MOST_PLACES
    }

    fn place(&self, ups: u64) -> f64 {
        self.band.place(ups, self.age - ups)
    }

    /// Takes one step and says what left and what stayed.
    pub(crate) fn step(&mut self) -> Step {
        self.age += 1;
        let (rise, fall) = (self.chance_up, 1.0 - self.chance_up);
        let mut below_neighbour = 0.0;
        for probability in &mut self.inside {
            let here = *probability;
            *probability = here * fall + below_neighbour * rise;
            below_neighbour = here;
        }
        self.inside.push(below_neighbour * rise);

        let mut left_above = 0.0;
        while let Some(&last) = self.inside.last() {
            let ups = self.fewest_ups + self.inside.len() as u64 - 1;
            if !self.band.is_above(self.place(ups)) {
                break;
            }
            left_above += last;
            self.inside.pop();
        }
        let mut n_below = 0;
        let mut left_below = 0.0;
        while n_below < self.inside.len() && self.band.is_below(self.place(self.fewest_ups + n_below as u64))
        {
            left_below += self.inside[n_below];
            n_below += 1;
        }
        self.inside.drain(..n_below);
        self.fewest_ups += n_below as u64;
        self.n_places += self.inside.len() as u64;
        Step { left_below, left_above, inside: self.inside.iter().sum() }
    }
}

/// What one cycle of a chart does: from its start until it is back at zero or signals.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct CycleTotals {
    /// Probability of ending above.
    pub above: f64,
    /// Probability of ending below.
    pub below: f64,
    /// Mean number of steps, E\[T\].
    pub mean_steps: f64,
    /// E\[T²\].
    pub mean_square_steps: f64,
    /// E\[T; ends below\].
    pub mean_steps_below: f64,
}

/// Follows a cycle to its end, giving each step to `visit`.
///
/// Stops when what is still inside is below 1e-18 of what has left above, so the truncation is below rounding.
pub(crate) fn follow(
    band: Band,
    chance_up: f64,
    mut visit: impl FnMut(Step),
) -> Result<CycleTotals, StatsError> {
    let mut walk = Walk::new(band, chance_up);
    // The step 0 term of E[T] = sum of P(T > t).
    let mut totals = CycleTotals { mean_steps: 1.0, mean_square_steps: 1.0, ..CycleTotals::default() };
    loop {
        let step = walk.step();
        let steps = walk.age as f64;
        totals.above += step.left_above;
        totals.below += step.left_below;
        totals.mean_steps += step.inside;
        totals.mean_square_steps += (2.0 * steps + 1.0) * step.inside;
        totals.mean_steps_below += steps * step.left_below;
        visit(step);
        if step.inside <= 1e-18 * totals.above || step.inside == 0.0 {
            return Ok(totals);
        }
        if walk.is_too_long() {
            return Err(StatsError::DidNotSettle {
                what: "the run length",
                steps: walk.age as usize,
                last: step.inside,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Feller 1968, An Introduction to Probability Theory vol. 1, XIV.2-3, gambler's ruin (from memory): unit
    /// steps, start z, ends 0 and a: ruin q = ((q/p)^a − (q/p)^z) / ((q/p)^a − 1), duration
    /// z/(q−p) − a/(q−p)·(1 − (q/p)^z)/(1 − (q/p)^a).
    #[test]
    fn unit_steps_are_the_gamblers_ruin() {
        for (p, z, a) in [(0.45, 3.0, 10.0), (0.6, 1.0, 7.0), (0.3, 9.0, 12.0)] {
            let band = Band { start: z, up: 1.0, down: 1.0, lower: 0.0, upper: a };
            let totals = follow(band, p, |_| ()).unwrap();
            let q: f64 = 1.0 - p;
            let r = |power: f64| libm::pow(q / p, power);
            let ruin = (r(a) - r(z)) / (r(a) - 1.0);
            let duration = z / (q - p) - a / (q - p) * (1.0 - r(z)) / (1.0 - r(a));
            assert!((totals.below - ruin).abs() < 1e-13, "{p} {z} {a}: {} {ruin}", totals.below);
            assert!((totals.above + totals.below - 1.0).abs() < 1e-13);
            assert!((totals.mean_steps / duration - 1.0).abs() < 1e-12, "{} {duration}", totals.mean_steps);
        }
    }

    /// With a fair coin the same chapter gives duration z(a − z).
    #[test]
    fn a_fair_coin_takes_z_times_the_rest() {
        let band = Band { start: 4.0, up: 1.0, down: 1.0, lower: 0.0, upper: 9.0 };
        let totals = follow(band, 0.5, |_| ()).unwrap();
        assert!((totals.mean_steps - 20.0).abs() < 1e-11, "{}", totals.mean_steps);
        assert!((totals.above - 4.0 / 9.0).abs() < 1e-13);
    }
}
