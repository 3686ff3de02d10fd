//! A person's judgement on a set, beside the rule's.
//!
//! The rule's verdict is never replaced: both stay, and a reader sees who judged otherwise, when and why.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::judge::Judged;
use crate::set::{CultureSet, SetId};
use crate::tally::Tally;
use crate::verdict::Verdict;

/// What a person signed about one set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    set: SetId,
    verdict: Verdict,
    by: String,
    on: Date,
    because: String,
}

/// A judgement that cannot be signed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum JudgementError {
    /// A set is provisional or excluded by its report, not by judgement.
    #[error("{0} is no judgement: a person says contaminated, true-positive, negative or undetermined")]
    NotAJudgement(&'static str),
    /// Nobody has signed it.
    #[error("nobody is named as having judged")]
    Unsigned,
    /// No reason is given.
    #[error("no reason is given")]
    NoReason,
}

impl Judgement {
    /// A signed judgement.
    ///
    /// # Errors
    /// Refuses a verdict that is no judgement, and one without a name or a reason.
    pub fn new(
        set: SetId,
        verdict: Verdict,
        by: &str,
        on: Date,
        because: &str,
    ) -> Result<Self, JudgementError> {
        if matches!(verdict, Verdict::Provisional | Verdict::Excluded) {
            return Err(JudgementError::NotAJudgement(verdict.id()));
        }
        if by.trim().is_empty() {
            return Err(JudgementError::Unsigned);
        }
        if because.trim().is_empty() {
            return Err(JudgementError::NoReason);
        }
        Ok(Self { set, verdict, by: by.trim().to_owned(), on, because: because.trim().to_owned() })
    }

    /// The set it is about.
    pub fn set(&self) -> &SetId {
        &self.set
    }

    /// What the person calls the set.
    pub fn verdict(&self) -> Verdict {
        self.verdict
    }

    /// Who judged.
    pub fn by(&self) -> &str {
        &self.by
    }

    /// The day it was signed.
    pub fn on(&self) -> Date {
        self.on
    }

    /// Why.
    pub fn because(&self) -> &str {
        &self.because
    }
}

/// Judgements of people beside the verdicts of a rule.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Beside {
    /// Place of the set and place of the judgement that counts for it, in the order of the sets.
    pub pairs: Vec<(usize, usize)>,
    /// Places of judgements on sets that are not there.
    pub without_set: Vec<usize>,
    /// Places of judgements that a later one on the same set replaces.
    pub replaced: Vec<usize>,
}

impl Beside {
    /// Finds the set of each judgement. Of two on one set the later day counts, and of one day the later in the list.
    pub fn find(sets: &[CultureSet], judgements: &[Judgement]) -> Self {
        let mut latest: HashMap<&SetId, usize> = HashMap::new();
        let mut beside = Self::default();
        for (place, judgement) in judgements.iter().enumerate() {
            match latest.get_mut(&judgement.set) {
                Some(before) if judgements[*before].on > judgement.on => beside.replaced.push(place),
                Some(before) => beside.replaced.push(std::mem::replace(before, place)),
                None => {
                    latest.insert(&judgement.set, place);
                }
            }
        }
        for (place, set) in sets.iter().enumerate() {
            if let Some(judgement) = latest.remove(&set.id) {
                beside.pairs.push((place, judgement));
            }
        }
        beside.without_set = latest.into_values().collect();
        beside.without_set.sort_unstable();
        beside.replaced.sort_unstable();
        beside
    }

    /// The tally with the judgements in place of the rule's verdicts. Excluded and provisional sets stay so: whether a
    /// set is about the rule, or its report final, is no matter of judgement.
    pub fn tally(&self, judged: &[Judged], judgements: &[Judgement]) -> Tally {
        let mut verdicts: Vec<Verdict> = judged.iter().map(Judged::verdict).collect();
        for &(set, judgement) in &self.pairs {
            if !matches!(verdicts[set], Verdict::Excluded | Verdict::Provisional) {
                verdicts[set] = judgements[judgement].verdict;
            }
        }
        let mut tally = Tally::default();
        for verdict in verdicts {
            tally.add(verdict);
        }
        tally
    }

    /// The pairs in which the person says something else than the rule.
    pub fn differing<'a>(
        &'a self,
        judged: &'a [Judged],
        judgements: &'a [Judgement],
    ) -> impl Iterator<Item = (usize, usize)> + 'a {
        self.pairs
            .iter()
            .copied()
            .filter(|&(set, judgement)| judged[set].verdict() != judgements[judgement].verdict)
    }
}
