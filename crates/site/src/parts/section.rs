//! The frame of a page: a rail with the heading beside what it heads, and tables that turn into cards on a phone.

use maud::{Markup, html};

use super::marks::{Shape, shape};

/// A section: heading and a note in the rail, content beside it; above one another on a phone.
pub(crate) fn section(id: &str, heading: &str, note: Option<Markup>, content: &Markup) -> Markup {
    html! {
        section.part aria-labelledby=(id) {
            div.rail {
                h2 id=(id) { (heading) }
                @if let Some(note) = note { div.note { (note) } }
            }
            div.content { (content) }
        }
    }
}

/// A table that becomes cards on a phone, so the roles are written out: a changed display may lose them. Rows are
/// `tr role="row"` whose first cell is a `th scope="row" role="rowheader"` and whose others come from [`cell`].
/// `kind` is the class by which the style sheet sets its columns. The caption is text alone: a table whose role
/// is written out may not hold a heading or a link outside its rows.
pub(crate) fn table(kind: &str, caption: &str, columns: &[&str], rows: &Markup) -> Markup {
    html! {
        table class={ "cards " (kind) } role="table" {
            caption { (caption) }
            thead role="rowgroup" {
                tr role="row" {
                    @for column in columns { th scope="col" role="columnheader" { (column) } }
                }
            }
            tbody role="rowgroup" { (rows) }
        }
    }
}

/// A cell that carries its column's name for the phone, where the column heads are not shown.
pub(crate) fn cell(column: &str, content: &Markup) -> Markup {
    html! { td role="cell" data-label=(column) { span { (content) } } }
}

/// A box of cautions.
pub(crate) fn caution(id: &str, heading: &str, cautions: &[String]) -> Markup {
    html! {
        @if !cautions.is_empty() {
            section.caution aria-labelledby=(id) {
                h2 id=(id) { (shape(Shape::Triangle)) (heading) }
                ul { @for caution in cautions { li { (caution) } } }
            }
        }
    }
}

/// Text that came from outside, kept from reordering what stands around it.
pub(crate) fn name(text: &str) -> Markup {
    html! { bdi { (text) } }
}
