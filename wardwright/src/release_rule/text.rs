//! A release rule as a trainer reads it.

use std::fmt::Write;

use practice::{LONGEST, Released, asks_for_no_clean_draw, error_rate_sentence, rule_in_words};

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
    for words in rule_in_words(rule) {
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
    if let Some(words) = prompts(shown) {
        line(&words);
    }
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

/// What the table assumes of prompts; nothing where none was asked for.
fn prompts(shown: &Shown) -> Option<String> {
    let (share, is_in_curve) = shown.prompted;
    let percent = (share.get() * 1000.0).round() / 10.0;
    match (percent > 0.0, is_in_curve) {
        (false, _) => None,
        (true, true) => Some(format!(
            "On {percent} % of the draws that miss none, one is done only after a prompt; at most one on a draw."
        )),
        (true, false) => Some(
            "PROMPTS ARE NOT IN THESE CHANCES: the rule allows several over so many draws that too many patterns of them \
             would have to be told apart."
                .to_owned(),
        ),
    }
}

const NOTES: [&str; 5] = [
    "Exact chances of the rule, each draw failing apart from every other; no sample was taken, so there is no interval.",
    "Method: Markov chain on the draws; Feller 1968, XIII.7 (from memory).",
    "Mean draws and the 90 % are without the limit at which the trainer takes stock.",
    "Not in the numbers: the teach-back, prompts beyond those of --prompted, safety points nobody saw, and time. They only hold more back.",
    "Watchers who miss faults make the rule laxer than these numbers say.",
];

/// What the search found, above the rule itself.
pub(super) fn search(search: &Search) -> String {
    let risks = &search.risks;
    // As it was typed, but for the last digits of its binary form.
    let percent = |share: stats::Probability| format!("{} %", (share.get() * 1e8).round() / 1e6);
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
            "{asked}\nThe shortest: {} draws. It releases {:.1} of 100 who fail {}, and holds back {:.1} of 100 who fail {}.\nEvery other part is that of the rule given. Write it into a file to use it (docs/release-rule.md).\n\n",
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
