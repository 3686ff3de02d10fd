use crate::labels::{Labels, Layout, Look};
use crate::scale::{Scale, nice_ticks};
use crate::svg::{Anchor, Drawing, Ink};
use crate::text::{escape, shorten, tick_text, value_text, wrap};

/// One line of a curve chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// What it shows, as its label at the line and for a screen reader: "in force".
    pub name: String,
    /// Places from left to right: value on the horizontal axis, value on the upright one.
    pub points: Vec<(f64, f64)>,
}

/// How the first lines differ without colour: drawn through, dashed, dotted.
const DASHES: [&str; 3] = ["", "7 4", "2 3"];

/// Draws up to three lines over one horizontal axis, both axes in shares of one where `labels.percent` says so. The upright
/// axis starts at zero. Each line is named in a list above, beside a piece of it, and told apart by its dashes.
/// `across` names the horizontal axis, `labels.value_axis` the upright one.
pub fn curve_chart(curves: &[Curve], across: &str, labels: &Labels, look: &Look) -> String {
    let mut drawing = Drawing::new(look);
    let line = drawing.font_size * 1.3;
    let factor = if labels.percent { 100.0 } else { 1.0 };
    let is_wide = look.layout == Layout::Wide;
    let description = describe(curves, across, labels);
    let sound = |(x, y): &&(f64, f64)| x.is_finite() && y.is_finite();
    let all: Vec<(f64, f64)> =
        curves.iter().flat_map(|curve| curve.points.iter().filter(sound)).copied().collect();
    let mut y = 0.0;
    if look.heading {
        for text in wrap(&labels.title, drawing.characters_in(drawing.width * 0.95)) {
            y += line * 1.1;
            drawing.bold((0.0, y), Anchor::Start, Ink::Full, &text);
        }
        y += line * 0.3;
    }
    let most = |values: Vec<f64>| values.into_iter().fold(0.0, f64::max) * factor;
    let x_ticks = nice_ticks(0.0, most(all.iter().map(|(x, _)| *x).collect()), if is_wide { 10 } else { 5 });
    let y_ticks = nice_ticks(0.0, most(all.iter().map(|(_, y)| *y).collect()), 5);
    let (Some(x_ticks), Some(y_ticks), false) = (x_ticks, y_ticks, all.is_empty()) else {
        y += line;
        drawing.text((0.0, y), Anchor::Start, Ink::Full, "Nothing to draw yet.");
        return drawing.finish(y + line, labels, &description);
    };
    for (index, curve) in curves.iter().enumerate() {
        y += line;
        let middle = y - drawing.font_size * 0.35;
        drawing.line((0.0, middle), (34.0, middle), Ink::Full, 2.0, DASHES[index % DASHES.len()]);
        let name = shorten(&curve.name, drawing.characters_in(drawing.width - 42.0));
        drawing.text((42.0, y), Anchor::Start, Ink::Full, &name);
    }
    y += line * 0.4;
    for text in wrap(&labels.value_axis, drawing.characters_in(drawing.width)) {
        y += line;
        drawing.text((0.0, y), Anchor::Start, Ink::Quiet, &text);
    }
    let widest = y_ticks
        .values
        .iter()
        .map(|value| drawing.room_for(&tick_text(*value, y_ticks.decimals, labels.percent)))
        .fold(0.0, f64::max);
    let (left, right) = (widest + 8.0, drawing.width - 16.0);
    let top = y + line * 0.8;
    let bottom = top + if is_wide { 250.0 } else { 190.0 };
    let across_scale = Scale::new(&x_ticks, left, right);
    let up_scale = Scale::new(&y_ticks, bottom, top);
    for value in &y_ticks.values {
        let place = up_scale.place(*value);
        drawing.line((left, place), (right, place), Ink::Line, 0.5, "1 3");
        let text = tick_text(*value, y_ticks.decimals, labels.percent);
        drawing.text((left - 6.0, place + drawing.font_size * 0.35), Anchor::End, Ink::Quiet, &text);
    }
    drawing.line((left, bottom), (right, bottom), Ink::Line, 1.0, "");
    for value in &x_ticks.values {
        let place = across_scale.place(*value);
        drawing.line((place, bottom), (place, bottom + 4.0), Ink::Line, 1.0, "");
        let text = tick_text(*value, x_ticks.decimals, labels.percent);
        let half = drawing.room_for(&text) / 2.0;
        let x = place.clamp(half, f64::max(drawing.width - half, half));
        drawing.text((x, bottom + line * 1.15), Anchor::Middle, Ink::Quiet, &text);
    }
    for (index, curve) in curves.iter().enumerate() {
        let places: Vec<(f64, f64)> = curve
            .points
            .iter()
            .filter(sound)
            .map(|(x, y)| (across_scale.place(x * factor), up_scale.place(y * factor)))
            .collect();
        drawing.open("class=\"chart-row\"");
        drawing.tooltip(&curve.name);
        drawing.path(&places, Ink::Full, 2.0, DASHES[index % DASHES.len()]);
        drawing.close();
    }
    if look.tab_points {
        // Only now, so that all lines lie below what can be pointed at.
        for curve in curves {
            for value in &x_ticks.values {
                let on_tick = |(x, _): &&(f64, f64)| (x * factor - value).abs() < 1e-9;
                let Some((x, share)) = curve.points.iter().filter(sound).find(on_tick) else { continue };
                let sentence = format!(
                    "{}: {} at {}",
                    curve.name,
                    value_text(*share, labels.percent),
                    value_text(*x, labels.percent)
                );
                drawing.open(&format!(
                    "class=\"chart-point\" tabindex=\"0\" role=\"img\" aria-label=\"{}\"",
                    escape(&sentence)
                ));
                drawing.tooltip(&sentence);
                drawing.ring((across_scale.place(*value), up_scale.place(share * factor)), 4.0, Ink::Full);
                drawing.close();
            }
        }
    }
    let mut y = bottom + line * 2.3;
    for text in wrap(across, drawing.characters_in(drawing.width)) {
        drawing.text((0.0, y), Anchor::Start, Ink::Quiet, &text);
        y += line;
    }
    drawing.finish(y, labels, &description)
}

fn describe(curves: &[Curve], across: &str, labels: &Labels) -> String {
    let mut parts = vec![labels.description.trim().to_owned()];
    for curve in curves {
        // The ends and the middle; the table beside the chart has every value.
        let n = curve.points.len();
        let mut places = vec![0, n / 2, n.saturating_sub(1)];
        places.dedup();
        let said: Vec<String> = places
            .into_iter()
            .filter_map(|place| curve.points.get(place))
            .map(|(x, y)| format!("{} at {}", value_text(*y, labels.percent), value_text(*x, labels.percent)))
            .collect();
        parts.push(format!("{}: {} ({across}).", curve.name, said.join(", ")));
    }
    parts.retain(|part| !part.is_empty());
    parts.join(" ")
}
