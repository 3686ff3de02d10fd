//! When a set was taken, and which other sets of the patient lie in its window.

use std::collections::VecDeque;

use jiff::civil::Date;

use crate::rules::Window;
use crate::set::{Collected, CultureSet};
use crate::table::{Moment, SetTable};

const DAY_SECONDS: i64 = 86_400;

/// The day a set counts for: the day of collection, or of receipt where the collection time cannot be right.
pub fn counted_on(set: &CultureSet) -> Date {
    match (collected_after_received(set), set.received) {
        (true, Some(received)) => received.date(),
        _ => set.collected.date(),
    }
}

/// The collection time is later than the receipt time, so it cannot be right.
pub fn collected_after_received(set: &CultureSet) -> bool {
    match (set.collected, set.received) {
        (Collected::At(at), Some(received)) => at > received,
        (Collected::On(date), Some(received)) => date > received.date(),
        (_, None) => false,
    }
}

/// The same as [`collected_after_received`] of times in little space.
pub(crate) fn collected_after(collected: Moment, received: Moment) -> bool {
    if received.is_none() {
        false
    } else if collected.is_day_only() {
        collected.day() > received.day()
    } else {
        collected.seconds() > received.seconds()
    }
}

/// The time of a draw as far as it is known: the two ends agree where the laboratory gave a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Timing {
    /// Seconds since 1970-01-01 00:00 local time, at the earliest.
    pub earliest: i64,
    /// The same, at the latest.
    pub latest: i64,
    /// Days since 1970-01-01.
    pub day: i32,
}

impl Timing {
    pub(crate) fn of_moments(collected: Moment, received: Moment) -> Self {
        let exact = |at: Moment| Self { earliest: at.seconds(), latest: at.seconds(), day: at.day() };
        if collected_after(collected, received) {
            return exact(received);
        }
        if !collected.is_day_only() {
            return exact(collected);
        }
        let start = collected.seconds();
        let end = start + DAY_SECONDS - 1;
        let latest = if received.is_none() { end } else { end.min(received.seconds()) };
        Self { earliest: start, latest, day: collected.day() }
    }
}

/// The day a set counts for, in days since 1970-01-01: as [`counted_on`] says.
pub(crate) fn counted_day(collected: Moment, received: Moment) -> i32 {
    if collected_after(collected, received) { received.day() } else { collected.day() }
}

/// For each set of one patient, sorted by `latest`, the half-open range of the sets in its window, itself included.
///
/// Where only the day of a set is known, another set is in the window only if it is so whatever the hour was.
pub(crate) fn windows(timings: &[Timing], window: Window, ranges: &mut Vec<(usize, usize)>) {
    ranges.clear();
    match window {
        Window::AnchoredHours(hours) => anchored(timings, i64::from(hours) * 3_600, ranges),
        Window::RollingHours(hours) => rolling(timings, i64::from(hours) * 3_600, ranges),
        Window::CalendarDays(days) => calendar(timings, i32::try_from(days).unwrap_or(i32::MAX), ranges),
    }
}

/// The windows of one patient after the other, in room that is used again.
#[derive(Default)]
pub(crate) struct Windows {
    timings: Vec<Timing>,
    ranges: Vec<(usize, usize)>,
}

impl Windows {
    /// The windows asked for last.
    pub(crate) fn ranges(&self) -> &[(usize, usize)] {
        &self.ranges
    }

    /// Timings and windows of sets of one patient, sorted by `latest`.
    pub(crate) fn of(
        &mut self,
        table: &SetTable,
        sets: &[u32],
        window: Window,
    ) -> (&[Timing], &[(usize, usize)]) {
        self.timings.clear();
        self.timings.extend(sets.iter().map(|&set| table.timing(set as usize)));
        windows(&self.timings, window, &mut self.ranges);
        (&self.timings, &self.ranges)
    }
}

/// A series starts with a set and holds every set up to `span` seconds after it, that moment included.
fn anchored(timings: &[Timing], span: i64, ranges: &mut Vec<(usize, usize)>) {
    let mut start = 0;
    while start < timings.len() {
        let limit = timings[start].earliest + span;
        let length = timings[start + 1..].partition_point(|timing| timing.latest <= limit) + 1;
        ranges.extend(std::iter::repeat_n((start, start + length), length));
        start += length;
    }
}

fn rolling(timings: &[Timing], span: i64, ranges: &mut Vec<(usize, usize)>) {
    let mut low = 0;
    // Sets before this one in order of place and of `earliest`: the front is the first to fall out of the window.
    let mut before: VecDeque<usize> = VecDeque::new();
    ranges.extend(timings.iter().enumerate().map(|(place, timing)| {
        while let Some(&front) = before.front()
            && timings[front].earliest < timing.latest - span
        {
            low = front + 1;
            before.pop_front();
        }
        let limit = timing.earliest + span;
        let after = timings[place + 1..].partition_point(|later| later.latest <= limit);
        while before.back().is_some_and(|&back| timings[back].earliest >= timing.earliest) {
            before.pop_back();
        }
        before.push_back(place);
        (low, place + 1 + after)
    }));
}

fn calendar(timings: &[Timing], days: i32, ranges: &mut Vec<(usize, usize)>) {
    ranges.extend(timings.iter().map(|timing| {
        let low = timings.partition_point(|other| other.day < timing.day.saturating_sub(days));
        let high = timings.partition_point(|other| other.day <= timing.day.saturating_add(days));
        (low, high)
    }));
}

/// Days from 1970-01-01 in the proleptic Gregorian calendar (the usual era arithmetic).
pub(crate) fn days(date: Date) -> i32 {
    days_of(i32::from(date.year()), i32::from(date.month()), i32::from(date.day()))
}

/// The same of year, month and day.
pub(crate) fn days_of(year: i32, month: i32, day: i32) -> i32 {
    let year = year - i32::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let month_from_march = (month + 9) % 12;
    let day_of_year = (153 * month_from_march + 2) / 5 + day - 1;
    let day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    era * 146_097 + day_of_era - 719_468
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn days_agree_with_the_calendar_library() {
        let epoch = date(1970, 1, 1);
        for (year, month, day) in [(1970, 1, 1), (2000, 2, 29), (2026, 11, 25), (2164, 10, 23), (1900, 3, 1)]
        {
            let then = date(year, month, day);
            let expected = epoch.until(then).unwrap().get_days();
            assert_eq!(days(then), expected, "{then}");
        }
    }

    fn ranges(timings: &[Timing], window: Window) -> Vec<(usize, usize)> {
        let mut ranges = Vec::new();
        windows(timings, window, &mut ranges);
        ranges
    }

    fn at(seconds: i64) -> Timing {
        Timing {
            earliest: seconds,
            latest: seconds,
            day: i32::try_from(seconds.div_euclid(DAY_SECONDS)).unwrap(),
        }
    }

    #[test]
    fn a_series_includes_the_last_second_of_its_hours_and_no_more() {
        let day = 24 * 3_600;
        let ranges = |timings: &[Timing]| ranges(timings, Window::AnchoredHours(24));
        assert_eq!(ranges(&[at(0), at(day)]), [(0, 2), (0, 2)]);
        assert_eq!(ranges(&[at(0), at(day + 1)]), [(0, 1), (1, 2)]);
    }

    fn timings() -> impl Strategy<Value = Vec<Timing>> {
        let one = (0_i64..30 * DAY_SECONDS, any::<bool>()).prop_map(|(seconds, day_only)| {
            if day_only {
                let start = seconds.div_euclid(DAY_SECONDS) * DAY_SECONDS;
                Timing { earliest: start, latest: start + DAY_SECONDS - 1, ..at(start) }
            } else {
                at(seconds)
            }
        });
        proptest::collection::vec(one, 0..40).prop_map(|mut all| {
            all.sort_by_key(|timing| timing.latest);
            all
        })
    }

    proptest! {
        /// The fast windows against the plain reading of their definition, set by set.
        #[test]
        fn windows_are_what_their_definition_says(timings in timings(), hours in 24_u32..100) {
            let span = i64::from(hours) * 3_600;
            for (place, (low, high)) in ranges(&timings, Window::RollingHours(hours)).into_iter().enumerate() {
                let sure = |a: usize, b: usize| timings[b].latest - timings[a].earliest <= span;
                let mut expected_low = place;
                while expected_low > 0 && sure(expected_low - 1, place) {
                    expected_low -= 1;
                }
                let expected_high = (place + 1..timings.len()).find(|&b| !sure(place, b)).unwrap_or(timings.len());
                prop_assert_eq!((low, high), (expected_low, expected_high));
            }
            for (place, (low, high)) in ranges(&timings, Window::CalendarDays(1)).into_iter().enumerate() {
                for (other, timing) in timings.iter().enumerate() {
                    let near = (timing.day - timings[place].day).abs() <= 1;
                    prop_assert_eq!((low..high).contains(&other), near);
                }
            }
        }
    }
}
