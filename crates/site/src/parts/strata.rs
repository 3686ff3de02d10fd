//! Tables of results: by group, by verdict, by fill.

use desk::{Fill, Rate, Share, UnitRow, VerdictCounts};
use maud::{Markup, html};

use super::figures::{count, percent, rate_short};
use super::section::{cell, table};
use crate::address;

/// One line of a table by group.
pub(crate) struct Stratum<'a> {
    pub(crate) name: Markup,
    pub(crate) counts: &'a VerdictCounts,
    pub(crate) contamination: &'a Rate,
}

impl<'a> From<&'a UnitRow> for Stratum<'a> {
    fn from(row: &'a UnitRow) -> Stratum<'a> {
        Stratum { name: html! { bdi { (row.name) } }, counts: &row.counts, contamination: &row.contamination }
    }
}

/// Contamination by group, with the interval as numbers and as a strip. `all` is the rate the groups are held
/// against; its place is marked on every strip.
pub(crate) fn strata<'a>(
    caption: &str,
    group: &str,
    rows: impl IntoIterator<Item = Stratum<'a>>,
    all: &Rate,
) -> Markup {
    let rows: Vec<Stratum<'_>> = rows.into_iter().collect();
    if rows.is_empty() {
        return html! { p.empty { "Nothing to show: no set says which." } };
    }
    let scale = Scale::over(rows.iter().map(|row| &row.contamination.share).chain([&all.share]));
    let method = rows.iter().find_map(|row| match &row.contamination.share {
        Share::Shown { method, anchor, .. } => Some((method, anchor)),
        Share::Withheld(_) => None,
    });
    let strips = match &scale {
        Some(Scale { end, reference: Some(_) }) => {
            format!(" Strips run from 0 to {}; the upright stroke is the rate of all.", percent(*end))
        }
        Some(Scale { end, reference: None }) => format!(" Strips run from 0 to {}.", percent(*end)),
        None => String::new(),
    };
    let columns =
        [group, "Contaminated", "Closed sets", "Share", "Interval", "Strip", "Provisional", "All sets"];
    let rows = table(
        "strata",
        &format!("{caption}.{strips}"),
        &columns,
        &html! {
            @for row in &rows {
                tr role="row" {
                    th scope="row" role="rowheader" { (row.name) }
                    (cell("Contaminated", &html! { (count(row.contamination.events)) }))
                    (cell("Closed sets", &html! { (count(row.contamination.of)) }))
                    @match &row.contamination.share {
                        Share::Shown { estimate, lower, upper, .. } => {
                            (cell("Share", &html! { strong { (percent(*estimate)) } }))
                            (cell("Interval", &html! { (percent(*lower)) " to " (percent(*upper)) }))
                            (cell("Strip", &html! {
                                @if let Some(scale) = &scale { (scale.strip(*estimate, *lower, *upper)) }
                            }))
                        }
                        Share::Withheld(why) => {
                            (cell("Share", &html! { "not shown" }))
                            (cell("Interval", &html! { span.why { (why) } }))
                            (cell("Strip", &html! { "none" }))
                        }
                    }
                    (cell("Provisional", &html! { (count(row.counts.provisional)) }))
                    (cell("All sets", &html! { (count(row.counts.sets)) }))
                }
            }
        },
    );
    html! {
        (rows)
        @if let Some((method, anchor)) = method {
            p.note { "Interval: " a.method href=(address::method(anchor)) { (method) } "." }
        }
    }
}

/// Where all sets went.
pub(crate) fn verdicts(counts: &VerdictCounts) -> Markup {
    let rows: [(&str, u64, &str); 6] = [
        ("Contaminated", counts.contaminated, "growth judged to come from skin or surroundings"),
        ("True positive", counts.true_positive, "growth judged to come from the patient’s blood"),
        ("Negative", counts.negative, "no growth"),
        ("Undetermined", counts.undetermined, "growth of which neither can be said"),
        ("Provisional", counts.provisional, "result not closed yet"),
        ("Excluded", counts.excluded, "outside the rule: cancelled, or not an adult’s"),
    ];
    html! {
        table.plain {
            caption { "Verdicts on all " (count(counts.sets)) " sets: counts of everything taken in, so no interval." }
            thead { tr { th scope="col" { "Verdict" } th.number scope="col" { "Sets" } th scope="col" { "Meaning" } } }
            tbody {
                @for (verdict, n, meaning) in rows {
                    tr { th scope="row" { (verdict) } td.number { (count(n)) } td { (meaning) } }
                }
            }
        }
    }
}

/// Fill of bottles, or why it is not known.
pub(crate) fn fill(fill: &Result<Fill, String>) -> Markup {
    match fill {
        Err(why) => html! { p { "Not shown: " (why) } },
        Ok(fill) => html! {
            p {
                strong { (format!("{:.1}", fill.mean_ml)) "\u{a0}mL" }
                " in the mean bottle, over " (count(fill.bottles)) " bottles with a known volume; "
                (count(fill.unknown)) " more have none. The mean is for orientation and has no interval; the shares have."
            }
            dl.facts {
                dt { "Under the range" } dd { (rate_short(&fill.under)) }
                dt { "Within it" } dd { (rate_short(&fill.within)) }
                dt { "Over it" } dd { (rate_short(&fill.over)) }
                dt { "The range" } dd { (fill.range) }
            }
        },
    }
}

/// The common scale of the strips of one table.
struct Scale {
    /// Right end, as a fraction.
    end: f64,
    /// The rate of all, as a fraction.
    reference: Option<f64>,
}

/// Width of a strip in its own units; one unit is left free at each end for the stroke.
const STRIP: f64 = 120.0;

impl Scale {
    /// A scale that holds every interval; the last share is the reference. `None` when no share is shown.
    fn over<'a>(shares: impl Iterator<Item = &'a Share>) -> Option<Scale> {
        let mut highest = None::<f64>;
        let mut reference = None;
        for share in shares {
            reference = None;
            if let Share::Shown { estimate, upper, .. } = share
                && estimate.is_finite()
                && upper.is_finite()
            {
                highest = Some(highest.map_or(*upper, |highest| highest.max(*upper)));
                reference = Some(*estimate);
            }
        }
        let highest = highest?;
        let end = [0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5]
            .into_iter()
            .find(|end| highest <= *end)
            .unwrap_or(1.0);
        Some(Scale { end, reference })
    }

    fn at(&self, fraction: f64) -> f64 {
        1.0 + (fraction / self.end).clamp(0.0, 1.0) * (STRIP - 2.0)
    }

    /// The interval as a line, the estimate as a dot. Hidden from screen readers: the numbers stand beside it.
    fn strip(&self, estimate: f64, lower: f64, upper: f64) -> Markup {
        let x = |fraction: f64| format!("{:.1}", self.at(fraction));
        html! {
            svg.strip viewBox="0 0 120 16" width="120" height="16" aria-hidden="true" focusable="false" {
                path.base d="M1 8H119" {}
                @if let Some(reference) = self.reference { path.reference d={ "M" (x(reference)) " 1V15" } {} }
                path.range d={ "M" (x(lower)) " 8H" (x(upper)) } {}
                circle.estimate cx=(x(estimate)) cy="8" r="3.5" {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(estimate: f64, lower: f64, upper: f64) -> Share {
        Share::Shown { estimate, lower, upper, method: "Wilson, 95 %".into(), anchor: "wilson".into() }
    }

    #[test]
    fn the_scale_holds_every_interval_and_marks_the_last() {
        let shares = [shown(0.03, 0.01, 0.07), shown(0.1, 0.05, 0.18), shown(0.04, 0.03, 0.05)];
        let scale = Scale::over(shares.iter()).unwrap();
        assert_eq!((scale.end, scale.reference), (0.2, Some(0.04)));
        // A tenth of a scale of 0 to 0.2 lies in the middle of the strip.
        assert!((scale.at(0.1) - 60.0).abs() < 1e-9);
        assert!(Scale::over([Share::Withheld("few".into())].iter()).is_none());
    }
}
