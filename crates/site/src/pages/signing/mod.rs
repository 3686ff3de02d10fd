//! Signing: the evidence for one person and job, and the trainer's decision with its reason.

pub(crate) mod confidence;
mod view;

pub(crate) use view::points;

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use breakdown::JobCode;
use desk::SigningForm;
use jiff::civil::DateTime;
use practice::{EventKind, PersonId, Release, Scope};
use serde::Deserialize;
use uuid::Uuid;

use super::breakdowns::no_such_job;
use super::person::no_such_person;
use super::teach_back::{as_form, read_entry};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::form::{self as forms, Posted, Sent};
use crate::problem::Problem;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/signing", get(show).post(take))
        .route("/confidence", get(confidence::show).post(confidence::take))
}

/// What the address of a form about one person and job holds.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct AboutWhom {
    person: String,
    breakdown: String,
    entry: String,
}

pub(super) type Asked = Result<Query<AboutWhom>, QueryRejection>;

/// A decision as the form names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Decision {
    Release(Scope),
    NotYet,
    Withdraw,
    Refresh,
}

impl Decision {
    fn code(self) -> &'static str {
        match self {
            Decision::Release(Scope::OwnPatients) => "own",
            Decision::Release(Scope::AllPatients) => "all",
            Decision::Release(Scope::MayPrecept) => "precept",
            Decision::NotYet => "not-yet",
            Decision::Withdraw => "withdraw",
            Decision::Refresh => "refresh",
        }
    }

    /// Every decision that is open for this person today.
    fn open(form: &SigningForm) -> Vec<Decision> {
        let mut open: Vec<Decision> = match form.version {
            Some(_) => form.may_release_to.iter().map(|scope| Decision::Release(*scope)).collect(),
            None => Vec::new(),
        };
        if form.may_refresh && form.version.is_some() {
            open.push(Decision::Refresh);
        }
        if !form.may_release_to.is_empty() {
            open.push(Decision::NotYet);
        }
        if form.may_withdraw {
            open.push(Decision::Withdraw);
        }
        open
    }
}

/// What is typed.
#[derive(Debug, Default)]
struct Typed {
    entry: Option<Uuid>,
    at: Option<DateTime>,
    decision: String,
    by: String,
    reason: String,
}

async fn show(State(site): State<Site>, asked: Asked) -> Result<Response, Problem> {
    let (person, job, entry) = read(asked)?;
    let Some(entry) = entry else {
        let address = format!("{}&entry={}", address::signing(&person, &job), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    };
    let (about, now, form) = ask(&site, &person, &job).await?;
    let typed = Typed { entry: Some(entry), at: Some(now), ..Typed::default() };
    Ok(view::page(&site, &about, &form, &typed, &[]).into_response())
}

async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = forms::read(&site, sent)?;
    let (person, job, entry) = hidden(&posted)?;
    let (about, now, form) = ask(&site, &person, &job).await?;
    let at: DateTime = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as at", quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let mut typed = Typed {
        entry: Some(entry),
        at: Some(at),
        decision: posted.text("decision").to_owned(),
        by: posted.text("by").to_owned(),
        reason: posted.lines("reason").trim().to_owned(),
    };
    let mut refusals: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let decision = Decision::open(&form).into_iter().find(|open| open.code() == typed.decision);
    let is_sent_again = form.evidence.iter().any(|one| one.entry == entry.to_string());
    if is_sent_again {
        return Ok(Redirect::to(&address::recorded(&person, entry)).into_response());
    }
    if decision.is_none() {
        let found = if typed.decision.is_empty() { "nothing".to_owned() } else { quote(&typed.decision) };
        refusals.push(Refusal::new("Decision", found, "one of those below", "choose what you decide"));
    }
    if typed.by.is_empty() {
        refusals.push(Refusal::new("Signed by", "nobody", "a trainer", "choose your name"));
    }
    if typed.reason.is_empty() {
        let to_do = "write it in a sentence, without blame; the book keeps it";
        refusals.push(Refusal::new("Why", "nothing", "why you decide so", to_do));
    }
    let seen = posted.text("seen");
    let is_new = seen != form.evidence.len().to_string();
    if is_new {
        // What a signature rests on must be what the trainer saw.
        let found = format!(
            "{} entries on record, and {} when the page was opened",
            form.evidence.len(),
            quote(seen)
        );
        let to_do = "look at what is new, then sign again";
        refusals.push(Refusal::new("The evidence", found, "the record as it was looked at", to_do));
    }
    let draft = decision.filter(|_| refusals.is_empty()).and_then(|decision| draft(&form, decision, &typed));
    if let Some(draft) = draft {
        let (_, recording) = site.record(draft).await?;
        match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                return Ok(Redirect::to(&address::recorded(&person, entry)).into_response());
            }
            Recording::Refused(more) => refusals.extend(more),
        }
    }
    typed.at = Some(now);
    let status = if is_new { StatusCode::CONFLICT } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, view::page(&site, &about, &form, &typed, &refusals)).into_response())
}

fn draft(form: &SigningForm, decision: Decision, typed: &Typed) -> Option<Draft> {
    let (person, job) = (form.person.clone(), form.job.clone());
    let reason = typed.reason.clone();
    let what = match decision {
        Decision::Release(scope) => {
            let version = form.version?;
            EventKind::Released(Release { person, job, version, scope, reason: Some(reason) })
        }
        Decision::NotYet => EventKind::NotYet { person, job, reason },
        Decision::Withdraw => EventKind::Withdrawn { person, job, reason },
        Decision::Refresh => {
            EventKind::RefresherDone { person, job, version: form.version?, reason: Some(reason) }
        }
    };
    Some(Draft { id: typed.entry?, happened: typed.at?, by: PersonId(typed.by.clone()), what })
}

pub(super) fn read(asked: Asked) -> Result<(PersonId, JobCode, Option<Uuid>), Problem> {
    let Ok(Query(asked)) = asked else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one person and one breakdown".to_owned(),
            expected: "?person=...&breakdown=..., each at most once".to_owned(),
        });
    };
    let person = PersonId(read_identifier(&asked.person, "staff identifier")?);
    let job = JobCode(read_identifier(&asked.breakdown, "job code")?);
    let entry = if asked.entry.is_empty() { None } else { Some(read_entry(&asked.entry)?) };
    Ok((person, job, entry))
}

pub(super) fn hidden(posted: &Posted) -> Result<(PersonId, JobCode, Uuid), Problem> {
    let read = |field: &str, what| read_identifier(posted.text(field), what).map_err(as_form);
    let person = PersonId(read("person", "staff identifier")?);
    let job = JobCode(read("breakdown", "job code")?);
    Ok((person, job, read_entry(posted.text("entry")).map_err(as_form)?))
}

pub(super) async fn ask(
    site: &Site,
    person: &PersonId,
    job: &JobCode,
) -> Result<(About, DateTime, SigningForm), Problem> {
    let (who, what) = (person.clone(), job.clone());
    let (about, (now, form, is_known)) = site
        .ask(move |desk| {
            let form = desk.signing(&who, &what)?;
            let is_known = form.is_some() || desk.person(&who)?.is_some();
            Ok((desk.now(), form, is_known))
        })
        .await?;
    match form {
        Some(form) => Ok((about, now, form)),
        None if is_known => Err(no_such_job(job)),
        None => Err(no_such_person(person)),
    }
}
