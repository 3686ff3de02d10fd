//! One collection planned: a form, and the plan in a few plain blocks. Nothing is stored, and no identifier is asked.

use axum::Router;
use axum::extract::Query;
use axum::extract::State;
use axum::extract::rejection::QueryRejection;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use breakdown::Breakdown;
use desk::{Antibiotic, AskedFor, BottlesAtHand, CollectionAsk, Method, Refused, Sex, chosen_job};
use jiff::civil::DateTime;
use maud::{Markup, html};

use crate::address::quote;
use crate::ask::Site;
use crate::door::{CollectionAnswer, Desk, DeskError, Refusal};
use crate::parts::{name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place};

mod form;
mod shown;

use form::{Asked, form};

/// Addresses of this page.
pub(super) fn routes() -> Router<Site> {
    Router::new().route("/draw/plan", get(show))
}

type Wanted = Result<Query<Vec<(String, String)>>, QueryRejection>;

async fn show(State(site): State<Site>, wanted: Wanted) -> Result<Response, Problem> {
    let Ok(Query(fields)) = wanted else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "something other than the fields of the form".to_owned(),
            expected: "the fields that the form on /draw/plan sends".to_owned(),
        });
    };
    let asked = Asked::new(fields);
    let (about, (policy, answer, asked, jobs)) = site
        .ask(move |desk| {
            let policy = desk.collection_policy()?;
            let jobs = desk.breakdowns()?;
            let answer =
                if policy.is_ok() && asked.is_asked() { Some(answer(desk, &asked, &jobs)?) } else { None };
            Ok((policy, answer, asked, jobs))
        })
        .await?;
    let page = sheet::page(
        &about,
        Place::Collection,
        "Plan one collection",
        &content(&policy, answer.as_ref(), &asked, &jobs),
    );
    let mut response = page.into_response();
    // A weight and a time name nobody, and are kept nowhere all the same.
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

fn answer(desk: &dyn Desk, asked: &Asked, jobs: &[Breakdown]) -> Result<CollectionAnswer, DeskError> {
    match read(desk, asked, jobs) {
        Ok(ask) => desk.collection(&ask),
        Err(refused) => Ok(CollectionAnswer::Refused(refused)),
    }
}

fn unread(about: AskedFor, found: &str, expected: &str) -> Refused {
    Refused {
        about,
        found: quote(found),
        expected: expected.to_owned(),
        to_do: "correct it; no plan was made".to_owned(),
        weight_again: false,
    }
}

/// The form as a question. What cannot be read is refused here, the rest by the rooms below.
fn read(desk: &dyn Desk, asked: &Asked, jobs: &[Breakdown]) -> Result<CollectionAsk, Refused> {
    const NUMBER: &str = "a number with a point, such as 12.5, and no unit";
    let decimal = |about, field: &str| {
        let text = asked.text(field);
        (!text.is_empty()).then(|| text.parse::<f64>().map_err(|_| unread(about, text, NUMBER))).transpose()
    };
    let whole = |about, field: &str, expected: &str| {
        let text = asked.text(field);
        (!text.is_empty()).then(|| text.parse::<u16>().map_err(|_| unread(about, text, expected))).transpose()
    };
    let time = |about, field: &str| -> Result<Option<DateTime>, Refused> {
        let text = asked.text(field);
        if text.is_empty() {
            return Ok(None);
        }
        let read = desk.time_of_day(text, desk.now().date());
        read.map(Some).ok_or_else(|| unread(about, text, "HH:MM today, such as 14:05, or YYYY-MM-DD HH:MM"))
    };
    let antibiotic = match asked.text("antibiotic") {
        "none" => Antibiotic::NoneDue,
        kind @ ("given" | "due") => match time(AskedFor::Antibiotic, "antibiotic-time")? {
            Some(at) if kind == "given" => Antibiotic::Given(at),
            Some(at) => Antibiotic::Due(at),
            None => {
                return Err(unread(
                    AskedFor::Antibiotic,
                    "no time beside “given” or “due”",
                    "HH:MM today, such as 14:05, or YYYY-MM-DD HH:MM",
                ));
            }
        },
        _ => Antibiotic::NotStated,
    };
    let sets = whole(AskedFor::Sets, "sets", "1 to 4")?;
    let lumens = whole(AskedFor::Lumens, "lumens", "1 to 5")?;
    let bottles = BottlesAtHand {
        adult: asked.has("bottles", "adult"),
        paediatric: asked.has("bottles", "paediatric"),
    };
    Ok(CollectionAsk {
        is_child: match asked.text("who") {
            "adult" => Some(false),
            "child" => Some(true),
            _ => None,
        },
        weight_kg: decimal(AskedFor::Weight, "weight")?,
        weight_confirmed: asked.has("weight-read", "twice"),
        height_cm: decimal(AskedFor::Height, "height")?,
        sex: match asked.text("sex") {
            "female" => Some(Sex::Female),
            "male" => Some(Sex::Male),
            _ => None,
        },
        age_months: whole(AskedFor::AgeMonths, "age", "completed months, 0 to 215")?,
        haemoglobin_g_per_l: decimal(AskedFor::Haemoglobin, "haemoglobin")?,
        taken_today_ml: decimal(AskedFor::TakenToday, "taken")?,
        sets: sets.map(u32::from),
        vein: asked.has("access", "vein"),
        new_cannula: asked.has("access", "new-cannula"),
        central_line: asked.has("access", "central-line"),
        lumens: lumens.map(|lumens| u8::try_from(lumens).unwrap_or(u8::MAX)),
        arterial_line: asked.has("access", "arterial-line"),
        line_suspected: asked.has("suspected", "yes"),
        method: if asked.text("method") == "syringe" { Method::Syringe } else { Method::WingedSet },
        bottles: (bottles.adult || bottles.paediatric).then_some(bottles),
        antibiotic,
        draw_at: time(AskedFor::DrawTime, "time")?,
        jobs: jobs.iter().filter(|job| asked.has("job", &job.code.0)).map(chosen_job).collect(),
    })
}

fn content(
    policy: &Result<String, Refusal>,
    answer: Option<&CollectionAnswer>,
    asked: &Asked,
    jobs: &[Breakdown],
) -> Markup {
    let refused = match answer {
        Some(CollectionAnswer::Refused(refused)) => Some(refused),
        _ => None,
    };
    html! {
        header.opening {
            h1 { "Plan one collection" }
            p.lead {
                @match policy {
                    Ok(words) => { (name(words)) "." }
                    Err(_) => "By the unit’s own confirmed policy.",
                }
                " Nothing entered is stored, and no name or number of a patient is asked."
            }
        }
        @if let Err(why) = policy { (no_policy(why)) }
        @match answer {
            Some(CollectionAnswer::NoPolicy(why)) => { (no_policy(why)) }
            Some(CollectionAnswer::Refused(refused)) => { (no_plan(refused)) }
            Some(CollectionAnswer::Plan(sheet)) => { (shown::plan(sheet, asked, jobs)) }
            None => {}
        }
        @if policy.is_ok() {
            @if matches!(answer, Some(CollectionAnswer::Plan(_))) {
                (section("ask", "Plan again", None, &html! {
                    details { summary { "Change what was entered" } (form(asked, refused, jobs)) }
                }))
            } @else {
                (section("ask", "The patient and the access", Some(html! { p { "Adult or child and the weight are needed; the more is known, the better the plan." } }), &form(asked, refused, jobs)))
            }
        }
    }
}

fn no_policy(why: &Refusal) -> Markup {
    html! {
        section.refused role="alert" aria-labelledby="no-policy" {
            h2 id="no-policy" { "No plan can be made yet" }
            p { strong { (why.place) } ": found " bdi { (why.found) } "; expected " (why.expected) "." }
            p { "What to do: " (why.to_do) "." }
        }
    }
}

fn no_plan(refused: &Refused) -> Markup {
    html! {
        section.refused role="alert" aria-labelledby="no-plan" {
            h2 id="no-plan" { @if refused.weight_again { "Read the weight again" } @else { "No plan was made" } }
            p {
                strong { (field_words(refused.about)) } ": found " bdi { (refused.found) } "; expected "
                (refused.expected) "; " (refused.to_do) "."
            }
            p { a href={ "#" (form::field(refused.about)) } { "To the field" } }
        }
    }
}

fn field_words(about: AskedFor) -> &'static str {
    match about {
        AskedFor::Who => "Adult or child",
        AskedFor::Weight => "Weight",
        AskedFor::Height => "Height",
        AskedFor::HeightOrSex => "Height and sex",
        AskedFor::AgeMonths => "Age in months",
        AskedFor::Haemoglobin => "Haemoglobin",
        AskedFor::TakenToday => "Blood taken in 24 hours",
        AskedFor::Sets => "Sets ordered",
        AskedFor::Access => "Blood can be had from",
        AskedFor::Lumens => "Lumens of the central line",
        AskedFor::LineSuspected => "Line infection suspected",
        AskedFor::Bottles => "Bottles at hand",
        AskedFor::Antibiotic => "Antibiotic",
        AskedFor::DrawTime => "Time of the draw",
        AskedFor::DayLimit => "The unit’s limit for 24 hours",
        AskedFor::Policy => "The unit’s policy",
    }
}
