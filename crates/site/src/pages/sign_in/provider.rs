//! Signing in at the hospital's own provider: there, and back.

use axum::extract::rejection::QueryRejection;
use axum::extract::{Extension, Query, RawQuery, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};

use super::{Wanted, go, no_accounts, place, refuse, waiting};
use crate::address;
use crate::ask::Site;
use crate::door::Refusal;
use crate::entrance::{cookie_of, named_cookie, token};
use crate::guard::CameFrom;
use crate::keeper::{AtProvider, FromProvider};
use crate::problem::{Back, Problem};

/// What a browser keeps while somebody signs in at the provider.
const WAY: &str = "__Host-wardwright-way";
/// How long it keeps it, in seconds.
const WAY_SECONDS: u32 = 600;

/// Sends the browser to the provider.
pub(crate) async fn begin(
    State(site): State<Site>,
    came_from: Option<Extension<CameFrom>>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Response, Problem> {
    known(&site)?;
    let to = wanted.map(|Query(wanted)| wanted.to).unwrap_or_default();
    let to = address::of_this_site(&to).unwrap_or_default().to_owned();
    let place = place(came_from);
    let asked = to.clone();
    match site.ask_keeper(move |keeper, _| keeper.begin_at_provider(&asked, &place)).await? {
        AtProvider::Go { address, cookie } => {
            Ok(with_way(Redirect::to(&address).into_response(), &cookie, WAY_SECONDS))
        }
        AtProvider::Refused(refusal) => {
            Ok(refuse(&site, &site.about().await?, StatusCode::BAD_GATEWAY, "", &to, refusal))
        }
        AtProvider::Wait(wait, until) => {
            let refusal = waiting(wait, until);
            Ok(refuse(&site, &site.about().await?, StatusCode::TOO_MANY_REQUESTS, "", &to, refusal))
        }
    }
}

/// Takes the provider's answer that the browser brings back.
pub(crate) async fn back(
    State(site): State<Site>,
    headers: HeaderMap,
    RawQuery(query): RawQuery,
) -> Result<Response, Problem> {
    known(&site)?;
    let way = named_cookie(&headers, WAY).unwrap_or_default().to_owned();
    let query = query.unwrap_or_default();
    let answer = match site.ask_keeper(move |keeper, _| keeper.back_from_provider(&query, &way)).await? {
        FromProvider::In(new, account, to) => {
            // A session from before is over: its token must not outlive the change of who is signed in.
            if let Some(before) = token(&headers) {
                site.keeper().sign_out(&before);
            }
            go(&new, &account, &to)
        }
        FromProvider::Refused(refusal) => {
            refuse(&site, &site.about().await?, StatusCode::UNAUTHORIZED, "", "", refusal)
        }
        FromProvider::NoAccount { subject } => {
            let refusal = Refusal::new(
                "account",
                format!("nobody here for the subject “{subject}”, whom the hospital’s sign-in knows"),
                "an account of these pages that an administrator tied to it",
                "tell an administrator, who finds it on the page of accounts; nothing was shown",
            );
            refuse(&site, &site.about().await?, StatusCode::FORBIDDEN, "", "", refusal)
        }
    };
    Ok(with_way(answer, "", 0))
}

fn known(site: &Site) -> Result<(), Problem> {
    if !site.keeper().has_accounts() {
        return Err(no_accounts());
    }
    if site.keeper().provider().is_none() {
        return Err(Problem::NotFound {
            what: "This unit signs in with passwords alone: no sign-in provider is set (docs/accounts.md)."
                .to_owned(),
            back: Back::Today,
        });
    }
    Ok(())
}

fn with_way(mut answer: Response, way: &str, seconds: u32) -> Response {
    if let Ok(value) = HeaderValue::from_str(&cookie_of(WAY, way, Some(seconds))) {
        answer.headers_mut().append(header::SET_COOKIE, value);
    }
    answer
}
