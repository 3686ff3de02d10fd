//! How far the data can be trusted: what is missing, what cannot be right, what looks as if two people were one.
//!
//! Nothing is mended or guessed here. Each finding is counted out of what it could have been, with the places of the
//! first sets, so that somebody can look.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::DateTime;

use crate::judge::Judged;
use crate::set::{BottleKind, Collected, CultureSet, PatientKey, Route};
use crate::verdict::Verdict;
use crate::window::collected_after_received;

/// Sets of two units by one collector within this many minutes: nobody is in two places. Our choice, no source.
pub const TWO_UNITS_WITHIN_MINUTES: i64 = 15;
/// Patients of one collector at one minute from which on the time is that of a round, not of a draw. Our choice.
pub const ROUND_FROM_PATIENTS: usize = 3;
/// Hours from collection to receipt from which on one of the two is doubtful. Our choice, no source.
pub const LONG_WAY_HOURS: i64 = 24;
/// Places kept for each finding.
pub const MOST_PLACES: usize = 20;

/// What is wrong or missing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Doubt {
    /// Nobody is recorded as having drawn.
    CollectorNotRecorded,
    /// Only the day of collection is known.
    DayOnly,
    /// Collected at exactly midnight: mostly a day whose time was lost.
    Midnight,
    /// Collected after it was received.
    AfterReceipt,
    /// Received very long after it was collected.
    LongWay,
    /// No unit.
    UnitNotRecorded,
    /// Neither vein nor line is recorded.
    RouteNotRecorded,
    /// Neither age nor date of birth.
    AgeNotRecorded,
    /// A set with one bottle only, children's bottles aside.
    OneBottle,
    /// More than one set of a patient at one minute by one route: perhaps one set under two numbers.
    SameMinute,
    /// One collector with several patients at one minute: the time of a round.
    RoundTime,
    /// One collector in two units at once: perhaps a shared login.
    TwoUnitsAtOnce,
}

impl Doubt {
    /// Every kind, in the order of listing.
    pub const ALL: [Doubt; 12] = [
        Doubt::CollectorNotRecorded,
        Doubt::TwoUnitsAtOnce,
        Doubt::RoundTime,
        Doubt::SameMinute,
        Doubt::AfterReceipt,
        Doubt::LongWay,
        Doubt::Midnight,
        Doubt::DayOnly,
        Doubt::OneBottle,
        Doubt::UnitNotRecorded,
        Doubt::RouteNotRecorded,
        Doubt::AgeNotRecorded,
    ];

    /// Stable name for files.
    pub fn id(self) -> &'static str {
        match self {
            Doubt::CollectorNotRecorded => "collector-not-recorded",
            Doubt::DayOnly => "day-only",
            Doubt::Midnight => "midnight",
            Doubt::AfterReceipt => "after-receipt",
            Doubt::LongWay => "long-way",
            Doubt::UnitNotRecorded => "unit-not-recorded",
            Doubt::RouteNotRecorded => "route-not-recorded",
            Doubt::AgeNotRecorded => "age-not-recorded",
            Doubt::OneBottle => "one-bottle",
            Doubt::SameMinute => "same-minute",
            Doubt::RoundTime => "round-time",
            Doubt::TwoUnitsAtOnce => "two-units-at-once",
        }
    }

    /// What it means, in one plain sentence.
    pub fn sentence(self) -> String {
        match self {
            Doubt::CollectorNotRecorded => {
                "Nobody is recorded as having drawn; such sets are in no person's figures.".to_owned()
            }
            Doubt::DayOnly => "Only the day of collection is known.".to_owned(),
            Doubt::Midnight => {
                "Collected at exactly midnight: mostly a day whose time was lost.".to_owned()
            }
            Doubt::AfterReceipt => {
                "Collected after it was received: one of the two times cannot be right.".to_owned()
            }
            Doubt::LongWay => {
                format!("Received more than {LONG_WAY_HOURS} hours after collection: one of the two times is doubtful.")
            }
            Doubt::UnitNotRecorded => "No unit is known.".to_owned(),
            Doubt::RouteNotRecorded => "Neither vein nor line is recorded.".to_owned(),
            Doubt::AgeNotRecorded => "Neither an age nor a date of birth is known.".to_owned(),
            Doubt::OneBottle => "Only one bottle is listed, children's bottles aside.".to_owned(),
            Doubt::SameMinute => {
                "Another set of the patient has the same minute and no other route: perhaps one set under two numbers, or the time of the order.".to_owned()
            }
            Doubt::RoundTime => format!(
                "The collector has sets of {ROUND_FROM_PATIENTS} or more patients at this minute: the time of a round or of printed labels, not of the draw."
            ),
            Doubt::TwoUnitsAtOnce => format!(
                "The collector has a set in another unit within {TWO_UNITS_WITHIN_MINUTES} minutes: perhaps a login that several people use."
            ),
        }
    }

    /// The sets it is counted out of, in words.
    pub fn out_of(self) -> &'static str {
        match self {
            Doubt::AfterReceipt | Doubt::LongWay => "sets with both times",
            Doubt::Midnight | Doubt::SameMinute => "sets with a time of day",
            Doubt::RoundTime | Doubt::TwoUnitsAtOnce => "sets with a collector and a time of day",
            Doubt::OneBottle => "sets whose bottles are listed",
            _ => "sets",
        }
    }
}

/// How often one doubt was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DoubtCount {
    /// What was met.
    pub doubt: Doubt,
    /// In how many sets.
    pub sets: u64,
    /// Out of how many; [`Doubt::out_of`] says which.
    pub of: u64,
    /// Places of the first sets, at most [`MOST_PLACES`].
    pub places: Vec<usize>,
}

/// Counts every doubt among the sets the rule is about, those never met included.
pub fn doubts(sets: &[CultureSet], judged: &[Judged]) -> Vec<DoubtCount> {
    let included: Vec<usize> =
        (0..sets.len()).filter(|&n| judged[n].verdict() != Verdict::Excluded).collect();
    let crowded = Crowded::of(sets, &included);
    Doubt::ALL
        .into_iter()
        .map(|doubt| {
            let mut count = DoubtCount { doubt, sets: 0, of: 0, places: Vec::new() };
            for &place in &included {
                let Some(met) = met(doubt, &sets[place], place, &crowded) else { continue };
                count.of += 1;
                if met {
                    count.sets += 1;
                    if count.places.len() < MOST_PLACES {
                        count.places.push(place);
                    }
                }
            }
            count
        })
        .collect()
}

/// Whether the doubt is met; `None` where the set is not among those it could be met in.
fn met(doubt: Doubt, set: &CultureSet, place: usize, crowded: &Crowded) -> Option<bool> {
    let at = set.collected.time();
    Some(match doubt {
        Doubt::CollectorNotRecorded => set.collector.is_none(),
        Doubt::UnitNotRecorded => set.unit.is_none(),
        Doubt::RouteNotRecorded => set.route.is_none(),
        Doubt::AgeNotRecorded => set.age_years.is_none(),
        Doubt::DayOnly => matches!(set.collected, Collected::On(_)),
        Doubt::Midnight => {
            let at = at?;
            (at.hour(), at.minute(), at.second()) == (0, 0, 0)
        }
        Doubt::AfterReceipt => {
            set.received?;
            collected_after_received(set)
        }
        Doubt::LongWay => set.received?.duration_since(at?).as_hours() >= LONG_WAY_HOURS,
        Doubt::OneBottle => {
            if set.bottles.is_empty() {
                return None;
            }
            set.bottles.len() == 1 && set.bottles[0].kind != BottleKind::Paediatric
        }
        Doubt::SameMinute => {
            at?;
            crowded.same_minute.contains(&place)
        }
        Doubt::RoundTime | Doubt::TwoUnitsAtOnce => {
            at?;
            set.collector.as_ref()?;
            let found = if doubt == Doubt::RoundTime { &crowded.round_time } else { &crowded.two_units };
            found.contains(&place)
        }
    })
}

/// Places of sets that stand too close to others.
#[derive(Default)]
struct Crowded {
    same_minute: std::collections::HashSet<usize>,
    round_time: std::collections::HashSet<usize>,
    two_units: std::collections::HashSet<usize>,
}

impl Crowded {
    fn of(sets: &[CultureSet], included: &[usize]) -> Self {
        let mut crowded = Self::default();
        let mut by_patient: HashMap<(&PatientKey, DateTime), Vec<usize>> = HashMap::new();
        let mut by_collector: BTreeMap<&str, Vec<(DateTime, usize)>> = BTreeMap::new();
        for &place in included {
            let set = &sets[place];
            let Some(at) = set.collected.time() else { continue };
            by_patient.entry((&set.patient, minute(at))).or_default().push(place);
            if let Some(collector) = &set.collector {
                by_collector.entry(collector).or_default().push((at, place));
            }
        }
        for places in by_patient.into_values().filter(|places| places.len() > 1) {
            for &place in &places {
                let apart = |other: usize| {
                    let (one, other): (Option<Route>, Option<Route>) = (sets[place].route, sets[other].route);
                    one.is_some() && other.is_some() && one != other
                };
                if places.iter().any(|&other| other != place && !apart(other)) {
                    crowded.same_minute.insert(place);
                }
            }
        }
        for mut draws in by_collector.into_values() {
            draws.sort_unstable();
            crowded.of_collector(sets, &draws);
        }
        crowded
    }

    fn of_collector(&mut self, sets: &[CultureSet], draws: &[(DateTime, usize)]) {
        for at_once in draws.chunk_by(|(one, _), (other, _)| minute(*one) == minute(*other)) {
            let mut patients: Vec<&PatientKey> = at_once.iter().map(|(_, n)| &sets[*n].patient).collect();
            patients.sort_unstable();
            patients.dedup();
            if patients.len() >= ROUND_FROM_PATIENTS {
                self.round_time.extend(at_once.iter().map(|(_, place)| *place));
            }
        }
        for (n, &(at, place)) in draws.iter().enumerate() {
            let Some(unit) = &sets[place].unit else { continue };
            let soon = draws[n + 1..]
                .iter()
                .take_while(|(later, _)| later.duration_since(at).as_mins() <= TWO_UNITS_WITHIN_MINUTES);
            for &(_, other) in soon {
                if sets[other].unit.as_ref().is_some_and(|other| other != unit) {
                    self.two_units.extend([place, other]);
                }
            }
        }
    }
}

fn minute(at: DateTime) -> DateTime {
    at.with().second(0).subsec_nanosecond(0).build().unwrap_or(at)
}
