//! "Did you mean": the known name nearest to one that was not found.

/// The candidate that differs in the fewest letters, ignoring case, if it is near enough to be a slip.
pub(crate) fn nearest<'a>(wanted: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let plain = |text: &str| -> Vec<char> {
        text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).take(64).collect()
    };
    let wanted = plain(wanted);
    let (distance, best) = candidates
        .into_iter()
        .map(|candidate| {
            let letters = plain(candidate);
            let contained = !wanted.is_empty()
                && !letters.is_empty()
                && (contains(&letters, &wanted) || contains(&wanted, &letters));
            let distance = difference(&wanted, &letters);
            (if contained { distance.min(1) } else { distance }, candidate)
        })
        .min_by_key(|(distance, _)| *distance)?;
    (distance <= (wanted.len() / 2).max(1)).then_some(best)
}

fn contains(long: &[char], short: &[char]) -> bool {
    short.len() >= 3 && long.windows(short.len()).any(|window| window == short)
}

/// Levenshtein's distance: insertions, deletions and exchanges of single letters.
fn difference(one: &[char], other: &[char]) -> usize {
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (i, a) in one.iter().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, b) in other.iter().enumerate() {
            let exchanged = diagonal + usize::from(a != b);
            diagonal = row[j + 1];
            row[j + 1] = exchanged.min(row[j] + 1).min(row[j + 1] + 1);
        }
    }
    row[other.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_finds_its_name_and_a_stranger_does_not() {
        let columns = ["patient_id", "collected_at", "organism"];
        assert_eq!(nearest("PatientID", columns), Some("patient_id"));
        assert_eq!(nearest("collected", columns), Some("collected_at"));
        assert_eq!(nearest("organsim", columns), Some("organism"));
        assert_eq!(nearest("ward", columns), None);
        // Worked by hand in every textbook: kitten to sitting is 3.
        let letters = |text: &str| text.chars().collect::<Vec<_>>();
        assert_eq!(difference(&letters("kitten"), &letters("sitting")), 3);
    }
}
