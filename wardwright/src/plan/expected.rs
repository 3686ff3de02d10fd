//! Draws to expect of each shift of the week, as the plan reckons with them.

use jiff::civil::Weekday;
use serde_json::{Value, json};
use stats::ConfidenceLevel;
use stats::arrivals::GammaRate;
use timetable::{ShiftKind, Slot};

use super::made::MadePlan;

/// Weekday, shift and rate, from Monday's first shift on.
fn slots(made: &MadePlan) -> Vec<(Weekday, ShiftKind, GammaRate)> {
    let weekdays = Weekday::Monday.cycle_forward().take(7);
    let slots = weekdays.flat_map(|weekday| made.times.kinds().map(move |kind| Slot { weekday, kind }));
    slots.filter_map(|slot| Some((slot.weekday, slot.kind, made.ground.rates.value.of(slot)?))).collect()
}

fn ends(rate: GammaRate) -> (f64, f64) {
    let interval = rate.interval(ConfidenceLevel::default());
    (interval.lower(), interval.upper())
}

/// For machines.
pub(super) fn as_json(made: &MadePlan) -> Vec<Value> {
    slots(made)
        .into_iter()
        .map(|(weekday, kind, rate)| {
            let (lower, upper) = ends(rate);
            json!({
                "weekday": format!("{weekday:?}").to_lowercase(),
                "shift": kind.words(),
                "mean": rate.mean(),
                "lower_95": lower,
                "upper_95": upper,
            })
        })
        .collect()
}

/// As lines: one for all shifts where they are alike, else one for each weekday.
pub(super) fn lines(made: &MadePlan) -> Vec<String> {
    let slots = slots(made);
    let words = |rate: GammaRate| {
        let (lower, upper) = ends(rate);
        format!("{:.2} ({lower:.2} to {upper:.2})", rate.mean())
    };
    let Some((_, _, first)) = slots.first().copied() else { return Vec::new() };
    if made.ground.rates.value.is_alike() {
        return vec![format!(
            "Draws to expect of any shift: {}, 95 % interval in brackets; shifts differ no more than chance makes them.",
            words(first)
        )];
    }
    let mut lines = vec!["Draws to expect of a shift, 95 % interval in brackets:".to_owned()];
    for of_day in slots.chunk_by(|one, next| one.0 == next.0) {
        let shifts: Vec<String> =
            of_day.iter().map(|(_, kind, rate)| format!("{} {}", kind.words(), words(*rate))).collect();
        let weekday = of_day.first().map_or(String::new(), |(weekday, _, _)| format!("{weekday:?}"));
        lines.push(format!("  {weekday:<10} {}", shifts.join("   ")));
    }
    lines
}
