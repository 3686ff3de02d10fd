//! One file per question.

mod account;
mod accounts;
mod after;
mod away;
pub(crate) mod bedside;
mod breakdowns;
mod collection;
mod correct;
mod drafts;
mod editor;
mod find;
mod follow_up;
mod health;
mod keys;
mod methods;
mod next_draw;
mod observe;
mod pairs;
mod papers;
mod people;
mod person;
mod plan;
mod practice;
mod published;
mod reports;
mod results;
mod rules;
mod sign_in;
mod signing;
mod start;
mod teach_back;
mod timetable;
mod today;
mod upload;
mod watching;

use std::sync::Arc;

use axum::Router;
use axum::extract::rejection::PathRejection;
use axum::extract::{DefaultBodyLimit, Path, Request};
use axum::middleware;
use axum::routing::{get, post};

use crate::ask::Site;
use crate::door::Desk;
use crate::entrance::entrance;
use crate::form::LARGEST_FORM;
use crate::guard::guard;
use crate::keeper::{Doorkeeper, OpenDoor};
use crate::packed::packed;
use crate::problem::{Back, Problem};
use crate::sheet;

/// All pages over one desk, of a unit without accounts.
pub fn router(desk: Arc<dyn Desk>) -> Router {
    router_for(desk, Arc::new(OpenDoor))
}

/// All pages over one desk, each for those whom the doorkeeper knows.
pub fn router_for(desk: Arc<dyn Desk>, keeper: Arc<dyn Doorkeeper>) -> Router {
    let site = Site::new(desk, keeper);
    Router::new()
        .route("/", get(today::show))
        .route("/people", get(people::show))
        .route("/people/{id}", get(person::show))
        .route("/breakdowns", get(breakdowns::list))
        .route("/breakdowns/{code}", get(breakdowns::show))
        .route("/breakdowns/{code}/missed", get(breakdowns::missed::show))
        .route("/editor", get(editor::open).post(editor::take))
        .route("/practice/{code}", get(practice::show))
        .route("/teach-back", post(teach_back::take))
        .route("/teach-back/new", get(teach_back::new))
        .merge(teach_back::transcript::routes())
        .route("/teach-back/{entry}", get(teach_back::show))
        .route("/results", get(results::show))
        .route("/reports", get(reports::list))
        .route("/reports/{month}", get(reports::show).post(published::take))
        .route("/methods", get(methods::show))
        .route("/papers/{kind}/{file}", get(papers::show))
        .route("/sign-in", get(sign_in::show).post(sign_in::take))
        .route("/sign-in/provider", get(sign_in::provider::begin))
        .route("/sign-in/back", get(sign_in::provider::back))
        .route("/sign-out", post(sign_in::out))
        .route("/account", get(account::show).post(account::take))
        .route("/health", get(health::show))
        .route("/site.css", get(sheet::style))
        .route("/teach-back.js", get(sheet::teach_back_script))
        .route("/keep.js", get(sheet::keep_script))
        .route("/drafts", get(drafts::show))
        .route("/drafts.js", get(sheet::drafts_script))
        .route("/mark.svg", get(sheet::mark))
        .route("/keys.js", get(sheet::keys_script))
        .route("/keys", get(keys::show))
        .route("/find", get(find::show))
        .merge(accounts::routes())
        .merge(bedside::routes())
        .merge(start::routes())
        .merge(correct::routes())
        .merge(observe::routes())
        .merge(rules::routes())
        .merge(signing::routes())
        .merge(away::routes())
        .merge(follow_up::routes())
        .merge(watching::routes())
        .merge(after::routes())
        .merge(collection::routes())
        .merge(pairs::routes())
        .merge(next_draw::routes())
        .merge(plan::routes())
        .merge(timetable::routes())
        .fallback(no_such_page)
        .method_not_allowed_fallback(only_reading)
        .layer(DefaultBodyLimit::max(LARGEST_FORM))
        .layer(middleware::from_fn_with_state(site.clone(), entrance))
        .layer(middleware::from_fn(packed))
        .layer(middleware::from_fn_with_state(site.clone(), guard))
        .with_state(site)
}

async fn no_such_page(request: Request) -> Problem {
    if request.method() == axum::http::Method::GET || request.method() == axum::http::Method::HEAD {
        Problem::NotFound { what: "Nothing has this address.".to_owned(), back: Back::Today }
    } else {
        Problem::OnlyReading
    }
}

async fn only_reading() -> Problem {
    Problem::OnlyReading
}

/// What an address holds in the place of a name, or why it cannot be read.
type Segment<T> = Result<Path<T>, PathRejection>;

fn segment<T>(segment: Segment<T>) -> Result<T, Problem> {
    match segment {
        Ok(Path(text)) => Ok(text),
        Err(_) => Err(Problem::BadAddress {
            place: "name",
            found: "an escape that is not UTF-8 text".to_owned(),
            expected: "text in UTF-8, escaped with % where needed".to_owned(),
        }),
    }
}
