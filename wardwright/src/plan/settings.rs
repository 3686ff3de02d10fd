//! What a unit sets for its plans, as it stands in plan.toml.

use jiff::civil::Date;
use practice::PersonId;
use serde::Deserialize;
use stats::Probability;
use timetable::plan::{Absence, PlanLimits};

use crate::folder::Folder;
use crate::message::Message;
use crate::toml_file;

const FILE: &str = "plan.toml";
const PAGE: &str = "docs/plan.md";

#[derive(Debug, Deserialize)]
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
    #[serde(default)]
    absent: Vec<AbsenceFile>,
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
pub(super) struct Settings {
    pub(super) limits: PlanLimits,
    pub(super) absences: Vec<Absence>,
    /// Chance on each draw of a learner that it is not clean: an assumption of the unit, 0 where only draws count.
    pub(super) fault_rate: Probability,
    /// Share of the draws offered to learners, where the unit sets it.
    pub(super) offered: Option<Probability>,
}

impl Settings {
    pub(super) fn read(folder: &Folder) -> Result<Settings, Message> {
        let path = folder.path().join(FILE);
        if !path.exists() {
            let none = Probability::new(0.0).map_err(|error| bad(FILE, &error.to_string(), "0 to 1"))?;
            return Ok(Settings {
                limits: PlanLimits::default(),
                absences: Vec::new(),
                fault_rate: none,
                offered: None,
            });
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
        Ok(Settings {
            limits,
            absences,
            fault_rate: share_of("fault_rate", self.fault_rate.unwrap_or(0.0))?,
            offered: self.offered.map(|share| share_of("offered", share)).transpose()?,
        })
    }
}

/// An absence from words such as "n012:2026-11-05:2026-11-09".
pub(super) fn absence(words: &str) -> Result<Absence, Message> {
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
