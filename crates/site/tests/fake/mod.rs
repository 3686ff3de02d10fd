//! A desk with invented people and results, for tests and for looking at pages. Nothing in it is real, and no
//! figure in it is a claim about what the rooms of numbers would say.

#![allow(dead_code, reason = "each test file uses a part, so no expectation would hold in all of them")]

pub mod away;
mod collection;
mod drawn;
pub mod job;
mod pairs;
pub mod people;
pub mod plan;
mod published;
mod release;
mod results;
mod said;
pub mod start;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use breakdown::{Breakdown, JobCode, Version};
use desk::{
    BreakdownPage, EditForm, Link, MissedPage, MonthReport, PersonPage, PersonRow, PublishedVersion, Rate,
    Results, Share, ShiftCover, TeachBackForm, TeachBackResult, TodayItem, TodayPage, Urgency,
};
use jiff::civil::{Date, DateTime, date};
use practice::{EventKind, PersonId};
use site::{About, Desk, DeskError, Draft, Older, Paper, Recording, Refusal};
use teachback::TeachBack;
use uuid::Uuid;

/// The day on which everything is asked.
pub const TODAY: Date = date(2026, 3, 3);

/// What the desk does when asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mood {
    /// Answers.
    Full,
    /// Answers with nothing stored yet.
    Empty,
    /// Cannot answer.
    Failing,
    /// Cannot answer now.
    Busy,
    /// Panics.
    Panicking,
}

/// The invented desk.
pub struct Fake {
    pub mood: Mood,
    pub people: Vec<PersonPage>,
    /// What was recorded, by identifier; shared between copies of the desk.
    pub recorded: Arc<Mutex<BTreeMap<Uuid, Draft>>>,
    /// Reports published, in the order they were.
    pub publications: Arc<Mutex<Vec<site::Publication>>>,
    /// Of what time the figures are, where the book has grown since.
    pub older: Option<Older>,
}

impl Fake {
    pub fn full() -> Fake {
        Fake {
            mood: Mood::Full,
            people: people::everybody(),
            recorded: Arc::default(),
            publications: Arc::default(),
            older: None,
        }
    }

    pub fn in_mood(mood: Mood) -> Fake {
        Fake { mood, people: Vec::new(), recorded: Arc::default(), publications: Arc::default(), older: None }
    }

    /// True for a version that somebody else has published.
    fn is_overtaken(&self, draft: &Draft, recorded: &BTreeMap<Uuid, Draft>) -> bool {
        let EventKind::BreakdownPublished(new) = &draft.what else { return false };
        recorded.values().any(|known| match &known.what {
            EventKind::BreakdownPublished(there) => there.code == new.code && there.version >= new.version,
            _ => false,
        })
    }

    fn answer<T>(&self, full: impl FnOnce() -> T, empty: impl FnOnce() -> T) -> Result<T, DeskError> {
        match self.mood {
            Mood::Full => Ok(full()),
            Mood::Empty => Ok(empty()),
            Mood::Failing => Err(DeskError::Failed("entry 17 cannot be read: secret detail".into())),
            Mood::Busy => Err(DeskError::Busy("locked by process 99".into())),
            Mood::Panicking => panic!("a fault with a secret detail"),
        }
    }
}

impl site::TranscriptDesk for Fake {
    fn hear(&self, breakdown: &breakdown::Breakdown, handed_in: &[u8]) -> Result<site::HandedIn, DeskError> {
        Ok(said::handed_in(breakdown, handed_in))
    }
}

impl Desk for Fake {
    fn today(&self) -> Result<TodayPage, DeskError> {
        self.answer(today, || TodayPage {
            today: TODAY,
            items: Vec::new(),
            shifts: Vec::new(),
            contamination: withheld(0, 0, "no closed set in the last twelve months"),
            provisional_sets: 0,
            released: Vec::new(),
            rule: results::RULE.into(),
        })
    }

    fn people(&self) -> Result<Vec<PersonRow>, DeskError> {
        self.answer(|| self.people.iter().map(|page| page.row.clone()).collect(), Vec::new)
    }

    fn person(&self, id: &PersonId) -> Result<Option<PersonPage>, DeskError> {
        self.answer(|| self.people.iter().find(|page| page.row.id == *id).cloned(), || None)
    }

    fn breakdowns(&self) -> Result<Vec<Breakdown>, DeskError> {
        self.answer(|| vec![job::vein(), job::central_line()], Vec::new)
    }

    fn breakdown(&self, code: &JobCode) -> Result<Option<BreakdownPage>, DeskError> {
        let full =
            || [job::vein(), job::central_line()].into_iter().find(|each| each.code == *code).map(job::page);
        self.answer(full, || None)
    }

    fn results(&self) -> Result<Results, DeskError> {
        self.answer(results::results, results::none)
    }

    fn months(&self) -> Result<Vec<Date>, DeskError> {
        self.answer(results::months, Vec::new)
    }

    fn report(&self, month: Date) -> Result<Option<MonthReport>, DeskError> {
        self.answer(|| results::months().contains(&month).then(|| results::report(month)), || None)
    }

    fn methods(&self) -> &str {
        include_str!("methods.md")
    }

    fn paper(&self, paper: &Paper) -> Result<Option<Vec<u8>>, DeskError> {
        let known = match paper {
            Paper::PocketCard(job) | Paper::ObservationSheet(job) => self.breakdown(job)?.is_some(),
            Paper::PersonRecord(id) => self.person(id)?.is_some(),
            Paper::MonthReport(month) => self.report(*month)?.is_some(),
        };
        Ok(known.then(|| b"%PDF-1.7 invented\n".to_vec()))
    }

    fn now(&self) -> DateTime {
        TODAY.at(14, 30, 0, 0)
    }

    fn teach_back_form(
        &self,
        person: &PersonId,
        code: &JobCode,
        version: Option<Version>,
    ) -> Result<Option<TeachBackForm>, DeskError> {
        let name = self.person(person)?.map(|page| page.row.name);
        Ok(name.and_then(|name| said::form(person, &name, code, version)))
    }

    fn teach_back_preview(
        &self,
        person: &PersonId,
        heard: &TeachBack,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<TeachBackResult>, DeskError> {
        let name = self.person(person)?.map(|page| page.row.name);
        Ok(name.map(|name| said::result(person, &name, heard, when, by)))
    }

    fn teach_back(&self, entry: Uuid) -> Result<Option<TeachBackResult>, DeskError> {
        let draft =
            self.recorded.lock().expect("no test panics while it holds the lock").get(&entry).cloned();
        match draft {
            Some(Draft { happened, by, what: EventKind::TeachBackHeard { person, teachback }, .. }) => {
                self.teach_back_preview(&person, &teachback, happened, &by)
            }
            _ => Ok(None),
        }
    }

    fn missed(&self, code: &JobCode) -> Result<Option<MissedPage>, DeskError> {
        let known = [job::vein(), job::central_line()].into_iter().any(|each| each.code == *code);
        Ok(known.then(|| said::missed(code)))
    }

    fn edit_form(&self, code: &JobCode) -> Result<EditForm, DeskError> {
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        let written = recorded.values().filter_map(|draft| match &draft.what {
            EventKind::BreakdownPublished(breakdown) if breakdown.code == *code => Some(PublishedVersion {
                breakdown: (**breakdown).clone(),
                when: draft.happened,
                by: draft.by.to_string(),
            }),
            _ => None,
        });
        let first = [job::vein(), job::central_line()].into_iter().filter(|each| each.code == *code);
        let first = first.map(|breakdown| PublishedVersion {
            breakdown,
            when: date(2026, 2, 16).at(9, 0, 0, 0),
            by: "Ansa Wolfendale".into(),
        });
        Ok(EditForm {
            today: TODAY,
            versions: first.chain(written).collect(),
            writers: vec![(PersonId("T-01".into()), "Ansa Wolfendale".into(), practice::Role::Trainer)],
        })
    }

    fn people_of(&self, entry: Uuid) -> Result<Option<(PersonId, PersonId)>, DeskError> {
        Ok(self.teach_back(entry)?.map(|result| (result.person, PersonId("N-101".to_owned()))))
    }

    fn record(&self, draft: &Draft) -> Result<Recording, DeskError> {
        self.answer(|| (), || ())?;
        let mut recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        Ok(match recorded.get(&draft.id) {
            Some(known) if known == draft => Recording::AlreadyThere,
            Some(_) => Recording::Refused(vec![Refusal::new(
                "this entry",
                "another entry of the same identifier",
                "one entry for each form",
                "open a new form",
            )]),
            None if self.is_overtaken(draft, &recorded) => Recording::Refused(vec![Refusal::new(
                "version",
                "a version that is published already",
                "the next one",
                "look at it first",
            )]),
            None => {
                recorded.insert(draft.id, draft.clone());
                Recording::Recorded
            }
        })
    }

    fn about(&self) -> About {
        About {
            unit: "Larkfield Critical Care Unit".into(),
            invented: true,
            data_folder: "Record book in larkfield-demo".into(),
            version: "0.1.0".into(),
            older: self.older.clone(),
        }
    }
}

/// A rate with a Wilson interval, from the formula of Wilson 1927 with z = 1.959964.
pub fn rate(events: u64, of: u64, what: &str, of_what: &str) -> Rate {
    if of < 20 {
        return Rate {
            what: what.into(),
            of_what: of_what.into(),
            ..withheld(events, of, "fewer than 20 to count from")
        };
    }
    let (z2, n) = (1.959_964_f64 * 1.959_964, of as f64);
    let estimate = events as f64 / n;
    let centre = (estimate + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let half = (z2 * (estimate * (1.0 - estimate) / n + z2 / (4.0 * n * n))).sqrt() / (1.0 + z2 / n);
    Rate {
        events,
        of,
        what: what.into(),
        of_what: of_what.into(),
        share: Share::Shown {
            estimate,
            lower: (centre - half).max(0.0),
            upper: (centre + half).min(1.0),
            method: "Wilson, 95 %".into(),
            anchor: "wilson".into(),
        },
    }
}

pub fn contaminated(events: u64, of: u64) -> Rate {
    rate(events, of, "contaminated sets", "sets with a closed result")
}

pub fn withheld(events: u64, of: u64, why: &str) -> Rate {
    Rate {
        events,
        of,
        what: "contaminated sets".into(),
        of_what: "sets with a closed result".into(),
        share: Share::Withheld(why.into()),
    }
}

fn today() -> TodayPage {
    let item = |urgency, what: &str, why: &str, link| TodayItem {
        urgency,
        what: what.into(),
        why: why.into(),
        link,
    };
    let person = |id: &str| Link::Person(PersonId(id.into()));
    TodayPage {
        today: TODAY,
        items: vec![
            item(
                Urgency::BeforeNextDraw,
                "Hear Ilse Varga’s teach-back of the central line again",
                "Said wrong on a safety point on 28 February 2026: lumen clamped before every opening (2.1). The pass was stopped.",
                person("N-109"),
            ),
            item(
                Urgency::BeforeNextDraw,
                "Update Tomas Kerrin on version 3 of the vein breakdown",
                "Version 3 is a major change of 16 February 2026; the release of 4 June 2025 was on version 2.",
                person("N-104"),
            ),
            item(
                Urgency::Today,
                "Decide on releasing Maren Adeyemi-Holt for the vein draw to own patients",
                "The release rule is met: 5 of 5 observed draws, the last 3 without a missed safety point, teach-back complete, spot check on 27 February 2026.",
                person("N-112"),
            ),
            item(
                Urgency::Today,
                "Watch one draw of Piet Oduya: the one-month check is overdue",
                "Due on 26 February 2026, 5 days ago. Last draw watched on 29 January 2026.",
                person("N-107"),
            ),
            item(
                Urgency::ThisWeek,
                "Look at the drying of the skin in the vein breakdown",
                "Open in 9 of 21 teach-backs and on 6 of 34 observed draws in three months: the key point may need other words.",
                Link::Breakdown(JobCode("vein".into())),
            ),
            item(
                Urgency::ThisWeek,
                "Plan draws for Juno Castellane by 31 March 2026",
                "2 of 5 observed draws with 28 days left; no released preceptor shares her nights after 14 March 2026.",
                person("N-113"),
            ),
            item(
                Urgency::Later,
                "Read the report of February 2026",
                "3 contaminated of 96 closed sets; 11 sets are still provisional.",
                Link::Report(date(2026, 2, 1)),
            ),
        ],
        shifts: vec![ShiftCover {
            shift: "night".into(),
            job_name: "Blood culture from a central line".into(),
            on_duty: 6,
            may_draw_alone: vec!["Piet Oduya".into(), "Maren Adeyemi-Holt".into()],
            may_watch: Vec::new(),
            learning: vec!["Juno Castellane".into()],
        }],
        contamination: contaminated(41, 1234),
        provisional_sets: 11,
        released: vec![
            ("Vein draw, adult, one set".into(), 9, 14),
            ("Central line draw, adult".into(), 4, 14),
        ],
        rule: results::RULE.into(),
    }
}
