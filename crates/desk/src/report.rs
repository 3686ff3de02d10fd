use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::{EventKind, Level};

use crate::facts::{Desk, valid};
use crate::rate::percent;
use crate::results::{contamination, route_words, strata, tally, unknown_collectors};
use crate::view::{MonthReport, MonthRow, PointFacts, Share, TrainingFacts};

/// Key points listed as most often open.
const MOST_MISSED: usize = 5;
/// Fewest times a key point must have been judged before it is listed.
const FEWEST_JUDGED: u64 = 5;

impl Desk {
    /// The unit's report for the month that starts on a day; `None` for a month without sets. No individual figures.
    pub fn month_report(&self, month: Date) -> Option<MonthReport> {
        let month = month.first_of_month();
        let last = month.last_of_month();
        let sets: Vec<_> =
            self.judged_sets().filter(|(set, _)| (month..=last).contains(&set.collected.date())).collect();
        if sets.is_empty() {
            return None;
        }
        let counts = tally(sets.iter().copied());
        let this_month = MonthRow { month, counts, contamination: contamination(counts) };
        let until: Vec<_> = self.judged_sets().filter(|(set, _)| set.collected.date() <= last).collect();
        let chart = self.chart_of(&self.months_of(&until));
        let findings = match &chart {
            Err(why) => vec![why.clone()],
            Ok(charted) if charted.chart.signals.is_empty() => {
                vec![
                    "No rule of the chart gives a signal: the months differ no more than chance explains."
                        .to_owned(),
                ]
            }
            Ok(charted) => charted.chart.signals.iter().map(|signal| signal.sentence.clone()).collect(),
        };
        let most_missed = self.most_missed(last);
        Some(MonthReport {
            unit: self.material.unit.clone(),
            month,
            as_of: self.today(),
            rule: self.rule_name(),
            last_twelve: self.last_twelve_months(last),
            last_twelve_named: up_to(self.months().first().copied(), month),
            units: strata(&sets, |set| set.unit.clone().unwrap_or_else(|| "unit not stated".to_owned())),
            routes: strata(&sets, |set| route_words(set.route).to_owned()),
            single_sets: self.single_sets(&sets),
            fill: self.fill(&sets),
            unknown_collectors: unknown_collectors(&sets),
            training: self.training(month, last),
            staff_room: staff_room(&this_month, &most_missed),
            this_month,
            chart,
            findings,
            most_missed,
        })
    }

    /// Key points open most often over the three months that end on a day, said and done together.
    fn most_missed(&self, last: Date) -> Vec<PointFacts> {
        let since = last.checked_sub(3.months()).unwrap_or(last);
        let mut points: Vec<PointFacts> = self
            .jobs
            .iter()
            .flat_map(|(code, _)| self.points_between(code, since, last))
            .filter(|point| point.said.of + point.done.of >= FEWEST_JUDGED)
            .filter(|point| point.said.open + point.done.open > 0)
            .collect();
        let share = |point: &PointFacts| {
            (point.said.open + point.done.open) as f64 / (point.said.of + point.done.of) as f64
        };
        points.sort_by(|a, b| share(b).total_cmp(&share(a)));
        points.truncate(MOST_MISSED);
        points
    }

    fn training(&self, first: Date, last: Date) -> TrainingFacts {
        // Standings on the last day of the month, or today when the month is not over.
        let day = last.min(self.today());
        let standings = practice::standings(&self.material.history, day, &self.material.release_rule);
        let within = |date: Date| (first..=last).contains(&date);
        let count = |pick: fn(&EventKind) -> bool| {
            valid(&self.material.history)
                .filter(|event| within(event.happened.date()) && pick(&event.kind))
                .count() as u64
        };
        let mut on_unit: Vec<_> = standings
            .iter()
            .filter(|standing| standing.level != Level::Away)
            .map(|standing| &standing.person)
            .filter(|id| self.people.get(*id).is_some_and(|person| person.started <= day))
            .collect();
        on_unit.sort_unstable();
        on_unit.dedup();
        TrainingFacts {
            people: on_unit.len() as u64,
            released: self
                .jobs
                .iter()
                .map(|(code, name)| {
                    let released = standings
                        .iter()
                        .filter(|standing| standing.job == *code && standing.level.may_draw_alone())
                        .count() as u64;
                    (name.clone(), released)
                })
                .collect(),
            // A pass that two people heard is one.
            teachbacks: practice::heard_passes(&self.material.history)
                .iter()
                .filter(|pass| within(pass.happened().date()))
                .count() as u64,
            draws: count(|kind| matches!(kind, EventKind::DrawObserved(_))),
            spot_checks: count(|kind| matches!(kind, EventKind::SpotChecked(_))),
            releases: count(|kind| matches!(kind, EventKind::Released(_))),
            overdue: standings
                .iter()
                .filter(|standing| standing.level != Level::Away)
                .filter(|standing| standing.next_check.as_ref().is_some_and(|due| due.on < day))
                .count() as u64,
        }
    }
}

/// Names the months of "the last twelve" when results begin with the month `first`.
fn up_to(first: Option<Date>, month: Date) -> String {
    let months_before =
        |first: Date| 12 * i32::from(month.year() - first.year()) + i32::from(month.month() - first.month());
    match first.map(months_before) {
        None | Some(11..) => "The twelve months up to this one".to_owned(),
        Some(..1) => "This month alone: there are no earlier results".to_owned(),
        Some(before) => format!("The {} months up to this one: there are no earlier results", before + 1),
    }
}

/// One sentence for the staff room: counts and one key point, no names.
fn staff_room(month: &MonthRow, most_missed: &[PointFacts]) -> String {
    let counts = &month.counts;
    let rate = match &month.contamination.share {
        Share::Shown { estimate, .. } => format!(" ({})", percent(*estimate)),
        Share::Withheld(_) => String::new(),
    };
    let numbers = format!(
        "{} of {} closed sets were contaminated this month{rate}.",
        counts.contaminated,
        counts.closed()
    );
    match most_missed.first() {
        Some(point) => {
            format!("{numbers} One key point to keep in mind: {}.", point.text.trim_end_matches('.'))
        }
        None => numbers,
    }
}
