//! What a release rule may say: the range of each of its parts.

use std::ops::RangeInclusive;

use crate::rule::ReleaseRule;

/// A part of a rule that is out of its range.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleFault {
    /// The part, by its name in a rule's file: "draws_needed".
    pub part: &'static str,
    /// What it says.
    pub found: String,
    /// What it may say.
    pub expected: String,
}

/// More draws than anybody watches; also what the exact chances are worked out for in a moment.
const MOST_DRAWS: u16 = 1_000;
const LONGEST_RUN: u16 = 100;
/// Ten years.
const LONGEST_DAYS: u16 = 3_653;
/// Letters of a name.
const LONGEST_NAME: usize = 100;

/// The parts of a rule that are out of their range; empty for a sound rule.
pub fn rule_faults(rule: &ReleaseRule) -> Vec<RuleFault> {
    let mut faults = Vec::new();
    let mut fault = |part, found: String, expected: String| faults.push(RuleFault { part, found, expected });
    if rule.name.trim().is_empty() || rule.name.chars().count() > LONGEST_NAME || rule.version == 0 {
        let found = format!("name {:?}, version {}", rule.name, rule.version);
        let expected = format!("a name of 1 to {LONGEST_NAME} letters, and a version counted from 1");
        fault("name, version", found, expected);
    }
    let draws = 0..=MOST_DRAWS;
    let from_one = 1..=MOST_DRAWS;
    let days = 1..=LONGEST_DAYS;
    let parts: [(&'static str, Option<u16>, RangeInclusive<u16>); 13] = [
        ("draws_needed", Some(rule.draws_needed), draws.clone()),
        ("clean_in_a_row", Some(rule.clean_in_a_row), 0..=LONGEST_RUN),
        ("most_draws", Some(rule.most_draws), from_one.clone()),
        ("update_within_days", Some(rule.update_within_days), 0..=LONGEST_DAYS),
        ("safety_prompts_allowed", rule.safety_prompts_allowed, draws.clone()),
        ("spot_check_from_draw", rule.spot_check_from_draw, from_one),
        ("clean_checks_before_all", rule.clean_checks_before_all, draws),
        ("lapse_after_days", rule.lapse_after_days, days.clone()),
        ("evidence_counts_days", rule.evidence_counts_days, days.clone()),
        ("points.needed", rule.points.map(|points| points.needed), 1..=LONGEST_RUN),
        ("points.lost_by_fault", rule.points.map(|points| points.lost_by_fault), 0..=LONGEST_RUN),
        ("teach_back.clean_passes", rule.teach_back.as_ref().map(|one| one.clean_passes), 1..=LONGEST_RUN),
        ("follow_up.then_every_days", Some(rule.follow_up.then_every_days), days.clone()),
    ];
    for (part, value, range) in parts {
        if let Some(value) = value.filter(|value| !range.contains(value)) {
            fault(part, value.to_string(), format!("{} to {}", range.start(), range.end()));
        }
    }
    if let Some(share) = rule.teach_back.as_ref().map(|one| one.least_share_of_key_points)
        && !(0.0..=1.0).contains(&share)
    {
        let expected = "a share of the key points, 0 to 1".to_owned();
        fault("teach_back.least_share_of_key_points", share.to_string(), expected);
    }
    let after = &rule.follow_up.after_days;
    if let Some(day) = after.iter().find(|day| !days.contains(day)) {
        fault("follow_up.after_days", day.to_string(), format!("{} to {}", days.start(), days.end()));
    }
    if !after.is_sorted_by(|one, next| one < next) {
        let expected = "days after release that rise, each once".to_owned();
        fault("follow_up.after_days", format!("{after:?}"), expected);
    }
    faults
}
