use chart::{Labels, Layout, Look, NumberedSignal, Palette, control_chart, numbered_signals};
use desk::{Charted, Fill, MonthReport, PointFacts, TrainingFacts, UnitRow, VerdictCounts};
use typst::foundations::Value;

use crate::error::{PaperError, PaperName};
use crate::press::{drawable, print};
use crate::printing::Printing;
use crate::value::{date, dict, drawing, list, named, optional, text, texts};
use crate::words::{day, month, rate, shorten};

/// One month of the unit, for the staff room and the committee: no individual figures.
///
/// Every figure stands with its denominator and its interval or the reason why it has none, the day it was worked
/// out and the rule behind it.
///
/// # Errors
/// [`PaperError::Date`] when a date of the report cannot be printed.
pub fn month_report(report: &MonthReport, printing: &Printing) -> Result<Vec<u8>, PaperError> {
    let paper = PaperName::MonthReport;
    let printed = date(report.as_of).ok_or(PaperError::Date { paper, year: report.as_of.year() })?;
    let facts = dict([
        ("size", text(printing.size.name())),
        ("notice", optional(printing.notice)),
        ("date", printed),
        ("unit", text(&report.unit)),
        ("unit-short", text(&shorten(&report.unit, 44))),
        ("month", text(&month(report.month))),
        ("as-of", text(&day(report.as_of))),
        ("rule", text(&report.rule)),
        ("counts", counts(&report.this_month.counts)),
        ("contamination", rate(&report.this_month.contamination)),
        ("last-twelve", rate(&report.last_twelve)),
        ("last-twelve-named", text(&report.last_twelve_named)),
        ("chart", charted(report)),
        ("findings", texts(&report.findings)),
        ("units", list(report.units.iter().map(stratum))),
        ("routes", list(report.routes.iter().map(stratum))),
        ("single-sets", rate(&report.single_sets)),
        ("fill", fill(&report.fill)),
        ("unknown", rate(&report.unknown_collectors)),
        ("training", training(&report.training)),
        ("most-missed", list(report.most_missed.iter().map(point))),
        ("staff-room", text(&report.staff_room)),
        ("methods", texts(&methods(report))),
    ]);
    print(paper, facts)
}

fn counts(counts: &VerdictCounts) -> Value {
    let number = |count: u64| text(&count.to_string());
    named([
        ("sets", number(counts.sets)),
        ("contaminated", number(counts.contaminated)),
        ("true-positive", number(counts.true_positive)),
        ("negative", number(counts.negative)),
        ("undetermined", number(counts.undetermined)),
        ("provisional", number(counts.provisional)),
        ("excluded", number(counts.excluded)),
        ("is-provisional", Value::Bool(counts.provisional > 0)),
    ])
}

fn stratum(row: &UnitRow) -> Value {
    named([
        ("name", text(&row.name)),
        ("rate", rate(&row.contamination)),
        ("provisional", text(&row.counts.provisional.to_string())),
        ("undetermined", text(&row.counts.undetermined.to_string())),
    ])
}

fn charted(report: &MonthReport) -> Value {
    let charted = match &report.chart {
        Ok(charted) => charted,
        Err(reason) => return named([("withheld", text(reason))]),
    };
    let labels = chart_labels(charted);
    let look = Look {
        layout: Layout::Wide,
        palette: Palette::Print,
        id: "month".to_owned(),
        font_family: Some("Libertinus Serif".to_owned()),
        ..Look::default()
    };
    // The drawing is text for a program that draws; what its fonts lack must be replaced here as well.
    let svg = drawable(&control_chart(&charted.chart, &labels, &look));
    let signals = numbered_signals(&charted.chart, &labels);
    let signal = |signal: &NumberedSignal| {
        let number = text(&signal.number.to_string());
        named([("number", number), ("place", text(&signal.place)), ("sentence", text(&signal.sentence))])
    };
    let instead = format!(
        "{}: {} points from {} to {}, {}.",
        charted.title,
        charted.chart.points.len(),
        charted.labels.first().map_or("", String::as_str),
        charted.labels.last().map_or("", String::as_str),
        match signals.len() {
            0 => "no signal".to_owned(),
            1 => "1 signal, described below".to_owned(),
            n => format!("{n} signals, described below"),
        },
    );
    named([
        ("drawing", drawing(svg, &instead)),
        ("title", text(&charted.title)),
        ("why", text(&charted.chart.why)),
        ("anchor", text(&charted.anchor)),
        ("signals", list(signals.iter().map(signal))),
    ])
}

fn chart_labels(charted: &Charted) -> Labels {
    Labels {
        title: charted.title.clone(),
        description: String::new(),
        point_labels: charted.labels.clone(),
        value_axis: charted.value_axis.clone(),
        of_what: charted.of_what.clone(),
        percent: charted.percent,
        anchor_href: None,
    }
}

fn fill(fill: &Result<Fill, String>) -> Value {
    match fill {
        Err(reason) => named([("withheld", text(reason))]),
        Ok(fill) => named([
            ("bottles", text(&fill.bottles.to_string())),
            ("unknown", text(&fill.unknown.to_string())),
            (
                "mean",
                text(&if fill.mean_ml.is_finite() {
                    format!("{:.1} mL", fill.mean_ml)
                } else {
                    "no value".to_owned()
                }),
            ),
            ("under", rate(&fill.under)),
            ("within", rate(&fill.within)),
            ("over", rate(&fill.over)),
            ("range", text(&fill.range)),
        ]),
    }
}

fn training(training: &TrainingFacts) -> Value {
    let number = |count: u64| text(&count.to_string());
    let released = |(job, count): &(String, u64)| named([("job", text(job)), ("released", number(*count))]);
    named([
        ("people", number(training.people)),
        ("released", list(training.released.iter().map(released))),
        ("teachbacks", number(training.teachbacks)),
        ("draws", number(training.draws)),
        ("spot-checks", number(training.spot_checks)),
        ("releases", number(training.releases)),
        ("overdue", number(training.overdue)),
    ])
}

fn point(point: &PointFacts) -> Value {
    let asked = |asked: &desk::Asked| {
        text(&if asked.of == 0 {
            "never asked".to_owned()
        } else {
            format!("{} of {}", asked.open, asked.of)
        })
    };
    named([
        ("place", text(&format!("{} {}", point.job, point.item))),
        ("words", text(&point.text)),
        ("safety", Value::Bool(point.safety)),
        ("said", asked(&point.said)),
        ("done", asked(&point.done)),
    ])
}

/// The methods behind the figures, each once, in the order in which they are met.
fn methods(report: &MonthReport) -> Vec<String> {
    let shown = |rate: &desk::Rate| match &rate.share {
        desk::Share::Shown { method, anchor, .. } => Some((method.clone(), anchor.clone())),
        desk::Share::Withheld(_) => None,
    };
    let mut rates = vec![&report.this_month.contamination, &report.last_twelve];
    rates.extend(report.units.iter().chain(&report.routes).map(|row| &row.contamination));
    rates.extend([&report.single_sets, &report.unknown_collectors]);
    if let Ok(fill) = &report.fill {
        rates.extend([&fill.under, &fill.within, &fill.over]);
    }
    let chart =
        report.chart.iter().map(|charted| (charted.chart.kind.name().to_owned(), charted.anchor.clone()));
    let mut lines: Vec<String> = Vec::new();
    for (method, anchor) in rates.into_iter().filter_map(shown).chain(chart) {
        let line = format!("{method}: docs/methods.md#{anchor}");
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines
}
