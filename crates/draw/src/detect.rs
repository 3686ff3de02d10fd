//! How many bloodstream infections a number of sets finds, as published.

/// Share found with so many sets in one study, in percent of the episodes that were found at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PublishedYield {
    /// Author and year.
    pub source: &'static str,
    /// Percent found with 1, 2, 3 and 4 sets.
    pub percent: [f64; 4],
    /// Read in the source, or recalled and to be checked before use.
    pub from_memory: bool,
}

/// Studies that disagree; show them as a range. An older study of 500 episodes (Weinstein 1983) found more than 99 %
/// with two sets.
pub const PUBLISHED: [PublishedYield; 2] = [
    PublishedYield {
        source: "Lee 2007, Journal of Clinical Microbiology 45:3546 (629 episodes with at least 3 cultures)",
        percent: [73.1, 89.7, 98.2, 99.8],
        from_memory: false,
    },
    PublishedYield {
        source: "Cockerill 2004, Clinical Infectious Diseases 38:1724",
        percent: [65.1, 80.4, 95.7, 100.0],
        from_memory: true,
    },
];

/// Lowest and highest published percent found with 1 to 4 sets; `None` for other numbers.
pub fn published_range(n_sets: usize) -> Option<(f64, f64)> {
    let at = n_sets.checked_sub(1).filter(|at| *at < 4)?;
    let percents = PUBLISHED.iter().map(|study| study.percent[at]);
    Some((percents.clone().fold(f64::INFINITY, f64::min), percents.fold(0.0, f64::max)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lee 2007 counts: 460, 564, 618 and 628 of 629. The third is 98.251 and was printed as 98.2.
    #[test]
    fn percents_are_the_published_counts() {
        for (percent, count) in PUBLISHED[0].percent.iter().zip([460.0, 564.0, 618.0, 628.0]) {
            assert!((percent - 100.0 * count / 629.0).abs() < 0.052, "{count} of 629");
        }
        assert_eq!(published_range(2), Some((80.4, 89.7)));
        assert_eq!(published_range(0), None);
        assert_eq!(published_range(5), None);
    }
}
