//! The funnel: limits that narrow as trials grow, and how much they must be widened.

use crate::dist::{binomial_cdf, binomial_pmf, binomial_quantile, binomial_sf, chi_squared_sf, two_sided_z};
use crate::error::{StatsError, positive, within};
use crate::value::{ConfidenceLevel, Interval, Probability, Proportion};

/// How funnel limits are found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum FunnelMethod {
    /// The binomial distribution, interpolated between counts so that the line is smooth.
    #[default]
    Exact,
    /// The normal approximation: too low at few trials.
    Normal,
}

/// The limits between which a person's proportion lies by chance, if the true one is the target.
///
/// # Formula
///
/// Normal: θ ± z √(θ(1 − θ)/n). Exact: with r the smallest count that has F(r) ≥ q, α = (F(r) − q)/(F(r) −
/// F(r − 1)), the limit is (r − α)/n, at q = (1 − level)/2 and 1 − q. Over-dispersion: each limit stands √φ
/// times as far from θ.
///
/// # Range
///
/// Target strictly between 0 and 1; trials from 1; level usually 0.95 and 0.998; widening √φ from 1. Limits
/// are proportions 0 to 1.
///
/// # Ends
///
/// A limit past 0 or 1 is held there. At n = 1 the limits are nearly 0 and 1.
///
/// # Source
///
/// Spiegelhalter 2005, Stat Med 24:1185, section 2.2 and appendix (formula of the interpolation from memory);
/// over-dispersion: section 3.
///
/// # Check
///
/// A table at θ = .03 for n 50 to 1000 computed with scipy; at 50 trials the normal 99.8 % line is .1046
/// where the exact one is .1181.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Probability, people::{FunnelMethod, funnel_limits}};
/// // √(0.1 × 0.9 / 100) = 0.03: 0.1 ± 1.96 × 0.03.
/// let limits =
///     funnel_limits(Probability::new(0.1)?, 100, ConfidenceLevel::default(), FunnelMethod::Normal, 1.0)?;
/// assert_eq!(format!("{:.4} to {:.4}", limits.lower(), limits.upper()), "0.0412 to 0.1588");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn funnel_limits(
    target: Probability,
    trials: u64,
    level: ConfidenceLevel,
    method: FunnelMethod,
    widening: f64,
) -> Result<Interval, StatsError> {
    let theta = target.interior("target")?;
    let widening = within("widening of the funnel", widening, 1.0, f64::MAX)?;
    if trials == 0 {
        return Err(StatsError::NoTrials);
    }
    let (lower, upper) = raw_limits(theta, trials, level, method);
    let widened = |limit: f64| (theta + widening * (limit - theta)).clamp(0.0, 1.0);
    Ok(Interval::of(widened(lower), widened(upper), level))
}

/// Limits before they are held within 0 to 1.
fn raw_limits(theta: f64, trials: u64, level: ConfidenceLevel, method: FunnelMethod) -> (f64, f64) {
    let n = trials as f64;
    match method {
        FunnelMethod::Normal => {
            let width = two_sided_z(level) * (theta * (1.0 - theta) / n).sqrt();
            (theta - width, theta + width)
        }
        FunnelMethod::Exact => {
            let tail = level.tail();
            // The upper limit through non-events, so that the small tail is worked and not one minus it.
            let lower = interpolated_count(tail, trials, theta);
            let q = 1.0 - tail;
            let r = binomial_quantile(q, trials, theta);
            let excess = (tail - binomial_sf(r, trials, theta)) / binomial_pmf(r, trials, theta);
            (lower / n, (r as f64 - excess.clamp(0.0, 1.0)) / n)
        }
    }
}

fn interpolated_count(q: f64, trials: u64, theta: f64) -> f64 {
    let r = binomial_quantile(q, trials, theta);
    let alpha = (binomial_cdf(r, trials, theta) - q) / binomial_pmf(r, trials, theta);
    r as f64 - alpha.clamp(0.0, 1.0)
}

/// What the funnel is centred on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FunnelCentre {
    /// All events over all trials of the people themselves.
    Pooled,
    /// A target from outside.
    Given(Probability),
}

/// How much more the people vary than chance alone.
#[derive(Debug, Clone, PartialEq)]
pub struct OverDispersion {
    /// The centre used.
    pub centre: Probability,
    /// Each person's distance from the centre in standard errors, in the order given.
    pub z: Vec<f64>,
    /// The mean of z²: 1 when chance explains all.
    pub phi: f64,
    /// The sum of z².
    pub chi_squared: f64,
    /// Its degrees of freedom: people, less 1 when the centre is their own.
    pub degrees: usize,
    /// The chance of such a sum or a larger one if chance explains all.
    pub p_value: Probability,
    /// The mean of z² after the extremes were drawn in.
    pub phi_winsorised: f64,
    /// What to multiply the width of the funnel with: √ of the winsorised φ where it exceeds 1 and the
    /// p-value is below 0.05, 1 otherwise.
    pub widening: f64,
}

/// Whether people differ by more than chance, so that a funnel of chance alone would accuse too many.
///
/// # Formula
///
/// z = (x/n − θ)/√(θ(1 − θ)/n); φ = Σz²/k; χ² = Σz². Winsorising: z below the share's quantile is set to it,
/// and above 1 − share likewise (quantiles interpolated between order statistics, type 7), then φ again.
///
/// # Range
///
/// Two people or more, trials from 1; share winsorised on each side 0 to below 0.5, usually 0.1.
///
/// # Ends
///
/// All 0 of n or all n of n with a pooled centre is refused: there is no spread.
///
/// # Source
///
/// Spiegelhalter 2005, Stat Med 24:1185, section 3 (winsorising from memory).
///
/// # Check
///
/// A worked case of ten people computed with numpy and scipy: φ 1.458925, χ² 14.58925, p .102854, winsorised
/// φ 1.175200; numpy on 200 random inputs.
///
/// # Example
///
/// ```
/// use stats::{Probability, Proportion, people::{FunnelCentre, over_dispersion}};
/// // θ = 0.5, n = 100: 60 and 40 are two standard errors away, so φ = 4.
/// let people = [Proportion::new(60, 100)?, Proportion::new(40, 100)?];
/// let found = over_dispersion(&people, FunnelCentre::Given(Probability::new(0.5)?), 0.0)?;
/// assert!((found.phi - 4.0).abs() < 1e-12 && found.degrees == 2);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn over_dispersion(
    people: &[Proportion],
    centre: FunnelCentre,
    winsorised_share: f64,
) -> Result<OverDispersion, StatsError> {
    let share = within("share winsorised", winsorised_share, 0.0, 0.499)?;
    if people.len() < 2 {
        return Err(StatsError::TooFew { what: "people", found: people.len(), needed: 2 });
    }
    let (theta, degrees) = match centre {
        FunnelCentre::Pooled => (pooled(people)?, people.len() - 1),
        FunnelCentre::Given(target) => (target.interior("target")?, people.len()),
    };
    let z: Vec<f64> = people
        .iter()
        .map(|person| (person.estimate() - theta) / (theta * (1.0 - theta) / person.trials() as f64).sqrt())
        .collect();
    let k = people.len() as f64;
    let chi_squared: f64 = z.iter().map(|z| z * z).sum();
    let p_value = chi_squared_sf(chi_squared, degrees as f64);
    let mut sorted = z.clone();
    sorted.sort_by(f64::total_cmp);
    let (low, high) = (quantile(&sorted, share), quantile(&sorted, 1.0 - share));
    let phi_winsorised = z.iter().map(|z| z.clamp(low, high).powi(2)).sum::<f64>() / k;
    let widening = if phi_winsorised > 1.0 && p_value < 0.05 { phi_winsorised.sqrt() } else { 1.0 };
    Ok(OverDispersion {
        centre: Probability::computed(theta),
        z,
        phi: chi_squared / k,
        chi_squared,
        degrees,
        p_value: Probability::computed(p_value),
        phi_winsorised,
        widening,
    })
}

fn pooled(people: &[Proportion]) -> Result<f64, StatsError> {
    let (events, trials) = people.iter().fold((0.0, 0.0), |(events, trials), person| {
        let (x, n) = person.as_f64();
        (events + x, trials + n)
    });
    let theta = events / trials;
    if theta <= 0.0 || theta >= 1.0 {
        return Err(StatsError::NoSpread { what: "proportion", value: theta });
    }
    positive("pooled proportion", theta)
}

/// Interpolated between order statistics (type 7 of Hyndman and Fan 1996); `sorted` is not empty.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len() - 1) as f64;
    let below = libm::floor(place);
    let index = below as usize;
    let next = sorted[(index + 1).min(sorted.len() - 1)];
    sorted[index] + (place - below) * (next - sorted[index])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_at_three_percent() {
        // n, normal 95 % and 99.8 % upper, exact 95 %, exact 99.8 %: scipy. The values below 0 are what the
        // formula gives before it is held at 0.
        let rows = [
            (50, 0.07728, 0.10455, (-0.01771, 0.07644), (-0.01991, 0.11805)),
            (100, 0.06343, 0.08272, (-0.00474, 0.06302), (-0.00979, 0.08946)),
            (200, 0.05364, 0.06728, (0.00602, 0.05348), (-0.00279, 0.07098)),
            (500, 0.04495, 0.05358, (0.01488, 0.04488), (0.00828, 0.05520)),
            (1000, 0.04057, 0.04667, (0.01936, 0.04053), (0.01421, 0.04749)),
        ];
        let inner = ConfidenceLevel::default();
        let outer = ConfidenceLevel::new(0.998).unwrap();
        for (n, normal_inner, normal_outer, exact_inner, exact_outer) in rows {
            let normal = |level| raw_limits(0.03, n, level, FunnelMethod::Normal).1;
            assert!((normal(inner) - normal_inner).abs() < 5.1e-6, "{n}");
            assert!((normal(outer) - normal_outer).abs() < 5.1e-6, "{n}");
            for (level, wanted) in [(inner, exact_inner), (outer, exact_outer)] {
                let found = raw_limits(0.03, n, level, FunnelMethod::Exact);
                assert!((found.0 - wanted.0).abs() < 5.1e-6, "{n}: {found:?}");
                assert!((found.1 - wanted.1).abs() < 5.1e-6, "{n}: {found:?}");
            }
            let held =
                funnel_limits(Probability::new(0.03).unwrap(), n, outer, FunnelMethod::Exact, 1.0).unwrap();
            assert!((held.lower() - exact_outer.0.max(0.0)).abs() < 5.1e-6);
        }
    }

    #[test]
    fn ten_people() {
        // z, φ, χ² and p: numpy and scipy.
        let x = [2, 0, 5, 1, 9, 3, 0, 4, 2, 12];
        let n = [60, 45, 110, 80, 120, 95, 30, 100, 70, 140];
        let people: Vec<Proportion> = x.iter().zip(n).map(|(&x, n)| Proportion::new(x, n).unwrap()).collect();
        let found = over_dispersion(&people, FunnelCentre::Pooled, 0.1).unwrap();
        assert!((found.centre.get() - 0.044_705_9).abs() < 5e-8);
        let z = [-0.4263, -1.4512, 0.0380, -1.3939, 1.6058, -0.6191, -1.1849, -0.2277, -0.6532, 2.3479];
        for (found, wanted) in found.z.iter().zip(z) {
            assert!((found - wanted).abs() < 5.1e-5, "{found} {wanted}");
        }
        assert!((found.phi - 1.458_925).abs() < 5e-7);
        assert!((found.chi_squared - 14.589_25).abs() < 5e-6);
        assert_eq!(found.degrees, 9);
        assert!((found.p_value.get() - 0.102_854).abs() < 5e-7);
        assert!((found.phi_winsorised - 1.175_200).abs() < 5e-7, "{}", found.phi_winsorised);
        let mut sorted = found.z.clone();
        sorted.sort_by(f64::total_cmp);
        assert!((quantile(&sorted, 0.1) + 1.399_621).abs() < 5e-7);
        assert!((quantile(&sorted, 0.9) - 1.680_035).abs() < 5e-7);
        // Not significant, so the funnel is not widened.
        assert_eq!(found.widening, 1.0);
    }

    #[test]
    fn what_cannot_be_judged_says_why() {
        let person = Proportion::new(0, 10).unwrap();
        assert!(over_dispersion(&[person], FunnelCentre::Pooled, 0.1).is_err());
        assert_eq!(
            over_dispersion(&[person, person], FunnelCentre::Pooled, 0.1).unwrap_err().to_string(),
            "every proportion is 0: there is no spread to work with"
        );
        assert!(over_dispersion(&[person, person], FunnelCentre::Pooled, 0.5).is_err());
        let zero = Probability::new(0.0).unwrap();
        let limits = funnel_limits(zero, 10, ConfidenceLevel::default(), FunnelMethod::Exact, 1.0);
        assert_eq!(limits.unwrap_err().to_string(), "target 0 is not strictly between 0 and 1");
    }
}
