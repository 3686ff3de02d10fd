//! What was asked for beside the figures, as text.

use std::fmt::{self, Write as _};

use culture::{CollectorFigures, DoubtCount, PatientDayRate, Tally};

use super::extras::{CollectorReport, Extras, Judgements, PatientDayFigures};
use super::figures::Figures;
use super::text::{in_full, parts, percent};

/// Most places listed for one doubt in text; the JSON lists more.
const MOST_LISTED: usize = 8;

/// Everything that was asked for, each under its own heading.
pub fn report(figures: &Figures<'_>, extras: &Extras) -> String {
    let mut out = String::new();
    // Writing into a String cannot fail.
    let _ = write(&mut out, figures, extras);
    out
}

fn write(out: &mut String, figures: &Figures<'_>, extras: &Extras) -> fmt::Result {
    for (rules, comparison) in &extras.comparisons {
        writeln!(out, "\nCompared with {}: {}", rules.label(), rules.title)?;
        for (name, tally) in [(figures.rules.label(), &comparison.first), (rules.label(), &comparison.second)]
        {
            writeln!(out, "  {name}: {}", rate_in_full(figures, tally))?;
        }
        let all = figures.judged.len();
        writeln!(out, "  Verdict changed in {} of {all} sets", comparison.changed())?;
        for ((from, to), count) in comparison.changes() {
            writeln!(
                out,
                "{count:>8}  {} [{}] -> {} [{}]",
                from.verdict(),
                from.id(),
                to.verdict(),
                to.id()
            )?;
        }
        writeln!(
            out,
            "  The same sets were judged twice: the intervals do not say whether the difference is chance. It is the rule."
        )?;
    }
    if let Some(judgements) = &extras.judgements {
        judged(out, figures, judgements)?;
    }
    if let Some(days) = &extras.patient_days {
        patient_days(out, days)?;
    }
    if let Some(standings) = &extras.standings {
        let rows = standings.iter().map(|(name, tally)| (name.clone(), tally));
        parts(out, "collector's standing at the draw", figures, rows)?;
    }
    if let Some(collectors) = &extras.collectors {
        let rows = collectors
            .iter()
            .map(|(name, tally)| (name.clone().unwrap_or_else(|| "not recorded".to_owned()), tally));
        parts(out, "collector", figures, rows)?;
        writeln!(
            out,
            "For the trainer only: each person's row is for that person and their trainer, and no list to rank by."
        )?;
    }
    if let Some(report) = &extras.collector {
        collector(out, report)?;
    }
    if let Some(doubts) = &extras.doubts {
        quality(out, figures, doubts)?;
    }
    Ok(())
}

fn rate_in_full(figures: &Figures<'_>, tally: &Tally) -> String {
    match figures.rate(tally) {
        Some(rate) => in_full(rate, "closed sets"),
        None => format!(
            "{} contaminated; no rate: {}",
            tally.contaminated,
            figures.why_no_rate().or(super::figures::why_no_rate(tally)).unwrap_or("there is none")
        ),
    }
}

fn judged(out: &mut String, figures: &Figures<'_>, judgements: &Judgements) -> fmt::Result {
    let Judgements { signed, beside, tally } = judgements;
    writeln!(out, "\nJudgements of people beside the rule")?;
    writeln!(out, "  by the rule:           {}", rate_in_full(figures, &figures.tally))?;
    writeln!(out, "  with the judgements:   {}", rate_in_full(figures, tally))?;
    writeln!(
        out,
        "  {} signed, {} of them replaced by a later one; {} say otherwise than the rule",
        signed.len(),
        beside.replaced.len(),
        beside.differing(figures.judged, signed).count()
    )?;
    for (set, judgement) in beside.differing(figures.judged, signed) {
        let (Some(set), Some(rule), Some(person)) =
            (figures.import.sets.get(set), figures.judged.get(set), signed.get(judgement))
        else {
            continue;
        };
        writeln!(
            out,
            "  set {}: {} by the rule [{}]; {} by {} on {}, because: {}",
            set.id,
            rule.verdict(),
            rule.clause.id(),
            person.verdict(),
            person.by(),
            person.on(),
            person.because()
        )?;
    }
    Ok(())
}

fn patient_days(out: &mut String, days: &PatientDayFigures) -> fmt::Result {
    writeln!(
        out,
        "\nSets per 1,000 patient-days (exact 95 % Poisson interval; sets of one patient come together, so the true uncertainty is larger)"
    )?;
    let line = |rate: &Option<PatientDayRate>| match rate {
        Some(rate) => format!(
            "{:.1} ({} sets in {} patient-days; {:.1} to {:.1})",
            rate.per_thousand,
            rate.sets,
            rate.patient_days,
            rate.interval.lower(),
            rate.interval.upper()
        ),
        None => "none".to_owned(),
    };
    writeln!(out, "  all: {}", line(&days.all))?;
    for (name, rate) in &days.rows {
        writeln!(out, "  {name}: {}", line(rate))?;
    }
    if days.without_days > 0 {
        writeln!(
            out,
            "  {} sets are of months or units without patient-days and not counted here",
            days.without_days
        )?;
    }
    Ok(())
}

fn collector(out: &mut String, report: &CollectorReport) -> fmt::Result {
    writeln!(out, "\nCollector {}: for this person and their trainer only", report.id)?;
    let tally = &report.tally;
    writeln!(
        out,
        "  {} sets: {} contaminated, {} true positive, {} negative, {} undetermined, {} provisional",
        tally.sets(),
        tally.contaminated,
        tally.true_positive,
        tally.negative,
        tally.undetermined,
        tally.provisional
    )?;
    match &report.figures {
        Err(why) => writeln!(out, "  No figures: {why}."),
        Ok(figures) => person(out, figures),
    }
}

fn person(out: &mut String, figures: &CollectorFigures) -> fmt::Result {
    let CollectorFigures { seen, everyone, .. } = figures;
    writeln!(
        out,
        "  {} contaminated of {} closed sets; everyone: {} of {}, {} people",
        seen.events(),
        seen.trials(),
        everyone.events(),
        everyone.trials(),
        figures.people
    )?;
    writeln!(
        out,
        "  estimate drawn towards everyone's rate: {} (95 % credible interval {} to {}){}",
        percent(figures.estimate),
        percent(figures.interval.lower()),
        percent(figures.interval.upper()),
        if figures.people_differ { "" } else { "; people do not differ by more than chance" }
    )?;
    writeln!(
        out,
        "  probability that the true rate is above {}: {}",
        percent(figures.target),
        percent(figures.above_target)
    )?;
    writeln!(
        out,
        "  so many or more by chance at everyone's rate: {}; adjusted for looking at {} people: {}",
        percent(figures.as_high_by_chance),
        figures.people,
        percent(figures.adjusted)
    )?;
    writeln!(
        out,
        "  funnel limits for {} sets (95 %, exact): {} to {}",
        seen.trials(),
        percent(figures.funnel.lower()),
        percent(figures.funnel.upper())
    )?;
    match figures.sets_to_know {
        Some(0) => writeln!(
            out,
            "  it is known with 95 % certainty on which side of {} the rate lies",
            percent(figures.target)
        )?,
        Some(sets) => writeln!(
            out,
            "  about {sets} more closed sets at this rate until it is known with 95 % certainty on which side of {} it lies",
            percent(figures.target)
        )?,
        None => writeln!(
            out,
            "  no reachable number of sets would tell on which side of {} the rate lies: watch draws instead",
            percent(figures.target)
        )?,
    }
    writeln!(
        out,
        "  Methods: beta-binomial empirical Bayes; Benjamini and Hochberg; Spiegelhalter's funnel (docs/methods.md)."
    )
}

fn quality(out: &mut String, figures: &Figures<'_>, doubts: &[DoubtCount]) -> fmt::Result {
    writeln!(out, "\nQuality of the data")?;
    let repeated: u64 = figures
        .import
        .dropped
        .iter()
        .filter(|dropped| dropped.reason == exchange::laboratory::REPEATED_ROW)
        .map(|dropped| dropped.rows)
        .sum();
    let rows: u64 = figures.import.counts.iter().map(|file| file.rows).sum();
    writeln!(out, "  {repeated} of {rows} rows repeat another word for word and were counted once")?;
    for doubt in doubts {
        let share = match culture::share(doubt.sets, doubt.of) {
            Some(rate) => format!(
                "{} of {} {} ({})",
                doubt.sets,
                doubt.of,
                doubt.doubt.out_of(),
                percent(rate.proportion.estimate())
            ),
            None => format!("no {} in the files", doubt.doubt.out_of()),
        };
        writeln!(out, "  {share}: {} [{}]", doubt.doubt.sentence(), doubt.doubt.id())?;
        // Where every set is meant, a list of some of them says nothing.
        let listed = if doubt.sets < doubt.of { MOST_LISTED.min(doubt.places.len()) } else { 0 };
        let places: Vec<String> =
            doubt.places.iter().take(listed).filter_map(|place| where_is(figures, *place)).collect();
        if !places.is_empty() {
            let more = doubt.sets.saturating_sub(places.len() as u64);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            writeln!(out, "      {}{more}", places.join(", "))?;
        }
    }
    Ok(())
}

/// "line 12", with the file where there are several; the number of the set where there is no line.
fn where_is(figures: &Figures<'_>, place: usize) -> Option<String> {
    let (set, source) = (figures.import.sets.get(place)?, figures.import.sources.get(place)?);
    let Some(line) = source.line else { return Some(format!("set {}", set.id)) };
    match figures.import.counts.get(source.file) {
        Some(file) if figures.import.counts.len() > 1 => Some(format!("{}, line {line}", file.file)),
        _ => Some(format!("line {line}")),
    }
}
