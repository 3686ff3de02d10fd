//! Invented results of 18 months.

use breakdown::ItemId;
use desk::{
    Charted, Fill, Finding, MonthReport, MonthRow, PointFacts, Results, TrainingFacts, UnitRow, VerdictCounts,
};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use stats::charts::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis, Rule, Signal};

use super::{TODAY, contaminated, rate, withheld};

pub const RULE: &str = "one set of two or more within 24 h, version 1";

/// Contaminated and closed sets of each month from September 2024.
const MONTHS: [(u64, u64); 18] = [
    (5, 71),
    (4, 66),
    (6, 80),
    (3, 74),
    (5, 69),
    (13, 82),
    (4, 77),
    (5, 70),
    (3, 79),
    (4, 81),
    (2, 75),
    (3, 88),
    (2, 83),
    (3, 90),
    (1, 86),
    (2, 94),
    (1, 99),
    (3, 96),
];

pub fn months() -> Vec<Date> {
    (0..18).map(|n| date(2024, 9, 1) + n.months()).collect()
}

fn counts(contaminated: u64, closed: u64) -> VerdictCounts {
    let true_positive = closed / 10;
    VerdictCounts {
        sets: closed + 7,
        contaminated,
        true_positive,
        negative: closed - contaminated - true_positive,
        undetermined: 3,
        provisional: 2,
        excluded: 2,
    }
}

fn month_rows() -> Vec<MonthRow> {
    months()
        .into_iter()
        .zip(MONTHS)
        .map(|(month, (events, of))| MonthRow {
            month,
            counts: counts(events, of),
            contamination: contaminated(events, of),
        })
        .collect()
}

fn unit(name: &str, events: u64, of: u64) -> UnitRow {
    UnitRow { name: name.into(), counts: counts(events, of), contamination: contaminated(events, of) }
}

fn chart() -> Charted {
    let limits = |centre: f64, n: f64| {
        let half = 3.0 * (centre * (1.0 - centre) / n).sqrt();
        ((centre - half > 0.0).then_some(centre - half), Some(centre + half))
    };
    let points: Vec<ChartPoint> = MONTHS
        .iter()
        .enumerate()
        .map(|(index, (events, of))| {
            let centre = if index < 10 { 0.055 } else { 0.024 };
            let (n, value) = (*of as f64, *events as f64 / *of as f64);
            let (lower, upper) = limits(centre, n);
            ChartPoint {
                value,
                n: Some(n),
                centre,
                lower,
                upper,
                outside: upper.is_some_and(|upper| value > upper),
            }
        })
        .collect();
    Charted {
        chart: ControlChart {
            kind: ChartKind::PNormal,
            why: "A p chart, because every month has a count of sets and a count of contaminated sets."
                .into(),
            points,
            signals: vec![Signal {
                rule: Rule::BeyondLimit,
                from: 5,
                to: 5,
                sentence: "Point 6 is above the upper limit.".into(),
            }],
            phases: vec![
                Phase {
                    name: "before".into(),
                    from: 0,
                    to: 9,
                    basis: PhaseBasis::OwnPoints,
                    centre: 0.055,
                    n_basis: 10,
                },
                Phase {
                    name: "after".into(),
                    from: 10,
                    to: 17,
                    basis: PhaseBasis::OwnPoints,
                    centre: 0.024,
                    n_basis: 8,
                },
            ],
        },
        labels: months().iter().map(|month| format!("{:04}-{:02}", month.year(), month.month())).collect(),
        title: "Contaminated sets by month of collection".into(),
        value_axis: "Contaminated sets, share of closed sets".into(),
        of_what: "closed sets".into(),
        percent: true,
        anchor: "p_chart_exact".into(),
    }
}

fn fill() -> Fill {
    Fill {
        bottles: 1790,
        unknown: 802,
        mean_ml: 7.6,
        under: rate(734, 1790, "bottles under the range", "bottles with a known volume"),
        within: rate(912, 1790, "bottles within the range", "bottles with a known volume"),
        over: rate(144, 1790, "bottles over the range", "bottles with a known volume"),
        range: "8 to 10 mL in an adult bottle; common practice, the laboratory’s instructions decide".into(),
    }
}

pub fn results() -> Results {
    let (events, of) = MONTHS.iter().fold((0, 0), |(e, n), (events, of)| (e + events, n + of));
    Results {
        as_of: TODAY,
        rule: RULE.into(),
        from: date(2024, 9, 1),
        to: date(2026, 2, 28),
        counts: counts(events, of),
        contamination: contaminated(events, of),
        chart: Ok(chart()),
        months: month_rows(),
        units: vec![
            unit("Larkfield Critical Care Unit, north bay", 31, 702),
            unit("Larkfield Critical Care Unit, south bay", 37, 738),
            unit("Step-down room", 1, 14),
        ],
        routes: vec![unit("vein", 33, 1011), unit("central line", 28, 340), unit("arterial line", 3, 72), unit("not recorded", 5, 37)],
        shifts: vec![unit("day", 30, 801), unit("night", 39, 659)],
        by_standing: vec![unit("released", 34, 980), unit("learning, watched", 9, 190), unit("not on record", 26, 290)],
        single_sets: rate(188, 842, "series with exactly one set", "series"),
        positivity: rate(231, 1460, "sets with growth of any kind", "sets with a closed result"),
        fill: Ok(fill()),
        unknown_collectors: rate(61, 1467, "sets without a collector", "sets"),
        change: vec![
            Finding {
                sentence: "Since the training began in July 2025 the rate fell by 2.9 points (95 % between 1.1 and 4.7); this compares before with after and cannot prove the cause.".into(),
                anchor: "difference_newcombe".into(),
            },
            Finding {
                sentence: "Month by month: 9.5 fewer than the trend gave (95 % interval 4.0 more to 23.0 fewer). Cannot tell.".into(),
                anchor: "segmented_regression".into(),
            },
        ],
    }
}

pub fn none() -> Results {
    let nothing = || withheld(0, 0, "no closed set");
    Results {
        as_of: TODAY,
        rule: RULE.into(),
        from: TODAY,
        to: TODAY,
        counts: VerdictCounts::default(),
        contamination: nothing(),
        chart: Err("a chart needs at least 8 months with sets, and there are none".into()),
        months: Vec::new(),
        units: Vec::new(),
        routes: Vec::new(),
        shifts: Vec::new(),
        by_standing: Vec::new(),
        single_sets: nothing(),
        positivity: nothing(),
        fill: Err("no bottle was weighed".into()),
        unknown_collectors: nothing(),
        change: Vec::new(),
    }
}

pub fn report(month: Date) -> MonthReport {
    let this_month = month_rows().into_iter().find(|row| row.month == month).expect("a month with a report");
    let point = |step, number, text: &str, safety, said, done| PointFacts {
        job: breakdown::JobCode("vein".into()),
        item: ItemId::key_point(step, number),
        text: text.into(),
        safety,
        said: desk::Asked { open: said, of: 21 },
        done: desk::Asked { open: done, of: 34 },
    };
    MonthReport {
        unit: "Larkfield Critical Care Unit".into(),
        month,
        as_of: TODAY,
        rule: RULE.into(),
        this_month,
        last_twelve: contaminated(30, 1018),
        last_twelve_named: "The twelve months up to this one".to_owned(),
        chart: Ok(chart()),
        findings: vec![
            "February 2025 is above the upper limit: more than chance explains.".into(),
            "Since July 2025 every month lies below the earlier centre line.".into(),
        ],
        units: vec![unit("north bay", 1, 47), unit("south bay", 2, 49)],
        routes: vec![unit("vein", 1, 70), unit("central line", 2, 26)],
        single_sets: rate(9, 51, "series with exactly one set", "series"),
        fill: Err("no bottle was weighed this month".into()),
        unknown_collectors: rate(4, 98, "sets without a collector", "sets"),
        training: TrainingFacts {
            people: 14,
            released: vec![("Vein draw, adult, one set".into(), 9), ("Central line draw, adult".into(), 4)],
            teachbacks: 7,
            draws: 12,
            spot_checks: 3,
            releases: 1,
            overdue: 2,
        },
        most_missed: vec![
            point(3, 3, "let it dry fully, do not wipe or blow", false, 9, 6),
            point(6, 1, "label at the bedside after filling, before leaving", true, 3, 2),
        ],
        staff_room: "3 contaminated of 96 sets in February. One thing for March: let the skin dry.".into(),
    }
}
