//! How long a draw takes at the least, until when its bottles must arrive, and the antibiotic.

use jiff::SignedDuration;
use jiff::civil::DateTime;
use quantity::Seconds;

use crate::access::Site;
use crate::error::DrawError;
use crate::policy::{Cleaning, Policy};

/// What is known of antibiotics.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Antibiotic {
    /// Nothing was said.
    NotStated,
    /// None was given and none is due.
    NoneDue,
    /// The first dose was given.
    Given(DateTime),
    /// The first dose is due.
    Due(DateTime),
}

/// The draw against the antibiotic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum AntibioticClock {
    /// Nothing was said.
    NotStated,
    /// None was given and none is due.
    NoneDue,
    /// Given so long before the draw.
    Given {
        /// How long before.
        before: Seconds,
    },
    /// The draw can be done before the dose is due.
    DrawFirst {
        /// What is left between the shortest draw and the dose.
        spare: Seconds,
    },
    /// The dose would wait for the draw, no longer than the policy allows.
    DoseWaits {
        /// How long it would wait at the least.
        by: Seconds,
        /// The policy's most.
        most: Seconds,
    },
    /// The dose would wait longer than the policy allows: it comes first.
    DoseFirst {
        /// How long it would wait at the least.
        by: Seconds,
        /// The policy's most.
        most: Seconds,
    },
}

/// Until when the bottles must arrive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Latest {
    /// At the laboratory.
    pub laboratory: DateTime,
    /// In the incubator.
    pub incubator: DateTime,
}

/// Least contact and drying of one surface, as a breakdown states them; nought where it says nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Times {
    /// Contact with the agent.
    pub contact: Seconds,
    /// Drying.
    pub dry: Seconds,
}

/// Times of the breakdowns by which the draw is carried out. Where they ask for longer than the policy, the longer counts.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct JobTimes {
    /// Of the skin.
    pub skin: Times,
    /// Of each bottle top.
    pub bottle_top: Times,
    /// Of the connector of a line or cannula.
    pub connector: Times,
}

impl Default for Times {
    fn default() -> Self {
        Times { contact: Seconds::ZERO, dry: Seconds::ZERO }
    }
}

impl Times {
    /// The longer of each.
    pub fn longer(self, other: Times) -> Times {
        Times { contact: self.contact.max(other.contact), dry: self.dry.max(other.dry) }
    }

    fn of(cleaning: &Cleaning) -> Times {
        Times { contact: cleaning.contact, dry: cleaning.dry }
    }
}

impl JobTimes {
    /// The longer of each, of two breakdowns.
    pub fn longer(self, other: JobTimes) -> JobTimes {
        JobTimes {
            skin: self.skin.longer(other.skin),
            bottle_top: self.bottle_top.longer(other.bottle_top),
            connector: self.connector.longer(other.connector),
        }
    }
}

/// Contact and dry times alone, all sets one after the other; puncture, filling and labels come on top.
///
/// For each set: each bottle top for its contact time, then the site for its contact and dry time, while the tops dry
/// and at least as long; between two sets the policy's wait. Each time is the longer of the policy's and that of the
/// breakdowns.
pub fn shortest(sets: &[(Site, usize)], skin: &Cleaning, rules: &Policy, job: JobTimes) -> Seconds {
    let tops = Times::of(&rules.antisepsis.bottle_top).longer(job.bottle_top);
    let mut total = Seconds::ZERO;
    for (at, (site, n_bottles)) in sets.iter().enumerate() {
        if at > 0 {
            total += rules.conduct.between_sets;
        }
        let cleaning = if matches!(site, Site::Vein) {
            Times::of(skin).longer(job.skin)
        } else {
            Times::of(&rules.antisepsis.connector).longer(job.connector)
        };
        let wiped = tops.contact.times(u32::try_from(*n_bottles).unwrap_or(u32::MAX));
        total += wiped + (cleaning.contact + cleaning.dry).max(tops.dry);
    }
    total
}

/// A day either way: a draw is planned for now or soon.
const DAY_S: f64 = 86_400.0;

/// Checks the times against each other. `now` is the moment of the question.
pub fn check_times(draw_at: DateTime, antibiotic: Antibiotic, now: DateTime) -> Result<(), DrawError> {
    if seconds_between(now, draw_at).abs() > DAY_S {
        return Err(DrawError::DrawTime { draw_at, now });
    }
    match antibiotic {
        Antibiotic::Given(given) if given > now || given > draw_at => {
            Err(DrawError::AntibioticInFuture { given, draw_at, now })
        }
        Antibiotic::Due(due) if seconds_between(draw_at, due).abs() > DAY_S => {
            Err(DrawError::AntibioticDue { due, draw_at })
        }
        _ => Ok(()),
    }
}

/// The draw against the antibiotic. `shortest` is the least the draw takes.
pub fn antibiotic_clock(
    antibiotic: Antibiotic,
    draw_at: DateTime,
    shortest: Seconds,
    most: Seconds,
) -> AntibioticClock {
    let s = |value: f64| Seconds::from_s(value).unwrap_or(Seconds::ZERO);
    match antibiotic {
        Antibiotic::NotStated => AntibioticClock::NotStated,
        Antibiotic::NoneDue => AntibioticClock::NoneDue,
        Antibiotic::Given(given) => AntibioticClock::Given { before: s(seconds_between(given, draw_at)) },
        Antibiotic::Due(due) => {
            let spare = seconds_between(draw_at, due) - shortest.to_s();
            if spare >= 0.0 {
                AntibioticClock::DrawFirst { spare: s(spare) }
            } else if -spare <= most.to_s() {
                AntibioticClock::DoseWaits { by: s(-spare), most }
            } else {
                AntibioticClock::DoseFirst { by: s(-spare), most }
            }
        }
    }
}

/// Until when the bottles must arrive, counted from the draw; on the unit's clock, so that on a night on which clocks
/// are changed an hour has to be added or taken.
pub fn latest(draw_at: DateTime, rules: &Policy) -> Latest {
    let after = |time: Seconds| {
        let whole = SignedDuration::from_secs(time.to_s() as i64);
        draw_at.checked_add(whole).unwrap_or(DateTime::MAX)
    };
    Latest { laboratory: after(rules.time.to_laboratory), incubator: after(rules.time.to_incubator) }
}

fn seconds_between(from: DateTime, to: DateTime) -> f64 {
    to.duration_since(from).as_secs_f64()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn at(hour: i8, minute: i8) -> DateTime {
        date(2026, 3, 2).at(hour, minute, 0, 0)
    }

    fn s(value: f64) -> Seconds {
        Seconds::from_s(value).unwrap()
    }

    /// By hand with the defaults: two bottle tops of 15 s, then 30 s of rubbing and 30 s of drying: 90 s a set.
    #[test]
    fn the_shortest_draw_by_hand() {
        let mut rules = Policy::default();
        let skin = rules.antisepsis.skin.clone();
        assert_eq!(
            shortest(&[(Site::Vein, 2), (Site::Vein, 2)], &skin, &rules, JobTimes::default()),
            s(180.0)
        );
        // A line: 30 s of tops, then 15 s of rubbing and 30 s of drying.
        assert_eq!(shortest(&[(Site::ArterialLine, 2)], &skin, &rules, JobTimes::default()), s(75.0));
        rules.conduct.between_sets = s(60.0);
        assert_eq!(
            shortest(&[(Site::Vein, 2), (Site::Vein, 2)], &skin, &rules, JobTimes::default()),
            s(240.0)
        );
        // A breakdown that asks for longer contact of the skin, and for less at the tops: 2 x 15 + 60 + 30.
        let job = JobTimes {
            skin: Times { contact: s(60.0), dry: s(10.0) },
            bottle_top: Times { contact: s(5.0), dry: s(5.0) },
            ..JobTimes::default()
        };
        assert_eq!(shortest(&[(Site::Vein, 2)], &skin, &rules, job), s(120.0));
        // Tops that dry longer than the site takes.
        rules.antisepsis.bottle_top.dry = s(100.0);
        assert_eq!(shortest(&[(Site::Vein, 1)], &skin, &rules, JobTimes::default()), s(115.0));
    }

    /// The draw of 3 minutes at 14:00 against a dose due at another time, at most 45 minutes late: by hand.
    #[test]
    fn the_antibiotic_at_its_boundaries() {
        let clock = |due| antibiotic_clock(Antibiotic::Due(due), at(14, 0), s(180.0), s(2700.0));
        assert_eq!(clock(at(14, 3)), AntibioticClock::DrawFirst { spare: Seconds::ZERO });
        assert_eq!(clock(at(14, 2)), AntibioticClock::DoseWaits { by: s(60.0), most: s(2700.0) });
        assert_eq!(clock(at(13, 18)), AntibioticClock::DoseWaits { by: s(2700.0), most: s(2700.0) });
        assert_eq!(clock(at(13, 17)), AntibioticClock::DoseFirst { by: s(2760.0), most: s(2700.0) });
        let given = antibiotic_clock(Antibiotic::Given(at(13, 20)), at(14, 0), s(180.0), s(2700.0));
        assert_eq!(given, AntibioticClock::Given { before: s(2400.0) });
    }

    #[test]
    fn times_that_cannot_be_are_refused() {
        let check = |draw, antibiotic, now| check_times(draw, antibiotic, now);
        assert!(check(at(14, 0), Antibiotic::Given(at(14, 0)), at(14, 0)).is_ok());
        let future = check(at(14, 0), Antibiotic::Given(at(14, 1)), at(14, 0));
        assert!(matches!(future, Err(DrawError::AntibioticInFuture { .. })));
        // Given after the draw that is planned later than now.
        let future = check(at(15, 0), Antibiotic::Given(at(14, 30)), at(14, 0));
        assert!(matches!(future, Err(DrawError::AntibioticInFuture { .. })));
        let day = date(2026, 3, 4).at(14, 0, 0, 1);
        assert!(matches!(check(day, Antibiotic::NoneDue, at(14, 0)), Err(DrawError::DrawTime { .. })));
        assert!(matches!(
            check(at(14, 0), Antibiotic::Due(day), at(14, 0)),
            Err(DrawError::AntibioticDue { .. })
        ));
    }

    /// Two and four hours, over midnight.
    #[test]
    fn the_latest_times_pass_midnight() {
        let latest = latest(at(23, 10), &Policy::default());
        assert_eq!(latest.laboratory, date(2026, 3, 3).at(1, 10, 0, 0));
        assert_eq!(latest.incubator, date(2026, 3, 3).at(3, 10, 0, 0));
    }
}
