//! The words of a cue: tags and character references taken out, voices kept apart, speakers named.

use teachback::SpokenLine;

use super::Numbered;

/// The spoken lines of one cue; two voices in one cue give two lines that share its time.
pub(super) fn spoken(words: &[&str], start_s: Option<f64>, end_s: Option<f64>) -> Vec<SpokenLine> {
    let mut pieces: Vec<(Option<String>, String)> = Vec::new();
    let mut voice: Option<String> = None;
    for line in words {
        let dashed =
            line.trim_start().strip_prefix(['-', '–', '—']).filter(|rest| rest.starts_with([' ', '\u{a0}']));
        let chevron =
            line.trim_start().strip_prefix(">>").or_else(|| line.trim_start().strip_prefix("&gt;&gt;"));
        let new_turn = dashed.is_some() || chevron.is_some();
        let line = dashed.or(chevron).unwrap_or(line);
        for (speaker, text) in by_voice(line, &mut voice) {
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            if text.is_empty() {
                continue;
            }
            match pieces.last_mut().filter(|(known, _)| !new_turn && *known == speaker && !has_prefix(&text))
            {
                Some((_, above)) => {
                    above.push(' ');
                    above.push_str(&text);
                }
                None => pieces.push((speaker, text)),
            }
        }
    }
    pieces.into_iter().map(|(speaker, text)| SpokenLine { start_s, end_s, speaker, text }).collect()
}

/// A line without its tags and with its character references read.
pub(super) fn without_tags(line: &str) -> String {
    let pieces = by_voice(line, &mut None);
    let text: String = pieces.into_iter().map(|(_, text)| text).collect();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Cuts a line at its `<v Name>` tags and drops every other tag. A voice lasts until the next one or its end tag.
fn by_voice(line: &str, voice: &mut Option<String>) -> Vec<(Option<String>, String)> {
    let mut pieces = vec![(voice.clone(), String::new())];
    let mut rest = line;
    while let Some(open) = rest.find('<') {
        let Some(close) = rest[open..].find('>') else { break };
        let tag = &rest[open + 1..open + close];
        push(&mut pieces, &rest[..open]);
        if let Some(name) = voice_name(tag) {
            *voice = Some(name);
            pieces.push((voice.clone(), String::new()));
        } else if tag.trim() == "/v" {
            *voice = None;
            pieces.push((None, String::new()));
        }
        rest = &rest[open + close + 1..];
    }
    // A "<" that no ">" closes is kept as it stands, so that no words are lost.
    push(&mut pieces, rest);
    pieces
}

fn push(pieces: &mut [(Option<String>, String)], text: &str) {
    if let Some((_, last)) = pieces.last_mut() {
        last.push_str(&characters(text));
    }
}

/// "v Learner" and "v.loud Learner" name a voice.
fn voice_name(tag: &str) -> Option<String> {
    let rest = tag.strip_prefix('v')?;
    let (classes, name) = rest.split_once([' ', '\t'])?;
    let name = name.trim();
    ((classes.is_empty() || classes.starts_with('.')) && !name.is_empty()).then(|| characters(name))
}

/// The character references WebVTT files use; an unknown one stays as it is.
fn characters(text: &str) -> String {
    if !text.contains('&') {
        return text.to_owned();
    }
    let mut read = text.replace("&lrm;", "").replace("&rlm;", "").replace("&nbsp;", " ");
    for (reference, letter) in
        [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&apos;", "'")]
    {
        read = read.replace(reference, letter);
    }
    // Last, so that "&amp;lt;" stays "&lt;".
    read.replace("&amp;", "&")
}

/// Names that are roles, whether or not they come again.
const ROLES: &[&str] =
    &["trainer", "learner", "nurse", "preceptor", "trainee", "teacher", "student", "t", "l"];
/// First words of a line that are its content: "Step one: check".
const CONTENT: &[&str] =
    &["step", "key", "point", "reason", "note", "number", "first", "second", "third", "so", "and", "then"];

/// "Trainer: what next?": the name becomes the speaker where it is a role or comes more than once in the file.
pub(super) fn name_speakers(lines: &mut [Numbered]) {
    let mut names: Vec<(String, usize)> = Vec::new();
    for (_, line) in lines.iter() {
        let Some((name, _)) = prefix(&line.text) else { continue };
        match names.iter_mut().find(|(known, _)| known == name) {
            Some((_, count)) => *count += 1,
            None => names.push((name.to_owned(), 1)),
        }
    }
    for (_, line) in lines.iter_mut().filter(|(_, line)| line.speaker.is_none()) {
        let Some((name, rest)) = prefix(&line.text) else { continue };
        let again = names.iter().any(|(known, count)| known == name && *count > 1);
        if again || is_role(name) {
            (line.speaker, line.text) = (Some(name.to_owned()), rest.to_owned());
        }
    }
}

fn has_prefix(text: &str) -> bool {
    prefix(text).is_some_and(|(name, _)| is_role(name))
}

fn is_role(name: &str) -> bool {
    let lower = name.to_lowercase();
    ROLES.contains(&lower.as_str()) || lower.starts_with("speaker ")
}

/// A name of one to three words before a colon, and what follows it.
fn prefix(text: &str) -> Option<(&str, &str)> {
    let (name, rest) = text.split_once(':')?;
    let name = name.trim().trim_matches(['[', ']', '(', ')']);
    let plain = |letter: char| letter.is_alphanumeric() || matches!(letter, ' ' | '.' | '-' | '_' | '\'');
    let n_words = name.split_whitespace().count();
    let first = name.split_whitespace().next()?.to_lowercase();
    let starts = name.starts_with(char::is_alphabetic);
    let is_name = starts && (1..=3).contains(&n_words) && name.len() <= 40 && name.chars().all(plain);
    (is_name && !CONTENT.contains(&first.as_str()) && !rest.trim().is_empty()).then(|| (name, rest.trim()))
}
