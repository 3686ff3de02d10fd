//! Days, shifts and the roster.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::{Date, DateTime, date};

use crate::dice::Dice;
use crate::people::{Hours, Member};

/// First day with laboratory sets.
pub(crate) const FIRST_DAY: Date = date(2025, 1, 1);
/// First day of the story's main streams of chance. The months before it have streams of their own: they were put before
/// a story that was told, and changed nothing in it.
pub(crate) const MAIN_FROM: Date = date(2025, 5, 1);
/// Last day with laboratory sets.
pub(crate) const LAST_DAY: Date = date(2026, 10, 31);
/// The day on which the story is told, a Monday.
pub(crate) const TODAY: Date = date(2026, 11, 2);
/// Day on which training with the breakdowns started.
pub(crate) const TRAINING_STARTED: Date = date(2025, 11, 3);
/// Monday of the first and of the last rostered week.
const ROSTER_FROM: Date = date(2025, 4, 28);
const ROSTER_WEEKS: u32 = 88;
/// Monday of the first week before those, and how many there are.
const EARLIER_ROSTER_FROM: Date = date(2024, 12, 30);
const EARLIER_ROSTER_WEEKS: u32 = 17;
/// Weeks from 3 to 23 November 2025.
const TRAINERS_TOGETHER: std::ops::Range<u32> = 27..30;

/// A 12-hour shift: days from 07:00, nights from 19:00 into the next calendar day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum ShiftKind {
    Day,
    Night,
}

/// A shift by the date of the roster: a night belongs to the evening on which it starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Shift {
    pub(crate) on: Date,
    pub(crate) kind: ShiftKind,
}

impl Shift {
    /// The shift that works at a moment.
    pub(crate) fn at(moment: DateTime) -> Shift {
        match moment.hour() {
            7..=18 => Shift { on: moment.date(), kind: ShiftKind::Day },
            19..=23 => Shift { on: moment.date(), kind: ShiftKind::Night },
            _ => Shift { on: days_after(moment.date(), -1), kind: ShiftKind::Night },
        }
    }
}

/// Who works when.
#[derive(Debug, Clone)]
pub(crate) struct Roster {
    shifts: BTreeMap<Shift, Vec<usize>>,
}

impl Roster {
    /// Three shifts a week for everybody, by the hours they work.
    pub(crate) fn new(seed: u64, members: &[Member]) -> Roster {
        let mut roster = Roster { shifts: BTreeMap::new() };
        roster.add_weeks(
            EARLIER_ROSTER_FROM,
            EARLIER_ROSTER_WEEKS,
            members,
            &mut Dice::new(seed, "earlier roster"),
        );
        roster.add_weeks(ROSTER_FROM, ROSTER_WEEKS, members, &mut Dice::new(seed, "roster"));
        roster
    }

    fn add_weeks(&mut self, from: Date, weeks: u32, members: &[Member], dice: &mut Dice) {
        for week in 0..weeks {
            let monday = days_after(from, i64::from(week) * 7);
            for (who, member) in members.iter().enumerate() {
                for (day, kind) in week_of(member.hours, week, who, dice) {
                    let on = days_after(monday, day);
                    let away = member.away.is_some_and(|(from, to)| from <= on && on <= to);
                    if on >= member.person.started && !away {
                        self.shifts.entry(Shift { on, kind }).or_default().push(who);
                    }
                }
            }
        }
    }

    /// Everybody on a shift, by place in the list of members.
    pub(crate) fn on(&self, shift: Shift) -> &[usize] {
        self.shifts.get(&shift).map_or(&[], Vec::as_slice)
    }

    /// Whether a person works a shift.
    pub(crate) fn works(&self, who: usize, shift: Shift) -> bool {
        self.on(shift).contains(&who)
    }

    /// The last four and the next eight weeks as a file: one row per person and shift.
    pub(crate) fn csv(&self, members: &[Member]) -> String {
        let (from, to) = (days_after(TODAY, -28), days_after(TODAY, 55));
        let mut text = String::from("staff id,unit,date,shift,start,end\n");
        for (shift, on) in &self.shifts {
            if shift.on < from || shift.on > to {
                continue;
            }
            let (word, start, end) = match shift.kind {
                ShiftKind::Day => ("day", "07:00", "19:00"),
                ShiftKind::Night => ("night", "19:00", "07:00"),
            };
            for who in on {
                let person = &members[*who].person;
                text.push_str(&format!("{},{},{},{word},{start},{end}\n", person.id, person.unit, shift.on));
            }
        }
        text
    }
}

/// The days of one person's week, counted from Monday.
fn week_of(hours: Hours, week: u32, who: usize, dice: &mut Dice) -> Vec<(i64, ShiftKind)> {
    // Those who turn do so in four groups, so that every shift stays staffed.
    let (week_of_turn, group) = (week + (who as u32 / 2) % 2, who as u32);
    let nights_now = (week_of_turn / 2 + group).is_multiple_of(2);
    let nights_next = nights_now && week_of_turn.is_multiple_of(2);
    match hours {
        Hours::EarlyWeek => [0, 1, 2].map(|day| (day, ShiftKind::Day)).to_vec(),
        // While the trainers teach each other they work the same days.
        Hours::LateWeek if TRAINERS_TOGETHER.contains(&week) => {
            [0, 1, 2].map(|day| (day, ShiftKind::Day)).to_vec()
        }
        Hours::LateWeek if week % 4 == 3 => [2, 3, 4].map(|day| (day, ShiftKind::Night)).to_vec(),
        Hours::LateWeek => [2, 3, 4].map(|day| (day, ShiftKind::Day)).to_vec(),
        Hours::Days => three_of(7, dice).map(|day| (day, ShiftKind::Day)).to_vec(),
        Hours::Nights => three_of(7, dice).map(|day| (day, ShiftKind::Night)).to_vec(),
        Hours::Turning if nights_next => three_of(7, dice).map(|day| (day, ShiftKind::Night)).to_vec(),
        // No Sunday night: the week after may start with days on Monday morning.
        Hours::Turning if nights_now => three_of(6, dice).map(|day| (day, ShiftKind::Night)).to_vec(),
        Hours::Turning => three_of(7, dice).map(|day| (day, ShiftKind::Day)).to_vec(),
    }
}

/// Three different numbers below `bound`, rising.
fn three_of(bound: u32, dice: &mut Dice) -> [i64; 3] {
    let mut left: Vec<i64> = (0..i64::from(bound)).collect();
    let mut chosen = [0; 3];
    for slot in &mut chosen {
        *slot = left.remove(dice.below(left.len() as u32) as usize);
    }
    chosen.sort_unstable();
    chosen
}

/// The day so many days later, or earlier when negative.
pub(crate) fn days_after(day: Date, days: i64) -> Date {
    day.saturating_add(days.days())
}

/// The moment so many minutes later.
pub(crate) fn minutes_after(moment: DateTime, minutes: u32) -> DateTime {
    moment.saturating_add(i64::from(minutes).minutes())
}

/// Whole days from one day to another.
pub(crate) fn days_between(from: Date, to: Date) -> i64 {
    from.duration_until(to).as_hours() / 24
}

/// The months from one day on to the last with laboratory sets, each by its first day.
pub(crate) fn months_from(first: Date) -> Vec<Date> {
    let mut months = vec![first];
    while let Some(last) = months.last() {
        let next = last.last_of_month().tomorrow().unwrap_or(TODAY);
        if next > LAST_DAY {
            break;
        }
        months.push(next);
    }
    months
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use jiff::civil::Weekday;

    use super::*;
    use crate::people;

    #[test]
    fn a_night_belongs_to_the_evening_it_starts() {
        let evening = Shift { on: date(2026, 3, 31), kind: ShiftKind::Night };
        assert_eq!(Shift::at(date(2026, 3, 31).at(19, 0, 0, 0)), evening);
        assert_eq!(Shift::at(date(2026, 4, 1).at(6, 59, 0, 0)), evening);
        assert_eq!(Shift::at(date(2026, 4, 1).at(7, 0, 0, 0)).kind, ShiftKind::Day);
    }

    #[test]
    fn twenty_two_months_and_a_monday() {
        assert_eq!((months_from(FIRST_DAY).len(), months_from(MAIN_FROM).len()), (22, 18));
        assert_eq!(TODAY.weekday(), Weekday::Monday);
        assert_eq!(ROSTER_FROM.weekday(), Weekday::Monday);
        assert_eq!(days_after(EARLIER_ROSTER_FROM, i64::from(EARLIER_ROSTER_WEEKS) * 7), ROSTER_FROM);
        assert_eq!(days_between(date(2026, 2, 27), date(2026, 3, 2)), 3);
    }

    /// Nobody works two shifts of one date, nor a day straight after a night; everybody present works three a week.
    #[test]
    fn nobody_works_without_rest() {
        let members = people::members();
        let roster = Roster::new(3, &members);
        for (shift, on) in &roster.shifts {
            let mut once = BTreeSet::new();
            for who in on {
                assert!(once.insert(who), "{who} twice on {shift:?}");
                if shift.kind == ShiftKind::Night {
                    let morning = Shift { on: days_after(shift.on, 1), kind: ShiftKind::Day };
                    assert!(!roster.works(*who, morning), "{who} works {morning:?} after a night");
                    let same = Shift { on: shift.on, kind: ShiftKind::Day };
                    assert!(!roster.works(*who, same), "{who} works day and night on {}", shift.on);
                }
            }
        }
    }

    #[test]
    fn every_shift_of_the_roster_file_is_staffed() {
        let members = people::members();
        let roster = Roster::new(3, &members);
        for day in 0..80 {
            for kind in [ShiftKind::Day, ShiftKind::Night] {
                let shift = Shift { on: days_after(date(2026, 10, 5), day), kind };
                assert!(roster.on(shift).len() >= 2, "{shift:?}");
            }
        }
        assert!(roster.csv(&members).lines().count() > 1_000);
    }
}
