//! Contaminated sets before and after, or by group, as hospitals published them. The numbers a trainer will set beside
//! their own must come out as they were printed.

use stats::proportion::{TwoByTwo, difference_newcombe, fisher_exact, risk_ratio_katz, wilson};
use stats::{ConfidenceLevel, Proportion};

struct Study {
    /// Author, year, journal; what was compared.
    source: &'static str,
    first: (u64, u64),
    second: (u64, u64),
    /// Rates in per cent as published or worked out from the published counts.
    percent: (f64, f64),
    /// Whether the study called the difference significant at 5 %.
    differs: bool,
}

const STUDIES: [Study; 7] = [
    Study {
        source: "Self 2013, Acad Emerg Med 20:89: emergency department, 48 weeks each, before and after",
        first: (321, 7389),
        second: (111, 6590),
        percent: (4.344, 1.684),
        differs: true,
    },
    Study {
        source: "Gander 2009, J Clin Microbiol 47:1021: other staff against phlebotomists",
        first: (122, 1650),
        second: (62, 2012),
        percent: (7.3939, 3.0815),
        differs: true,
    },
    Study {
        source: "Gander 2009, J Clin Microbiol 47:1021: other area against phlebotomists",
        first: (100, 1770),
        second: (62, 2012),
        percent: (5.6497, 3.0815),
        differs: true,
    },
    Study {
        source: "Calfee and Farr 2002, J Clin Microbiol: four antiseptics, before and after",
        first: (413, 12859),
        second: (333, 12692),
        percent: (3.2118, 2.6237),
        differs: true,
    },
    Study {
        source: "Kiyoyama 2009, J Clin Microbiol: two antiseptics",
        first: (13, 2797),
        second: (12, 2856),
        percent: (0.4648, 0.4202),
        differs: false,
    },
    Study {
        source: "Boyce 2013, Infect Control Hosp Epidemiol: before and after",
        first: (84, 5274),
        second: (21, 4245),
        percent: (1.5927, 0.4947),
        differs: true,
    },
    Study {
        source: "Patton and Schmitt 2010, J Clin Microbiol 48:4501: first bottle, without and with diversion of 1 mL",
        first: (30, 1061),
        second: (37, 2672),
        percent: (2.8275, 1.3847),
        differs: true,
    },
];

fn counts((events, trials): (u64, u64)) -> Proportion {
    Proportion::new(events, trials).expect("published counts")
}

#[test]
fn rates_are_as_published_and_lie_in_their_intervals() {
    for study in &STUDIES {
        for (seen, percent) in [(study.first, study.percent.0), (study.second, study.percent.1)] {
            let seen = counts(seen);
            // Printed to three or four decimals.
            assert!((seen.estimate() * 100.0 - percent).abs() < 6e-4, "{}: {percent}", study.source);
            assert!(wilson(seen, ConfidenceLevel::default()).contains(percent / 100.0), "{}", study.source);
        }
    }
}

#[test]
fn the_interval_of_the_difference_agrees_with_what_the_study_concluded() {
    for study in &STUDIES {
        let interval =
            difference_newcombe(counts(study.first), counts(study.second), ConfidenceLevel::default());
        assert_eq!(!interval.contains(0.0), study.differs, "{}: {interval:?}", study.source);
    }
}

#[test]
fn risk_ratios_are_as_published() {
    // Calfee and Farr 2002: 0.82 (0.71 to 0.94); from the counts 0.8169 (0.7086 to 0.9418).
    // Kiyoyama 2009: 0.90 (0.41 to 1.98); from the counts 0.9040 (0.4132 to 1.9778).
    for (second, first, wanted) in [
        ((333, 12692), (413, 12859), [0.8169, 0.7086, 0.9418]),
        ((12, 2856), (13, 2797), [0.9040, 0.4132, 1.9778]),
    ] {
        let estimate = risk_ratio_katz(counts(second), counts(first), ConfidenceLevel::default())
            .expect("events on both sides");
        let found = [estimate.ratio, Some(estimate.lower), estimate.upper];
        for (found, wanted) in found.into_iter().zip(wanted) {
            let found = found.expect("a bound on both sides");
            assert!((found - wanted).abs() < 6e-5, "{found} against {wanted}");
        }
    }
}

#[test]
fn fishers_test_gives_the_published_size() {
    // Two-sided, from the published counts: Gander 2009 other area 1.0485e-4; Patton and Schmitt 2010 0.003919.
    for (first, second, wanted) in [((62, 2012), (100, 1770), 1.0485e-4), ((37, 2672), (30, 1061), 0.003_919)]
    {
        let found =
            fisher_exact(TwoByTwo::new(counts(first), counts(second)).expect("small enough")).two_sided.get();
        assert!((found - wanted).abs() < 6e-4 * wanted, "{found} against {wanted}");
    }
}
