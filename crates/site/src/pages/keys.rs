//! Keys by which the pages can be used, and the switch that turns them off (WCAG 2.2, 2.1.4).

use axum::extract::State;
use maud::{Markup, html};

use crate::ask::Site;
use crate::entrance::Viewer;
use crate::parts::section;
use crate::problem::Problem;
use crate::sheet::{self, Place};
use crate::ways;

/// The keys, and where they work.
pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let about = site.about().await?;
    Ok(sheet::page(&about, Place::Keys, "Keys", &content()))
}

fn content() -> Markup {
    let viewer = Viewer::now();
    html! {
        header.opening {
            h1 { "Keys" }
            p.lead { "Everything can be done with the tabulator and Enter. These keys are quicker, and none works while you type in a field." }
        }
        (section("everywhere", "On every page", Some(html! { p { "But not where a draw or a teach-back is marked." } }), &html! {
            table.plain.keys {
                caption { "One key, without Ctrl, Alt or ⌘." }
                thead { tr { th scope="col" { "Key" } th scope="col" { "Leads to" } } }
                tbody {
                    @for (key, words) in ways::keys(&viewer) { tr { th scope="row" { kbd { (key) } } td { (words) } } }
                    tr { th scope="row" { kbd { "F" } } td { "Find by name" } }
                    tr { th scope="row" { kbd { "K" } } td { "This page" } }
                }
            }
            p #keys-off hidden {
                label.pick { input #keys-on type="checkbox" checked; "These keys work in this browser" }
            }
            noscript { p.note { "Without scripts they do not work; the tabulator and Enter do." } }
        }))
        (section("marking", "Where something is marked", Some(html! { p { "They work while the item has the focus, so they are not switched off." } }), &html! {
            table.plain.keys {
                caption { "A teach-back, item by item." }
                thead { tr { th scope="col" { "Key" } th scope="col" { "Mark" } } }
                tbody {
                    @for (key, words) in [
                        ("U", "unprompted; Enter too"), ("P", "after a prompt"), ("L", "led"), ("A", "partial"), ("M", "missed"),
                        ("W", "wrong"), ("S", "unsafe"), ("Backspace", "takes the mark away"), ("↑ ↓", "previous and next item"),
                        ("← →", "change the mark"),
                    ] { tr { th scope="row" { kbd { (key) } } td { (words) } } }
                }
            }
            table.plain.keys {
                caption { "A draw, point by point." }
                thead { tr { th scope="col" { "Key" } th scope="col" { "Mark" } } }
                tbody {
                    @for (key, words) in [
                        ("D", "done; Enter too"), ("P", "after a prompt"), ("W", "wrong"), ("M", "missed"), ("N", "does not apply"),
                        ("Backspace", "takes the mark away"), ("Space", "carrying out: the next step; Page Down and → too"),
                        ("←", "carrying out: the step before; Page Up too"), ("T", "carrying out: starts the time of the step"),
                        ("S", "carrying out: to the buttons of when to stop"),
                    ] { tr { th scope="row" { kbd { (key) } } td { (words) } } }
                }
            }
        }))
    }
}
