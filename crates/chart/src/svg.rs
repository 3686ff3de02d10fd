use std::fmt::Write as _;

use crate::labels::{Labels, Layout, Look, Palette};
use crate::text::escape;

/// What a mark is drawn in; the palette turns it into a colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Text and points.
    Full,
    /// Secondary text.
    Quiet,
    /// Limits, axes and the line between points.
    Line,
    /// What lies behind.
    Ground,
    /// Signals; they differ in shape too.
    Signal,
}

/// Which end of a text its place names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// A drawing being written from back to front.
pub(crate) struct Drawing<'a> {
    look: &'a Look,
    body: String,
    /// Size of the text in units of the drawing.
    pub(crate) font_size: f64,
    /// Width in units of the drawing.
    pub(crate) width: f64,
}

impl<'a> Drawing<'a> {
    pub(crate) fn new(look: &'a Look) -> Drawing<'a> {
        let (width, font_size) = match look.layout {
            Layout::Wide => (760.0, 14.0),
            Layout::Narrow => (340.0, 12.0),
        };
        Drawing { look, body: String::new(), font_size, width }
    }

    /// Room that a text takes, estimated from above for proportional fonts: there are no font metrics here.
    pub(crate) fn room_for(&self, text: &str) -> f64 {
        text.chars().count() as f64 * self.font_size * 0.56
    }

    /// How many characters fit into a width.
    pub(crate) fn characters_in(&self, width: f64) -> usize {
        (width / (self.font_size * 0.56)).max(1.0) as usize
    }

    pub(crate) fn is_page(&self) -> bool {
        self.look.palette == Palette::Page
    }

    pub(crate) fn colour(&self, ink: Ink) -> &'static str {
        match (self.look.palette, ink) {
            (Palette::Page, Ink::Full) => "var(--chart-ink, currentColor)",
            (Palette::Page, Ink::Quiet) => "var(--chart-quiet, currentColor)",
            (Palette::Page, Ink::Line) => "var(--chart-line, currentColor)",
            (Palette::Page, Ink::Ground) => "var(--chart-ground, Canvas)",
            (Palette::Page, Ink::Signal) => "var(--chart-signal, currentColor)",
            (Palette::Print, Ink::Full | Ink::Signal) => "#111111",
            (Palette::Print, Ink::Quiet) => "#444444",
            (Palette::Print, Ink::Line) => "#777777",
            (Palette::Print, Ink::Ground) => "#ffffff",
        }
    }

    /// Opens a group; `attributes` are written as they are.
    pub(crate) fn open(&mut self, attributes: &str) {
        let space = if attributes.is_empty() { "" } else { " " };
        let _ = write!(self.body, "<g{space}{attributes}>");
    }

    pub(crate) fn close(&mut self) {
        self.body.push_str("</g>\n");
    }

    pub(crate) fn tooltip(&mut self, text: &str) {
        let _ = write!(self.body, "<title>{}</title>", escape(text));
    }

    pub(crate) fn text(&mut self, (x, y): (f64, f64), anchor: Anchor, ink: Ink, text: &str) {
        self.text_with((x, y), anchor, ink, "", text);
    }

    pub(crate) fn bold(&mut self, (x, y): (f64, f64), anchor: Anchor, ink: Ink, text: &str) {
        self.text_with((x, y), anchor, ink, " font-weight=\"bold\"", text);
    }

    pub(crate) fn text_with(&mut self, (x, y): (f64, f64), anchor: Anchor, ink: Ink, more: &str, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\"{anchor} fill=\"{}\"{more}>{}</text>",
            unit(x),
            unit(y),
            self.colour(ink),
            escape(text)
        );
    }

    /// An open path through the places given, straight from one to the next.
    pub(crate) fn path(&mut self, places: &[(f64, f64)], ink: Ink, width: f64, dash: &str) {
        if places.len() < 2 {
            return;
        }
        let mut data = String::new();
        for (index, (x, y)) in places.iter().enumerate() {
            let command = if index == 0 { 'M' } else { 'L' };
            let _ = write!(data, "{command}{} {}", unit(*x), unit(*y));
        }
        let dash = if dash.is_empty() { String::new() } else { format!(" stroke-dasharray=\"{dash}\"") };
        let _ = writeln!(
            self.body,
            "<path d=\"{data}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{dash}/>",
            self.colour(ink),
            unit(width)
        );
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), ink: Ink, width: f64, dash: &str) {
        self.path(&[from, to], ink, width, dash);
    }

    /// A filled dot with a thin edge of the ground, so that it stands out from a line behind it.
    pub(crate) fn dot(&mut self, (x, y): (f64, f64), radius: f64, ink: Ink) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"1\"/>",
            unit(x),
            unit(y),
            unit(radius),
            self.colour(ink),
            self.colour(Ink::Ground)
        );
    }

    pub(crate) fn ring(&mut self, (x, y): (f64, f64), radius: f64, ink: Ink) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.3\"/>",
            unit(x),
            unit(y),
            unit(radius),
            self.colour(ink)
        );
    }

    pub(crate) fn diamond(&mut self, (x, y): (f64, f64), radius: f64, ink: Ink) {
        let _ = writeln!(
            self.body,
            "<path d=\"M{} {}L{} {}L{} {}L{} {}Z\" fill=\"{}\" stroke=\"{}\" stroke-width=\"1\"/>",
            unit(x),
            unit(y - radius),
            unit(x + radius),
            unit(y),
            unit(x),
            unit(y + radius),
            unit(x - radius),
            unit(y),
            self.colour(ink),
            self.colour(Ink::Ground)
        );
    }

    /// An area that answers to the pointer and shows nothing. Paper has no pointer.
    pub(crate) fn pointer_area(&mut self, x: f64, y: f64, width: f64, height: f64) {
        if self.is_page() {
            let _ = write!(
                self.body,
                "<rect class=\"chart-hit\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"none\" pointer-events=\"all\"/>",
                unit(x),
                unit(y),
                unit(width),
                unit(height)
            );
        }
    }

    /// A line that says how the chart is worked out, as a link where one was given and the page can follow it.
    pub(crate) fn method(&mut self, place: (f64, f64), text: &str, labels: &Labels) {
        match self.method_link(labels) {
            Some(href) => {
                let _ = write!(self.body, "<a class=\"chart-method\" href=\"{}\">", escape(href));
                self.text_with(place, Anchor::Start, Ink::Quiet, " text-decoration=\"underline\"", text);
                self.body.push_str("</a>\n");
            }
            None => self.text(place, Anchor::Start, Ink::Quiet, text),
        }
    }

    /// Where the method is explained, if the drawing can lead there.
    pub(crate) fn method_link<'l>(&self, labels: &'l Labels) -> Option<&'l str> {
        let href = labels.anchor_href.as_deref()?.trim();
        let local = (href.starts_with('/') && !href.starts_with("//")) || href.starts_with('#');
        (self.is_page() && (local || href.starts_with("https://"))).then_some(href)
    }

    /// The finished drawing. `description` is what a screen reader says after the title.
    pub(crate) fn finish(self, height: f64, labels: &Labels, description: &str) -> String {
        let id = identifier(&self.look.id);
        // An image hides what is in it from a screen reader; links and points that can be reached must not be hidden.
        let is_group = self.look.tab_points || self.method_link(labels).is_some();
        let role = if is_group { "group" } else { "img" };
        let layout = match self.look.layout {
            Layout::Wide => "wide",
            Layout::Narrow => "narrow",
        };
        let font = match (&self.look.font_family, self.look.palette) {
            (Some(family), _) => format!(" font-family=\"{}\"", escape(family)),
            (None, Palette::Print) => " font-family=\"sans-serif\"".to_owned(),
            (None, Palette::Page) => String::new(),
        };
        let size = match self.look.palette {
            Palette::Page => String::new(),
            Palette::Print => format!(" width=\"{}\" height=\"{}\"", unit(self.width), unit(height)),
        };
        let ground = match self.look.palette {
            Palette::Page => String::new(),
            Palette::Print => {
                format!(
                    "<rect width=\"{}\" height=\"{}\" fill=\"#ffffff\"/>\n",
                    unit(self.width),
                    unit(height)
                )
            }
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart chart-{layout}\" viewBox=\"0 0 {} {}\"{size} \
             role=\"{role}\" aria-labelledby=\"{id}-title {id}-desc\" font-size=\"{}\"{font}>\n\
             <title id=\"{id}-title\">{}</title>\n<desc id=\"{id}-desc\">{}</desc>\n{ground}{}</svg>\n",
            unit(self.width),
            unit(height),
            unit(self.font_size),
            escape(&labels.title),
            escape(description),
            self.body
        )
    }
}

/// A coordinate with at most two decimals. Places come from scales, which keep them finite.
pub(crate) fn unit(value: f64) -> String {
    debug_assert!(value.is_finite(), "a coordinate came out as {value}");
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// An identifier that XML and style sheets accept.
fn identifier(wish: &str) -> String {
    let kept: String =
        wish.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' }).collect();
    format!("chart-{}", if kept.is_empty() { "1" } else { &kept })
}
