//! A plan as a trainer reads it.

use std::fmt::Write;

use timetable::plan::PlanBottleneck;

use super::{ADVICE, MadePlan};

pub(super) const ABOUT: &str = "Chances hold what is not known of the rate of draws, so they carry no interval of \
                                their own. Draws come by chance (Poisson with a gamma rate for each weekday and \
                                shift); turns of a shift are of equal worth, which is an assumption.";

/// The whole text.
pub(super) fn report(made: &MadePlan) -> String {
    let MadePlan { plan, ground, .. } = made;
    let mut text = String::new();
    // Writing to a string cannot fail.
    let mut line = |words: &str| {
        let _ = writeln!(text, "{words}");
    };
    line(&format!("Plan for {} from {} to {}", ground.job_name, plan.from, plan.until));
    line(&format!("Release rule: {}", ground.rule_name));
    line(&ground.rates.from);
    for words in super::expected::lines(made) {
        line(&words);
    }
    line(&ground.offered.from);
    for fault in &plan.faults {
        line(&format!("TO SETTLE  {fault}"));
    }
    if plan.learners.is_empty() {
        line("\nNobody is learning this job now.");
    } else {
        let n = plan.learners.len();
        line(&format!(
            "\nLearners done by their dates, in the mean: {:.2} of {n}; no plan within the limits has more than {:.2}.",
            plan.objective, plan.bound
        ));
        line(
            "\n  learner     needed by    draws    watched     draws     chance   half of such   nine in ten",
        );
        line("                           needed   shifts      expected  by then  done by        done by");
    }
    for (learner, draws_needed) in plan.learners.iter().zip(&ground.draws_needed) {
        let day =
            |day: Option<jiff::civil::Date>| day.map_or("not in plan".to_owned(), |day| day.to_string());
        line(&format!(
            "  {:<11} {:<12} {:>6}   {:>2} of {:<3}   {:>8.1}   {:>5.0} %   {:<13}  {}",
            learner.person.0,
            learner.by.to_string(),
            draws_needed,
            learner.n_watched,
            learner.n_shifts,
            learner.mean_draws,
            learner.done_by_date.get() * 100.0,
            day(learner.date_50),
            day(learner.date_90),
        ));
    }
    if !plan.bottlenecks.is_empty() {
        line("\nWhat stands in the way:");
    }
    for one in &plan.bottlenecks {
        line(&format!("  - {}", bottleneck(one, plan.learners.len())));
    }
    if let Some(changes) = plan.changes {
        line(&format!(
            "\nOf {} pairings known: {} kept, {} kept with another preceptor, {} dropped; {} added.",
            changes.n_known, changes.n_kept, changes.n_other_preceptor, changes.n_dropped, changes.n_added
        ));
    }
    if !plan.pairings.is_empty() {
        line("\n  date        shift   learner     with        draws offered     expected");
    }
    for pairing in &plan.pairings {
        let turns = match (pairing.turns, pairing.of_turns) {
            (turns, of) if turns == of => "every draw".to_owned(),
            (turns, of) => format!("{turns} of every {of}"),
        };
        line(&format!(
            "  {}  {:<6}  {:<10}  {:<10}  {turns:<16}  {:>8.1}",
            pairing.shift.on,
            pairing.shift.kind.words(),
            pairing.learner.0,
            pairing.preceptor.0,
            pairing.draws,
        ));
    }
    if !plan.checks.is_empty() {
        line("\nThe trainer comes by:");
    }
    for check in &plan.checks {
        match (&check.shift, &check.trainer) {
            (Some(shift), Some(trainer)) => {
                line(&format!("  {shift}: {trainer} to {} ({})", check.person, check.why));
            }
            _ => line(&format!(
                "  NO SHIFT together with a trainer for {} ({}): roster one, or let another trainer look",
                check.person, check.why
            )),
        }
    }
    line(&format!("\n{ABOUT}"));
    line(ADVICE);
    text
}

/// "one more person to watch on every night shift: 4.1 to 5.0 of 6 learners done by their dates; n031 from 41 to 93 %".
pub(super) fn bottleneck(one: &PlanBottleneck, n_learners: usize) -> String {
    let (now, then) = one.learners_done;
    let mut words = format!(
        "{}: {now:.2} to at least {then:.2} of {n_learners} learners done by their dates",
        one.without
    );
    if let Some((person, before, after)) = &one.helps_most {
        let _ = write!(words, "; {person} from {before:.2} to {after:.2}");
    }
    words
}
