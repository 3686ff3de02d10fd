use breakdown::JobCode;
use jiff::civil::Date;
use practice::{PersonId, Standing};
use timetable::{Forecast, ShiftCoverage, Wanted, coverage, forecast};

use crate::facts::Desk;
use crate::rate::percent;
use crate::view::ShiftCover;

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

    pub(crate) fn covered(&self, job: &JobCode, from: Date, to: Date) -> Vec<ShiftCoverage> {
        let Some(roster) = self.roster() else { return Vec::new() };
        coverage(roster, &self.standings, &self.trainer_ids(), job, from, to)
    }

    /// How likely a learner has the draws still needed by a day, in a sentence; `None` without a roster that reaches
    /// there, or where nothing is needed.
    pub(crate) fn done_by(&self, standing: &Standing, by: Date) -> Option<String> {
        let roster = self.roster()?;
        let roster_ends = roster.last_day()?;
        let needed = u64::from(self.rule.draws_needed.saturating_sub(standing.draws_counted));
        if needed == 0 || by < self.today() || by > roster_ends {
            return None;
        }
        let covered = self.covered(&standing.job, self.today(), by);
        let offered = self.offered(&standing.job, roster).ok()?.value;
        let wanted = Wanted { person: &standing.person, draws: needed, by, offered };
        let Forecast { chance, n_shifts, n_watched_shifts, bottlenecks, .. } =
            forecast(&wanted, &covered, &self.rates(&standing.job, roster).ok()?.value).ok()?;
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
}
