use std::collections::HashMap;

use jiff::{SignedDuration, Timestamp};

/// Wrong passwords in a row that cost no waiting.
const FREE: u32 = 5;
/// Longest wait.
const LONGEST: SignedDuration = SignedDuration::from_mins(15);
/// Wrong passwords in a row after which only an administrator opens the account again (NIST SP 800-63B: at most 100).
const MOST: u32 = 100;
/// Attempts from one place in a minute.
const FROM_ONE_PLACE: u32 = 30;
/// Names and places remembered at once; the ones longest unused are forgotten first.
const REMEMBERED: usize = 10_000;

/// Why an attempt is not looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wait {
    /// Wrong passwords in a row for this name: not before this moment.
    Until(Timestamp),
    /// Too many in a row: an administrator unlocks.
    Locked,
    /// Many attempts from one place within a minute: not before this moment.
    Place(Timestamp),
}

#[derive(Debug, Clone, Copy)]
struct Failures {
    in_a_row: u32,
    last: Timestamp,
}

#[derive(Debug, Clone, Copy)]
struct Minute {
    begun: Timestamp,
    attempts: u32,
}

/// Failed attempts to sign in, by name and by place. Kept in memory: a start of the program forgets them.
///
/// A name nobody has is treated like any other, so that waiting does not tell which names exist.
#[derive(Debug, Default)]
pub struct Attempts {
    names: HashMap<String, Failures>,
    places: HashMap<String, Minute>,
}

impl Attempts {
    /// Notes that somebody tries. `Err` says how long to wait; the password is then not looked at. Failures from before
    /// `unlocked`, where an administrator unlocked the account, do not count.
    pub fn begin(
        &mut self,
        name: &str,
        place: &str,
        now: Timestamp,
        unlocked: Option<Timestamp>,
    ) -> Result<(), Wait> {
        self.forget_the_oldest();
        let minute = self.places.entry(place.to_owned()).or_insert(Minute { begun: now, attempts: 0 });
        if now.duration_since(minute.begun) >= SignedDuration::from_mins(1) {
            *minute = Minute { begun: now, attempts: 0 };
        }
        if minute.attempts >= FROM_ONE_PLACE {
            return Err(Wait::Place(later(minute.begun, SignedDuration::from_mins(1))));
        }
        minute.attempts += 1;
        if unlocked.is_some_and(|moment| self.names.get(name).is_some_and(|failures| moment >= failures.last))
        {
            self.names.remove(name);
        }
        self.waits(name, now, unlocked).map_or(Ok(()), Err)
    }

    /// What keeps this name from trying now, without an attempt.
    pub fn waits(&self, name: &str, now: Timestamp, unlocked: Option<Timestamp>) -> Option<Wait> {
        let failures = self.names.get(name)?;
        if unlocked.is_some_and(|moment| moment >= failures.last) {
            return None;
        }
        if failures.in_a_row >= MOST {
            return Some(Wait::Locked);
        }
        let until = later(failures.last, waiting(failures.in_a_row));
        (now < until).then_some(Wait::Until(until))
    }

    /// Notes a wrong password.
    pub fn wrong(&mut self, name: &str, now: Timestamp) {
        let failures = self.names.entry(name.to_owned()).or_insert(Failures { in_a_row: 0, last: now });
        failures.in_a_row += 1;
        failures.last = now;
    }

    /// Notes the right password: what was wrong before is forgotten.
    pub fn right(&mut self, name: &str) {
        self.names.remove(name);
    }

    fn forget_the_oldest(&mut self) {
        if self.places.len() >= REMEMBERED {
            // The rate of one place is for a minute, so all may go.
            self.places.clear();
        }
        if self.names.len() >= REMEMBERED {
            let mut moments: Vec<Timestamp> = self.names.values().map(|failures| failures.last).collect();
            let (_, middle, _) = moments.select_nth_unstable(REMEMBERED / 2);
            let middle = *middle;
            self.names.retain(|_, failures| failures.last > middle || failures.in_a_row > FREE);
        }
    }
}

fn later(moment: Timestamp, by: SignedDuration) -> Timestamp {
    moment.saturating_add(by).unwrap_or(Timestamp::MAX)
}

/// No wait for the first few; then half a minute, doubled each time, up to the longest.
fn waiting(in_a_row: u32) -> SignedDuration {
    match in_a_row.checked_sub(FREE) {
        None => SignedDuration::ZERO,
        Some(more) => SignedDuration::from_secs(30 << more.min(5)).min(LONGEST),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(1_790_000_000 + second).unwrap()
    }

    #[test]
    fn waiting_grows_and_ends() {
        let seconds: Vec<i64> = (0..12).map(|n| waiting(n).as_secs()).collect();
        assert_eq!(seconds, [0, 0, 0, 0, 0, 30, 60, 120, 240, 480, 900, 900]);
    }

    #[test]
    fn five_wrong_ones_cost_nothing_and_the_next_waits() {
        let mut attempts = Attempts::default();
        for n in 0..5 {
            assert_eq!(attempts.begin("a", "p", at(n), None), Ok(()));
            attempts.wrong("a", at(n));
        }
        assert_eq!(attempts.begin("a", "p", at(5), None), Err(Wait::Until(at(34))));
        assert_eq!(attempts.waits("a", at(5), None), Some(Wait::Until(at(34))));
        assert_eq!((attempts.waits("a", at(34), None), attempts.waits("b", at(5), None)), (None, None));
        assert_eq!(attempts.waits("a", at(5), Some(at(4))), None, "unlocked");
        assert_eq!(attempts.begin("b", "p", at(5), None), Ok(()), "another name does not wait");
        assert_eq!(attempts.begin("a", "p", at(34), None), Ok(()));
        attempts.right("a");
        assert_eq!(attempts.begin("a", "p", at(35), None), Ok(()));
    }

    #[test]
    fn a_hundred_in_a_row_lock_until_somebody_unlocks() {
        let mut attempts = Attempts::default();
        let mut now = 0;
        for _ in 0..100 {
            now += 1_000;
            assert_eq!(attempts.begin("a", "p", at(now), None), Ok(()));
            attempts.wrong("a", at(now));
        }
        assert_eq!(attempts.begin("a", "p", at(now + 1_000_000), None), Err(Wait::Locked));
        assert_eq!(attempts.begin("a", "p", at(now + 1_000_000), Some(at(now - 1))), Err(Wait::Locked));
        assert_eq!(attempts.begin("a", "p", at(now + 1_000_000), Some(at(now + 10))), Ok(()));
    }

    #[test]
    fn one_place_is_held_to_a_rate() {
        let mut attempts = Attempts::default();
        for n in 0..30 {
            assert_eq!(attempts.begin(&format!("name {n}"), "p", at(n), None), Ok(()));
        }
        assert_eq!(attempts.begin("one more", "p", at(31), None), Err(Wait::Place(at(60))));
        assert_eq!(attempts.begin("one more", "q", at(31), None), Ok(()));
        assert_eq!(attempts.begin("one more", "p", at(60), None), Ok(()));
    }

    #[test]
    fn memory_is_bounded_and_a_waiting_name_stays() {
        let mut attempts = Attempts::default();
        for n in 0..7 {
            attempts.wrong("a", at(n));
        }
        for n in 0..30_000 {
            let _ = attempts.begin(&format!("n{n}"), &format!("p{n}"), at(10 + n), None);
            attempts.wrong(&format!("n{n}"), at(10 + n));
        }
        assert!(attempts.names.len() <= REMEMBERED && attempts.places.len() <= REMEMBERED);
        assert!(attempts.names.contains_key("a"));
    }
}
