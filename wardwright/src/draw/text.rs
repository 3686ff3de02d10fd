//! A plan as a nurse reads it.

use std::fmt::Write;

use ::draw::{PlanNote, PlannedBottle};
use quantity::Volume;

use super::{Planned, words};

/// The whole text.
pub(super) fn report(planned: &Planned<'_>) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: String| {
        let _ = writeln!(text, "{words}");
    };
    let plan = &planned.plan;
    let policy = &planned.policy;
    line(format!("Plan of one collection: {}", words::patient(planned)));
    line(format!(
        "Policy {:?}, version {}, confirmed by: {}",
        policy.name,
        policy.version,
        policy.policy.confirmed_by()
    ));
    line(words::CAUTION.to_owned());

    for (at, set) in plan.sets.iter().enumerate() {
        line(format!("\nSet {} of {}, {}", at + 1, plan.sets.len(), words::site(set.site)));
        if set.waste > Volume::ZERO {
            line(format!("  first       {} that goes into no bottle", set.waste));
        }
        for (number, bottle) in set.bottles.iter().enumerate() {
            line(format!("  bottle {}    {}", number + 1, bottle_line(bottle)));
        }
    }
    line("  Culture bottles come before every other tube, unless local policy says otherwise.".to_owned());

    let limit_percent = policy.policy.rules().day_limit_share * 100.0;
    line("\nBlood".to_owned());
    line(format!("  into bottles              {}", plan.cultured));
    line(format!("  into no bottle            {}", plan.waste));
    line(format!(
        "  this collection           {} = {:.1} % of the patient's {:.0} mL",
        plan.total,
        plan.share * 100.0,
        plan.blood_volume.to_ml()
    ));
    line(match planned.args.taken_today_ml {
        Some(_) => format!("  taken in 24 hours before  {}", planned.request.taken_today),
        None => "  taken in 24 hours before  NOT ENTERED, counted as 0 mL: give it with --taken-today-ml"
            .to_owned(),
    });
    line(format!(
        "  24 hours with this plan   {} of at most {} ({} % of the patient's {:.0} mL)",
        plan.day_total,
        plan.day_limit,
        trimmed(limit_percent),
        plan.blood_volume.to_ml()
    ));
    line(
        "  No interval stands beside these: volumes are the policy's, and the formula for the patient's blood comes \
         without one."
            .to_owned(),
    );

    if !plan.notes.is_empty() {
        line("\nTo know".to_owned());
        for note in &plan.notes {
            line(format!("  - {}", words::note(note).1));
        }
    }
    for words in found(planned) {
        line(words);
    }
    line("\nWhere each number is from".to_owned());
    for origin in words::origins(planned) {
        line(format!("  - {}: {}", origin.what, origin.from));
    }
    line("\nCautions (common practice, no source; your policy comes first)".to_owned());
    for caution in words::cautions(planned) {
        line(format!("  - {caution}"));
    }
    text
}

fn bottle_line(bottle: &PlannedBottle) -> String {
    format!(
        "{:<10} fill to {} mL (at least {}, at most {})",
        words::bottle(bottle.kind),
        floor_tenth(bottle.target),
        floor_tenth(bottle.least),
        bottle.most
    )
}

/// What the number of sets finds, as published.
fn found(planned: &Planned<'_>) -> Vec<String> {
    let rows = words::found_by_sets(planned);
    if rows.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![
        "\nBloodstream infections of adults that so many sets find, out of those found at all".to_owned(),
    ];
    for (sets, low, high) in rows {
        let this = if sets == planned.plan.sets.len() { "  <- this plan" } else { "" };
        let sets = if sets == 1 { "1 set ".to_owned() } else { format!("{sets} sets") };
        lines.push(format!("  {sets}  {low:.1} to {high:.1} %{this}"));
    }
    lines.push(
        "  The ends are two studies that disagree: Lee 2007, 629 episodes, and Cockerill 2004, from memory. They are no \
         interval: the second study's counts are not at hand."
            .to_owned(),
    );
    let less_blood = |note: &PlanNote| matches!(note, PlanNote::ShortDraw | PlanNote::LeastFill);
    if planned.plan.notes.iter().any(less_blood) {
        lines.push(
            "  With less blood in the bottles, as here, fewer are found: about 3 percentage points a millilitre (Mermel \
             and Maki 1993)."
                .to_owned(),
        );
    }
    lines
}

/// Millilitres with one decimal, never rounded up: a fill rounded up could pass the limit.
fn floor_tenth(volume: Volume) -> f64 {
    // A hair of slack, so that 6.9999999 from a subtraction stays 7.
    (volume.to_ml() * 10.0 + 1e-6).floor() / 10.0
}

/// Percent without trailing noughts.
fn trimmed(percent: f64) -> f64 {
    (percent * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fill_is_never_rounded_up() {
        for (ml, shown) in [(10.0, 10.0), (6.97, 6.9), (10.0 / 3.0, 3.3), (146.9 - 139.9, 7.0), (0.1, 0.1)] {
            assert_eq!(floor_tenth(Volume::from_ml(ml).unwrap()), shown, "{ml}");
        }
    }
}
