//! What a job takes: blood, bottle fill, time, supplies; and the blood against one patient's.

use breakdown::Breakdown;
use breakdown::ledger::{self, TimeUse, VolumeRange};
use desk::{Body, Sex, patient_blood, weight_bands};
use maud::{Markup, html};

use crate::address::{self, quote};
use crate::form::fields;
use crate::parts::{cell, percent, section, table};

/// Most draws supplies are counted for.
const MOST_DRAWS: u32 = 10_000;

/// What the forms beside the ledgers ask for; every field may be empty.
#[derive(Debug, Default, Clone)]
pub(super) struct Asked {
    pub(super) draws: String,
    pub(super) patient: String,
    pub(super) weight: String,
    pub(super) height: String,
    pub(super) taken: String,
}

pub(super) fn ledgers(job: &Breakdown, asked: &Asked) -> Markup {
    let draws = read_draws(&asked.draws);
    html! {
        (section("blood", "Blood", Some(html! { p { "From the quantities of the breakdown. Nothing here is measured, so nothing has an interval." } }), &blood(job)))
        (section("patient-blood", "Against one patient", Some(html! { p { "A weight and a height name nobody. Nothing is kept." } }), &patient(job, asked)))
        (section("time", "Time that must pass", Some(html! { p { "Handling comes on top." } }), &time(job)))
        (section("for-draws", "Supplies for several draws", None, &supplies(job, asked, &draws)))
    }
}

fn blood(job: &Breakdown) -> Markup {
    let blood = ledger::blood(job);
    let row = |what: &str, range: Option<VolumeRange>| {
        html! {
            dt { (what) }
            dd { @match range { Some(range) => { (range.to_string()) } None => "not known: see below" } }
        }
    };
    html! {
        dl.facts {
            (row("Into the bottles, per set", blood.cultured_per_set))
            (row("Discarded, per set", Some(blood.wasted_per_set)))
            (row("Given back, per set", Some(blood.returned_per_set)))
            (row("Taken from the patient, per set", blood.taken_per_set))
            (row("Taken from the patient, all sets", blood.taken_per_patient))
        }
        @if !blood.unknown.is_empty() {
            p { "The breakdown does not state:" }
            ul { @for missing in &blood.unknown { li { (missing) } } }
        }
        @if let Some(fill) = ledger::bottle_fill(job, ledger::recommended_adult_fill()) {
            h3 { "Fill of an adult bottle" }
            p { "Stated: " (fill.stated.to_string()) ". Guides: " (fill.recommended.to_string()) "; the bottle’s own maximum comes first." }
            @if fill.short.is_nothing() {
                p { "No blood is missing from the guides’ range." }
            } @else {
                p {
                    "Short by " (fill.short.to_string()) " a bottle. Yield lost: about "
                    (format!("{:.0}", fill.yield_lost.about_low)) " to " (format!("{:.0}", fill.yield_lost.about_high))
                    " percentage points at 3 per mL; " (format!("{:.1}", fill.yield_lost.at_least)) " to " (format!("{:.1}", fill.yield_lost.at_most))
                    " over the published 95\u{a0}% interval."
                }
                p.note { "Mermel and Maki 1993, Annals of Internal Medicine 119:270: 23 points, 9 to 37, between 8.7 and 2.7 mL. Later work found less. An order of size, not a forecast." }
            }
            @if fill.over.to_ml() > 0.0 { p { "Above the guides by up to " (fill.over.to_string()) "." } }
        }
    }
}

fn patient(job: &Breakdown, asked: &Asked) -> Markup {
    let Some(taken) = ledger::blood(job).taken_per_patient else {
        return html! {
            p.empty { "Not known: the breakdown does not state how much blood all its sets take." }
        };
    };
    html! {
        form.ask method="get" action={ (address::breakdown(&job.code)) "#patient-blood" } {
            input type="hidden" name="draws" value=(asked.draws);
            div.fields.four {
                p.field {
                    label for="patient" { "Patient" }
                    select #patient name="patient" {
                        @for (value, words) in [("", "adult, sex not known"), ("woman", "woman"), ("man", "man"), ("child", "child")] {
                            option value=(value) selected[asked.patient == value] { (words) }
                        }
                    }
                }
                (fields::number("weight", "Weight, kg", &asked.weight))
                (fields::number("height", "Height, m (adults)", &asked.height))
                (fields::number("taken", "Taken before in 24 h, mL", &asked.taken))
            }
            p.actions { button type="submit" { "Work it out" } }
        }
        @if !asked.weight.trim().is_empty() { (one_patient(taken, asked)) }
        details {
            summary { "The weight table for children, and what this job takes" }
            (bands(taken))
        }
    }
}

fn one_patient(taken: VolumeRange, asked: &Asked) -> Markup {
    let blood = body(asked)
        .and_then(|(body, before)| patient_blood(taken, body, before).map_err(|error| error.to_string()));
    let blood = match blood {
        Ok(blood) => blood,
        Err(why) => {
            return html! { p.finding role="alert" { strong { "Not worked out: " } bdi { (why) } "." } };
        }
    };
    let ml = |(low, high): (f64, f64)| {
        if low == high { format!("{low:.1} mL") } else { format!("{low:.1} to {high:.1} mL") }
    };
    let share = |(low, high): (f64, f64)| {
        if low == high { percent(low) } else { format!("{} to {}", percent(low), percent(high)) }
    };
    html! {
        dl.facts {
            dt { "Blood volume" }
            dd { (format!("{:.0} mL", blood.blood_ml)) ": " (blood.how) }
            dt { "This job takes" }
            dd { (ml(blood.taken_ml)) ", which is " (share(blood.share)) " of it" }
            dt { "In 24 hours with what was taken before" }
            dd { (ml(blood.day_ml)) ", which is " (share(blood.day_share)) " of it" }
            @if let Some((total, source)) = &blood.table {
                dt { "The weight table asks for" }
                dd { (format!("{total} mL in all")) " (" (source) ")" @if blood.taken_ml.1 > *total { ": this job takes more, and is not for this child" } }
            }
        }
        p.sentence { (blood.sentence) }
        p.note { "An estimate for planning; the unit’s own limit and the clinician who decides come first." }
    }
}

fn bands(taken: VolumeRange) -> Markup {
    let columns = ["Weight", "Sets", "In all", "This job"];
    table(
        "bands",
        "Kellogg 2000, as printed by IDSA/ASM 2018, Table 3. Volumes per set are from memory, totals were seen; sources disagree.",
        &columns,
        &html! {
            @for row in weight_bands(taken) {
                tr role="row" {
                    th scope="row" role="rowheader" {
                        @match row.below_kg {
                            Some(below) => { "from " (row.from_kg) " to under " (below) " kg" }
                            None => { "from " (row.from_kg) " kg" }
                        }
                    }
                    (cell("Sets", &html! { @for (at, ml) in row.sets_ml.iter().enumerate() { @if at > 0 { " + " } (ml) } " mL" }))
                    (cell("In all", &html! { (row.total_ml) " mL" }))
                    (cell("This job", &html! { @if row.job_fits { "takes no more" } @else { "takes more: not for this weight" } }))
                }
            }
        },
    )
}

fn time(job: &Breakdown) -> Markup {
    let time = ledger::time(job);
    html! {
        @if time.entries.is_empty() {
            p.empty { "The breakdown states no contact, drying or waiting time." }
        } @else {
            dl.facts {
                @for entry in &time.entries {
                    dt {
                        span.item { (entry.item) }
                        @match entry.used_for { TimeUse::Contact => "contact", TimeUse::Dry => "drying", TimeUse::Wait => "waiting" }
                    }
                    dd { bdi { (entry.stated.to_string()) } }
                }
                dt { "One after another" }
                dd { (time.one_after_another.to_string()) }
                dt { "Shortest, where different things dry side by side" }
                dd { (time.side_by_side.to_string()) }
            }
        }
    }
}

fn supplies(job: &Breakdown, asked: &Asked, draws: &Result<u32, String>) -> Markup {
    html! {
        form.ask method="get" action={ (address::breakdown(&job.code)) "#for-draws" } {
            @for (name, value) in [("patient", &asked.patient), ("weight", &asked.weight), ("height", &asked.height), ("taken", &asked.taken)] {
                input type="hidden" name=(name) value=(value);
            }
            div.fields.four { (fields::number("draws", "Draws", &asked.draws)) }
            p.actions { button type="submit" { "Count" } }
        }
        @match draws {
            Err(why) => p.finding role="alert" { strong { "Not counted: " } bdi { (why) } "." },
            Ok(draws) => {
                p { "For " (draws) @if *draws == 1 { " draw" } @else { " draws" } ":" }
                @let needs = ledger::supplies(job, *draws);
                @if needs.is_empty() { p.empty { "The breakdown lists no supplies." } }
                ul.supplies {
                    @for need in &needs {
                        li { @if let Some(n) = need.count { span.item { (n) " ×" } } bdi { (need.name) } @if need.count.is_none() { " (no count given)" } }
                    }
                }
            }
        }
    }
}

fn read_draws(text: &str) -> Result<u32, String> {
    match text.trim() {
        "" => Ok(1),
        text => match text.parse::<u32>() {
            Ok(draws @ 1..=MOST_DRAWS) => Ok(draws),
            _ => Err(format!("draws “{}”; expected a whole number from 1 to {MOST_DRAWS}", quote(text))),
        },
    }
}

fn body(asked: &Asked) -> Result<(Body, f64), String> {
    let number = |what: &str, text: &str| {
        let plain = text.trim().replace(',', ".");
        match plain.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => Err(format!("{what} “{}”; expected a number such as 70 or 1.75", quote(text))),
        }
    };
    let optional = |what: &str, text: &str| match text.trim() {
        "" => Ok(None),
        text => number(what, text).map(Some),
    };
    let sex = match asked.patient.as_str() {
        "woman" => Some(Sex::Female),
        "man" => Some(Sex::Male),
        "" | "child" => None,
        other => return Err(format!("patient “{}”; expected woman, man, child or nothing", quote(other))),
    };
    let body = Body {
        sex,
        height_m: optional("height", &asked.height)?,
        weight_kg: number("weight", &asked.weight)?,
        child: asked.patient == "child",
    };
    Ok((body, optional("taken before", &asked.taken)?.unwrap_or(0.0)))
}
