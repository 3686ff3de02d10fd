use breakdown::{Breakdown, KeyPoint, KeyPointKind, Step};
use typst::foundations::Value;

use crate::error::{PaperError, PaperName};
use crate::press::print;
use crate::printing::Printing;
use crate::value::{date, dict, list, named, optional, text, texts};
use crate::words::{day, shorten};

/// A breakdown to carry: A6 pages with steps, key points and reasons.
///
/// A6 is what goes into the pocket of a tunic or behind a badge, and the same pages read well on a phone; two fit
/// on an A5 sheet and four on an A4 sheet with the printer's "pages per sheet". Text is at least 7.5 pt.
///
/// # Errors
/// [`PaperError::NoSteps`] when the breakdown has no step, [`PaperError::Date`] when its effective date cannot be
/// printed.
pub fn pocket_card(breakdown: &Breakdown, printing: &Printing) -> Result<Vec<u8>, PaperError> {
    let paper = PaperName::PocketCard;
    print(paper, dict(facts(paper, breakdown, printing)?))
}

/// What both papers of a breakdown say.
pub(crate) fn facts(
    paper: PaperName,
    breakdown: &Breakdown,
    printing: &Printing,
) -> Result<[(&'static str, Value); 15], PaperError> {
    if breakdown.steps.is_empty() {
        return Err(PaperError::NoSteps { paper, job: breakdown.job.clone() });
    }
    let effective = match breakdown.effective {
        Some(effective) => date(effective).ok_or(PaperError::Date { paper, year: effective.year() })?,
        None => Value::None,
    };
    let supplies = breakdown.supplies.iter().map(|supply| {
        named([
            ("count", optional(supply.count.map(|count| count.to_string()).as_deref())),
            ("name", text(&supply.name)),
        ])
    });
    Ok([
        ("size", text(printing.size.name())),
        ("notice", optional(printing.notice)),
        ("date", effective),
        ("job", text(&breakdown.job)),
        ("job-short", text(&shorten(&breakdown.job, 44))),
        ("code", text(&breakdown.code.0)),
        ("version", text(&breakdown.version.to_string())),
        ("effective", optional(breakdown.effective.map(day).as_deref())),
        ("author", optional(breakdown.author.as_deref())),
        ("approved-by", optional(breakdown.approved_by.as_deref())),
        ("cautions", texts(&breakdown.cautions)),
        ("supplies", list(supplies)),
        ("steps", list(breakdown.steps.iter().map(step))),
        (
            "orders",
            list(breakdown.orders.iter().filter_map(|pair| order(breakdown, &pair.first, &pair.then))),
        ),
        ("n-safety", Value::Int(breakdown.safety_points().len() as i64)),
    ])
}

fn step(step: &Step) -> Value {
    named([("name", text(&step.name)), ("points", list(step.key_points.iter().map(key_point)))])
}

fn key_point(point: &KeyPoint) -> Value {
    let kind = match point.kind {
        KeyPointKind::Safety => "safety",
        KeyPointKind::MakesOrBreaks => "makes-or-breaks",
        KeyPointKind::Knack => "knack",
    };
    named([("text", text(&point.text)), ("kind", text(kind)), ("reasons", texts(&point.reasons))])
}

/// A binding order with the places and words of both key points; `None` when a label names no key point.
fn order(breakdown: &Breakdown, first: &str, then: &str) -> Option<Value> {
    let found = |label: &str| {
        (1..).zip(&breakdown.steps).find_map(|(step_number, step)| {
            let labelled = |(_, point): &(i32, &KeyPoint)| point.label.as_deref() == Some(label);
            let (point_number, point) = (1..).zip(&step.key_points).find(labelled)?;
            Some((format!("{step_number}.{point_number}"), point.text.as_str()))
        })
    };
    let (first, then) = (found(first)?, found(then)?);
    Some(named([
        ("first", text(&first.0)),
        ("first-text", text(first.1)),
        ("then", text(&then.0)),
        ("then-text", text(then.1)),
    ]))
}
