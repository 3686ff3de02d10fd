mod ledgers;
pub(crate) mod missed;

use axum::extract::rejection::QueryRejection;
use axum::extract::{Query, State};
use breakdown::{Breakdown, ChangeKind, ItemId, ItemKind, JobCode, KeyPoint, KeyPointKind, Step};
use desk::{Asked, BreakdownPage, PointFacts};
use maud::{Markup, html};
use serde::Deserialize;
use uuid::Uuid;

use super::{Segment, segment};
use crate::address::{self, quote, read_identifier};
use crate::ask::Site;
use crate::door::Paper;
use crate::parts::{caution, cell, day, name, of, safety_mark, section, table};
use crate::problem::{Back, Problem};
use crate::sheet::{self, Place, Script};

/// The breakdowns in force.
pub(crate) async fn list(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, breakdowns) = site.ask(|desk| desk.breakdowns()).await?;
    let content = html! {
        header.opening {
            h1 { "Breakdowns" }
            p.lead { "One job each, as important steps with key points and reasons. The trainer’s own memory aid, not a policy." }
            p.papers { a href=(address::editor(None, None)) { "Write a new breakdown" } }
        }
        @if breakdowns.is_empty() {
            p.empty {
                "No breakdown is in force yet. " a href="/start/breakdown" { "Publish a ready one" } " and change it later, or write your own here or as a text file; "
                code { "wardwright breakdown --help" } " says how."
            }
        } @else {
            div.jobs { @for each in &breakdowns { (summary(each)) } }
        }
    };
    Ok(sheet::page(&about, Place::Breakdowns, "Breakdowns", &content))
}

fn summary(each: &Breakdown) -> Markup {
    let n_points = each.steps.iter().map(|step| step.key_points.len()).sum::<usize>();
    let n_safety = each.safety_points().len();
    html! {
        article.job {
            h2 { a href=(address::breakdown(&each.code)) { (name(&each.job)) } }
            p {
                "Version " (each.version)
                @if let Some(from) = each.effective { ", in force from " (day(from)) }
                ". Important steps: " (each.steps.len()) ". Key points: " (n_points) ", of which safety points: " (n_safety) "."
            }
            p.papers { (papers(&each.code)) }
        }
    }
}

/// One breakdown with what learners make of it.
pub(crate) async fn show(
    State(site): State<Site>,
    code: Segment<String>,
    arrived: Result<Query<Arrived>, QueryRejection>,
) -> Result<Markup, Problem> {
    let code = JobCode(read_identifier(&segment(code)?, "job code")?);
    let Ok(Query(arrived)) = arrived else {
        return Err(Problem::BadAddress {
            place: "query",
            found: "a field that stands twice, or cannot be read".to_owned(),
            expected: "each field of the form below the ledgers at most once".to_owned(),
        });
    };
    let (about, (code, page)) = site.ask(move |desk| desk.breakdown(&code).map(|page| (code, page))).await?;
    let page = page.ok_or_else(|| no_such_job(&code))?;
    let published = Uuid::try_parse(&arrived.published).ok();
    let content = content(&page, published, &arrived.ledgers());
    let scripts: &[Script] = if published.is_some() { &[Script::Keep] } else { &[] };
    Ok(sheet::page_with(&about, Place::Breakdowns, &page.breakdown.job, &content, scripts))
}

/// What the address of one breakdown may hold.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Arrived {
    /// Entry by which it was just published: its draft can leave the device.
    published: String,
    draws: String,
    patient: String,
    weight: String,
    height: String,
    taken: String,
}

impl Arrived {
    fn ledgers(&self) -> ledgers::Asked {
        ledgers::Asked {
            draws: self.draws.clone(),
            patient: self.patient.clone(),
            weight: self.weight.clone(),
            height: self.height.clone(),
            taken: self.taken.clone(),
        }
    }
}

pub(crate) fn no_such_job(code: &JobCode) -> Problem {
    let what = format!(
        "No job in force has the code “{}”. It may be misspelt, or its breakdown not published yet.",
        quote(&code.0)
    );
    Problem::NotFound { what, back: Back::Breakdowns }
}

fn papers(code: &JobCode) -> Markup {
    html! {
        a href=(address::practice(code, None)) { "Practise" }
        " "
        a href=(address::paper(&Paper::PocketCard(code.clone()))) { "Pocket card (PDF)" }
        " "
        a href=(address::paper(&Paper::ObservationSheet(code.clone()))) { "Observation sheet (PDF)" }
    }
}

fn content(page: &BreakdownPage, published: Option<Uuid>, asked: &ledgers::Asked) -> Markup {
    let job = &page.breakdown;
    html! {
        header.opening {
            h1 { (name(&job.job)) }
            p.lead {
                "Version " (job.version)
                @if let Some(from) = job.effective { ", in force from " (day(from)) }
                @if let Some(author) = &job.author { ", written by " (name(author)) }
                @if let Some(approver) = &job.approved_by { ", approved by " (name(approver)) }
                "."
            }
            @if let Some(entry) = published {
                p.lead data-kept-done=(format!("breakdown:{entry}")) {
                    "Published. Where its day is still to come, the version before stays in force until then."
                }
            }
            p.papers {
                (papers(&job.code))
                " "
                a href=(address::missed(&job.code)) { "What many learners miss" }
                " "
                a href=(address::editor(Some(&job.code), None)) { "Write the next version" }
            }
        }
        (caution("cautions", "Cautions", &job.cautions))
        @if !job.supplies.is_empty() {
            (section("supplies", "Have ready", Some(html! { p { "For one run of the job." } }), &html! {
                ul.supplies {
                    @for supply in &job.supplies {
                        li { @if let Some(n) = supply.count { span.item { (n) " ×" } } bdi { (supply.name) } }
                    }
                }
            }))
        }
        (section("steps", "Steps", Some(html! {
            p {
                "Open: asked for or watched, and not there without help. Said and done are counted apart. "
                "They are counts of what was judged, by learners at every stage, so no interval is given."
            }
            p { (safety_mark()) " marks a safety point." }
        }), &html! {
            @for (number, step) in (1u16..).zip(&job.steps) { (one_step(number, step, &page.points)) }
        }))
        @if !job.orders.is_empty() {
            (section("orders", "Orders that bind", None, &html! {
                ul { @for pair in &job.orders { li { (labelled(job, &pair.first)) " before " (labelled(job, &pair.then)) } } }
            }))
        }
        @if !job.synonyms.is_empty() {
            (section("words", "Same thing, other words", Some(html! { p { "A teach-back may use any of them." } }), &html! {
                ul { @for group in &job.synonyms { li { bdi { (group.join(" = ")) } } } }
            }))
        }
        (ledgers::ledgers(job, asked))
        (section("versions", "Versions", None, &html! {
            @if let Some(change) = &job.change {
                p {
                    "Version " (job.version) ": "
                    @match change.kind {
                        ChangeKind::Major => "major change; releases on the version before are to be updated. ",
                        ChangeKind::Minor => "minor change; releases stand. ",
                    }
                    bdi { (change.what) }
                }
            }
            ol.versions {
                @for (version, date, change) in page.versions.iter().rev() {
                    li { "Version " (version) ", " (day(*date)) @if let Some(change) = change { ": " bdi { (change) } } }
                }
            }
        }))
    }
}

fn one_step(number: u16, step: &Step, facts: &[PointFacts]) -> Markup {
    let heading =
        html! { h3.step id=(format!("item-{number}")) { span.item { (number) } bdi { (step.name) } } };
    if step.key_points.is_empty() {
        return html! { (heading) p.empty { "This step has no key points." } };
    }
    let columns = ["Key point", "Because", "Open when said", "Open when done"];
    let points = table(
        "steps",
        &format!("Key points of step {number}"),
        &columns,
        &html! {
            @for (point_number, point) in (1u16..).zip(&step.key_points) {
                @let id = ItemId::key_point(number, point_number);
                @let asked = facts.iter().find(|facts| facts.item == id);
                tr role="row" {
                    th.point id=(format!("item-{number}-{point_number}")) scope="row" role="rowheader" { (key_point(id, point)) }
                    (cell("Because", &reasons(point)))
                    (cell("Open when said", &open(asked.map(|facts| &facts.said))))
                    (cell("Open when done", &open(asked.map(|facts| &facts.done))))
                }
            }
        },
    );
    html! { (heading) (points) }
}

fn key_point(id: ItemId, point: &KeyPoint) -> Markup {
    html! {
        span.item { (id) }
        @match point.kind {
            KeyPointKind::Safety => { (safety_mark()) " " }
            KeyPointKind::Knack => { span.knack { "Knack" } " " }
            KeyPointKind::MakesOrBreaks => {}
        }
        bdi { (point.text) }
        @for quantity in &point.quantities { span.quantity { bdi { (quantity.words) } } }
    }
}

fn reasons(point: &KeyPoint) -> Markup {
    html! {
        @match point.reasons.as_slice() {
            [] => "no reason given",
            [one] => { bdi { (one) } },
            several => { ul { @for reason in several { li { bdi { (reason) } } } } },
        }
    }
}

fn open(asked: Option<&Asked>) -> Markup {
    html! {
        @match asked {
            Some(asked) if asked.of > 0 => { (of(asked.open, asked.of)) }
            _ => "not judged yet",
        }
    }
}

/// A label of an order pair after the number of the key point it names.
fn labelled(job: &Breakdown, label: &str) -> Markup {
    let place = job.items().into_iter().find(|item| {
        item.id.kind() == ItemKind::KeyPoint
            && item.key_point.is_some_and(|point| point.label.as_deref() == Some(label))
    });
    html! {
        @if let Some(item) = place { span.item { (item.id) } }
        bdi { (label) }
    }
}
