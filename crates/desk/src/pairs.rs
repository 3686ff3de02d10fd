//! Pairs of a line's and a vein's set in words: for the results page of the unit and for the command line.

use culture::{
    CultureSet, DIFFERENCE_MIN, Judged, Pair, PairDoubt, PairFinding, PositiveTimes, Route,
    line_and_vein_pairs,
};
use jiff::civil::{Date, DateTime};

use crate::facts::Desk;
use crate::results::is_closed;

/// Most pairs on a page, the latest.
const MOST_SHOWN: usize = 100;

/// One set of a pair.
#[derive(Debug, Clone, PartialEq)]
pub struct PairSet {
    /// The laboratory's specimen number.
    pub specimen: String,
    /// The day on which it was drawn.
    pub day: Date,
    /// When it was drawn, where the laboratory gave a time.
    pub at: Option<DateTime>,
    /// "central line".
    pub from: &'static str,
    /// Organisms as the laboratory wrote them.
    pub organisms: Vec<String>,
    /// Blood in all its bottles, millilitres, where each is known.
    pub volume_ml: Option<f64>,
    /// Hours and minutes to the first positive bottle: "13 h 30 min".
    pub positive_after: Option<String>,
}

/// A line's set and a vein's.
#[derive(Debug, Clone, PartialEq)]
pub struct PairRow {
    /// From the line.
    pub line: PairSet,
    /// From the vein.
    pub vein: PairSet,
    /// What it says.
    pub finding: &'static str,
    /// By how much the line's was positive earlier or later, in words.
    pub difference: Option<String>,
    /// What makes it uninterpretable, or would if both had grown.
    pub doubts: Vec<String>,
    /// Both grew, so that the pair is asked what it says.
    pub both_grew: bool,
    /// A set of it may still change.
    pub is_open: bool,
}

/// Pairs of the unit.
#[derive(Debug, Clone, PartialEq)]
pub struct PairsPage {
    /// The day asked about.
    pub as_of: Date,
    /// Pairs in all.
    pub n_pairs: usize,
    /// Findings with how many of the pairs have them.
    pub findings: Vec<(&'static str, usize)>,
    /// Pairs in which both grew, latest first, then the others; at most a hundred.
    pub rows: Vec<PairRow>,
    /// Sets from lines without a set from a vein within 24 hours.
    pub n_alone: usize,
    /// Sets from lines in all.
    pub n_line_sets: usize,
    /// Sets of the pairs that grew and have a time to positivity, of those that grew.
    pub timed: (usize, usize),
}

impl Desk {
    /// Pairs of line and vein of the unit, with what makes each uninterpretable.
    pub fn pairs(&self) -> PairsPage {
        // Sets that a rule leaves out are no blood of a patient, or were cancelled.
        let kept: Vec<(&CultureSet, &Judged)> = self
            .judged_sets()
            .filter(|(_, judged)| judged.verdict() != culture::Verdict::Excluded)
            .filter(|(set, _)| set.route.is_some())
            .collect();
        let sets: Vec<CultureSet> = kept.iter().map(|(set, _)| (*set).clone()).collect();
        let found = line_and_vein_pairs(&sets, &PositiveTimes::of(&sets));
        let grew = |place: &usize| !sets[*place].isolates.is_empty();
        let mut pairs: Vec<&Pair> = found.pairs.iter().collect();
        pairs.sort_by_key(|pair| {
            let both = grew(&pair.line) && grew(&pair.vein);
            let any = grew(&pair.line) || grew(&pair.vein);
            std::cmp::Reverse((both, any, sets[pair.line].collected.date(), sets[pair.line].collected.time()))
        });
        let of_pairs = found.pairs.iter().flat_map(|pair| [pair.line, pair.vein]).filter(grew);
        let timed = of_pairs.clone().filter(|place| sets[*place].positive_after_s.is_some()).count();
        let rows = pairs.iter().take(MOST_SHOWN).map(|pair| {
            let (line, vein) = (&sets[pair.line], &sets[pair.vein]);
            PairRow {
                line: side(line),
                vein: side(vein),
                finding: pair_finding(&pair.finding),
                difference: pair_difference(pair),
                doubts: pair.doubts.iter().map(pair_doubt).collect(),
                both_grew: grew(&pair.line) && grew(&pair.vein),
                is_open: !is_closed(kept[pair.line].1) || !is_closed(kept[pair.vein].1),
            }
        });
        let findings = FINDINGS
            .iter()
            .map(|finding| {
                let n = found.pairs.iter().filter(|pair| pair.finding == *finding).count();
                (pair_finding(finding), n)
            })
            .collect();
        PairsPage {
            as_of: self.today(),
            n_pairs: found.pairs.len(),
            findings,
            rows: rows.collect(),
            n_alone: found.alone.len(),
            n_line_sets: sets.iter().filter(|set| is_line(set)).count(),
            timed: (timed, of_pairs.count()),
        }
    }
}

const FINDINGS: [PairFinding; 6] = [
    PairFinding::PointsToLine,
    PairFinding::DoesNotPointToLine,
    PairFinding::NotComparable,
    PairFinding::OnlyLineGrew,
    PairFinding::OnlyVeinGrew,
    PairFinding::NeitherGrew,
];

fn is_line(set: &CultureSet) -> bool {
    matches!(set.route, Some(Route::CentralLine | Route::ArterialLine))
}

fn side(set: &CultureSet) -> PairSet {
    PairSet {
        specimen: set.id.0.clone(),
        day: set.collected.date(),
        at: set.collected.time(),
        from: match set.route {
            Some(Route::CentralLine) => "central line",
            Some(Route::ArterialLine) => "arterial line",
            Some(Route::Vein) => "vein",
            Some(Route::Cannula) => "cannula",
            None => "not known",
        },
        organisms: set.isolates.iter().map(|isolate| isolate.reported_name.clone()).collect(),
        volume_ml: (!set.bottles.is_empty())
            .then(|| set.bottles.iter().map(|bottle| bottle.fill_ml).sum::<Option<f64>>())
            .flatten(),
        positive_after: set.positive_after_s.map(|seconds| hours_and_minutes(i64::from(seconds))),
    }
}

/// Whole minutes towards nought, so that 119 minutes and 59 seconds never read as 120.
fn hours_and_minutes(seconds: i64) -> String {
    let minutes = seconds.abs() / 60;
    format!("{} h {} min", minutes / 60, minutes % 60)
}

/// What a pair says, in words.
pub fn pair_finding(finding: &PairFinding) -> &'static str {
    match finding {
        PairFinding::PointsToLine => "Points to the line",
        PairFinding::DoesNotPointToLine => "Does not point to the line",
        PairFinding::OnlyLineGrew => {
            "Only the line’s set grew: a colonised line or a contaminated set; no difference in time"
        }
        PairFinding::OnlyVeinGrew => "Only the vein’s set grew: the line is not shown to be the source",
        PairFinding::NeitherGrew => "Neither grew",
        PairFinding::NotComparable => "Not comparable",
    }
}

/// By how much the line's set was positive earlier or later; `None` where one did not grow or a time is missing.
pub fn pair_difference(pair: &Pair) -> Option<String> {
    let earlier = pair.line_earlier_s?;
    let when = if earlier < 0 { "later" } else { "earlier" };
    let minutes = earlier.abs() / 60;
    Some(match minutes {
        ..60 => format!("the line’s {minutes} min {when}"),
        _ => format!("the line’s {minutes} min ({}) {when}", hours_and_minutes(earlier)),
    })
}

/// What makes a pair uninterpretable, in words.
pub fn pair_doubt(doubt: &PairDoubt) -> String {
    match doubt {
        PairDoubt::VolumeNotKnown => "a volume is not known".to_owned(),
        PairDoubt::UnequalVolumes { line_ml, vein_ml } => {
            format!(
                "unequal volumes: line {line_ml:.1} mL, vein {vein_ml:.1} mL; the fuller set grows earlier"
            )
        }
        PairDoubt::TimeOfDrawMissing => "a time of drawing is not known".to_owned(),
        PairDoubt::TooFarApart { minutes } => {
            format!("drawn {minutes} minutes apart, more than {}", culture::APART_MOST_MIN)
        }
        PairDoubt::TimeToPositivityMissing => "a time to positivity is not known".to_owned(),
        PairDoubt::DifferentOrganisms => "different organisms grew".to_owned(),
        PairDoubt::OrganismNotKnown => "an organism is not named well enough to compare".to_owned(),
        PairDoubt::Antibiotic => "drawn under an antibiotic".to_owned(),
    }
}

/// The rule in one sentence, with its sources.
pub fn pair_rule() -> String {
    format!(
        "The line’s set positive {DIFFERENCE_MIN} minutes or more before the vein’s points to the line (IDSA 2009); drawn \
         within {} minutes (common practice, no source), equal volumes: the smaller at least {:.0} % of the larger (IDSA \
         2009 gives no tolerance; this one is our own).",
        culture::APART_MOST_MIN,
        culture::VOLUME_SHARE_LEAST * 100.0
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_is_never_rounded_up_to_the_threshold() {
        let words = |line_earlier_s| {
            pair_difference(&Pair {
                line: 0,
                vein: 1,
                line_earlier_s,
                finding: PairFinding::DoesNotPointToLine,
                doubts: Vec::new(),
            })
        };
        assert_eq!(words(Some(7_199)).unwrap(), "the line’s 119 min (1 h 59 min) earlier");
        assert_eq!(words(Some(7_200)).unwrap(), "the line’s 120 min (2 h 0 min) earlier");
        assert_eq!(words(Some(-60)).unwrap(), "the line’s 1 min later");
        assert_eq!(words(None), None);
    }
}
