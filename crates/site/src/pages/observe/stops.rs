//! When to stop a draw, in plain words. Local policy and whoever is licensed to decide come first.

use desk::ObserveForm;
use maud::{Markup, html};
use practice::Stopped;

use super::typed::stopped_code;
use crate::parts::{Shape, section, shape};
use crate::words::bed;

/// One reason to stop: the word on the button, what is noticed, what to do at once.
struct Stop {
    why: Stopped,
    button: &'static str,
    noticed: &'static str,
    actions: &'static [&'static str],
    /// Seconds to press, where pressing is timed.
    press_s: Option<u32>,
}

/// Nerve: nursing skills text 2020. Artery: common practice, no source; five minutes as the breakdowns say. Line: a
/// university's teaching on central lines. Local policy goes before all of them.
const STOPS: [Stop; 4] = [
    Stop {
        why: Stopped::Nerve,
        button: bed::NERVE_PAIN,
        noticed: bed::SHOOTING_PAIN_TINGLING_OR_TREMOR,
        actions: &[
            bed::TOURNIQUET_OFF_NEEDLE_OUT_AT,
            bed::PRESS_AND_ASK_WHAT_IS,
            bed::NOT_AGAIN_AT_THIS_PLACE,
        ],
        press_s: None,
    },
    Stop {
        why: Stopped::Artery,
        button: bed::ARTERY,
        noticed: bed::BRIGHT_BLOOD_THAT_PULSES,
        actions: &[
            bed::TOURNIQUET_OFF_NEEDLE_OUT_AT,
            bed::PRESS_FOR_5_MINUTES_OR,
            bed::CALL_WATCH_HAND_AND_FINGERS,
        ],
        press_s: Some(300),
    },
    Stop {
        why: Stopped::Attempts,
        button: bed::ATTEMPTS,
        noticed: bed::THE_LIMIT_OF_ATTEMPTS_IS,
        actions: &[bed::STOP_HAND_OVER_TO_A, bed::NO_FURTHER_SET_TO_MAKE],
        press_s: None,
    },
    Stop {
        why: Stopped::Breathless,
        button: bed::BREATHLESS,
        noticed: bed::BREATHLESS_CHEST_PAIN_OR_CONFUSED,
        actions: &[bed::CLAMP_THE_LINE_NOW, bed::ON_THE_LEFT_SIDE_HEAD, bed::OXYGEN_CALL_FOR_HELP_AIR],
        press_s: None,
    },
];

/// The section that a script turns into buttons, one tap away on every step.
pub(super) fn section_of(form: &ObserveForm) -> Markup {
    section(
        "stops",
        bed::WHEN_TO_STOP,
        Some(html! { p { (bed::LOCAL_POLICY_COMES_FIRST_WHOEVER) } }),
        &html! {
            @for stop in &STOPS {
                article.stop data-stop=(stopped_code(stop.why)) data-button=(stop.button) data-press=[stop.press_s] {
                    h3 { (shape(Shape::Triangle)) " " (stop.noticed) }
                    ol { @for action in stop.actions { li { (action) } } }
                    @if stop.why == Stopped::Attempts {
                        p.note { (bed::THE_LIMIT_HERE_IS) (form.attempt_limit) (bed::FOR_EACH_COLLECTOR) }
                    }
                }
            }
        },
    )
}
