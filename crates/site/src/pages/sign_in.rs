//! Signing in and out.

pub(crate) mod provider;

use account::{Account, Token, Wait};
use axum::extract::rejection::QueryRejection;
use axum::extract::{Extension, Query, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use jiff::civil::DateTime;
use maud::{Markup, html};
use serde::Deserialize;

use crate::address;
use crate::ask::Site;
use crate::door::{About, Refusal};
use crate::entrance::{cookie, home, token};
use crate::form::{self, Sent};
use crate::guard::CameFrom;
use crate::keeper::SignIn;
use crate::parts::section;
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// Longest name and password looked at, in bytes.
const LONGEST: usize = 1_000;

/// Where to go afterwards.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    to: String,
}

/// The page to sign in on.
pub(crate) async fn show(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    if !site.keeper().has_accounts() {
        return Err(no_accounts());
    }
    let to = wanted.map(|Query(wanted)| wanted.to).unwrap_or_default();
    Ok(page(&site, &site.about().await?, "", &to, &[]))
}

/// A name and a password.
pub(crate) async fn take(
    State(site): State<Site>,
    came_from: Option<Extension<CameFrom>>,
    headers: HeaderMap,
    sent: Sent,
) -> Result<Response, Problem> {
    if !site.keeper().has_accounts() {
        return Err(no_accounts());
    }
    let posted = form::read(&site, sent)?;
    let (name, to) = (posted.text("name").to_owned(), posted.text("to").to_owned());
    if let Some(stale) = posted.stale.clone() {
        return Ok(refuse(&site, &site.about().await?, StatusCode::UNPROCESSABLE_ENTITY, &name, &to, stale));
    }
    let password = posted.lines("password");
    let place = place(came_from);
    let attempt = {
        let (name, password) = (start(&name), start(&password));
        site.ask_keeper(move |keeper, _| keeper.sign_in(&name, &password, &place)).await?
    };
    match attempt {
        SignIn::In(token, account) => {
            // A session from before is over: its token must not outlive the change of who is signed in.
            if let Some(before) = crate::entrance::token(&headers) {
                site.keeper().sign_out(&before);
            }
            Ok(go(&token, &account, &to))
        }
        SignIn::Wrong => {
            let refusal = Refusal::new(
                "name and password",
                "a pair that does not belong together",
                "the name of an account with its password",
                "look at capitals and try again; an administrator can give a new password with `wardwright accounts password`",
            );
            Ok(refuse(&site, &site.about().await?, StatusCode::UNAUTHORIZED, &name, &to, refusal))
        }
        SignIn::NotByPassword => {
            let refusal = Refusal::new(
                "password",
                "an account that is no administrator’s",
                "the hospital’s sign-in, because passwords are for administrators alone here",
                "choose the button above; if it does not let you in, ask an administrator to tie your account",
            );
            Ok(refuse(&site, &site.about().await?, StatusCode::FORBIDDEN, &name, &to, refusal))
        }
        SignIn::Wait(wait, until) => {
            let refusal = waiting(wait, until);
            Ok(refuse(&site, &site.about().await?, StatusCode::TOO_MANY_REQUESTS, &name, &to, refusal))
        }
    }
}

/// Ends the session and clears what the browser kept of it. Where somebody signed in at the provider, the browser then
/// goes there: from a page of its own, because forms of these pages lead nowhere else (policy of content, `form-action`).
pub(crate) async fn out(State(site): State<Site>, request: Request) -> Result<Response, Problem> {
    let there = token(request.headers()).and_then(|token| site.keeper().sign_out(&token));
    let answer = match there {
        Some(there) => out_there(&site.about().await?, site.keeper().provider().unwrap_or_default(), &there)
            .into_response(),
        None => Redirect::to("/sign-in").into_response(),
    };
    Ok(with_cookie(answer, None))
}

fn out_there(about: &About, provider: &str, there: &str) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Signed out here" }
            p { "Next, " (provider) " ends your session there, so that nobody after you at this device comes in as you." }
        }
        div.prose {
            p { a.button href=(there) { "Sign out at " (provider) } }
            p { "Your browser goes there by itself. If it does not, choose the button; if " (provider) " does not answer, close all windows of this browser." }
        }
    };
    sheet::going_on(about, "Signed out here", &content, there)
}

/// An answer that gives the browser a token, or takes it away.
pub(super) fn with_cookie(mut answer: Response, token: Option<&Token>) -> Response {
    if let Ok(value) = HeaderValue::from_str(&cookie(token)) {
        answer.headers_mut().insert(header::SET_COOKIE, value);
    }
    answer
}

fn go(token: &Token, account: &Account, to: &str) -> Response {
    let begin = if account.must_change { "/account".to_owned() } else { home(account) };
    let to = address::of_this_site(to).filter(|to| !account.must_change && *to != "/");
    with_cookie(Redirect::to(to.unwrap_or(&begin)).into_response(), Some(token))
}

/// The place noted by the guard, for the rate of attempts.
fn place(came_from: Option<Extension<CameFrom>>) -> String {
    came_from.map_or_else(|| "this machine".to_owned(), |Extension(CameFrom(place))| place)
}

fn start(text: &str) -> String {
    text.char_indices().take_while(|(at, _)| *at < LONGEST).map(|(_, sign)| sign).collect()
}

fn waiting(wait: Wait, until: Option<DateTime>) -> Refusal {
    let until =
        until.map_or_else(|| "later".to_owned(), |until| format!("after {}", until.strftime("%H:%M:%S")));
    match wait {
        Wait::Until(_) => Refusal::new(
            "name and password",
            "several wrong passwords in a row for this name",
            "a pause, which doubles with each, up to a quarter of an hour",
            format!("try again {until}, or ask an administrator to unlock the account"),
        ),
        Wait::Locked => Refusal::new(
            "name and password",
            "a hundred wrong passwords in a row for this name",
            "an account that is not locked",
            "ask an administrator to unlock it, on the page of accounts or with `wardwright accounts unlock NAME`",
        ),
        Wait::Place(_) => Refusal::new(
            "name and password",
            "many attempts from this place within a minute",
            "at most 30 a minute",
            format!("try again {until}"),
        ),
    }
}

fn refuse(
    site: &Site,
    about: &About,
    status: StatusCode,
    name: &str,
    to: &str,
    refusal: Refusal,
) -> Response {
    (status, page(site, about, name, to, &[refusal])).into_response()
}

fn page(site: &Site, about: &About, name: &str, to: &str, refusals: &[Refusal]) -> Markup {
    let to = address::of_this_site(to).unwrap_or_default();
    let only_administrators = site.keeper().only_administrators_by_password();
    let content = html! {
        header.opening {
            h1 { "Sign in" }
            p { "What you may see depends on who you are: one person’s figures are for that person and their trainer." }
        }
        @if !refusals.is_empty() {
            section.refused role="alert" aria-labelledby="refused" {
                h2 id="refused" { "Not signed in." }
                ul {
                    @for each in refusals {
                        li { strong { (each.place) } ": found " (each.found) "; expected " (each.expected) "; " (each.to_do) "." }
                    }
                }
            }
        }
        @if let Some(provider) = site.keeper().provider() {
            (section("provider", "The hospital’s sign-in", Some(html! {
                p { "You sign in there with what you use for other programs. Who you are there must be tied to an account here." }
            }), &html! {
                p { a.button href=(address::sign_in_at_provider(to)) { "Sign in at " (provider) } }
            }))
        }
        (section("sign-in", if only_administrators { "Administrators" } else if site.keeper().provider().is_some() { "An account of these pages" } else { "Account" }, Some(html! {
            @if only_administrators { p { "Passwords are for administrators alone, for what they do here and for days on which the hospital’s sign-in does not answer." } }
            p { "On a shared device, sign out when you leave it. A session ends by itself after half an hour without use and after twelve hours." }
        }), &html! {
            form.sign-in method="post" action="/sign-in" {
                (site.secret().field())
                input type="hidden" name="to" value=(to);
                p.field {
                    label for="name" { "Name of the account" }
                    input id="name" name="name" value=(name) autocomplete="username" autocapitalize="none" spellcheck="false" maxlength="64" required;
                }
                p.field {
                    label for="password" { "Password" }
                    input id="password" name="password" type="password" autocomplete="current-password" maxlength="512" required;
                }
                p { button type="submit" { "Sign in" } }
            }
        }))
    };
    sheet::page(about, Place::Account, "Sign in", &content)
}

fn no_accounts() -> Problem {
    Problem::NotFound {
        what: "This unit has no accounts, so nobody signs in: the pages answer on this machine only. \
               An administrator makes the first account with `wardwright accounts add`."
            .to_owned(),
        back: Back::Today,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_this_site_are_followed() {
        for good in ["/", "/people/n001", "/practice/vein?person=n001"] {
            assert_eq!(address::of_this_site(good), Some(good));
        }
        for bad in
            ["", "//other.example", "https://other.example", "/\\other.example", "people", "/a\r\nb", "/é"]
        {
            assert_eq!(address::of_this_site(bad), None, "{bad}");
        }
    }
}
