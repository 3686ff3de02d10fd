//! An invented plan, next draw and timetable.

use breakdown::JobCode;
use desk::{
    CoverRow, ExpectedDraws, ExpectedSlot, JobCover, Named, NextDrawRow, OfferRow, PairChange, PlanFacts,
    PlanLearner, PlanObstacle, PlanPair, PlanVisit, PlanWarning, PlanWeek, TradeCell, TradeGap, TradePage,
    TradeRow,
};
use jiff::civil::{Date, DateTime, date};
use practice::PersonId;
use site::{DeskError, Keeping, KeptPlanPage, PlanAsked, PlanDesk, Proposed};

use super::people::{EMOJI, RIGHT_TO_LEFT, SCRIPT};
use super::{Fake, TODAY};

/// Names the only proposal there is.
pub const MARK: &str = "0123456789abcdef";

fn named(id: &str, name: &str) -> Named {
    Named { id: PersonId(id.into()), name: name.into() }
}

fn jobs() -> Vec<(JobCode, String)> {
    vec![
        (JobCode("vein".into()), "Vein draw, adult, one set".into()),
        (JobCode("central-line".into()), "Central line draw, adult".into()),
    ]
}

fn pair(on: Date, change: Option<PairChange>) -> PlanPair {
    PlanPair {
        shift: (on, "night".into()),
        learner: named("N-112", SCRIPT),
        preceptor: named("N-109", RIGHT_TO_LEFT),
        turns: (1, 2),
        draws: 1.3,
        change,
    }
}

fn facts(job: &JobCode, changes: bool) -> PlanFacts {
    let change = |change| changes.then_some(change);
    PlanFacts {
        job: job.clone(),
        job_name: "Vein draw, adult, one set".into(),
        from: TODAY,
        until: date(2026, 4, 13),
        objective: 0.41,
        bound: 0.42,
        learners: vec![PlanLearner {
            person: named("N-112", SCRIPT),
            by: date(2026, 3, 31),
            draws_needed: Some(3),
            n_watched: 4,
            n_shifts: 9,
            mean_draws: 2.6,
            chance: 0.413,
            chance_before: changes.then_some(0.5),
            date_50: Some(date(2026, 4, 2)),
            date_90: None,
        }],
        weeks: vec![
            PlanWeek {
                from: TODAY,
                until: date(2026, 3, 9),
                pairs: vec![
                    pair(TODAY, change(PairChange::OtherPreceptor(named("N-101", EMOJI)))),
                    pair(date(2026, 3, 5), change(PairChange::Added)),
                ],
            },
            PlanWeek { from: date(2026, 3, 10), until: date(2026, 3, 16), pairs: Vec::new() },
        ],
        dropped: if changes { vec![pair(date(2026, 3, 6), None)] } else { Vec::new() },
        visits: vec![
            PlanVisit {
                person: named("N-112", SCRIPT),
                visit: Some((named("N-101", EMOJI), date(2026, 3, 12), "day".into())),
                why: "the trainer's own look".into(),
            },
            PlanVisit { person: named("N-109", RIGHT_TO_LEFT), visit: None, why: "one-month check".into() },
        ],
        obstacles: vec![PlanObstacle {
            without: "one more person to watch on every night shift".into(),
            learners_done: (0.41, 0.93),
            helps_most: Some((named("N-112", SCRIPT), 0.41, 0.93)),
        }],
        warnings: vec![PlanWarning {
            who: Some(named("N-112", SCRIPT)),
            found: "work from 2026-03-04 to 2026-03-05 and again".into(),
            expected: "shifts of one person that do not overlap".into(),
            to_do: "correct the roster".into(),
        }],
        absences: Vec::new(),
        notes: vec!["Release rule: invented, version 1.".into()],
    }
}

impl PlanDesk for Fake {
    fn roster_problems(&self) -> Result<Vec<String>, DeskError> {
        let full = || vec![format!("roster.csv, line 7: found {SCRIPT:?}, whom the book does not know")];
        self.answer(full, Vec::new)
    }

    fn next_draw(&self, at: DateTime, job: Option<&JobCode>) -> Result<Option<Vec<NextDrawRow>>, DeskError> {
        let row = |(code, job_name): (JobCode, String)| NextDrawRow {
            // The second job has nobody.
            offers: if code.0 == "vein" {
                vec![
                    OfferRow {
                        draws: named("N-112", SCRIPT),
                        why: vec!["the plan pairs them on this shift".into()],
                        watches: Some(named("N-109", RIGHT_TO_LEFT)),
                        why_watches: vec!["the only one on duty who may watch".into()],
                        must_be_watched: true,
                    },
                    OfferRow {
                        draws: named("N-101", EMOJI),
                        why: Vec::new(),
                        watches: None,
                        why_watches: Vec::new(),
                        must_be_watched: false,
                    },
                ]
            } else {
                Vec::new()
            },
            job: code,
            job_name,
            shift: (at.date(), "day".into()),
            n_on_duty: 3,
            to_be_shown_first: vec![named("N-112", SCRIPT)],
            next_released: Some((at, named("N-101", EMOJI))),
        };
        let wanted = |(code, _): &(JobCode, String)| job.is_none_or(|job| job == code);
        let rows = || Some(jobs().into_iter().filter(wanted).map(row).collect());
        self.answer(rows, || None)
    }

    fn plan_jobs(&self) -> Result<Vec<(JobCode, String)>, DeskError> {
        self.answer(jobs, Vec::new)
    }

    fn kept_plan(&self, job: &JobCode) -> Result<Option<KeptPlanPage>, DeskError> {
        let full = || {
            (job.0 == "vein").then(|| KeptPlanPage {
                facts: facts(job, false),
                made_on: Some(date(2026, 3, 1)),
                broken: vec![pair(date(2026, 3, 7), None)],
                not_seen_from_today: None,
            })
        };
        self.answer(full, || None)
    }

    fn proposed_plan(&self, asked: &PlanAsked) -> Result<Proposed, DeskError> {
        let full = || match &asked.absent {
            // Somebody away for the whole time leaves no plan.
            Some((_, from, to)) if from < to => Proposed::Impossible(vec![PlanWarning {
                who: None,
                found: "nobody on the roster".into(),
                expected: "a roster for every week".into(),
                to_do: "add that week".into(),
            }]),
            _ if asked.weeks == 26 => Proposed::Working { seconds: 12 },
            _ => Proposed::Made {
                facts: Box::new(facts(&asked.job, asked.job.0 == "vein")),
                mark: MARK.into(),
                seconds: 0.3,
                changes: Some([3, 1, 1, 1, 1]),
            },
        };
        self.answer(full, || Proposed::NoGround { found: "no roster".into(), to_do: "add one".into() })
    }

    fn keep_plan(&self, _: &PlanAsked, mark: &str) -> Result<Keeping, DeskError> {
        self.answer(|| if mark == MARK { Keeping::Kept } else { Keeping::Overtaken }, || Keeping::Overtaken)
    }

    fn plan_calendar(&self, job: &JobCode, person: &PersonId) -> Result<Option<String>, DeskError> {
        let is_known = job.0 == "vein" && person.0 != "N-999";
        self.answer(|| is_known.then(|| "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n".to_owned()), || None)
    }

    fn trade(&self) -> Result<TradePage, DeskError> {
        let empty = || TradePage {
            today: TODAY,
            jobs: Vec::new(),
            rows: Vec::new(),
            gaps: Vec::new(),
            covers: Vec::new(),
            until: TODAY,
            attendance: 0.95,
            trainers: Vec::new(),
            expected: Vec::new(),
        };
        let slot = |shift: &str, n_draws: u64, mean: f64, interval| ExpectedSlot {
            shift: shift.into(),
            n_draws,
            n_shifts: 26,
            mean,
            interval,
        };
        let expected = |unit: Option<&str>| ExpectedDraws {
            job: JobCode("vein".into()),
            job_name: "Vein draw, adult, one set".into(),
            unit: unit.map(str::to_owned),
            counted: (date(2025, 9, 2), date(2026, 3, 2)),
            is_alike: false,
            weekdays: vec![(
                "Monday".into(),
                vec![slot("day", 52, 1.93, (1.5, 2.4)), slot("night", 9, 0.41, (0.2, 0.7))],
            )],
        };
        let cell = |level: &str, needed_by: Option<Date>| TradeCell {
            level: level.into(),
            needed_by,
            is_past: needed_by.is_some_and(|by| by < TODAY),
        };
        let full = || TradePage {
            jobs: jobs(),
            rows: vec![TradeRow {
                person: named("N-112", SCRIPT),
                cells: vec![
                    cell("learning, draws watched", Some(date(2026, 3, 1))),
                    cell("not planned", None),
                ],
            }],
            gaps: vec![TradeGap {
                job_name: "Vein draw, adult, one set".into(),
                what: "the date is past, and they are not released".into(),
                people: vec![named("N-112", SCRIPT)],
                to_do: "set a date that can be kept".into(),
            }],
            covers: vec![JobCover {
                job: JobCode("vein".into()),
                job_name: "Vein draw, adult, one set".into(),
                shifts: vec![
                    CoverRow {
                        shift: (TODAY, "day".into()),
                        n_on_duty: 3,
                        released: vec![named("N-109", RIGHT_TO_LEFT)],
                        n_may_watch: 1,
                        n_learning: 1,
                        chance_of_none: 0.05,
                    },
                    CoverRow {
                        shift: (TODAY, "night".into()),
                        n_on_duty: 2,
                        released: Vec::new(),
                        n_may_watch: 0,
                        n_learning: 1,
                        chance_of_none: 1.0,
                    },
                ],
                mean_bare: 1.05,
                n_not_rostered: 1,
                alone: vec![(named("N-109", RIGHT_TO_LEFT), 1)],
            }],
            trainers: vec![named("N-101", EMOJI)],
            expected: vec![expected(None), expected(Some(SCRIPT))],
            ..empty()
        };
        self.answer(full, empty)
    }
}
