//! The drafts that forms keep on this device. The server never sees them: the page is a frame that a script fills.

use axum::extract::State;
use maud::{Markup, html};

use crate::ask::Site;
use crate::parts::section;
use crate::problem::Problem;
use crate::sheet::{self, Place, Script};

pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let about = site.about().await?;
    let content = html! {
        header.opening {
            h1 { "Drafts on this device" }
            p.lead { "What was typed in a form here and not saved yet. It lies in this browser alone and is in no record book." }
        }
        noscript { p.empty { "Without scripts no form keeps a draft on this device." } }
        (section("waiting", "Waiting here", Some(html! { p { "A draft goes when its entry is saved, when you throw it away, and 14 days after it was last touched." } }), &html! {
            (site.secret().field())
            ul #drafts.drafts {}
            p.empty #no-drafts hidden { "No draft waits on this device." }
            p.actions { button.second #clear type="button" hidden { "Clear this device" } }
            p #cleared role="status" {}
        }))
        (section("borrowed", "On a borrowed device", None, &html! {
            p {
                "Save or throw away before you hand it back. A draft holds marks, staff identifiers, the note, and for a transcript its words; "
                "whoever uses this browser can read it. Drafts that have run out are thrown away when a page with a form is next opened here."
            }
        }))
    };
    Ok(sheet::page_with(&about, Place::Bedside, "Drafts on this device", &content, &[Script::Drafts]))
}
