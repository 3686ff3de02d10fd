//! A release rule as it is stored. FROZEN.

use practice::{EventKind, FollowUp, PointsTest, ReleaseRule, TeachBackRule, WhoMayWatch};
use serde::{Deserialize, Serialize};

use super::{StoredError, finite, words};

words!(StoredWatchers for WhoMayWatch {
    PreceptorsAndTrainers = "preceptors-and-trainers",
    Trainers = "trainers",
});

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rule {
    why: String,
    name: String,
    version: u32,
    draws_needed: u16,
    clean_in_a_row: u16,
    safety_prompts_allowed: Option<u16>,
    every_safety_point_seen: bool,
    points: Option<Points>,
    who_may_watch: StoredWatchers,
    spot_check_from_draw: Option<u16>,
    teach_back: Option<TeachBack>,
    clean_checks_before_all: Option<u16>,
    evidence_counts_days: Option<u16>,
    most_draws: u16,
    lapse_after_days: Option<u16>,
    update_within_days: u16,
    follow_up_after_days: Vec<u16>,
    follow_up_then_every_days: u16,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Points {
    needed: u16,
    lost_by_fault: u16,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TeachBack {
    clean_passes: u16,
    on_different_days: bool,
    least_share_of_key_points: f64,
}

impl Rule {
    pub(super) fn store(rule: &ReleaseRule, why: &str) -> Result<Self, StoredError> {
        let share = rule.teach_back.as_ref().map(|one| one.least_share_of_key_points);
        finite("least share of key points", share)?;
        Ok(Rule {
            why: why.to_owned(),
            name: rule.name.clone(),
            version: rule.version,
            draws_needed: rule.draws_needed,
            clean_in_a_row: rule.clean_in_a_row,
            safety_prompts_allowed: rule.safety_prompts_allowed,
            every_safety_point_seen: rule.every_safety_point_seen,
            points: rule
                .points
                .map(|points| Points { needed: points.needed, lost_by_fault: points.lost_by_fault }),
            who_may_watch: rule.who_may_watch.into(),
            spot_check_from_draw: rule.spot_check_from_draw,
            teach_back: rule.teach_back.as_ref().map(|one| TeachBack {
                clean_passes: one.clean_passes,
                on_different_days: one.on_different_days,
                least_share_of_key_points: one.least_share_of_key_points,
            }),
            clean_checks_before_all: rule.clean_checks_before_all,
            evidence_counts_days: rule.evidence_counts_days,
            most_draws: rule.most_draws,
            lapse_after_days: rule.lapse_after_days,
            update_within_days: rule.update_within_days,
            follow_up_after_days: rule.follow_up.after_days.clone(),
            follow_up_then_every_days: rule.follow_up.then_every_days,
        })
    }

    pub(super) fn restore(self) -> Result<EventKind, StoredError> {
        let rule = ReleaseRule {
            name: self.name,
            version: self.version,
            draws_needed: self.draws_needed,
            clean_in_a_row: self.clean_in_a_row,
            safety_prompts_allowed: self.safety_prompts_allowed,
            every_safety_point_seen: self.every_safety_point_seen,
            points: self
                .points
                .map(|points| PointsTest { needed: points.needed, lost_by_fault: points.lost_by_fault }),
            who_may_watch: self.who_may_watch.into(),
            spot_check_from_draw: self.spot_check_from_draw,
            teach_back: self.teach_back.map(|one| TeachBackRule {
                clean_passes: one.clean_passes,
                on_different_days: one.on_different_days,
                least_share_of_key_points: one.least_share_of_key_points,
            }),
            clean_checks_before_all: self.clean_checks_before_all,
            evidence_counts_days: self.evidence_counts_days,
            most_draws: self.most_draws,
            lapse_after_days: self.lapse_after_days,
            update_within_days: self.update_within_days,
            follow_up: FollowUp {
                after_days: self.follow_up_after_days,
                then_every_days: self.follow_up_then_every_days,
            },
        };
        // A rule out of its ranges could ask for more work than a page has time for.
        match practice::rule_faults(&rule).into_iter().next() {
            None => Ok(EventKind::RulePublished { rule: Box::new(rule), why: self.why }),
            Some(fault) => Err(StoredError::Value { what: fault.part, found: fault.found }),
        }
    }
}
