//! The administrator's page: who may sign in, as what, and who saw whose figures. Nobody's figures stand on it.

mod one;
mod views;

use std::collections::BTreeSet;

use account::{Account, AccountName, Role};
use axum::Router;
use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};
use practice::PersonId;
use serde::Deserialize;

use crate::address;
use crate::ask::Site;
use crate::door::Refusal;
use crate::entrance::Viewer;
use crate::form::{self, Posted, Sent, refusals};
use crate::keeper::{AccountChange, AccountRow, AccountsPage, Changed};
use crate::parts::{cell, moment, section, table};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// Changes shown.
const SHOWN: usize = 50;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/accounts", get(list).post(take))
        .route("/accounts/{name}", get(one::show))
        .route("/views", get(views::show))
}

/// What the form of a new account begins with.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Wanted {
    subject: String,
}

/// What was typed for a new account.
#[derive(Default)]
struct Typed {
    name: String,
    person: String,
    subject: String,
    roles: BTreeSet<Role>,
}

async fn list(
    State(site): State<Site>,
    wanted: Result<Query<Wanted>, QueryRejection>,
) -> Result<Markup, Problem> {
    let subject = wanted.map(|Query(wanted)| wanted.subject).unwrap_or_default();
    let typed = Typed { subject: subject.chars().take(255).collect(), ..Typed::default() };
    page(&site, &typed, &[], None).await
}

/// Asks the doorkeeper for everything on the page; nobody signs in where there are no accounts.
async fn asked(site: &Site) -> Result<AccountsPage, Problem> {
    if Viewer::now().account.is_none() {
        return Err(Problem::NotFound {
            what: "This unit has no accounts: the pages answer on this machine only, and nobody signs in. \
                   The first one is made with `wardwright accounts add NAME --role administrator`."
                .to_owned(),
            back: Back::Today,
        });
    }
    site.ask_keeper(|keeper, _| keeper.accounts_page()).await
}

/// Takes any change about an account.
async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    asked(&site).await?;
    let posted = form::read(&site, sent)?;
    let by = Viewer::now().account.map(|account| account.name);
    let read = match &posted.stale {
        Some(stale) => Err(stale.clone()),
        None => change(&posted),
    };
    let done = match (read, by) {
        (Ok(change), Some(by)) => {
            site.ask_keeper(move |keeper, now| keeper.change_account(&by, &change, now)).await?
        }
        (Err(fault), _) => Err(fault),
        (Ok(_), None) => return Err(Problem::SessionOver),
    };
    // What was done is shown where it was asked for; an account that is gone has no page any more.
    let name = AccountName::new(posted.text("name")).ok();
    let (done, faults) = match done {
        Ok(done) => (Some(done), Vec::new()),
        Err(fault) => (None, vec![fault]),
    };
    let status = if done.is_some() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let of_one = !matches!(posted.text("do"), "add" | "remove" | "tie-stranger");
    let own = match name {
        Some(name) if of_one || (posted.text("do") == "remove" && done.is_none()) => {
            one::page(&site, &name, &faults, done.as_ref()).await?
        }
        _ => None,
    };
    let page = match own {
        Some(page) => page,
        None if done.is_some() => page(&site, &Typed::default(), &faults, done.as_ref()).await?,
        None => page(&site, &typed(&posted), &faults, None).await?,
    };
    Ok((status, page).into_response())
}

fn typed(posted: &Posted) -> Typed {
    Typed {
        name: posted.text("name").to_owned(),
        person: posted.text("person").to_owned(),
        subject: posted.text("subject").to_owned(),
        roles: roles(posted).unwrap_or_default(),
    }
}

fn roles(posted: &Posted) -> Result<BTreeSet<Role>, Refusal> {
    posted
        .all()
        .filter(|(field, _)| *field == "role")
        .map(|(_, word)| {
            Role::from_word(word).ok_or_else(|| {
                Refusal::new(
                    "roles",
                    crate::address::quote(word),
                    Role::ALL.map(Role::word).join(", "),
                    "choose from the list; nothing was changed",
                )
            })
        })
        .collect()
}

/// What a form asks for.
fn change(posted: &Posted) -> Result<AccountChange, Refusal> {
    let person = || -> Result<Option<PersonId>, Refusal> {
        let text = posted.text("person");
        if text.is_empty() {
            return Ok(None);
        }
        match address::read_identifier(text, "staff identifier") {
            Ok(id) => Ok(Some(PersonId(id))),
            Err(_) => Err(Refusal::new(
                "person",
                crate::address::quote(text),
                "somebody of the record book",
                "choose from the list; nothing was changed",
            )),
        }
    };
    let subject = || Some(posted.text("subject").to_owned()).filter(|subject| !subject.is_empty());
    let name = || {
        AccountName::new(posted.text("name")).map_err(|_| {
            Refusal::new(
                "account",
                crate::address::quote(posted.text("name")),
                "the name of an account",
                "choose one from the page of accounts; nothing was changed",
            )
        })
    };
    Ok(match posted.text("do") {
        "add" => AccountChange::Add {
            name: posted.text("name").chars().take(200).collect(),
            roles: roles(posted)?,
            person: person()?,
            subject: subject(),
        },
        "roles" => AccountChange::Roles { name: name()?, roles: roles(posted)?, person: person()? },
        "password" => AccountChange::NewPassword(name()?),
        "unlock" => AccountChange::Unlock(name()?),
        "untie" => AccountChange::Tie(name()?, None),
        "tie" | "tie-stranger" => match subject() {
            Some(subject) => AccountChange::Tie(name()?, Some(subject)),
            None => {
                return Err(Refusal::new(
                    "subject",
                    "nothing",
                    "the subject of that person at the sign-in provider",
                    "copy it from the provider, or from the list of those who came without an account; nothing was changed",
                ));
            }
        },
        "remove" if posted.text("sure") == "yes" => AccountChange::Remove(name()?),
        "remove" => {
            return Err(Refusal::new(
                "end of the account",
                "no mark that it is meant",
                "a mark in the box above the button",
                "mark it, or leave the account as it is; nothing was changed",
            ));
        }
        other => {
            return Err(Refusal::new(
                "form",
                crate::address::quote(other),
                "a form of this page",
                "load the page again; nothing was changed",
            ));
        }
    })
}

async fn page(
    site: &Site,
    typed: &Typed,
    faults: &[Refusal],
    done: Option<&Changed>,
) -> Result<Markup, Problem> {
    let page = asked(site).await?;
    let about = site.about().await?;
    let content = html! {
        header.opening {
            h1 { "Accounts" }
            p.lead { "Who may sign in, and as what. Nobody’s figures stand here: those are for that person and their trainer." }
            p { a href="/views" { "Who saw whose figures" } }
        }
        (refusals(faults))
        (was_done(done))
        @if !page.strangers.is_empty() { (strangers(site, &page)) }
        (section("accounts", "Accounts", Some(html! { p { (page.accounts.len()) " in all. “Signed in” is since the program started." } }), &rows(&page)))
        (section("add", "A new account", Some(html! {
            p { "Without a subject the program draws a first password and shows it once. It opens nothing but the page on which that person chooses another." }
        }), &add_form(site, &page, typed)))
        (section("changes", "What was changed", Some(html! {
            p { "The latest " (page.changes.len().min(SHOWN)) " of " (page.n_changes) " changes kept. Passwords are never among them." }
        }), &changes(&page)))
    };
    Ok(sheet::page(&about, Place::Accounts, "Accounts", &content))
}

/// What was done, with a first password where one was drawn.
fn was_done(done: Option<&Changed>) -> Markup {
    html! {
        @if let Some(done) = done {
            section.part role="status" aria-labelledby="done" {
                div.rail { h2 #done { "Done" } }
                div.content {
                    p { (done.words) }
                    @if let Some(password) = &done.first_password {
                        p { "First password, shown this once and kept nowhere: " code.first-password { (password) } }
                        p { "Hand it over in person. If it is lost, draw another." }
                    }
                }
            }
        }
    }
}

fn rows(page: &AccountsPage) -> Markup {
    let rows = html! {
        @for AccountRow { account, signed_in, locked } in &page.accounts {
            tr role="row" {
                th scope="row" role="rowheader" { a href=(address::account(&account.name)) { bdi { (account.name.as_str()) } } }
                (cell("Person", &person_of(page, account)))
                (cell("Roles", &html! { (role_words(account)) }))
                (cell("Signs in with", &ways_in(account)))
                (cell("Signed in", &html! { @match signed_in { Some(when) => { (moment(*when)) } None => { "not yet" } } }))
                (cell("Locked", &html! { @match locked { Some(why) => { strong { (why) } } None => { "no" } } }))
            }
        }
    };
    table(
        "accounts",
        "By name",
        &["Account", "Person", "Roles", "Signs in with", "Signed in", "Locked"],
        &rows,
    )
}

fn role_words(account: &Account) -> String {
    account.roles.iter().map(|role| role.word()).collect::<Vec<_>>().join(", ")
}

fn ways_in(account: &Account) -> Markup {
    html! {
        @match (&account.password, account.must_change) {
            (Some(_), true) => { "first password, not changed yet" }
            (Some(_), false) => { "password" }
            (None, _) => {}
        }
        @if account.password.is_some() && account.subject.is_some() { ", " }
        @if account.subject.is_some() { "the hospital’s sign-in" }
    }
}

fn person_of(page: &AccountsPage, account: &Account) -> Markup {
    html! {
        @match &account.person {
            Some(person) => {
                @if let Some((_, name)) = page.people.iter().find(|(id, _)| id == person) { bdi { (name) } " · " }
                bdi { (person.0) }
            }
            None => "nobody of the book",
        }
    }
}

fn strangers(site: &Site, page: &AccountsPage) -> Markup {
    let untied: Vec<&Account> =
        page.accounts.iter().map(|row| &row.account).filter(|account| account.subject.is_none()).collect();
    let rows = html! {
        @for (n, stranger) in page.strangers.iter().enumerate() {
            tr role="row" {
                th scope="row" role="rowheader" { bdi { (stranger.subject) } }
                (cell("Name there", &html! { @match &stranger.name { Some(name) => { bdi { (name) } } None => { "not told" } } }))
                (cell("When", &moment(stranger.when)))
                (cell("Tie to", &html! {
                    form.tie method="post" action="/accounts" {
                        (site.secret().field())
                        input type="hidden" name="subject" value=(stranger.subject);
                        input type="hidden" name="do" value="tie-stranger";
                        @if !untied.is_empty() {
                            p.field {
                                label for={ "tie-" (n) } { "Account" }
                                select id={ "tie-" (n) } name="name" required {
                                    option value="" { "choose" }
                                    @for account in &untied { option value=(account.name.as_str()) { (account.name.as_str()) } }
                                }
                            }
                            p { button.second type="submit" { "Tie to this account" } }
                        }
                        p { a href=(address::account_for_subject(&stranger.subject)) { "Make an account for this subject" } }
                    }
                }))
            }
        }
    };
    section(
        "strangers",
        "Came without an account",
        Some(html! {
            p { "The sign-in provider knows them, these pages do not; nothing was shown to them. Since the program started." }
            p { "A name proves nothing: ask the person, or the provider, whether the subject is theirs." }
        }),
        &table("strangers", "Latest first", &["Subject", "Name there", "When", "Tie to"], &rows),
    )
}

fn add_form(site: &Site, page: &AccountsPage, typed: &Typed) -> Markup {
    html! {
        form method="post" action="/accounts" {
            (site.secret().field())
            input type="hidden" name="do" value="add";
            p.field {
                label for="name" { "Name to sign in with" }
                input id="name" name="name" value=(typed.name) maxlength="64" autocomplete="off" autocapitalize="none" spellcheck="false" required;
                span.hint { "Letters, digits and . - _ @ between them." }
            }
            @if page.people.is_empty() {
                p.finding { "Nobody is in the record book yet, and trainers, preceptors and learners stand in it. " a href="/start/people" { "Take in the first people" } ", then come back." }
            }
            (role_boxes("new", &typed.roles))
            (person_choice("new", page, &typed.person))
            @if let Some(provider) = &page.provider {
                p.field {
                    label for="subject" { "Subject at " (provider) ", where that person signs in there" }
                    input id="subject" name="subject" value=(typed.subject) maxlength="255" autocomplete="off" autocapitalize="none" spellcheck="false";
                }
            }
            p { button type="submit" { "Make the account" } }
        }
    }
}

fn role_boxes(id: &str, chosen: &BTreeSet<Role>) -> Markup {
    html! {
        fieldset.field {
            legend.label { "Roles" }
            @for role in Role::ALL {
                label.pick for={ (id) "-" (role.word().replace(' ', "-")) } {
                    input id={ (id) "-" (role.word().replace(' ', "-")) } type="checkbox" name="role" value=(role.word()) checked[chosen.contains(&role)];
                    (role.word()) ": " (what_it_may(role))
                }
            }
        }
    }
}

fn what_it_may(role: Role) -> &'static str {
    match role {
        Role::Trainer => "plans, hears, watches, signs, and sees everybody’s figures",
        Role::Preceptor => "watches and hears learners; sees own figures only",
        Role::Learner => "sees own figures only",
        Role::ResultsReader => "the unit’s results, and nobody’s figures",
        Role::Administrator => "accounts, and nobody’s figures",
    }
}

fn person_choice(id: &str, page: &AccountsPage, chosen: &str) -> Markup {
    html! {
        p.field {
            label for={ (id) "-person" } { "Person of the record book" }
            select id={ (id) "-person" } name="person" {
                option value="" { "nobody of the book" }
                @for (person, name) in &page.people {
                    option value=(person.0) selected[person.0 == chosen] { (name) " · " (person.0) }
                }
            }
            span.hint { "Trainers, preceptors and learners need one: their entries stand on that person’s word." }
        }
    }
}

fn changes(page: &AccountsPage) -> Markup {
    if page.changes.is_empty() {
        return html! { p.empty { "Nothing yet." } };
    }
    let rows = html! {
        @for change in page.changes.iter().take(SHOWN) {
            tr role="row" {
                th scope="row" role="rowheader" { (moment(change.when)) }
                (cell("Account", &html! { bdi { (change.account) } }))
                (cell("What", &html! { (change.what) }))
                (cell("By", &html! { bdi { (change.by) } }))
            }
        }
    };
    table("changes", "Latest first", &["When", "Account", "What", "By"], &rows)
}
