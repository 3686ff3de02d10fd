//! What a unit sets for its plans, as it stands in plan.toml.

use desk::PlanAssumptions;
use jiff::civil::{Date, Time};
use practice::PersonId;
use serde::Deserialize;
use stats::Probability;
use timetable::plan::{Absence, PlanLimits};
use timetable::{RosterWords, ShiftTimes};

use crate::folder::Folder;
use crate::message::Message;
use crate::toml_file;

const FILE: &str = "plan.toml";
const PAGE: &str = "docs/plan.md";

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsFile {
    schema: u32,
    learners_per_shift: Option<u8>,
    preceptor_pairings_per_week: Option<u32>,
    preceptor_share: Option<f64>,
    learner_shifts_per_week: Option<u32>,
    least_watched_shifts: Option<u32>,
    visits_per_shift: Option<u32>,
    cost_per_change: Option<f64>,
    fault_rate: Option<f64>,
    offered: Option<f64>,
    attendance: Option<f64>,
    #[serde(default)]
    absent: Vec<AbsenceFile>,
    #[serde(default)]
    shifts: Vec<ShiftFile>,
    #[serde(default)]
    words: Vec<WordFile>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ShiftFile {
    name: String,
    begins: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WordFile {
    word: String,
    begins: String,
    ends: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct AbsenceFile {
    person: String,
    from: String,
    to: String,
}

/// Settings of one unit.
#[derive(Debug, Clone)]
pub struct Settings {
    pub(super) limits: PlanLimits,
    /// Days on which somebody is not planned.
    pub absences: Vec<Absence>,
    /// What is assumed where the book cannot tell.
    pub(super) assumed: PlanAssumptions,
    /// Chance that somebody on the roster comes.
    pub attendance: Probability,
    /// When the shifts begin.
    pub times: ShiftTimes,
    /// Other words of the roster with their hours.
    pub words: RosterWords,
}

/// Chance that somebody on the roster comes, where the unit does not set it: an assumption, no source.
const ATTENDANCE: f64 = 0.95;

impl Settings {
    /// What plan.toml says; where there is none, what is usual.
    pub fn read(folder: &Folder) -> Result<Settings, Message> {
        let path = folder.path().join(FILE);
        if !path.exists() {
            return SettingsFile { schema: 1, ..SettingsFile::default() }.settings(FILE);
        }
        let file: SettingsFile = toml_file::read(&path, "settings of the plan", PAGE)?;
        file.settings(&path.display().to_string())
    }
}

impl SettingsFile {
    fn settings(self, place: &str) -> Result<Settings, Message> {
        if self.schema != 1 {
            return Err(bad(&format!("{place}: schema"), &self.schema.to_string(), "1"));
        }
        let share_of = |key: &str, value: f64| {
            Probability::new(value)
                .map_err(|_| bad(&format!("{place}: {key}"), &value.to_string(), "a share, 0 to 1"))
        };
        let from = PlanLimits::default();
        let limits = PlanLimits {
            learners_per_shift: self.learners_per_shift.unwrap_or(from.learners_per_shift),
            preceptor_pairings_per_week: self
                .preceptor_pairings_per_week
                .unwrap_or(from.preceptor_pairings_per_week),
            preceptor_share: self.preceptor_share.unwrap_or(from.preceptor_share),
            learner_shifts_per_week: self.learner_shifts_per_week.unwrap_or(from.learner_shifts_per_week),
            least_watched_shifts: self.least_watched_shifts.unwrap_or(from.least_watched_shifts),
            visits_per_shift: self.visits_per_shift.unwrap_or(from.visits_per_shift),
            cost_per_change: self.cost_per_change.unwrap_or(from.cost_per_change),
        };
        if !(1..=8).contains(&limits.learners_per_shift) {
            return Err(bad(
                &format!("{place}: learners_per_shift"),
                &limits.learners_per_shift.to_string(),
                "1 to 8",
            ));
        }
        if !(limits.preceptor_share.is_finite() && limits.preceptor_share >= 1.0) {
            return Err(bad(
                &format!("{place}: preceptor_share"),
                &limits.preceptor_share.to_string(),
                "1 or more: 1 is an even share",
            ));
        }
        if !(0.0..=1.0).contains(&limits.cost_per_change) {
            return Err(bad(
                &format!("{place}: cost_per_change"),
                &limits.cost_per_change.to_string(),
                "0 to 1 learners done",
            ));
        }
        let absences = self
            .absent
            .into_iter()
            .map(|one| absence(&format!("{}:{}:{}", one.person, one.from, one.to)))
            .collect::<Result<_, _>>()?;
        let assumed = PlanAssumptions {
            fault_rate: share_of("fault_rate", self.fault_rate.unwrap_or(0.0))?,
            offered: self.offered.map(|share| share_of("offered", share)).transpose()?,
        };
        let attendance = share_of("attendance", self.attendance.unwrap_or(ATTENDANCE))?;
        let times = shift_times(place, &self.shifts)?;
        let words = self
            .words
            .into_iter()
            .map(|one| {
                let at = |text: &str| clock(&format!("{place}: word {:?}", one.word), text);
                Ok((one.word.clone(), at(&one.begins)?, at(&one.ends)?))
            })
            .collect::<Result<Vec<_>, Message>>()?;
        Ok(Settings { limits, absences, assumed, attendance, times, words: RosterWords::new(words) })
    }
}

fn shift_times(place: &str, shifts: &[ShiftFile]) -> Result<ShiftTimes, Message> {
    if shifts.is_empty() {
        return Ok(ShiftTimes::default());
    }
    let begins = shifts
        .iter()
        .map(|one| Ok((one.name.as_str(), clock(&format!("{place}: shift {:?}", one.name), &one.begins)?)))
        .collect::<Result<Vec<_>, Message>>()?;
    ShiftTimes::named(&begins).map_err(|error| {
        bad(
            &format!("{place}: shifts"),
            &error.to_string(),
            "1 to 6 shifts in the order of the day; each lasts until the next begins",
        )
    })
}

/// A time on the clock, such as 07:00.
fn clock(place: &str, text: &str) -> Result<Time, Message> {
    let read = text.split_once(':').filter(|(hour, minute)| hour.len() <= 2 && minute.len() == 2);
    read.and_then(|(hour, minute)| Time::new(hour.parse().ok()?, minute.parse().ok()?, 0, 0).ok())
        .ok_or_else(|| bad(place, &format!("{text:?}"), "a time on the clock, 00:00 to 23:59, such as 07:00"))
}

/// An absence from words such as "n012:2026-11-05:2026-11-09".
pub fn absence(words: &str) -> Result<Absence, Message> {
    let refused = || {
        Message::new(
            "absence",
            format!("{words:?}"),
            "staff identifier, first day and last day, such as n012:2026-11-05:2026-11-09",
            "correct the absence; the last day must not come before the first",
        )
    };
    let mut parts = words.rsplitn(3, ':');
    let mut day = || parts.next().and_then(|text| text.parse::<Date>().ok());
    let (Some(to), Some(from)) = (day(), day()) else { return Err(refused()) };
    match parts.next() {
        Some(person) if !person.is_empty() && from <= to => {
            Ok(Absence { person: PersonId(person.to_owned()), from, to })
        }
        _ => Err(refused()),
    }
}

fn bad(place: &str, found: &str, expected: &str) -> Message {
    Message::new(place, found, expected, format!("correct the value; {PAGE} describes every key"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_out_of_range_are_named() {
        #[track_caller]
        fn check(text: &str, place: &str) {
            let file: SettingsFile = toml::from_str(&format!("schema = 1\n{text}")).unwrap();
            let refused = file.settings("plan.toml").unwrap_err();
            assert!(refused.to_string().contains(place), "{refused}");
        }
        check("learners_per_shift = 9", "learners_per_shift");
        check("preceptor_share = 0.5", "preceptor_share");
        check("cost_per_change = -1.0", "cost_per_change");
        check("fault_rate = 1.5", "fault_rate");
        check("offered = -0.1", "offered");
        check("attendance = 1.1", "attendance");
        check("shifts = [{ name = \"early\", begins = \"6 o'clock\" }]", "early");
        check(
            "shifts = [{ name = \"a\", begins = \"06:00\" }, { name = \"b\", begins = \"05:00\" }]",
            "shifts",
        );
        check("words = [{ word = \"mid\", begins = \"11:00\", ends = \"24:30\" }]", "mid");
        check("absent = [{ person = \"n1\", from = \"2026-11-09\", to = \"2026-11-02\" }]", "absence");
        let file: SettingsFile = toml::from_str("schema = 1\nlearners_per_shift = 1\n").unwrap();
        let settings = file.settings("plan.toml").unwrap();
        assert_eq!(settings.limits.learners_per_shift, 1);
        assert_eq!(settings.limits.least_watched_shifts, PlanLimits::default().least_watched_shifts);
    }

    #[test]
    fn an_absence_is_read_from_words() {
        let read = absence("ward:7:2026-11-05:2026-11-09").unwrap();
        assert_eq!(read.person, PersonId("ward:7".to_owned()));
        assert_eq!(read.to.to_string(), "2026-11-09");
        for words in ["", "n1", "n1:2026-11-05", ":2026-11-05:2026-11-09", "n1:2026-11-05:today"] {
            assert!(absence(words).is_err(), "{words}");
        }
    }
}
