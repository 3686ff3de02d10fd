//! Where a draw begins, what waits on this device, and what makes the pages at the bed work without network.

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use breakdown::Breakdown;
use maud::{Markup, html};

use crate::address;
use crate::ask::Site;
use crate::door::About;
use crate::parts::{name, section};
use crate::problem::Problem;
use crate::sheet::{self, Place, Script};
use crate::words::bed;
use crate::words::scripts;

/// Answers without network.
pub(crate) const WORKER: &str = include_str!("../../assets/bedside-worker.js");
const ICON_192: &[u8] = include_bytes!("../../assets/icon-192.png");
const ICON_512: &[u8] = include_bytes!("../../assets/icon-512.png");

/// What a device is told when somebody installs the pages at the bed.
const MANIFEST: &str = r##"{
  "name": "Wardwright at the bedside",
  "short_name": "Wardwright",
  "description": "Mark an observed draw, with and without network.",
  "id": "/bedside",
  "start_url": "/bedside",
  "scope": "/",
  "display": "standalone",
  "background_color": "#f4f7f6",
  "theme_color": "#0a5a66",
  "icons": [
    { "src": "/icon-192.png", "sizes": "192x192", "type": "image/png" },
    { "src": "/icon-512.png", "sizes": "512x512", "type": "image/png" },
    { "src": "/mark.svg", "sizes": "any", "type": "image/svg+xml" }
  ]
}
"##;

pub(crate) fn routes() -> Router<Site> {
    Router::new()
        .route("/bedside", get(show))
        .route("/bedside/key", get(key))
        .route("/bedside-worker.js", get(worker))
        .route("/bedside.webmanifest", get(manifest))
        .route("/bedside.js", get(|query| file("bedside.js", query)))
        .route("/observe.js", get(|query| file("observe.js", query)))
        .route("/carry-out.js", get(|query| file("carry-out.js", query)))
        .route("/camera.js", get(|query| file("camera.js", query)))
        .route("/ticker.js", get(|query| file("ticker.js", query)))
        .route("/bedside.css", get(|query| file("bedside.css", query)))
        .route("/icon-192.png", get(|| icon(ICON_192)))
        .route("/icon-512.png", get(|| icon(ICON_512)))
}

/// The jobs, what waits on this device, and signing it out.
async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, breakdowns) = site.ask(|desk| desk.breakdowns()).await?;
    Ok(page(&about, &breakdowns))
}

fn page(about: &About, breakdowns: &[Breakdown]) -> Markup {
    let kept: Vec<String> = breakdowns
        .iter()
        .flat_map(|job| [address::observe(None, &job.code), address::carry_out(None, &job.code)])
        .collect();
    let content = html! {
        header.opening {
            h1 { (bed::AT_THE_BEDSIDE) }
            p.lead { (bed::THE_ONE_WHO_WATCHES_MARKS) }
            p.lead { a href="/draw/plan" { (bed::PLAN_ONE_COLLECTION) } (bed::FIRST_SETS_BOTTLES_BLOOD_TIMES) }
        }
        (section("jobs-h", bed::WHICH_DRAW, Some(html! { p { (bed::WHOSE_HANDS_DRAW_IS_CHOSEN) } }), &html! {
            @if breakdowns.is_empty() {
                p.empty { (bed::NO_BREAKDOWN_IS_IN_FORCE) a href="/start" { (bed::PUBLISH_THE_FIRST_ONE) } "." }
            }
            @for job in breakdowns {
                div.bed-job {
                    h3 { (name(&job.job)) }
                    p.bed-ways {
                        a.go href=(address::observe(None, &job.code)) { (bed::MARK_AN_OBSERVED_DRAW) }
                        a.go href=(address::carry_out(None, &job.code)) { (bed::CARRY_OUT_STEP_BY_STEP) }
                    }
                }
            }
        }))
        (section("waiting-h", bed::ON_THIS_DEVICE, Some(html! { p { (bed::WRITTEN_HERE_AND_NOT_IN) } }), &html! {
            ul #waiting.waiting { li { (bed::WITHOUT_SCRIPTS_THIS_BROWSER_KEEPS) } }
            p.tools { button #send-now type="button" { (bed::SEND_NOW) } }
        }))
        (section("device-h", bed::THIS_DEVICE, None, &html! {
            div #device {
                p { (bed::WITH_SCRIPTS_THIS_DEVICE_CAN) }
            }
            p.note {
                (bed::TO_INSTALL_THE_BROWSERS_MENU)
            }
        }))
        div data-keep="" data-keep-pages=(kept.join(" ")) hidden {}
    };
    sheet::bedside_page(about, Place::Bedside, bed::AT_THE_BEDSIDE, &content, &[Script::Bedside])
}

/// What a form must carry, and the unit's time: two lines. Only a page of this site can read the answer.
async fn key(State(site): State<Site>) -> Result<Response, Problem> {
    let (_, now) = site.ask(|desk| Ok(desk.now())).await?;
    let text = format!("{}\n{now}\n", site.secret().text());
    Ok(([(header::CONTENT_TYPE, "text/plain; charset=utf-8")], text).into_response())
}

/// The worker that answers without network. It is told by name what to keep: a changed file has a changed address.
async fn worker() -> Response {
    let (shell, version) = sheet::bedside_shell();
    let listed: Vec<String> = shell.iter().map(|address| format!("\"{address}\"")).collect();
    let text = format!(
        "const VERSION = \"{version}\";\nconst SHELL = [{}];\nconst NO_PAGE = {};\n{WORKER}",
        listed.join(", "),
        scripts::quoted(scripts::NO_PAGE),
    );
    let keep = HeaderValue::from_static("no-cache");
    (
        [(header::CONTENT_TYPE, HeaderValue::from_static(sheet::JAVASCRIPT)), (header::CACHE_CONTROL, keep)],
        text,
    )
        .into_response()
}

async fn manifest() -> Response {
    ([(header::CONTENT_TYPE, "application/manifest+json"), (header::CACHE_CONTROL, "no-cache")], MANIFEST)
        .into_response()
}

async fn file(name: &'static str, RawQuery(query): RawQuery) -> Response {
    sheet::bedside_file(name, query.as_deref())
        .unwrap_or_else(|| Problem::Failed(format!("no file of the name {name}")).into_response())
}

async fn icon(bytes: &'static [u8]) -> Response {
    ([(header::CONTENT_TYPE, "image/png"), (header::CACHE_CONTROL, "public, max-age=86400")], bytes)
        .into_response()
}
