//! The unit's release rule: what it does to those who are not ready and those who are, and what a changed one would do.

use jiff::civil::{Date, DateTime};
use practice::{
    PersonId, ReleaseRule, Released, Risks, Role, RuleFault, error_rate_curve_with_prompts,
    error_rate_sentence, never_met, rule_faults, rule_in_words, shortest_rule,
};
use stats::{Probability, StatsError};

use crate::facts::Desk;

/// Steps of a curve from 0 to 50 % of draws.
const N_STEPS: u16 = 50;
/// Fault rates of the two sentences, as points of the curve: one draw in five, and one in fifty.
const IN_SENTENCES: [usize; 2] = [20, 2];
/// Most draws a search on a page may allow, so that an answer comes at once.
pub const MOST_DRAWS_SEARCHED: u16 = 100;

/// What is asked of the rule page.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RulesAsked {
    /// A changed rule to look at beside the one in force.
    pub changed: Option<ReleaseRule>,
    /// Share of the draws without a missed safety point on which one was done only after a prompt, 0 to 1.
    pub prompt_rate: f64,
    /// A search for the shortest rule.
    pub search: Option<RiskAsked>,
}

/// Risks within which the shortest rule is searched; shares from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RiskAsked {
    /// Fault rate of somebody who is not ready.
    pub not_ready: f64,
    /// Most of them that may be released.
    pub most_released: f64,
    /// Fault rate of somebody who is ready.
    pub ready: f64,
    /// Most of them that may be held back.
    pub most_held_back: f64,
    /// Draws after which the trainer takes stock at the latest; 1 to [`MOST_DRAWS_SEARCHED`].
    pub most_draws: u16,
}

/// A rule with what its draws do.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleShown {
    /// The rule.
    pub rule: ReleaseRule,
    /// What it asks for, a sentence each.
    pub words: Vec<String>,
    /// Fault rates 0 to 50 % in steps of one percentage point.
    pub curve: Vec<Released>,
    /// Whether prompts are in the curve. They are not where the rule tells apart too many patterns of them.
    pub has_prompts: bool,
    /// Of 100 nurses who fail one draw in five, and one in fifty.
    pub sentences: Vec<String>,
    /// Why nobody ever meets it; empty for a rule that can be met.
    pub never_met: Vec<String>,
    /// Whether somebody who misses a safety point on every draw meets it.
    pub asks_for_no_clean_draw: bool,
}

/// What became of a search.
#[derive(Debug, Clone, PartialEq)]
pub enum Searched {
    /// The shortest rule, with the share of those not ready that it releases and of those ready that it holds back.
    Found { shown: Box<RuleShown>, released: f64, held_back: f64 },
    /// No rule of the kinds searched is within the risks.
    None,
    /// The question cannot be asked so.
    Refused(String),
}

/// A rule that was in force, or is.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleRow {
    /// Name and version.
    pub name: String,
    /// Version.
    pub version: u32,
    /// From when; `None` for the rule of the unit's file.
    pub from: Option<DateTime>,
    /// Who published it.
    pub by: Option<String>,
    /// Why.
    pub why: Option<String>,
    /// People whose standing rests on a release signed while it was in force.
    pub n_released: u64,
}

/// The rule page.
#[derive(Debug, Clone, PartialEq)]
pub struct RulesPage {
    /// Day asked about.
    pub today: Date,
    /// The rule in force.
    pub in_force: RuleShown,
    /// The changed rule asked about, where it is sound.
    pub changed: Option<RuleShown>,
    /// What is wrong with the changed rule.
    pub faults: Vec<RuleFault>,
    /// What the search found.
    pub searched: Option<Searched>,
    /// Every rule so far, latest first.
    pub rules: Vec<RuleRow>,
    /// Version the next rule gets.
    pub next_version: u32,
    /// Trainers, who may publish.
    pub trainers: Vec<(PersonId, String)>,
}

impl Desk {
    /// The release rule in force today.
    pub fn rule_in_force(&self) -> &ReleaseRule {
        &self.rule
    }

    /// The rule in force, beside a changed one and a search.
    pub fn rules(&self, asked: &RulesAsked) -> Result<RulesPage, StatsError> {
        let prompts = Probability::new(asked.prompt_rate)?;
        let faults = asked.changed.as_ref().map(rule_faults).unwrap_or_default();
        let changed = asked.changed.as_ref().filter(|_| faults.is_empty());
        let rules = self.rule_rows();
        Ok(RulesPage {
            today: self.today(),
            in_force: shown(self.rule_in_force(), prompts)?,
            changed: changed.map(|rule| shown(rule, prompts)).transpose()?,
            searched: asked.search.map(|risks| self.searched(changed, risks, prompts)).transpose()?,
            next_version: rules.iter().map(|row| row.version).max().unwrap_or(0).saturating_add(1),
            faults,
            rules,
            trainers: self.trainers(),
        })
    }

    /// Trainers on the unit, by name.
    pub fn trainers(&self) -> Vec<(PersonId, String)> {
        self.on_the_unit()
            .into_iter()
            .filter(|(_, _, role)| *role == Role::Trainer)
            .map(|(id, name, _)| (id, name))
            .collect()
    }

    fn searched(
        &self,
        changed: Option<&ReleaseRule>,
        risks: RiskAsked,
        prompts: Probability,
    ) -> Result<Searched, StatsError> {
        if risks.most_draws > MOST_DRAWS_SEARCHED {
            return Ok(Searched::Refused(format!(
                "{} draws; a search here goes up to {MOST_DRAWS_SEARCHED}",
                risks.most_draws
            )));
        }
        let share = Probability::new;
        let asked = Risks {
            not_ready: share(risks.not_ready)?,
            most_released: share(risks.most_released)?,
            ready: share(risks.ready)?,
            most_held_back: share(risks.most_held_back)?,
            most_draws: risks.most_draws,
        };
        match shortest_rule(changed.unwrap_or(self.rule_in_force()), &asked) {
            Err(error) => Ok(Searched::Refused(error.to_string())),
            Ok(None) => Ok(Searched::None),
            Ok(Some(found)) => {
                let rule = ReleaseRule { name: "shortest rule found".to_owned(), ..found.rule };
                Ok(Searched::Found {
                    shown: Box::new(shown(&rule, prompts)?),
                    released: found.not_ready.probability,
                    held_back: 1.0 - found.ready.probability,
                })
            }
        }
    }

    fn rule_rows(&self) -> Vec<RuleRow> {
        let published = practice::published_rules(&self.material.history);
        let signed: Vec<DateTime> = self
            .standings
            .iter()
            .filter(|standing| standing.scope.is_some())
            .filter_map(|standing| self.last_release(&standing.person, &standing.job))
            .collect();
        let from = |place: usize| published.get(place).map(|one| one.from);
        let n_between = |from: Option<DateTime>, until: Option<DateTime>| {
            signed
                .iter()
                .filter(|when| from.is_none_or(|from| **when >= from))
                .filter(|when| until.is_none_or(|until| **when < until))
                .count() as u64
        };
        let of_file = &self.material.release_rule;
        let first = RuleRow {
            name: of_file.name.clone(),
            version: of_file.version,
            from: None,
            by: None,
            why: None,
            n_released: n_between(None, from(0)),
        };
        let later = published.iter().enumerate().map(|(place, one)| RuleRow {
            name: one.rule.name.clone(),
            version: one.rule.version,
            from: Some(one.from),
            by: Some(self.name_of(&one.by)),
            why: Some(one.why.clone()),
            n_released: n_between(Some(one.from), from(place + 1)),
        });
        let mut rows: Vec<RuleRow> = std::iter::once(first).chain(later).collect();
        rows.reverse();
        rows
    }
}

/// A rule with its curve, prompts in it where they can be.
pub(crate) fn shown(rule: &ReleaseRule, prompts: Probability) -> Result<RuleShown, StatsError> {
    let with_prompts = error_rate_curve_with_prompts(rule, prompts, N_STEPS)?;
    let has_prompts = with_prompts.is_some();
    let curve = match with_prompts {
        Some(curve) => curve,
        None => practice::error_rate_curve(rule, N_STEPS)?,
    };
    Ok(RuleShown {
        words: rule_in_words(rule),
        sentences: IN_SENTENCES
            .iter()
            .filter_map(|at| curve.get(*at))
            .map(|released| error_rate_sentence(rule, released))
            .collect(),
        never_met: never_met(rule),
        asks_for_no_clean_draw: practice::asks_for_no_clean_draw(rule),
        curve,
        has_prompts,
        rule: rule.clone(),
    })
}
