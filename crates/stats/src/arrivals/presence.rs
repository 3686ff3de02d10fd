//! How many of some people come, when each comes by their own chance.

use crate::StatsError;
use crate::value::Probability;

/// Chance that at most `most` of some people come, each by their own chance and without regard to the others.
///
/// # Formula
/// Poisson-binomial: the two chances of each person, come or not, convolved person by person; P(N ≤ most) is the sum of
/// the first terms. With `most` 0: the product of the chances of not coming.
/// # Range
/// `comes`: a chance for each person, 0 to 1. Nothing is rounded but by the arithmetic: every term is a sum of products
/// of numbers that are not negative.
/// # Ends
/// Nobody: 1. `most` at or above the number of people: 1. Somebody who comes with chance 1: 0 for `most` 0.
/// # Source
/// Y. H. Wang, On the number of successes in independent trials, Statistica Sinica 3, 1993, 295-312 (from memory).
/// # Check
/// All outcomes of up to ten people counted one by one, 1e-12; equal chances against the binomial distribution, 1e-12.
/// # Example
/// ```
/// use stats::Probability;
/// use stats::arrivals::chance_of_at_most_present;
/// // Two people who each come with chance 9/10: neither comes with chance 1/100.
/// let each = Probability::new(0.9)?;
/// let chance = chance_of_at_most_present(&[each, each], 0)?;
/// assert!((chance.get() - 0.01).abs() < 1e-15);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_of_at_most_present(comes: &[Probability], most: usize) -> Result<Probability, StatsError> {
    if most >= comes.len() {
        return Probability::new(1.0);
    }
    let mut chances = vec![0.0; most + 1];
    chances[0] = 1.0;
    for chance in comes {
        let come = chance.get();
        for n in (0..=most).rev() {
            let with_them = if n == 0 { 0.0 } else { chances[n - 1] * come };
            chances[n] = chances[n] * (1.0 - come) + with_them;
        }
    }
    Probability::new(chances.iter().sum::<f64>().clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dist;

    #[test]
    fn agrees_with_every_outcome_counted() {
        let chances = [0.95, 0.8, 0.5, 1.0, 0.0, 0.3, 0.99, 0.05, 0.6, 0.77];
        for n_people in 0..=chances.len() {
            let own = &chances[..n_people];
            let comes: Vec<Probability> = own.iter().map(|p| Probability::new(*p).unwrap()).collect();
            for most in 0..=n_people {
                let counted: f64 = (0u32..1 << n_people)
                    .filter(|outcome| outcome.count_ones() as usize <= most)
                    .map(|outcome| {
                        own.iter()
                            .enumerate()
                            .map(|(who, p)| if outcome >> who & 1 == 1 { *p } else { 1.0 - p })
                            .product::<f64>()
                    })
                    .sum();
                let found = chance_of_at_most_present(&comes, most).unwrap().get();
                assert!(
                    (found - counted).abs() < 1e-12,
                    "{n_people} people, at most {most}: {found} {counted}"
                );
            }
        }
    }

    #[test]
    fn equal_chances_are_binomial() {
        for (n, p) in [(5u64, 0.93), (40, 0.2), (200, 0.97)] {
            let comes = vec![Probability::new(p).unwrap(); n as usize];
            for most in [0u64, 1, n / 2, n - 1] {
                let found = chance_of_at_most_present(&comes, most as usize).unwrap().get();
                let expected = dist::binomial_cdf(most, n, p);
                assert!((found - expected).abs() < 1e-12, "{most} of {n}: {found} {expected}");
            }
        }
    }
}
