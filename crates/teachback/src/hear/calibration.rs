//! From signs to a probability.

use breakdown::ItemKind;

use super::HeardAs;
use super::evidence::N_SIGNS;

/// Weight of each sign for key points; the last is the constant.
const POINT: [f64; N_SIGNS + 1] = [
    0.7827, 3.0467, 1.0865, 3.2240, 0.7241, 1.6861, -0.0981, -0.4976, 1.5233, 0.6644, -0.4394, 1.5687,
    1.7732, -0.5894, -3.8665,
];
/// Weight of each sign for reasons.
const REASON: [f64; N_SIGNS + 1] = [
    1.2389, 3.9791, 0.6409, 2.0964, 0.0000, 0.0000, -0.4424, 0.2036, 0.0557, 0.7058, 1.1393, 1.8142, 0.7348,
    2.3059, -6.7148,
];

/// Probability that an item was said.
pub(super) fn said(kind: ItemKind, signs: &[f64; N_SIGNS]) -> f64 {
    let weights = if kind == ItemKind::Reason { &REASON } else { &POINT };
    let sum: f64 = signs.iter().zip(weights).map(|(sign, weight)| sign * weight).sum();
    1.0 / (1.0 + libm::exp(-(sum + weights[N_SIGNS])))
}

/// Share of proposals of each kind that were right among those that were said, on the tuning part.
pub(super) fn mark_is_right(heard_as: HeardAs, said: f64) -> f64 {
    let share = match heard_as {
        HeardAs::Said => 0.95,
        HeardAs::AfterPrompt => 0.9,
        HeardAs::Led => 0.8,
        HeardAs::InPart => 0.7,
        HeardAs::OtherQuantity => 0.9,
        HeardAs::Opposite => 0.6,
        HeardAs::NotHeard => 1.0,
    };
    (share * said).clamp(0.0, 1.0)
}
