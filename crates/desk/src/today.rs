use breakdown::JobCode;
use culture::Verdict;
use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::{Level, ReleaseRule, Standing, day_in_words, error_rate_sentence, error_rates};
use stats::Probability;

use crate::facts::Desk;
use crate::rate::counted;
use crate::view::{Link, TodayItem, TodayPage, Urgency};

/// Days without an observed draw after which a learner is named as waiting for one.
///
/// Common practice, no source: a learner who waits two weeks loses what was shown.
const WAITING_DAYS: i32 = 14;
/// People named in a line that speaks of several.
const NAMED: usize = 4;
/// Days before a timetable date on which it is named.
const DATE_NEAR_DAYS: i32 = 21;
/// Shares of draws with a fault for which a release rule is described: one in five is far from ready, one in 50 is as
/// careful as can be hoped for. Common practice, no source.
const FAULT_RATES: [f64; 2] = [0.2, 0.02];

impl Desk {
    /// What needs the trainer on this day, most urgent first, each with its reason.
    pub fn today_page(&self) -> TodayPage {
        // The sort below is stable: of two things equally urgent, the one asked first here comes first.
        let asked: [fn(&Desk, &Standing) -> Option<TodayItem>; 5] = [
            Desk::decision_due,
            Desk::may_not_draw_alone,
            Desk::date_near,
            Desk::check_due,
            Desk::waiting_for_a_draw,
        ];
        let mut items = Vec::new();
        for ask in asked {
            let mut found: Vec<(Option<Date>, TodayItem)> = self
                .standings
                .iter()
                .filter(|standing| standing.level != Level::Away)
                .filter_map(|standing| {
                    Some((
                        standing.next_check.as_ref().map(|due| due.on).or(standing.needed_by),
                        ask(self, standing)?,
                    ))
                })
                .collect();
            found.sort_by_key(|(due, _)| *due);
            items.extend(found.into_iter().map(|(_, item)| item));
        }
        items.extend(self.overdue_checks());
        items.extend(self.new_contaminations());
        items.extend(self.unknown_collectors());
        items.sort_by_key(|item| item.urgency);
        let people = self.people.keys().filter(|id| !self.is_away(id)).count() as u64;
        TodayPage {
            today: self.today(),
            items,
            shifts: self.shifts_today(),
            contamination: self.last_twelve_months(self.today()),
            provisional_sets: self
                .judged_sets()
                .filter(|(_, judged)| judged.verdict() == Verdict::Provisional)
                .count() as u64,
            released: self
                .jobs
                .iter()
                .map(|(code, name)| {
                    let released = self
                        .standings
                        .iter()
                        .filter(|standing| standing.job == *code && standing.level.may_draw_alone())
                        .count() as u64;
                    (name.clone(), released, people)
                })
                .collect(),
            rule: self.rule_name(),
        }
    }

    fn decision_due(&self, standing: &Standing) -> Option<TodayItem> {
        if !standing.rule_met || standing.next_scope.is_none() {
            return None;
        }
        // Someone who draws alone already is asked about again at leisure; a learner waits for the word.
        let urgency = if standing.level.may_draw_alone() { Urgency::ThisWeek } else { Urgency::Today };
        let scope = match standing.next_scope {
            Some(practice::Scope::OwnPatients) => "to own patients",
            Some(practice::Scope::AllPatients) => "to all patients",
            _ => "as preceptor",
        };
        let mut why = format!(
            "The release rule is met with {}, the last {} clean. The rule advises; you decide and sign.",
            counted(u64::from(standing.draws_counted), "observed draw", "observed draws"),
            standing.clean_in_a_row,
        );
        // What the rule lets through is worked out for the draws before the first release, not for later steps.
        if standing.scope.is_none() {
            why.push_str(&what_the_rule_lets_through(&self.rule));
        }
        Some(TodayItem {
            urgency,
            what: format!(
                "Decide whether to release {} {scope}: {}",
                self.name_of(&standing.person),
                self.job_name(standing)
            ),
            why,
            link: Link::Person(standing.person.clone()),
        })
    }

    fn check_due(&self, standing: &Standing) -> Option<TodayItem> {
        let due = standing.next_check.as_ref()?;
        let days = days_between(self.today(), due.on);
        if days > 7 || !standing.level.may_draw_alone() {
            return None;
        }
        let (urgency, when) = match days {
            ..0 => return None,
            0 => (Urgency::Today, "due today".to_owned()),
            _ => (Urgency::ThisWeek, format!("due on {}", day_in_words(due.on))),
        };
        Some(TodayItem {
            urgency,
            what: format!("Check a draw of {}: {}", self.name_of(&standing.person), self.job_name(standing)),
            why: format!("{}; {when}.", due.why.trim_end_matches('.')),
            link: Link::Person(standing.person.clone()),
        })
    }

    /// Overdue checks of one job together, the longest overdue first: one round to plan rather than a list of reproaches.
    fn overdue_checks(&self) -> Vec<TodayItem> {
        let overdue = |code: &JobCode| {
            let mut due: Vec<(Date, String)> = self
                .standings
                .iter()
                .filter(|standing| standing.job == *code && standing.level.may_draw_alone())
                .filter_map(|standing| {
                    Some((standing.next_check.as_ref()?.on, self.name_of(&standing.person)))
                })
                .filter(|(on, _)| *on < self.today())
                .collect();
            due.sort();
            due
        };
        self.jobs
            .iter()
            .map(|(code, job)| (job, overdue(code)))
            .filter(|(_, due)| !due.is_empty())
            .map(|(job, due)| {
                let names: Vec<String> = due
                    .iter()
                    .take(NAMED)
                    .map(|(on, name)| format!("{name} (since {})", day_in_words(*on)))
                    .collect();
                let more = match due.len().saturating_sub(NAMED) {
                    0 => String::new(),
                    more => format!(" and {more} more"),
                };
                TodayItem {
                    urgency: Urgency::Today,
                    what: format!(
                        "Plan a round of {}: {job}",
                        counted(due.len() as u64, "overdue follow-up check", "overdue follow-up checks")
                    ),
                    why: format!("Longest overdue: {}{more}.", names.join(", ")),
                    link: Link::People,
                }
            })
            .collect()
    }

    fn may_not_draw_alone(&self, standing: &Standing) -> Option<TodayItem> {
        let (what, why) = match standing.level {
            Level::ToBeUpdated => (
                "Bring up to date before the next draw",
                "released on a version that a major change has replaced",
            ),
            Level::Lapsed => {
                ("Watch a draw before drawing alone again", "no draw known for longer than the rule allows")
            }
            _ => return None,
        };
        Some(TodayItem {
            urgency: Urgency::BeforeNextDraw,
            what: format!("{what}: {}, {}", self.name_of(&standing.person), self.job_name(standing)),
            why: match &standing.next_check {
                // What a refresher on a version waits for has a day to be done by; what lapsed is due since a day that is past.
                Some(due) if due.on > self.today() => {
                    format!("{why}; {} by {}.", due.why.trim_end_matches('.'), day_in_words(due.on))
                }
                // That it lapsed, and since when, is what it waits for: said once.
                Some(due) if standing.level == Level::Lapsed => format!("{}.", due.why.trim_end_matches('.')),
                Some(due) => format!("{why}; {}.", due.why.trim_end_matches('.')),
                None => format!("{why}."),
            },
            link: Link::Person(standing.person.clone()),
        })
    }

    fn waiting_for_a_draw(&self, standing: &Standing) -> Option<TodayItem> {
        // One line a person: where the date is near, that line says what is missing.
        if standing.level != Level::Learning || standing.rule_met || self.date_near(standing).is_some() {
            return None;
        }
        let last = standing
            .evidence
            .iter()
            .filter(|evidence| evidence.kind == practice::EvidenceKind::Done)
            .map(|evidence| evidence.date)
            .max();
        let since = last.or(standing.since)?;
        let days = days_between(since, self.today());
        if days < WAITING_DAYS {
            return None;
        }
        Some(TodayItem {
            urgency: Urgency::ThisWeek,
            what: format!("Offer a draw to {}: {}", self.name_of(&standing.person), self.job_name(standing)),
            why: match last {
                Some(_) => {
                    format!("Last observed draw {} ago. {}", counted_days(days), missing_words(standing))
                }
                None => {
                    format!("Learning for {days} days, no observed draw yet. {}", missing_words(standing))
                }
            },
            link: Link::Person(standing.person.clone()),
        })
    }

    fn date_near(&self, standing: &Standing) -> Option<TodayItem> {
        let by = standing.needed_by?;
        if !standing.level.is_learning() || standing.rule_met {
            return None;
        }
        let days = days_between(self.today(), by);
        if days > DATE_NEAR_DAYS {
            return None;
        }
        let when = if days < 0 {
            format!("The timetable said {}, {} ago.", day_in_words(by), counted_days(-days))
        } else {
            format!("The timetable says {}, {}.", day_in_words(by), ahead(days))
        };
        Some(TodayItem {
            urgency: if days < 0 { Urgency::Today } else { Urgency::ThisWeek },
            what: format!(
                "Plan the rest for {}: {}",
                self.name_of(&standing.person),
                self.job_name(standing)
            ),
            why: match self.done_by(standing, by) {
                Some(chance) => format!("{when} {} {chance}", missing_words(standing)),
                None => format!("{when} {}", missing_words(standing)),
            },
            link: Link::Person(standing.person.clone()),
        })
    }

    fn new_contaminations(&self) -> Option<TodayItem> {
        let from = self.today().checked_sub(7.days()).ok()?;
        let n = self
            .judged_sets()
            .filter(|(set, judged)| judged.verdict() == Verdict::Contaminated && set.collected.date() >= from)
            .count() as u64;
        (n > 0).then(|| TodayItem {
            urgency: Urgency::ThisWeek,
            what: format!("Look at {} drawn in the last seven days", counted(n, "contaminated set", "contaminated sets")),
            why: "Talk while the draw is remembered, privately and about the circumstances. Newer sets are still open, so \
                  the number may grow."
                .to_owned(),
            link: Link::Results,
        })
    }

    fn unknown_collectors(&self) -> Option<TodayItem> {
        let from = self.today().checked_sub(1.month()).ok()?;
        let (unknown, of) = self
            .judged_sets()
            .filter(|(set, _)| set.collected.date() >= from)
            .fold((0u64, 0u64), |(unknown, of), (set, _)| {
                (unknown + u64::from(set.collector.is_none()), of + 1)
            });
        (of > 0 && unknown * 20 > of).then(|| TodayItem {
            urgency: Urgency::Later,
            what: "Ask for the collector to be recorded on every set".to_owned(),
            why: format!(
                "{unknown} of {of} sets of the last month name no collector; nobody can hear about a draw that is nobody's."
            ),
            link: Link::Results,
        })
    }
}

/// How often the rule lets through one who is not ready, and one who is: a sentence each, after a space.
fn what_the_rule_lets_through(rule: &ReleaseRule) -> String {
    FAULT_RATES
        .iter()
        .filter_map(|rate| Probability::new(*rate).ok())
        .map(|rate| format!(" {}", error_rate_sentence(rule, &error_rates(rule, rate))))
        .collect()
}

/// "in 3 days", "today".
fn ahead(days: i32) -> String {
    if days == 0 { "today".to_owned() } else { format!("in {}", counted_days(days)) }
}

fn counted_days(days: i32) -> String {
    counted(u64::from(days.unsigned_abs()), "day", "days")
}

fn missing_words(standing: &Standing) -> String {
    match standing.missing.as_slice() {
        [] => String::new(),
        [one] => format!("Still missing: {}.", one.trim_end_matches('.')),
        [first, rest @ ..] => {
            format!("Still missing: {}; and {} more.", first.trim_end_matches('.'), rest.len())
        }
    }
}

/// Days from one date to another; negative when the second is earlier.
pub(crate) fn days_between(from: Date, to: Date) -> i32 {
    from.until(to).map_or(0, |span| span.get_days())
}
