//! The learner's own confidence, asked before anybody tells them how they did.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use desk::SigningForm;
use jiff::civil::DateTime;
use maud::{Markup, html};
use practice::EventKind;
use uuid::Uuid;

use super::view::beside;
use super::{Asked, ask, hidden, read};
use crate::address::{self, quote};
use crate::ask::Site;
use crate::door::{About, Draft, Recording, Refusal};
use crate::form::{self as forms, Sent};
use crate::parts::{name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};

pub(crate) async fn show(State(site): State<Site>, asked: Asked) -> Result<Response, Problem> {
    let (person, job, entry) = read(asked)?;
    let Some(entry) = entry else {
        let address = format!("{}&entry={}", address::confidence(&person, &job), Uuid::now_v7());
        return Ok(Redirect::to(&address).into_response());
    };
    let (about, now, form) = ask(&site, &person, &job).await?;
    Ok(page(&site, &about, &form, entry, now, "", &[]).into_response())
}

pub(crate) async fn take(State(site): State<Site>, sent: Sent) -> Result<Response, Problem> {
    let posted = forms::read(&site, sent)?;
    let (person, job, entry) = hidden(&posted)?;
    let (about, now, form) = ask(&site, &person, &job).await?;
    let at: DateTime = posted.text("at").parse().map_err(|_| Problem::BadForm {
        found: format!("“{}” as at", quote(posted.text("at"))),
        expected: "a date and a time".to_owned(),
    })?;
    let said = posted.text("clean");
    let mut refusals: Vec<Refusal> = posted.stale.iter().cloned().collect();
    match said.parse::<u8>().ok().filter(|clean| *clean <= 10) {
        Some(clean_of_ten) if refusals.is_empty() => {
            let draft = Draft {
                id: entry,
                happened: at,
                by: person.clone(),
                what: EventKind::ConfidenceSaid { person: person.clone(), job, clean_of_ten },
            };
            let (_, recording) = site.record(draft).await?;
            match recording {
                Recording::Recorded | Recording::AlreadyThere => {
                    return Ok(Redirect::to(&address::recorded(&person, entry)).into_response());
                }
                Recording::Refused(more) => refusals.extend(more),
            }
        }
        Some(_) => {}
        None => {
            let found = if said.is_empty() { "nothing".to_owned() } else { format!("“{}”", quote(said)) };
            refusals.push(Refusal::new("The answer", found, "a whole number from 0 to 10", "choose one"));
        }
    }
    let page = page(&site, &about, &form, entry, now, said, &refusals);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

fn page(
    site: &Site,
    about: &About,
    form: &SigningForm,
    entry: Uuid,
    at: DateTime,
    said: &str,
    refusals: &[Refusal],
) -> Markup {
    let content = html! {
        header.opening {
            h1 { "How sure are you?" }
            p.lead {
                (name(&form.name)) ", " a href=(address::breakdown(&form.job)) { (name(&form.job_name)) }
                ". Answer for yourself, before anybody tells you how you did. It moves no standing and is held against nobody: "
                "it shows where to practise, and where to trust yourself more."
            }
            p.private { "For this person and their trainer only." }
        }
        (forms::refusals(refusals))
        (section("say", "Your answer", None, &html! {
            form method="post" action="/confidence" {
                (site.secret().field())
                input type="hidden" name="entry" value=(entry);
                input type="hidden" name="at" value=(at);
                input type="hidden" name="person" value=(form.person);
                input type="hidden" name="breakdown" value=(form.job);
                fieldset.decisions {
                    legend { "Of your next ten draws, on how many will you miss no safety point, without help?" }
                    div.scale {
                        @for clean in 0..=10u8 {
                            label.pick {
                                input type="radio" name="clean" value=(clean) required checked[said == clean.to_string()];
                                span { (clean) }
                            }
                        }
                    }
                }
                p.actions { button type="submit" { "Save" } a href=(address::person(&form.person)) { "Not now" } }
            }
        }))
        @if let Some(facts) = &form.confidence {
            (section("before", "Last time", None, &beside(facts)))
        }
    };
    sheet::page(about, Place::People, "How sure are you?", &content)
}
