//! From the laboratory's specimen numbers to sets.
//!
//! Laboratories book the bottles of one set under two numbers, and reports on them come on different days, in any order.
//! The book keeps what was reported under each number, and the set that the numbers make together; so a later report on
//! one half can replace what that half said and nothing else. A joined set goes under the lesser of its two numbers,
//! whichever came first.

use std::collections::BTreeMap;

use book::{JudgedSet, KnownSet, Stands};
use culture::{CultureSet, RuleSet, SetId, joined, split_pairs};
use exchange::laboratory::Import;
use jiff::civil::Date;

/// The word that stands for a verdict where a number is part of another set.
const PART: &str = "part-of-another-set";

/// What arrives: sets by the laboratory's numbers, halves by themselves.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Arriving {
    pub sets: Vec<CultureSet>,
    /// Numbers that turn out to be no set of their own, because the order they stand for hangs under another.
    pub parts: Vec<(SetId, SetId)>,
}

impl Arriving {
    pub(crate) fn of(import: &Import) -> Self {
        Self { sets: import.unjoined(), parts: import.parts.clone() }
    }
}

/// Every number of some patients, with what the book knows and what arrives.
#[derive(Debug, Default)]
pub(crate) struct Numbers {
    /// What was reported under each number that is a set or half of one.
    reported: BTreeMap<SetId, CultureSet>,
    /// Numbers that are half of one set.
    pairs: Vec<(SetId, SetId)>,
    /// Numbers that are found to be part of another set now.
    parts: Vec<(CultureSet, SetId)>,
}

impl Numbers {
    /// With `join` halves are looked for anew among all numbers; otherwise those that the book has joined stay so.
    pub(crate) fn of(known: Vec<KnownSet>, arriving: &Arriving, join: bool) -> Self {
        let mut numbers = Self::default();
        let mut part_of: BTreeMap<SetId, SetId> = BTreeMap::new();
        for KnownSet { set, stands } in known {
            match stands {
                Stands::Alone => {
                    numbers.reported.insert(set.id.clone(), set);
                }
                Stands::Joined(halves) => {
                    numbers.pairs.push((halves[0].id.clone(), halves[1].id.clone()));
                    numbers.reported.extend((*halves).map(|half| (half.id.clone(), half)));
                }
                Stands::PartOf(whole) => {
                    part_of.insert(set.id, whole);
                }
            }
        }
        for set in &arriving.sets {
            let is_half = numbers.reported.contains_key(&set.id);
            let whole = part_of.get(&set.id).filter(|_| !is_half);
            match whole.and_then(|whole| numbers.reported.get_mut(whole)) {
                // The order it hangs under came earlier and is forgotten by now.
                Some(whole) if whole.patient == set.patient => *whole = joined(whole, set),
                _ => {
                    let mut set = set.clone();
                    // Messages say no time to positivity, and do not take away what a file said.
                    let before = numbers.reported.get(&set.id).filter(|before| before.patient == set.patient);
                    let known = before.and_then(|before| before.positive_after_s);
                    set.positive_after_s = set.positive_after_s.or(known);
                    numbers.reported.insert(set.id.clone(), set);
                }
            }
        }
        for (part, whole) in &arriving.parts {
            let patient = numbers.reported.get(whole).map(|set| set.patient.clone());
            let is_ours =
                numbers.reported.get(part).is_some_and(|set| Some(&set.patient) == patient.as_ref());
            if is_ours && let Some(set) = numbers.reported.remove(part) {
                numbers.parts.push((set, whole.clone()));
            }
        }
        if join {
            let sets: Vec<CultureSet> = numbers.reported.values().cloned().collect();
            let pair = |(first, second): (usize, usize)| (sets[first].id.clone(), sets[second].id.clone());
            numbers.pairs = split_pairs(&sets).into_iter().map(pair).collect();
        }
        numbers
    }

    /// Verdicts on every set: one that arrives can settle another of the same patient that was open.
    pub(crate) fn judged(mut self, rules: &RuleSet, today: Date) -> Vec<JudgedSet> {
        let mut sets: Vec<(CultureSet, Stands)> = Vec::new();
        for (first, second) in std::mem::take(&mut self.pairs) {
            let (first, second) = if first < second { (first, second) } else { (second, first) };
            let (one, other) = (self.reported.remove(&first), self.reported.remove(&second));
            match (one, other) {
                (Some(one), Some(other)) => {
                    self.parts.push((other.clone(), first));
                    sets.push((joined(&one, &other), Stands::Joined(Box::new([one, other]))));
                }
                (one, other) => sets.extend(one.into_iter().chain(other).map(|set| (set, Stands::Alone))),
            }
        }
        sets.extend(self.reported.into_values().map(|set| (set, Stands::Alone)));
        sets.sort_by(|(one, _), (other, _)| one.id.cmp(&other.id));
        let (sets, stands): (Vec<CultureSet>, Vec<Stands>) = sets.into_iter().unzip();
        let verdicts = culture::judge(&sets, rules, Some(today));
        let whole = sets.into_iter().zip(stands).zip(verdicts).map(|((set, stands), judged)| JudgedSet {
            set,
            verdict: judged.verdict().id().to_owned(),
            clause: judged.clause.id().to_owned(),
            stands,
        });
        let parts = self.parts.into_iter().map(|(set, whole)| JudgedSet {
            set,
            verdict: PART.to_owned(),
            clause: PART.to_owned(),
            stands: Stands::PartOf(whole),
        });
        whole.chain(parts).collect()
    }
}

#[cfg(test)]
mod tests {
    use culture::{Collected, PatientKey, ReportStatus, Specimen};
    use jiff::civil::date;

    use super::*;

    /// A file said 13 h 30 min. A later report on the same number that says no time leaves it; one that says another
    /// replaces it; one on another patient takes nothing over.
    #[test]
    fn a_time_to_positivity_stays_known() {
        let set = |patient: &str, positive_after_s| CultureSet {
            id: SetId("S".to_owned()),
            patient: PatientKey(patient.to_owned()),
            collected: Collected::On(date(2026, 3, 2)),
            received: None,
            unit: None,
            collector: None,
            route: None,
            specimen: Specimen::Blood,
            age_years: None,
            status: ReportStatus::Final,
            bottles: Vec::new(),
            isolates: Vec::new(),
            positive_after_s,
        };
        let after = |arriving: CultureSet| {
            let known = KnownSet { set: set("p", Some(48_600)), stands: Stands::Alone };
            let arriving = Arriving { sets: vec![arriving], parts: Vec::new() };
            Numbers::of(vec![known], &arriving, false).reported[&SetId("S".to_owned())].positive_after_s
        };
        assert_eq!(after(set("p", None)), Some(48_600));
        assert_eq!(after(set("p", Some(43_200))), Some(43_200));
        assert_eq!(after(set("q", None)), None);
    }
}
