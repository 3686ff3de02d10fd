use crate::labels::{Labels, Layout, Look};
use crate::scale::{Scale, nice_ticks};
use crate::svg::{Anchor, Drawing, Ink};
use crate::text::{shorten, tick_text, value_text, wrap};

/// An estimate between the ends of its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    estimate: f64,
    lower: f64,
    upper: f64,
}

impl Interval {
    /// `None` unless all three are finite and `lower <= estimate <= upper`.
    pub fn new(estimate: f64, lower: f64, upper: f64) -> Option<Interval> {
        let ordered = lower <= estimate && estimate <= upper;
        (ordered && lower.is_finite() && upper.is_finite()).then_some(Interval { estimate, lower, upper })
    }
}

/// One row of an interval plot.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalRow {
    /// What the row is about: "Larkfield East".
    pub label: String,
    /// Estimate and interval; `None` where they are withheld, which the note explains.
    pub interval: Option<Interval>,
    /// Numerator and denominator, or why nothing is drawn: "4 of 118 sets".
    pub note: String,
}

/// Draws one dot with its interval per row, in the order given, over one common axis that starts at zero where no
/// value is negative. The reference is an upright dashed line with its words above.
pub fn interval_plot(
    rows: &[IntervalRow],
    reference: Option<(f64, &str)>,
    labels: &Labels,
    look: &Look,
) -> String {
    let mut drawing = Drawing::new(look);
    let line = drawing.font_size * 1.3;
    let factor = if labels.percent { 100.0 } else { 1.0 };
    let reference = reference.filter(|(value, _)| value.is_finite());
    let is_wide = look.layout == Layout::Wide;
    let description = describe(rows, reference, labels);
    let mut y = 0.0;
    if look.heading {
        for text in wrap(&labels.title, drawing.characters_in(drawing.width * 0.95)) {
            y += line * 1.1;
            drawing.bold((0.0, y), Anchor::Start, Ink::Full, &text);
        }
        y += line * 0.3;
    }
    let ends = rows.iter().filter_map(|row| row.interval).flat_map(|i| [i.lower, i.upper]);
    let ends: Vec<f64> = ends.chain(reference.map(|(value, _)| value)).collect();
    let low = ends.iter().copied().fold(0.0, f64::min) * factor;
    let high = ends.iter().copied().reduce(f64::max).unwrap_or(0.0) * factor;
    let ticks = nice_ticks(low, high, if is_wide { 6 } else { 4 });
    let Some(ticks) = ticks.filter(|_| rows.iter().any(|row| row.interval.is_some())) else {
        for row in rows {
            y += line;
            drawing.text((0.0, y), Anchor::Start, Ink::Full, &format!("{}: {}", row.label, row.note));
        }
        if rows.is_empty() {
            y += line;
            drawing.text((0.0, y), Anchor::Start, Ink::Full, "Nothing to draw yet.");
        }
        return drawing.finish(y + line, labels, &description);
    };
    let widest = |texts: Vec<String>| texts.iter().map(|text| drawing.room_for(text)).fold(0.0, f64::max);
    let (left, right) = if is_wide {
        let label_room = widest(rows.iter().map(|row| row.label.clone()).collect()).min(260.0);
        let noted = rows.iter().filter(|row| row.interval.is_some());
        let note_room = widest(noted.map(|row| row.note.clone()).collect()).min(210.0);
        (label_room + 14.0, drawing.width - note_room - 14.0)
    } else {
        (14.0, drawing.width - 24.0)
    };
    let scale = Scale::new(&ticks, left, right);
    let place = |value: f64| scale.place(value * factor);
    let row_height = if is_wide { line * 1.35 } else { line * 2.3 };
    let top = y + if reference.is_some() { line * 1.5 } else { line * 0.4 };
    let bottom = top + row_height * rows.len() as f64;
    if let Some((value, words)) = reference {
        let x = place(value);
        // The reference may not strike through words: on a phone the labels stand above the intervals, and a row
        // without an interval says why in the place of one.
        let (from, length) = if is_wide { (0.0, 1.0) } else { (0.48, 0.46) };
        for (row, y) in rows.iter().zip((0..).map(|index| top + row_height * f64::from(index))) {
            if row.interval.is_some() {
                let y = y + row_height * from;
                drawing.line((x, y), (x, y + row_height * length), Ink::Line, 1.2, "5 3");
            }
        }
        let text = shorten(words, drawing.characters_in(drawing.width));
        let half = drawing.room_for(&text) / 2.0;
        let x = x.clamp(half, f64::max(drawing.width - half, half));
        drawing.text((x, top - line * 0.4), Anchor::Middle, Ink::Quiet, &text);
    }
    for (row, y) in rows.iter().zip((0..).map(|index| top + row_height * f64::from(index))) {
        let mark_y = if is_wide { y + row_height / 2.0 } else { y + row_height * 0.72 };
        drawing.open("class=\"chart-row\"");
        drawing.tooltip(&sentence(row, labels));
        drawing.pointer_area(0.0, y, drawing.width, row_height);
        if is_wide {
            let baseline = mark_y + drawing.font_size * 0.35;
            let label = shorten(&row.label, drawing.characters_in(left - 12.0).max(8));
            drawing.text((left - 12.0, baseline), Anchor::End, Ink::Full, &label);
            let from = if row.interval.is_some() { right + 12.0 } else { left + 6.0 };
            let note = shorten(&row.note, drawing.characters_in(drawing.width - from).max(8));
            drawing.text((from, baseline), Anchor::Start, Ink::Quiet, &note);
        } else if row.interval.is_none() {
            let label = shorten(&row.label, drawing.characters_in(drawing.width));
            drawing.text((0.0, y + line * 0.9), Anchor::Start, Ink::Full, &label);
            let note = shorten(&row.note, drawing.characters_in(drawing.width));
            drawing.text((0.0, y + line * 1.9), Anchor::Start, Ink::Quiet, &note);
        } else {
            let note_room = drawing.room_for(&row.note).min(drawing.width * 0.6);
            let label = shorten(&row.label, drawing.characters_in(drawing.width - note_room - 10.0));
            drawing.text((0.0, y + line * 0.9), Anchor::Start, Ink::Full, &label);
            let note = shorten(&row.note, drawing.characters_in(drawing.width * 0.6));
            drawing.text((drawing.width, y + line * 0.9), Anchor::End, Ink::Quiet, &note);
        }
        if let Some(interval) = row.interval {
            let (from, to) = (place(interval.lower), place(interval.upper));
            drawing.line((from, mark_y), (to, mark_y), Ink::Full, 1.4, "");
            for end in [from, to] {
                drawing.line((end, mark_y - 3.5), (end, mark_y + 3.5), Ink::Full, 1.4, "");
            }
            drawing.dot((place(interval.estimate), mark_y), 4.2, Ink::Full);
        }
        drawing.close();
    }
    drawing.line((left, bottom), (right, bottom), Ink::Line, 1.0, "");
    for value in &ticks.values {
        let x = scale.place(*value);
        drawing.line((x, bottom), (x, bottom + 4.0), Ink::Line, 1.0, "");
        let text = tick_text(*value, ticks.decimals, labels.percent);
        let x = x.max(drawing.room_for(&text) / 2.0);
        drawing.text((x, bottom + line * 1.15), Anchor::Middle, Ink::Quiet, &text);
    }
    let mut y = bottom + line * 2.3;
    for text in wrap(&labels.value_axis, drawing.characters_in(drawing.width)) {
        drawing.method((0.0, y), &text, labels);
        y += line;
    }
    drawing.finish(y, labels, &description)
}

fn sentence(row: &IntervalRow, labels: &Labels) -> String {
    let shown = |value: f64| value_text(value, labels.percent);
    match row.interval {
        Some(interval) => format!(
            "{}: {}, interval {} to {} ({})",
            row.label,
            shown(interval.estimate),
            shown(interval.lower),
            shown(interval.upper),
            row.note
        ),
        None => format!("{}: {}", row.label, row.note),
    }
}

fn describe(rows: &[IntervalRow], reference: Option<(f64, &str)>, labels: &Labels) -> String {
    let mut parts = vec![labels.description.trim().to_owned()];
    if let Some((value, words)) = reference {
        parts.push(format!("Reference: {words}, at {}.", value_text(value, labels.percent)));
    }
    parts.extend(rows.iter().map(|row| format!("{}.", sentence(row, labels))));
    parts.retain(|part| !part.is_empty());
    parts.join(" ")
}
