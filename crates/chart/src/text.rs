use std::fmt::Write as _;

use stats::charts::{ChartKind, ChartPoint};

use crate::labels::Labels;

/// Text safe inside an element or a quoted attribute. Characters that XML cannot hold become U+FFFD.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' | '\r' => out.push(' '),
            '\u{FFFE}' | '\u{FFFF}' => out.push('\u{FFFD}'),
            control if control.is_control() => out.push('\u{FFFD}'),
            plain => out.push(plain),
        }
    }
    out
}

/// A value as a reader sees it: "3.4 %" for a fraction shown as a percentage, else at most three decimals.
pub(crate) fn value_text(value: f64, percent: bool) -> String {
    if !(value * 100.0).is_finite() {
        return "no value".to_owned();
    }
    if !percent {
        return number_text(value);
    }
    match value * 100.0 {
        huge if huge.abs() >= TOO_LONG => format!("{huge:.1e} %"),
        shown => format!("{:.1} %", without_minus_zero(shown, 1)),
    }
}

/// From here on a number is written with an exponent, or it would not fit beside the chart.
const TOO_LONG: f64 = 1e7;

/// A plain number: whole where it is whole, else two decimals, or three significant ones below one.
pub(crate) fn number_text(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= TOO_LONG => return format!("{value:.1e}"),
        size if (size - size.round()).abs() < 1e-9 => 0,
        size if size >= 100.0 => 1,
        size if size >= 1.0 => 2,
        _ => 3,
    };
    format!("{:.decimals$}", without_minus_zero(value, decimals))
}

/// A tick of an axis; percentages carry their sign.
pub(crate) fn tick_text(shown: f64, decimals: usize, percent: bool) -> String {
    let sign = if percent { " %" } else { "" };
    if shown.abs() >= TOO_LONG {
        return format!("{shown:.1e}{sign}");
    }
    format!("{shown:.decimals$}{sign}")
}

fn without_minus_zero(value: f64, decimals: usize) -> f64 {
    let half_step = 0.5 / 10_f64.powi(decimals as i32);
    if value.abs() < half_step { 0.0 } else { value }
}

/// Label of a point, or its number where it has none.
pub(crate) fn point_label(labels: &Labels, index: usize) -> String {
    match labels.point_labels.get(index) {
        Some(label) if !label.trim().is_empty() => label.clone(),
        _ => format!("point {}", index + 1),
    }
}

/// Numerator and denominator of a point that is a share, when the value is that share exactly.
pub(crate) fn events_of(kind: ChartKind, point: &ChartPoint) -> Option<(f64, f64)> {
    let is_share =
        matches!(kind, ChartKind::PNormal | ChartKind::PExact | ChartKind::PPrime | ChartKind::Run);
    let n = point.n.filter(|n| n.is_finite() && *n > 0.0)?;
    let events = point.value * n;
    let whole = events.round();
    (is_share && (0.0..=1.0).contains(&point.value) && (events - whole).abs() < 1e-6 * n.max(1.0))
        .then_some((whole, n))
}

/// One sentence for a point: "2026-03: 4 of 118 sets = 3.4 %; above the upper limit of 2.9 %".
pub(crate) fn point_sentence(kind: ChartKind, point: &ChartPoint, labels: &Labels, index: usize) -> String {
    let mut text = format!("{}: ", point_label(labels, index));
    let of_what = labels.of_what.trim();
    let of_what = if of_what.is_empty() { String::new() } else { format!(" {of_what}") };
    let value = value_text(point.value, labels.percent);
    // Writing to a string cannot fail.
    let _ = match (events_of(kind, point), point.n.filter(|n| n.is_finite())) {
        (Some((events, n)), _) => {
            write!(text, "{} of {}{of_what} = {value}", number_text(events), number_text(n))
        }
        (None, Some(n)) => write!(text, "{value}, from {}{of_what}", number_text(n)),
        (None, None) => write!(text, "{value}"),
    };
    if let Some(words) = outside_words(point, labels.percent) {
        text.push_str("; ");
        text.push_str(&words);
    }
    text
}

/// Where a point lies when it is beyond a limit.
pub(crate) fn outside_words(point: &ChartPoint, percent: bool) -> Option<String> {
    if !point.outside {
        return None;
    }
    let upper = point.upper.filter(|limit| point.value > *limit);
    let lower = point.lower.filter(|limit| point.value < *limit);
    Some(match (upper, lower) {
        (Some(limit), _) => format!("above the upper limit of {}", value_text(limit, percent)),
        (_, Some(limit)) => format!("below the lower limit of {}", value_text(limit, percent)),
        _ => "beyond a limit".to_owned(),
    })
}

/// Breaks text into lines of at most `most` characters at spaces; a longer word stands alone.
pub(crate) fn wrap(text: &str, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= most => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines.iter().map(|line| shorten(line, most)).collect()
}

/// Text of at most `most` characters, with an ellipsis where something was cut.
pub(crate) fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_and_controls_are_escaped() {
        assert_eq!(escape("<b a='1'>&\"\u{1}\n"), "&lt;b a=&#39;1&#39;&gt;&amp;&quot;\u{FFFD} ");
    }

    #[test]
    fn values_are_written_for_readers() {
        let rows: [(f64, bool, &str); 8] = [
            (0.0338983, true, "3.4 %"),
            (0.0, true, "0.0 %"),
            (-0.0001, true, "0.0 %"),
            (1.0, true, "100.0 %"),
            (34.0, false, "34"),
            (8.3333, false, "8.33"),
            (0.12345, false, "0.123"),
            (f64::NAN, true, "no value"),
        ];
        for (value, percent, text) in rows {
            assert_eq!(value_text(value, percent), text, "{value}");
        }
    }

    #[test]
    fn a_share_names_its_denominator() {
        let labels = Labels {
            point_labels: vec!["2026-03".into()],
            of_what: "sets".into(),
            percent: true,
            ..Labels::default()
        };
        let n = Some(118.0);
        let mut point = ChartPoint {
            value: 4.0 / 118.0,
            n,
            centre: 0.03,
            lower: None,
            upper: Some(0.08),
            outside: false,
        };
        assert_eq!(point_sentence(ChartKind::PExact, &point, &labels, 0), "2026-03: 4 of 118 sets = 3.4 %");
        point.outside = true;
        point.upper = Some(0.029);
        assert_eq!(
            point_sentence(ChartKind::PExact, &point, &labels, 0),
            "2026-03: 4 of 118 sets = 3.4 %; above the upper limit of 2.9 %"
        );
        assert_eq!(
            point_sentence(ChartKind::Ewma, &point, &labels, 4),
            "point 5: 3.4 %, from 118 sets; above the upper limit of 2.9 %"
        );
    }

    #[test]
    fn lines_are_broken_at_spaces() {
        assert_eq!(wrap("contaminated sets, share of all", 18), ["contaminated sets,", "share of all"]);
        assert_eq!(shorten("Larkfield Critical Care Unit", 12), "Larkfield C…");
    }
}
