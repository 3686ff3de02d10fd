//! How far one word is from another, for suggestions.

/// Fewest letters put in, taken out, changed or swapped with a neighbour to make one word from the other
/// (optimal string alignment).
///
/// ```
/// assert_eq!(quantity::spelling::distance("resaon", "reason"), 1);
/// assert_eq!(quantity::spelling::distance("", "step"), 4);
/// ```
pub fn distance(left: &str, right: &str) -> usize {
    let left: Vec<char> = left.chars().collect();
    let right: Vec<char> = right.chars().collect();
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=right.len()).collect();
    for (row, letter) in left.iter().enumerate() {
        let mut now = vec![row + 1];
        for (column, other) in right.iter().enumerate() {
            let mut best =
                (last[column] + usize::from(letter != other)).min(last[column + 1] + 1).min(now[column] + 1);
            if row > 0 && column > 0 && *letter == right[column - 1] && left[row - 1] == *other {
                best = best.min(before_last[column - 1] + 1);
            }
            now.push(best);
        }
        before_last = std::mem::replace(&mut last, now);
    }
    last[right.len()]
}

/// The nearest of several words, when at most `most` letters away.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>, most: usize) -> Option<&'a str> {
    known
        .into_iter()
        .map(|candidate| (distance(word, candidate), candidate))
        .filter(|(letters, _)| *letters <= most)
        .min_by_key(|(letters, _)| *letters)
        .map(|(_, candidate)| candidate)
}
