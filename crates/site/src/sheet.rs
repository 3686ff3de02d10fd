//! The sheet every page is written on: head, ways through, foot.

use axum::extract::RawQuery;
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};
use sha2::{Digest, Sha256};
use std::sync::LazyLock;

use crate::at_once::AtOnce;
use crate::door::About;
use crate::entrance::Viewer;
pub(crate) use crate::ways::Place;
use crate::words::scripts::{self, Group};
use crate::{ways, words};

/// Type, space and colour stand in `look.css` alone; `site.css` uses them.
pub(crate) const STYLE: &str =
    concat!(include_str!("../assets/look.css"), include_str!("../assets/site.css"));
const MARK: &str = include_str!("../assets/mark.svg");
const TEACH_BACK_SCRIPT: &str =
    concat!(include_str!("../assets/words.js"), include_str!("../assets/teach-back.js"));
const KEEP_SCRIPT: &str = concat!(include_str!("../assets/words.js"), include_str!("../assets/keep.js"));
const KEYS_SCRIPT: &str = concat!(include_str!("../assets/keys.js"), include_str!("../assets/dates.js"));
const DRAFTS_SCRIPT: &str = concat!(include_str!("../assets/words.js"), include_str!("../assets/drafts.js"));
pub(crate) const BEDSIDE_SCRIPT: &str =
    concat!(include_str!("../assets/words.js"), include_str!("../assets/bedside.js"));
pub(crate) const OBSERVE_SCRIPT: &str = include_str!("../assets/observe.js");
pub(crate) const CARRY_OUT_SCRIPT: &str = include_str!("../assets/carry-out.js");
const CAMERA_SCRIPT: &str = include_str!("../assets/camera.js");
const TICKER_SCRIPT: &str = include_str!("../assets/ticker.js");
pub(crate) const BEDSIDE_STYLE: &str = include_str!("../assets/bedside.css");

/// The start of a file's digest: a changed file has a changed address, so a browser may keep one for good.
static STYLE_VERSION: LazyLock<String> = LazyLock::new(|| version(STYLE));
static TEACH_BACK_VERSION: LazyLock<String> = LazyLock::new(|| version(TEACH_BACK_SCRIPT));
static KEEP_VERSION: LazyLock<String> = LazyLock::new(|| version(KEEP_SCRIPT));
static KEYS_VERSION: LazyLock<String> = LazyLock::new(|| version(KEYS_SCRIPT));
static DRAFTS_VERSION: LazyLock<String> = LazyLock::new(|| version(DRAFTS_SCRIPT));
/// One for all files of the pages at the bed: a device keeps them together.
static BEDSIDE_VERSION: LazyLock<String> = LazyLock::new(|| {
    let all = [
        BEDSIDE_SCRIPT,
        OBSERVE_SCRIPT,
        CARRY_OUT_SCRIPT,
        CAMERA_SCRIPT,
        TICKER_SCRIPT,
        BEDSIDE_STYLE,
        STYLE,
    ];
    version(&all.concat())
});

fn version(text: &str) -> String {
    Sha256::digest(text).iter().take(8).map(|byte| format!("{byte:02x}")).collect()
}

/// A script that makes a page handier. Every page works without.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Script {
    /// Marks a teach-back by key, keeps its order and times, and a draft of it on the device.
    TeachBack,
    /// Keeps a draft of any other form on the device.
    Keep,
    /// Throws away drafts that have run out, and lists those that wait; before the two above.
    Drafts,
    /// Leads through the pages by keys and reads dates back in words; on every page where no key marks something else.
    Keys,
    /// What the pages at the bed share: what waits to be sent, work without network.
    Bedside,
    /// Marks a draw by key or tap.
    Observe,
    /// Leads through a draw one step at a time.
    CarryOut,
}

impl Script {
    fn address(self) -> String {
        match self {
            Script::TeachBack => format!("/teach-back.js?v={}", *TEACH_BACK_VERSION),
            Script::Keep => format!("/keep.js?v={}", *KEEP_VERSION),
            Script::Drafts => format!("/drafts.js?v={}", *DRAFTS_VERSION),
            Script::Keys => format!("/keys.js?v={}", *KEYS_VERSION),
            Script::Bedside => format!("/bedside.js?v={}", *BEDSIDE_VERSION),
            Script::Observe => format!("/observe.js?v={}", *BEDSIDE_VERSION),
            Script::CarryOut => format!("/carry-out.js?v={}", *BEDSIDE_VERSION),
        }
    }

    /// What it says, which the page brings.
    pub(crate) fn words(self) -> &'static [Group] {
        match self {
            Script::TeachBack => &[scripts::SHARED, scripts::TEACH_BACK],
            Script::Keep => &[scripts::SHARED, scripts::KEEP],
            Script::Drafts => &[scripts::SHARED, scripts::DRAFTS],
            Script::Keys => &[],
            Script::Bedside => &[scripts::SHARED, scripts::AT_THE_BED, scripts::BEDSIDE],
            Script::Observe => &[scripts::SHARED, scripts::AT_THE_BED, scripts::OBSERVE],
            Script::CarryOut => &[scripts::SHARED, scripts::AT_THE_BED, scripts::OBSERVE, scripts::CARRY_OUT],
        }
    }
}

/// A page: its title, where it belongs, and what is on it. The content starts with the page's only `h1`.
pub(crate) fn page(about: &About, place: Place, title: &str, content: &Markup) -> Markup {
    sheet(Some(about), Some(place), title, content, &Brings::Nothing)
}

/// A page with scripts that make it handier.
pub(crate) fn page_with(
    about: &About,
    place: Place,
    title: &str,
    content: &Markup,
    scripts: &[Script],
) -> Markup {
    sheet(Some(about), Some(place), title, content, &Brings::Scripts(scripts))
}

/// A page at the bed: large, installable, kept on the device for work without network, with a line for what waits.
pub(crate) fn bedside_page(
    about: &About,
    place: Place,
    title: &str,
    content: &Markup,
    scripts: &[Script],
) -> Markup {
    sheet(Some(about), Some(place), title, content, &Brings::Bedside(scripts))
}

/// A page at the bed that comes with its style and its scripts in one answer.
pub(crate) fn draw_page(about: &About, title: &str, content: &Markup, at_once: AtOnce) -> Markup {
    sheet(Some(about), Some(Place::Bedside), title, content, &Brings::AtOnce(at_once))
}

/// A page that is left for another place by itself, which it also names in a link.
pub(crate) fn going_on(about: &About, title: &str, content: &Markup, there: &str) -> Markup {
    sheet(Some(about), None, title, content, &Brings::AWayOn(there))
}

/// A page of the program before there is a unit.
pub(crate) fn alone(title: &str, content: &Markup) -> Markup {
    sheet(None, None, title, content, &Brings::Nothing)
}

/// The page of a problem. It asks nobody anything, since the desk may be what failed.
pub(crate) fn problem(title: &str, content: Markup) -> Markup {
    let content = html! {
        header.opening { h1 { (title) } }
        div.prose { (content) }
    };
    sheet(None, None, title, &content, &Brings::Nothing)
}

/// What a page brings beside its text.
enum Brings<'a> {
    Nothing,
    /// Another place to go to.
    AWayOn(&'a str),
    Scripts(&'a [Script]),
    /// As the pages at the bed: large, installable, with a line for what waits.
    Bedside(&'a [Script]),
    /// The same, all in one answer.
    AtOnce(AtOnce),
}

fn sheet(
    about: Option<&About>,
    place: Option<Place>,
    title: &str,
    content: &Markup,
    brings: &Brings<'_>,
) -> Markup {
    let viewer = Viewer::now();
    let brought = match brings {
        Brings::Scripts(scripts) | Brings::Bedside(scripts) => *scripts,
        Brings::Nothing | Brings::AWayOn(_) | Brings::AtOnce(_) => &[],
    };
    let at_the_bed = matches!(brings, Brings::Bedside(_) | Brings::AtOnce(_));
    html! {
        (DOCTYPE)
        html lang=(words::LANGUAGE) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="robots" content="noindex, nofollow";
                @if let Brings::AWayOn(there) = brings { meta http-equiv="refresh" content={ "0; url=" (there) }; }
                title {
                    (title)
                    @if let Some(about) = about { " · " (about.unit) }
                    " · Wardwright"
                }
                link rel="icon" href="/mark.svg" type="image/svg+xml";
                @if matches!(brings, Brings::AtOnce(_)) { (AtOnce::style()) } @else {
                    link rel="stylesheet" href={ "/site.css?v=" (*STYLE_VERSION) };
                }
                @if matches!(brings, Brings::Bedside(_)) {
                    link rel="stylesheet" href={ "/bedside.css?v=" (*BEDSIDE_VERSION) };
                }
                @if at_the_bed {
                    link rel="manifest" href="/bedside.webmanifest";
                    meta name="theme-color" content="#0a5a66";
                }
                @for script in brought { script src=(script.address()) defer {} }
                // Where keys mark what is seen or heard, none may lead away.
                @if about.is_some() && !at_the_bed && !brought.contains(&Script::TeachBack) { script src=(Script::Keys.address()) defer {} }
            }
            body {
                a.skip href="#content" { (words::SKIP) }
                header.head {
                    p.unit {
                        @if let Some(about) = about {
                            bdi { (about.unit) }
                            @if about.invented { span.invented { (words::INVENTED_UNIT) } }
                        } @else { "Wardwright" }
                    }
                    (ways::ways(&viewer, place))
                }
                @if at_the_bed {
                    p.waiting-line hidden {
                        span #waiting-line role="status" {} " " a href="/bedside#waiting-h" { "What waits" }
                    }
                }
                main #content tabindex="-1" { (content) }
                footer.foot {
                    p { (words::CAUTION) }
                    @if let Some(about) = about {
                        @if about.invented { p { (words::ALL_INVENTED) } }
                        p {
                            "Wardwright " (about.version)
                            @if !about.data_folder.is_empty() && viewer.may_know_the_place() { " · " bdi { (about.data_folder) } }
                            " · " a href="/drafts" { (words::DRAFTS) }
                            " · " a href="/keys" { (words::KEYS) }
                        }
                    }
                }
                @match brings {
                    Brings::AtOnce(at_once) => { (scripts::block(at_once.script().words())) (at_once.scripts()) }
                    _ => (scripts::block(brought.iter().flat_map(|script| script.words()))),
                }
            }
        }
    }
}

/// Every script of the pages, with one that brings what it says.
#[cfg(test)]
pub(crate) const TEXTS: [(Script, &str); 10] = [
    (Script::TeachBack, TEACH_BACK_SCRIPT),
    (Script::Keep, KEEP_SCRIPT),
    (Script::Drafts, DRAFTS_SCRIPT),
    (Script::Keys, KEYS_SCRIPT),
    (Script::Bedside, BEDSIDE_SCRIPT),
    (Script::Observe, OBSERVE_SCRIPT),
    (Script::Observe, CAMERA_SCRIPT),
    (Script::CarryOut, CARRY_OUT_SCRIPT),
    (Script::CarryOut, TICKER_SCRIPT),
    (Script::Bedside, crate::pages::bedside::WORKER),
];

/// The style sheet. It may be kept only under the address that names its content.
pub(crate) async fn style(RawQuery(query): RawQuery) -> Response {
    versioned("text/css; charset=utf-8", query.as_deref(), &STYLE_VERSION, STYLE)
}

/// The script of the teach-back page.
pub(crate) async fn teach_back_script(RawQuery(query): RawQuery) -> Response {
    versioned(JAVASCRIPT, query.as_deref(), &TEACH_BACK_VERSION, TEACH_BACK_SCRIPT)
}

/// The script that keeps drafts of forms.
pub(crate) async fn keep_script(RawQuery(query): RawQuery) -> Response {
    versioned(JAVASCRIPT, query.as_deref(), &KEEP_VERSION, KEEP_SCRIPT)
}

/// The script that throws away, lists and clears drafts.
pub(crate) async fn drafts_script(RawQuery(query): RawQuery) -> Response {
    versioned(JAVASCRIPT, query.as_deref(), &DRAFTS_VERSION, DRAFTS_SCRIPT)
}

/// The script that leads through the pages by keys and reads dates back in words.
pub(crate) async fn keys_script(RawQuery(query): RawQuery) -> Response {
    versioned(JAVASCRIPT, query.as_deref(), &KEYS_VERSION, KEYS_SCRIPT)
}

/// The files of the pages at the bed, each under its own name.
pub(crate) fn bedside_file(name: &str, query: Option<&str>) -> Option<Response> {
    let (kind, text) = match name {
        "bedside.js" => (JAVASCRIPT, BEDSIDE_SCRIPT),
        "observe.js" => (JAVASCRIPT, OBSERVE_SCRIPT),
        "carry-out.js" => (JAVASCRIPT, CARRY_OUT_SCRIPT),
        "camera.js" => (JAVASCRIPT, CAMERA_SCRIPT),
        "ticker.js" => (JAVASCRIPT, TICKER_SCRIPT),
        "bedside.css" => ("text/css; charset=utf-8", BEDSIDE_STYLE),
        _ => return None,
    };
    Some(versioned(kind, query, &BEDSIDE_VERSION, text))
}

/// Addresses of everything the pages at the bed are made of, and a name for all of it together.
pub(crate) fn bedside_shell() -> (Vec<String>, String) {
    let scripts = [Script::Bedside, Script::Observe, Script::CarryOut].map(Script::address);
    let scripts = scripts.into_iter().chain([camera_address(), ticker_address()]);
    let styles = [format!("/site.css?v={}", *STYLE_VERSION), format!("/bedside.css?v={}", *BEDSIDE_VERSION)];
    (scripts.chain(styles).collect(), BEDSIDE_VERSION.clone())
}

/// The file that reads codes with the camera; asked for only where a browser can.
pub(crate) fn camera_address() -> String {
    format!("/camera.js?v={}", *BEDSIDE_VERSION)
}

/// The pulse for the times of a draw.
pub(crate) fn ticker_address() -> String {
    format!("/ticker.js?v={}", *BEDSIDE_VERSION)
}

pub(crate) const JAVASCRIPT: &str = "text/javascript; charset=utf-8";

fn versioned(kind: &'static str, query: Option<&str>, version: &str, text: &'static str) -> Response {
    let named = query.and_then(|query| query.strip_prefix("v=")) == Some(version);
    asset(kind, if named { "public, max-age=31536000, immutable" } else { "no-cache" }, text)
}

/// The mark in the browser's tab.
pub(crate) async fn mark() -> Response {
    asset("image/svg+xml", "public, max-age=86400", MARK)
}

fn asset(kind: &'static str, keep: &'static str, text: &'static str) -> Response {
    let mut headers = HeaderMap::new();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    (headers, text).into_response()
}
