use std::collections::BTreeMap;

use culture::{Collected, CultureSet, FillFacts, FillTarget, Judged, Route, SingleSets, Verdict};
use jiff::ToSpan as _;
use jiff::civil::Date;
use stats::Proportion;
use stats::charts::{ChartKind, ChartOptions, PhasePlan, Series, chosen_chart};
use timetable::{Roster, Shift, ShiftTimes};

use crate::facts::Desk;
use crate::rate::rate;
use crate::view::{Charted, Fill, MonthRow, Rate, Results, UnitRow, VerdictCounts};

impl Desk {
    pub(crate) fn judged_sets(&self) -> impl Iterator<Item = (&CultureSet, &Judged)> {
        self.material.sets.iter().zip(&self.judged)
    }

    /// The results page: everything the laboratory has sent, by month, unit, route, shift and standing. Worked out when it
    /// is first asked for: over a million sets that takes a second or more, and nothing in a desk changes.
    pub fn results(&self) -> Results {
        self.results.get_or_init(|| self.all_results()).clone()
    }

    fn all_results(&self) -> Results {
        let all: Vec<_> = self.judged_sets().collect();
        let counts = tally(all.iter().copied());
        let months = self.months_of(&all);
        // Without a roster the unit's shifts are not known, and common practice stands in.
        let times = self.roster().map(Roster::times).unwrap_or_default();
        Results {
            as_of: self.today(),
            rule: self.rule_name(),
            from: all.iter().map(|(set, _)| set.collected.date()).min().unwrap_or(self.today()),
            to: all.iter().map(|(set, _)| set.collected.date()).max().unwrap_or(self.today()),
            contamination: contamination(counts),
            chart: self.chart_of(&months),
            units: strata(&all, |set| set.unit.clone().unwrap_or_else(|| "unit not stated".to_owned())),
            routes: strata(&all, |set| route_words(set.route).to_owned()),
            shifts: strata(&all, |set| shift_words(set.collected, times)),
            by_standing: self.by_standing(&all),
            single_sets: self.single_sets(&all),
            positivity: rate(
                all.iter().filter(|(set, judged)| is_closed(judged) && !set.isolates.is_empty()).count()
                    as u64,
                counts.closed(),
                "sets with growth",
                "closed sets",
            ),
            fill: self.fill(&all),
            unknown_collectors: unknown_collectors(&all),
            change: self.change(&all, &months),
            counts,
            months,
        }
    }

    /// First days of the months in which sets were collected, oldest first.
    pub fn months(&self) -> Vec<Date> {
        let mut months: Vec<Date> =
            self.material.sets.iter().map(|set| set.collected.date().first_of_month()).collect();
        months.sort_unstable();
        months.dedup();
        months
    }

    /// Contamination over the twelve months that end on a day.
    pub(crate) fn last_twelve_months(&self, end: Date) -> Rate {
        let from = end.checked_sub(1.year()).unwrap_or(end);
        let counts = tally(
            self.judged_sets().filter(|(set, _)| set.collected.date() > from && set.collected.date() <= end),
        );
        contamination(counts)
    }

    pub(crate) fn months_of(&self, sets: &[(&CultureSet, &Judged)]) -> Vec<MonthRow> {
        let mut months: BTreeMap<Date, Vec<(&CultureSet, &Judged)>> = BTreeMap::new();
        for (set, judged) in sets {
            months.entry(set.collected.date().first_of_month()).or_default().push((set, judged));
        }
        months
            .into_iter()
            .map(|(month, sets)| {
                let counts = tally(sets.into_iter());
                MonthRow { month, counts, contamination: contamination(counts) }
            })
            .collect()
    }

    fn by_standing(&self, sets: &[(&CultureSet, &Judged)]) -> Vec<UnitRow> {
        strata(sets, |set| {
            let Some(person) = self.collector(set) else {
                return if set.collector.is_none() {
                    "collector not recorded"
                } else {
                    "collector not of this unit"
                }
                .to_owned();
            };
            let when = set.collected.time().unwrap_or_else(|| set.collected.date().at(23, 59, 59, 0));
            if self.released_at(&person.id, set.route, when) {
                "released on the breakdown".to_owned()
            } else {
                "not released on the breakdown at the draw".to_owned()
            }
        })
    }

    /// Control chart of closed sets by month, limits frozen at the months before the training where there are enough.
    pub(crate) fn chart_of(&self, months: &[MonthRow]) -> Result<Charted, String> {
        let closed: Vec<&MonthRow> = months.iter().filter(|row| row.counts.closed() > 0).collect();
        let samples: Vec<Proportion> = closed
            .iter()
            .filter_map(|row| Proportion::new(row.counts.contaminated, row.counts.closed()).ok())
            .collect();
        let before = self
            .material
            .training_started
            .map_or(0, |started| closed.iter().filter(|row| row.month < started.first_of_month()).count());
        let plan = if before > 0 && before < samples.len() {
            PhasePlan::before_and_after(before)
        } else {
            PhasePlan::single()
        };
        let options = ChartOptions { plan, ..ChartOptions::default() };
        let chart = chosen_chart(Series::Proportions(&samples), &options)
            .map_err(|error| format!("No control chart: {error}."))?;
        Ok(Charted {
            labels: closed
                .iter()
                .map(|row| format!("{:04}-{:02}", row.month.year(), row.month.month()))
                .collect(),
            title: format!("Contaminated sets by month, {}", self.material.unit),
            value_axis: "contaminated sets, % of closed sets".to_owned(),
            of_what: "closed sets".to_owned(),
            percent: true,
            anchor: if chart.kind == ChartKind::Run { "run_chart" } else { "p_chart" }.to_owned(),
            chart,
        })
    }

    pub(crate) fn single_sets(&self, sets: &[(&CultureSet, &Judged)]) -> Rate {
        let (owned, judged): (Vec<CultureSet>, Vec<Judged>) =
            sets.iter().map(|(set, judged)| ((*set).clone(), **judged)).unzip();
        let singles = SingleSets::count(&owned, &judged);
        rate(singles.single, singles.sets, "occasions with one set in 24 hours", "sets (by venepuncture)")
    }

    pub(crate) fn fill(&self, sets: &[(&CultureSet, &Judged)]) -> Result<Fill, String> {
        let target = FillTarget::default();
        let facts = FillFacts::count(sets.iter().map(|(set, _)| *set), target);
        let Some(mean_ml) = facts.mean_ml() else {
            return Err("No bottle was weighed or reported with its volume.".to_owned());
        };
        let of_what = "adult bottles with a known volume";
        Ok(Fill {
            bottles: facts.with_fill,
            unknown: facts.bottles - facts.with_fill,
            mean_ml,
            under: rate(facts.under, facts.with_fill, "bottles under the range", of_what),
            within: rate(facts.within, facts.with_fill, "bottles within the range", of_what),
            over: rate(facts.over, facts.with_fill, "bottles over the range", of_what),
            range: format!(
                "{} to {} mL in an adult bottle (common practice; J Clin Microbiol 2019, Swedish weighing study)",
                target.low_ml(),
                target.high_ml()
            ),
        })
    }
}

/// Counts the verdicts of some sets.
pub(crate) fn tally<'a>(sets: impl Iterator<Item = (&'a CultureSet, &'a Judged)>) -> VerdictCounts {
    let mut counts = VerdictCounts::default();
    for (_, judged) in sets {
        counts.sets += 1;
        match judged.verdict() {
            Verdict::Contaminated => counts.contaminated += 1,
            Verdict::TruePositive => counts.true_positive += 1,
            Verdict::Negative => counts.negative += 1,
            Verdict::Undetermined => counts.undetermined += 1,
            Verdict::Provisional => counts.provisional += 1,
            Verdict::Excluded => counts.excluded += 1,
        }
    }
    counts
}

impl VerdictCounts {
    /// Sets that count in the denominator: neither provisional nor excluded.
    pub fn closed(&self) -> u64 {
        self.sets - self.provisional - self.excluded
    }
}

pub(crate) fn contamination(counts: VerdictCounts) -> Rate {
    rate(counts.contaminated, counts.closed(), "contaminated sets", "closed sets")
}

pub(crate) fn unknown_collectors(sets: &[(&CultureSet, &Judged)]) -> Rate {
    let unknown = sets.iter().filter(|(set, _)| set.collector.is_none()).count() as u64;
    rate(unknown, sets.len() as u64, "sets without a collector", "sets received")
}

/// Whether a set counts in the denominator.
pub(crate) fn is_closed(judged: &Judged) -> bool {
    !matches!(judged.verdict(), Verdict::Provisional | Verdict::Excluded)
}

/// Sets by what a function calls them, largest stratum first.
pub(crate) fn strata(sets: &[(&CultureSet, &Judged)], name: impl Fn(&CultureSet) -> String) -> Vec<UnitRow> {
    let mut groups: BTreeMap<String, Vec<(&CultureSet, &Judged)>> = BTreeMap::new();
    for (set, judged) in sets {
        groups.entry(name(set)).or_default().push((set, judged));
    }
    let mut rows: Vec<UnitRow> = groups
        .into_iter()
        .map(|(name, sets)| {
            let counts = tally(sets.into_iter());
            UnitRow { name, counts, contamination: contamination(counts) }
        })
        .collect();
    rows.sort_by_key(|row| std::cmp::Reverse(row.counts.sets));
    rows
}

pub(crate) fn route_words(route: Option<Route>) -> &'static str {
    match route {
        Some(Route::Vein) => "vein",
        Some(Route::CentralLine) => "central line",
        Some(Route::ArterialLine) => "arterial line",
        Some(Route::Cannula) => "cannula in place",
        None => "route not recorded",
    }
}

/// The unit's shift in which blood was taken, with its hours.
fn shift_words(collected: Collected, times: ShiftTimes) -> String {
    let Collected::At(at) = collected else { return "time not recorded".to_owned() };
    let shift = Shift::at(at, times);
    let (begins, ends) = (shift.start(times), shift.end(times).saturating_sub(1.minute()));
    format!("{}, {} to {}", shift.kind.words(), begins.strftime("%H:%M"), ends.strftime("%H:%M"))
}

#[cfg(test)]
mod tests {
    use jiff::civil::{Time, date, time};

    use super::*;

    /// By hand: three shifts of eight hours, each to its last minute; half past three belongs to the night.
    #[test]
    fn sets_are_counted_by_the_shifts_of_the_unit() {
        let at = |hour, minute| time(hour, minute, 0, 0);
        let three: [(&str, Time); 3] = [("early", at(6, 0)), ("late", at(14, 0)), ("night", at(22, 0))];
        let three = ShiftTimes::named(&three).unwrap();
        let day = date(2026, 3, 4);
        let words =
            |hour, minute, times| shift_words(Collected::At(day.to_datetime(at(hour, minute))), times);
        assert_eq!(words(13, 59, three), "early, 06:00 to 13:59");
        assert_eq!(words(14, 0, three), "late, 14:00 to 21:59");
        assert_eq!(words(3, 30, three), "night, 22:00 to 05:59");
        assert_eq!(words(3, 30, ShiftTimes::default()), "night, 19:00 to 06:59");
        assert_eq!(words(7, 0, ShiftTimes::default()), "day, 07:00 to 18:59");
        assert_eq!(shift_words(Collected::On(day), three), "time not recorded");
    }
}
