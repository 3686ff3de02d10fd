//! Release, follow-up and watching of the invented unit.

use breakdown::{ItemId, JobCode, Version};
use desk::{
    AgreedPoint, ConfidenceFacts, DueRow, FaultFacts, FollowUpPage, FollowedJob, RuleRow, RuleShown,
    RulesAsked, RulesPage, Searched, SigningEvidence, SigningForm, UnitConfidenceShown, UnitDue, WatchedJob,
    WatchedRow, WatcherRow, WatchingPage,
};
use jiff::civil::date;
use practice::{
    Confidence, EventKind, EvidenceKind, Level, PersonId, ReleaseRule, Scope, error_rate_curve,
    error_rate_sentence,
};
use site::{Desk, DeskError, ReleaseDesk};

use super::{Fake, Mood, TODAY, job};

fn shown(rule: &ReleaseRule) -> RuleShown {
    let curve = error_rate_curve(rule, 50).expect("fault rates within 0 to 50 %");
    RuleShown {
        words: practice::rule_in_words(rule),
        sentences: [20, 2].map(|at: usize| error_rate_sentence(rule, &curve[at])).to_vec(),
        never_met: practice::never_met(rule),
        asks_for_no_clean_draw: practice::asks_for_no_clean_draw(rule),
        has_prompts: true,
        curve,
        rule: rule.clone(),
    }
}

pub(super) fn trainer() -> (PersonId, String) {
    (PersonId("T-01".into()), "Ansa Wolfendale".into())
}

impl ReleaseDesk for Fake {
    fn rules(&self, asked: &RulesAsked) -> Result<RulesPage, DeskError> {
        self.answer(|| (), || ())?;
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        let published = recorded.values().filter_map(|draft| match &draft.what {
            EventKind::RulePublished { rule, why } => Some((draft, &**rule, why)),
            _ => None,
        });
        let first = ReleaseRule::default();
        let row = |rule: &ReleaseRule| RuleRow {
            name: rule.name.clone(),
            version: rule.version,
            from: None,
            by: None,
            why: None,
            n_released: 7,
        };
        let mut rules = vec![row(&first)];
        let mut in_force = first;
        for (draft, rule, why) in published {
            let (from, by) = (Some(draft.happened), Some(draft.by.to_string()));
            rules.insert(0, RuleRow { from, by, why: Some(why.clone()), n_released: 0, ..row(rule) });
            in_force = rule.clone();
        }
        let faults = asked.changed.as_ref().map(practice::rule_faults).unwrap_or_default();
        Ok(RulesPage {
            today: TODAY,
            next_version: in_force.version + 1,
            in_force: shown(&in_force),
            changed: asked.changed.as_ref().filter(|_| faults.is_empty()).map(shown),
            faults,
            searched: asked.search.map(|risks| match risks.most_draws {
                0..10 => Searched::None,
                _ => Searched::Found {
                    shown: Box::new(shown(&ReleaseRule {
                        most_draws: risks.most_draws,
                        ..ReleaseRule::default()
                    })),
                    released: 0.04,
                    held_back: 0.09,
                },
            }),
            rules,
            trainers: if self.mood == Mood::Empty { Vec::new() } else { vec![trainer()] },
        })
    }

    fn signing(&self, person: &PersonId, code: &JobCode) -> Result<Option<SigningForm>, DeskError> {
        let known = self.person(person)?;
        let (Some(page), true) = (known, self.breakdown(code)?.is_some()) else { return Ok(None) };
        let entry = |number: u32, kind, what: &str, against: Option<&str>| SigningEvidence {
            entry: format!("0190a000-0000-7000-8000-{number:012}"),
            on: date(2026, 2, 20),
            kind,
            by: "Ansa Wolfendale".into(),
            what: what.into(),
            does_not_count: against.map(str::to_owned),
        };
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        let confidence = recorded.values().find_map(|draft| match &draft.what {
            EventKind::ConfidenceSaid { person: who, clean_of_ten, .. } if who == person => {
                Some(ConfidenceFacts {
                    clean_of_ten: *clean_of_ten,
                    when: draft.happened,
                    observed: Some((5, 5)),
                    difference: Some((-0.1, -0.1, 0.34)),
                    sentence: "The watched draws allow what they expect: nothing can be said against it."
                        .into(),
                })
            }
            _ => None,
        });
        Ok(Some(SigningForm {
            today: TODAY,
            person: person.clone(),
            name: page.row.name,
            job: code.clone(),
            job_name: job::vein().job,
            level: Level::Learning,
            since: Some(date(2026, 1, 5)),
            on_word_of: Some("Ansa Wolfendale".into()),
            version: Some(Version(1)),
            evidence: vec![
                entry(
                    1,
                    EvidenceKind::Said,
                    "Teach-back heard, version 1: of 12 key points, 12 said unprompted.",
                    None,
                ),
                entry(2, EvidenceKind::Done, "Draw on a real patient.", None),
                entry(
                    3,
                    EvidenceKind::Done,
                    "Draw on a training arm.",
                    Some("on a training arm, not on a patient"),
                ),
            ],
            fault: Some(FaultFacts {
                faults: 0,
                draws: 5,
                mean: 0.083,
                in_80: (0.0015, 0.2267),
                in_95: (0.0001, 0.3794),
                target: 0.2,
                above_target: 0.126,
            }),
            rule: shown(&ReleaseRule::default()),
            released_under: None,
            rule_met: true,
            next_scope: Some(Scope::OwnPatients),
            missing: Vec::new(),
            next_check: None,
            lapse_after_days: Some(90),
            may_release_to: vec![Scope::OwnPatients],
            may_withdraw: false,
            may_refresh: false,
            confidence,
            trainers: vec![trainer()],
        }))
    }

    fn follow_up(&self) -> Result<FollowUpPage, DeskError> {
        let row = |late_days| DueRow {
            person: PersonId("N-104".into()),
            name: "Invented <Nurse>".into(),
            job: job::vein().code,
            job_name: job::vein().job,
            level: Level::OwnPatients,
            on: TODAY,
            late_days,
            why: "check 1 since release to own patients on 24 February 2026".into(),
            is_refresher: false,
        };
        let followed = || FollowedJob {
            job: job::vein().code,
            job_name: job::vein().job,
            watched: vec![WatchedRow {
                person: PersonId("N-104".into()),
                name: "Invented Nurse".into(),
                faults: (2, 9),
                above_target: Some(0.6),
                interval: Some((0.05, 0.5)),
                value: 3.2,
                limit: 3.0,
                signal_at: Some(9),
            }],
            draws_to_false_alarm: 231.0,
            draws_to_notice: 8.4,
            confidence: UnitConfidenceShown::Shown {
                n_people: 8,
                mean: 0.12,
                interval: (0.02, 0.22),
                says: Confidence::Over,
            },
        };
        let unit = UnitDue {
            unit: "Larkfield".into(),
            held: 12,
            checks_late: 1,
            refreshers_late: 0,
            refreshers_ahead: 2,
        };
        let full = || FollowUpPage {
            today: TODAY,
            rates: (0.02, 0.2),
            due: vec![row(2), row(0), row(-3), row(-90)],
            units: vec![unit],
            jobs: vec![followed()],
        };
        let empty =
            || FollowUpPage { today: TODAY, rates: (0.02, 0.2), due: vec![], units: vec![], jobs: vec![] };
        self.answer(full, empty)
    }

    fn watching(&self) -> Result<WatchingPage, DeskError> {
        let watcher = |name: &str, questions: Vec<String>| WatcherRow {
            person: PersonId("P-11".into()),
            name: name.into(),
            marked: (0, 40),
            others: Some((20, 80)),
            so_few: Some(0.001),
            later: None,
            later_others: Some((1, 12)),
            later_so_many: None,
            questions,
        };
        let full = || WatchingPage {
            today: TODAY,
            jobs: vec![WatchedJob {
                job: job::vein().code,
                job_name: job::vein().job,
                points: vec![AgreedPoint {
                    item: ItemId::key_point(1, 1),
                    text: "Invented point".into(),
                    safety: true,
                    same: (9, 11),
                    beyond_chance: Some((0.78, Some((0.4, 1.0)))),
                }],
                watchers: vec![watcher(
                    "Invented Preceptor",
                    vec!["Easier draws, or a mark that is hard to give?".into()],
                )],
            }],
        };
        self.answer(full, || WatchingPage { today: TODAY, jobs: Vec::new() })
    }
}
