//! What the trainer's desk shows, worked out from histories and sets.
//!
//! Pages and papers render the plain facts of this room; they compute nothing themselves. The room is pure: the
//! day on which the question is asked is an argument, and nothing here knows where a history or a set was stored.

mod after;
mod away;
mod beside;
mod blood;
mod chance;
mod change;
mod collection;
mod edit;
mod expected;
mod facts;
mod follow;
mod job;
mod missed;
mod next_draw;
mod observe;
mod pairs;
mod people;
mod plan_view;
mod planning;
mod published;
mod rate;
mod report;
mod results;
mod rules;
mod shifts;
mod signing;
mod teach_back;
mod today;
mod trade;
mod view;

pub use after::{AfterDraw, AfterPage, AfterResult, circumstances};
pub use away::{AwayPage, AwayRow};
pub use beside::{HeardTogether, ProposalRow, ProposalsBeside, ProposalsChanged};
pub use blood::{BandRow, BloodError, Body, DAY_LIMITS, PatientBlood, patient_blood, weight_bands};
pub use collection::{
    Antibiotic, AskedFor, BottleSheet, BottlesAtHand, CAUTION, ChosenJob, CollectionAsk, CollectionSheet,
    FoundRow, Method, PlanBlock, PlanRow, PlanSentence, Refused, SetSheet, UnitPolicy, chosen_job,
    collection,
};
pub use draw::Sex;
pub use edit::{EditForm, PublishedVersion};
pub use expected::{ExpectedDraws, ExpectedSlot};
pub use facts::{Desk, Material};
pub use follow::{
    AgreedPoint, DueRow, FollowUpPage, FollowedJob, REFRESHERS_AHEAD_DAYS, UnitConfidenceShown, UnitDue,
    WatchedJob, WatchedRow, WatcherRow, WatchingPage,
};
pub use missed::{FEWEST_TO_RANK, ListenersAgree, MissedPage, MissedPoint};
pub use next_draw::{Kept, NOBODY_RELEASED, Named, NextDrawRow, OfferRow};
pub use observe::{AtTheBed, DrawTimer, ObserveForm, ObservedPage};
pub use pairs::{PairRow, PairSet, PairsPage, pair_difference, pair_doubt, pair_finding, pair_rule};
pub use plan_view::{
    PairChange, PlanAbsence, PlanBeside, PlanFacts, PlanLearner, PlanObstacle, PlanPair, PlanVisit,
    PlanWarning, PlanWeek,
};
pub use planning::{Estimate, NoGround, PlanAssumptions, PlanGround};
pub use published::{FigureBeside, PublishedMonth, ReportFigure, beside_today};
pub use rate::{FEWEST_FOR_A_PERCENTAGE, percent, rate};
pub use rules::{MOST_DRAWS_SEARCHED, RiskAsked, RuleRow, RuleShown, RulesAsked, RulesPage, Searched};
pub use signing::{ConfidenceFacts, FaultFacts, SigningEvidence, SigningForm};
pub use teach_back::{PractisePoint, TeachBackForm, TeachBackResult};
pub use trade::{CoverRow, JobCover, TradeCell, TradeGap, TradePage, TradeRow};
pub use view::{
    Asked, BreakdownPage, Chance, Charted, DrawRow, EvidenceRow, Fill, Finding, JobStanding, Link,
    MonthReport, MonthRow, PersonPage, PersonResults, PersonRow, PointFacts, Rate, Results, Share,
    ShiftCover, TodayItem, TodayPage, TrainingFacts, UnitRow, Urgency, VerdictCounts,
};
