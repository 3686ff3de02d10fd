//! State by word and shape. Every mark stands beside its word; colour adds nothing that the word does not say.

use desk::Urgency;
use maud::{Markup, PreEscaped, html};

/// Shapes that differ without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    Triangle,
    Square,
    Diamond,
    Ring,
    Speech,
    Hand,
    Pen,
}

impl Shape {
    pub(crate) fn of_urgency(urgency: Urgency) -> Shape {
        match urgency {
            Urgency::BeforeNextDraw => Shape::Triangle,
            Urgency::Today => Shape::Square,
            Urgency::ThisWeek => Shape::Diamond,
            Urgency::Later => Shape::Ring,
        }
    }
}

/// A small drawing beside a word; hidden from screen readers, which have the word.
pub(crate) fn shape(shape: Shape) -> Markup {
    drawing(match shape {
        Shape::Triangle => r#"<path d="M8 2 15 14H1z" fill="currentColor"/>"#,
        Shape::Square => r#"<path d="M2.5 2.5h11v11h-11z" fill="currentColor"/>"#,
        Shape::Diamond => {
            r#"<path d="M8 1.5 14.5 8 8 14.5 1.5 8z" fill="none" stroke="currentColor" stroke-width="2"/>"#
        }
        Shape::Ring => {
            r#"<circle cx="8" cy="8" r="5.5" fill="none" stroke="currentColor" stroke-width="2"/>"#
        }
        Shape::Speech => {
            r#"<path d="M2 3h12v8H8l-4 3v-3H2z" fill="none" stroke="currentColor" stroke-width="1.6"/>"#
        }
        Shape::Hand => r#"<path d="M2 8.5 6 13 14 3" fill="none" stroke="currentColor" stroke-width="2.2"/>"#,
        Shape::Pen => {
            r#"<path d="M2 14l2-5 7-7 3 3-7 7zM3 14h11" fill="none" stroke="currentColor" stroke-width="1.6"/>"#
        }
    })
}

/// The mark of a safety point: triangle and word.
pub(crate) fn safety_mark() -> Markup {
    html! { span.safety { (shape(Shape::Triangle)) "Safety" } }
}

/// A standing: how far it reaches as a frame that fills from below, then in words. `short` is the word that
/// decides the frame, `words` is what stands beside it: the same, or the standing in full.
pub(crate) fn standing(short: &str, words: &str) -> Markup {
    html! { span.standing { (drawing(reach(short))) (words) } }
}

/// The frame of a standing. A word not known here gets a broken frame, so that it is never taken for another.
fn reach(short: &str) -> &'static str {
    match short {
        "not planned" => {
            r#"<path d="M2 2h12v12H2z" fill="none" stroke="currentColor" stroke-width="1.4" stroke-dasharray="2 2"/>"#
        }
        "planned" => r#"<path d="M2 2h12v12H2z" fill="none" stroke="currentColor" stroke-width="1.6"/>"#,
        "learning" | "learning, draws watched" => {
            r#"<path d="M2 2h12v12H2z" fill="none" stroke="currentColor" stroke-width="1.6"/><path d="M2 10h12v4H2z" fill="currentColor"/>"#
        }
        "own patients" => {
            r#"<path d="M2 2h12v12H2z" fill="none" stroke="currentColor" stroke-width="1.6"/><path d="M2 6.5h12V14H2z" fill="currentColor"/>"#
        }
        "all patients" => r#"<path d="M1.5 1.5h13v13h-13z" fill="currentColor"/>"#,
        "may precept" => {
            r#"<path d="M1 1h14v14H1z" fill="none" stroke="currentColor" stroke-width="1.4"/><path d="M3.5 3.5h9v9h-9z" fill="currentColor"/>"#
        }
        // Was further once: full below, broken above.
        "to be updated" => {
            r#"<path d="M2 7V2h4M10 2h4v5" fill="none" stroke="currentColor" stroke-width="1.6"/><path d="M1.2 7h13.6v7.8H1.2z" fill="currentColor"/>"#
        }
        "withdrawn" => {
            r#"<path d="M2 2h12v12H2zM2 14 14 2" fill="none" stroke="currentColor" stroke-width="1.6"/>"#
        }
        _ => {
            r#"<path d="M2 2h5M9 2h5v5M14 9v5H9M7 14H2V9M2 7V2" fill="none" stroke="currentColor" stroke-width="1.6"/>"#
        }
    }
}

fn drawing(inside: &'static str) -> Markup {
    html! {
        svg.mark viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false" { (PreEscaped(inside)) }
    }
}
