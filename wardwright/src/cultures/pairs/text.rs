//! Pairs as a reader sees them.

use std::fmt::Write;

use culture::{Collected, CultureSet, PairFinding};
use desk::{pair_difference, pair_doubt, pair_finding, pair_rule};

use super::Compared;

pub(super) fn report(compared: &Compared) -> String {
    let mut text = String::new();
    let Compared { sets, pairs, .. } = compared;
    let mut line = |words: String| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{words}");
    };
    let n = pairs.pairs.len();
    line(format!(
        "Pairs of a line and a vein set: {n}. Sets from lines without a vein set within 24 hours: {}. Sets in all: {}.",
        pairs.alone.len(),
        sets.len()
    ));
    line(format!("Rule: {}", pair_rule()));
    for (finding, words) in FINDINGS {
        let count = pairs.pairs.iter().filter(|pair| pair.finding == finding).count();
        if count > 0 {
            line(format!("  {count:>4} of {n}  {words}"));
        }
    }
    for pair in &pairs.pairs {
        line(String::new());
        line(format!("Line {}, vein {}", drawn(&sets[pair.line]), drawn(&sets[pair.vein])));
        let difference = pair_difference(pair).map_or_else(String::new, |words| format!(": {words}"));
        line(format!("  {}{difference}", pair_finding(&pair.finding)));
        for doubt in &pair.doubts {
            line(format!("  - {}", pair_doubt(doubt)));
        }
    }
    if !pairs.alone.is_empty() {
        line("\nLine sets without a vein set: no difference can be said".to_owned());
        for place in &pairs.alone {
            line(format!("  - {}", drawn(&sets[*place])));
        }
    }
    if !compared.unused.is_empty() {
        line("\nTimes that could not be used".to_owned());
        for unused in &compared.unused {
            line(format!("  - {unused}"));
        }
    }
    if !compared.knows_antibiotics {
        line(
            "\nWhether an antibiotic was given before the draw is not in these files: where it was, a difference can \
             mislead (--antibiotic-column)."
                .to_owned(),
        );
    }
    line(
        "\nA difference is evidence, not proof, and no rate is made of a few pairs. Training support, not a medical \
         device: a licensed clinician decides what becomes of a line."
            .to_owned(),
    );
    text
}

const FINDINGS: [(PairFinding, &str); 6] = [
    (PairFinding::PointsToLine, "point to the line"),
    (PairFinding::DoesNotPointToLine, "do not point to the line"),
    (PairFinding::OnlyLineGrew, "grew in the line's set only"),
    (PairFinding::OnlyVeinGrew, "grew in the vein's set only"),
    (PairFinding::NeitherGrew, "did not grow"),
    (PairFinding::NotComparable, "grew in both and cannot be compared"),
];

fn drawn(set: &CultureSet) -> String {
    match set.collected {
        Collected::At(at) => format!("{} ({})", set.id, at.strftime("%Y-%m-%d %H:%M")),
        Collected::On(day) => format!("{} ({day}, no time)", set.id),
    }
}
