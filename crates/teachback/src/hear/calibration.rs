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
    1.0551, 2.1367, 0.8703, 2.4117, 1.4998, 2.1033, -0.1243, -0.2569, 1.2548, 0.7955, -0.2115, 1.3262,
    1.5437, 0.5264, -4.3243,
];
/// Weight of each sign for reasons.
const REASON: [f64; N_SIGNS + 1] = [
    1.3752, 4.1692, 1.1779, 2.2059, 0.0000, 0.0000, -0.9150, 0.1392, 0.0104, 0.7793, 1.1898, 2.3328, 0.9132,
    2.5080, -7.3112,
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
