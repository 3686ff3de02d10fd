//! What changed, in words: one line, and below it what it was and what it is now.

use std::fmt;

use crate::diff::Difference;

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |items: &[String]| if items.is_empty() { "none".to_owned() } else { items.join("; ") };
        match self {
            Difference::StepAdded { step } => write!(f, "new step: {step}"),
            Difference::StepRemoved { step } => write!(f, "step gone: {step}"),
            Difference::StepRenamed { was, now } => write!(f, "step renamed\n  was: {was}\n  now: {now}"),
            Difference::StepsReordered { was, now } => {
                write!(f, "steps in another order\n  was: {}\n  now: {}", list(was), list(now))
            }
            Difference::PointAdded { step, kind, text } => write!(f, "{step}: new {}: {text}", kind.words()),
            Difference::PointRemoved { step, kind, text } => {
                write!(f, "{step}: {} gone: {text}", kind.words())
            }
            Difference::PointMoved { text, was, now } => {
                write!(f, "moved: {text}\n  was under: {was}\n  now under: {now}")
            }
            Difference::PointReworded { step, kind, was, now } => {
                write!(f, "{step}: {} reworded\n  was: {was}\n  now: {now}", kind.words())
            }
            Difference::KindChanged { step, text, was, now } => {
                write!(f, "{step}: {text}\n  was a {}\n  now a {}", was.words(), now.words())
            }
            Difference::ReasonsChanged { step, text, was, now } => {
                write!(f, "{step}: {text}\n  reason was: {}\n  reason now: {}", list(was), list(now))
            }
            Difference::QuantitiesChanged { step, text, was, now } => {
                write!(f, "{step}: {text}\n  number was: {}\n  number now: {}", list(was), list(now))
            }
            Difference::OrderAdded { first, then } => write!(f, "now binding: {first} before {then}"),
            Difference::OrderRemoved { first, then } => write!(f, "no longer binding: {first} before {then}"),
            Difference::Added { what, text } => write!(f, "new {what}: {text}"),
            Difference::Removed { what, text } => write!(f, "{what} gone: {text}"),
        }
    }
}
