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
/// on an A5 sheet and four on an A4 sheet with the printer's "pages per sheet", and four pages printed as a booklet
/// are one folded A5 sheet. Text is at least 7.5 pt. Orders that bind are named by the labels of their key points.
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
) -> Result<[(&'static str, Value); 16], PaperError> {
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
    let orders = orders(breakdown);
    Ok([
        ("size", text(printing.size.name())),
        ("notice", optional(printing.notice)),
        ("date", effective),
        ("job", text(&breakdown.job)),
        ("job-short", text(&shorten(&breakdown.job, 50))),
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
            list(orders.iter().map(|[first, then]| named([("first", place(first)), ("then", place(then))]))),
        ),
        ("chains", list(chains(&orders).iter().map(|chain| list(chain.iter().map(place))))),
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

/// A labelled key point, named as briefly as its author named it.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Place {
    /// "3.5".
    number: String,
    /// The label with spaces for its hyphens: "needle out".
    words: String,
}

fn place(place: &Place) -> Value {
    named([("number", text(&place.number)), ("words", text(&place.words))])
}

/// The orders that bind, pair by pair; a pair with a label that names no key point is left out.
fn orders(breakdown: &Breakdown) -> Vec<[Place; 2]> {
    let found = |label: &str| {
        (1..).zip(&breakdown.steps).find_map(|(step_number, step)| {
            let labelled = |(_, point): &(i32, &KeyPoint)| point.label.as_deref() == Some(label);
            let (point_number, _) = (1..).zip(&step.key_points).find(labelled)?;
            Some(Place { number: format!("{step_number}.{point_number}"), words: label.replace('-', " ") })
        })
    };
    breakdown.orders.iter().filter_map(|pair| Some([found(&pair.first)?, found(&pair.then)?])).collect()
}

/// The same orders as lines to read: a pair that begins where the one before it ends goes on in its line.
fn chains(orders: &[[Place; 2]]) -> Vec<Vec<Place>> {
    let mut chains: Vec<Vec<Place>> = Vec::new();
    for [first, then] in orders {
        match chains.last_mut() {
            Some(chain) if chain.last() == Some(first) => chain.push(then.clone()),
            _ => chains.push(vec![first.clone(), then.clone()]),
        }
    }
    chains
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(first: &str, then: &str) -> [Place; 2] {
        [first, then].map(|words| Place { number: "1.1".to_owned(), words: words.to_owned() })
    }

    #[test]
    fn only_neighbouring_pairs_are_joined() {
        let orders =
            [pair("feel", "clean"), pair("clean", "dry"), pair("tops", "fill"), pair("dry", "puncture")];
        let words: Vec<Vec<String>> = chains(&orders)
            .into_iter()
            .map(|chain| chain.into_iter().map(|place| place.words).collect())
            .collect();
        assert_eq!(words, [vec!["feel", "clean", "dry"], vec!["tops", "fill"], vec!["dry", "puncture"]]);
        assert!(chains(&[]).is_empty());
    }
}
