//! Pairs as a reader sees them.

use std::fmt::Write;

use culture::{
    APART_MOST_MIN, Collected, CultureSet, DIFFERENCE_MIN, Pair, PairDoubt, PairFinding, VOLUME_SHARE_LEAST,
};

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
    line(format!(
        "Rule: the line's set positive {DIFFERENCE_MIN} minutes or more before the vein's points to the line (IDSA 2009); \
         drawn within {APART_MOST_MIN} minutes (common practice, no source), equal volumes: the smaller at least {:.0} % of \
         the larger (IDSA 2009 gives no tolerance).",
        VOLUME_SHARE_LEAST * 100.0
    ));
    for (finding, words) in FINDINGS {
        let count = pairs.pairs.iter().filter(|pair| pair.finding == finding).count();
        if count > 0 {
            line(format!("  {count:>4} of {n}  {words}"));
        }
    }
    for pair in &pairs.pairs {
        line(String::new());
        line(format!("Line {}, vein {}", drawn(&sets[pair.line]), drawn(&sets[pair.vein])));
        line(format!("  {}{}", finding(&pair.finding), difference(pair)));
        for doubt in &pair.doubts {
            line(format!("  - {}", doubt_words(doubt)));
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

pub(super) fn finding(finding: &PairFinding) -> &'static str {
    match finding {
        PairFinding::PointsToLine => "Points to the line",
        PairFinding::DoesNotPointToLine => "Does not point to the line",
        PairFinding::OnlyLineGrew => {
            "Only the line's set grew: a colonised line or a contaminated set; no difference in time"
        }
        PairFinding::OnlyVeinGrew => "Only the vein's set grew: the line is not shown to be the source",
        PairFinding::NeitherGrew => "Neither grew",
        PairFinding::NotComparable => "Not comparable",
    }
}

fn difference(pair: &Pair) -> String {
    let Some(earlier) = pair.line_earlier_s else { return String::new() };
    // Whole minutes towards nought, so that 119 minutes and 59 seconds never read as 120.
    let minutes = earlier.abs() / 60;
    let (hours, rest) = (minutes / 60, minutes % 60);
    let when = if earlier < 0 { "later" } else { "earlier" };
    format!(": the line's {minutes} min ({hours} h {rest} min) {when}")
}

pub(super) fn doubt_words(doubt: &PairDoubt) -> String {
    match doubt {
        PairDoubt::VolumeNotKnown => "a volume is not known".to_owned(),
        PairDoubt::UnequalVolumes { line_ml, vein_ml } => {
            format!(
                "unequal volumes: line {line_ml:.1} mL, vein {vein_ml:.1} mL; the fuller set grows earlier"
            )
        }
        PairDoubt::TimeOfDrawMissing => "a time of drawing is not known".to_owned(),
        PairDoubt::TooFarApart { minutes } => {
            format!("drawn {minutes} minutes apart, more than {APART_MOST_MIN}")
        }
        PairDoubt::TimeToPositivityMissing => "a time to positivity is not known".to_owned(),
        PairDoubt::DifferentOrganisms => "different organisms grew".to_owned(),
        PairDoubt::OrganismNotKnown => "an organism is not named well enough to compare".to_owned(),
        PairDoubt::Antibiotic => "drawn under an antibiotic".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_is_never_rounded_up_to_the_threshold() {
        let words = |line_earlier_s| {
            difference(&Pair {
                line: 0,
                vein: 1,
                line_earlier_s: Some(line_earlier_s),
                finding: PairFinding::DoesNotPointToLine,
                doubts: Vec::new(),
            })
        };
        assert_eq!(words(7_199), ": the line's 119 min (1 h 59 min) earlier");
        assert_eq!(words(7_200), ": the line's 120 min (2 h 0 min) earlier");
        assert_eq!(words(-60), ": the line's 1 min (0 h 1 min) later");
    }
}
