use std::collections::BTreeMap;

use jiff::civil::{Date, DateTime, Weekday};
use stats::StatsError;
use stats::arrivals::{GammaRate, RateSpread, Stratum, fit_rate_spread, shrink_rates};

use crate::shift::{Shift, ShiftKind, ShiftTimes};

/// A kind of shift in the week: Tuesday nights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Slot {
    /// Day of the week on which the shift begins.
    pub weekday: Weekday,
    /// Which of the day's shifts.
    pub kind: ShiftKind,
}

impl Slot {
    /// The slot of a shift.
    pub fn of(shift: Shift) -> Slot {
        Slot { weekday: shift.on.weekday(), kind: shift.kind }
    }

    pub(crate) fn place(self) -> (i8, ShiftKind) {
        (self.weekday.to_monday_zero_offset(), self.kind)
    }
}

/// How many draws a shift of one unit brings, with what is not known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawRates {
    alike: Option<GammaRate>,
    by_slot: BTreeMap<(i8, ShiftKind), GammaRate>,
}

impl DrawRates {
    /// Draws per shift in a slot.
    pub fn of(&self, slot: Slot) -> Option<GammaRate> {
        self.alike.or_else(|| self.by_slot.get(&slot.place()).copied())
    }

    /// Whether all slots have one rate, because the counts differ no more than chance alone would make them.
    pub fn is_alike(&self) -> bool {
        self.alike.is_some()
    }
}

/// Draws per shift by weekday and shift, from the times of one unit's draws over whole days from `from` to `to`, both
/// included. Draws outside these days are not counted.
///
/// # Formula
/// Gamma-Poisson: each slot's count over its number of shifts, shrunk towards all slots
/// (`stats::arrivals::shrink_rates`).
/// # Range
/// At least one day; rates in draws per shift.
/// # Ends
/// A slot that had no shift in the period takes what the others tell of it. No draw at all: one rate of half a draw over
/// all shifts.
/// # Source
/// As `stats::arrivals::fit_rate_spread`.
/// # Check
/// The shrunk rates against `stats::arrivals` on the same counts, counted by hand.
pub fn draw_rates(
    draws: &[DateTime],
    from: Date,
    to: Date,
    times: ShiftTimes,
) -> Result<DrawRates, StatsError> {
    let mut counts: BTreeMap<(i8, ShiftKind), (u64, f64)> = BTreeMap::new();
    for shift in Shift::between(from, to, times) {
        counts.entry(Slot::of(shift).place()).or_default().1 += 1.0;
    }
    for shift in
        draws.iter().map(|draw| Shift::at(*draw, times)).filter(|shift| (from..=to).contains(&shift.on))
    {
        counts.entry(Slot::of(shift).place()).or_default().0 += 1;
    }
    let strata = counts
        .values()
        .map(|(count, shifts)| Stratum::new(*count, *shifts))
        .collect::<Result<Vec<_>, _>>()?;
    match fit_rate_spread(&strata)? {
        RateSpread::Alike(rate) => Ok(DrawRates { alike: Some(rate), by_slot: BTreeMap::new() }),
        RateSpread::Differ(spread) => {
            let mut by_slot: BTreeMap<_, _> = counts.into_keys().zip(shrink_rates(&strata)?).collect();
            for weekday in 0..7 {
                for kind in times.kinds() {
                    by_slot.entry((weekday, kind)).or_insert(spread);
                }
            }
            Ok(DrawRates { alike: None, by_slot })
        }
    }
}
