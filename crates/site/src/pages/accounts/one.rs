//! One account: its roles, its ways in, and its end.

use account::{AccountName, Role};
use axum::extract::State;
use maud::{Markup, html};

use super::{asked, person_choice, person_of, role_boxes, role_words, was_done, ways_in};
use crate::ask::Site;
use crate::door::Refusal;
use crate::form::refusals;
use crate::keeper::{AccountRow, Changed};
use crate::pages::{Segment, segment};
use crate::parts::{moment, section};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place};

/// The page of one account.
pub(super) async fn show(State(site): State<Site>, name: Segment<String>) -> Result<Markup, Problem> {
    let text = segment(name)?;
    let nobody =
        || Problem::NotFound { what: "There is no account of this name.".to_owned(), back: Back::Accounts };
    let name = AccountName::new(&text).map_err(|_| nobody())?;
    page(&site, &name, &[], None).await?.ok_or_else(nobody)
}

/// The page, or nothing where there is no such account.
pub(super) async fn page(
    site: &Site,
    name: &AccountName,
    faults: &[Refusal],
    done: Option<&Changed>,
) -> Result<Option<Markup>, Problem> {
    let page = asked(site).await?;
    let about = site.about().await?;
    let Some(AccountRow { account, signed_in, locked }) =
        page.accounts.iter().find(|row| row.account.name == *name)
    else {
        return Ok(None);
    };
    let form = |what: &str, content: &Markup| {
        html! {
            form method="post" action="/accounts" {
                (site.secret().field())
                input type="hidden" name="name" value=(name.as_str());
                input type="hidden" name="do" value=(what);
                (content)
            }
        }
    };
    let person = account.person.as_ref().map_or("", |person| person.0.as_str());
    let content = html! {
        header.opening {
            h1 { "Account " bdi { (name.as_str()) } }
            p { (person_of(&page, account)) ". " (role_words(account)) ". Signs in with: " (ways_in(account)) "." }
            p {
                @match signed_in { Some(when) => { "Last signed in " (moment(*when)) "." } None => { "Has not signed in since the program started." } }
                @if let Some(why) = locked { " " strong { "Locked: " (why) "." } }
            }
            p { a href="/accounts" { "All accounts" } }
        }
        (refusals(faults))
        (was_done(done))
        (section("roles", "Roles and person", Some(html! { p { "A change signs the account out everywhere." } }), &form("roles", &html! {
            (role_boxes("own", &account.roles))
            (person_choice("own", &page, person))
            p { button type="submit" { "Save roles and person" } }
        })))
        (section("password", "Password", Some(html! {
            p { "The way back for somebody who forgot theirs. The program draws one and shows it once; the account is signed out everywhere." }
        }), &form("password", &html! {
            p { button.second type="submit" { "Draw a new first password" } }
        })))
        @if locked.is_some() {
            (section("unlock", "Wrong passwords", Some(html! { p { "The password stays as it is." } }), &form("unlock", &html! {
                p { button.second type="submit" { "Let it try again" } }
            })))
        }
        @if let Some(provider) = &page.provider {
            (section("provider", "The hospital’s sign-in", Some(html! {
                p { "Whoever " (provider) " says has this subject gets in with this account. Roles stay those set here." }
            }), &html! {
                @match &account.subject {
                    Some(subject) => {
                        p { "Tied to " bdi { (subject.subject) } " at " bdi { (subject.issuer) } "." }
                        (form("untie", &html! { p { button.second type="submit" { "Untie" } } }))
                    }
                    None => (form("tie", &html! {
                        p.field {
                            label for="subject" { "Subject at " (provider) }
                            input id="subject" name="subject" maxlength="255" autocomplete="off" autocapitalize="none" spellcheck="false" required;
                        }
                        p { button.second type="submit" { "Tie" } }
                    })),
                }
            }))
        }
        (section("end", "End of the account", Some(html! { p { "What its person wrote stays in the record book." } }), &form("remove", &html! {
            @if account.roles.contains(&Role::Administrator) { p { "The last administrator cannot be removed." } }
            p.field { label.pick for="sure" { input id="sure" type="checkbox" name="sure" value="yes"; "Yes, end this account" } }
            p { button.second type="submit" { "End the account" } }
        })))
    };
    Ok(Some(sheet::page(&about, Place::Accounts, &format!("Account {name}"), &content)))
}
