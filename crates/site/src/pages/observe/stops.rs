//! When to stop a draw, in plain words. Local policy and whoever is licensed to decide come first.

use desk::ObserveForm;
use maud::{Markup, html};
use practice::Stopped;

use super::typed::stopped_code;
use crate::parts::{Shape, section, shape};

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
        button: "Nerve pain",
        noticed: "Shooting pain, tingling or tremor",
        actions: &[
            "Tourniquet off, needle out at once.",
            "Press, and ask what is felt now.",
            "Not again at this place. Tell the nurse in charge, and write it down.",
        ],
        press_s: None,
    },
    Stop {
        why: Stopped::Artery,
        button: "Artery",
        noticed: "Bright blood that pulses",
        actions: &[
            "Tourniquet off, needle out at once.",
            "Press for 5 minutes or longer, without looking in between.",
            "Call. Watch hand and fingers: colour, warmth, feeling.",
        ],
        press_s: Some(300),
    },
    Stop {
        why: Stopped::Attempts,
        button: "Attempts",
        noticed: "The limit of attempts is reached",
        actions: &[
            "Stop. Hand over to a colleague.",
            "No further set to make up for it: blood drawn is blood lost.",
        ],
        press_s: None,
    },
    Stop {
        why: Stopped::Breathless,
        button: "Breathless",
        noticed: "Breathless, chest pain or confused after a line was opened",
        actions: &[
            "Clamp the line now.",
            "On the left side, head down.",
            "Oxygen. Call for help: air may be in the heart.",
        ],
        press_s: None,
    },
];

/// The section that a script turns into buttons, one tap away on every step.
pub(super) fn section_of(form: &ObserveForm) -> Markup {
    section(
        "stops",
        "When to stop",
        Some(html! { p { "Local policy comes first; whoever is licensed to decide decides." } }),
        &html! {
            @for stop in &STOPS {
                article.stop data-stop=(stopped_code(stop.why)) data-button=(stop.button) data-press=[stop.press_s] {
                    h3 { (shape(Shape::Triangle)) " " (stop.noticed) }
                    ol { @for action in stop.actions { li { (action) } } }
                    @if stop.why == Stopped::Attempts {
                        p.note { "The limit here is " (form.attempt_limit) " for each collector." }
                    }
                }
            }
        },
    )
}
