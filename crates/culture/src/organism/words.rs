//! Cutting a laboratory's name into words.

/// One word of a name, in lower case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    pub text: String,
    /// It stood between brackets.
    pub bracketed: bool,
}

/// Cuts a name into lower-case words; "+", "-" and "?" that stand alone are words of their own.
pub(super) fn words(name: &str) -> Vec<Word> {
    let mut found = Vec::new();
    let mut current = String::new();
    let mut depth = 0_u32;
    let mut characters = name.chars().peekable();
    let mut push = |text: String, bracketed: bool| {
        if !text.is_empty() {
            found.push(Word { text, bracketed });
        }
    };
    while let Some(character) = characters.next() {
        if character.is_alphanumeric() {
            current.extend(character.to_lowercase());
            continue;
        }
        push(std::mem::take(&mut current), depth > 0);
        match character {
            // "coag-ve", "gram +ve".
            '+' | '-' if is_sign_of_ve(&characters) => {
                characters.next();
                characters.next();
                push(if character == '+' { "pos" } else { "neg" }.to_owned(), depth > 0);
            }
            '(' | '[' => depth += 1,
            ')' | ']' => depth = depth.saturating_sub(1),
            '+' | '?' => push(character.to_string(), depth > 0),
            // A hyphen inside "coagulase-negative" only parts two words; at the end of "coag -" it is a sign.
            '-' if !characters.peek().is_some_and(|next| next.is_alphanumeric()) => {
                push("-".to_owned(), depth > 0);
            }
            _ => {}
        }
    }
    push(current, depth > 0);
    found
}

fn is_sign_of_ve(after: &std::iter::Peekable<std::str::Chars<'_>>) -> bool {
    let mut after = after.clone();
    let mut letter = || after.next().map(|letter| letter.to_ascii_lowercase());
    letter() == Some('v') && letter() == Some('e') && !letter().is_some_and(char::is_alphanumeric)
}

/// British and American spellings meet: "haemolyticus" and "hemolyticus" give the same key.
pub(super) fn folded(word: &str) -> String {
    word.replace("ae", "e").replace("oe", "e")
}

/// The key under which a whole phrase is looked up.
pub(super) fn key(words: &[String]) -> String {
    words.join(" ")
}

/// The words of a name as lookup keys.
pub(super) fn folded_words(name: &str) -> Vec<String> {
    words(name).iter().map(|word| folded(&word.text)).collect()
}
