//! The methods page: Markdown in, HTML out, with an anchor on every heading.

use std::collections::BTreeMap;

use maud::{Markup, PreEscaped, html};
use pulldown_cmark::{CowStr, Event, HeadingLevel, Options, Parser, Tag, TagEnd};

/// A page of text made from Markdown.
pub(crate) struct Text {
    /// The first heading of the first level, which is the page's title.
    pub(crate) title: Option<String>,
    /// Headings of the second level: anchor and words.
    pub(crate) contents: Vec<(String, String)>,
    /// Everything else.
    pub(crate) body: Markup,
}

/// The anchors that a text in Markdown offers, in order: what `/methods#...` can lead to.
pub fn anchors(markdown: &str) -> Vec<String> {
    events_with_anchors(markdown)
        .iter()
        .filter_map(|event| match event {
            Event::Start(Tag::Heading { id: Some(id), .. }) => Some(id.to_string()),
            _ => None,
        })
        .collect()
}

/// Renders a text. Raw HTML in it is shown as text: the site writes all its own elements.
pub(crate) fn render(markdown: &str) -> Text {
    let mut title = None;
    let mut contents = Vec::new();
    let mut body = Vec::new();
    let mut in_dead_link = false;
    let mut events = events_with_anchors(markdown).into_iter();
    while let Some(event) = events.next() {
        match event {
            Event::Start(Tag::Heading { level: HeadingLevel::H1, .. }) if title.is_none() => {
                let words: Vec<Event<'_>> = events
                    .by_ref()
                    .take_while(|event| !matches!(event, Event::End(TagEnd::Heading(_))))
                    .collect();
                title = Some(plain(&words));
            }
            Event::Start(Tag::Heading { level, id, classes, attrs }) => {
                // The page has one heading of the first level, and its title is it.
                let level = if level == HeadingLevel::H1 { HeadingLevel::H2 } else { level };
                let words: Vec<Event<'_>> = events
                    .by_ref()
                    .take_while(|event| !matches!(event, Event::End(TagEnd::Heading(_))))
                    .collect();
                if level == HeadingLevel::H2
                    && let Some(id) = &id
                {
                    contents.push((id.to_string(), plain(&words)));
                }
                body.push(Event::Start(Tag::Heading { level, id, classes, attrs }));
                body.extend(words);
                body.push(Event::End(TagEnd::Heading(level)));
            }
            // A wide table scrolls in its own frame, reachable by keyboard, so that the page never does.
            Event::Start(Tag::Table(alignment)) => {
                body.push(Event::Html(
                    r#"<div class="scroll" role="region" aria-label="Table" tabindex="0">"#.into(),
                ));
                body.push(Event::Start(Tag::Table(alignment)));
            }
            Event::End(TagEnd::Table) => {
                body.push(Event::End(TagEnd::Table));
                body.push(Event::Html("</div>".into()));
            }
            // A picture or a file of the repository has no address here: its words stay.
            Event::Start(Tag::Image { .. }) | Event::End(TagEnd::Image) => {}
            Event::Start(Tag::Link { ref dest_url, .. }) if !leads_somewhere(dest_url) => in_dead_link = true,
            Event::End(TagEnd::Link) if in_dead_link => in_dead_link = false,
            Event::Html(raw) | Event::InlineHtml(raw) => body.push(Event::Text(raw)),
            other => body.push(other),
        }
    }
    let mut rendered = String::new();
    pulldown_cmark::html::push_html(&mut rendered, body.into_iter());
    // A code block may be wider than a phone: it scrolls, so the keyboard must reach it.
    let rendered =
        rendered.replace("<pre>", r#"<pre tabindex="0" role="region" aria-label="Formula or example">"#);
    // The policy forbids inline styles, so the alignment of a column becomes a class.
    let rendered = ["th", "td"].into_iter().fold(rendered, |text, element| {
        text.replace(
            &format!(r#"<{element} style="text-align: right">"#),
            &format!(r#"<{element} class="number">"#),
        )
        .replace(&format!(r#"<{element} style="text-align: left">"#), &format!("<{element}>"))
        .replace(&format!(r#"<{element} style="text-align: center">"#), &format!("<{element}>"))
    });
    Text { title, contents, body: html! { (PreEscaped(rendered)) } }
}

/// True for places on this page, pages of this site and pages elsewhere; nothing else is made a link.
fn leads_somewhere(address: &str) -> bool {
    let here = address.starts_with('#') || (address.starts_with('/') && !address.starts_with("//"));
    here || address.starts_with("https://") || address.starts_with("http://")
}

/// The events of a text in which every heading has an id that occurs once.
fn events_with_anchors(markdown: &str) -> Vec<Event<'_>> {
    let options = Options::ENABLE_TABLES | Options::ENABLE_HEADING_ATTRIBUTES | Options::ENABLE_FOOTNOTES;
    let mut events: Vec<Event<'_>> = Parser::new_ext(markdown, options).collect();
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    for start in 0..events.len() {
        let words = match &events[start] {
            Event::Start(Tag::Heading { id: None, .. }) => {
                let end = events[start..]
                    .iter()
                    .position(|event| matches!(event, Event::End(TagEnd::Heading(_))))
                    .map_or(events.len(), |length| start + length);
                plain(&events[start..end])
            }
            Event::Start(Tag::Heading { id: Some(id), .. }) => id.to_string(),
            _ => continue,
        };
        let anchor = once(anchor(&words), &mut taken);
        if let Event::Start(Tag::Heading { id, .. }) = &mut events[start] {
            *id = Some(CowStr::from(anchor));
        }
    }
    events
}

/// The words of a heading without their marking.
fn plain(events: &[Event<'_>]) -> String {
    events
        .iter()
        .filter_map(|event| match event {
            Event::Text(text) | Event::Code(text) => Some(text.as_ref()),
            Event::SoftBreak | Event::HardBreak => Some(" "),
            _ => None,
        })
        .collect()
}

/// The anchor of a heading as repositories on the web form it: small letters, hyphens for spaces, no punctuation.
fn anchor(words: &str) -> String {
    words
        .trim()
        .to_lowercase()
        .chars()
        .filter_map(|c| match c {
            ' ' => Some('-'),
            c if c.is_alphanumeric() || c == '-' || c == '_' => Some(c),
            _ => None,
        })
        .collect()
}

fn once(anchor: String, taken: &mut BTreeMap<String, usize>) -> String {
    let times = taken.entry(anchor.clone()).or_insert(0);
    *times += 1;
    if *times == 1 { anchor } else { format!("{anchor}-{}", *times - 1) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_get_the_anchors_that_links_expect() {
        let text = "# How figures are worked out\n\n## `wilson`\n\nText.\n\n## Exact limits, p chart\n\n### wilson\n\n## Given {#own-name}\n";
        assert_eq!(
            anchors(text),
            ["how-figures-are-worked-out", "wilson", "exact-limits-p-chart", "wilson-1", "own-name"]
        );
        let text = render(text);
        assert_eq!(text.title.as_deref(), Some("How figures are worked out"));
        assert_eq!(text.contents[0], ("wilson".to_owned(), "wilson".to_owned()));
        assert!(text.body.into_string().contains(r#"<h2 id="wilson"><code>wilson</code></h2>"#));
    }

    #[test]
    fn nothing_is_styled_inline() {
        let body = render("| a | b | c |\n| :- | -: | :-: |\n| 1 | 2 | 3 |\n").body.into_string();
        assert!(!body.contains("style="), "{body}");
        assert!(body.contains(r#"<td class="number">2</td>"#), "{body}");
    }

    #[test]
    fn raw_html_is_text() {
        let body =
            render("Hello <script>alert(1)</script>\n\n<div onclick=x>block</div>\n").body.into_string();
        assert!(!body.contains("<script") && !body.contains("<div onclick"), "{body}");
        assert!(body.contains("&lt;script&gt;"), "{body}");
    }

    #[test]
    fn links_cannot_run_anything() {
        let body =
            render("[a](javascript:alert(1)) [b](https://example.org/x) [c](#wilson) [d](other.md)").body;
        assert_eq!(
            body.into_string(),
            "<p>a <a href=\"https://example.org/x\">b</a> <a href=\"#wilson\">c</a> d</p>\n"
        );
    }
}
