//! Looking at many people at once: some stand out by chance alone.

use crate::dist::binomial_sf;
use crate::error::StatsError;
use crate::value::{Probability, Proportion};

/// The chance that a person at the target has this many events or more.
///
/// # Formula
///
/// P(X ≥ x) for X binomial with n trials at the target.
///
/// # Range
///
/// x events of n trials; target strictly between 0 and 1.
///
/// # Ends
///
/// 0 of n gives 1.
///
/// # Source
///
/// The exact binomial test, one-sided; Clopper and Pearson 1934, Biometrika 26:404.
///
/// # Check
///
/// scipy `binomtest(alternative="greater")` on 200 random inputs.
///
/// # Example
///
/// ```
/// use stats::{Probability, Proportion, people::probability_as_high};
/// // 2 of 14 contaminated at a true 3 %: 1 − 0.97^14 − 14 × 0.03 × 0.97^13.
/// let p = probability_as_high(Proportion::new(2, 14)?, Probability::new(0.03)?)?;
/// assert!((p.get() - (1.0 - 0.97_f64.powi(14) - 14.0 * 0.03 * 0.97_f64.powi(13))).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn probability_as_high(seen: Proportion, target: Probability) -> Result<Probability, StatsError> {
    let target = target.interior("target")?;
    Ok(match seen.events() {
        0 => Probability::computed(1.0),
        x => Probability::computed(binomial_sf(x - 1, seen.trials(), target)),
    })
}

/// Each p-value adjusted for looking at all of them: keep those at or below the share of false findings you
/// accept.
///
/// # Formula
///
/// With m p-values in rising order p₍₁₎ … p₍ₘ₎: adjusted p₍ᵢ₎ = min over j ≥ i of m p₍ⱼ₎/j, at most 1.
///
/// # Range
///
/// One p-value per person, 0 to 1; answers 0 to 1 in the order given.
///
/// # Ends
///
/// None gives none; one is itself.
///
/// # Source
///
/// Benjamini and Hochberg 1995, J R Stat Soc B 57:289.
///
/// # Check
///
/// statsmodels `multipletests(method="fdr_bh")` on 200 random inputs, ties included.
///
/// # Example
///
/// ```
/// use stats::{Probability, people::benjamini_hochberg};
/// let p = [0.01, 0.04, 0.03].map(|p| Probability::new(p)).into_iter().collect::<Result<Vec<_>, _>>()?;
/// // 3 × 0.01 / 1 = 0.03; 3 × 0.03 / 2 = 0.045, but the next is 3 × 0.04 / 3 = 0.04.
/// let adjusted: Vec<String> = benjamini_hochberg(&p).iter().map(|p| format!("{:.3}", p.get())).collect();
/// assert_eq!(adjusted, ["0.030", "0.040", "0.040"]);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn benjamini_hochberg(p_values: &[Probability]) -> Vec<Probability> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|&a, &b| p_values[a].get().total_cmp(&p_values[b].get()));
    let m = p_values.len() as f64;
    let mut adjusted = p_values.to_vec();
    let mut least = 1.0_f64;
    for (rank, &index) in order.iter().enumerate().rev() {
        // The factor is exactly 1 for the largest, so that rounding never takes an answer below what it came
        // from.
        least = least.min(p_values[index].get() * (m / (rank + 1) as f64));
        adjusted[index] = Probability::computed(least);
    }
    adjusted
}
