//! Writing a breakdown: its parts as a form, its checks beside them, and its publication as the next version.

mod form;
mod typed;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use breakdown::{Breakdown, Field, JobCode, Manuscript, PointText, Severity, StepText};
use desk::EditForm;
use jiff::civil::DateTime;
use practice::{EventKind, PersonId};
use serde::Deserialize;
use uuid::Uuid;

use super::breakdowns::no_such_job;
use super::teach_back::{as_form, read_entry};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::form::{self as forms, Posted, Sent};
use crate::problem::Problem;
use typed::{Typed, Wanted};

/// What the address holds.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    breakdown: String,
    entry: String,
}

/// The form for the next version of a breakdown, or for a new job.
pub(crate) async fn open(
    State(site): State<Site>,
    asked: Result<Query<Asked>, QueryRejection>,
) -> Result<Response, Problem> {
    let Ok(Query(asked)) = asked else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one breakdown".to_owned(),
            expected: "?breakdown=..., at most once".to_owned(),
        });
    };
    let job = match asked.breakdown.as_str() {
        "" => None,
        code => Some(JobCode(read_identifier(code, "job code")?)),
    };
    if asked.entry.is_empty() {
        return Ok(Redirect::to(&address::editor(job.as_ref(), Some(Uuid::now_v7()))).into_response());
    }
    let entry = read_entry(&asked.entry)?;
    let (about, now, form) = ask(&site, job.as_ref()).await?;
    let newest = form.newest().map(|newest| &newest.breakdown);
    let text = match (&job, newest) {
        (Some(job), None) => return Err(no_such_job(job)),
        (_, Some(newest)) => next_version(newest),
        (None, None) => new_job(),
    };
    let base = newest.map_or(0, |newest| newest.version.0);
    let typed = Typed { entry, base, at: now, by: String::new(), text };
    Ok(form::page(&site, &about, &form, &typed, &form::Shown::fresh()).into_response())
}

/// The newest version as the beginning of the next: what is said anew for each version is empty.
fn next_version(newest: &Breakdown) -> Manuscript {
    Manuscript {
        version: newest.version.0.saturating_add(1).to_string(),
        effective: String::new(),
        approved_by: String::new(),
        change_kind: None,
        change: String::new(),
        ..Manuscript::of(newest)
    }
}

fn new_job() -> Manuscript {
    Manuscript {
        version: "1".to_owned(),
        cautions: vec![
            "Local policy and the laboratory's instructions come first; a licensed clinician decides."
                .to_owned(),
        ],
        steps: vec![StepText { name: String::new(), points: vec![PointText::blank()] }],
        ..Manuscript::default()
    }
}

/// A form that was sent: changed in its parts, checked, or published.
pub(crate) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = forms::read(&site, sent)?;
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let base = hidden::<u32>(&posted, "base", "a whole number from 0")?;
    let at = hidden::<DateTime>(&posted, "at", "a date and a time")?;
    let mut text = typed::manuscript(&posted, base);
    let job = (base > 0).then(|| JobCode(text.code.clone()));
    let known = match Some(JobCode(text.code.clone())).filter(|code| !code.0.is_empty()) {
        Some(code) => read_identifier(&code.0, "job code").ok().map(JobCode),
        None => None,
    };
    let (about, now, form) = ask(&site, known.as_ref()).await?;
    if let Some(job) = job.filter(|_| form.version(base).is_none()) {
        return Err(no_such_job(&job));
    }
    let wanted = Wanted::read(posted.text("do"));
    if let Wanted::Parts(edit) = wanted {
        edit.apply(&mut text);
    }
    let mut typed = Typed { entry, base, at, by: posted.text("by").to_owned(), text };
    let mut refusals: Vec<Refusal> = posted.stale.iter().cloned().collect();
    if wanted != Wanted::Publish {
        typed.at = now;
        let shown = form::Shown::checked(&typed, &form, refusals);
        return Ok(form::page(&site, &about, &form, &typed, &shown).into_response());
    }
    refusals.extend(not_ready(&typed, &form, now));
    let draft = draft(&typed).filter(|_| refusals.is_empty());
    let Some(draft) = draft else {
        return Ok(refuse(&site, &about, &form, typed, now, refusals, StatusCode::UNPROCESSABLE_ENTITY));
    };
    let asked = draft.clone();
    let (about, recording) = site.record(asked).await?;
    match recording {
        Recording::Recorded | Recording::AlreadyThere => {
            let address = address::published(&JobCode(typed.text.code.clone()), entry);
            Ok(Redirect::to(&address).into_response())
        }
        Recording::Refused(more) => {
            // Somebody may have published while this form was open, or between the question and the writing.
            let (_, _, form) = ask(&site, Some(&JobCode(typed.text.code.clone()))).await?;
            let is_late = form.newest().is_some_and(|newest| newest.breakdown.version.0 > typed.base);
            let status = if is_late { StatusCode::CONFLICT } else { StatusCode::UNPROCESSABLE_ENTITY };
            refusals.extend(more);
            Ok(refuse(&site, &about, &form, typed, now, refusals, status))
        }
    }
}

/// What must be put right before the book is asked.
fn not_ready(typed: &Typed, form: &EditForm, now: DateTime) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    let (parsed, _) = typed.text.read();
    if parsed.sound().is_none() {
        let n = parsed.n_of(Severity::Fault);
        refusals.push(Refusal::new(
            "the breakdown",
            format!("{n} {}", if n == 1 { "fault" } else { "faults" }),
            "none",
            "put right what is marked as a fault below",
        ));
    }
    if typed.base > 0 && (typed.text.change.is_empty() || typed.text.change_kind.is_none()) {
        refusals.push(Refusal::new(
            "What changed",
            "no sentence, or no choice of major or minor",
            "both",
            "say what changed and choose; major asks those already released to be updated",
        ));
    }
    if typed.by.is_empty() {
        refusals.push(Refusal::new("Published by", "nobody", "who publishes it", "choose your name"));
    } else if !form.writers.iter().any(|(id, ..)| id.0 == typed.by) {
        refusals.push(Refusal::new(
            "Published by",
            format!("“{}”", quote(&typed.by)),
            "somebody on the unit",
            "choose a name from the list",
        ));
    }
    if typed.at > now {
        refusals.push(Refusal::new("this form", "a time after now", "a time that has been", "send it again"));
    }
    refusals
}

fn draft(typed: &Typed) -> Option<Draft> {
    let (parsed, _) = typed.text.read();
    let breakdown = parsed.sound()?.clone();
    Some(Draft {
        id: typed.entry,
        happened: typed.at,
        by: PersonId(typed.by.clone()),
        what: EventKind::BreakdownPublished(Box::new(breakdown)),
    })
}

/// The form once more, with what stands in the way. Where somebody else published meanwhile, the writing goes on from
/// their version: the next publication is then a decision made in sight of it.
fn refuse(
    site: &Site,
    about: &About,
    form: &EditForm,
    mut typed: Typed,
    now: DateTime,
    refusals: Vec<Refusal>,
    status: StatusCode,
) -> Response {
    typed.at = now;
    let overtaken = match (status, form.newest()) {
        (StatusCode::CONFLICT, Some(newest)) => {
            let began_from = std::mem::replace(&mut typed.base, newest.breakdown.version.0);
            typed.text.version = typed.base.saturating_add(1).to_string();
            // The entry of the first try was never written, but an identifier is used for one thing only.
            typed.entry = Uuid::now_v7();
            Some(began_from)
        }
        _ => None,
    };
    let mut shown = form::Shown::checked(&typed, form, refusals);
    shown.overtaken = overtaken;
    (status, form::page(site, about, form, &typed, &shown)).into_response()
}

async fn ask(site: &Site, job: Option<&JobCode>) -> Result<(About, DateTime, EditForm), Problem> {
    let job = job.cloned().unwrap_or(JobCode(String::new()));
    let (about, (now, form)) = site.ask(move |desk| Ok((desk.now(), desk.edit_form(&job)?))).await?;
    Ok((about, now, form))
}

fn hidden<T: std::str::FromStr>(posted: &Posted, field: &str, expected: &str) -> Result<T, Problem> {
    posted.text(field).parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as {field}", quote(posted.text(field))),
        expected: expected.to_owned(),
    })
}

/// The anchor of a field on the form.
fn anchor(field: Field) -> String {
    match field {
        Field::Whole => "job".to_owned(),
        Field::Job => "job".to_owned(),
        Field::Code => "code".to_owned(),
        Field::Version => "version".to_owned(),
        Field::Effective => "effective".to_owned(),
        Field::Author => "author".to_owned(),
        Field::ApprovedBy => "approved-by".to_owned(),
        Field::Change => "change".to_owned(),
        Field::Cautions => "cautions".to_owned(),
        Field::Supplies => "supplies".to_owned(),
        Field::Words => "words".to_owned(),
        Field::Orders => "orders".to_owned(),
        Field::Step(step) => format!("step-{step}-name"),
        Field::Point(step, point) => format!("step-{step}-{point}-text"),
    }
}

/// What a field is called in a sentence.
fn words(field: Field) -> String {
    match field {
        Field::Whole => "The whole job".to_owned(),
        Field::Job => "Job".to_owned(),
        Field::Code => "Short name".to_owned(),
        Field::Version => "Version".to_owned(),
        Field::Effective => "In force from".to_owned(),
        Field::Author => "Written by".to_owned(),
        Field::ApprovedBy => "Approved by".to_owned(),
        Field::Change => "What changed".to_owned(),
        Field::Cautions => "Cautions".to_owned(),
        Field::Supplies => "Supplies".to_owned(),
        Field::Words => "Same thing, other words".to_owned(),
        Field::Orders => "Orders that bind".to_owned(),
        Field::Step(step) => format!("Step {step}"),
        Field::Point(step, point) => format!("Key point {step}.{point}"),
    }
}
