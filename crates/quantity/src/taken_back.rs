//! Numbers taken back in the same breath: "twenty no thirty seconds".

use crate::find::Found;
use crate::tokens::Token;

/// Words that take back the number before them.
const TAKES_BACK: &[&str] =
    &["no", "sorry", "wait", "mean", "rather", "correction", "actually", "think", "was", "nope"];
/// Words that may stand beside those.
const BESIDE: &[&str] = &[
    "i", "or", "it", "is", "er", "um", "uh", "well", "hang", "on", "oh", "that", "make", "it's", "hm", "not",
];
/// Most words between a number and the one that takes its place.
const MOST_BETWEEN: usize = 5;

/// Leaves out each number that was taken back; what it was of stays with the one in its place.
pub(crate) fn corrected(found: Vec<Found>, tokens: &[Token]) -> Vec<Found> {
    let mut kept: Vec<Found> = Vec::with_capacity(found.len());
    for mut next in found {
        if let Some(last) = kept.last()
            && takes_back(tokens, last.end, next.start)
            && (last.unit == next.unit || last.unit.is_none() || next.unit.is_none())
            && (last.counted == next.counted || last.counted.is_none() || next.counted.is_none())
        {
            if next.unit.is_none() {
                let factor = last.factor;
                next.low = next.low.map(|low| low * factor);
                next.high = next.high.map(|high| high * factor);
                (next.unit, next.counted, next.factor) = (last.unit, last.counted, factor);
            }
            next.per = next.per.or(last.per);
            kept.pop();
        }
        kept.push(next);
    }
    kept
}

/// True where nothing stands between two places but words that take back what was said.
fn takes_back(tokens: &[Token], from: usize, to: usize) -> bool {
    let first = tokens.partition_point(|token| token.start < from);
    let between = tokens[first..].iter().take_while(|token| token.end <= to).filter(|token| !token.is_stop());
    let words: Vec<&str> = between.map(|token| token.word().unwrap_or("")).collect();
    let known = |word: &&str| TAKES_BACK.contains(word) || BESIDE.contains(word);
    (1..=MOST_BETWEEN).contains(&words.len())
        && words.iter().all(known)
        && words.iter().any(|word| TAKES_BACK.contains(word))
}

#[cfg(test)]
mod tests {
    use crate::find_spoken;

    #[test]
    fn a_number_taken_back_is_left_out() {
        let rows: &[(&str, &[f64])] = &[
            ("scrub twenty no thirty seconds", &[30.0]),
            ("thirty i mean ten seconds", &[10.0]),
            ("five mils or was it ten i think eight to ten mils", &[8.0]),
            ("one hour no sorry one minute", &[60.0]),
            ("ten minutes no five", &[300.0]),
            // Other numbers stay.
            ("dry thirty no fanning fifteen for the tops", &[30.0, 15.0]),
            ("fifteen seconds alcohol thirty dry", &[15.0, 30.0]),
            ("ten or fifteen seconds", &[10.0, 15.0]),
            ("two sets no ten mils", &[2.0, 10.0]),
            ("six steps i think one identifier", &[6.0, 1.0]),
        ];
        for (text, expected) in rows {
            let found: Vec<f64> = find_spoken(text).iter().filter_map(|one| one.low).collect();
            assert_eq!(found, *expected, "{text}");
        }
    }
}
