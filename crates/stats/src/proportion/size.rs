//! What no event says, and how many trials a claim needs.

use crate::dist::{binomial_cdf, binomial_sf};
use crate::error::{StatsError, positive};
use crate::value::{ConfidenceLevel, LARGEST_COUNT, Probability};

/// The longest test that is looked for.
const MOST_TRIALS: u64 = 200_000;

/// The rate that no event among n trials still allows: "0 of 14 is compatible with up to 19 %".
///
/// # Formula
///
/// One-sided upper bound 1 − (1 − C)^(1/n).
///
/// # Range
///
/// n trials from 1; C is the confidence that the rate is no higher; the bound is a proportion 0 to 1.
///
/// # Ends
///
/// n = 1 gives C itself.
///
/// # Source
///
/// Louis 1981, Am Stat 35:154; Hanley and Lippman-Hand 1983, JAMA 249:1743 (cited from memory).
///
/// # Check
///
/// Ten values of n from 10 to 300; the bound put back: (1 − bound)^n = 1 − C.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, proportion::zero_failure_upper};
/// // √0.05 = 0.223607, so 0 of 2 allows up to 0.776393.
/// assert_eq!(format!("{:.6}", zero_failure_upper(2, ConfidenceLevel::default())?.get()), "0.776393");
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn zero_failure_upper(trials: u64, confidence: ConfidenceLevel) -> Result<Probability, StatsError> {
    if trials == 0 {
        return Err(StatsError::NoTrials);
    }
    Ok(Probability::computed(-libm::expm1(libm::log1p(-confidence.get()) / trials as f64)))
}

/// The rule of thumb for the same bound at 95 %, for people who check by head.
///
/// # Formula
///
/// 3 / n, at most 1.
///
/// # Range
///
/// n trials from 1; a proportion 0 to 1.
///
/// # Ends
///
/// 1 for n up to 3; above that always too large, by a ninth at 14 (0.2143 against 0.1926), by a sixtieth at
/// 100.
///
/// # Source
///
/// Hanley and Lippman-Hand 1983, JAMA 249:1743 (cited from memory); Jovanovic and Levy 1997, Am Stat 51:137.
///
/// # Check
///
/// 14 trials: 3/14 = .2143 beside the exact .192636.
///
/// # Example
///
/// ```
/// use stats::proportion::rule_of_three;
/// assert_eq!(rule_of_three(100)?.get(), 0.03);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn rule_of_three(trials: u64) -> Result<Probability, StatsError> {
    if trials == 0 {
        return Err(StatsError::NoTrials);
    }
    Ok(Probability::computed((3.0 / trials as f64).min(1.0)))
}

/// How many trials, with at most so many events among them, it takes to claim a rate below p.
///
/// # Formula
///
/// The smallest n with P(X ≤ k) ≤ 1 − C for X binomial with n trials at rate p. For k = 0: ⌈ln(1 − C) / ln(1
/// − p)⌉.
///
/// # Range
///
/// p strictly between 0 and 1; k events allowed, from 0; n trials from k + 1.
///
/// # Ends
///
/// An n beyond a million million is refused.
///
/// # Source
///
/// The binomial distribution; the k = 0 case as in Hanley and Lippman-Hand 1983, JAMA 249:1743 (cited from
/// memory).
///
/// # Check
///
/// Twelve cases of p, C and k, among them p .03, C .95: k 0 99, k 1 157, k 2 208, k 3 257; scipy `binom.cdf`
/// by search.
///
/// # Example
///
/// ```
/// use stats::{ConfidenceLevel, Probability, proportion::clean_trials_needed};
/// // 0.5^5 = 0.03125 is the first power of a half below 0.05.
/// assert_eq!(clean_trials_needed(Probability::new(0.5)?, ConfidenceLevel::default(), 0)?, 5);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn clean_trials_needed(
    below: Probability,
    confidence: ConfidenceLevel,
    events_allowed: u64,
) -> Result<u64, StatsError> {
    let p = below.interior("rate to stay below")?;
    let left = 1.0 - confidence.get();
    // A last bit either way must not move a bound that is met exactly.
    let enough = |n: u64| binomial_cdf(events_allowed, n, p) <= left * (1.0 + 1e-12);
    let refused = StatsError::NoAnswer { what: "trials needed for this claim", most: LARGEST_COUNT };
    let mut not_yet = events_allowed;
    let mut step = 1_u64;
    let mut yes = loop {
        let Some(next) = not_yet.checked_add(step).filter(|&n| n <= LARGEST_COUNT) else {
            return Err(refused);
        };
        if enough(next) {
            break next;
        }
        not_yet = next;
        step *= 2;
    };
    while yes - not_yet > 1 {
        let middle = not_yet + (yes - not_yet) / 2;
        if enough(middle) {
            yes = middle;
        } else {
            not_yet = middle;
        }
    }
    Ok(yes)
}

/// An exact one-sided test of one rate against another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneSidedTest {
    /// How many trials.
    pub n_trials: u64,
    /// The count at which to act: that many events or more when the alternative is the higher rate, that many
    /// or fewer when it is the lower.
    pub act_at: u64,
    /// P(act) at the first rate: what the test really spends of the error allowed.
    pub size: Probability,
    /// P(act) at the second rate.
    pub power: Probability,
}

/// How many trials an exact test needs to tell one rate from another.
///
/// # Formula
///
/// The first n for which some count c has P(X ≥ c) ≤ α at p₀ and P(X ≥ c) ≥ power at p₁ (P(X ≤ c) when p₁ <
/// p₀).
///
/// # Range
///
/// p₀, p₁, α and power strictly between 0 and 1, p₀ ≠ p₁; n up to 200,000.
///
/// # Ends
///
/// Equal rates are refused. The power is saw-toothed in n: a slightly larger n can have less.
///
/// # Source
///
/// Chernick and Liu 2002, Am Stat 56:149 (the saw-tooth); the binomial distribution.
///
/// # Check
///
/// 3 % against 6 %, α .05: power .8 n 282 (act at 14), .9 n 410 (19); 3 against 9 % n 87 (6); 3 against 12 %
/// n 45 (4); scipy `binom` by the same search.
///
/// # Example
///
/// ```
/// use stats::{Probability, proportion::one_sided_sample_size};
/// let p = |value| Probability::new(value);
/// let test = one_sided_sample_size(p(0.03)?, p(0.12)?, p(0.05)?, p(0.8)?)?;
/// assert_eq!((test.n_trials, test.act_at), (45, 4));
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn one_sided_sample_size(
    first: Probability,
    second: Probability,
    error_allowed: Probability,
    power_wanted: Probability,
) -> Result<OneSidedTest, StatsError> {
    let p0 = first.interior("first rate")?;
    let p1 = second.interior("second rate")?;
    let alpha = error_allowed.interior("error allowed")?;
    let power = power_wanted.interior("power wanted")?;
    positive("difference of the two rates", (p1 - p0).abs())?;
    if p1 < p0 {
        // Few events are many non-events.
        let mirrored =
            one_sided_sample_size(first.complement(), second.complement(), error_allowed, power_wanted)?;
        return Ok(OneSidedTest { act_at: mirrored.n_trials - mirrored.act_at, ..mirrored });
    }
    let at_least = |c: u64, n: u64, p: f64| if c == 0 { 1.0 } else { binomial_sf(c - 1, n, p) };
    let mut c = 0;
    for n in 1..=MOST_TRIALS {
        // The critical count never falls as n grows, so it is carried along.
        while c <= n && at_least(c, n, p0) > alpha {
            c += 1;
        }
        let reached = at_least(c, n, p1);
        if c <= n && reached >= power {
            return Ok(OneSidedTest {
                n_trials: n,
                act_at: c,
                size: Probability::computed(at_least(c, n, p0)),
                power: Probability::computed(reached),
            });
        }
    }
    Err(StatsError::NoAnswer { what: "trials needed to tell the two rates apart", most: MOST_TRIALS })
}
