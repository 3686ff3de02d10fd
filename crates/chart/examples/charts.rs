//! Writes a page with every chart in both layouts, to be looked at: `cargo run --example charts -- charts.html`.
//! All numbers are invented and the limits are rough: the drawing is what is looked at here.

use chart::{Interval, IntervalRow, Labels, Look, control_chart, interval_plot};
use stats::charts::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis, Rule, Signal};

fn main() -> std::io::Result<()> {
    let path = std::env::args().nth(1).unwrap_or_else(|| "charts.html".to_owned());
    let mut page = String::from(
        "<!doctype html><meta charset=utf-8><meta name=viewport content=\"width=device-width\"><style>\
         :root{color-scheme:light dark}body{font-family:system-ui,sans-serif;margin:10px;max-width:1100px}\
         svg{max-width:100%;display:block;margin:0 0 24px}.chart-narrow{width:340px}</style>",
    );
    for (index, (chart, labels)) in charts().into_iter().enumerate() {
        for look in [Look::page(&format!("w{index}")), Look::narrow_page(&format!("n{index}"))] {
            page.push_str(&control_chart(&chart, &labels, &look));
        }
        page.push_str(&control_chart(&chart, &labels, &Look::file(&format!("f{index}"))));
    }
    let (rows, labels) = units();
    for look in [Look::page("iw"), Look::narrow_page("in"), Look::file("if")] {
        page.push_str(&interval_plot(&rows, Some((0.03, "target 3 %")), &labels, &look));
    }
    std::fs::write(path, page)
}

fn charts() -> Vec<(ControlChart, Labels)> {
    let before = [(7, 101), (6, 96), (5, 110), (8, 102), (15, 118), (6, 97), (7, 99), (5, 104), (6, 92)];
    let after = [(3, 105), (2, 99), (0, 3), (1, 101), (2, 120), (0, 95), (1, 104), (2, 98), (1, 99)];
    let long: Vec<(u32, u32)> = before.iter().chain(&after).cycle().take(60).copied().collect();
    vec![
        (shares(&before, &after), labels(18)),
        (shares(&before[..1], &[]), labels(1)),
        (shares(&long[..30], &long[30..]), labels(60)),
    ]
}

fn shares(before: &[(u32, u32)], after: &[(u32, u32)]) -> ControlChart {
    let mut points = Vec::new();
    let mut phases = Vec::new();
    let mut signals = Vec::new();
    for (name, months) in [("before the training", before), ("after", after)] {
        let from = points.len();
        let total: (u32, u32) = months.iter().fold((0, 0), |sum, month| (sum.0 + month.0, sum.1 + month.1));
        let centre = f64::from(total.0) / f64::from(total.1.max(1));
        for (events, n) in months {
            let n = f64::from(*n);
            let value = f64::from(*events) / n;
            let reach = 3.0 * (centre * (1.0 - centre) / n).sqrt();
            let (lower, upper) = (Some(centre - reach).filter(|l| *l > 0.0), Some(centre + reach));
            let outside = value > centre + reach;
            if outside {
                let (rule, at) = (Rule::BeyondLimit, points.len());
                let sentence = format!("Point {} is above the upper limit.", at + 1);
                signals.push(Signal { rule, from: at, to: at, sentence });
            }
            points.push(ChartPoint { value, n: Some(n), centre, lower, upper, outside });
        }
        if !months.is_empty() {
            let (to, basis, n_basis) = (points.len() - 1, PhaseBasis::OwnPoints, months.len());
            phases.push(Phase { name: name.to_owned(), from, to, basis, centre, n_basis });
        }
    }
    if after.len() == 9 {
        let sentence = "Points 10 to 17 lie on one side of the centre line.".to_owned();
        signals.push(Signal { rule: Rule::EightOnOneSide, from: 9, to: 16, sentence: sentence.clone() });
        signals.push(Signal { rule: Rule::TwoOfThreeBeyondTwoSigma, from: 14, to: 16, sentence });
    }
    ControlChart { kind: ChartKind::PExact, why: "Invented.".to_owned(), points, signals, phases }
}

fn labels(n_months: usize) -> Labels {
    Labels {
        title: "Contaminated sets by month, Larkfield Critical Care Unit (invented)".to_owned(),
        description: "Share of closed sets judged contaminated.".to_owned(),
        point_labels: (0..n_months).map(|k| format!("{}-{:02}", 2021 + k / 12, k % 12 + 1)).collect(),
        value_axis: "contaminated sets, share of sets with a closed result".to_owned(),
        of_what: "sets".to_owned(),
        percent: true,
        anchor_href: Some("/methods#p-chart".to_owned()),
    }
}

fn units() -> (Vec<IntervalRow>, Labels) {
    let row = |label: &str, interval: Option<(f64, f64, f64)>, note: &str| IntervalRow {
        label: label.to_owned(),
        interval: interval.and_then(|(estimate, lower, upper)| Interval::new(estimate, lower, upper)),
        note: note.to_owned(),
    };
    let rows = vec![
        row("Larkfield East", Some((0.034, 0.013, 0.084)), "4 of 118 sets"),
        row("Larkfield West", Some((0.061, 0.033, 0.112)), "9 of 147 sets"),
        row("Emergency", None, "1 of 12 sets: too few for a share"),
        row("Step-down unit with a rather long name that goes on", Some((0.0, 0.0, 0.0597)), "0 of 60 sets"),
    ];
    let labels = Labels {
        title: "Contaminated sets by unit (invented)".to_owned(),
        value_axis: "contaminated sets, share of closed sets, with 95 % Wilson interval".to_owned(),
        percent: true,
        ..Labels::default()
    };
    (rows, labels)
}
