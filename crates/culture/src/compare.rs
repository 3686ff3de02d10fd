//! The same sets judged by two rules.

use std::collections::BTreeMap;

use crate::judge::Judged;
use crate::tally::Tally;
use crate::verdict::Clause;

/// How the verdicts move from one rule to another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// Verdicts of the first rule.
    pub first: Tally,
    /// Verdicts of the second rule.
    pub second: Tally,
    /// Sets by the clause of the first rule and the clause of the second.
    pub moves: BTreeMap<(Clause, Clause), u64>,
}

impl Comparison {
    /// Compares two lists of verdicts on the same sets, in the same order.
    ///
    /// ```
    /// // C5 of the worked cases: 08:00 with a commensal, the next day 09:00 without. Within 24 h it cannot be told,
    /// // within 48 h it is contaminated.
    /// use culture::{Clause, Comparison, CultureSet, RuleSet, judge};
    /// # use culture::{Collected, Isolate, PatientKey, ReportStatus, SetId, Specimen};
    /// # let set = |day, hour, name: &[&str]| CultureSet {
    /// #     id: SetId(format!("{day}")), patient: PatientKey("p".into()), received: None, unit: None, collector: None,
    /// #     collected: Collected::At(jiff::civil::date(2026, 3, day).at(hour, 0, 0, 0)), route: None,
    /// #     specimen: Specimen::Blood, age_years: Some(50.0), status: ReportStatus::Final, bottles: Vec::new(),
    /// #     positive_after_s: None, isolates: name.iter().map(|name| Isolate { reported_name: (*name).into() }).collect(),
    /// # };
    /// let sets: Vec<CultureSet> = vec![set(2, 8, &["CoNS"]), set(3, 9, &[])];
    /// let judged = |name| judge(&sets, &RuleSet::ready(name).expect("a ready rule"), None);
    /// let compared = Comparison::of(&judged("adult-24h"), &judged("episode-48h"));
    /// assert_eq!((compared.first.contaminated, compared.second.contaminated), (0, 1));
    /// assert_eq!(compared.changed(), 1);
    /// assert_eq!(compared.moves[&(Clause::CommensalSingleSet, Clause::CommensalInOneSet)], 1);
    /// ```
    pub fn of(first: &[Judged], second: &[Judged]) -> Self {
        let mut moves = BTreeMap::new();
        for (one, other) in first.iter().zip(second) {
            *moves.entry((one.clause, other.clause)).or_insert(0) += 1;
        }
        Self { first: Tally::of(first), second: Tally::of(second), moves }
    }

    /// Sets whose verdict differs; sets with another clause and the same verdict are not among them.
    pub fn changed(&self) -> u64 {
        self.changes().map(|(_, count)| count).sum()
    }

    /// The moves that change the verdict, most frequent first.
    pub fn changes(&self) -> impl Iterator<Item = ((Clause, Clause), u64)> {
        let mut changes: Vec<_> = self
            .moves
            .iter()
            .map(|(clauses, count)| (*clauses, *count))
            .filter(|((one, other), _)| one.verdict() != other.verdict())
            .collect();
        changes.sort_by_key(|(clauses, count)| (std::cmp::Reverse(*count), *clauses));
        changes.into_iter()
    }
}
