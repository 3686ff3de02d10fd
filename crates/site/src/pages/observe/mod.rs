//! A draw watched at the bed: marked on one form, or carried out one step at a time; looked over, saved, read again.

mod form;
mod result;
mod stops;
mod typed;

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use breakdown::{JobCode, Version};
use desk::ObserveForm;
use jiff::civil::DateTime;
use maud::Markup;
use practice::PersonId;
use serde::Deserialize;
use uuid::Uuid;

use super::breakdowns::no_such_job;
use super::person::no_such_person;
use super::teach_back::{as_form, read_entry, read_version};
use super::{Segment, segment};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::{About, Recording, Refusal};
use crate::form::{self as sent_form, Sent};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place, Script};
use typed::Typed;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/observe", post(take))
        .route("/observe/new", get(observe))
        .route("/observe/{entry}", get(show))
        .route("/carry-out", get(carry_out))
}

/// Marked on one form by an observer, or led through one step at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mode {
    Observe,
    CarryOut,
}

impl Mode {
    fn code(self) -> &'static str {
        match self {
            Mode::Observe => "observe",
            Mode::CarryOut => "carry-out",
        }
    }

    fn address(self, person: Option<&PersonId>, watcher: Option<&PersonId>, job: &JobCode) -> String {
        let address = match self {
            Mode::Observe => address::observe(person, job),
            Mode::CarryOut => address::carry_out(person, job),
        };
        address::with_watcher(address, watcher)
    }
}

/// What the address of a new draw holds.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Wanted {
    person: String,
    /// Who watches, where that is known.
    watched: String,
    breakdown: String,
    entry: String,
    version: String,
}

type Asked = Result<Query<Wanted>, QueryRejection>;

async fn observe(State(site): State<Site>, wanted: Asked) -> Result<Response, Problem> {
    new(site, wanted, Mode::Observe).await
}

async fn carry_out(State(site): State<Site>, wanted: Asked) -> Result<Response, Problem> {
    new(site, wanted, Mode::CarryOut).await
}

/// The form. Without an identifier for the entry it makes one and puts it into the address, so that a reload is the
/// same entry.
async fn new(site: Site, wanted: Asked, mode: Mode) -> Result<Response, Problem> {
    let Ok(Query(wanted)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than one job and at most one person".to_owned(),
            expected: "?breakdown=... and, where known, person=..., each at most once".to_owned(),
        });
    };
    if wanted.breakdown.is_empty() {
        return Ok(Redirect::to("/bedside").into_response());
    }
    let job = JobCode(read_identifier(&wanted.breakdown, "job code")?);
    let person = match wanted.person.as_str() {
        "" => None,
        text => Some(PersonId(read_identifier(text, "staff identifier")?)),
    };
    let watcher = match wanted.watched.as_str() {
        "" => None,
        text => Some(PersonId(read_identifier(text, "staff identifier")?)),
    };
    if wanted.entry.is_empty() {
        let address = mode.address(person.as_ref(), watcher.as_ref(), &job);
        return Ok(Redirect::to(&format!("{address}&entry={}", Uuid::now_v7())).into_response());
    }
    let entry = read_entry(&wanted.entry)?;
    let (about, now, form) = ask_form(&site, &job, read_version(&wanted.version)?).await?;
    for named in [&person, &watcher].into_iter().flatten() {
        if !form.people.iter().any(|known| known.id == *named) {
            return Err(no_such_person(named));
        }
    }
    let id = |of: &Option<PersonId>| of.as_ref().map_or(String::new(), |of| of.0.clone());
    let typed = Typed::blank(entry, &id(&person), &id(&watcher), now);
    Ok(form::page(&site, &about, &form, &typed, mode, &[]).into_response())
}

/// A form that was sent: summed up, saved, or shown again to be changed; or an entry that a device kept and sends.
async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = sent_form::read(&site, sent)?;
    let job = JobCode(read_identifier(posted.text("breakdown"), "job code").map_err(as_form)?);
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let version = read_version(posted.text("version")).map_err(as_form)?;
    let mode = if posted.text("mode") == Mode::CarryOut.code() { Mode::CarryOut } else { Mode::Observe };
    let (about, now, form) = ask_form(&site, &job, version).await?;
    let (typed, mut faults) = Typed::read(entry, &form, &posted, now);
    let wants = posted.text("do").to_owned();
    if wants == "send" && posted.stale.is_some() {
        return Ok(told(StatusCode::UNPROCESSABLE_ENTITY, "stale", entry, &[]));
    }
    faults.extend(posted.stale.clone());
    if wants == "change" {
        let shown: Vec<Refusal> = posted.stale.into_iter().collect();
        return Ok(form::page(&site, &about, &form, &typed, mode, &shown).into_response());
    }
    let refuse = |faults: &[Refusal]| match wants.as_str() {
        "send" => told(StatusCode::UNPROCESSABLE_ENTITY, "refused", entry, faults),
        _ => {
            let page = form::page(&site, &about, &form, &typed, mode, faults);
            (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
        }
    };
    let draft = match typed.draft(&form) {
        Some(draft) if faults.is_empty() => draft,
        _ => return Ok(refuse(&faults)),
    };
    if wants == "save" || wants == "send" {
        let wanted = draft.clone();
        let (_, recording) = site.record(wanted).await?;
        let state = match recording {
            Recording::Recorded => "recorded",
            Recording::AlreadyThere => "already",
            Recording::Refused(faults) => return Ok(refuse(&faults)),
        };
        return Ok(match wants.as_str() {
            "send" => told(StatusCode::OK, state, entry, &[]),
            // The answer to a form is another page, so that loading it again sends nothing.
            _ => Redirect::to(&address::observed(entry)).into_response(),
        });
    }
    let (about, preview) =
        site.ask(move |desk| desk.observed_preview(&draft.what, draft.happened, &draft.by)).await?;
    let preview = preview.ok_or_else(|| no_such_job(&job))?;
    Ok(result::before_saving(&site, &about, &form, &typed, mode, &preview).into_response())
}

/// A draw that is in the book.
async fn show(State(site): State<Site>, entry: Segment<String>) -> Result<Markup, Problem> {
    let entry = read_entry(&segment(entry)?)?;
    let (about, saved) = site.ask(move |desk| desk.observed(entry)).await?;
    let saved = saved.ok_or_else(|| Problem::NotFound {
        what: format!("No draw in the book has the identifier {entry}. It may not have been sent yet."),
        back: Back::People,
    })?;
    Ok(result::saved(&about, entry, &saved))
}

/// The answer to a device: what became of the entry, then each reason on a line of its own.
fn told(status: StatusCode, state: &str, entry: Uuid, faults: &[Refusal]) -> Response {
    let mut text = format!("{state} {entry}\n");
    for each in faults {
        let line =
            format!("{}: found {}; expected {}; {}.", each.place, each.found, each.expected, each.to_do);
        text.push_str(&line.replace(['\n', '\r'], " "));
        text.push('\n');
    }
    (status, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], text).into_response()
}

async fn ask_form(
    site: &Site,
    job: &JobCode,
    version: Option<Version>,
) -> Result<(About, DateTime, ObserveForm), Problem> {
    let asked = job.clone();
    let (about, (now, form)) =
        site.ask(move |desk| Ok((desk.now(), desk.observe_form(&asked, version)?))).await?;
    let form = form.ok_or_else(|| match version {
        Some(version) => Problem::NotFound {
            what: format!("The book holds no version {version} of “{}”.", quote(&job.0)),
            back: Back::Breakdowns,
        },
        None => no_such_job(job),
    })?;
    Ok((about, now, form))
}

fn scripted(about: &About, title: &str, mode: Mode, content: &Markup) -> Markup {
    let scripts: &[Script] = match mode {
        Mode::Observe => &[Script::Bedside, Script::Observe],
        Mode::CarryOut => &[Script::Bedside, Script::Observe, Script::CarryOut],
    };
    sheet::bedside_page(about, Place::Bedside, title, content, scripts)
}
