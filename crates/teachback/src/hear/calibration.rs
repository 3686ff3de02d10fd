//! From signs to a probability.
//!
//! Fitted by `tests/hearing/fit.py` on the tuning part of the labelled set (27 transcripts, clean and with 10 % and 25 % of their
//! words wrong, each level counted alike): logistic regression with a small ridge. `docs/hearing.md` has the calibration on the
//! test part. The weights belong to the signs in their order; a change of either asks for a new fit.

use breakdown::ItemKind;

use super::HeardAs;
use super::evidence::N_SIGNS;

/// Weight of each sign for key points; the last is the constant.
const POINT: [f64; N_SIGNS + 1] = [
    1.2904, 3.8235, 0.9366, 3.1802, 1.6208, 2.8810, -0.5180, -0.6992, 1.2270, 0.4646, -0.2620, 0.8412,
    0.8815, -0.1943, -4.0154,
];
/// Weight of each sign for reasons.
const REASON: [f64; N_SIGNS + 1] = [
    1.6709, 3.4587, 1.2620, 1.7243, 0.0000, 0.0000, -0.3393, 0.0932, 0.5885, 0.7019, 1.9814, 3.8029, 0.8284,
    2.9177, -8.9807,
];

/// Probability that an item was said.
pub(super) fn said(kind: ItemKind, signs: &[f64; N_SIGNS]) -> f64 {
    let weights = if kind == ItemKind::Reason { &REASON } else { &POINT };
    let sum: f64 = signs.iter().zip(weights).map(|(sign, weight)| sign * weight).sum();
    1.0 / (1.0 + libm::exp(-(sum + weights[N_SIGNS])))
}

/// Share of proposals of each kind that were right among those that were said, on the tuning part. Opposites and quantities
/// are set lower than measured there (0.81 and 0.96), because their word lists and rules were made on the same part.
pub(super) fn mark_is_right(heard_as: HeardAs, said: f64) -> f64 {
    let share = match heard_as {
        HeardAs::Said => 0.92,
        HeardAs::AfterPrompt => 0.90,
        HeardAs::Led => 0.80,
        HeardAs::InPart => 0.19,
        HeardAs::OtherQuantity => 0.85,
        HeardAs::Opposite => 0.60,
        HeardAs::NotHeard => 1.0,
    };
    (share * said).clamp(0.0, 1.0)
}
