//! A release rule in words, and what is wrong with one that nobody or everybody meets.

use crate::rule::{ReleaseRule, WhoMayWatch};

/// What the rule asks for that no draw before the trainer takes stock can give; empty for a rule that can be met.
pub fn never_met(rule: &ReleaseRule) -> Vec<String> {
    let most = rule.most_draws;
    let asks = [
        (rule.draws_needed, format!("it asks for {} observed draws", rule.draws_needed)),
        (rule.clean_in_a_row, format!("it asks for {} clean draws in a row", rule.clean_in_a_row)),
        rule.points.map_or((0, String::new()), |points| {
            (points.needed, format!("it asks for {} points, one for each clean draw", points.needed))
        }),
        rule.spot_check_from_draw.map_or((0, String::new()), |from| {
            (from, format!("it asks for the trainer's own look on draw {from} or a later one"))
        }),
    ];
    asks.into_iter()
        .filter(|(needed, _)| *needed > most)
        .map(|(_, asked)| format!("{asked}, and the trainer takes stock after {most}"))
        .collect()
}

/// Whether somebody who misses a safety point on every draw meets the rule.
pub fn asks_for_no_clean_draw(rule: &ReleaseRule) -> bool {
    rule.clean_in_a_row == 0 && rule.spot_check_from_draw.is_none() && rule.points.is_none()
}

/// The rule, one thing it asks for in each sentence.
pub fn rule_in_words(rule: &ReleaseRule) -> Vec<String> {
    let k = rule.clean_in_a_row;
    let last = match k {
        1 => "the last draw".to_owned(),
        _ => format!("the last {k} draws"),
    };
    let mut words = vec![
        format!("{} on real patients.", counted(rule.draws_needed, "observed draw")),
        match k {
            0 => "No draw has to be clean.".to_owned(),
            _ => format!("On {last} no safety point missed."),
        },
    ];
    if k > 0 {
        words.push(match rule.safety_prompts_allowed {
            None => format!("On {last} any number of safety points may be done only after a prompt."),
            Some(0) => format!("On {last} no safety point done only after a prompt."),
            Some(allowed) => format!(
                "On {last} together at most {} done only after a prompt.",
                counted(allowed, "safety point")
            ),
        });
        words.push(match rule.every_safety_point_seen {
            true => format!("Every safety point seen done at least once on {last}."),
            false => "A safety point that nobody saw does not hold a release back.".to_owned(),
        });
    }
    if let Some(points) = rule.points {
        words.push(format!(
            "A score of {}: a clean draw adds 1, a missed safety point takes {}, never below 0.",
            counted(points.needed, "point"),
            points.lost_by_fault
        ));
    }
    if rule.who_may_watch == WhoMayWatch::Trainers {
        words.push("Only draws that a trainer watched count.".to_owned());
    }
    words.push(match rule.spot_check_from_draw {
        Some(from) => format!("The trainer's own look, clean, on draw {from} or a later one."),
        None => "No look by the trainer is asked for.".to_owned(),
    });
    words.push(match &rule.teach_back {
        Some(teach_back) => format!(
            "Teach-back: {} in a row{}, with at least {} % of the key points said.",
            counted(teach_back.clean_passes, "clean pass"),
            if teach_back.on_different_days && teach_back.clean_passes > 1 {
                ", not all on one day"
            } else {
                ""
            },
            (teach_back.least_share_of_key_points * 1000.0).round() / 10.0
        ),
        None => "No teach-back is asked for.".to_owned(),
    });
    words.push(match rule.clean_checks_before_all {
        Some(checks) => {
            format!("First own patients; all patients after {}.", counted(checks, "clean check"))
        }
        None => "All patients at once.".to_owned(),
    });
    words.push(match rule.evidence_counts_days {
        Some(days) => format!("A draw or teach-back counts for {}.", counted(days, "day")),
        None => "A draw or teach-back counts without limit of time.".to_owned(),
    });
    words.push(format!("The trainer takes stock after {}.", counted(rule.most_draws, "draw")));
    words.push(match rule.lapse_after_days {
        Some(days) => format!("A standing lapses after {} without a known draw.", counted(days, "day")),
        None => "A standing never lapses.".to_owned(),
    });
    words.push(format!(
        "A new major version of the breakdown reaches those released within {}.",
        counted(rule.update_within_days, "day")
    ));
    words.push(follow_up(&rule.follow_up.after_days, rule.follow_up.then_every_days));
    words
}

fn follow_up(after_days: &[u16], then_every_days: u16) -> String {
    let then = format!("every {}", counted(then_every_days, "day"));
    if after_days.is_empty() {
        return format!("Follow-up after release: {then}.");
    }
    let days: Vec<String> = after_days.iter().map(u16::to_string).collect();
    format!("Follow-up on day {} after release, then {then}.", days.join(", "))
}

fn counted(number: u16, what: &str) -> String {
    match (number, what) {
        (0, _) => format!("no {what}"),
        (1, _) => format!("1 {what}"),
        (_, "clean pass") => format!("{number} clean passes"),
        _ => format!("{number} {what}s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error_rates::error_rate_curve;
    use crate::rule::FollowUp;

    /// Wording only: the default rule and one that asks for as little as a file may.
    #[test]
    fn a_rule_in_words() {
        assert_eq!(
            rule_in_words(&ReleaseRule::default()),
            [
                "5 observed draws on real patients.",
                "On the last 3 draws no safety point missed.",
                "On the last 3 draws no safety point done only after a prompt.",
                "Every safety point seen done at least once on the last 3 draws.",
                "The trainer's own look, clean, on draw 2 or a later one.",
                "Teach-back: 2 clean passes in a row, not all on one day, with at least 90 % of the key points said.",
                "First own patients; all patients after 1 clean check.",
                "A draw or teach-back counts without limit of time.",
                "The trainer takes stock after 10 draws.",
                "A standing lapses after 90 days without a known draw.",
                "A new major version of the breakdown reaches those released within 30 days.",
                "Follow-up on day 7, 30, 91 after release, then every 365 days.",
            ]
        );
        let least = ReleaseRule {
            draws_needed: 1,
            clean_in_a_row: 0,
            spot_check_from_draw: None,
            teach_back: None,
            clean_checks_before_all: None,
            lapse_after_days: None,
            evidence_counts_days: Some(1),
            follow_up: FollowUp { after_days: vec![], then_every_days: 1 },
            ..ReleaseRule::default()
        };
        assert_eq!(
            rule_in_words(&least),
            [
                "1 observed draw on real patients.",
                "No draw has to be clean.",
                "No look by the trainer is asked for.",
                "No teach-back is asked for.",
                "All patients at once.",
                "A draw or teach-back counts for 1 day.",
                "The trainer takes stock after 10 draws.",
                "A standing never lapses.",
                "A new major version of the breakdown reaches those released within 30 days.",
                "Follow-up after release: every 1 day.",
            ]
        );
    }

    /// The reasons agree with the exact chances: a rule has one just when nobody meets it, not even those without a
    /// fault.
    #[test]
    fn a_reason_stands_just_where_nobody_meets_the_rule() {
        for draws_needed in [0, 3, 4] {
            for clean_in_a_row in [0, 3, 4] {
                for spot_check_from_draw in [None, Some(3), Some(4)] {
                    let rule = ReleaseRule {
                        draws_needed,
                        clean_in_a_row,
                        spot_check_from_draw,
                        most_draws: 3,
                        ..ReleaseRule::default()
                    };
                    let without_fault = error_rate_curve(&rule, 1).unwrap()[0].probability;
                    assert_eq!(never_met(&rule).is_empty(), without_fault == 1.0, "{rule:?}");
                    assert_eq!(!never_met(&rule).is_empty(), without_fault == 0.0, "{rule:?}");
                }
            }
        }
    }
}
