//! Counts of verdicts, and the rate with its denominator and interval.

use std::collections::BTreeMap;

use stats::proportion::{poisson_exact, wilson};
use stats::{ConfidenceLevel, Interval, Proportion};

use crate::judge::Judged;
use crate::set::CultureSet;
use crate::verdict::{Clause, Verdict};
use crate::window::counted_on;

/// How many sets of each verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Tally {
    /// Contaminated sets.
    pub contaminated: u64,
    /// Sets whose growth is judged to come from the patient's blood.
    pub true_positive: u64,
    /// Sets without growth.
    pub negative: u64,
    /// Sets about which the rule cannot tell.
    pub undetermined: u64,
    /// Sets whose verdict may still change.
    pub provisional: u64,
    /// Sets the rule is not about: cancelled, outside the age range, after the as-of date.
    pub excluded: u64,
}

/// A share of sets with its interval; `proportion` names the denominator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Contaminated sets out of closed sets.
    pub proportion: Proportion,
    /// 95 % Wilson score interval.
    pub interval: Interval,
}

impl Tally {
    /// Counts a list of verdicts.
    pub fn of<'a>(judged: impl IntoIterator<Item = &'a Judged>) -> Self {
        let mut tally = Self::default();
        for one in judged {
            tally.add(one.verdict());
        }
        tally
    }

    /// Counts one more.
    pub fn add(&mut self, verdict: Verdict) {
        *match verdict {
            Verdict::Contaminated => &mut self.contaminated,
            Verdict::TruePositive => &mut self.true_positive,
            Verdict::Negative => &mut self.negative,
            Verdict::Undetermined => &mut self.undetermined,
            Verdict::Provisional => &mut self.provisional,
            Verdict::Excluded => &mut self.excluded,
        } += 1;
    }

    pub(crate) fn add_all(&mut self, other: &Tally) {
        self.contaminated += other.contaminated;
        self.true_positive += other.true_positive;
        self.negative += other.negative;
        self.undetermined += other.undetermined;
        self.provisional += other.provisional;
        self.excluded += other.excluded;
    }

    /// Every set the rule is about: all but the excluded.
    pub fn sets(&self) -> u64 {
        self.contaminated + self.true_positive + self.negative + self.undetermined + self.provisional
    }

    /// The denominator of the rate: sets whose verdict no longer changes.
    pub fn closed(&self) -> u64 {
        self.sets() - self.provisional
    }

    /// Contaminated sets out of closed sets, with the 95 % Wilson interval; `None` where no set is closed.
    ///
    /// Undetermined sets stay in the denominator: the published measure divides by all sets collected.
    ///
    /// ```
    /// // Newcombe 1998, Statistics in Medicine 17:857, case 81 of 263: Wilson 0.2553 to 0.3662.
    /// use culture::Tally;
    /// let tally = Tally { contaminated: 81, negative: 182, ..Tally::default() };
    /// let rate = tally.rate().expect("263 closed sets");
    /// assert_eq!(rate.proportion.trials(), 263);
    /// assert_eq!(format!("{:.4} {:.4}", rate.interval.lower(), rate.interval.upper()), "0.2553 0.3662");
    /// ```
    pub fn rate(&self) -> Option<Rate> {
        share(self.contaminated, self.closed())
    }

    /// The rate if every undetermined set were contaminated: the upper end of what cannot be told.
    pub fn rate_with_undetermined(&self) -> Option<Rate> {
        share(self.contaminated + self.undetermined, self.closed())
    }

    /// Closed sets with any growth out of closed sets.
    pub fn positivity(&self) -> Option<Rate> {
        share(self.contaminated + self.true_positive + self.undetermined, self.closed())
    }
}

/// A count out of a total with the 95 % Wilson interval; `None` where the total is 0.
pub fn share(events: u64, trials: u64) -> Option<Rate> {
    let proportion = Proportion::new(events, trials).ok()?;
    Some(Rate { proportion, interval: wilson(proportion, ConfidenceLevel::default()) })
}

/// Sets per 1,000 patient-days with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatientDayRate {
    /// Sets.
    pub sets: u64,
    /// Patient-days: the denominator.
    pub patient_days: f64,
    /// Sets per 1,000 patient-days.
    pub per_thousand: f64,
    /// Exact 95 % Poisson interval. Sets of one patient come together, so the true uncertainty is larger.
    pub interval: Interval,
}

/// Sets per 1,000 patient-days; `None` unless the days are above 0.
///
/// ```
/// // stats::proportion::poisson_exact: 15 events give 8.39540 to 24.74020 (a published table of Poisson limits:
/// // Garwood 1936, as in a public test suite of a general statistics library).
/// let rate = culture::per_thousand_patient_days(15, 1_000.0).expect("days");
/// assert_eq!(rate.per_thousand, 15.0);
/// assert_eq!(format!("{:.3} {:.3}", rate.interval.lower(), rate.interval.upper()), "8.395 24.740");
/// ```
pub fn per_thousand_patient_days(sets: u64, patient_days: f64) -> Option<PatientDayRate> {
    let thousands = patient_days / 1_000.0;
    let interval = poisson_exact(sets, thousands, ConfidenceLevel::default()).ok()?;
    Some(PatientDayRate { sets, patient_days, per_thousand: sets as f64 / thousands, interval })
}

/// A calendar month, printed "2026-03".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month {
    /// Year.
    pub year: i16,
    /// Month, 1 to 12.
    pub month: i8,
}

impl Month {
    /// The month a set counts for.
    pub fn of(set: &CultureSet) -> Self {
        let day = counted_on(set);
        Self { year: day.year(), month: day.month() }
    }
}

impl std::fmt::Display for Month {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:04}-{:02}", self.year, self.month)
    }
}

/// The shift a draw fell in, by the hour it was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shift {
    /// From the first hour given up to the second.
    Day,
    /// The rest of the day.
    Night,
    /// The hour is not known.
    NotKnown,
}

/// When the day shift begins and ends, in hours of the day; a parameter of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DayShift {
    /// First hour of the day shift, 0 to 23.
    pub from: i8,
    /// First hour of the night shift, 0 to 23.
    pub until: i8,
}

impl Default for DayShift {
    /// 07:00 to 19:00: common practice, no source.
    fn default() -> Self {
        Self { from: 7, until: 19 }
    }
}

impl DayShift {
    /// The shift a set was taken in.
    pub fn of(self, set: &CultureSet) -> Shift {
        match set.collected.time() {
            Some(at) if (self.from..self.until).contains(&at.hour()) => Shift::Day,
            Some(_) => Shift::Night,
            None => Shift::NotKnown,
        }
    }
}

/// A tally for every value of a key, in the order of the key. A set without the key is counted under `None`.
pub fn tally_by<K: Ord>(
    sets: &[CultureSet],
    judged: &[Judged],
    key: impl Fn(&CultureSet) -> Option<K>,
) -> BTreeMap<Option<K>, Tally> {
    let mut tallies: BTreeMap<Option<K>, Tally> = BTreeMap::new();
    for (set, judged) in sets.iter().zip(judged) {
        tallies.entry(key(set)).or_default().add(judged.verdict());
    }
    tallies
}

/// How often each clause fired, in the order in which clauses are listed.
pub fn count_clauses(judged: &[Judged]) -> BTreeMap<Clause, u64> {
    let mut counts = BTreeMap::new();
    for one in judged {
        *counts.entry(one.clause).or_insert(0) += 1;
    }
    counts
}
