//! Single sets: occasions on which only one set was taken.

use crate::judge::Judged;
use crate::rules::Window;
use crate::set::CultureSet;
use crate::table::{PatientOrder, SetTable};
use crate::tally::{Rate, share};
use crate::verdict::Verdict;
use crate::window::Windows;

/// The window of an occasion.
pub(crate) const OCCASION: Window = Window::AnchoredHours(24);

/// How many occasions had exactly one set.
///
/// An occasion is a patient's first set and every set within 24 h of it. Two denominators are in use and give
/// different rates, so each is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SingleSets {
    /// Occasions with exactly one set.
    pub single: u64,
    /// Occasions.
    pub occasions: u64,
    /// Sets on all occasions.
    pub sets: u64,
}

impl SingleSets {
    /// Counts occasions of 24 hours among the sets the rule is about.
    ///
    /// ```
    /// // Novis 2001, Arch Pathol Lab Med 125:1290, by venepunctures. Patient A 2 sets, B 1, C 3 within 24 h:
    /// // 1 of 6 by venepunctures, 1 of 3 by patients.
    /// use culture::SingleSets;
    /// let counted = SingleSets { single: 1, occasions: 3, sets: 6 };
    /// assert_eq!(counted.per_set().expect("6 sets").proportion.estimate(), 1.0 / 6.0);
    /// assert_eq!(counted.per_occasion().expect("3 occasions").proportion.estimate(), 1.0 / 3.0);
    /// ```
    pub fn count(sets: &[CultureSet], judged: &[Judged]) -> Self {
        let table = SetTable::of(sets);
        Self::count_table(&table, &PatientOrder::of(&table, 1), judged)
    }

    /// The same of a table of sets.
    pub fn count_table(sets: &SetTable, order: &PatientOrder, judged: &[Judged]) -> Self {
        let is_counted =
            |set: u32| judged.get(set as usize).is_some_and(|judged| judged.verdict() != Verdict::Excluded);
        let mut total = Self::default();
        let mut counted = Vec::new();
        let mut windows = Windows::default();
        for patient in order.patients() {
            counted.clear();
            counted.extend(patient.iter().filter(|set| is_counted(**set)));
            total.add_patient(sets, &counted, &mut windows);
        }
        total
    }

    /// Counts the sets of one patient, sorted by time, without those the rule is not about.
    pub(crate) fn add_patient(&mut self, table: &SetTable, sets: &[u32], windows: &mut Windows) {
        let (_, ranges) = windows.of(table, sets, OCCASION);
        self.add_occasions(ranges);
    }

    /// Counts the sets of one patient by the occasion of each.
    pub(crate) fn add_occasions(&mut self, ranges: &[(usize, usize)]) {
        self.sets += ranges.len() as u64;
        for (place, (low, high)) in ranges.iter().enumerate() {
            // Every set of an occasion gives the same range; its first set counts it.
            if *low == place {
                self.occasions += 1;
                self.single += u64::from(high - low == 1);
            }
        }
    }

    pub(crate) fn add_all(&mut self, other: &Self) {
        self.single += other.single;
        self.occasions += other.occasions;
        self.sets += other.sets;
    }

    /// Single sets out of all sets (by venepunctures), with the 95 % Wilson interval.
    pub fn per_set(&self) -> Option<Rate> {
        share(self.single, self.sets)
    }

    /// Single sets out of all occasions (by patient and 24 hours), with the 95 % Wilson interval.
    pub fn per_occasion(&self) -> Option<Rate> {
        share(self.single, self.occasions)
    }
}
