//! The words of a text that carry its meaning, in a form in which "cleaning" meets "clean".

/// Words that say nothing by themselves. Negations are not among them: "not" carries meaning.
const EMPTY: &[&str] = &[
    "a", "about", "after", "all", "also", "am", "an", "and", "any", "are", "as", "at", "be", "because",
    "been", "before", "but", "by", "can", "cause", "do", "does", "er", "for", "from", "get", "gets", "go",
    "going", "gonna", "had", "has", "have", "he", "her", "here", "his", "i", "if", "i'm", "in", "into", "is",
    "it", "it's", "its", "just", "let", "like", "may", "me", "might", "must", "my", "now", "of", "off",
    "okay", "ok", "on", "or", "our", "out", "own", "she", "should", "so", "some", "than", "that", "that's",
    "the", "their", "them", "then", "until", "till", "there", "these", "they", "this", "those", "to", "uh",
    "um", "up", "us", "was", "we", "well", "were", "what", "when", "where", "which", "while", "who", "will",
    "with", "would", "yeah", "you", "your",
];

/// The words of a text that carry meaning, in lower case and cut to their stem, in order and with repeats.
///
/// ```
/// use breakdown::content_words;
/// assert_eq!(content_words("Let the skin dry"), content_words("the skin is drying"));
/// assert_eq!(content_words("do not touch"), ["not", "touch"]);
/// ```
pub fn content_words(text: &str) -> Vec<String> {
    text.split(|c: char| !(c.is_alphanumeric() || matches!(c, '\'' | '’')))
        .map(|word| word.trim_matches(['\'', '’']).to_lowercase().replace('’', "'"))
        .filter(|word| !word.is_empty() && !EMPTY.contains(&word.as_str()))
        .map(|word| expand_negation(&word).unwrap_or_else(|| stem(&word)))
        .collect()
}

/// "don't", "never", "no" and their kind all say "not".
fn expand_negation(word: &str) -> Option<String> {
    let negative = word.ends_with("n't")
        || matches!(
            word,
            "never"
                | "no"
                | "not"
                | "nothing"
                | "nobody"
                | "cannot"
                | "without"
                | "dont"
                | "avoid"
                | "neither"
                | "nor"
        );
    negative.then(|| "not".to_owned())
}

/// Cuts endings so that forms of one word meet. Plain suffix rules for English; a wrong cut is harmless as long as
/// both texts are cut the same way.
fn stem(word: &str) -> String {
    let word = word.strip_suffix("'s").unwrap_or(word);
    let cut = |ending: &str, least: usize| {
        word.strip_suffix(ending).filter(|rest| rest.chars().count() >= least && rest.contains(is_vowel))
    };
    let base = if let Some(rest) = cut_y(word) {
        format!("{rest}y")
    } else if let Some(rest) = cut("ing", 2).or_else(|| cut("ed", 2).filter(|rest| !rest.ends_with('e'))) {
        rest.to_owned()
    } else if let Some(rest) = cut("s", 3).filter(|rest| !rest.ends_with('s') && !rest.ends_with('u')) {
        rest.to_owned()
    } else {
        word.to_owned()
    };
    let mut letters: Vec<char> = base.chars().collect();
    if letters.len() > 2 && letters.last() == Some(&'e') {
        letters.pop();
    }
    if letters.len() > 3 && letters[letters.len() - 1] == letters[letters.len() - 2] {
        letters.pop();
    }
    let stem: String = letters.into_iter().collect();
    // "Note it down" negates nothing.
    if stem == "not" { "note".to_owned() } else { stem }
}

fn cut_y(word: &str) -> Option<&str> {
    ["ies", "ied"]
        .into_iter()
        .find_map(|ending| word.strip_suffix(ending))
        .filter(|rest| rest.chars().count() >= 2)
}

fn is_vowel(letter: char) -> bool {
    matches!(letter, 'a' | 'e' | 'i' | 'o' | 'u' | 'y')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forms_of_one_word_meet() {
        for forms in [
            ["scrub", "scrubbing", "scrubbed", "scrubs"],
            ["dry", "drying", "dried", "dries"],
            ["bottle", "bottles", "bottle's", "Bottles"],
            ["label", "labelling", "labelled", "labels"],
            ["fill", "filling", "filled", "fills"],
            ["press", "pressing", "pressed", "press"],
            ["clean", "cleaning", "cleaned", "cleans"],
            ["use", "using", "used", "uses"],
        ] {
            let stems: Vec<_> = forms.iter().map(|form| content_words(form)).collect();
            assert!(stems.iter().all(|stem| *stem == stems[0]), "{forms:?} {stems:?}");
        }
        assert_ne!(content_words("thirteen"), content_words("thirty"));
        assert_eq!(content_words("don't, never, without"), ["not", "not", "not"]);
        assert_eq!(content_words("note notes noting"), ["note", "note", "note"]);
    }
}
