//! A release rule as a trainer reads it.

use std::fmt::Write;

use practice::{LONGEST, ReleaseRule, Released, WhoMayWatch, error_rate_sentence};

use super::{ADVICE, IN_SENTENCES, Search, Shown};

/// Fault rates of the table in percent, which are points of the curve.
const ROWS: [usize; 9] = [0, 1, 2, 5, 10, 20, 30, 40, 50];

/// The whole text.
pub(super) fn report(shown: &Shown) -> String {
    let rule = &shown.rule;
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("Release rule: {}, version {}", rule.name, rule.version));
    for words in in_words(rule) {
        line(&format!("  - {words}"));
    }
    if !shown.never_met.is_empty() {
        line("\nTHIS RULE CAN NEVER BE MET, not even by someone without a fault:");
        for because in &shown.never_met {
            line(&format!("  - {because}"));
        }
        line("  Ask for fewer, or raise most_draws.");
    }
    if asks_for_no_clean_draw(rule) {
        line("\nTHIS RULE ASKS FOR NO CLEAN DRAW: someone who misses a safety point on every draw meets it.");
        line("  Raise clean_in_a_row, or ask for the trainer's own look with spot_check_from_draw.");
    }
    line("\nWhat its draws do. A draw fails when a safety point is missed.");
    line(&format!(
        "  fails on   meet it within {:>4} draws   mean draws   90 % have met it",
        rule.most_draws
    ));
    line("             of 100 such nurses        until met    by draw");
    for released in ROWS.iter().filter_map(|percent| shown.curve.get(*percent)) {
        line(&row(released));
    }
    line("");
    for released in IN_SENTENCES.iter().filter_map(|at| shown.curve.get(*at)) {
        line(&error_rate_sentence(rule, released));
    }
    line("");
    for words in NOTES {
        line(words);
    }
    line(&format!("\n{ADVICE}"));
    text
}

const NOTES: [&str; 5] = [
    "Exact chances of the rule, each draw failing apart from every other; no sample was taken, so there is no interval.",
    "Method: Markov chain on the draws; Feller 1968, XIII.7 (from memory).",
    "Mean draws and the 90 % are without the limit at which the trainer takes stock.",
    "Not in the numbers: the teach-back, prompts, safety points nobody saw, and time. They can only hold more people back.",
    "Watchers who miss faults make the rule laxer than these numbers say.",
];

pub(super) fn asks_for_no_clean_draw(rule: &ReleaseRule) -> bool {
    rule.clean_in_a_row == 0 && rule.spot_check_from_draw.is_none() && rule.points.is_none()
}

/// What the search found, above the rule itself.
pub(super) fn search(search: &Search) -> String {
    let risks = &search.risks;
    let percent = |share: stats::Probability| format!("{} %", (share.get() * 1000.0).round() / 10.0);
    let asked = format!(
        "At most {} of those who fail {} of draws released, at most {} of those who fail {} held back, within {} draws.",
        percent(risks.most_released),
        percent(risks.not_ready),
        percent(risks.most_held_back),
        percent(risks.ready),
        risks.most_draws
    );
    match &search.found {
        None => format!(
            "{asked}\nNO SUCH RULE of so many draws, the last few clean, nor of a score: allow more draws or larger risks.\n"
        ),
        Some(found) => format!(
            "{asked}\nThe shortest: {} draws. It releases {:.1} of 100 who fail {}, and holds back {:.1} of 100 who fail {}.\n             Every other part is that of the rule given. Write it into a file to use it (docs/release-rule.md).\n\n",
            found.rule.most_draws,
            found.not_ready.probability * 100.0,
            percent(risks.not_ready),
            (1.0 - found.ready.probability) * 100.0,
            percent(risks.ready),
        ),
    }
}

fn row(released: &Released) -> String {
    let mean = match released.mean_draws {
        None => "never".to_owned(),
        Some(mean) if mean > f64::from(LONGEST) => format!("over {LONGEST}"),
        Some(mean) => format!("{mean:.1}"),
    };
    let by = released.draws_90.map_or_else(|| format!("over {LONGEST}"), |draws| draws.to_string());
    format!(
        "  {:>5.0} %   {:>17.1}   {mean:>17}   {by:>15}",
        released.fault_rate * 100.0,
        released.probability * 100.0
    )
}

/// The rule, one thing it asks for in each sentence.
pub(super) fn in_words(rule: &ReleaseRule) -> Vec<String> {
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
    use practice::FollowUp;

    /// Wording only: the default rule and one that asks for as little as a file may.
    #[test]
    fn a_rule_in_words() {
        assert_eq!(
            in_words(&ReleaseRule::default()),
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
            in_words(&least),
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
}
