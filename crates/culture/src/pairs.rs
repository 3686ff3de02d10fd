//! A set from a line and a set from a vein of one episode: did the line's grow so much earlier that it is the source?

use std::collections::HashMap;

use crate::organism::{Identified, Nomenclature};
use crate::set::{Collected, CultureSet, Route, SetId};

/// The line's set positive by this much or more before the vein's points to the line: 120 minutes (IDSA 2009).
pub const DIFFERENCE_MIN: i64 = 120;
/// Sets drawn further apart than this are not compared: 15 minutes (common practice, no source).
pub const APART_MOST_MIN: i64 = 15;
/// Volumes count as equal when the smaller is at least this share of the larger. IDSA 2009 asks for equal volumes and
/// gives no tolerance: 0.8 is our own.
pub const VOLUME_SHARE_LEAST: f64 = 0.8;
/// Sets of one episode lie no further apart than this; what lies further apart is no pair at all.
const EPISODE_MIN: i64 = 24 * 60;

/// Minutes from loading to the first positive bottle of each set, as the laboratory's instrument says, and what is known
/// of antibiotics. Sets that are missing have no time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PositiveTimes {
    /// Seconds to positivity by specimen number; the earliest bottle of the set.
    pub after_s: HashMap<SetId, i64>,
    /// Sets drawn under an antibiotic, or with one started between the two, where that is known.
    pub under_antibiotic: Vec<SetId>,
}

impl PositiveTimes {
    /// The times that came with the sets.
    pub fn of(sets: &[CultureSet]) -> PositiveTimes {
        let after_s =
            sets.iter().filter_map(|set| Some((set.id.clone(), i64::from(set.positive_after_s?)))).collect();
        PositiveTimes { after_s, under_antibiotic: Vec::new() }
    }

    /// The same times with others that were given apart, which go first.
    pub fn with(mut self, others: PositiveTimes) -> PositiveTimes {
        self.after_s.extend(others.after_s);
        self.under_antibiotic.extend(others.under_antibiotic);
        self
    }
}

/// Why the times of a pair cannot be compared.
#[derive(Debug, Clone, PartialEq)]
pub enum PairDoubt {
    /// A volume is not known.
    VolumeNotKnown,
    /// Unequal volumes: the fuller set grows earlier.
    UnequalVolumes {
        /// Of the line's set, millilitres.
        line_ml: f64,
        /// Of the vein's set, millilitres.
        vein_ml: f64,
    },
    /// A time of drawing is not known.
    TimeOfDrawMissing,
    /// Drawn too far apart.
    TooFarApart {
        /// Whole minutes between the two.
        minutes: i64,
    },
    /// A time to positivity is not known.
    TimeToPositivityMissing,
    /// Different organisms grew.
    DifferentOrganisms,
    /// An organism is not named well enough to compare.
    OrganismNotKnown,
    /// An antibiotic was given before one of the sets.
    Antibiotic,
}

/// What a pair says.
#[derive(Debug, Clone, PartialEq)]
pub enum PairFinding {
    /// The line's set was positive 120 minutes or more before the vein's: points to the line.
    PointsToLine,
    /// It was not.
    DoesNotPointToLine,
    /// Only the line's set grew: a colonised line or a contaminated set, no difference in time.
    OnlyLineGrew,
    /// Only the vein's set grew: the line is not shown to be the source.
    OnlyVeinGrew,
    /// Neither grew.
    NeitherGrew,
    /// Both grew, and their times cannot be compared.
    NotComparable,
}

/// A line's set and a vein's set of one episode.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Place of the line's set among the sets given.
    pub line: usize,
    /// Place of the vein's set.
    pub vein: usize,
    /// Seconds by which the line's set was positive before the vein's; negative when later. `None` where a time is
    /// missing or one did not grow.
    pub line_earlier_s: Option<i64>,
    /// What it says.
    pub finding: PairFinding,
    /// Everything that makes it uninterpretable, or would if both had grown.
    pub doubts: Vec<PairDoubt>,
}

/// Pairs of line and vein, and sets from lines that have no partner.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pairs {
    /// In the order of the line's sets.
    pub pairs: Vec<Pair>,
    /// Sets from a line without a set from a vein within 24 hours.
    pub alone: Vec<usize>,
}

/// Pairs each set from a line with the set of the same patient's vein that was drawn nearest to it, within 24 hours.
/// Every set is used once; the nearest go together first.
///
/// The difference is exact in seconds: 119 minutes and 59 seconds do not point to the line, 120 minutes do.
pub fn line_and_vein_pairs(sets: &[CultureSet], times: &PositiveTimes) -> Pairs {
    let is_line = |set: &CultureSet| matches!(set.route, Some(Route::CentralLine | Route::ArterialLine));
    let mut by_patient: HashMap<&str, (Vec<usize>, Vec<usize>)> = HashMap::new();
    for (place, set) in sets.iter().enumerate() {
        let (lines, veins) = by_patient.entry(&set.patient.0).or_default();
        if is_line(set) {
            lines.push(place);
        } else if set.route == Some(Route::Vein) {
            veins.push(place);
        }
    }
    let mut found = Pairs::default();
    for (lines, veins) in by_patient.values() {
        let mut near: Vec<(i64, usize, usize)> = lines
            .iter()
            .flat_map(|line| veins.iter().map(move |vein| (*line, *vein)))
            .filter_map(|(line, vein)| Some((apart_min(&sets[line], &sets[vein])?, line, vein)))
            .filter(|(apart, _, _)| *apart <= EPISODE_MIN)
            .collect();
        near.sort_unstable();
        let (mut used_lines, mut used_veins) = (Vec::new(), Vec::new());
        for (_, line, vein) in near {
            if used_lines.contains(&line) || used_veins.contains(&vein) {
                continue;
            }
            used_lines.push(line);
            used_veins.push(vein);
            found.pairs.push(compare(sets, line, vein, times));
        }
        found.alone.extend(lines.iter().filter(|line| !used_lines.contains(line)));
    }
    found.pairs.sort_by_key(|pair| pair.line);
    found.alone.sort_unstable();
    found
}

/// Whole minutes between two draws, rounded up; by day where a time is missing.
fn apart_min(one: &CultureSet, other: &CultureSet) -> Option<i64> {
    match (one.collected, other.collected) {
        (Collected::At(a), Collected::At(b)) => {
            let seconds = a.duration_since(b).abs().as_secs();
            Some((seconds + 59) / 60)
        }
        (a, b) => (a.date() == b.date()).then_some(EPISODE_MIN),
    }
}

fn volume_ml(set: &CultureSet) -> Option<f64> {
    if set.bottles.is_empty() {
        return None;
    }
    set.bottles.iter().map(|bottle| bottle.fill_ml).sum()
}

fn compare(sets: &[CultureSet], line: usize, vein: usize, times: &PositiveTimes) -> Pair {
    let (of_line, of_vein) = (&sets[line], &sets[vein]);
    let mut doubts = Vec::new();
    match (volume_ml(of_line), volume_ml(of_vein)) {
        (Some(line_ml), Some(vein_ml)) => {
            if line_ml.min(vein_ml) < VOLUME_SHARE_LEAST * line_ml.max(vein_ml) - 1e-9 {
                doubts.push(PairDoubt::UnequalVolumes { line_ml, vein_ml });
            }
        }
        _ => doubts.push(PairDoubt::VolumeNotKnown),
    }
    match (of_line.collected.time(), of_vein.collected.time()) {
        (Some(_), Some(_)) => {
            if let Some(minutes) = apart_min(of_line, of_vein).filter(|minutes| *minutes > APART_MOST_MIN) {
                doubts.push(PairDoubt::TooFarApart { minutes });
            }
        }
        _ => doubts.push(PairDoubt::TimeOfDrawMissing),
    }
    if [of_line, of_vein].iter().any(|set| times.under_antibiotic.contains(&set.id)) {
        doubts.push(PairDoubt::Antibiotic);
    }
    let after = |set: &CultureSet| times.after_s.get(&set.id).copied();
    let grown = [!of_line.isolates.is_empty(), !of_vein.isolates.is_empty()];
    let both_grew = grown == [true, true];
    let line_earlier_s = match (after(of_line), after(of_vein)) {
        (Some(line), Some(vein)) if both_grew => Some(vein - line),
        _ => None,
    };
    if both_grew {
        if line_earlier_s.is_none() {
            doubts.push(PairDoubt::TimeToPositivityMissing);
        }
        doubts.extend(organism_doubt(of_line, of_vein));
    }
    let finding = match (grown, line_earlier_s) {
        ([false, false], _) => PairFinding::NeitherGrew,
        ([true, false], _) => PairFinding::OnlyLineGrew,
        ([false, true], _) => PairFinding::OnlyVeinGrew,
        ([true, true], Some(earlier)) if doubts.is_empty() => {
            if earlier >= DIFFERENCE_MIN * 60 {
                PairFinding::PointsToLine
            } else {
                PairFinding::DoesNotPointToLine
            }
        }
        ([true, true], _) => PairFinding::NotComparable,
    };
    Pair { line, vein, line_earlier_s, finding, doubts }
}

/// Whether at least one organism of the one set is one of the other; where a name is too vague to tell, that is said.
fn organism_doubt(one: &CultureSet, other: &CultureSet) -> Option<PairDoubt> {
    let names = Nomenclature::built_in();
    let read = |set: &CultureSet| -> Vec<Identified> {
        set.isolates.iter().map(|isolate| names.identify(&isolate.reported_name)).collect()
    };
    let (ours, theirs) = (read(one), read(other));
    let agree = |sure: bool| {
        ours.iter().any(|a| {
            theirs.iter().any(|b| {
                if sure {
                    names.agreement(&a.identity, &b.identity, crate::organism::Matching::Genus).is_some()
                } else {
                    names.may_be_same(&a.identity, &b.identity)
                }
            })
        })
    };
    if agree(true) {
        None
    } else if agree(false) {
        Some(PairDoubt::OrganismNotKnown)
    } else {
        Some(PairDoubt::DifferentOrganisms)
    }
}
