//! The drafts that forms keep on this device. The server never sees them: the page is a frame that a script fills.

use axum::extract::State;
use maud::{Markup, html};

use crate::ask::Site;
use crate::parts::section;
use crate::problem::Problem;
use crate::sheet::{self, Place, Script};
use crate::words::bed;

pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let about = site.about().await?;
    let content = html! {
        header.opening {
            h1 { (bed::DRAFTS_ON_THIS_DEVICE) }
            p.lead { (bed::WHAT_WAS_TYPED_IN_A) }
        }
        noscript { p.empty { (bed::WITHOUT_SCRIPTS_NO_FORM_KEEPS) } }
        (section("waiting", bed::WAITING_HERE, Some(html! { p { (bed::A_DRAFT_GOES_WHEN_ITS) } }), &html! {
            (site.secret().field())
            ul #drafts.drafts {}
            p.empty #no-drafts hidden { (bed::NO_DRAFT_WAITS_ON_THIS) }
            p.actions { button.second #clear type="button" hidden { (bed::CLEAR_THIS_DEVICE) } }
            p #cleared role="status" {}
        }))
        (section("borrowed", bed::ON_A_BORROWED_DEVICE, None, &html! {
            p {
                (bed::SAVE_OR_THROW_AWAY_BEFORE)
                (bed::WHOEVER_USES_THIS_BROWSER_CAN)
            }
        }))
    };
    Ok(sheet::page_with(&about, Place::Bedside, bed::DRAFTS_ON_THIS_DEVICE, &content, &[Script::Drafts]))
}
