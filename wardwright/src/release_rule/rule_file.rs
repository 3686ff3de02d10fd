//! A release rule as it stands in its file.

use std::path::Path;

use practice::{FollowUp, PointsTest, ReleaseRule, TeachBackRule, WhoMayWatch};
use serde::Deserialize;

use crate::message::Message;
use crate::toml_file;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleFile {
    schema: u32,
    name: String,
    version: u32,
    draws_needed: u16,
    clean_in_a_row: u16,
    every_safety_point_seen: bool,
    most_draws: u16,
    update_within_days: u16,
    safety_prompts_allowed: Option<u16>,
    spot_check_from_draw: Option<u16>,
    clean_checks_before_all: Option<u16>,
    lapse_after_days: Option<u16>,
    evidence_counts_days: Option<u16>,
    who_may_watch: Option<String>,
    points: Option<PointsFile>,
    teach_back: Option<TeachBackFile>,
    follow_up: FollowUpFile,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TeachBackFile {
    clean_passes: u16,
    on_different_days: bool,
    least_share_of_key_points: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PointsFile {
    needed: u16,
    lost_by_fault: u16,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct FollowUpFile {
    after_days: Vec<u16>,
    then_every_days: u16,
}

const PRECEPTORS: &str = "preceptors and trainers";
const TRAINERS: &str = "trainers";

fn who(words: &str) -> Option<WhoMayWatch> {
    match words {
        PRECEPTORS => Some(WhoMayWatch::PreceptorsAndTrainers),
        TRAINERS => Some(WhoMayWatch::Trainers),
        _ => None,
    }
}

/// Reads a rule and checks that each number is within its range.
pub fn read(path: &Path) -> Result<ReleaseRule, Message> {
    let file: RuleFile = toml_file::read(path, "a release rule", "docs/release-rule.md")?;
    file.rule(&path.display().to_string())
}

impl RuleFile {
    fn rule(self, place: &str) -> Result<ReleaseRule, Message> {
        let place_of = |key: &str| format!("{place}: {key}");
        if self.schema != 1 {
            return Err(Message::new(
                place_of("schema"),
                self.schema.to_string(),
                "1",
                "write the rule in the form of policies/release-rule.toml",
            ));
        }
        if let Some(words) = self.who_may_watch.as_deref().filter(|words| who(words).is_none()) {
            return Err(Message::new(
                place_of("who_may_watch"),
                format!("{words:?}"),
                format!("\"{PRECEPTORS}\" or \"{TRAINERS}\""),
                "write one of the two, or leave the key out for preceptors and trainers",
            ));
        }
        let rule = self.unchecked();
        match practice::rule_faults(&rule).into_iter().next() {
            None => Ok(rule),
            Some(fault) => {
                let to_do = match fault.part {
                    "name, version" => "write them into the rule: what a rule says is shown with both",
                    "teach_back.least_share_of_key_points" => "correct the number: 90 % is 0.9",
                    _ => "correct the number",
                };
                Err(Message::new(place_of(fault.part), fault.found, fault.expected, to_do))
            }
        }
    }

    fn unchecked(self) -> ReleaseRule {
        ReleaseRule {
            name: self.name,
            version: self.version,
            draws_needed: self.draws_needed,
            clean_in_a_row: self.clean_in_a_row,
            safety_prompts_allowed: self.safety_prompts_allowed,
            every_safety_point_seen: self.every_safety_point_seen,
            points: self
                .points
                .map(|points| PointsTest { needed: points.needed, lost_by_fault: points.lost_by_fault }),
            who_may_watch: self.who_may_watch.as_deref().and_then(who).unwrap_or_default(),
            spot_check_from_draw: self.spot_check_from_draw,
            teach_back: self.teach_back.map(|teach_back| TeachBackRule {
                clean_passes: teach_back.clean_passes,
                on_different_days: teach_back.on_different_days,
                least_share_of_key_points: teach_back.least_share_of_key_points,
            }),
            clean_checks_before_all: self.clean_checks_before_all,
            evidence_counts_days: self.evidence_counts_days,
            most_draws: self.most_draws,
            lapse_after_days: self.lapse_after_days,
            update_within_days: self.update_within_days,
            follow_up: FollowUp {
                after_days: self.follow_up.after_days,
                then_every_days: self.follow_up.then_every_days,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXAMPLE: &str = include_str!("../../../policies/release-rule.toml");

    fn example() -> RuleFile {
        toml::from_str(EXAMPLE).unwrap()
    }

    #[test]
    fn the_example_is_the_default_rule() {
        assert_eq!(example().rule("example").unwrap(), ReleaseRule::default());
    }

    #[test]
    fn numbers_out_of_range_are_named() {
        #[track_caller]
        fn check(change: impl FnOnce(&mut RuleFile), place: &str) {
            let mut file = example();
            change(&mut file);
            let refused = file.rule("r").unwrap_err();
            assert!(refused.place.contains(place), "{refused}");
        }
        check(|file| file.schema = 2, "schema");
        check(|file| file.name.clear(), "name");
        check(|file| file.version = 0, "version");
        check(|file| file.draws_needed = 1_001, "draws_needed");
        check(|file| file.clean_in_a_row = 101, "clean_in_a_row");
        check(|file| file.most_draws = 0, "most_draws");
        check(|file| file.spot_check_from_draw = Some(0), "spot_check_from_draw");
        check(|file| file.follow_up.after_days = vec![30, 7], "after_days");
        check(|file| file.follow_up.after_days = vec![7, 7], "after_days");
        check(|file| file.follow_up.then_every_days = 0, "then_every_days");
        check(|file| file.who_may_watch = Some("anybody".to_owned()), "who_may_watch");
        check(|file| file.points = Some(PointsFile { needed: 0, lost_by_fault: 1 }), "points.needed");
        for share in [-0.1, 1.1, f64::NAN] {
            let set = |file: &mut RuleFile| {
                if let Some(teach_back) = &mut file.teach_back {
                    teach_back.least_share_of_key_points = share;
                }
            };
            check(set, "least_share_of_key_points");
        }
    }

    #[test]
    fn points_and_watchers_are_read() {
        let text =
            format!("who_may_watch = \"trainers\"\n{EXAMPLE}\n[points]\nneeded = 12\nlost_by_fault = 5\n");
        let file: RuleFile = toml::from_str(&text).unwrap();
        let rule = file.rule("r").unwrap();
        assert_eq!(rule.points, Some(PointsTest { needed: 12, lost_by_fault: 5 }));
        assert_eq!(rule.who_may_watch, WhoMayWatch::Trainers);
    }
}
