//! The report for people.

use std::fmt::{self, Write as _};

use culture::{FillFacts, Rate, Shift, Tally};

use super::figures::{Figures, why_no_rate};
use super::json::route_id;

/// Said under every report.
pub const CAUTION: &str = "Training support, not a medical device: local policy and the laboratory's instructions come first, and a licensed clinician decides. Verdicts follow a counting rule; they say nothing about how a patient should be treated.";

/// Fewest closed sets for which a part's rate is printed as a percentage. Common practice, no source.
const FEWEST_FOR_A_PERCENTAGE: u64 = 20;
/// Most unread rows listed in text; the JSON lists all.
const MOST_LISTED: usize = 200;

/// The report as text; `extras` stands before the account of rows.
pub fn report(figures: &Figures<'_>, extras: &str) -> String {
    let mut out = String::new();
    // Writing into a String cannot fail.
    let _ = write(&mut out, figures, extras);
    out
}

fn write(out: &mut String, figures: &Figures<'_>, extras: &str) -> fmt::Result {
    let tally = &figures.tally;
    writeln!(out, "Blood culture sets, as of {}", figures.as_of)?;
    writeln!(out, "Rule: {}. {}", figures.rules.label(), figures.rules.title)?;
    writeln!(out, "Commensals: {}, {}", figures.list.name(), figures.list.version())?;
    if figures.shifted() {
        writeln!(
            out,
            "Dates were shifted to protect patients: every set counts as closed, and months mean nothing."
        )?;
    }
    writeln!(out)?;
    for (name, count) in [
        ("Sets", tally.sets()),
        ("  contaminated", tally.contaminated),
        ("  true positive", tally.true_positive),
        ("  negative", tally.negative),
        ("  undetermined", tally.undetermined),
        ("  provisional", tally.provisional),
        ("Excluded", tally.excluded),
    ] {
        writeln!(out, "{name:<18}{count:>8}")?;
    }
    writeln!(out)?;
    match (figures.rate(tally), figures.why_no_rate()) {
        (Some(rate), _) => {
            writeln!(out, "Contamination rate: {}", in_full(rate, "closed sets"))?;
            if let Some(most) = tally.rate_with_undetermined().filter(|_| tally.undetermined > 0) {
                writeln!(
                    out,
                    "  if every undetermined set were contaminated: {}",
                    in_full(most, "closed sets")
                )?;
            }
        }
        (None, why) => writeln!(out, "No contamination rate: {}.", why.unwrap_or("there is none"))?,
    }
    if let Some(rate) = figures.singles_per_set() {
        writeln!(out, "Single sets, by venepuncture: {}", in_full(rate, "sets"))?;
    }
    if let Some(rate) = figures.singles_per_occasion() {
        writeln!(out, "Single sets, by occasion: {}", in_full(rate, "occasions, each 24 h of one patient"))?;
    }
    if let Some(rate) = figures.positivity() {
        writeln!(out, "Positivity, sets with any growth: {}", in_full(rate, "closed sets"))?;
    }
    writeln!(out, "Collector recorded: {} of {} sets", figures.with_collector, tally.sets())?;
    fill(out, figures)?;
    if !figures.shifted() {
        parts(
            out,
            "month",
            figures,
            figures.months.iter().map(|(month, counts)| (month.to_string(), &counts.tally)),
        )?;
    }
    let not_known = || "not known".to_owned();
    let unit_name = |unit: &Option<String>| unit.clone().unwrap_or_else(not_known);
    let units = figures.units.iter().map(|(unit, counts)| (unit_name(unit), &counts.tally));
    parts(out, "unit", figures, units)?;
    if figures.routes.iter().any(|(route, _)| route.is_some()) {
        let routes = figures.routes.iter().map(|(route, tally)| {
            (route.map_or_else(not_known, |route| route_id(route).replace('-', " ")), tally)
        });
        parts(out, "vein or line", figures, routes)?;
    }
    let shifts = figures.shifts.iter().map(|(shift, tally)| (shift_name(*shift).to_owned(), tally));
    parts(out, "shift", figures, shifts)?;
    writeln!(out, "(day is 07:00 to 19:00)")?;
    if !figures.shifted() {
        fill_by(
            out,
            "month",
            figures.months.iter().map(|(month, counts)| (month.to_string(), &counts.fill)),
        )?;
    }
    fill_by(out, "unit", figures.units.iter().map(|(unit, counts)| (unit_name(unit), &counts.fill)))?;
    clauses(out, figures)?;
    out.push_str(extras);
    account(out, figures)?;
    writeln!(out, "\n{CAUTION}")
}

fn fill(out: &mut String, figures: &Figures<'_>) -> fmt::Result {
    let fill = &figures.fill;
    if fill.bottles == 0 {
        return Ok(());
    }
    writeln!(out, "Fill known: {} of {} adult bottles", fill.with_fill, fill.bottles)?;
    let (Some(mean), Some(within)) = (fill.mean_ml(), fill.within_share()) else { return Ok(()) };
    if let Some(density) = figures.density_g_per_ml {
        writeln!(out, "  masses were taken at {density} g/mL")?;
    }
    let target = format!("{} to {} mL", fill.target.low_ml(), fill.target.high_ml());
    writeln!(
        out,
        "  mean {mean:.1} mL over {} bottles (no interval: bottles of one draw are filled by one hand)",
        fill.with_fill
    )?;
    writeln!(out, "  within {target}: {}", in_full(within, "bottles"))?;
    if let (Some(under), Some(over)) = (fill.under_share(), fill.over_share()) {
        writeln!(out, "  below: {}", in_full(under, "bottles"))?;
        writeln!(out, "  above: {}", in_full(over, "bottles"))?;
    }
    Ok(())
}

/// Fill of the adult bottles of each part, where any is known.
fn fill_by<'f>(
    out: &mut String,
    by: &str,
    rows: impl Iterator<Item = (String, &'f FillFacts)>,
) -> fmt::Result {
    let rows: Vec<_> = rows.filter(|(_, fill)| fill.bottles > 0).collect();
    if rows.iter().all(|(_, fill)| fill.with_fill == 0) {
        return Ok(());
    }
    let title = format!("Fill by {by}");
    let width = rows.iter().map(|(name, _)| name.chars().count()).chain([title.len()]).max().unwrap_or(12);
    let least = rows.first().map_or(0.0, |(_, fill)| fill.target.low_ml());
    writeln!(out, "\n{title:<width$} {:>20} {:>8}  below {least} mL", "fill known", "mean")?;
    for (name, fill) in rows {
        let known = format!("{} of {}", fill.with_fill, fill.bottles);
        let mean = fill.mean_ml().map_or_else(|| "-".to_owned(), |mean| format!("{mean:.1} mL"));
        let under = match fill.under_share() {
            Some(_) if fill.with_fill < FEWEST_FOR_A_PERCENTAGE => {
                format!("{} of {}: too few bottles for a percentage", fill.under, fill.with_fill)
            }
            Some(under) => in_short(under, "bottles"),
            None => "no fill is known".to_owned(),
        };
        writeln!(out, "{name:<width$} {known:>20} {mean:>8}  {under}")?;
    }
    Ok(())
}

pub fn parts<'t>(
    out: &mut String,
    by: &str,
    figures: &Figures<'_>,
    rows: impl Iterator<Item = (String, &'t Tally)>,
) -> fmt::Result {
    let rows: Vec<_> = rows.collect();
    let width = rows.iter().map(|(name, _)| name.chars().count()).chain([by.len() + 3]).max().unwrap_or(12);
    writeln!(
        out,
        "\n{:<width$} {:>6} {:>7} {:>6} {:>6} {:>6} {:>6}  rate",
        format!("By {by}"),
        "sets",
        "contam.",
        "true+",
        "neg.",
        "undet.",
        "prov."
    )?;
    for (name, tally) in rows {
        let rate = match figures.rate(tally) {
            Some(rate) if tally.closed() < FEWEST_FOR_A_PERCENTAGE => {
                format!("{} of {}: too few sets for a percentage", rate.proportion.events(), tally.closed())
            }
            Some(rate) => in_short(rate, "closed"),
            None => figures.why_no_rate().or(why_no_rate(tally)).unwrap_or("no rate").to_owned(),
        };
        writeln!(
            out,
            "{name:<width$} {:>6} {:>7} {:>6} {:>6} {:>6} {:>6}  {rate}",
            tally.sets(),
            tally.contaminated,
            tally.true_positive,
            tally.negative,
            tally.undetermined,
            tally.provisional
        )?;
    }
    Ok(())
}

fn clauses(out: &mut String, figures: &Figures<'_>) -> fmt::Result {
    writeln!(out, "\nWhy the sets are called what they are called")?;
    for (clause, count) in &figures.clauses {
        writeln!(
            out,
            "{count:>8}  {}: {} [{}]",
            clause.verdict(),
            clause.sentence(figures.rules),
            clause.id()
        )?;
    }
    if !figures.flags.is_empty() {
        writeln!(out, "\nTo know besides")?;
    }
    for (flag, count) in &figures.flags {
        writeln!(out, "{count:>8}  {} [{}]", flag.sentence(), flag.id())?;
    }
    Ok(())
}

fn account(out: &mut String, figures: &Figures<'_>) -> fmt::Result {
    let import = figures.import;
    writeln!(out, "\nRows")?;
    for file in &import.counts {
        writeln!(
            out,
            "  {}: {} rows in, {} kept, {} left out, {} unread",
            file.file, file.rows, file.kept, file.dropped, file.unread
        )?;
    }
    for dropped in &import.dropped {
        writeln!(out, "  {}: {} left out: {}", dropped.file, dropped.rows, dropped.reason)?;
    }
    for note in &import.notes {
        let rows = match (note.count, note.first_line) {
            (0, _) => String::new(),
            (1, Some(line)) => format!(" (line {line})"),
            (count, Some(line)) => format!(" ({count} rows, first line {line})"),
            (count, None) => format!(" ({count} rows)"),
        };
        writeln!(out, "  {}: {}{rows}", note.file, note.text)?;
    }
    if !import.unread.is_empty() {
        writeln!(out, "\nNot read: {}", import.unread.len())?;
    }
    for unread in import.unread.iter().take(MOST_LISTED) {
        writeln!(out, "  {unread}")?;
    }
    if import.unread.len() > MOST_LISTED {
        writeln!(out, "  and {} more; --json lists every one", import.unread.len() - MOST_LISTED)?;
    }
    Ok(())
}

/// "2.3 % (9 of 396 closed sets; 95 % Wilson interval 1.2 % to 4.3 %)".
pub fn in_full(rate: Rate, of_what: &str) -> String {
    format!(
        "{} ({} of {} {of_what}; 95 % Wilson interval {} to {})",
        percent(rate.proportion.estimate()),
        rate.proportion.events(),
        rate.proportion.trials(),
        percent(rate.interval.lower()),
        percent(rate.interval.upper())
    )
}

fn in_short(rate: Rate, of_what: &str) -> String {
    format!(
        "{} of {} {of_what} = {} ({} to {})",
        rate.proportion.events(),
        rate.proportion.trials(),
        percent(rate.proportion.estimate()),
        percent(rate.interval.lower()),
        percent(rate.interval.upper())
    )
}

pub fn percent(share: f64) -> String {
    match share * 100.0 {
        // What is not nought never reads as nought.
        percent if percent > 0.0 && percent < 0.05 => "under 0.1 %".to_owned(),
        percent => format!("{percent:.1} %"),
    }
}

fn shift_name(shift: Shift) -> &'static str {
    match shift {
        Shift::Day => "day",
        Shift::Night => "night",
        Shift::NotKnown => "hour not known",
    }
}
