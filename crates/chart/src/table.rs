use stats::charts::ControlChart;

use crate::labels::Labels;
use crate::text::{events_of, number_text, outside_words, point_label, value_text};

/// One point of a control chart in words, for the table beside the drawing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableRow {
    /// Label of the point.
    pub label: String,
    /// Numerator, where the value is a share of its denominator.
    pub events: Option<String>,
    /// Denominator, where there is one.
    pub of: Option<String>,
    /// Value as the reader sees it.
    pub value: String,
    /// Lower limit; `None` where no value could fall below it.
    pub lower: Option<String>,
    /// Centre line.
    pub centre: String,
    /// Upper limit; `None` where no value could rise above it.
    pub upper: Option<String>,
    /// Name of the phase; empty outside every phase.
    pub phase: String,
    /// What is remarkable about the point: "above the upper limit of 6.2 %", "in signal 2".
    pub remarks: Vec<String>,
}

/// Every point of a control chart as a row of text.
pub fn control_chart_table(chart: &ControlChart, labels: &Labels) -> Vec<TableRow> {
    let row = |(index, point): (usize, &stats::charts::ChartPoint)| {
        let shown = |value: f64| value_text(value, labels.percent);
        let limit = |limit: Option<f64>| limit.filter(|value| value.is_finite()).map(shown);
        let phase = chart.phases.iter().find(|phase| (phase.from..=phase.to).contains(&index));
        let in_signals = (1..).zip(&chart.signals).filter(|(_, s)| (s.from..=s.to).contains(&index));
        let remarks = outside_words(point, labels.percent)
            .into_iter()
            .chain(in_signals.map(|(number, _)| format!("in signal {number}")))
            .collect();
        TableRow {
            label: point_label(labels, index),
            events: events_of(chart.kind, point).map(|(events, _)| number_text(events)),
            of: point.n.filter(|n| n.is_finite()).map(number_text),
            value: shown(point.value),
            lower: limit(point.lower),
            centre: shown(point.centre),
            upper: limit(point.upper),
            phase: phase.map(|phase| phase.name.clone()).unwrap_or_default(),
            remarks,
        }
    };
    chart.points.iter().enumerate().map(row).collect()
}

/// A signal as it is listed beside the drawing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NumberedSignal {
    /// Number drawn in the chart, counted from 1.
    pub number: usize,
    /// Labels of the points concerned: "2026-03" or "2025-07 to 2026-02".
    pub place: String,
    /// The finding in one plain sentence.
    pub sentence: String,
}

/// The signals of a chart with the numbers drawn beside them.
pub fn numbered_signals(chart: &ControlChart, labels: &Labels) -> Vec<NumberedSignal> {
    let numbered = |(number, signal): (usize, &stats::charts::Signal)| {
        let (from, to) = (point_label(labels, signal.from), point_label(labels, signal.to));
        let place = if signal.from == signal.to { from } else { format!("{from} to {to}") };
        NumberedSignal { number, place, sentence: signal.sentence.clone() }
    };
    (1..).zip(&chart.signals).map(numbered).collect()
}
