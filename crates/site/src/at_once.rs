//! A page with everything it needs in one answer: on a slow network every further question costs as long again as the
//! first. Its style and its scripts stand in it, without the comments, and the policy of content names them by their
//! digests, so that nothing else may run.

use std::fmt::Write;
use std::sync::LazyLock;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use crate::sheet::{BEDSIDE_SCRIPT, BEDSIDE_STYLE, CARRY_OUT_SCRIPT, OBSERVE_SCRIPT, STYLE, Script};

/// Sections of the style sheet that a draw does without, by the first words of their headings.
const NOT_AT_A_DRAW: [&str; 14] = [
    "What needs the trainer",
    "Tables",
    "The heading above says the same",
    "Counts by group or by point",
    "Charts",
    "Looking for people",
    "A transcript's proposals",
    "A card with its points hidden",
    "A record",
    "The next draw",
    "Lists of jobs and months",
    "Release",
    "Text",
    "One collection",
];

/// A tap on "Start" before the scripts are here is remembered on the button.
const EARLY: &str =
    "(function(b){b.onclick=function(){b.dataset.early=\"yes\"}})(document.getElementById(\"begin\"))";

/// The pages that come in one answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum AtOnce {
    /// A draw is marked.
    Observe,
    /// A draw is led through.
    CarryOut,
}

static DRAW_STYLE: LazyLock<String> = LazyLock::new(|| {
    let of_draws: String = sections(STYLE)
        .filter(|(heading, _)| !NOT_AT_A_DRAW.iter().any(|not| heading.starts_with(not)))
        .map(|(_, text)| text)
        .collect();
    bare_style(&(of_draws + BEDSIDE_STYLE))
});
static OBSERVE: LazyLock<String> = LazyLock::new(|| bare_script(&[BEDSIDE_SCRIPT, OBSERVE_SCRIPT]));
static CARRY_OUT: LazyLock<String> =
    LazyLock::new(|| bare_script(&[BEDSIDE_SCRIPT, OBSERVE_SCRIPT, CARRY_OUT_SCRIPT]));

/// What the policy of content names beside the files of this site: digests for scripts, and for style.
pub(crate) static DIGESTS: LazyLock<(String, String)> = LazyLock::new(|| {
    let scripts = [OBSERVE.as_str(), CARRY_OUT.as_str(), EARLY].map(digest).join(" ");
    (scripts, digest(&DRAW_STYLE))
});

impl AtOnce {
    /// The style, for the head.
    pub(crate) fn style() -> Markup {
        html! { style { (PreEscaped(DRAW_STYLE.as_str())) } }
    }

    /// The script whose words the page brings; they are those of the ones before it too.
    pub(crate) fn script(self) -> Script {
        match self {
            AtOnce::Observe => Script::Observe,
            AtOnce::CarryOut => Script::CarryOut,
        }
    }

    /// The scripts, for the end of the page: they find everything above them.
    pub(crate) fn scripts(self) -> Markup {
        let text = match self {
            AtOnce::Observe => OBSERVE.as_str(),
            AtOnce::CarryOut => CARRY_OUT.as_str(),
        };
        html! { script { (PreEscaped(text)) } }
    }

    /// What stands behind the button that begins.
    pub(crate) fn early() -> Markup {
        html! { script { (PreEscaped(EARLY)) } }
    }
}

/// The digest of a text as a policy of content names it (Content Security Policy Level 3, "hash-source").
fn digest(text: &str) -> String {
    let mut named = String::from("'sha256-");
    // Writing to a string cannot fail.
    let _ = write!(named, "{}'", STANDARD.encode(Sha256::digest(text)));
    named
}

/// Sections of a style sheet: the words of the comment that stands at the beginning of a line, and all up to the next.
fn sections(style: &str) -> impl Iterator<Item = (&str, &str)> {
    let mut starts: Vec<usize> = style.match_indices("\n/* ").map(|(at, _)| at + 1).collect();
    starts.insert(0, 0);
    starts.push(style.len());
    let spans: Vec<(usize, usize)> = starts.windows(2).map(|pair| (pair[0], pair[1])).collect();
    spans.into_iter().map(|(from, to)| {
        let text = &style[from..to];
        (text.strip_prefix("/* ").unwrap_or_default(), text)
    })
}

/// A style sheet without comments and without white space at the ends of lines.
fn bare_style(style: &str) -> String {
    let mut bare = String::new();
    let mut rest = style;
    while let Some((before, after)) = rest.split_once("/*") {
        bare.push_str(before);
        rest = after.split_once("*/").map_or("", |(_, after)| after);
    }
    bare.push_str(rest);
    lines(&bare, |_| true)
}

/// A part of a script that the bedside page alone needs stands between these lines.
const BEGIN: &str = "// BEGIN the bedside page alone";
const END: &str = "// END the bedside page alone";

/// Scripts without that part, without lines that are comments and without white space at the ends of lines. A text over several lines would
/// be changed: there is none, and a test says so.
fn bare_script(scripts: &[&str]) -> String {
    let all = scripts.concat();
    let mut kept = String::with_capacity(all.len());
    let mut rest = all.as_str();
    while let Some((before, after)) = rest.split_once(BEGIN) {
        kept.push_str(before);
        rest = after.split_once(END).map_or("", |(_, after)| after.trim_start_matches(|c| c != '\n'));
    }
    kept.push_str(rest);
    lines(&kept, |line| !line.starts_with("//"))
}

fn lines(text: &str, keep: impl Fn(&str) -> bool) -> String {
    let kept = text.lines().map(str::trim).filter(|line| !line.is_empty() && keep(line));
    kept.fold(String::with_capacity(text.len()), |mut all, line| {
        all.push_str(line);
        all.push('\n');
        all
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4's "abc", in base 64 by hand of its hexadecimal form.
    #[test]
    fn a_digest_as_the_policy_names_it() {
        assert_eq!(digest("abc"), "'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='");
    }

    #[test]
    fn what_is_left_out_is_there_to_be_left_out() {
        for not in NOT_AT_A_DRAW {
            assert!(
                sections(STYLE).any(|(heading, _)| heading.starts_with(not)),
                "no section {not:?} any more"
            );
        }
        let all: String = sections(STYLE).map(|(_, text)| text).collect();
        assert_eq!(all, STYLE, "the sections are the whole");
        assert!(!DRAW_STYLE.contains("/*") && DRAW_STYLE.contains(".draw .choice"));
        assert_eq!(DRAW_STYLE.matches('{').count(), DRAW_STYLE.matches('}').count());
    }

    /// What ends a script or a style early, and texts over several lines, which taking white space away would change.
    #[test]
    fn nothing_in_them_is_changed_by_standing_in_a_page() {
        for script in [BEDSIDE_SCRIPT, OBSERVE_SCRIPT, CARRY_OUT_SCRIPT] {
            for line in script.lines() {
                assert!(line.matches('`').count() % 2 == 0, "a text over several lines: {line}");
            }
        }
        for text in [CARRY_OUT.as_str(), OBSERVE.as_str(), DRAW_STYLE.as_str(), EARLY] {
            let lower = text.to_lowercase();
            assert!(!lower.contains("</script") && !lower.contains("</style") && !lower.contains("<!--"));
        }
        assert!(CARRY_OUT.starts_with(OBSERVE.as_str()));
        assert_eq!([BEGIN, END].map(|mark| BEDSIDE_SCRIPT.matches(mark).count()), [1, 1]);
        assert!(BEDSIDE_SCRIPT.contains("signOut") && !OBSERVE.contains("signOut"));
        assert!(OBSERVE.contains("function keys(") && OBSERVE.contains("return { DRAFT"));
    }
}
