//! Writes a page with every chart in both layouts, to be looked at: `cargo run --example charts -- charts.html`.
//! All numbers are invented.

use chart::{Interval, IntervalRow, Labels, Look, control_chart, interval_plot};
use stats::Proportion;
use stats::StatsError;
use stats::charts::{
    ChartOptions, ControlChart, GCentre, GLimits, PLimits, PhasePlan, g_chart, individuals_chart, p_chart,
};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let path = std::env::args().nth(1).unwrap_or_else(|| "charts.html".to_owned());
    let mut page = String::from(
        "<!doctype html><meta charset=utf-8><meta name=viewport content=\"width=device-width\"><style>\
         :root{color-scheme:light dark}body{font-family:system-ui,sans-serif;margin:10px;max-width:1100px}\
         svg{max-width:100%;display:block;margin:0 0 24px}.chart-narrow{width:340px}</style>",
    );
    for (index, (chart, labels)) in charts()?.into_iter().enumerate() {
        for look in [Look::page(&format!("w{index}")), Look::narrow_page(&format!("n{index}"))] {
            page.push_str(&control_chart(&chart, &labels, &look));
        }
        page.push_str(&control_chart(&chart, &labels, &Look::file(&format!("f{index}"))));
    }
    let (rows, labels) = units();
    for look in [Look::page("iw"), Look::narrow_page("in"), Look::file("if")] {
        page.push_str(&interval_plot(&rows, Some((0.03, "target 3 %")), &labels, &look));
    }
    Ok(std::fs::write(path, page)?)
}

fn charts() -> Result<Vec<(ControlChart, Labels)>, StatsError> {
    let before = [(7, 101), (6, 96), (5, 110), (8, 102), (18, 118), (6, 97), (7, 99), (5, 104), (6, 92)];
    let after = [(3, 105), (2, 99), (0, 3), (1, 101), (2, 120), (0, 95), (1, 104), (2, 98), (1, 99)];
    let months: Vec<(u64, u64)> = before.iter().chain(&after).copied().collect();
    let shares = |n_months: usize| {
        let months = months.iter().cycle().take(n_months);
        months.map(|(events, sets)| Proportion::new(*events, *sets)).collect::<Result<Vec<_>, _>>()
    };
    let options = |plan: PhasePlan| ChartOptions { plan, ..ChartOptions::default() };
    let split = options(PhasePlan::before_and_after(9));
    let frozen = options(PhasePlan::baseline_then_frozen(9));
    let gaps = [12, 31, 8, 22, 3, 40, 17, 60, 95, 44, 130, 71, 88, 52];
    let readings = [8.2, 8.9, 7.4, 8.0, 8.8, 9.1, 7.9, 8.4, 12.9, 8.6, 8.3, 7.7];
    let plain = |value_axis: &str, n_points: usize| Labels {
        percent: false,
        of_what: String::new(),
        value_axis: value_axis.to_owned(),
        ..labels(n_points)
    };
    Ok(vec![
        (p_chart(&shares(18)?, PLimits::ExactBinomial, &split)?, labels(18)),
        (p_chart(&shares(18)?, PLimits::ExactBinomial, &frozen)?, labels(18)),
        (p_chart(&shares(60)?, PLimits::ExactBinomial, &ChartOptions::default())?, labels(60)),
        (
            g_chart(&gaps, GCentre::default(), GLimits::default(), &ChartOptions::default())?,
            plain("sets between contaminated sets", 14),
        ),
        (individuals_chart(&readings, &ChartOptions::default())?, plain("mean fill, mL", 12)),
    ])
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
