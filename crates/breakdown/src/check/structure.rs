//! Steps, key points and reasons: too many, none, twice, or empty of meaning.

use std::collections::HashMap;

use super::{MOST_KEY_POINTS, MOST_STEPS, USUAL_STEPS};
use crate::fault::{Fault, FaultKind, Place};
use crate::model::{Breakdown, KeyPoint, KeyPointKind};
use crate::read::Places;
use crate::words::content_words;

pub(super) fn check(breakdown: &Breakdown, places: &Places) -> Vec<Fault> {
    let mut faults = Vec::new();
    let whole_file = Place::default();
    let n_steps = breakdown.steps.len();
    if n_steps == 0 {
        faults.push(Fault::new(whole_file, FaultKind::NoSteps));
    } else if n_steps > MOST_STEPS {
        let line = breakdown.steps[MOST_STEPS].line;
        faults.push(Fault::new(Place::line(line), FaultKind::TooManySteps { n_steps }));
    } else if n_steps > USUAL_STEPS {
        let line = breakdown.steps[USUAL_STEPS].line;
        faults.push(Fault::new(Place::line(line), FaultKind::ManySteps { n_steps }));
    }
    if n_steps > 0 && breakdown.safety_points().is_empty() {
        faults.push(Fault::new(whole_file, FaultKind::NoSafetyPoint));
    }
    if n_steps > 0 && breakdown.cautions.is_empty() {
        faults.push(Fault::new(whole_file, FaultKind::NoCaution));
    }
    steps(breakdown, &mut faults);
    for (step_at, step) in breakdown.steps.iter().enumerate() {
        for (point_at, point) in step.key_points.iter().enumerate() {
            reasons(point, &mut faults, |reason| places.reason(step_at, point_at, reason, point.line));
        }
    }
    synonyms(breakdown, places, &mut faults);
    faults
}

fn steps(breakdown: &Breakdown, faults: &mut Vec<Fault>) {
    let mut names: HashMap<Vec<String>, usize> = HashMap::new();
    let mut texts: HashMap<(Vec<String>, KeyPointKind), usize> = HashMap::new();
    for step in &breakdown.steps {
        let step_place = Place::line(step.line);
        let name = || step.name.clone();
        if !step.name.is_empty() {
            let first_line = *names.entry(content_words(&step.name)).or_insert(step.line);
            if first_line != step.line {
                faults.push(Fault::new(step_place, FaultKind::StepTwice { step: name(), first_line }));
            }
        }
        let n_points = step.key_points.len();
        if n_points == 0 {
            faults.push(Fault::new(step_place, FaultKind::StepWithoutKeyPoints { step: name() }));
        }
        if let Some(beyond) = step.key_points.get(MOST_KEY_POINTS) {
            let kind = FaultKind::TooManyKeyPoints { step: name(), n_points };
            faults.push(Fault::new(Place::line(beyond.line), kind));
        }
        for point in step.key_points.iter().filter(|point| !point.text.is_empty()) {
            let first_line = *texts.entry((content_words(&point.text), point.kind)).or_insert(point.line);
            if first_line != point.line {
                let kind = FaultKind::KeyPointTwice { text: point.text.clone(), first_line };
                faults.push(Fault::new(Place::line(point.line), kind));
            }
        }
    }
}

fn reasons(point: &KeyPoint, faults: &mut Vec<Fault>, place: impl Fn(usize) -> Place) {
    if point.reasons.is_empty() {
        let kind = FaultKind::NoReason { text: point.text.clone() };
        faults.push(Fault::new(Place::line(point.line), kind));
    }
    let said = content_words(&point.text);
    for (at, reason) in point.reasons.iter().enumerate() {
        if content_words(reason).iter().all(|word| said.contains(word)) {
            faults.push(Fault::new(place(at), FaultKind::ReasonRepeats { reason: reason.clone() }));
        }
    }
}

fn synonyms(breakdown: &Breakdown, places: &Places, faults: &mut Vec<Fault>) {
    let mut seen: HashMap<&str, (usize, usize)> = HashMap::new();
    for (group_at, group) in breakdown.synonyms.iter().enumerate() {
        let place = places.synonyms.get(group_at).copied().unwrap_or_default();
        for word in group {
            let (first_group, first_line) = *seen.entry(word).or_insert((group_at, place.line));
            if first_group != group_at {
                faults.push(Fault::new(place, FaultKind::WordTwice { word: word.clone(), first_line }));
            }
        }
    }
}
