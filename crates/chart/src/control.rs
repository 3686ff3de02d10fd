use stats::charts::{ControlChart, Phase, Rule, Signal};

use crate::labels::{Labels, Layout, Look};
use crate::scale::{Scale, Ticks, nice_ticks};
use crate::svg::{Anchor, Drawing, Ink};
use crate::text::{point_label, point_sentence, shorten, tick_text, value_text, wrap};

/// Draws a control chart.
///
/// Points are dots joined within a phase; a point beyond a limit is a larger diamond with the number of its
/// signal, and the points of any other signal are ringed and bracketed with its number
/// ([`numbered_signals`](crate::numbered_signals) gives the sentences). Limits are stepped dashed lines, the
/// centre a plain one, each named with its value at the right end. Each point carries one sentence with its
/// numerator, denominator and value. A limit far above every value leaves the scale and is marked with an arrow,
/// so that one month with three sets does not flatten the rest.
pub fn control_chart(chart: &ControlChart, labels: &Labels, look: &Look) -> String {
    let mut drawing = Drawing::new(look);
    let line = drawing.font_size * 1.3;
    let mut y = 0.0;
    if look.heading {
        for text in wrap(&labels.title, drawing.characters_in(drawing.width * 0.95)) {
            y += line * 1.1;
            drawing.bold((0.0, y), Anchor::Start, Ink::Full, &text);
        }
        y += line * 0.3;
    }
    for text in wrap(&labels.value_axis, drawing.characters_in(drawing.width)) {
        y += line;
        drawing.text((0.0, y), Anchor::Start, Ink::Quiet, &text);
    }
    y += line * 0.4;
    let plan = Plan::new(chart, labels, &drawing, y);
    let height = plan.bottom + line * 3.0;
    let description = describe(chart, labels);
    let Some(plan) = plan.usable() else {
        drawing.text((0.0, y + line * 2.0), Anchor::Start, Ink::Full, "No value to draw yet.");
        return drawing.finish(y + line * 4.0, labels, &description);
    };
    axes(&mut drawing, &plan, labels);
    phases(&mut drawing, &plan);
    limits(&mut drawing, &plan);
    limit_names(&mut drawing, &plan);
    runs(&mut drawing, &plan);
    points(&mut drawing, &plan, look);
    let method = if drawing.method_link(labels).is_some() {
        format!("{}: how it is worked out", chart.kind.name())
    } else {
        chart.kind.name().to_owned()
    };
    drawing.method((0.0, plan.bottom + line * 2.6), &method, labels);
    drawing.finish(height, labels, &description)
}

/// Where everything goes.
struct Plan<'a> {
    chart: &'a ControlChart,
    labels: &'a Labels,
    layout: Layout,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    /// Top of the band that holds the names of the phases.
    phase_band: f64,
    /// Baseline of each bracket, by signal; `None` for signals that need none.
    brackets: Vec<Option<f64>>,
    ticks: Option<Ticks>,
    factor: f64,
    line: f64,
}

impl<'a> Plan<'a> {
    fn new(chart: &'a ControlChart, labels: &'a Labels, drawing: &Drawing, top: f64) -> Plan<'a> {
        let layout = if drawing.width < 500.0 { Layout::Narrow } else { Layout::Wide };
        let (line, factor) = (drawing.font_size * 1.3, if labels.percent { 100.0 } else { 1.0 });
        let ticks = value_range(chart).and_then(|(low, high)| nice_ticks(low * factor, high * factor, 5));
        let widest = |ticks: &Ticks| {
            let texts = ticks.values.iter().map(|v| tick_text(*v, ticks.decimals, labels.percent));
            texts.map(|text| drawing.room_for(&text)).fold(0.0, f64::max)
        };
        let left = ticks.as_ref().map_or(40.0, |ticks| widest(ticks) + 10.0);
        let right_room = match layout {
            Layout::Wide => drawing.room_for("upper limit 100.0 %"),
            Layout::Narrow => drawing.room_for("upper limit"),
        };
        let right = drawing.width - right_room - 8.0;
        let phase_band = top;
        let top = if chart.phases.len() > 1 { top + line * 1.2 } else { top };
        let (levels, n_levels) = bracket_levels(&chart.signals);
        let bracket_height = line * 1.1;
        let brackets =
            levels.iter().map(|level| level.map(|l| top + bracket_height * (l as f64 + 1.0))).collect();
        let top = top + bracket_height * n_levels as f64 + line * 0.9;
        let bottom = top + if layout == Layout::Wide { 250.0 } else { 200.0 };
        Plan { chart, labels, layout, left, right, top, bottom, phase_band, brackets, ticks, factor, line }
    }

    fn usable(self) -> Option<Plan<'a>> {
        (self.ticks.is_some() && !self.chart.points.is_empty()).then_some(self)
    }

    fn slot(&self) -> f64 {
        (self.right - self.left) / self.chart.points.len().max(1) as f64
    }

    /// Left edge of a point's slot.
    fn edge(&self, index: usize) -> f64 {
        self.left + self.slot() * index as f64
    }

    fn x(&self, index: usize) -> f64 {
        self.edge(index) + self.slot() / 2.0
    }

    fn scale(&self) -> Option<Scale> {
        self.ticks.as_ref().map(|ticks| Scale::new(ticks, self.bottom, self.top))
    }

    /// Vertical place of a value, `None` for one that is not finite.
    fn y(&self, value: f64) -> Option<f64> {
        let shown = value * self.factor;
        shown.is_finite().then(|| self.scale().map(|scale| scale.place(shown))).flatten()
    }

    fn leaves_the_scale(&self, value: f64) -> bool {
        self.scale().is_some_and(|scale| scale.is_above(value * self.factor))
    }

    fn phase_ends(&self) -> Vec<(usize, usize)> {
        let last = self.chart.points.len().saturating_sub(1);
        let ends: Vec<_> = self.chart.phases.iter().map(|p| (p.from.min(last), p.to.min(last))).collect();
        if ends.is_empty() { vec![(0, last)] } else { ends }
    }

    fn signals_of(&self, index: usize) -> impl Iterator<Item = (usize, &Signal)> {
        (1..).zip(&self.chart.signals).filter(move |(_, signal)| (signal.from..=signal.to).contains(&index))
    }
}

/// Lowest and highest value the scale must hold: every value and centre, and the limits up to twice the greatest
/// of the values and the middle one of the upper limits. Shares and counts start at zero.
fn value_range(chart: &ControlChart) -> Option<(f64, f64)> {
    let finite = |values: Vec<f64>| values.into_iter().filter(|v| v.is_finite()).collect::<Vec<f64>>();
    let values = finite(chart.points.iter().flat_map(|p| [p.value, p.centre]).collect());
    let mut uppers = finite(chart.points.iter().filter_map(|p| p.upper).collect());
    let lowers = finite(chart.points.iter().filter_map(|p| p.lower).collect());
    let highest = values.iter().copied().reduce(f64::max)?;
    let lowest = values.iter().copied().reduce(f64::min)?;
    uppers.sort_by(f64::total_cmp);
    let middle = uppers.get(uppers.len() / 2).copied().unwrap_or(highest);
    let roof = 2.0 * f64::max(highest, middle);
    let high = uppers.into_iter().filter(|limit| *limit <= roof).fold(highest, f64::max);
    let low = lowers.into_iter().fold(lowest, f64::min);
    Some((if low > 0.0 && low < high * 0.7 { 0.0 } else { low }, high))
}

/// Level of the bracket of each signal that needs one, so that brackets do not overlap, and how many there are.
fn bracket_levels(signals: &[Signal]) -> (Vec<Option<usize>>, usize) {
    let mut last_of_level: Vec<usize> = Vec::new();
    let mut levels = Vec::new();
    for signal in signals {
        if signal.rule == Rule::BeyondLimit {
            levels.push(None);
            continue;
        }
        let free = last_of_level.iter().position(|last| *last < signal.from);
        let level = free.unwrap_or_else(|| {
            last_of_level.push(0);
            last_of_level.len() - 1
        });
        last_of_level[level] = signal.to;
        levels.push(Some(level));
    }
    (levels, last_of_level.len())
}

fn axes(drawing: &mut Drawing, plan: &Plan, labels: &Labels) {
    let Some(ticks) = &plan.ticks else { return };
    for value in &ticks.values {
        let Some(y) = plan.y(value / plan.factor) else { continue };
        drawing.line((plan.left - 4.0, y), (plan.left, y), Ink::Line, 1.0, "");
        let text = tick_text(*value, ticks.decimals, labels.percent);
        drawing.text((plan.left - 7.0, y + drawing.font_size * 0.35), Anchor::End, Ink::Quiet, &text);
    }
    drawing.line((plan.left, plan.top), (plan.left, plan.bottom), Ink::Line, 1.0, "");
    drawing.line((plan.left, plan.bottom), (plan.right, plan.bottom), Ink::Line, 1.0, "");
    let most = drawing.characters_in((plan.right - plan.left) * 0.5);
    let texts: Vec<String> =
        (0..plan.chart.points.len()).map(|index| shorten(&point_label(labels, index), most)).collect();
    let widest = texts.iter().map(|text| drawing.room_for(text)).fold(0.0, f64::max);
    let every = [1, 2, 3, 4, 6, 12].into_iter().chain((2..).map(|k| k * 12));
    let every = every.take(1000).find(|k| *k as f64 * plan.slot() >= widest + 10.0).unwrap_or(usize::MAX);
    for (index, text) in texts.iter().enumerate().step_by(every) {
        let x = plan.x(index);
        drawing.line((x, plan.bottom), (x, plan.bottom + 4.0), Ink::Line, 1.0, "");
        let half = drawing.room_for(text) / 2.0;
        let x = x.clamp(half.min(plan.x(index)), f64::max(drawing.width - half, half));
        drawing.text((x, plan.bottom + plan.line * 1.15), Anchor::Middle, Ink::Quiet, text);
    }
}

fn phases(drawing: &mut Drawing, plan: &Plan) {
    if plan.chart.phases.len() < 2 {
        return;
    }
    for (place, phase) in plan.chart.phases.iter().enumerate() {
        let (from, to) = (plan.edge(phase.from), plan.edge(phase.to + 1).min(plan.right));
        if place > 0 {
            drawing.line((from, plan.phase_band), (from, plan.bottom), Ink::Line, 1.0, "1 3");
        }
        let last = place + 1 == plan.chart.phases.len();
        let room = if last { drawing.width - from } else { to - from };
        let text = phase_text(phase, plan.labels.percent, drawing.characters_in(room - 12.0));
        drawing.text((from + 6.0, plan.phase_band + plan.line * 0.85), Anchor::Start, Ink::Quiet, &text);
    }
}

fn phase_text(phase: &Phase, percent: bool, most: usize) -> String {
    let full = format!("{}: centre {}", phase.name, value_text(phase.centre, percent));
    if full.chars().count() <= most { full } else { shorten(&phase.name, most) }
}

fn limits(drawing: &mut Drawing, plan: &Plan) {
    for (from, to) in plan.phase_ends() {
        stepped(drawing, plan, (from, to), |point| Some(point.centre), 1.2, "");
        stepped(drawing, plan, (from, to), |point| point.upper, 1.2, "6 4");
        stepped(drawing, plan, (from, to), |point| point.lower, 1.2, "6 4");
        for (index, point) in plan.chart.points.iter().enumerate().take(to + 1).skip(from) {
            if let Some(limit) = point.upper.filter(|limit| plan.leaves_the_scale(*limit)) {
                let (x, y) = (plan.x(index), plan.top);
                let text = value_text(limit, plan.labels.percent);
                drawing.open("class=\"chart-off-scale\"");
                drawing.tooltip(&format!(
                    "{}: upper limit {text}, off the scale",
                    point_label(plan.labels, index)
                ));
                drawing.path(&[(x - 4.0, y + 1.0), (x, y - 6.0), (x + 4.0, y + 1.0)], Ink::Quiet, 1.3, "");
                drawing.close();
            }
        }
    }
}

/// A line with one level step per point, broken where there is no value.
fn stepped(
    drawing: &mut Drawing,
    plan: &Plan,
    (from, to): (usize, usize),
    value_of: impl Fn(&stats::charts::ChartPoint) -> Option<f64>,
    width: f64,
    dash: &str,
) {
    let mut places: Vec<(f64, f64)> = Vec::new();
    for (index, point) in plan.chart.points.iter().enumerate().take(to + 1).skip(from) {
        match value_of(point).and_then(|value| plan.y(value)) {
            Some(y) => {
                let level =
                    places.len() >= 2 && places.last().is_some_and(|(_, last)| (last - y).abs() < 0.005);
                if level {
                    places.pop();
                } else {
                    places.push((plan.edge(index), y));
                }
                places.push((plan.edge(index + 1), y));
            }
            None => drawing.path(&std::mem::take(&mut places), Ink::Line, width, dash),
        }
    }
    drawing.path(&places, Ink::Line, width, dash);
}

fn limit_names(drawing: &mut Drawing, plan: &Plan) {
    let Some(last) = plan.chart.points.last() else { return };
    let named = [("upper limit", last.upper), ("centre", Some(last.centre)), ("lower limit", last.lower)];
    let named: Vec<(&str, f64, f64)> = named
        .into_iter()
        .filter_map(|(name, value)| value.and_then(|value| Some((name, value, plan.y(value)?))))
        .collect();
    let lines = if plan.layout == Layout::Wide { 1.0 } else { 2.0 };
    let gap = plan.line * lines;
    let mut places: Vec<f64> = named.iter().map(|(_, _, y)| *y).collect();
    spread(&mut places, gap, plan.top, plan.bottom - (lines - 1.0) * plan.line * 0.5);
    for ((name, value, _), y) in named.into_iter().zip(places) {
        let value = value_text(value, plan.labels.percent);
        let x = plan.right + 7.0;
        let baseline = y + drawing.font_size * 0.35;
        if plan.layout == Layout::Wide {
            drawing.text((x, baseline), Anchor::Start, Ink::Quiet, &format!("{name} {value}"));
        } else {
            drawing.text((x, baseline - plan.line * 0.5), Anchor::Start, Ink::Quiet, name);
            drawing.text((x, baseline + plan.line * 0.5), Anchor::Start, Ink::Quiet, &value);
        }
    }
}

/// Moves places that rise downwards apart until they are `gap` from each other, within the ends.
fn spread(places: &mut [f64], gap: f64, top: f64, bottom: f64) {
    let mut least = top;
    for place in places.iter_mut() {
        *place = place.max(least);
        least = *place + gap;
    }
    let mut most = bottom;
    for place in places.iter_mut().rev() {
        *place = place.min(most);
        most = *place - gap;
    }
}

/// Brackets over the points of every signal that is not a single point beyond a limit.
fn runs(drawing: &mut Drawing, plan: &Plan) {
    let last = plan.chart.points.len().saturating_sub(1);
    for ((number, signal), y) in (1..).zip(&plan.chart.signals).zip(&plan.brackets) {
        let (Some(y), true) = (*y, signal.from <= last) else { continue };
        let reach = (plan.slot() * 0.35).min(8.0);
        let (from, to) = (plan.x(signal.from) - reach, plan.x(signal.to.min(last)) + reach);
        drawing.open("class=\"chart-run\"");
        drawing.tooltip(&format!("Signal {number}: {}", signal.sentence));
        let text = number.to_string();
        let half = drawing.room_for(&text) / 2.0 + 3.0;
        let middle = (from + to) / 2.0;
        drawing.path(&[(from, y + 4.0), (from, y), (f64::max(middle - half, from), y)], Ink::Signal, 1.3, "");
        drawing.path(&[(f64::min(middle + half, to), y), (to, y), (to, y + 4.0)], Ink::Signal, 1.3, "");
        drawing.bold((middle, y + drawing.font_size * 0.35), Anchor::Middle, Ink::Signal, &text);
        drawing.close();
    }
}

fn points(drawing: &mut Drawing, plan: &Plan, look: &Look) {
    let points = &plan.chart.points;
    for (from, to) in plan.phase_ends() {
        let mut joined = Vec::new();
        for (index, point) in points.iter().enumerate().take(to + 1).skip(from) {
            match plan.y(point.value) {
                Some(y) => joined.push((plan.x(index), y)),
                None => drawing.path(&std::mem::take(&mut joined), Ink::Line, 1.0, ""),
            }
        }
        drawing.path(&joined, Ink::Line, 1.0, "");
    }
    let radius = (plan.slot() * 0.28).clamp(1.8, 3.8);
    for (index, point) in points.iter().enumerate() {
        let Some(y) = plan.y(point.value) else { continue };
        let place = (plan.x(index), y);
        let mut sentence = point_sentence(plan.chart.kind, point, plan.labels, index);
        for (number, _) in plan.signals_of(index) {
            sentence.push_str(&format!("; in signal {number}"));
        }
        let tab = if look.tab_points {
            format!(" tabindex=\"0\" role=\"img\" aria-label=\"{}\"", crate::text::escape(&sentence))
        } else {
            String::new()
        };
        drawing.open(&format!("class=\"chart-point\"{tab}"));
        drawing.tooltip(&sentence);
        drawing.pointer_area(plan.edge(index), plan.top, plan.slot(), plan.bottom - plan.top);
        // Few crossings concern the whole series: the bracket says so, and rings around every point would not.
        let is_ringed = |signal: &Signal| !matches!(signal.rule, Rule::BeyondLimit | Rule::FewCrossings);
        if plan.signals_of(index).any(|(_, signal)| is_ringed(signal)) {
            drawing.ring(place, radius + 2.6, Ink::Signal);
        }
        if point.outside {
            drawing.diamond(place, radius + 3.4, Ink::Signal);
            let below = point.value < point.centre;
            let beyond = plan.signals_of(index).find(|(_, signal)| signal.rule == Rule::BeyondLimit);
            let word = if below { "low" } else { "high" };
            let text = beyond.map_or_else(|| word.to_owned(), |(number, _)| number.to_string());
            // Under a point at the foot of the plot the labels of the axis begin.
            let down = radius + 5.0 + drawing.font_size;
            let away = if below && y + down < plan.bottom { down } else { -(radius + 8.0) };
            drawing.bold((place.0, place.1 + away), Anchor::Middle, Ink::Signal, &text);
        } else {
            drawing.dot(place, radius, Ink::Full);
        }
        drawing.close();
    }
}

fn describe(chart: &ControlChart, labels: &Labels) -> String {
    let mut text = labels.description.trim().to_owned();
    let mut say = |sentence: String| {
        if !text.is_empty() {
            text.push(' ');
        }
        text.push_str(&sentence);
    };
    say(format!("{}.", chart.kind.name()));
    if let Some(last) = chart.points.len().checked_sub(1) {
        let (first, last) = (point_label(labels, 0), point_label(labels, last));
        say(format!("{} points, {first} to {last}.", chart.points.len()));
    }
    match chart.signals.len() {
        0 => say("No signal.".to_owned()),
        n => say(format!("{n} {}.", if n == 1 { "signal" } else { "signals" })),
    }
    for signal in crate::table::numbered_signals(chart, labels) {
        say(format!("Signal {}, {}: {}", signal.number, signal.place, signal.sentence));
    }
    text
}
