//! A plan for machines; docs/json.md describes every key.

use serde_json::{Value, json};

use super::{ADVICE, MadePlan};

/// One object and a line feed.
pub(super) fn object(made: &MadePlan) -> String {
    let MadePlan { plan, ground, seconds, .. } = made;
    let day = |day: Option<jiff::civil::Date>| day.map(|day| day.to_string());
    let learners: Vec<Value> = plan
        .learners
        .iter()
        .zip(&ground.draws_needed)
        .map(|(learner, draws_needed)| {
            json!({
                "person": learner.person.0,
                "needed_by": learner.by.to_string(),
                "draws_needed": draws_needed,
                "shifts": learner.n_shifts,
                "watched_shifts": learner.n_watched,
                "expected_draws": learner.mean_draws,
                "p_done_by_date": learner.done_by_date.get(),
                "date_50": day(learner.date_50),
                "date_90": day(learner.date_90),
            })
        })
        .collect();
    let assignments: Vec<Value> = plan
        .pairings
        .iter()
        .map(|pairing| {
            json!({
                "date": pairing.shift.on.to_string(),
                "shift": pairing.shift.kind.words(),
                "learner": pairing.learner.0,
                "preceptor": pairing.preceptor.0,
                "turns": pairing.turns,
                "of_turns": pairing.of_turns,
                "expected_draws": pairing.draws,
            })
        })
        .collect();
    let checks: Vec<Value> = plan
        .checks
        .iter()
        .map(|check| {
            json!({
                "person": check.person.0,
                "trainer": check.trainer.as_ref().map(|trainer| &trainer.0),
                "date": check.shift.map(|shift| shift.on.to_string()),
                "shift": check.shift.map(|shift| shift.kind.words().to_owned()),
                "why": check.why,
            })
        })
        .collect();
    let bottlenecks: Vec<Value> = plan
        .bottlenecks
        .iter()
        .map(|one| {
            json!({
                "without": one.without,
                "learners_done": one.learners_done.0,
                "learners_done_then": one.learners_done.1,
                "of_learners": plan.learners.len(),
                "helps_most": one.helps_most.as_ref().map(|(person, before, after)| json!({
                    "person": person.0,
                    "p_done_by_date": before,
                    "p_done_by_date_then": after,
                })),
                "sentence": super::text::bottleneck(one, plan.learners.len()),
            })
        })
        .collect();
    let changes = plan.changes.map(|changes| {
        json!({
            "known": changes.n_known,
            "kept": changes.n_kept,
            "other_preceptor": changes.n_other_preceptor,
            "dropped": changes.n_dropped,
            "added": changes.n_added,
        })
    });
    let faults: Vec<Value> = plan
        .faults
        .iter()
        .map(|fault| {
            json!({
                "person": fault.person.as_ref().map(|person| &person.0),
                "found": fault.found,
                "expected": fault.expected,
                "what_to_do": fault.what_to_do,
            })
        })
        .collect();
    let absences: Vec<Value> = made
        .absences
        .iter()
        .map(|one| json!({ "person": one.person.0, "from": one.from.to_string(), "to": one.to.to_string() }))
        .collect();
    let object = json!({
        "schema": 1,
        "job": ground.job.0,
        "from": plan.from.to_string(),
        "until": plan.until.to_string(),
        "made_on": made.today.to_string(),
        "release_rule": ground.rule_name,
        "fault_rate_assumed": made.fault_rate.get(),
        "offered": ground.offered.value.get(),
        "offered_from": ground.offered.from,
        "draws_from": ground.rates.from,
        "draws_per_shift": super::expected::as_json(made),
        "objective": plan.objective,
        "bound": plan.bound,
        "learners": learners,
        "assignments": assignments,
        "checks": checks,
        "bottlenecks": bottlenecks,
        "changes": changes,
        "faults": faults,
        "absences": absences,
        "seconds": seconds,
        "about": super::text::ABOUT,
        "advice": ADVICE,
    });
    format!("{object:#}\n")
}
