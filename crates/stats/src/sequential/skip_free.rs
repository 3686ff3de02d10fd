//! The mean run length of a chart that falls one step at a time and rises by a whole number of steps.
//!
//! Such a sum cannot come down past a place without standing on it, so the way down is a chain of descents of one
//! step each, and each follows from those above it. The places are taken once, from the limit down: no linear system
//! is solved and no cycle is followed to its end. Nothing is subtracted, so nothing cancels, however rare a signal.

/// The mean number of observations until a sum that starts at `start` stands `n_places` steps up or higher.
///
/// An observation adds `rise` steps with chance `chance_up` and takes one away otherwise, never below 0. `rise` and
/// `n_places` are at least 1, `start` is below `n_places`, `chance_up` is above 0. Room for `rise` places is taken, at
/// most `n_places`. Infinite where the chance of a signal is below the smallest double.
pub(crate) fn mean_run_length(rise: usize, n_places: usize, start: usize, chance_up: f64) -> f64 {
    // A rise from a place is undone by the `rise` descents right above it. They are taken in blocks of that many: of
    // the block before, `block[index..]` holds what it still adds, joined down to its lowest place; of the block in
    // work, `joined` holds all of it. So each place costs the same, however many descents lie above it.
    let width = rise.min(n_places);
    let mut block = vec![Descent::SIGNAL; width];
    let mut index = 0;
    let mut joined = Descent::NONE;
    let mut from_start = Descent::NONE;
    for place in (1..n_places).rev() {
        let descent = Descent::of_one_step(block[index].then(joined), chance_up);
        if place <= start {
            from_start = from_start.then(descent);
        }
        block[index] = descent;
        joined = joined.then(descent);
        index += 1;
        if index == width {
            for upper in (0..width - 1).rev() {
                block[upper] = block[upper].then(block[upper + 1]);
            }
            (index, joined) = (0, Descent::NONE);
        }
    }
    // At 0 the sum stays where it is instead of falling, so it leaves by a signal alone.
    let back = block[index].then(joined);
    let from_zero = (1.0 + chance_up * back.steps) / (chance_up * back.signal);
    from_start.steps + from_start.arrival * from_zero
}

/// A way down: it ends at a lower place or in a signal.
#[derive(Debug, Clone, Copy)]
struct Descent {
    /// Chance that it ends in a signal.
    signal: f64,
    /// Chance that it ends at the lower place, carried beside its complement so that neither loses digits.
    arrival: f64,
    /// Mean number of observations, wherever it ends.
    steps: f64,
}

impl Descent {
    /// From a place to itself.
    const NONE: Self = Self { signal: 0.0, arrival: 1.0, steps: 0.0 };

    /// From the limit or above.
    const SIGNAL: Self = Self { signal: 1.0, arrival: 0.0, steps: 0.0 };

    /// From a place to the next one below, when a rise is undone by `back`: x = 1 − chance + chance·back·x, solved.
    fn of_one_step(back: Self, chance_up: f64) -> Self {
        let fall = 1.0 - chance_up;
        let signal = chance_up * back.signal;
        let not_back = 1.0 / (fall + signal);
        Self {
            signal: signal * not_back,
            arrival: fall * not_back,
            steps: (1.0 + chance_up * back.steps) * not_back,
        }
    }

    /// This way down and then another, from where it ends.
    fn then(self, next: Self) -> Self {
        Self {
            signal: self.signal + self.arrival * next.signal,
            arrival: self.arrival * next.arrival,
            steps: self.steps + self.arrival * next.steps,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::mean_run_length;
    use crate::sequential::walk::{Band, follow};

    fn near(found: f64, wanted: f64) {
        assert!((found / wanted - 1.0).abs() < 1e-13, "{found} {wanted}");
    }

    /// With D_i the mean time from i to i + 1, D_0 = 1/p and D_i = 1/p + D_(i−1)·q/p (Feller 1968, An Introduction to
    /// Probability Theory vol. 1, XIV.3, with 0 holding; from memory).
    #[test]
    fn unit_rises_have_their_known_mean() {
        near(mean_run_length(1, 9, 0, 0.5), 90.0);
        near(mean_run_length(1, 9, 4, 0.5), 90.0 - 20.0);
        for p in [1e-3, 0.2, 0.7, 1.0] {
            let (mut next, mut total) = (0.0, 0.0);
            for _ in 0..12 {
                next = 1.0 / p + next * (1.0 - p) / p;
                total += next;
            }
            near(mean_run_length(1, 12, 0, p), total);
        }
    }

    /// A rise past the limit at once is a wait for the first event.
    #[test]
    fn one_event_signals() {
        near(mean_run_length(usize::MAX, 7, 0, 0.01), 100.0);
        near(mean_run_length(7, 7, 6, 0.01), 100.0);
    }

    #[test]
    fn descents_agree_with_cycles_followed_to_their_end() {
        for (rise, n_places, start, p) in
            [(2, 4, 0, 0.2), (3, 50, 11, 0.2), (69, 280, 69, 0.01), (22, 92, 91, 0.05), (9, 40, 1, 0.3)]
        {
            let band = |start| Band {
                start,
                up: f64::from(rise),
                down: 1.0,
                lower: 0.0,
                upper: f64::from(n_places),
            };
            let again = follow(band(0.0), p, |_| ()).unwrap();
            let mut wanted = again.mean_steps / again.above;
            if start > 0 {
                let first = follow(band(f64::from(start)), p, |_| ()).unwrap();
                wanted = first.mean_steps + first.below * wanted;
            }
            near(mean_run_length(rise as usize, n_places as usize, start as usize, p), wanted);
        }
    }
}
