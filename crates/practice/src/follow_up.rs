//! Follow-up that thins out as a person proves able, and tightens after a slip.

use jiff::ToSpan as _;
use jiff::civil::Date;

use crate::event::Scope;
use crate::rule::FollowUp;
use crate::standing::Due;
use crate::words::day_in_words;

/// A watched draw after release.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Check {
    pub(crate) on: Date,
    /// Whether no safety point was missed.
    pub(crate) clean: bool,
}

/// When the next check is due after a release or refresher on `anchor`.
///
/// Clean checks move along the schedule; a check with a missed safety point begins it anew from that day. A check
/// that came late moves the next one with it, so two checks never stand closer than the schedule has them.
pub(crate) fn next_check(schedule: &FollowUp, scope: Scope, anchor: Date, checks: &[Check]) -> Due {
    let mut start = anchor;
    let mut slipped = false;
    let mut n_clean = 0usize;
    let mut last = anchor;
    for check in checks.iter().filter(|check| check.on > anchor) {
        last = check.on;
        if check.clean {
            n_clean += 1;
        } else {
            (start, slipped, n_clean) = (check.on, true, 0);
        }
    }
    let planned = |n: usize| -> Option<i64> { schedule.after_days.get(n).map(|days| i64::from(*days)) };
    let on = match planned(n_clean) {
        Some(days) => {
            let gap = n_clean.checked_sub(1).and_then(planned).map_or(days, |before| days - before);
            days_after(start, days).max(days_after(last, gap))
        }
        None => days_after(last, i64::from(schedule.then_every_days)),
    };
    let start = day_in_words(start);
    let since = match (slipped, scope) {
        (true, _) => format!("a safety point was missed on {start}"),
        (false, Scope::OwnPatients) => format!("release to own patients on {start}"),
        (false, Scope::AllPatients) => format!("release to all patients on {start}"),
        (false, Scope::MayPrecept) => format!("release to precept on {start}"),
    };
    Due { on, why: format!("check {} since {since}", n_clean + 1) }
}

/// A day so many days later; the last day of the calendar when it ends before that.
pub(crate) fn days_after(day: Date, days: i64) -> Date {
    day.saturating_add(days.days())
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::ReleaseRule;

    /// Common practice, no source: a check after one week, one month, three months, then yearly.
    #[test]
    fn checks_thin_out_and_tighten_after_a_slip() {
        let schedule = ReleaseRule::default().follow_up;
        let released = date(2026, 1, 5);
        let due = |checks: &[(Date, bool)]| {
            let checks: Vec<_> = checks.iter().map(|(on, clean)| Check { on: *on, clean: *clean }).collect();
            next_check(&schedule, Scope::OwnPatients, released, &checks).on
        };
        // On time: 7, 30, 91 days after release, then a year after the last.
        assert_eq!(due(&[]), date(2026, 1, 12));
        assert_eq!(due(&[(date(2026, 1, 12), true)]), date(2026, 2, 4));
        assert_eq!(due(&[(date(2026, 1, 12), true), (date(2026, 2, 4), true)]), date(2026, 4, 6));
        let three = [(date(2026, 1, 12), true), (date(2026, 2, 4), true), (date(2026, 4, 6), true)];
        assert_eq!(due(&three), date(2027, 4, 6));
        // Early checks do not bring the next one forward; late ones push it back.
        assert_eq!(due(&[(date(2026, 1, 6), true)]), date(2026, 2, 4));
        assert_eq!(due(&[(date(2026, 2, 20), true)]), date(2026, 3, 15));
        // A slip begins the schedule anew from its day.
        let slip = [(date(2026, 1, 12), true), (date(2026, 2, 4), false)];
        assert_eq!(due(&slip), date(2026, 2, 11));
        assert_eq!(due(&[slip[0], slip[1], (date(2026, 2, 11), true)]), date(2026, 3, 6));
        // What happened before release is not a check of it.
        assert_eq!(due(&[(date(2026, 1, 2), false)]), date(2026, 1, 12));
    }
}
