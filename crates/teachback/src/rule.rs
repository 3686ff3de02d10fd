//! When a pass counts as clean, and how many clean passes are asked for.

/// What a unit asks of a teach-back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassRule {
    /// Least share of key points said unprompted or after one neutral question, 0 to 1.
    least_known: f64,
    /// Every safety point must be said without help.
    pub safety_unprompted: bool,
    /// Clean passes in a row before the teach-back counts as complete.
    pub passes_in_a_row: u32,
    /// The last of them on another day than the one before.
    pub last_on_another_day: bool,
}

/// Why a rule was refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum RuleError {
    /// Not a share.
    #[error("least share of key points known {value} is not within 0 to 1")]
    ShareNotWithin {
        /// The value that was given.
        value: f64,
    },
    /// Nobody can be complete after no pass.
    #[error("0 clean passes in a row; at least 1 is needed")]
    NoPasses,
}

impl PassRule {
    /// A rule; refuses a share outside 0 to 1 and a rule that asks for no pass.
    pub fn new(
        least_known: f64,
        safety_unprompted: bool,
        passes_in_a_row: u32,
        last_on_another_day: bool,
    ) -> Result<PassRule, RuleError> {
        if !(0.0..=1.0).contains(&least_known) {
            return Err(RuleError::ShareNotWithin { value: least_known });
        }
        if passes_in_a_row == 0 {
            return Err(RuleError::NoPasses);
        }
        Ok(PassRule { least_known, safety_unprompted, passes_in_a_row, last_on_another_day })
    }

    /// Least share of key points said unprompted or after one neutral question, 0 to 1.
    pub fn least_known(&self) -> f64 {
        self.least_known
    }
}

/// Common practice, no source: every step, every safety point unprompted, at least 90 % of the key points with at
/// most one prompt, nothing wrong left open, two clean passes in a row, the last on another day. A unit sets its own.
impl Default for PassRule {
    fn default() -> Self {
        PassRule { least_known: 0.9, safety_unprompted: true, passes_in_a_row: 2, last_on_another_day: true }
    }
}
