//! A breakdown as it stands on the form, and what the buttons beside its parts do to it.

use breakdown::{ChangeKind, KeyPointKind, Manuscript, PointText, StepText};
use jiff::civil::DateTime;
use uuid::Uuid;

use crate::form::Posted;

/// Most steps and most key points of a step a form can hold: far above what the checks let pass.
const MOST_PARTS: usize = 60;

/// The form as it stands.
#[derive(Debug, Clone)]
pub(super) struct Typed {
    pub(super) entry: Uuid,
    /// Version the writing began from; 0 for a new job.
    pub(super) base: u32,
    /// When the form was last shown: the time of publication, so that a form sent twice is one entry.
    pub(super) at: DateTime,
    pub(super) by: String,
    pub(super) text: Manuscript,
}

/// What a button asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Wanted {
    Check,
    Publish,
    /// Something about the parts; the place to go to afterwards is kept in the address of the button.
    Parts(Edit),
}

/// A change of the parts. Steps and key points are counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Edit {
    AddStep { after: usize },
    RemoveStep(usize),
    MoveStep { from: usize, down: bool },
    AddPoint { step: usize },
    RemovePoint(usize, usize),
    MovePoint { step: usize, from: usize, down: bool },
}

impl Wanted {
    /// Reads a button's word; an unknown one only checks.
    pub(super) fn read(word: &str) -> Wanted {
        if word == "publish" {
            return Wanted::Publish;
        }
        let mut parts = word.split('-');
        let (verb, part) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
        let mut number = || parts.next().and_then(|text| text.parse::<usize>().ok());
        let edit = match (verb, part) {
            ("add", "step") => number().map(|after| Edit::AddStep { after }),
            ("remove", "step") => number().map(Edit::RemoveStep),
            ("up", "step") => number().map(|from| Edit::MoveStep { from, down: false }),
            ("down", "step") => number().map(|from| Edit::MoveStep { from, down: true }),
            ("add", "point") => number().map(|step| Edit::AddPoint { step }),
            ("remove", "point") => number().zip(number()).map(|(step, point)| Edit::RemovePoint(step, point)),
            ("up", "point") => {
                number().zip(number()).map(|(step, from)| Edit::MovePoint { step, from, down: false })
            }
            ("down", "point") => {
                number().zip(number()).map(|(step, from)| Edit::MovePoint { step, from, down: true })
            }
            _ => None,
        };
        edit.map_or(Wanted::Check, Wanted::Parts)
    }
}

impl Edit {
    /// Does it; a part that is not there is left alone.
    pub(super) fn apply(self, text: &mut Manuscript) {
        let steps = &mut text.steps;
        match self {
            Edit::AddStep { after } if steps.len() < MOST_PARTS => {
                let step = StepText { name: String::new(), points: vec![PointText::blank()] };
                steps.insert(after.min(steps.len()), step);
            }
            Edit::AddStep { .. } => {}
            Edit::RemoveStep(number) => remove(steps, number),
            Edit::MoveStep { from, down } => swap(steps, from, down),
            Edit::AddPoint { step } => {
                if let Some(step) = nth(steps, step)
                    && step.points.len() < MOST_PARTS
                {
                    step.points.push(PointText::blank());
                }
            }
            Edit::RemovePoint(step, point) => {
                if let Some(step) = nth(steps, step) {
                    remove(&mut step.points, point);
                }
            }
            Edit::MovePoint { step, from, down } => {
                if let Some(step) = nth(steps, step) {
                    swap(&mut step.points, from, down);
                }
            }
        }
    }
}

fn nth(steps: &mut [StepText], number: usize) -> Option<&mut StepText> {
    steps.get_mut(number.checked_sub(1)?)
}

fn remove<T>(parts: &mut Vec<T>, number: usize) {
    if (1..=parts.len()).contains(&number) {
        parts.remove(number - 1);
    }
}

fn swap<T>(parts: &mut [T], from: usize, down: bool) {
    let other = if down { from.checked_add(1) } else { from.checked_sub(1) };
    if let Some(other) = other.filter(|other| (1..=parts.len()).contains(other))
        && (1..=parts.len()).contains(&from)
    {
        parts.swap(from - 1, other - 1);
    }
}

/// The word that stands for a kind of key point in a form.
pub(super) fn kind_code(kind: KeyPointKind) -> &'static str {
    match kind {
        KeyPointKind::Safety => "safety",
        KeyPointKind::MakesOrBreaks => "key-point",
        KeyPointKind::Knack => "knack",
    }
}

pub(super) const KINDS: [KeyPointKind; 3] =
    [KeyPointKind::MakesOrBreaks, KeyPointKind::Safety, KeyPointKind::Knack];

/// Lines of a field, each on its own; empty ones say nothing.
fn lines(posted: &Posted, name: &str) -> Vec<String> {
    posted.lines(name).lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect()
}

fn count(posted: &Posted, name: &str) -> usize {
    posted.text(name).parse::<usize>().unwrap_or(0).min(MOST_PARTS)
}

/// Reads the text of a form.
pub(super) fn manuscript(posted: &Posted, base: u32) -> Manuscript {
    let text = |name: &str| posted.text(name).to_owned();
    let steps = (1..=count(posted, "steps")).map(|step| StepText {
        name: text(&format!("step-{step}-name")),
        points: (1..=count(posted, &format!("step-{step}-points")))
            .map(|point| {
                let field = |what: &str| format!("step-{step}-{point}-{what}");
                let kind = posted.text(&field("kind"));
                PointText {
                    kind: KINDS
                        .into_iter()
                        .find(|known| kind_code(*known) == kind)
                        .unwrap_or(KeyPointKind::MakesOrBreaks),
                    label: text(&field("label")),
                    text: text(&field("text")),
                    reasons: lines(posted, &field("reasons")),
                    quantities: lines(posted, &field("quantities")),
                }
            })
            .collect(),
    });
    Manuscript {
        job: text("job"),
        code: text("code"),
        version: base.saturating_add(1).to_string(),
        effective: text("effective"),
        author: text("author"),
        approved_by: text("approved-by"),
        change_kind: match posted.text("change-kind") {
            "major" => Some(ChangeKind::Major),
            "minor" => Some(ChangeKind::Minor),
            _ => None,
        },
        change: text("change"),
        cautions: lines(posted, "cautions"),
        supplies: lines(posted, "supplies"),
        words: lines(posted, "words"),
        steps: steps.collect(),
        orders: lines(posted, "orders"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(names: &[&str]) -> Manuscript {
        let steps = names.iter().map(|name| StepText { name: (*name).to_owned(), points: Vec::new() });
        Manuscript { steps: steps.collect(), ..Manuscript::default() }
    }

    fn after(word: &str) -> Vec<String> {
        let mut text = text(&["a", "b", "c"]);
        match Wanted::read(word) {
            Wanted::Parts(edit) => edit.apply(&mut text),
            other => panic!("{word}: {other:?}"),
        }
        text.steps.into_iter().map(|step| step.name).collect()
    }

    #[test]
    fn buttons_change_the_parts_and_nothing_else() {
        assert_eq!(after("add-step-1"), ["a", "", "b", "c"]);
        assert_eq!(after("add-step-0"), ["", "a", "b", "c"]);
        assert_eq!(after("remove-step-2"), ["a", "c"]);
        assert_eq!(after("up-step-3"), ["a", "c", "b"]);
        assert_eq!(after("down-step-1"), ["b", "a", "c"]);
        for nothing in
            ["up-step-1", "down-step-3", "remove-step-9", "remove-step-0", "up-step-0", "down-point-7-1"]
        {
            assert_eq!(after(nothing), ["a", "b", "c"], "{nothing}");
        }
        for other in ["", "check", "remove-step", "remove-step-x", "remove-point-1", "explode-step-1"] {
            assert_eq!(Wanted::read(other), Wanted::Check, "{other}");
        }
        assert_eq!(Wanted::read("publish"), Wanted::Publish);
    }
}
