//! The card with its points hidden: the learner says each, then looks.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use breakdown::{Breakdown, ItemId, ItemKind, JobCode, KeyPoint, KeyPointKind, Step};
use desk::TeachBackForm;
use maud::{Markup, html};
use practice::PersonId;
use serde::Deserialize;

use super::breakdowns::no_such_job;
use super::person::no_such_person;
use super::{Segment, segment};
use crate::address::{self, read_identifier};
use crate::ask::Site;
use crate::door::Paper;
use crate::parts::{caution, moment, name, safety_mark, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};
use crate::words::bed;

/// Whose open points come first; empty for nobody's.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    person: String,
}

/// One job's card for practice alone.
pub(crate) async fn show(
    State(site): State<Site>,
    code: Segment<String>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let job = JobCode(read_identifier(&segment(code)?, bed::JOB_CODE)?);
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: bed::SOMETHING_OTHER_THAN_ONE_PERSON.to_owned(),
            expected: bed::PERSON_AT_MOST_ONCE.to_owned(),
        });
    };
    if wanted.person.is_empty() {
        let (about, (job, page)) = site.ask(move |desk| desk.breakdown(&job).map(|page| (job, page))).await?;
        let page = page.ok_or_else(|| no_such_job(&job))?;
        return Ok(sheet::page(&about, Place::Breakdowns, bed::PRACTISE, &content(&page.breakdown, None)));
    }
    let person = PersonId(read_identifier(&wanted.person, bed::STAFF_IDENTIFIER)?);
    let (asked_person, asked_job) = (person.clone(), job.clone());
    let (about, (form, is_known)) = site
        .ask(move |desk| {
            let form = desk.teach_back_form(&asked_person, &asked_job, None)?;
            let is_known = form.is_some() || desk.person(&asked_person)?.is_some();
            Ok((form, is_known))
        })
        .await?;
    let form = match form {
        Some(form) => form,
        None if is_known => return Err(no_such_job(&job)),
        None => return Err(no_such_person(&person)),
    };
    Ok(sheet::page(&about, Place::Breakdowns, bed::PRACTISE, &content(&form.breakdown, Some(&form))))
}

fn content(job: &Breakdown, form: Option<&TeachBackForm>) -> Markup {
    html! {
        header.opening {
            h1 { (bed::PRACTISE_2) (name(&job.job)) }
            p.lead { (bed::SAY_IT_ALOUD_THEN_OPEN) (job.version) (bed::NOTHING_IS_RECORDED_HERE) }
            p.papers {
                @if let Some(form) = form { a href=(address::person(&form.person)) { (bed::RECORD_OF) (name(&form.name)) } " " }
                a href=(address::breakdown(&job.code)) { (bed::THE_WHOLE_BREAKDOWN) }
                " "
                a href=(address::paper(&Paper::PocketCard(job.code.clone()))) { (bed::POCKET_CARD_PDF) }
            }
            @if form.is_some() { p.private { (bed::FOR_THIS_PERSON_AND_THEIR) } }
        }
        (caution("cautions", bed::CAUTIONS, &job.cautions))
        @if let Some(form) = form { (open_last_time(job, form)) }
        (section("steps", bed::THE_WHOLE_JOB, Some(html! {
            p { (bed::SAY_EACH_STEP_THEN_ITS) }
        }), &html! {
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, job.steps.len(), step)) }
        }))
    }
}

fn open_last_time(job: &Breakdown, form: &TeachBackForm) -> Markup {
    let note = form
        .last
        .as_ref()
        .map(|(when, _)| html! { p { (bed::FROM_THE_TEACH_BACK_OF) (moment(*when)) (bed::SAFETY_POINTS_FIRST_2) } });
    section(
        "open",
        bed::OPEN_LAST_TIME,
        note,
        &html! {
            @match &form.last {
                None => p.empty { (bed::NO_TEACH_BACK_OF_THIS) },
                Some((_, open)) if open.is_empty() => p.empty { (bed::NOTHING_WAS_OPEN_SAY_THE) },
                Some((_, open)) => { @for item in open { (open_item(job, *item)) } },
            }
        },
    )
}

/// One open item: what it is asked by, and behind it what it says.
fn open_item(job: &Breakdown, item: ItemId) -> Markup {
    let step = usize::from(item.step).checked_sub(1).and_then(|at| job.steps.get(at));
    let Some(step) = step else { return html! {} };
    match (item.kind(), job.key_point(ItemId { reason: false, ..item })) {
        (ItemKind::Step, _) | (_, None) => hidden(
            &html! { (bed::WHICH_STEP_IS_NUMBER) (item.step) "?" },
            &html! { p.answer { bdi { (step.name) } } },
        ),
        (ItemKind::KeyPoint, Some(point)) => hidden(
            &html! {
                @if point.kind == KeyPointKind::Safety { (safety_mark()) " " }
                bdi { (step.name) } (bed::KEY_POINT) (item.point) (bed::OF) (step.key_points.len())
            },
            &html! { (answer(point)) (why(point)) },
        ),
        (ItemKind::Reason, Some(point)) => hidden(
            &html! {
                @if point.kind == KeyPointKind::Safety { (safety_mark()) " " }
                (bed::WHY) bdi { (point.text) }
            },
            &reasons(point),
        ),
    }
}

fn one_step(number: u16, of: usize, step: &Step) -> Markup {
    hidden(
        &html! { (bed::STEP) (number) (bed::OF) (of) },
        &html! {
            p.answer { bdi { (step.name) } }
            @if step.key_points.is_empty() { p.empty { (bed::THIS_STEP_HAS_NO_KEY) } }
            @for (point_number, point) in (1u16..).zip(&step.key_points) {
                (hidden(
                    &html! {
                        @if point.kind == KeyPointKind::Safety { (safety_mark()) " " }
                        (bed::KEY_POINT_2) (point_number) (bed::OF) (step.key_points.len())
                    },
                    &html! { (answer(point)) (why(point)) },
                ))
            }
        },
    )
}

fn answer(point: &KeyPoint) -> Markup {
    html! {
        p.answer {
            bdi { (point.text) }
            @for quantity in &point.quantities { " " span.quantity { bdi { (quantity.words) } } }
        }
    }
}

fn why(point: &KeyPoint) -> Markup {
    hidden(&html! { (bed::WHY_2) }, &reasons(point))
}

fn reasons(point: &KeyPoint) -> Markup {
    html! {
        @if point.reasons.is_empty() { p.empty { (bed::NO_REASON_GIVEN) } }
        @for reason in &point.reasons { p.answer { bdi { (reason) } } }
    }
}

fn hidden(question: &Markup, behind: &Markup) -> Markup {
    html! { details.hidden { summary { (question) } (behind) } }
}
