//! What must hold for every table of ratings, whatever its counts.

use proptest::prelude::*;

use stats::agreement::{
    AgreementWeights, Metric, RatingCounts, RatingTable, ReliabilityData, cohen_kappa, fleiss_kappa,
    gwet_ac1, krippendorff_alpha, scott_pi, weighted_kappa,
};
use stats::{ConfidenceLevel, StatsError};

fn level() -> ConfidenceLevel {
    ConfidenceLevel::default()
}

fn pairs() -> impl Strategy<Value = Vec<(usize, usize)>> {
    prop::collection::vec((0usize..4, 0usize..4), 2..60)
}

/// A refusal is an answer too; it is skipped here and looked at in the tables.
fn skip_refused<T>(result: Result<T, StatsError>) -> Result<T, TestCaseError> {
    result.map_err(|error| TestCaseError::reject(error.to_string()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_order_of_watchers_and_of_names_does_not_matter(pairs in pairs()) {
        let table = RatingTable::from_pairs(4, &pairs).unwrap();
        let kappa = skip_refused(cohen_kappa(&table, level()))?;
        // Watchers exchanged, and categories renamed by turning their order round.
        let turned: Vec<_> = pairs.iter().map(|&(a, b)| (3 - b, 3 - a)).collect();
        let turned = RatingTable::from_pairs(4, &turned).unwrap();
        let again = cohen_kappa(&turned, level()).unwrap();
        prop_assert!((kappa.estimate - again.estimate).abs() < 1e-13);
        prop_assert!((kappa.standard_error.unwrap() - again.standard_error.unwrap()).abs() < 1e-7);
        let quadratic = AgreementWeights::quadratic(4).unwrap();
        let of = |table| weighted_kappa(table, &quadratic, level());
        prop_assert!((of(&table).unwrap().estimate - of(&turned).unwrap().estimate).abs() < 1e-13);
        let counts = |table| gwet_ac1(&RatingCounts::from_table(table), level());
        prop_assert!((counts(&table).estimate - counts(&turned).estimate).abs() < 1e-13);
    }

    #[test]
    fn estimates_stay_in_range_and_inside_their_intervals(pairs in pairs()) {
        let table = RatingTable::from_pairs(4, &pairs).unwrap();
        let kappa = skip_refused(cohen_kappa(&table, level()))?;
        for found in [kappa, scott_pi(&table, level()).unwrap(), gwet_ac1(&RatingCounts::from_table(&table), level())] {
            prop_assert!((-1.0 - 1e-12..=1.0).contains(&found.estimate), "{found:?}");
            prop_assert!((found.estimate - (found.observed - found.expected) / (1.0 - found.expected)).abs() < 1e-12);
            if let Ok(interval) = found.interval {
                prop_assert!(interval.contains(found.estimate), "{found:?}");
            }
        }
        // Only two categories in use or four on offer: kappa does not see the unused ones, AC1 does.
        let wider = RatingTable::from_pairs(5, &pairs).unwrap();
        prop_assert!((cohen_kappa(&wider, level()).unwrap().estimate - kappa.estimate).abs() < 1e-13);
    }

    /// Krippendorff 2004: with two watchers and no gaps, nominal alpha = pi + (1 − pi)/n over the n ratings.
    #[test]
    fn nominal_alpha_is_pi_with_a_small_sample_term(pairs in pairs()) {
        let table = RatingTable::from_pairs(4, &pairs).unwrap();
        let pi = skip_refused(scott_pi(&table, level()))?.estimate;
        let watcher = |of: fn(&(usize, usize)) -> usize| -> Vec<Option<f64>> {
            pairs.iter().map(|pair| Some(of(pair) as f64)).collect()
        };
        let data = ReliabilityData::new(&[watcher(|pair| pair.0), watcher(|pair| pair.1)]).unwrap();
        let alpha = krippendorff_alpha(&data, Metric::Nominal, level(), 100, 1).unwrap().estimate;
        let n_ratings = 2.0 * pairs.len() as f64;
        prop_assert!((alpha - (pi + (1.0 - pi) / n_ratings)).abs() < 1e-12, "{alpha} {pi}");
    }

    /// Krippendorff 2004: adding a constant leaves interval alpha alone, a factor leaves ratio alpha alone, any
    /// rising change leaves ordinal alpha alone.
    #[test]
    fn alpha_knows_its_scale(pairs in pairs(), shift in 1u32..1000, factor in 1u32..64) {
        let alpha = |metric, change: &dyn Fn(f64) -> f64| {
            let watcher = |of: fn(&(usize, usize)) -> usize| -> Vec<Option<f64>> {
                pairs.iter().map(|pair| Some(change(of(pair) as f64))).collect()
            };
            let data = ReliabilityData::new(&[watcher(|pair| pair.0), watcher(|pair| pair.1)]).unwrap();
            krippendorff_alpha(&data, metric, level(), 100, 1).map(|alpha| alpha.estimate)
        };
        let same = |value: f64| value;
        skip_refused(alpha(Metric::Nominal, &same))?;
        let (shift, factor) = (f64::from(shift), f64::from(factor));
        for (metric, changed) in [
            (Metric::Interval, alpha(Metric::Interval, &|value| value + shift).unwrap()),
            (Metric::Ratio, alpha(Metric::Ratio, &|value| value * factor).unwrap()),
            (Metric::Ordinal, alpha(Metric::Ordinal, &|value| value * value * factor + shift).unwrap()),
        ] {
            prop_assert!((alpha(metric, &same).unwrap() - changed).abs() < 1e-10, "{metric:?}");
        }
    }

    #[test]
    fn fleiss_for_two_is_scott(pairs in pairs()) {
        let table = RatingTable::from_pairs(4, &pairs).unwrap();
        let rows: Vec<Vec<u64>> = pairs
            .iter()
            .map(|&(a, b)| (0..4).map(|k| u64::from(a == k) + u64::from(b == k)).collect())
            .collect();
        let fleiss = skip_refused(fleiss_kappa(&RatingCounts::new(4, &rows).unwrap(), level()))?;
        let scott = scott_pi(&table, level()).unwrap();
        prop_assert!((fleiss.estimate - scott.estimate).abs() < 1e-13);
        prop_assert!((fleiss.standard_error.unwrap() - scott.standard_error.unwrap()).abs() < 1e-12);
    }
}
