//! The pages of an empty data folder: one that asks for the unit's name, and from then on those of the unit.

use std::sync::{Arc, PoisonError, RwLock};

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::extract::{RawQuery, Request, State};
use axum::http::{Method, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use tower::ServiceExt as _;

use crate::door::{Founder, Refusal};
use crate::form::{self, LARGEST_FORM, Secret};
use crate::guard::guarded;
use crate::pages::router_for;
use crate::problem::Problem;
use crate::sheet;

/// Longest name of a unit.
const LONGEST_UNIT: usize = 120;

#[derive(Clone)]
struct First {
    founder: Arc<dyn Founder>,
    secret: Secret,
    /// The unit's pages, once it has been named.
    unit: Arc<RwLock<Option<Router>>>,
}

/// The pages of an empty data folder.
pub fn router_of_empty(founder: Arc<dyn Founder>) -> Router {
    let first = First { founder, secret: Secret::drawn(), unit: Arc::default() };
    Router::new().fallback(any).with_state(first)
}

async fn any(State(first): State<First>, request: Request) -> Response {
    let unit = first.unit.read().unwrap_or_else(PoisonError::into_inner).clone();
    if let Some(unit) = unit {
        return match unit.oneshot(request).await {
            Ok(response) => response,
            Err(never) => match never {},
        };
    }
    guarded(request, None, async move |request| unnamed(first, request).await).await
}

/// Answers while the unit has no name.
async fn unnamed(first: First, request: Request) -> Response {
    let reads = request.method() == Method::GET || request.method() == Method::HEAD;
    let query = RawQuery(request.uri().query().map(str::to_owned));
    match (reads, request.uri().path()) {
        (true, "/start") => page(&first, "", "", &[]).into_response(),
        (true, "/site.css") => sheet::style(query).await,
        (true, "/mark.svg") => sheet::mark().await,
        (true, _) => Redirect::to("/start").into_response(),
        (false, "/start") if request.method() == Method::POST => name(first, request.into_body()).await,
        (false, _) => Problem::OnlyReading.into_response(),
    }
}

async fn name(first: First, body: Body) -> Response {
    let Ok(bytes) = to_bytes(body, LARGEST_FORM).await else {
        return Problem::FormTooLarge { longest: LARGEST_FORM }.into_response();
    };
    let fields = form_urlencoded::parse(&bytes).into_owned().collect();
    let posted = match form::known_to(&first.secret, fields) {
        Ok(posted) => posted,
        Err(problem) => return problem.into_response(),
    };
    let (unit, zone) = (posted.text("unit").to_owned(), posted.text("zone").to_owned());
    let mut faults: Vec<Refusal> = posted.stale.iter().cloned().collect();
    let n_characters = unit.chars().count();
    if n_characters == 0 || n_characters > LONGEST_UNIT || unit.chars().any(char::is_control) {
        let found = match n_characters {
            0 => "nothing".to_owned(),
            n if n > LONGEST_UNIT => format!("{n} characters"),
            _ => "a control character".to_owned(),
        };
        faults.push(Refusal::new(
            "Name of the unit",
            found,
            format!("a name of 1 to {LONGEST_UNIT} characters on one line"),
            "write it as it is to stand on papers",
        ));
    }
    if !zone.is_empty() && !first.founder.zones().contains(&zone) {
        faults.push(Refusal::new(
            "Time zone",
            format!("“{}”", crate::address::quote(&zone)),
            "a time zone of the list",
            "choose from the list, or leave it to this machine",
        ));
    }
    if faults.is_empty() {
        let founder = Arc::clone(&first.founder);
        let (asked_unit, asked_zone) = (unit.clone(), zone.clone());
        let founded = tokio::task::spawn_blocking(move || founder.found(&asked_unit, &asked_zone)).await;
        match founded {
            Ok(Ok((desk, keeper))) => {
                *first.unit.write().unwrap_or_else(PoisonError::into_inner) = Some(router_for(desk, keeper));
                return Redirect::to("/start").into_response();
            }
            Ok(Err(more)) => faults.extend(more),
            Err(_) => {
                return Problem::Failed("making the folder stopped with a panic".to_owned()).into_response();
            }
        }
    }
    (StatusCode::UNPROCESSABLE_ENTITY, page(&first, &unit, &zone, &faults)).into_response()
}

fn page(first: &First, unit: &str, zone: &str, faults: &[Refusal]) -> Markup {
    let machine = first.founder.machine_zone();
    let content = html! {
        header.opening {
            h1 { "Begin" }
            p.lead {
                "The data folder is empty. Name the unit, and a record book is made in it; then three more steps lead to the first planned learner: "
                "people, a breakdown, a date."
            }
        }
        (form::refusals(faults))
        (crate::parts::section("step-1", "1. Name the unit", None, &html! {
            form method="post" action="/start" {
                (first.secret.field())
                p.field {
                    label for="unit" { "Name of the unit, as it is to stand on pages and papers" }
                    input #unit name="unit" value=(unit) maxlength=(LONGEST_UNIT) autocomplete="off" dir="auto" required;
                }
                p.field {
                    label for="zone" { "Time zone of the unit" }
                    select #zone name="zone" {
                        option value="" { "this machine’s" @if let Some(machine) = &machine { " (" (machine) ")" } }
                        @for each in first.founder.zones() { option value=(each) selected[each == zone] { (each) } }
                    }
                }
                p.actions { button type="submit" { "Make the record book" } }
                p.note { "It is made in " bdi { (first.founder.place()) } ", with a key for patients’ hashes beside it: back that up apart from the book. No patient’s name or number is ever kept." }
            }
        }))
        (crate::parts::section("cautions", "Before you begin", None, &html! {
            p { "Until there are accounts, whoever sits at this machine can read and write everything; no other machine can." }
        }))
    };
    sheet::alone("Begin", &content)
}
