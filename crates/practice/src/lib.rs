//! Observed draws, standing, release rules and their error rates, follow-up.
//!
//! This room is pure: a history goes in, a standing with its evidence comes out. It reads no clock; the day on
//! which the question is asked is an argument.
//!
//! Three kinds of evidence never stand in for each other: what was said (teach-back), what was done (observed draw)
//! and what came of it (the laboratory's result, which is not in this room). The program never raises a standing by
//! itself: a standing rests on a release that a trainer signed.

mod after_release;
mod chain;
mod circumstances;
mod confidence;
mod counted;
mod effective;
mod error_rates;
mod event;
mod facts;
mod file;
mod follow_up;
mod judge;
mod listeners;
mod passes;
mod prompts;
mod rule;
mod rule_check;
mod rule_words;
mod rules;
mod score;
mod sentence;
mod shortest;
mod standing;
mod standings;
mod versions;
mod watchers;
mod words;

pub use after_release::{FaultChart, FaultRate, FaultWatch, FaultWatchDesign, fault_rate, fault_watch};
pub use circumstances::{Bottle, Circumstances, Difficulty, DrawnFrom, Stopped, WhyThere};
pub use confidence::{
    Confidence, ConfidenceBeside, FEWEST_FOR_A_UNIT, UnitConfidence, confidence_beside, confidence_of_unit,
};
pub use counted::{CountedDraw, counted_draws};
pub use effective::{StandingEvent, corrected_events, standing_events};
pub use error_rates::{
    LONGEST, Progress, Released, chance_met_after, error_rate_curve, error_rate_curve_with_prompts,
    error_rate_sentence, error_rates, error_rates_with_prompts,
};
pub use event::{
    DrawItem, DrawMark, Event, EventId, EventKind, History, LaboratoryDraw, ObservedDraw, Person, PersonId,
    Release, Role, Scope, Setting, SpotCheck,
};
pub use facts::{DoneCounts, KeyPointFact, PairedMarks, SaidCounts, key_point_facts, paired_marks};
pub use listeners::{SaidPair, paired_teach_backs};
pub use passes::{HeardPass, Listened, heard_passes};
pub use rule::{FollowUp, PointsTest, ReleaseRule, TeachBackRule, WhoMayWatch};
pub use rule_check::{RuleFault, rule_faults};
pub use rule_words::{asks_for_no_clean_draw, never_met, rule_in_words};
pub use rules::{PublishedRule, end_of, published_rules, rule_in_force};
pub use sentence::Sentences;
pub use shortest::{Found, MOST_SEARCHED, Risks, shortest_rule};
pub use standing::{Corrected, Due, Evidence, EvidenceKind, Level, Standing};
pub use standings::{scope_words, standings};
pub use watchers::{WatcherFacts, chance_of_so_few, outcomes_after_release, watcher_facts};
pub use words::{day_in_words, month_in_words, month_name};
