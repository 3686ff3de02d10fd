//! Who saw whose figures.

use account::AccountName;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use maud::{Markup, html};
use practice::PersonId;
use serde::Deserialize;

use super::asked;
use crate::address;
use crate::ask::Site;
use crate::keeper::ViewsAsked;
use crate::parts::{cell, moment, opened, section, table};
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// What is looked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Wanted {
    of: String,
    by: String,
}

/// The views, latest first.
pub(super) async fn show(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let wanted = wanted.map(|Query(wanted)| wanted).unwrap_or_default();
    let page = asked(&site).await?;
    let of = match wanted.of.trim() {
        "" => None,
        text => Some(PersonId(address::read_identifier(text, "staff identifier")?)),
    };
    let by = match wanted.by.trim() {
        "" => None,
        text => Some(AccountName::new(text).map_err(|_| Problem::BadAddress {
            place: "account",
            found: address::quote(text),
            expected: "the name of an account".to_owned(),
        })?),
    };
    let asked = ViewsAsked { of: of.clone(), by: by.clone() };
    let views = site.ask_keeper(move |keeper, _| keeper.views_page(&asked)).await?;
    let about = site.about().await?;
    let name_of = |person: &PersonId| page.people.iter().find(|(id, _)| id == person).map(|(_, name)| name);
    let rows = html! {
        @for view in &views.views {
            tr role="row" {
                th scope="row" role="rowheader" { (moment(view.when)) }
                (cell("Account", &html! { bdi { (view.by.as_str()) } }))
                (cell("Whose", &html! {
                    @match &view.of {
                        Some(person) => { @if let Some(name) = name_of(person) { bdi { (name) } " · " } bdi { (person.0) } }
                        None => "everybody",
                    }
                }))
                (cell("Page", &html! { (opened(&view.page)) }))
            }
        }
    };
    let content = html! {
        header.opening {
            h1 { "Who saw whose figures" }
            p.lead { "Every page with somebody else’s figures that was opened. What stood on it is not kept." }
            p { "Kept for " (views.kept_days) " days. Everybody sees on their own account page who opened theirs." }
            p { a href="/accounts" { "All accounts" } }
        }
        (section("find", "Look for", None, &html! {
            form.find method="get" action="/views" {
                p {
                    label for="of" { "Whose" }
                    select id="of" name="of" {
                        option value="" { "anybody’s" }
                        @for (person, name) in &page.people {
                            option value=(person.0) selected[of.as_ref() == Some(person)] { (name) " · " (person.0) }
                        }
                    }
                }
                p {
                    label for="by" { "Opened by" }
                    select id="by" name="by" {
                        option value="" { "anybody" }
                        @for row in &page.accounts {
                            option value=(row.account.name.as_str()) selected[by.as_ref() == Some(&row.account.name)] { (row.account.name.as_str()) }
                        }
                    }
                }
                p.actions { button type="submit" { "Show" } a href="/views" { "Show all" } }
            }
        }))
        (section("views", "Opened", Some(html! { p { "The latest " (views.views.len()) " of " (views.n_views) "." } }), &html! {
            @if views.views.is_empty() { p.empty { "Nobody opened such a page." } }
            @else { (table("seen", "Latest first", &["When", "Account", "Whose", "Page"], &rows)) }
        }))
    };
    Ok(sheet::page(&about, Place::Accounts, "Who saw whose figures", &content))
}
