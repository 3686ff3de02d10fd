use axum::extract::State;
use maud::{Markup, html};

use crate::ask::Site;
use crate::markdown;
use crate::problem::Problem;
use crate::sheet::{self, Place};

/// How every figure is worked out, with an anchor for each method.
pub(crate) async fn show(State(site): State<Site>) -> Result<Markup, Problem> {
    let (about, text) = site.ask(|desk| Ok(markdown::render(desk.methods()))).await?;
    let title = text.title.as_deref().unwrap_or("Methods");
    let content = html! {
        header.opening { h1 { (title) } }
        div.methods {
            @if !text.contents.is_empty() {
                nav.contents aria-label="Methods on this page" {
                    ul { @for (anchor, words) in &text.contents { li { a href={ "#" (anchor) } { (words) } } } }
                }
            }
            article.prose { (text.body) }
        }
    };
    Ok(sheet::page(&about, Place::Methods, title, &content))
}
