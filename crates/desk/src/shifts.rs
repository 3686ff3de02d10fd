use breakdown::JobCode;
use jiff::ToSpan as _;
use jiff::civil::Date;
use practice::{EventKind, PersonId, Role, Standing};
use stats::Probability;
use timetable::{DrawRates, Forecast, ShiftCoverage, ShiftTimes, Wanted, coverage, draw_rates, forecast};

use crate::facts::{Desk, valid};
use crate::rate::percent;
use crate::view::ShiftCover;

/// Weeks of sets behind the rate of draws.
const RATE_WEEKS: i64 = 26;
/// Weeks of the roster behind the share of draws that learners were offered.
const OFFERED_WEEKS: i64 = 4;
/// Share assumed where the roster does not reach back: nothing is known, so half.
const OFFERED_UNKNOWN: f64 = 0.5;

impl Desk {
    /// Who is on today's shifts: who may draw alone, who may watch, who is learning. Empty without a roster.
    pub(crate) fn shifts_today(&self) -> Vec<ShiftCover> {
        let today = self.today();
        let names = |people: &[PersonId]| people.iter().map(|id| self.name_of(id)).collect::<Vec<_>>();
        self.jobs
            .iter()
            .flat_map(|(code, name)| {
                self.covered(code, today, today).into_iter().map(move |shift| (name, shift))
            })
            .filter(|(_, shift)| shift.n_on_duty > 0)
            .map(|(job_name, shift)| ShiftCover {
                shift: shift.shift.kind.words().to_owned(),
                job_name: job_name.clone(),
                on_duty: shift.n_on_duty as u64,
                may_draw_alone: names(&shift.may_draw_alone),
                may_watch: names(&shift.may_watch),
                learning: names(&shift.learning),
            })
            .collect()
    }

    fn covered(&self, job: &JobCode, from: Date, to: Date) -> Vec<ShiftCoverage> {
        let Some(roster) = &self.material.roster else { return Vec::new() };
        let trainers: Vec<PersonId> = self
            .people
            .values()
            .filter(|person| person.role == Role::Trainer)
            .map(|person| person.id.clone())
            .collect();
        coverage(roster, &self.standings, &trainers, job, from, to)
    }

    /// How likely a learner has the draws still needed by a day, in a sentence; `None` without a roster that reaches
    /// there, or where nothing is needed.
    pub(crate) fn done_by(&self, standing: &Standing, by: Date) -> Option<String> {
        let roster_ends = self.material.roster.as_ref()?.last_day()?;
        let needed =
            u64::from(self.rule.draws_needed.saturating_sub(standing.draws_counted));
        if needed == 0 || by < self.today() || by > roster_ends {
            return None;
        }
        let covered = self.covered(&standing.job, self.today(), by);
        let offered = Probability::new(self.offered(&standing.job)).ok()?;
        let wanted = Wanted { person: &standing.person, draws: needed, by, offered };
        let Forecast { chance, n_shifts, n_watched_shifts, bottlenecks, .. } =
            forecast(&wanted, &covered, &self.rates(&standing.job)?).ok()?;
        let mut sentence = format!(
            "On the roster, the chance of the {needed} draws still needed by then is {}: {n_shifts} shifts, \
             {n_watched_shifts} with someone to watch.",
            percent(chance.get()),
        );
        if let Some(first) = bottlenecks.first() {
            sentence.push_str(&format!(
                " What stands in the way most: {}; without that it would be {}.",
                first.what,
                percent(first.chance.get())
            ));
        }
        Some(sentence)
    }

    /// Draws per shift by weekday and day or night, from the sets of the last half year that this job covers.
    fn rates(&self, job: &JobCode) -> Option<DrawRates> {
        let to = self.today().yesterday().ok()?;
        let from = to.checked_sub(RATE_WEEKS.weeks()).ok()?;
        let draws: Vec<_> = self
            .material
            .sets
            .iter()
            .filter(|set| set.route.is_some_and(|route| self.route_is_of(route, job)))
            .filter_map(|set| set.collected.time())
            .filter(|at| (from..=to).contains(&at.date()))
            .collect();
        draw_rates(&draws, from, to, ShiftTimes::default()).ok()
    }

    /// Share of the draws on watched shifts that came to a learner, over the weeks the roster reaches back.
    fn offered(&self, job: &JobCode) -> f64 {
        let (Ok(from), Ok(to)) = (self.today().checked_sub(OFFERED_WEEKS.weeks()), self.today().yesterday())
        else {
            return OFFERED_UNKNOWN;
        };
        let watched: Vec<_> = self
            .covered(job, from, to)
            .into_iter()
            .filter(|shift| !shift.learning.is_empty() && !shift.may_watch.is_empty())
            .map(|shift| shift.shift)
            .collect();
        let on_watched = |at| watched.contains(&timetable::Shift::at(at, ShiftTimes::default()));
        let drawn = self
            .material
            .sets
            .iter()
            .filter(|set| set.route.is_some_and(|route| self.route_is_of(route, job)))
            .filter_map(|set| set.collected.time())
            .filter(|at| on_watched(*at))
            .count();
        let taught = valid(&self.material.history)
            .filter(|event| on_watched(event.happened))
            .filter(|event| matches!(&event.kind, EventKind::DrawObserved(draw) if draw.job == *job))
            .count();
        if drawn == 0 { OFFERED_UNKNOWN } else { (taught as f64 / drawn as f64).min(1.0) }
    }
}
