//! Exact lower bounds of several proportions side by side.
//!
//! The bound at x events and y non-events is the p at which x events or more have a small probability α: the α
//! point of Beta(x, y + 1). Three steps, the same number of operations for every lane:
//!
//! 1. a first guess, Abramowitz and Stegun 1964, 26.5.22;
//! 2. a step that needs no tail area: the signed root of the deviance, corrected as in Barndorff-Nielsen 1986,
//!    Biometrika 73:307, is within a few thousandths of a normal deviate, so it is moved onto the normal point;
//! 3. one tail area, by the continued fraction of Didonato and Morris 1992, ACM Trans Math Softw 18:360, equation 9,
//!    and the Taylor series of the bound as a function of its normal deviate, to the sixth order.
//!
//! Step 3 says how far it moved and how well the fraction had settled. A lane where either is more than was proved
//! by comparison is left to the slower search that serves all cases.

use fearless_simd::{Level, Select, Simd, SimdBase, SimdFloat, dispatch};

use crate::dist::beta_lanes::Fraction;
use crate::dist::lanes::{Lanes, exp, ln_1p, polynomial, stirling_errors};
use crate::value::{ConfidenceLevel, Proportion};

/// No processor holds more numbers side by side.
const MOST_LANES: usize = 8;

/// Terms of the continued fraction. With the remainder estimated, they settle it where the counts are below some
/// thousands and the level is 90 % or more.
const TERMS: u32 = 24;

/// How far, relatively, the last term of the fraction may have moved it: the estimate of the remainder leaves less
/// than a hundredth of it, and the bound moves by less than that again. At this limit it is within 3e-15.
const MOST_UNSETTLED: f64 = 1e-10;

/// The farthest move of the last step in normal deviates, times the normal point: at this limit the term left out
/// is about 1e-14 of the bound.
const FARTHEST: f64 = 0.012;

/// The normal points, nearest and farthest, between which bounds were compared with the slower search: levels from
/// 0.383 to 0.99993.
const NEAREST_POINT: f64 = 0.5;
const FARTHEST_POINT: f64 = 4.0;

/// The lower and the upper bound of one proportion; NaN in place of a bound that takes the slower search. The two are
/// worked side by side, which every processor can.
pub(super) fn bounds_of_one(proportion: Proportion, level: ConfidenceLevel) -> (f64, f64) {
    let Some(tail) = Tail::new(level) else { return (f64::NAN, f64::NAN) };
    dispatch!(Level::baseline(), s => one(s, &tail, proportion))
}

/// The same for a column of proportions, on as many lanes as this processor has; one place for each bound.
pub(super) fn bounds_of_each(
    proportions: &[Proportion],
    level: ConfidenceLevel,
    lower: &mut [f64],
    upper: &mut [f64],
) {
    let Some(tail) = Tail::new(level) else {
        lower.fill(f64::NAN);
        upper.fill(f64::NAN);
        return;
    };
    dispatch!(Level::new(), s => each(s, &tail, proportions, lower, upper));
}

#[inline(always)]
fn one<S: Simd>(s: S, tail: &Tail, proportion: Proportion) -> (f64, f64) {
    let mut counts = [[proportion.events(); MOST_LANES], [proportion.non_events(); MOST_LANES]];
    for lane in (1..MOST_LANES).step_by(2) {
        (counts[0][lane], counts[1][lane]) = (counts[1][lane], counts[0][lane]);
    }
    let counts = Counts::new(s, &counts[0], &counts[1], &[proportion.trials(); MOST_LANES]);
    let found = lower_bounds(s, tail, &counts);
    (
        found.trusted(s, tail, found.bound).as_slice()[0],
        found.trusted(s, tail, found.complement).as_slice()[1],
    )
}

#[inline(always)]
fn each<S: Simd>(s: S, tail: &Tail, proportions: &[Proportion], lower: &mut [f64], upper: &mut [f64]) {
    let lanes = Lanes::<S>::LEN;
    let places = lower.chunks_mut(lanes).zip(upper.chunks_mut(lanes));
    for (group, (lower, upper)) in proportions.chunks(lanes).zip(places) {
        let mut counts = [[1; MOST_LANES], [1; MOST_LANES], [2; MOST_LANES]];
        for (lane, proportion) in group.iter().enumerate().take(MOST_LANES) {
            counts[0][lane] = proportion.events();
            counts[1][lane] = proportion.non_events();
            counts[2][lane] = proportion.trials();
        }
        let counts = Counts::new(s, &counts[0], &counts[1], &counts[2]);
        let (found, exchanged) = both_bounds(s, tail, &counts);
        lower.copy_from_slice(&found.trusted(s, tail, found.bound).as_slice()[..group.len()]);
        upper.copy_from_slice(&exchanged.trusted(s, tail, exchanged.complement).as_slice()[..group.len()]);
    }
}

/// What the bounds of a page share: the tail area and what follows from its normal point.
struct Tail {
    area: f64,
    z: f64,
    density: f64,
    inverse_density: f64,
    lambda: f64,
    /// The normal deviate around −z as a series in (area − α) / density; the constant is 0.
    rise: [f64; 7],
}

impl Tail {
    /// None where the normal point is so near the middle, or so far out, that no comparison covers it.
    fn new(level: ConfidenceLevel) -> Option<Self> {
        let z = level.z();
        if !(NEAREST_POINT..FARTHEST_POINT).contains(&z) {
            return None;
        }
        let y = -z;
        let square = z * z;
        let density = libm::exp(-0.5 * square) / (2.0 * std::f64::consts::PI).sqrt();
        Some(Self {
            area: level.tail(),
            z,
            density,
            inverse_density: 1.0 / density,
            lambda: (square - 3.0) / 6.0,
            // Derivatives of the normal quantile, each from the one before by the chain rule.
            rise: [
                0.0,
                1.0,
                y / 2.0,
                (1.0 + 2.0 * square) / 6.0,
                y * (7.0 + 6.0 * square) / 24.0,
                (7.0 + square * (46.0 + 24.0 * square)) / 120.0,
                y * (127.0 + square * (326.0 + 120.0 * square)) / 720.0,
            ],
        })
    }
}

/// Counts side by side, with what the lower and the upper bound share.
struct Counts<S: Simd> {
    x: Lanes<S>,
    y: Lanes<S>,
    inverse_x: Lanes<S>,
    inverse_y: Lanes<S>,
    /// The binomial probability of x at p = x / n: √(n / (2π x y)), times e to what Stirling's formula leaves out.
    root: Lanes<S>,
    stirling: Lanes<S>,
}

impl<S: Simd> Counts<S> {
    /// As many events and non-events as there are lanes. A count of 0 is taken as 1: that bound is found elsewhere.
    #[inline(always)]
    fn new(s: S, events: &[u64], non_events: &[u64], trials: &[u64]) -> Self {
        let (x, y, n) = (at_least_one(s, events), at_least_one(s, non_events), at_least_one(s, trials));
        let both = Lanes::<S>::splat(s, 1.0) / (x * y);
        Self {
            x,
            y,
            inverse_x: y * both,
            inverse_y: x * both,
            root: (n * both * (0.5 / std::f64::consts::PI)).sqrt(),
            stirling: stirling_errors(s, trials)
                - (stirling_errors(s, events) + stirling_errors(s, non_events)),
        }
    }

    /// Events and non-events exchanged.
    #[inline(always)]
    fn exchanged(&self) -> Self {
        Self {
            x: self.y,
            y: self.x,
            inverse_x: self.inverse_y,
            inverse_y: self.inverse_x,
            root: self.root,
            stirling: self.stirling,
        }
    }
}

#[inline(always)]
fn at_least_one<S: Simd>(s: S, counts: &[u64]) -> Lanes<S> {
    Lanes::<S>::from_fn(
        s,
        #[inline(always)]
        |lane| counts[lane] as f64,
    )
    .max(1.0)
}

/// A bound, one minus it (each with all its digits), and how it was reached.
struct Found<S: Simd> {
    bound: Lanes<S>,
    complement: Lanes<S>,
    /// How far the last step moved, in normal deviates.
    moved: Lanes<S>,
    /// How far the last term moved the continued fraction, relatively.
    unsettled: Lanes<S>,
}

impl<S: Simd> Found<S> {
    /// The values, with NaN in the lanes that no comparison covers.
    #[inline(always)]
    fn trusted(&self, s: S, tail: &Tail, values: Lanes<S>) -> Lanes<S> {
        let trusted = (self.moved * tail.z).simd_lt(FARTHEST) & self.unsettled.simd_lt(MOST_UNSETTLED);
        trusted.select(values, Lanes::<S>::splat(s, f64::NAN))
    }
}

/// p and 1 − p, of which the smaller has all its digits.
#[derive(Clone, Copy)]
struct Place<S: Simd> {
    p: Lanes<S>,
    q: Lanes<S>,
}

impl<S: Simd> Place<S> {
    /// p moved up by `change`: worked on the smaller side, so that it keeps its digits.
    #[inline(always)]
    fn moved(self, s: S, change: Lanes<S>) -> Self {
        let low = self.p.simd_lt(self.q);
        let small = low.select(self.p + change, self.q - change);
        let large = Lanes::<S>::splat(s, 1.0) - small;
        Self { p: low.select(small, large), q: low.select(large, small) }
    }
}

/// The lower bounds.
#[inline(always)]
fn lower_bounds<S: Simd>(s: S, tail: &Tail, counts: &Counts<S>) -> Found<S> {
    let (near, mut fraction) = begin(s, tail, counts);
    for _ in 0..TERMS {
        fraction.take_term();
    }
    finish(s, tail, near, fraction)
}

/// The lower bounds, and those with events and non-events exchanged, which are one minus the upper bounds. Worked
/// together, so that one need not wait for another's divisions.
#[inline(always)]
fn both_bounds<S: Simd>(s: S, tail: &Tail, counts: &Counts<S>) -> (Found<S>, Found<S>) {
    let (near, mut fraction) = begin(s, tail, counts);
    let (exchanged_near, mut exchanged_fraction) = begin(s, tail, &counts.exchanged());
    for _ in 0..TERMS {
        fraction.take_term();
        exchanged_fraction.take_term();
    }
    (finish(s, tail, near, fraction), finish(s, tail, exchanged_near, exchanged_fraction))
}

/// A place near the bound, with the shapes of the beta distribution and the leading factor of its lower tail there.
#[derive(Clone, Copy)]
struct Near<S: Simd> {
    a: Lanes<S>,
    b: Lanes<S>,
    at: Place<S>,
    leading: Lanes<S>,
}

#[inline(always)]
fn begin<S: Simd>(s: S, tail: &Tail, counts: &Counts<S>) -> (Near<S>, Fraction<S>) {
    let (a, b) = (counts.x, counts.y + 1.0);
    let at = step_by_deviance(s, tail, a, b, guess(s, tail, a, b));
    // x q times the binomial probability of x is the leading factor of the tail.
    let d = counts.x * at.q - counts.y * at.p;
    let log = counts.x * ln_1p::<S, 10>(s, -(d * counts.inverse_x))
        + counts.y * ln_1p::<S, 10>(s, d * counts.inverse_y);
    let leading = counts.x * at.q * counts.root * exp::<S, 14>(s, counts.stirling + log);
    (Near { a, b, at, leading }, Fraction::new(s, (a, counts.inverse_x), b, (at.p, at.q)))
}

#[inline(always)]
fn finish<S: Simd>(s: S, tail: &Tail, near: Near<S>, fraction: Fraction<S>) -> Found<S> {
    let (inverse, unsettled) = fraction.inverse();
    let (place, moved) = step_by_area(s, tail, near, near.leading * inverse);
    Found { bound: place.p, complement: place.q, moved, unsettled }
}

/// Abramowitz and Stegun 26.5.22: for 2 events or more within a few hundredths of a normal deviate.
#[inline(always)]
fn guess<S: Simd>(s: S, tail: &Tail, a: Lanes<S>, b: Lanes<S>) -> Place<S> {
    let one = Lanes::<S>::splat(s, 1.0);
    let (twice_a, twice_b) = (a + a - 1.0, b + b - 1.0);
    let both = one / (twice_a * twice_b);
    // 1/h of the book: half the sum of both inverses.
    let inverse_h = (a + b - 1.0) * both;
    let w = (inverse_h * (inverse_h * tail.lambda + 1.0)).sqrt() * tail.z
        - (twice_a - twice_b) * both * (-(inverse_h * (2.0 / 3.0)) + (tail.lambda + 5.0 / 6.0));
    let odds_against = b * exp::<S, 7>(s, w + w);
    let share = one / (a + odds_against);
    Place { p: a * share, q: odds_against * share }
}

/// Moves the corrected signed root of the deviance onto the normal point, by its slope and its bend.
#[inline(always)]
fn step_by_deviance<S: Simd>(s: S, tail: &Tail, a: Lanes<S>, b: Lanes<S>, at: Place<S>) -> Place<S> {
    let both = Lanes::<S>::splat(s, 1.0) / (a * b);
    let d = a * at.q - b * at.p;
    let log = a * ln_1p::<S, 5>(s, -(d * (b * both))) + b * ln_1p::<S, 5>(s, d * (a * both));
    let deviance = -(log + log);
    // ln of the ratio of the standardised distance squared to the deviance, by artanh.
    let distance = d * d * ((a + b) * both);
    let ratio = (distance - deviance) / (distance + deviance);
    let log_ratio = ratio * polynomial(s, ratio * ratio, &[1.0, 1.0 / 3.0, 1.0 / 5.0, 1.0 / 7.0]);
    let root = deviance.sqrt();
    // The point lies at −(root + log_ratio / root).
    let change = root + log_ratio / root - tail.z;
    let slope = root / d;
    let bend = root - ((a - 1.0) * at.q - (b - 1.0) * at.p) * slope;
    at.moved(s, at.p * at.q * slope * change * (bend * change * 0.5 + 1.0))
}

/// From the tail area at a place near the bound to the bound: the normal deviate of the area by its series, then
/// the bound by the Taylor series of p over the deviate.
#[inline(always)]
fn step_by_area<S: Simd>(s: S, tail: &Tail, near: Near<S>, area: Lanes<S>) -> (Place<S>, Lanes<S>) {
    let Near { a, b, at: Place { p, q }, leading } = near;
    let rise = polynomial(s, (area - tail.area) * tail.inverse_density, &tail.rise);
    let deviate = rise - tail.z;
    // The normal density at the deviate, as a multiple of that at −z.
    let exponent = rise * (rise * -0.5 + tail.z);
    let density = polynomial(s, exponent, &[1.0, 1.0, 0.5, 1.0 / 6.0, 1.0 / 24.0]) * tail.density;
    let per_leading = density / leading;
    // dp/dz is p q × per_leading. With g = d ln(density of the beta)/dp, these are g, g′, g″ and g‴ times the first
    // to fourth power of dp/dz.
    let (a1, b1) = (a - 1.0, b - 1.0);
    let (kq, kp) = (q * per_leading, p * per_leading);
    let (mut of_a, mut of_b) = (a1 * kq, b1 * kp);
    let g1 = of_a - of_b;
    (of_a, of_b) = (of_a * kq, of_b * kp);
    let g2 = -(of_a + of_b);
    (of_a, of_b) = (of_a * kq, of_b * kp);
    let g3 = (of_a - of_b) * 2.0;
    let g4 = (of_a * kq + of_b * kp) * -6.0;
    // d ln(dp/dz)/dz and its derivatives.
    let k0 = -(deviate + g1);
    let k0_square = k0 * k0;
    let k1 = -(g2 + g1 * k0 + 1.0);
    let k2 = -(g3 + g2 * k0 * 3.0 + g1 * (k0_square + k1));
    let third = k0 * (k0_square + k1 * 3.0) + k2;
    let k3 = -(g4 + g3 * k0 * 6.0 + g2 * (k0_square * 7.0 + k1 * 4.0) + g1 * third);
    let fourth = k0_square * (k0_square + k1 * 6.0) + k1 * k1 * 3.0 + k0 * k2 * 4.0 + k3;
    let back = -rise;
    let series = back
        * (k0 * 0.5
            + back
                * ((k0_square + k1) * (1.0 / 6.0)
                    + back * (third * (1.0 / 24.0) + back * fourth * (1.0 / 120.0))))
        + 1.0;
    (near.at.moved(s, p * kq * back * series), rise.abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dist::{beta_quantile, beta_upper_quantile};
    use crate::value::LARGEST_COUNT;

    fn level(value: f64) -> ConfidenceLevel {
        ConfidenceLevel::new(value).unwrap()
    }

    /// All of up to 40 trials, then sizes up to the largest and shares from rare to common.
    fn many() -> Vec<Proportion> {
        let small = (4..=40).flat_map(|n| (2..n - 1).map(move |x| (x, n)));
        let sizes = [57, 100, 333, 1_000, 1_999, 2_000, 10_007, 1_000_000, LARGEST_COUNT];
        let large = sizes.iter().flat_map(|&n| {
            let some = [2, 3, 5, 9, 16, 40, n / 50, n / 10, n / 3, n / 2].into_iter();
            some.filter(move |&x| x > 1 && x < n / 2).flat_map(move |x| [(x, n), (n - x, n)])
        });
        small.chain(large).map(|(x, n)| Proportion::new(x, n).unwrap()).collect()
    }

    #[test]
    fn every_lane_agrees_with_the_slower_search() {
        for at in [0.4, 0.683, 0.8, 0.9, 0.95, 0.99, 0.999, 0.9999] {
            for proportion in many() {
                let (x, n) = (proportion.events() as f64, proportion.trials() as f64);
                let (lower, upper) = bounds_of_one(proportion, level(at));
                let tail = level(at).tail();
                let slower = [beta_quantile(x, n - x + 1.0, tail), beta_upper_quantile(x + 1.0, n - x, tail)];
                for (found, wanted) in [lower, upper].into_iter().zip(slower) {
                    let off = (found / wanted - 1.0).abs();
                    assert!(found.is_nan() || off < 3e-14, "{x} of {n} at {at}: {found} {wanted} {off:.1e}");
                }
            }
        }
    }

    #[test]
    fn the_usual_levels_and_counts_are_not_left_to_the_slower_search() {
        for at in [0.9, 0.95, 0.99] {
            for proportion in many().into_iter().filter(|p| (5..=2_000).contains(&p.trials())) {
                let (lower, upper) = bounds_of_one(proportion, level(at));
                let (x, y) = (proportion.events(), proportion.non_events());
                // Two of five and less at 99 % are the hardest.
                let hard = x.min(y) <= 3 && x.max(y) <= 6;
                assert!(
                    hard || lower.is_finite() && upper.is_finite(),
                    "{proportion:?} at {at}: {lower} {upper}"
                );
            }
        }
        // At both ends of the levels nothing is claimed.
        let middle = Proportion::new(20, 40).unwrap();
        for at in [1e-12, 0.2, 0.999_99, 1.0 - 1e-12] {
            assert!(bounds_of_one(middle, level(at)).0.is_nan(), "{at}");
        }
    }

    #[test]
    fn the_digits_do_not_depend_on_the_processor() {
        let proportions = many();
        let tail = Tail::new(ConfidenceLevel::default()).unwrap();
        let column = |on: Level| {
            let (mut lower, mut upper) = (vec![0.0; proportions.len()], vec![0.0; proportions.len()]);
            dispatch!(on, s => each(s, &tail, &proportions, &mut lower, &mut upper));
            [lower, upper].concat().into_iter().map(f64::to_bits).collect::<Vec<_>>()
        };
        let widest = column(Level::new());
        assert!(widest == column(Level::baseline()));
        #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
        {
            let has = Level::new();
            let narrower = [has.as_sse4_2().map(|sse| sse.level()), has.as_avx2().map(|avx| avx.level())];
            assert!(narrower.into_iter().flatten().all(|level| widest == column(level)));
        }
        let one_by_one = proportions.iter().map(|&p| bounds_of_one(p, ConfidenceLevel::default()));
        let (lower, upper): (Vec<u64>, Vec<u64>) =
            one_by_one.map(|(l, u)| (l.to_bits(), u.to_bits())).unzip();
        assert!(widest == [lower, upper].concat());
    }
}
