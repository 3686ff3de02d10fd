//! Published and recomputed values of waiting times, and what must hold for every forecast.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use proptest::prelude::*;

use stats::arrivals::{
    GammaRate, RateSpread, Stratum, chance_of_at_least, chance_of_at_least_across, fit_rate_spread,
    forecast_count, shrink_rates, thin_rate, time_to_nth, waiting_time,
};
use stats::{ConfidenceLevel, Probability};

fn p(value: f64) -> Probability {
    Probability::new(value).unwrap()
}

#[track_caller]
fn close(found: f64, printed: f64, half_unit: f64, row: &str) {
    assert!((found - printed).abs() <= half_unit * 1.0001, "{row}: found {found}, printed {printed}");
}

/// Sets until a contaminated one at 3 % (recomputed; formula Feller 1968 VI.8, from memory).
#[test]
fn waiting_times_at_three_per_cent() {
    let first = waiting_time(1, p(0.03)).unwrap();
    close(first.mean(), 33.333, 5e-4, "mean");
    close(first.standard_deviation(), 32.830, 5e-4, "sd");
    assert_eq!(first.quantile(p(0.5)), Some(23));
    close(first.not_within(100), 0.047553, 5e-7, "beyond 100");
    let fifth = waiting_time(5, p(0.03)).unwrap();
    close(fifth.mean(), 166.667, 5e-4, "mean of 5th");
    close(fifth.standard_deviation(), 73.409, 5e-4, "sd of 5th");
    assert_eq!([0.05, 0.5, 0.95].map(|q| fifth.quantile(p(q)).unwrap()), [67, 156, 303]);
    close(fifth.within(100), 0.182145, 5e-7, "5th within 100");
}

/// Failures of ten pumps over their hours of service in thousands (Gaver and O'Muircheartaigh 1987, Technometrics 29:1;
/// data from memory): the rates differ by more than chance, and each is drawn towards the rest.
#[test]
fn pump_failures() {
    let hours = [94.32, 15.72, 62.88, 125.76, 5.24, 31.44, 1.048, 1.048, 2.096, 10.48];
    let failures = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22];
    let strata: Vec<Stratum> =
        hours.iter().zip(failures).map(|(&t, x)| Stratum::new(x, t).unwrap()).collect();
    let RateSpread::Differ(spread) = fit_rate_spread(&strata).unwrap() else { panic!("the pumps differ") };
    // At the maximum a small step either way lowers the likelihood, written out here without the room's own.
    let likelihood = |shape: f64, exposure: f64| -> f64 {
        strata
            .iter()
            .map(|s| {
                let rising: f64 = (0..s.count()).map(|j| libm::log(shape + j as f64)).sum();
                let t = s.exposure();
                rising + shape * libm::log(exposure / (exposure + t))
                    - s.count() as f64 * libm::log(exposure + t)
            })
            .sum()
    };
    let top = likelihood(spread.shape(), spread.exposure());
    for (up, right) in
        [(1.001, 1.0), (0.999, 1.0), (1.0, 1.001), (1.0, 0.999), (1.001, 1.001), (0.999, 0.999)]
    {
        assert!(likelihood(spread.shape() * up, spread.exposure() * right) < top);
    }
    for (rate, stratum) in shrink_rates(&strata).unwrap().iter().zip(&strata) {
        let own = stratum.count() as f64 / stratum.exposure();
        let (low, high) = (own.min(spread.mean()), own.max(spread.mean()));
        assert!((low..=high).contains(&rate.mean()));
        assert!(rate.interval(ConfidenceLevel::default()).contains(rate.mean()));
    }
}

/// The ends: nothing seen, one stratum, alike strata.
#[test]
fn ends_of_shrinkage_and_forecast() {
    let stratum = |count, exposure| Stratum::new(count, exposure).unwrap();
    assert_eq!(fit_rate_spread(&[]).unwrap_err().to_string(), "0 strata; at least 1 needed");
    let alike = |strata: &[Stratum]| match fit_rate_spread(strata).unwrap() {
        RateSpread::Alike(rate) => (rate.shape(), rate.exposure()),
        RateSpread::Differ(spread) => panic!("{spread:?}"),
    };
    assert_eq!(alike(&[stratum(0, 10.0), stratum(0, 20.0)]), (0.5, 30.0));
    assert_eq!(alike(&[stratum(7, 10.0)]), (7.5, 10.0));
    assert_eq!(alike(&[stratum(10, 10.0), stratum(11, 10.0), stratum(9, 10.0)]), (30.5, 30.0));
    // Far apart: no shrinkage to speak of.
    let rates = shrink_rates(&[stratum(1000, 1.0), stratum(10, 1.0), stratum(100_000, 1.0)]).unwrap();
    assert!((rates[0].mean() / 1000.0 - 1.0).abs() < 0.01, "{rates:?}");

    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(
            Stratum::new(1, bad).is_err()
                && GammaRate::new(bad, 1.0).is_err()
                && GammaRate::new(1.0, bad).is_err()
        );
    }
    let rate = GammaRate::new(2.0, 10.0).unwrap();
    assert_eq!(chance_of_at_least(rate, 0, 0.0).unwrap().get(), 1.0);
    assert_eq!(chance_of_at_least(rate, 1, 0.0).unwrap().get(), 0.0);
    assert!(chance_of_at_least(rate, 1, -1.0).is_err());
    assert_eq!(chance_of_at_least_across(&[], 1).unwrap().get(), 0.0);
    assert_eq!(time_to_nth(rate, 3, p(0.0)).unwrap(), 0.0);
    assert!(time_to_nth(rate, 3, p(1.0)).is_err() && time_to_nth(rate, 0, p(0.5)).is_err());
    assert!(thin_rate(rate, p(0.0)).is_err());
    assert_eq!(forecast_count(rate, 0.0, ConfidenceLevel::default()).unwrap().mean, 0.0);
    assert!(waiting_time(0, p(0.1)).is_err() && waiting_time(1, p(0.0)).is_err());
    assert_eq!(waiting_time(4, p(1.0)).unwrap().quantile(p(1.0)), Some(4));
    assert_eq!(waiting_time(4, p(0.5)).unwrap().quantile(p(1.0)), None);
}

/// A rate known almost exactly gives the Poisson chances: 3 or more at mean 2 is 1 − 5 e⁻².
#[test]
fn a_well_known_rate_is_poisson() {
    let rate = GammaRate::new(2e9, 1e9).unwrap();
    let poisson = 1.0 - 5.0 * libm::exp(-2.0);
    close(chance_of_at_least(rate, 3, 1.0).unwrap().get(), poisson, 1e-8, "3 or more");
    close(chance_of_at_least_across(&[(rate, 1.0)], 3).unwrap().get(), poisson, 1e-8, "3 or more, convolved");
}

fn a_rate() -> impl Strategy<Value = GammaRate> {
    (0.1f64..200.0, 0.1f64..500.0).prop_map(|(shape, exposure)| GammaRate::new(shape, exposure).unwrap())
}

/// With one event the chance of none is (b/(b + t))^a: at shape 0.1 a long wait leaves 10^(−1.8), by hand.
#[test]
fn a_long_wait_is_not_yet_certain() {
    let chance = chance_of_at_least(GammaRate::new(0.1, 0.1).unwrap(), 1, 1e17).unwrap().get();
    assert!((chance - (1.0 - 0.015_848_931_924_611_134)).abs() < 1e-14, "{chance}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn time_inverts_chance(rate in a_rate(), n in 1u64..60, chance in 0.001f64..0.999) {
        let time = time_to_nth(rate, n, p(chance)).unwrap();
        let back = chance_of_at_least(rate, n, time).unwrap().get();
        prop_assert!((back - chance).abs() < 1e-10, "{time}: {back} {chance}");
        prop_assert!(time_to_nth(rate, n + 1, p(chance)).unwrap() > time);
    }

    #[test]
    fn sums_of_parts_hold_together(rate in a_rate(), n in 1u64..40, t in 0.01f64..100.0, split in 0.0f64..1.0) {
        let one = chance_of_at_least(rate, n, t).unwrap().get();
        prop_assert!((chance_of_at_least_across(&[(rate, t)], n).unwrap().get() - one).abs() < 1e-11);
        // Two independent gamma rates of one exposure add their shapes.
        prop_assume!(split > 0.001 && split < 0.999);
        let part = |share: f64| GammaRate::new(rate.shape() * share, rate.exposure()).unwrap();
        let parts = [(part(split), t), (part(1.0 - split), t)];
        prop_assert!((chance_of_at_least_across(&parts, n).unwrap().get() - one).abs() < 1e-11);
    }

    #[test]
    fn thinning_is_less_exposure(rate in a_rate(), n in 1u64..40, t in 0.01f64..100.0, share in 0.01f64..1.0) {
        let thinned = chance_of_at_least(thin_rate(rate, p(share)).unwrap(), n, t).unwrap().get();
        let shorter = chance_of_at_least(rate, n, t * share).unwrap().get();
        prop_assert!((thinned - shorter).abs() < 1e-12);
        prop_assert!(thinned <= chance_of_at_least(rate, n, t).unwrap().get() + 1e-15);
    }

    #[test]
    fn chances_fall_with_n_and_sum_to_the_mean(shape in 1.0f64..50.0, exposure in 1.0f64..50.0, t in 0.1f64..50.0) {
        let rate = GammaRate::new(shape, exposure).unwrap();
        let forecast = forecast_count(rate, t, ConfidenceLevel::default()).unwrap();
        // The mean is the sum of the chances of at least n.
        let most = (forecast.mean * 60.0 + 2000.0) as u64;
        prop_assume!(most < 20_000);
        let (mut before, mut sum) = (1.0, 0.0);
        for n in 1..=most {
            let chance = chance_of_at_least(rate, n, t).unwrap().get();
            prop_assert!(chance <= before);
            (before, sum) = (chance, sum + chance);
            if chance < 1e-14 { break; }
        }
        prop_assert!(before > 1e-9 || (sum / forecast.mean - 1.0).abs() < 1e-9, "{sum} {forecast:?}");
        prop_assert!(forecast.interval.lower() <= forecast.mean.ceil() && forecast.interval.upper() >= forecast.mean.floor());
    }

    #[test]
    fn waiting_quantiles_invert_the_chance(k in 1u64..40, chance in 0.001f64..1.0, q in 0.0f64..0.999) {
        let waiting = waiting_time(k, p(chance)).unwrap();
        let n = waiting.quantile(p(q)).unwrap();
        prop_assert!(n >= k && waiting.within(n) >= q - 1e-12);
        prop_assert!(n == k || waiting.within(n - 1) < q);
        prop_assert!((waiting.within(n) + waiting.not_within(n) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn shrunken_rates_lie_between(counts in prop::collection::vec((0u64..60, 0.5f64..40.0), 2..12)) {
        let strata: Vec<Stratum> = counts.iter().map(|&(x, t)| Stratum::new(x, t).unwrap()).collect();
        let spread = match fit_rate_spread(&strata).unwrap() {
            RateSpread::Differ(spread) => spread,
            RateSpread::Alike(_) => return Ok(()),
        };
        for (rate, stratum) in shrink_rates(&strata).unwrap().iter().zip(&strata) {
            let own = stratum.count() as f64 / stratum.exposure();
            let (low, high) = (own.min(spread.mean()), own.max(spread.mean()));
            prop_assert!(rate.mean() >= low * (1.0 - 1e-12) && rate.mean() <= high * (1.0 + 1e-12));
        }
    }
}
