/// When a teach-back counts as complete.
#[derive(Debug, Clone, PartialEq)]
pub struct TeachBackRule {
    /// Clean passes in a row.
    pub clean_passes: u16,
    /// Whether the last clean pass must be on a later day than the first of them.
    pub on_different_days: bool,
    /// Least share of the key points that must be said, unprompted or after a neutral question; 0 to 1.
    pub least_share_of_key_points: f64,
}

/// A sequential test as a score: it begins at 0, each clean draw adds one point, each draw with a missed safety point
/// takes some, never below 0. Once the points needed are reached, they stay reached.
///
/// It is a learning-curve CUSUM in whole numbers (D. J. Biau and R. Porcher, Statistics in Medicine 29, 2010, 1900): with
/// able and not able at p0 and p1, a fault weighs ln(p1 / p0) / ln((1 − p0) / (1 − p1)) clean draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PointsTest {
    /// Points needed; from 1.
    pub needed: u16,
    /// Points a draw with a missed safety point takes.
    pub lost_by_fault: u16,
}

/// Whose watching counts towards release. Whoever watches must be free to: a trainer, or released on the job and allowed
/// to precept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum WhoMayWatch {
    /// Preceptors and trainers.
    #[default]
    PreceptorsAndTrainers,
    /// Trainers only.
    Trainers,
}

/// Follow-up after release: when the next check is due, as days after release and after the last listed check.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FollowUp {
    /// Days after release of the first checks, rising.
    pub after_days: Vec<u16>,
    /// Days between later checks.
    pub then_every_days: u16,
}

/// What must be in the book before the rule says that a person may be released.
///
/// It is data: a unit changes it and sees what that does to its error rates ([`error_rates`](crate::error_rates)).
#[derive(Debug, Clone, PartialEq)]
pub struct ReleaseRule {
    /// Name.
    pub name: String,
    /// Version, counted from 1.
    pub version: u32,
    /// Observed draws on real patients needed.
    pub draws_needed: u16,
    /// The last this many of them must be clean: no safety point missed.
    pub clean_in_a_row: u16,
    /// Safety points that may be done only after a prompt over those last draws together; `None` for no limit.
    pub safety_prompts_allowed: Option<u16>,
    /// Whether every safety point must have been seen done on at least one of those last draws: not seen is not done.
    pub every_safety_point_seen: bool,
    /// A sequential test beside the rest; `None` when the rule asks for none.
    pub points: Option<PointsTest>,
    /// Whose watching counts.
    pub who_may_watch: WhoMayWatch,
    /// The trainer's own clean look, on this draw or a later one; `None` when the rule asks for none.
    pub spot_check_from_draw: Option<u16>,
    /// When the teach-back is complete; `None` when the rule asks for none.
    pub teach_back: Option<TeachBackRule>,
    /// Clean checks on their own patients before the rule lets them draw from all; `None` when the rule lets a
    /// person be released to all patients at once.
    pub clean_checks_before_all: Option<u16>,
    /// How long an observed draw or teach-back counts, in days; `None` for no limit.
    pub evidence_counts_days: Option<u16>,
    /// Draws after which the trainer takes stock: the chance of release is the chance within so many.
    pub most_draws: u16,
    /// Days without a known draw after which a standing has lapsed; `None` for never.
    pub lapse_after_days: Option<u16>,
    /// Days within which a major version of the breakdown must reach those already released.
    pub update_within_days: u16,
    /// Follow-up after release.
    pub follow_up: FollowUp,
}

impl Default for ReleaseRule {
    /// Five observed draws, the last three clean, the teach-back complete, the trainer's own look on the second draw
    /// or later; own patients first, then all; follow-up after one week, one month, three months, then yearly.
    ///
    /// All of it is common practice with no source: no number of supervised draws is agreed, and a unit's own policy
    /// comes first.
    fn default() -> Self {
        ReleaseRule {
            name: "five draws, last three clean".to_owned(),
            version: 1,
            draws_needed: 5,
            clean_in_a_row: 3,
            safety_prompts_allowed: Some(0),
            every_safety_point_seen: true,
            points: None,
            who_may_watch: WhoMayWatch::default(),
            spot_check_from_draw: Some(2),
            teach_back: Some(TeachBackRule {
                clean_passes: 2,
                on_different_days: true,
                least_share_of_key_points: 0.9,
            }),
            clean_checks_before_all: Some(1),
            evidence_counts_days: None,
            most_draws: 10,
            lapse_after_days: Some(90),
            update_within_days: 30,
            follow_up: FollowUp { after_days: vec![7, 30, 91], then_every_days: 365 },
        }
    }
}
