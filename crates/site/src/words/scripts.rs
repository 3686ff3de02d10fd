//! What the scripts say. A page brings the words of its scripts in a block of data, which a strict policy of content lets
//! through because nothing in it can run; a script asks for them by key. `{0}`, `{1}` stand for what a script puts in.

use std::collections::BTreeMap;

use maud::{Markup, PreEscaped, html};

/// Keys and words, one group for each script or for those that share them.
pub(crate) type Group = &'static [(&'static str, &'static str)];

/// What several scripts say.
pub(crate) const SHARED: Group = &[
    // How times and days are written, as BCP 47 names it.
    ("locale", "en-GB"),
    ("throw", "Throw it away"),
    ("go-on-with", "Go on with it"),
    ("gone", "It is gone."),
    ("throw-draft", "Throw the draft away"),
    ("no-draft", "This browser keeps no draft: finish and save before you leave the page."),
    ("restored", "Restored from this device: what was marked until {0}."),
];

/// Every page at the bed.
pub(crate) const AT_THE_BED: Group = &[
    ("n-waiting", "{0} not sent yet"),
    ("n-refused", "{0} refused: see the bedside page"),
    ("n-sent", "{0} sent"),
    ("draw-of", "Draw by {0}, {1}, began {2}"),
    ("not-taken", "The program answered {0} and did not take it."),
];

/// The bedside page alone.
pub(crate) const BEDSIDE: Group = &[
    ("refused-here", "Refused, and kept here:"),
    ("change-it", "Open and change it"),
    ("as-new", "Write it as a new entry"),
    ("throw-really", "Really throw it away"),
    ("waits", "Waits for the network."),
    ("unfinished", "Unfinished: {0}."),
    ("nothing-waits", "Nothing waits on this device."),
    ("is-out", "This device is signed out: it holds no names, no drafts and no pages of the unit."),
    ("use-device", "Use this device at the bedside"),
    ("out-loses", "{0} entries or drafts are not in the record book: signing out removes them for good."),
    (
        "device-keeps",
        "So that it works without network, this device keeps the pages of the bed with the names of the unit, and drafts.",
    ),
    ("out", "Sign out of this device"),
    ("out-remove", "Remove them and sign out"),
    ("out-really", "Really sign out"),
];

/// A draw that is marked.
pub(crate) const OBSERVE: Group = &[
    ("of", "{0} of {1}"),
    ("safety-missed", "Safety point not done: {0}. If it can still hurt, say so now."),
    ("does-not-count", "This draw will be saved and will not count towards release: {0}."),
    ("start", "Start"),
    ("end", "End"),
    ("go-on", "Go on"),
    ("other-draw", "A draw of this job that was marked until {0} was not saved."),
    ("mark-rest", "Mark the rest as done…"),
    ("all-marked", "Every key point is marked."),
    ("ask-rest", "Not marked yet. Did you see each of them done?"),
    ("saw-all", "I saw all {0} done"),
    ("marked-together", "{0} marked together as done."),
    ("by-myself", "No, I mark them myself"),
    ("half-code", "“{0}” is half a code. Scan it again."),
    ("cut-code", "The scanner gave only “{0}”, without its end: half a code. Scan it again."),
    ("other-code", "“{0}” does not look like the laboratory’s numbers ({1}). Scan it again, or keep it."),
    ("keep-it", "Keep it"),
    ("who-drew", "Drawn by: choose whose hands drew."),
    ("who-watched", "Watched by: choose who watched."),
    ("not-own", "Watched by: nobody watches their own draw."),
    ("none-marked", "No key point is marked yet."),
    ("no-network", "There is no network."),
    ("send-later", "Keep it on this device, send it later"),
    (
        "keeps-nothing",
        "This browser keeps nothing for later: stay on this page and save once there is network.",
    ),
    ("camera", "Use the camera"),
    ("camera-stop", "Stop the camera"),
    ("camera-read", "Read: {0} signs."),
    ("camera-fails", "The camera cannot be used here. Use a scanner, or type the code."),
    ("camera-none", "This browser reads no codes. Use a scanner, or type the code."),
    ("camera-refused", "The camera was not given, or is in use. Use a scanner, or type the code."),
    ("camera-hold", "Hold the code into the picture."),
    ("camera-many", "More than one code is in the picture: cover the others."),
];

/// A draw that is led through.
pub(crate) const CARRY_OUT: Group = &[
    ("time", "Time"),
    ("start-time", "Start the time"),
    ("start-of", "Start {0}, {1} seconds"),
    ("get-ready", "Get ready: {0}"),
    ("runs", "{0}: {1} seconds"),
    ("at-least", "{0}: at least {1} s"),
    ("passed", "{0}: the time has passed"),
    ("again", "Passed, start again"),
    (
        "moved",
        "The clock of this device was moved by {0} s. The times here do not follow it; look at the time of the draw.",
    ),
    ("slept", "This device slept for {0} s; that time was counted."),
    ("next", "Next step"),
    ("done", "Draw is done"),
    ("back", "Back"),
    ("when-to-stop", "When to stop"),
    ("stopped", "The draw is stopped"),
    ("pressing", "pressing"),
    ("time-pressing", "Time {0} minutes of pressing"),
    ("go-on-draw", "Go on with the draw"),
    ("band-label", "Band and label"),
    ("band-and-label", "Wristband and label"),
    ("scan-band", "Scan the wristband, or type it."),
    ("scan-label", "Now scan the label."),
    ("code", "Code"),
    ("same", "The same. Match them aloud all the same."),
    ("differ", "They differ. Stop: do not draw, do not label. Ask again who this is."),
    ("compare-again", "Compare again"),
    ("take", "Take it"),
    ("close", "Close"),
    ("codes-stay", "The codes are compared on this device; they are neither kept nor sent."),
    ("specimen", "Specimen number {0}."),
    (
        "other-code-led",
        "“{0}” does not look like the laboratory’s numbers: see the last page, or scan it again.",
    ),
];

/// A teach-back that is marked.
pub(crate) const TEACH_BACK: Group = &[
    ("n-judged", "{0} of {1} items judged"),
    ("n-decided", "{0} of {1} decided"),
    ("unsafe", "Unsafe on {0}: stop the pass, put it right at once, then finish."),
    ("turned", "Order turned round: {0}."),
    ("before", "{0} before {1}"),
    ("clock-starts", "The clock starts with the first mark."),
    ("other-pass", "A pass of this person that began at {0} was not saved."),
];

/// The list of drafts.
pub(crate) const DRAFTS: Group = &[
    ("draft-teach-back", "Teach-back"),
    ("draft-transcript", "Teach-back from a transcript"),
    ("draft-breakdown", "Breakdown"),
    ("draft-form", "Form"),
    ("draft-draw", "Observed draw"),
    ("draft-of", " of {0}"),
    ("touched", "Last touched {0}; thrown away after {1}."),
    ("clear-one", "Clear this device: throw away the draft"),
    ("clear-all", "Clear this device: throw away all {0} drafts"),
    ("clear-really", "Really? They are in no record book. Tap again to throw them away for good"),
    ("cleared", "This device holds no draft any more."),
];

/// A form whose draft is kept.
pub(crate) const KEEP: Group = &[
    ("no-draft-publish", "This browser keeps no draft: publish before you leave the page."),
    ("form-draft", "On this device there is a draft of this form, typed until {0}."),
    ("bring-back", "Bring it back"),
    ("draft-gone", "The draft is gone."),
];

/// What the worker of the bedside answers where it kept no page.
pub(crate) const NO_PAGE: &str = "No network, and this page was not opened on this device before. Open the bedside page once while there is network.";

/// The block that scripts read. Each key stands in it once; nothing in it can end the block early.
pub(crate) fn block<'a>(groups: impl IntoIterator<Item = &'a Group>) -> Markup {
    let words: BTreeMap<&str, &str> = groups.into_iter().flat_map(|group| group.iter().copied()).collect();
    if words.is_empty() {
        return Markup::default();
    }
    let text: Vec<String> =
        words.iter().map(|(key, word)| format!("{}:{}", quoted(key), quoted(word))).collect();
    html! { script #script-words type="application/json" { (PreEscaped(format!("{{{}}}", text.join(",")))) } }
}

/// A text as JSON writes it (RFC 8259), and as a block of data in a page may hold it.
pub(crate) fn quoted(text: &str) -> String {
    let mut made = String::with_capacity(text.len() + 2);
    made.push('"');
    for sign in text.chars() {
        match sign {
            '"' | '\\' => made.extend(['\\', sign]),
            '<' | '\u{2028}' | '\u{2029}' | '\0'..='\u{1f}' => {
                made.push_str(&format!("\\u{:04x}", u32::from(sign)))
            }
            _ => made.push(sign),
        }
    }
    made.push('"');
    made
}

#[cfg(test)]
pub(super) mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::sheet::TEXTS;

    const GROUPS: [Group; 8] = [SHARED, AT_THE_BED, BEDSIDE, OBSERVE, CARRY_OUT, TEACH_BACK, DRAFTS, KEEP];

    /// The texts in a script outside its comments: between quotation marks, and templates without what is put in.
    pub(in crate::words) fn texts(script: &str) -> Vec<String> {
        let lines = script.lines().map(str::trim).filter(|line| !line.starts_with("//"));
        let code = lines.collect::<Vec<_>>().join("\n");
        let mut found = Vec::new();
        let mut rest = code.chars().peekable();
        while let Some(sign) = rest.next() {
            if sign != '"' && sign != '`' {
                continue;
            }
            let mut text = String::new();
            let mut depth = 0_u32;
            while let Some(next) = rest.next() {
                match next {
                    '\\' => drop(rest.next()),
                    '$' if sign == '`' && rest.peek() == Some(&'{') => depth += 1,
                    '}' if depth > 0 => depth -= 1,
                    _ if depth > 0 => {}
                    _ if next == sign => break,
                    _ => text.push(next),
                }
            }
            found.push(text);
        }
        found
    }

    /// A sentence: two words beside each other, or a single word with a capital that names no key of a keyboard.
    pub(in crate::words) fn is_said(text: &str) -> bool {
        const NAMES: [&str; 15] = [
            "Enter",
            "Backspace",
            "Delete",
            "Shift",
            "ArrowDown",
            "ArrowUp",
            "ArrowLeft",
            "ArrowRight",
            "PageDown",
            "PageUp",
            "BarcodeDetector",
            "POST",
            "GET",
            "use strict",
            "DOMContentLoaded",
        ];
        if NAMES.contains(&text) || text.contains(['[', ']', '=', '#', '>', ';', '|']) {
            return false;
        }
        let words: Vec<&str> = text.split(' ').collect();
        let is_word = |word: &str| word.len() > 1 && word.chars().all(char::is_alphabetic);
        let begins_large = text.chars().next().is_some_and(char::is_uppercase)
            && text.chars().skip(1).any(char::is_lowercase);
        begins_large || words.windows(2).any(|pair| pair.iter().all(|word| is_word(word)))
    }

    #[test]
    fn no_script_says_anything_of_its_own() {
        assert!(is_said("Next step") && is_said("Start") && is_said("half a code now"));
        assert!(texts("a(`x ${b(\"c\")} y`, \"d\")").iter().eq(["x  y", "d"]));
        for (script, text) in TEXTS {
            let said: Vec<String> = texts(text).into_iter().filter(|text| is_said(text)).collect();
            assert!(said.is_empty(), "{script:?} says {said:?}: its words belong in this file");
        }
    }

    /// Every literal that follows `say(`: also where a condition chooses between two.
    fn asked(script: &str) -> BTreeSet<String> {
        let known: BTreeSet<&str> =
            GROUPS.iter().flat_map(|group| group.iter().map(|(key, _)| *key)).collect();
        let mut keys = BTreeSet::new();
        for call in script.split("say(").skip(1) {
            let mut depth = 1_u32;
            let end = call.find(|sign| {
                match sign {
                    '(' => depth += 1,
                    ')' => depth -= 1,
                    _ => {}
                }
                depth == 0
            });
            let inside = &call[..end.unwrap_or(call.len())];
            let literals = texts(inside);
            // The first literal is the key; where a condition chooses, all that are keys.
            if inside.starts_with('"') {
                keys.extend(literals.first().cloned());
            } else {
                keys.extend(literals.into_iter().filter(|text| known.contains(text.as_str())));
            }
        }
        keys
    }

    #[test]
    fn every_key_that_a_script_asks_for_stands_in_what_its_page_brings() {
        let mut used = BTreeSet::new();
        for (script, text) in TEXTS {
            let brings: BTreeSet<&str> =
                script.words().iter().flat_map(|group| group.iter().map(|(key, _)| *key)).collect();
            for key in asked(text) {
                assert!(
                    brings.contains(key.as_str()),
                    "{script:?} asks for {key:?}, which its page does not bring"
                );
                used.insert(key);
            }
        }
        // Named by what kind of draft it is.
        used.extend(
            ["teach-back", "transcript", "breakdown", "form", "draw"].map(|kind| format!("draft-{kind}")),
        );
        for (key, _) in GROUPS.iter().flat_map(|group| group.iter()) {
            assert!(used.contains(*key), "nothing says {key:?} any more");
        }
    }

    #[test]
    fn each_key_stands_once_and_each_text_is_whole() {
        let all: Vec<&str> = GROUPS.iter().flat_map(|group| group.iter().map(|(key, _)| *key)).collect();
        assert_eq!(all.iter().collect::<BTreeSet<_>>().len(), all.len(), "a key stands twice");
        let page = block(&GROUPS).into_string();
        let inside = page.strip_prefix("<script id=\"script-words\" type=\"application/json\">").unwrap();
        let inside = inside.strip_suffix("</script>").unwrap();
        assert!(!inside.contains('<'));
        let read: BTreeMap<String, String> = serde_json::from_str(inside).unwrap();
        assert_eq!(read.len(), all.len());
        assert_eq!(quoted("a\"\\\n<b"), "\"a\\\"\\\\\\u000a\\u003cb\"");
    }
}
