//! The unit's release rule: what it asks for, what it lets through, what a changed one would do, and its publication.

mod typed;
mod view;

use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use desk::{RiskAsked, RulesAsked, RulesPage};
use jiff::civil::DateTime;
use practice::{EventKind, PersonId};
use uuid::Uuid;

use super::teach_back::{as_form, read_entry};
use crate::address::quote;
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::form::{self as forms, Sent};
use crate::problem::Problem;
use typed::{Typed, percent};

pub(crate) fn routes() -> Router<Site> {
    Router::new().route("/rules", get(show).post(take))
}

type Asked = Result<Query<Vec<(String, String)>>, QueryRejection>;

/// What the page shows beside the rule in force.
#[derive(Default)]
struct Shown {
    /// What is typed in the form.
    typed: Typed,
    /// What is typed in the search.
    search: Vec<(String, String)>,
    /// What stands in the way.
    refusals: Vec<Refusal>,
    /// Whether the refusals are of a publication, so that nothing was written.
    is_refused: bool,
    /// A publication just made.
    published: bool,
    /// Who publishes and why, as typed.
    by: String,
    why: String,
    /// Of the entry that a publication would become.
    entry: Option<Uuid>,
    at: Option<DateTime>,
}

async fn show(State(site): State<Site>, asked: Asked) -> Result<Response, Problem> {
    let Ok(Query(asked)) = asked else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something that is no list of fields".to_owned(),
            expected: "the fields of the form on this page".to_owned(),
        });
    };
    let pairs = || asked.iter().map(|(name, text)| (name.as_str(), text.as_str()));
    let mut shown = Shown {
        typed: Typed::of(pairs()),
        search: pairs()
            .filter(|(name, _)| SEARCH.iter().any(|(known, ..)| known == name))
            .map(|(name, text)| (name.to_owned(), text.trim().chars().take(20).collect()))
            .collect(),
        published: pairs().any(|(name, _)| name == "published"),
        ..Shown::default()
    };
    let question = question(&mut shown);
    let (about, (now, page)) = site.ask(move |desk| Ok((desk.now(), desk.rules(&question)?))).await?;
    shown.at = Some(now);
    shown.entry = Some(Uuid::now_v7());
    shown.refusals.extend(page.faults.iter().map(typed::refusal));
    let status = if shown.refusals.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    Ok((status, view::page(&site, &about, &page, &shown)).into_response())
}

/// Fields of the search: name, label, what stands there at first.
const SEARCH: [(&str, &str, &str); 5] = [
    ("not-ready", "Not ready: misses a safety point on so many % of draws", "20"),
    ("most-released", "Of those, released: at most %", "5"),
    ("ready", "Ready: misses one on so many % of draws", "2"),
    ("most-held-back", "Of those, held back: at most %", "10"),
    ("within", "Within so many draws", "60"),
];

/// The question to the desk; what cannot be read goes to the refusals.
fn question(shown: &mut Shown) -> RulesAsked {
    let mut asked = RulesAsked::default();
    if shown.typed.is_there() {
        match shown.typed.rule(1) {
            Ok(rule) => asked.changed = Some(rule),
            Err(refusals) => shown.refusals.extend(refusals),
        }
        match shown.typed.prompt_rate() {
            Ok(share) => asked.prompt_rate = share,
            Err(refusal) => shown.refusals.push(refusal),
        }
    }
    if !shown.search.is_empty() {
        match searched(&shown.search) {
            Ok(risks) => asked.search = Some(risks),
            Err(refusals) => shown.refusals.extend(refusals),
        }
    }
    asked
}

fn searched(sent: &[(String, String)]) -> Result<RiskAsked, Vec<Refusal>> {
    let mut refusals = Vec::new();
    let text =
        |name: &str| sent.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text.as_str());
    let mut bad = |name: &str, expected: &str| {
        let label = SEARCH.iter().find(|(known, ..)| *known == name).map_or("", |(_, label, _)| label);
        let found = format!("“{}”", quote(text(name)));
        refusals.push(Refusal::new(label, found, expected, "correct it and search again"));
    };
    let mut share = |name: &str| {
        percent(text(name)).unwrap_or_else(|| {
            bad(name, "a number from 0 to 100");
            0.0
        })
    };
    let (not_ready, most_released) = (share("not-ready"), share("most-released"));
    let (ready, most_held_back) = (share("ready"), share("most-held-back"));
    let most_draws = text("within").parse::<u16>().ok();
    let most_draws = most_draws.filter(|draws| (1..=desk::MOST_DRAWS_SEARCHED).contains(draws));
    if most_draws.is_none() {
        bad("within", &format!("a whole number from 1 to {}", desk::MOST_DRAWS_SEARCHED));
    }
    match (refusals.is_empty(), most_draws) {
        (true, Some(most_draws)) => {
            Ok(RiskAsked { not_ready, most_released, ready, most_held_back, most_draws })
        }
        _ => Err(refusals),
    }
}

/// A publication.
async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = forms::read(&site, sent)?;
    let entry = read_entry(posted.text("entry")).map_err(as_form)?;
    let hidden = |field: &str, expected: &str| Problem::BadForm {
        found: format!("“{}” as {field}", quote(posted.text(field))),
        expected: expected.to_owned(),
    };
    let at: DateTime = posted.text("at").parse().map_err(|_| hidden("at", "a date and a time"))?;
    let version: u32 = posted.text("version").parse().map_err(|_| hidden("version", "a whole number"))?;
    let mut shown = Shown {
        typed: Typed::of(posted.all()),
        by: posted.text("by").to_owned(),
        why: posted.lines("why").trim().to_owned(),
        is_refused: true,
        entry: Some(entry),
        at: Some(at),
        ..Shown::default()
    };
    let mut asked = question(&mut shown);
    shown.refusals.extend(posted.stale.clone());
    if shown.by.is_empty() {
        shown.refusals.push(Refusal::new("Published by", "nobody", "a trainer", "choose your name"));
    }
    if shown.why.is_empty() {
        shown.refusals.push(Refusal::new(
            "Why",
            "nothing",
            "why the rule is changed, in a sentence",
            "write it: the book keeps it beside the rule",
        ));
    }
    let rule = asked.changed.take().map(|rule| practice::ReleaseRule { version, ..rule });
    if let Some(rule) = rule.as_ref() {
        shown.refusals.extend(practice::rule_faults(rule).iter().map(typed::refusal));
        asked.changed = Some(rule.clone());
    }
    if let Some(rule) = rule.filter(|_| shown.refusals.is_empty()) {
        let draft = Draft {
            id: entry,
            happened: at,
            by: PersonId(shown.by.clone()),
            what: EventKind::RulePublished { rule: Box::new(rule), why: shown.why.clone() },
        };
        let (_, recording) = site.record(draft).await?;
        match recording {
            Recording::Recorded | Recording::AlreadyThere => {
                return Ok(Redirect::to("/rules?published=yes").into_response());
            }
            Recording::Refused(refusals) => shown.refusals.extend(refusals),
        }
    }
    let (about, page) = ask(&site, asked).await?;
    let is_late = page.next_version != version;
    let status = if is_late { StatusCode::CONFLICT } else { StatusCode::UNPROCESSABLE_ENTITY };
    if is_late {
        // Somebody published meanwhile: what is sent next is a new entry, in sight of their rule.
        shown.entry = Some(Uuid::now_v7());
    }
    Ok((status, view::page(&site, &about, &page, &shown)).into_response())
}

async fn ask(site: &Site, asked: RulesAsked) -> Result<(About, RulesPage), Problem> {
    site.ask(move |desk| desk.rules(&asked)).await
}
