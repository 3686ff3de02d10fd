//! What changed between two versions of a breakdown.

use crate::model::{Breakdown, ChangeKind, KeyPoint, KeyPointKind, Step};
use crate::words::content_words;

/// One difference, with the words of the old and the new version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Difference {
    /// A step that was not there before.
    StepAdded { step: String },
    /// A step that is gone.
    StepRemoved { step: String },
    /// The same step by another name.
    StepRenamed { was: String, now: String },
    /// Steps that are in both stand in another order.
    StepsReordered { was: Vec<String>, now: Vec<String> },
    /// A key point that was not there before.
    PointAdded { step: String, kind: KeyPointKind, text: String },
    /// A key point that is gone.
    PointRemoved { step: String, kind: KeyPointKind, text: String },
    /// A key point stands under another step.
    PointMoved { text: String, was: String, now: String },
    /// A key point in other words.
    PointReworded { step: String, kind: KeyPointKind, was: String, now: String },
    /// A key point became, or is no longer, a safety point or a knack.
    KindChanged { step: String, text: String, was: KeyPointKind, now: KeyPointKind },
    /// Its reasons changed.
    ReasonsChanged { step: String, text: String, was: Vec<String>, now: Vec<String> },
    /// Its quantities changed.
    QuantitiesChanged { step: String, text: String, was: Vec<String>, now: Vec<String> },
    /// An order that binds was added.
    OrderAdded { first: String, then: String },
    /// An order no longer binds.
    OrderRemoved { first: String, then: String },
    /// A line outside the steps: a caution, a supply, a group of words, the job's name.
    Added { what: &'static str, text: String },
    /// Such a line is gone.
    Removed { what: &'static str, text: String },
}

/// Everything that changed from `was` to `now`, steps first. Versions, dates and names of people are not compared.
pub fn compare(was: &Breakdown, now: &Breakdown) -> Vec<Difference> {
    let mut differences = Vec::new();
    let step_pairs = pairs(&was.steps, &now.steps, |one, two| likeness(&one.name, &two.name));
    steps(was, now, &step_pairs, &mut differences);
    points(was, now, &step_pairs, &mut differences);
    for order in now.orders.iter().filter(|order| !was.orders.contains(order)) {
        differences.push(Difference::OrderAdded { first: order.first.clone(), then: order.then.clone() });
    }
    for order in was.orders.iter().filter(|order| !now.orders.contains(order)) {
        differences.push(Difference::OrderRemoved { first: order.first.clone(), then: order.then.clone() });
    }
    let supplies = |breakdown: &Breakdown| -> Vec<String> {
        let line = |supply: &crate::model::Supply| match supply.count {
            Some(count) => format!("{count} x {}", supply.name),
            None => supply.name.clone(),
        };
        breakdown.supplies.iter().map(line).collect()
    };
    let words =
        |breakdown: &Breakdown| breakdown.synonyms.iter().map(|group| group.join(" = ")).collect::<Vec<_>>();
    lines("job", std::slice::from_ref(&was.job), std::slice::from_ref(&now.job), &mut differences);
    lines("caution", &was.cautions, &now.cautions, &mut differences);
    lines("supply", &supplies(was), &supplies(now), &mut differences);
    lines("words", &words(was), &words(now), &mut differences);
    differences
}

/// Major where safety, sequence or a quantity changed; minor otherwise. A proposal: the author decides.
pub fn suggested_kind(differences: &[Difference]) -> ChangeKind {
    let is_major = |difference: &Difference| match difference {
        Difference::StepAdded { .. }
        | Difference::StepRemoved { .. }
        | Difference::StepsReordered { .. }
        | Difference::PointMoved { .. }
        | Difference::QuantitiesChanged { .. }
        | Difference::OrderAdded { .. }
        | Difference::OrderRemoved { .. } => true,
        Difference::PointAdded { kind, .. }
        | Difference::PointRemoved { kind, .. }
        | Difference::PointReworded { kind, .. } => *kind == KeyPointKind::Safety,
        Difference::KindChanged { was, now, .. } => {
            KeyPointKind::Safety == *was || KeyPointKind::Safety == *now
        }
        Difference::Added { what, .. } | Difference::Removed { what, .. } => *what == "caution",
        Difference::StepRenamed { .. } | Difference::ReasonsChanged { .. } => false,
    };
    if differences.iter().any(is_major) { ChangeKind::Major } else { ChangeKind::Minor }
}

fn steps(was: &Breakdown, now: &Breakdown, pairs: &[(usize, usize)], differences: &mut Vec<Difference>) {
    let name = |step: &Step| step.name.clone();
    for (at, step) in was.steps.iter().enumerate() {
        if !pairs.iter().any(|(old, _)| *old == at) {
            differences.push(Difference::StepRemoved { step: name(step) });
        }
    }
    for (at, step) in now.steps.iter().enumerate() {
        if !pairs.iter().any(|(_, new)| *new == at) {
            differences.push(Difference::StepAdded { step: name(step) });
        }
    }
    for &(old, new) in pairs {
        let (old, new) = (&was.steps[old], &now.steps[new]);
        if old.name != new.name {
            differences.push(Difference::StepRenamed { was: name(old), now: name(new) });
        }
    }
    let mut by_new = pairs.to_vec();
    by_new.sort_by_key(|(_, new)| *new);
    if by_new.windows(2).any(|two| two[0].0 > two[1].0) {
        let mut by_old = pairs.to_vec();
        by_old.sort_unstable();
        differences.push(Difference::StepsReordered {
            was: by_old.iter().map(|(old, _)| name(&was.steps[*old])).collect(),
            now: by_new.iter().map(|(_, new)| name(&now.steps[*new])).collect(),
        });
    }
}

fn points(
    was: &Breakdown,
    now: &Breakdown,
    step_pairs: &[(usize, usize)],
    differences: &mut Vec<Difference>,
) {
    let list = |breakdown: &'_ Breakdown| -> Vec<(usize, KeyPoint)> {
        let numbered = breakdown.steps.iter().enumerate();
        numbered.flat_map(|(at, step)| step.key_points.iter().map(move |point| (at, point.clone()))).collect()
    };
    let (old, new) = (list(was), list(now));
    let same_step = |one: usize, two: usize| step_pairs.contains(&(one, two));
    let point_pairs = pairs(&old, &new, |(old_step, one), (new_step, two)| {
        if one.label.is_some() && one.label == two.label {
            return 2.0;
        }
        // The same words under the same step are the surest sign.
        likeness(&one.text, &two.text) + if same_step(*old_step, *new_step) { 0.1 } else { 0.0 }
    });
    let step_name = |breakdown: &Breakdown, at: usize| breakdown.steps[at].name.clone();
    for (at, (step, point)) in old.iter().enumerate() {
        if !point_pairs.iter().any(|(one, _)| *one == at) {
            let step = step_name(was, *step);
            differences.push(Difference::PointRemoved { step, kind: point.kind, text: point.text.clone() });
        }
    }
    for (at, (step, point)) in new.iter().enumerate() {
        if !point_pairs.iter().any(|(_, two)| *two == at) {
            let step = step_name(now, *step);
            differences.push(Difference::PointAdded { step, kind: point.kind, text: point.text.clone() });
        }
    }
    let mut point_pairs = point_pairs;
    point_pairs.sort_by_key(|(_, two)| *two);
    for (one, two) in point_pairs {
        let ((old_step, one), (new_step, two)) = (&old[one], &new[two]);
        let (step, text) = (step_name(now, *new_step), two.text.clone());
        if !same_step(*old_step, *new_step) {
            let was = step_name(was, *old_step);
            differences.push(Difference::PointMoved { text: text.clone(), was, now: step.clone() });
        }
        if one.text != two.text {
            let (kind, was, now) = (two.kind, one.text.clone(), text.clone());
            differences.push(Difference::PointReworded { step: step.clone(), kind, was, now });
        }
        if one.kind != two.kind {
            let (step, text) = (step.clone(), text.clone());
            differences.push(Difference::KindChanged { step, text, was: one.kind, now: two.kind });
        }
        if one.reasons != two.reasons {
            let (was, now) = (one.reasons.clone(), two.reasons.clone());
            differences.push(Difference::ReasonsChanged { step: step.clone(), text: text.clone(), was, now });
        }
        let amounts =
            |point: &KeyPoint| -> Vec<String> { point.quantities.iter().map(ToString::to_string).collect() };
        if amounts(one) != amounts(two) {
            let (was, now) = (amounts(one), amounts(two));
            differences.push(Difference::QuantitiesChanged { step, text, was, now });
        }
    }
}

fn lines(what: &'static str, was: &[String], now: &[String], differences: &mut Vec<Difference>) {
    for text in was.iter().filter(|line| !now.contains(line)) {
        differences.push(Difference::Removed { what, text: text.clone() });
    }
    for text in now.iter().filter(|line| !was.contains(line)) {
        differences.push(Difference::Added { what, text: text.clone() });
    }
}

/// Pairs of old and new that belong together, the likest first; what is less than half alike stays alone.
fn pairs<T>(old: &[T], new: &[T], likeness: impl Fn(&T, &T) -> f64) -> Vec<(usize, usize)> {
    let mut candidates = Vec::new();
    for (one, from) in old.iter().enumerate() {
        for (two, to) in new.iter().enumerate() {
            let like = likeness(from, to);
            if like >= 0.5 {
                candidates.push((like, one, two));
            }
        }
    }
    candidates.sort_by(|left, right| {
        right.0.total_cmp(&left.0).then(left.1.cmp(&right.1)).then(left.2.cmp(&right.2))
    });
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, one, two) in candidates {
        if !pairs.iter().any(|(old, new)| *old == one || *new == two) {
            pairs.push((one, two));
        }
    }
    pairs.sort_unstable();
    pairs
}

/// Words that two texts share, against all their words: 1 for the same words, 0 for none.
fn likeness(one: &str, two: &str) -> f64 {
    if one == two {
        return 1.0;
    }
    let (one, two) = (content_words(one), content_words(two));
    let shared = one.iter().filter(|word| two.contains(word)).count();
    let all = one.len() + two.iter().filter(|word| !one.contains(word)).count();
    if all == 0 { 0.0 } else { shared as f64 / all as f64 }
}
