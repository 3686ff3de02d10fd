//! Several passes of one learner: whether the teach-back is complete.

use breakdown::Breakdown;
use jiff::civil::Date;

use crate::mark::TeachBack;
use crate::outcome::{Outcome, OutcomeError, outcome};
use crate::rule::PassRule;

/// What a row of passes shows. The trainer decides; this only counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// True when the rule is met by the last passes.
    pub complete: bool,
    /// Clean passes in a row, counted back from the last one.
    pub clean_in_a_row: u32,
    /// What is still missing, in sentences; empty when complete.
    pub missing: Vec<String>,
    /// Outcome of each pass, in order of date.
    pub passes: Vec<(Date, Outcome)>,
}

/// Passes of one learner on one version, in any order; each is held against the same rule. Passes of one day keep the
/// order in which they were given.
pub fn series(
    breakdown: &Breakdown,
    passes: &[(Date, &TeachBack)],
    rule: &PassRule,
) -> Result<Series, OutcomeError> {
    let mut judged = passes
        .iter()
        .map(|(date, pass)| Ok((*date, outcome(breakdown, pass, rule)?)))
        .collect::<Result<Vec<_>, OutcomeError>>()?;
    judged.sort_by_key(|(date, _)| *date);
    let clean = judged.iter().rev().take_while(|(_, outcome)| outcome.clean).count();
    let clean_in_a_row = u32::try_from(clean).unwrap_or(u32::MAX);
    let mut missing = Vec::new();
    if clean_in_a_row < rule.passes_in_a_row {
        missing.push(format!(
            "clean passes in a row: {clean_in_a_row}; the rule asks for {}",
            rule.passes_in_a_row
        ));
    }
    // With a single pass asked for there is no day before it to differ from.
    let same_day = matches!(judged.as_slice(), [.., (before, _), (last, _)] if before == last);
    if rule.last_on_another_day && rule.passes_in_a_row > 1 && missing.is_empty() && same_day {
        missing.push(
            "the last clean pass was on the day of the one before; the rule asks for another day".to_owned(),
        );
    }
    Ok(Series { complete: missing.is_empty(), clean_in_a_row, missing, passes: judged })
}
