//! One's own account: the password, who saw one's figures, and the way out.

use account::Role;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};

use super::sign_in::with_cookie;
use crate::ask::Site;
use crate::door::Refusal;
use crate::entrance::Viewer;
use crate::form::{self, Sent, refusals};
use crate::keeper::View;
use crate::parts::{cell, moment, opened, section, table};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// Views shown.
const SHOWN: usize = 100;

/// The account that is signed in.
pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    page(&site, &[]).await
}

/// Another password.
pub(crate) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let account = Viewer::now().account.ok_or_else(nobody)?;
    let posted = form::read(&site, sent)?;
    let (old, new, again) = (posted.lines("old"), posted.lines("new"), posted.lines("again"));
    let fault = match &posted.stale {
        Some(stale) => Some(stale.clone()),
        None if new != again => Some(Refusal::new(
            "new password, once more",
            "two different texts",
            "the new password twice",
            "type it once more; the old password still holds",
        )),
        None => None,
    };
    if let Some(fault) = fault {
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&site, &[fault]).await?).into_response());
    }
    let name = account.name.clone();
    match site.ask_keeper(move |keeper, _| keeper.change_password(&name, &old, &new)).await? {
        Ok(token) => Ok(with_cookie(Redirect::to("/account").into_response(), Some(&token))),
        Err(fault) => Ok((StatusCode::UNPROCESSABLE_ENTITY, page(&site, &[fault]).await?).into_response()),
    }
}

fn nobody() -> Problem {
    Problem::NotFound {
        what: "Nobody is signed in: this unit has no accounts, and the pages answer on this machine only."
            .to_owned(),
        back: Back::Today,
    }
}

async fn page(site: &Site, faults: &[Refusal]) -> Result<Markup, Problem> {
    let account = Viewer::now().account.ok_or_else(nobody)?;
    let about = site.about().await?;
    let views = match account.person.clone() {
        Some(person) => Some(site.ask_keeper(move |keeper, _| keeper.views_of(&person)).await?),
        None => None,
    };
    let roles: Vec<&str> = account.roles.iter().map(|role| role.word()).collect();
    let content = html! {
        header.opening {
            h1 { "Your account" }
            p {
                bdi { (account.name.as_str()) } ", " (roles.join(", "))
                @if let Some(person) = &account.person { ", staff identifier " bdi { (person.0) } }
                "."
            }
        }
        (refusals(faults))
        @if account.must_change {
            div.prose { p { strong { "Choose a password of your own first." } " The one you signed in with was chosen by somebody else." } }
        }
        @if let Some(subject) = &account.subject {
            (section("provider", "The hospital’s sign-in", None, &html! {
                p { "This account is tied to the subject " bdi { (subject.subject) } " at " bdi { (subject.issuer) } ": whoever signs in there as that person gets in here. Roles are set here." }
            }))
        }
        @if account.password.is_some() && (!site.keeper().only_administrators_by_password() || account.is(Role::Administrator)) { (section("password", "Password", Some(html! {
            "At least 15 characters: four or five words of your own do well. It need not be changed from time to time. "
            "Changing it signs you out everywhere else."
        }), &html! {
            form.sign-in method="post" action="/account" {
                (site.secret().field())
                input type="text" name="name" value=(account.name.as_str()) autocomplete="username" hidden readonly;
                (password("old", "Password now", "current-password"))
                (password("new", "New password", "new-password"))
                (password("again", "New password, once more", "new-password"))
                p { button type="submit" { "Change the password" } }
            }
        })) }
        @if let Some(views) = &views {
            (section("seen", "Who saw your figures", Some(html! {
                "Every page with your own figures that somebody else opened: the latest " (views.len().min(SHOWN)) " of " (views.len()) "."
            }), &seen(views)))
        }
    };
    Ok(sheet::page(&about, Place::Account, "Your account", &content))
}

fn password(name: &str, label: &str, kind: &str) -> Markup {
    html! {
        p.field {
            label for=(name) { (label) }
            input id=(name) name=(name) type="password" autocomplete=(kind) maxlength="512" required;
        }
    }
}

fn seen(views: &[View]) -> Markup {
    if views.is_empty() {
        return html! { p { "Nobody else has opened a page with your figures." } };
    }
    let rows = html! {
        @for view in views.iter().take(SHOWN) {
            tr role="row" {
                th scope="row" role="rowheader" { (moment(view.when)) }
                (cell("Account", &html! { bdi { (view.by.as_str()) } }))
                (cell("Page", &html! { (opened(&view.page)) }))
            }
        }
    };
    table("seen", "Latest first", &["When", "Account", "Page"], &rows)
}
