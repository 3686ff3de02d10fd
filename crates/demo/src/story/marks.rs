//! What watchers and trainers mark: which points learners find hard, and how that fades.

use breakdown::{Breakdown, ItemId, ItemKind, KeyPointKind};
use practice::{DrawItem, DrawMark};
use teachback::{Mark, TeachBack, TeachBackItem};

use crate::dice::Dice;

/// How the safety points of a draw went. The story decides it, so that releases do not hang on how many items a
/// breakdown has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum SafetyPoints {
    /// All done without a prompt.
    AllDone,
    /// One was done only after a prompt.
    OnePrompted,
    /// One was missed.
    OneMissed,
}

impl SafetyPoints {
    /// As chance has it: beginners slip on every fifth draw, later on every twentieth.
    pub(crate) fn by_chance(draw_number: usize, dice: &mut Dice) -> SafetyPoints {
        let slips = match draw_number {
            0 | 1 => 200_000,
            2 => 140_000,
            3 => 90_000,
            4 => 65_000,
            _ => 50_000,
        };
        match (dice.chance(slips), dice.chance(620_000)) {
            (false, _) => SafetyPoints::AllDone,
            (true, true) => SafetyPoints::OnePrompted,
            (true, false) => SafetyPoints::OneMissed,
        }
    }
}

/// How a pass of a teach-back goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pass {
    /// The first: points are missing or come after a question.
    First,
    /// Sound: every safety point unprompted, hardly a question.
    Clean,
    /// A false word on a safety point stops it.
    Unsafe,
}

/// How hard a key point is: chance in a thousand that a beginner does not do it unasked.
fn hardness(text: &str, kind: KeyPointKind) -> u32 {
    let text = text.to_lowercase();
    let says = |words: &[&str]| words.iter().any(|word| text.contains(word));
    if says(&["dry"]) && !says(&["each top"]) {
        360
    } else if says(&["mark the fill"]) {
        390
    } else if says(&["discard", "same volume", "equal volume"]) {
        240
    } else if says(&["touch", "your finger"]) {
        200
    } else if says(&["flush", "connector"]) {
        170
    } else if kind == KeyPointKind::Safety {
        22
    } else {
        80
    }
}

/// Chance in a million that a key point is not done unasked on this draw: it fades with practice.
fn chance_open(text: &str, kind: KeyPointKind, draw_number: usize) -> u32 {
    let fading = match draw_number {
        0 | 1 => 100,
        2 => 70,
        3 => 45,
        4 => 32,
        _ => 24,
    };
    hardness(text, kind) * fading * 10
}

/// Marks of one observed draw; `draw_number` counts the learner's draws from 1.
pub(crate) fn draw(
    breakdown: &Breakdown,
    draw_number: usize,
    safety: SafetyPoints,
    dice: &mut Dice,
) -> Vec<DrawItem> {
    let points = breakdown.safety_points();
    let slipped = points.get(dice.below(points.len() as u32) as usize).copied();
    let mut items = Vec::new();
    for view in breakdown.items() {
        let mark = match (view.id.kind(), view.key_point) {
            (ItemKind::Reason, _) => continue,
            (ItemKind::KeyPoint, Some(point)) => {
                let open = dice.chance(chance_open(&point.text, point.kind, draw_number));
                let prompted = dice.chance(620_000);
                let (unseen, not_applicable) = (dice.chance(22_000), dice.chance(15_000));
                if point.kind == KeyPointKind::Safety {
                    match safety {
                        SafetyPoints::OneMissed if slipped == Some(view.id) => DrawMark::NotDone,
                        SafetyPoints::OnePrompted if slipped == Some(view.id) => DrawMark::AfterPrompt,
                        _ => DrawMark::Done,
                    }
                } else if open {
                    if prompted { DrawMark::AfterPrompt } else { DrawMark::NotDone }
                } else if unseen {
                    DrawMark::NotSeen
                } else if not_applicable {
                    DrawMark::NotApplicable
                } else {
                    DrawMark::Done
                }
            }
            _ if draw_number <= 2 && dice.chance(40_000) => DrawMark::AfterPrompt,
            _ => DrawMark::Done,
        };
        items.push(DrawItem { item: view.id, mark });
    }
    items
}

/// The same draw through the eyes of a second watcher, who saw it from another side.
///
/// Safety points are agreed on; hard points and prompts are where two people differ.
pub(crate) fn second_look(breakdown: &Breakdown, first: &[DrawItem], dice: &mut Dice) -> Vec<DrawItem> {
    let other = |item: &DrawItem, dice: &mut Dice| {
        let Some(point) = breakdown.key_point(item.item) else { return item.mark };
        let hard = hardness(&point.text, point.kind) >= 150;
        match item.mark {
            _ if point.kind == KeyPointKind::Safety => item.mark,
            DrawMark::AfterPrompt | DrawMark::NotDone
                if dice.chance(if hard { 420_000 } else { 250_000 }) =>
            {
                DrawMark::Done
            }
            DrawMark::Done if dice.chance(if hard { 160_000 } else { 25_000 }) => DrawMark::AfterPrompt,
            DrawMark::Done if dice.chance(20_000) => DrawMark::NotSeen,
            DrawMark::NotSeen => DrawMark::Done,
            mark => mark,
        }
    };
    first.iter().map(|item| DrawItem { item: item.item, mark: other(item, dice) }).collect()
}

/// One pass of a teach-back.
pub(crate) fn teach_back(breakdown: &Breakdown, pass: Pass, dice: &mut Dice) -> TeachBack {
    let points = breakdown.safety_points();
    let stop = (pass == Pass::Unsafe).then(|| points.last().copied()).flatten();
    // A clean pass leaves room for a question or two, never on a safety point.
    let mut questions_left = 1;
    let mut at_tenths = 40;
    let mut items = Vec::new();
    for view in breakdown.items() {
        at_tenths += dice.between(25, 110);
        let safety = view.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety);
        let hard = view.key_point.map_or(20, |point| hardness(&point.text, point.kind));
        let stumbles = dice.chance(match (pass, view.id.kind()) {
            (Pass::Clean, _) => hard * 400,
            (_, ItemKind::Step) => 90_000,
            (_, ItemKind::KeyPoint) => (hard * 1_900 + 60_000).min(900_000),
            (_, ItemKind::Reason) => (hard * 1_500 + 150_000).min(900_000),
        });
        let how = dice.below(100);
        let mark = if stop == Some(view.id) {
            Mark::Unsafe
        } else if pass == Pass::Clean {
            if safety || !stumbles || questions_left == 0 || view.id.kind() != ItemKind::KeyPoint {
                Mark::Unprompted
            } else {
                questions_left -= 1;
                Mark::Prompted
            }
        } else if stumbles {
            stumble(how, safety)
        } else {
            Mark::Unprompted
        };
        let said = mark != Mark::Missed;
        let at_s = said.then_some(f64::from(at_tenths) / 10.0);
        items.push(TeachBackItem { item: view.id, mark, at_s });
        if mark == Mark::Unsafe {
            break;
        }
    }
    let note = (pass == Pass::Unsafe).then(|| {
        "Stopped and put right at once; the trainer goes through the end of the job again.".to_owned()
    });
    TeachBack::heard(breakdown.code.clone(), breakdown.version, items, note)
}

fn stumble(how: u32, safety: bool) -> Mark {
    match how {
        0..=44 => Mark::Prompted,
        45..=54 => Mark::Led,
        55..=74 => Mark::Partial,
        75..=95 => Mark::Missed,
        _ if safety => Mark::Missed,
        _ => Mark::Wrong,
    }
}

/// The first item a mark may be corrected on: missed in the pass, and no safety point.
pub(crate) fn correctable(breakdown: &Breakdown, teachback: &TeachBack) -> Option<ItemId> {
    let points = breakdown.safety_points();
    teachback
        .items
        .iter()
        .find(|item| item.mark == Mark::Missed && !points.contains(&item.item))
        .map(|item| item.item)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::breakdowns;

    #[test]
    fn the_story_decides_the_safety_points_of_a_draw() {
        let (_, jobs) = breakdowns::read().unwrap();
        let mut dice = Dice::new(5, "test");
        for (safety, not_done, prompted) in [
            (SafetyPoints::AllDone, 0, 0),
            (SafetyPoints::OnePrompted, 0, 1),
            (SafetyPoints::OneMissed, 1, 0),
        ] {
            for breakdown in [&jobs.vein_one, &jobs.vein_two, &jobs.line_one] {
                let items = draw(breakdown, 1, safety, &mut dice);
                let points = breakdown.safety_points();
                let count = |mark| {
                    items.iter().filter(|item| points.contains(&item.item) && item.mark == mark).count()
                };
                assert_eq!((count(DrawMark::NotDone), count(DrawMark::AfterPrompt)), (not_done, prompted));
                assert_eq!(count(DrawMark::Done) + not_done + prompted, points.len());
                let seen = second_look(breakdown, &items, &mut dice);
                assert!(items.iter().zip(&seen).all(|(one, other)| one.item == other.item));
            }
        }
    }

    #[test]
    fn a_clean_pass_is_clean_and_an_unsafe_one_stops() {
        let (_, jobs) = breakdowns::read().unwrap();
        let mut dice = Dice::new(5, "test");
        let clean = teach_back(&jobs.vein_two, Pass::Clean, &mut dice);
        let prompted = clean.items.iter().filter(|item| item.mark != Mark::Unprompted).count();
        assert!(prompted <= 1 && clean.items.len() == jobs.vein_two.items().len());
        let stopped = teach_back(&jobs.vein_two, Pass::Unsafe, &mut dice);
        assert_eq!(stopped.items.last().map(|item| item.mark), Some(Mark::Unsafe));
    }
}
