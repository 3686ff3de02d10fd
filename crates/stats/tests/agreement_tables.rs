//! Published and recomputed values of agreement. Marks as in the tables of the sequential tests: "published" was read
//! in a source, "memory" recalled, "recomputed" worked out independently of this room.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

use stats::agreement::{
    Agreement, AgreementWeights, Metric, NoInterval, RatingCounts, RatingTable, ReliabilityData,
    StrengthBand, cohen_kappa, fleiss_kappa, fleiss_kappa_by_category, gwet_ac1, krippendorff_alpha,
    percent_agreement, scott_pi, strength_band, weighted_kappa,
};
use stats::{ConfidenceLevel, StatsError};

#[track_caller]
fn close(found: f64, printed: f64, half_unit: f64, row: &str) {
    assert!((found - printed).abs() <= half_unit * 1.0001, "{row}: found {found}, printed {printed}");
}

fn level() -> ConfidenceLevel {
    ConfidenceLevel::default()
}

fn table(n_categories: usize, counts: &[u64]) -> RatingTable {
    RatingTable::new(n_categories, counts).unwrap()
}

fn kappa(table: &RatingTable) -> Agreement {
    cohen_kappa(table, level()).unwrap()
}

fn weighted(table: &RatingTable, weights: Result<AgreementWeights, StatsError>) -> Agreement {
    weighted_kappa(table, &weights.unwrap(), level()).unwrap()
}

/// Cohen 1960, Educ Psychol Meas 20:37 and Cohen 1968, Psychol Bull 70:213, n 200 (published); standard errors by
/// Fleiss, Cohen and Everitt 1969 (recomputed).
#[test]
fn cohens_table() {
    let cohen = table(3, &[88, 14, 18, 10, 40, 10, 2, 6, 12]);
    let found = kappa(&cohen);
    close(found.estimate, 0.491525, 5e-7, "kappa");
    close(found.observed, 0.70, 1e-12, "observed");
    close(found.expected, 0.41, 1e-12, "expected");
    close(found.standard_error.unwrap(), 0.05100, 5e-6, "se");
    close(found.null_standard_error.unwrap(), 0.05198, 5e-6, "null se");
    let disagreement = |values: &[f64]| AgreementWeights::from_disagreement(3, values);
    close(
        weighted(&cohen, disagreement(&[0.0, 1.0, 3.0, 1.0, 0.0, 6.0, 3.0, 6.0, 0.0])).estimate,
        0.347826,
        5e-7,
        "weighted 1 3 6",
    );
    // These weights are not symmetric: the row is the first watcher.
    close(
        weighted(&cohen, disagreement(&[0.0, 1.0, 4.0, 1.0, 0.0, 6.0, 2.0, 2.0, 0.0])).estimate,
        0.353383,
        5e-7,
        "weighted 1 4 6 2",
    );
    close(weighted(&cohen, AgreementWeights::linear(3)).estimate, 0.473684, 5e-7, "linear");
    close(weighted(&cohen, AgreementWeights::quadratic(3)).estimate, 0.454545, 5e-7, "quadratic");
}

/// Fleiss, Cohen and Everitt 1969, Psychol Bull 72:323 (table published).
#[test]
fn fleiss_cohen_everitt_table() {
    let counts = table(3, &[106, 10, 4, 22, 28, 10, 2, 12, 6]);
    close(kappa(&counts).estimate, 0.428571, 5e-7, "kappa");
    // Printed .4444 and .6667; the fractions behind them are 4/9 and 2/3.
    let weights = [1.0, 0.0, 4.0 / 9.0, 0.0, 1.0, 2.0 / 3.0, 4.0 / 9.0, 2.0 / 3.0, 1.0];
    let found = weighted(&counts, AgreementWeights::from_agreement(3, &weights));
    close(found.estimate, 0.507060, 5e-7, "weighted");
}

/// A worked table of a statistics package's manual: κ .4842 (ASE .1380, .2137 to .7547; null ASE .1484, z 3.2626),
/// linear .4701 (ASE .1457) (published).
#[test]
fn a_published_table_with_both_errors() {
    let counts = table(3, &[0, 4, 1, 0, 8, 0, 0, 1, 5]);
    let found = kappa(&counts);
    close(found.estimate, 0.4842, 5e-5, "kappa");
    close(found.standard_error.unwrap(), 0.1380, 5e-5, "se");
    close(found.null_standard_error.unwrap(), 0.1484, 5e-5, "null se");
    close(found.null_z().unwrap(), 3.2626, 5e-5, "z");
    let interval = found.interval.unwrap();
    close(interval.lower(), 0.2137, 5e-5, "lower");
    close(interval.upper(), 0.7547, 5e-5, "upper");
    let linear = weighted(&counts, AgreementWeights::linear(3));
    close(linear.estimate, 0.4701, 5e-5, "linear");
    close(linear.standard_error.unwrap(), 0.1457, 5e-5, "linear se");
}

/// Fleiss 1971, Psychol Bull 76:378: 30 cases, 6 watchers, five categories (published).
fn fleiss_1971() -> RatingCounts {
    let cases = [
        "00060", "03003", "01401", "00006", "03030", "20400", "00402", "20310", "20040", "00006", "10050",
        "11040", "03300", "10050", "02031", "00501", "30012", "51000", "02040", "10203", "00006", "01050",
        "02013", "20040", "10041", "05010", "40002", "02040", "10500", "00006",
    ];
    let cases: Vec<Vec<u64>> =
        cases.iter().map(|case| case.bytes().map(|digit| u64::from(digit - b'0')).collect()).collect();
    let totals: Vec<u64> = (0..5).map(|k| cases.iter().map(|case| case[k]).sum()).collect();
    assert_eq!(totals, [26, 26, 30, 55, 43], "the data as published");
    RatingCounts::new(5, &cases).unwrap()
}

#[test]
fn fleiss_30_by_6() {
    let counts = fleiss_1971();
    let found = fleiss_kappa(&counts, level()).unwrap();
    close(found.estimate, 0.4302445, 5e-8, "kappa");
    close(found.observed, 0.5555556, 5e-8, "observed");
    close(found.expected, 0.2199383, 5e-8, "expected");
    close(found.null_z().unwrap(), 17.65183, 5e-6, "z");
    let by_category = fleiss_kappa_by_category(&counts).unwrap();
    for (category, printed) in by_category.iter().zip([0.2448, 0.2448, 0.5200, 0.4711, 0.5661]) {
        close(category.kappa.unwrap(), printed, 5e-5, "by category");
    }
    // As AC1, recomputed; errors and intervals as irrCAC 0.4.4 (Python) prints them for the raw ratings.
    let ac1 = gwet_ac1(&counts, level());
    close(ac1.estimate, 0.447885, 5e-7, "AC1");
    close(ac1.standard_error.unwrap(), 0.055662142, 5e-10, "AC1 se");
    close(ac1.interval.unwrap().lower(), 0.334042654, 5e-10, "AC1 lower");
    close(found.standard_error.unwrap(), 0.054198936, 5e-10, "kappa se");
    close(found.interval.unwrap().upper(), 0.54109379, 5e-9, "kappa upper");
}

/// The widely printed example of 10 cases and 14 watchers (published).
#[test]
fn fleiss_10_by_14() {
    let cases = [
        [0, 0, 0, 0, 14],
        [0, 2, 6, 4, 2],
        [0, 0, 3, 5, 6],
        [0, 3, 9, 2, 0],
        [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0],
        [3, 2, 6, 3, 0],
        [2, 5, 3, 2, 2],
        [6, 5, 2, 1, 0],
        [0, 2, 2, 3, 7],
    ];
    let found = fleiss_kappa(&RatingCounts::new(5, &cases).unwrap(), level()).unwrap();
    close(found.estimate, 0.209931, 5e-7, "kappa");
}

/// Gwet's example of 100 cases (kappa, its error, Scott's pi published; AC1 recomputed), and the paradox table of 125
/// cases (memory, recomputed): agreement on 94 % of cases with a kappa below zero.
#[test]
fn gwet_tables() {
    let counts = table(3, &[13, 0, 0, 0, 20, 7, 0, 4, 56]);
    let found = kappa(&counts);
    close(found.estimate, 0.7964094, 5e-8, "kappa");
    close(found.standard_error.unwrap(), 0.0589107, 5e-8, "se");
    close(found.observed, 0.89, 1e-12, "observed");
    close(scott_pi(&counts, level()).unwrap().estimate, 0.7962397, 5e-8, "pi");
    let ac1 = gwet_ac1(&RatingCounts::from_table(&counts), level());
    close(ac1.estimate, 0.8493305, 5e-8, "AC1");
    // Errors and intervals as a general agreement library prints them for raw ratings (irrCAC 0.4.4, Python). Its
    // function for tables divides by n instead of n − 1 and prints 0.04322 for the first.
    close(ac1.standard_error.unwrap(), 0.043435189, 5e-10, "AC1 se");
    close(ac1.interval.unwrap().lower(), 0.76314571, 5e-9, "AC1 lower");
    close(ac1.interval.unwrap().upper(), 0.935515387, 5e-10, "AC1 upper");
    let pi = scott_pi(&counts, level()).unwrap();
    close(pi.standard_error.unwrap(), 0.05935224, 5e-9, "pi se");
    close(pi.interval.unwrap().lower(), 0.678471975, 5e-10, "pi lower");
    close(pi.interval.unwrap().upper(), 0.914007417, 5e-10, "pi upper");

    let paradox = table(2, &[118, 5, 2, 0]);
    close(percent_agreement(&paradox).unwrap().estimate(), 0.944, 1e-12, "observed");
    close(kappa(&paradox).estimate, -0.023392, 5e-7, "kappa");
    close(gwet_ac1(&RatingCounts::from_table(&paradox), level()).estimate, 0.940776, 5e-7, "AC1");
}

fn ratings(text: &str) -> Vec<Option<f64>> {
    text.split_whitespace().map(|rating| rating.parse().ok()).collect()
}

/// Krippendorff 2004, Content Analysis, ch. 11: four watchers, twelve cases, gaps (data published; alphas to three
/// digits from memory, recomputed to six).
#[test]
fn krippendorff_4_by_12() {
    let data = ReliabilityData::new(&[
        ratings("1 2 3 3 2 1 4 1 2 . . ."),
        ratings("1 2 3 3 2 2 4 1 2 5 . 3"),
        ratings(". 3 3 3 2 3 4 2 2 5 1 ."),
        ratings("1 2 3 3 2 4 4 1 2 5 1 ."),
    ])
    .unwrap();
    assert_eq!((data.n_cases(), data.n_left_out()), (11, 1));
    for (metric, printed) in [
        (Metric::Nominal, 0.743421),
        (Metric::Ordinal, 0.815388),
        (Metric::Interval, 0.849107),
        (Metric::Ratio, 0.797403),
    ] {
        let alpha = krippendorff_alpha(&data, metric, level(), 2000, 7).unwrap();
        close(alpha.estimate, printed, 5e-7, &format!("{metric:?}"));
        let interval = alpha.interval.unwrap();
        assert!(interval.contains(alpha.estimate) && interval.width() > 0.1, "{interval:?}");
        // The seed decides: the same draws again, others with another.
        assert_eq!(alpha, krippendorff_alpha(&data, metric, level(), 2000, 7).unwrap());
        assert_ne!(interval, krippendorff_alpha(&data, metric, level(), 2000, 8).unwrap().interval.unwrap());
    }
}

/// Krippendorff's binary example (from memory, recomputed).
#[test]
fn krippendorff_binary() {
    let data =
        ReliabilityData::new(&[ratings("0 1 0 0 0 0 0 0 1 0"), ratings("1 1 1 0 0 1 0 0 0 0")]).unwrap();
    let alpha = krippendorff_alpha(&data, Metric::Nominal, level(), 500, 1).unwrap();
    close(alpha.estimate, 0.095238, 5e-7, "alpha");
}

/// Landis and Koch 1977, Biometrics 33:159: every bound belongs to the lower word.
#[test]
fn landis_and_koch_words() {
    use StrengthBand::*;
    let rows = [(-0.1, Poor), (0.0, Slight), (0.2, Slight), (0.21, Fair), (0.4, Fair), (0.41, Moderate)];
    for (estimate, word) in rows.into_iter().chain([
        (0.6, Moderate),
        (0.8, Substantial),
        (0.81, AlmostPerfect),
        (1.0, AlmostPerfect),
    ]) {
        assert_eq!(strength_band(estimate).unwrap(), word, "{estimate}");
    }
}

/// The ends: one category, full agreement, one case.
#[test]
fn ends_are_refused_or_carry_no_interval() {
    let one_category = table(2, &[20, 0, 0, 0]);
    let text = |error: StatsError| error.to_string();
    assert_eq!(
        text(cohen_kappa(&one_category, level()).unwrap_err()),
        "every agreement expected by chance is 1: there is no spread to work with"
    );
    assert!(fleiss_kappa(&RatingCounts::from_table(&one_category), level()).is_err());
    let certain = gwet_ac1(&RatingCounts::from_table(&one_category), level());
    assert_eq!((certain.estimate, certain.interval), (1.0, Err(NoInterval::NoSpreadSeen)));

    let full = table(2, &[12, 0, 0, 8]);
    assert_eq!((kappa(&full).estimate, kappa(&full).interval), (1.0, Err(NoInterval::NoSpreadSeen)));
    let pi = scott_pi(&full, level()).unwrap();
    assert_eq!((pi.estimate, pi.interval), (1.0, Err(NoInterval::NoSpreadSeen)));

    let one_case = table(2, &[0, 1, 0, 0]);
    assert_eq!(kappa(&one_case).interval, Err(NoInterval::OneCase));
    assert_eq!(kappa(&one_case).estimate, 0.0);

    let same = ReliabilityData::new(&[ratings("3 3 3"), ratings("3 3 3")]).unwrap();
    assert!(krippendorff_alpha(&same, Metric::Interval, level(), 100, 1).is_err());
    let negative = ReliabilityData::new(&[ratings("-3 3 3"), ratings("3 3 3")]).unwrap();
    assert_eq!(
        text(krippendorff_alpha(&negative, Metric::Ratio, level(), 100, 1).unwrap_err()).split(" is").next(),
        Some("rating on a ratio scale -3")
    );
    assert!(ReliabilityData::new(&[ratings("1 2"), ratings("1")]).is_err());
    assert!(ReliabilityData::new(&[[Some(f64::NAN)], [Some(1.0)]]).is_err());
}

/// Ratings 0 v / 0 0: Do = v²/2 and De = v²/2, so α is 0 in any unit, by hand; a draw of the first case twice has 8 v².
#[test]
fn huge_ratings_give_no_figure_past_the_largest_double() {
    let alpha = |v: f64| {
        let data = ReliabilityData::new(&[[Some(0.0), Some(0.0)], [Some(v), Some(0.0)]]).unwrap();
        krippendorff_alpha(&data, Metric::Interval, level(), 1000, 1)
    };
    let found = alpha(5e153).unwrap();
    assert!(found.estimate.abs() < 1e-15, "{}", found.estimate);
    assert_eq!(found.standard_error, None);
    assert!(matches!(found.interval, Err(NoInterval::TooFewResamples { .. })), "{:?}", found.interval);
    assert!(alpha(1e200).is_err());
}
