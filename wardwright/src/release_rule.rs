//! The command `wardwright release-rule`: a release rule in words, and what it does to those who are ready and those
//! who are not.

mod json;
mod rule_file;
mod text;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use practice::{
    Found, ReleaseRule, Released, Risks, error_rate_curve, error_rate_curve_with_prompts, never_met,
    shortest_rule,
};
use stats::Probability;

use crate::breakdown::print;
use crate::message::{FAULTS, Message};
pub use rule_file::read;

/// Show what a release rule does: how many it would release, by how often they miss a safety point
///
/// Without a file it shows the rule that comes along. The chances are worked out exactly from the rule, not from
/// anybody's draws. The program advises; a release is a trainer's signed decision. docs/release-rule.md explains the
/// file. Exit code: 0, 1 when the rule can never be met, 2 when the file could not be read.
#[derive(Debug, Args)]
pub struct ReleaseRuleArgs {
    /// File of the rule
    #[arg(value_name = "FILE.toml")]
    file: Option<PathBuf>,
    /// Search the shortest rule within the risks below, other parts as in the file
    #[arg(long)]
    find: bool,
    /// Fault rate of somebody who is not ready, 0 to 1
    #[arg(long, default_value_t = 0.2, value_name = "SHARE", requires = "find")]
    not_ready: f64,
    /// Most of them that may be released
    #[arg(long, default_value_t = 0.05, value_name = "SHARE", requires = "find")]
    most_released: f64,
    /// Fault rate of somebody who is ready
    #[arg(long, default_value_t = 0.02, value_name = "SHARE", requires = "find")]
    ready: f64,
    /// Most of them that may be held back
    #[arg(long, default_value_t = 0.1, value_name = "SHARE", requires = "find")]
    most_held_back: f64,
    /// Draws after which the trainer takes stock at the latest, 1 to 200
    #[arg(long, default_value_t = 60, value_name = "DRAWS", requires = "find")]
    within: u16,
    /// Share of the draws without a missed safety point on which one was done only after a prompt, 0 to 1: no part of the
    /// rule, but what the chances assume of the learners
    #[arg(long, default_value_t = 0.0, value_name = "SHARE")]
    prompted: f64,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

/// What was searched, and what was found.
struct Search {
    risks: Risks,
    found: Option<Found>,
}

/// A rule with its curve and what is wrong with it.
struct Shown {
    rule: ReleaseRule,
    /// Fault rates 0 to 50 % in steps of one percentage point.
    curve: Vec<Released>,
    /// The share of prompted draws asked for, and whether the curve has it: not where a rule tells apart too many runs
    /// with their prompts.
    prompted: (Probability, bool),
    /// Why nobody ever meets it; empty for a rule that can be met.
    never_met: Vec<String>,
    search: Option<Search>,
}

/// Steps of the curve from 0 to 50 %.
const N_STEPS: u16 = 50;
/// Fault rates of the two sentences, as points of the curve: one draw in five, and one in fifty.
const IN_SENTENCES: [usize; 2] = [20, 2];

const ADVICE: &str = "The program advises and a person decides: a release is the trainer's signed decision, and no \
                      standing rises by itself. Training support, not a medical device; local policy comes first.";

pub fn run(args: &ReleaseRuleArgs) -> ExitCode {
    match shown(args) {
        Ok(shown) => {
            let none_found = shown.search.as_ref().is_some_and(|search| search.found.is_none());
            print(&if args.json { json::object(&shown) } else { words(&shown) });
            if shown.never_met.is_empty() && !none_found { ExitCode::SUCCESS } else { ExitCode::from(FAULTS) }
        }
        Err(message) => message.give_up(),
    }
}

fn words(shown: &Shown) -> String {
    match &shown.search {
        None => text::report(shown),
        Some(search) if search.found.is_none() => text::search(search),
        Some(search) => text::search(search) + &text::report(shown),
    }
}

fn share(option: &str, value: f64) -> Result<Probability, Message> {
    Probability::new(value).map_err(|_| {
        Message::new(option, value.to_string(), "a share, 0 to 1", "correct the number: 5 % is 0.05")
    })
}

/// The search asked for; the rule given is what it changes.
fn searched(args: &ReleaseRuleArgs, base: &ReleaseRule) -> Result<Search, Message> {
    let risks = Risks {
        not_ready: share("--not-ready", args.not_ready)?,
        most_released: share("--most-released", args.most_released)?,
        ready: share("--ready", args.ready)?,
        most_held_back: share("--most-held-back", args.most_held_back)?,
        most_draws: args.within,
    };
    let found = shortest_rule(base, &risks).map_err(|error| {
        Message::new(
            "release-rule --find",
            error.to_string(),
            "a fault rate of those who are ready below that of those who are not, and 1 to 200 draws",
            "correct the options",
        )
    })?;
    let found = found.map(|found| Found {
        rule: ReleaseRule { name: "shortest rule found".to_owned(), version: 1, ..found.rule },
        ..found
    });
    Ok(Search { risks, found })
}

fn shown(args: &ReleaseRuleArgs) -> Result<Shown, Message> {
    let rule = args.file.as_deref().map_or_else(|| Ok(ReleaseRule::default()), rule_file::read)?;
    let search = args.find.then(|| searched(args, &rule)).transpose()?;
    let found = search.as_ref().and_then(|search| search.found.as_ref());
    let rule = found.map_or(rule, |found| found.rule.clone());
    let prompts = share("--prompted", args.prompted)?;
    let fault = |error: stats::StatsError| {
        Message::new(
            "release-rule",
            error.to_string(),
            "fault rates within 0 to 50 %",
            "report this fault: no rule should lead to it",
        )
    };
    let with_prompts = error_rate_curve_with_prompts(&rule, prompts, N_STEPS).map_err(fault)?;
    let prompted = (prompts, with_prompts.is_some());
    let curve = match with_prompts {
        Some(curve) => curve,
        None => error_rate_curve(&rule, N_STEPS).map_err(fault)?,
    };
    let never_met = never_met(&rule);
    Ok(Shown { rule, curve, prompted, never_met, search })
}
