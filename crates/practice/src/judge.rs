//! A release rule held against one file: what is there, what is missing.

use breakdown::{ItemId, JobCode};
use jiff::civil::Date;
use teachback::Mark;

use crate::event::{DrawMark, Scope};
use crate::file::{Change, DrawOnFile, File, Pass};
use crate::rule::{ReleaseRule, TeachBackRule, WhoMayWatch};
use crate::versions::{Versions, key_points};
use crate::words::day_in_words;

/// What the rule makes of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Judgement {
    pub(crate) next_scope: Option<Scope>,
    pub(crate) missing: Vec<String>,
    pub(crate) draws_counted: u16,
    pub(crate) clean_in_a_row: u16,
    pub(crate) look_done: bool,
    pub(crate) points: u16,
}

/// What the rule is asked with.
pub(crate) struct Question<'a> {
    pub(crate) rule: &'a ReleaseRule,
    pub(crate) versions: &'a Versions<'a>,
    pub(crate) job: &'a JobCode,
    pub(crate) today: Date,
}

impl Question<'_> {
    pub(crate) fn judge(&self, file: &File<'_>) -> Judgement {
        let draws: Vec<_> =
            file.draws.iter().filter(|draw| self.draw_does_not_count(file, draw).is_none()).collect();
        let clean_in_a_row =
            draws.iter().rev().take_while(|draw| self.missed_safety(draw).is_empty()).count();
        let (next_scope, missing) =
            match (file.held().map(|(scope, _)| scope), self.rule.clean_checks_before_all) {
                (None, Some(_)) => {
                    (Some(Scope::OwnPatients), self.missing_for_release(file, &draws, clean_in_a_row))
                }
                (None, None) => {
                    (Some(Scope::AllPatients), self.missing_for_release(file, &draws, clean_in_a_row))
                }
                (Some(Scope::OwnPatients), needed) => {
                    (Some(Scope::AllPatients), self.missing_for_all(file, &draws, needed.unwrap_or(0)))
                }
                (Some(Scope::AllPatients | Scope::MayPrecept), _) => (None, Vec::new()),
            };
        Judgement {
            next_scope,
            missing,
            draws_counted: count(draws.len()),
            clean_in_a_row: count(clean_in_a_row),
            points: self.points(&draws),
            look_done: self
                .rule
                .spot_check_from_draw
                .is_none_or(|from| self.missing_spot_check(&draws, from).is_none()),
        }
    }

    /// Why a draw does not count towards release today.
    pub(crate) fn draw_does_not_count(&self, file: &File<'_>, draw: &DrawOnFile) -> Option<String> {
        let by_preceptor = || {
            let only_trainers = self.rule.who_may_watch == WhoMayWatch::Trainers;
            (only_trainers && !draw.by_trainer)
                .then(|| "watched by a preceptor, and the rule counts what a trainer watched".to_owned())
        };
        draw.does_not_count
            .clone()
            .or_else(by_preceptor)
            .or_else(|| self.too_old(file, draw.version, draw.date()))
    }

    /// Why a pass of a teach-back does not count today.
    pub(crate) fn pass_does_not_count(&self, file: &File<'_>, pass: &Pass<'_>) -> Option<String> {
        pass.does_not_count
            .clone()
            .or_else(|| self.too_old(file, pass.teachback.version, pass.happened.date()))
    }

    fn too_old(&self, file: &File<'_>, version: breakdown::Version, on: Date) -> Option<String> {
        if self.versions.get(self.job, version).is_none() {
            return Some(format!("on version {version}, which the book does not hold"));
        }
        if !self.versions.is_current(self.job, version, self.today) {
            return Some(format!("on version {version}, which a major change has replaced"));
        }
        if let Some(withdrawn) = file.withdrawn_on()
            && on <= withdrawn
        {
            return Some(format!("before the standing was withdrawn on {}", day_in_words(withdrawn)));
        }
        let days = self.rule.evidence_counts_days?;
        let age = days_between(on, self.today);
        (age > i64::from(days)).then(|| format!("{age} days old; evidence counts for {days} days"))
    }

    /// Safety points missed on a draw.
    pub(crate) fn missed_safety(&self, draw: &DrawOnFile) -> Vec<ItemId> {
        self.safety_with(draw, DrawMark::NotDone)
    }

    fn safety_with(&self, draw: &DrawOnFile, mark: DrawMark) -> Vec<ItemId> {
        self.safety_points(draw.version).into_iter().filter(|point| draw.mark(*point) == mark).collect()
    }

    fn safety_points(&self, version: breakdown::Version) -> Vec<ItemId> {
        self.versions
            .get(self.job, version)
            .map(|published| published.breakdown.safety_points())
            .unwrap_or_default()
    }

    fn missing_for_release(&self, file: &File<'_>, draws: &[&DrawOnFile], clean: usize) -> Vec<String> {
        let rule = self.rule;
        let mut missing = Vec::new();
        if self.versions.in_force(self.job, self.today).is_none() {
            missing.push("no breakdown of this job is in force".to_owned());
        }
        if let Some(teach_back) = &rule.teach_back {
            missing.extend(self.missing_teach_back(file, teach_back));
        }
        if draws.len() < usize::from(rule.draws_needed) {
            missing.push(format!("{} of {} observed draws on real patients", draws.len(), rule.draws_needed));
        }
        let k = usize::from(rule.clean_in_a_row);
        if clean < k {
            let last_slip = draws.iter().rev().find(|draw| !self.missed_safety(draw).is_empty());
            let because = last_slip.map_or(String::new(), |draw| {
                format!(" (missed on {}: {})", day_in_words(draw.date()), listed(&self.missed_safety(draw)))
            });
            missing.push(format!("{clean} of {k} draws in a row without a missed safety point{because}"));
        }
        if let Some(test) = rule.points {
            let points = self.points(draws);
            if points < test.needed {
                missing.push(format!(
                    "{points} of {} points (a clean draw gains 1, a missed safety point costs {})",
                    test.needed, test.lost_by_fault
                ));
            }
        }
        let last: Vec<_> = draws.iter().rev().take(k).copied().collect();
        if let Some(allowed) = rule.safety_prompts_allowed {
            let prompted: Vec<_> =
                last.iter().flat_map(|draw| self.safety_with(draw, DrawMark::AfterPrompt)).collect();
            if prompted.len() > usize::from(allowed) {
                missing.push(format!(
                    "safety points done only after a prompt on the last {} draws: {} ({}), allowed {allowed}",
                    last.len(),
                    prompted.len(),
                    listed(&prompted),
                ));
            }
        }
        if rule.every_safety_point_seen && last.len() >= k && clean >= k {
            missing.extend(self.never_seen(&last));
        }
        if let Some(from) = rule.spot_check_from_draw {
            missing.extend(self.missing_spot_check(draws, from));
        }
        missing
    }

    /// Points of the rule's sequential test; those needed once they were reached. 0 without a test.
    fn points(&self, draws: &[&DrawOnFile]) -> u16 {
        let Some(test) = self.rule.points else { return 0 };
        let mut points = 0u16;
        for draw in draws {
            if points < test.needed {
                points = match self.missed_safety(draw).is_empty() {
                    true => points + 1,
                    false => points.saturating_sub(test.lost_by_fault),
                };
            }
        }
        points
    }

    /// Safety points that nobody saw done on the last draws, although they applied to at least one of them.
    fn never_seen(&self, last: &[&DrawOnFile]) -> Option<String> {
        let points = last.first().map(|draw| self.safety_points(draw.version)).unwrap_or_default();
        let unseen: Vec<_> = points
            .into_iter()
            .filter(|point| {
                let marks: Vec<_> = last.iter().map(|draw| draw.mark(*point)).collect();
                !marks.iter().any(|mark| matches!(mark, DrawMark::Done | DrawMark::AfterPrompt))
                    && marks.contains(&DrawMark::NotSeen)
            })
            .collect();
        (!unseen.is_empty()).then(|| {
            format!("safety points nobody saw done on the last {} draws: {}", last.len(), listed(&unseen))
        })
    }

    fn missing_spot_check(&self, draws: &[&DrawOnFile], from: u16) -> Option<String> {
        let looks: Vec<_> = (1usize..)
            .zip(draws)
            .filter(|(number, draw)| *number >= usize::from(from) && draw.spot_check)
            .map(|(_, draw)| draw)
            .collect();
        match looks.last() {
            None => Some(format!("the trainer's own look at draw {from} or a later one")),
            Some(draw) => {
                let missed = self.missed_safety(draw);
                (!missed.is_empty()).then(|| {
                    format!(
                        "a clean spot check: on the last one, {}, a safety point was missed ({})",
                        day_in_words(draw.date()),
                        listed(&missed)
                    )
                })
            }
        }
    }

    fn missing_for_all(&self, file: &File<'_>, draws: &[&DrawOnFile], needed: u16) -> Vec<String> {
        let released = file
            .decisions
            .iter()
            .rev()
            .find(|decision| matches!(decision.change, Change::Released(..)))
            .map(|decision| decision.on);
        let after: Vec<_> =
            draws.iter().filter(|draw| released.is_some_and(|released| draw.date() > released)).collect();
        let clean = after.iter().rev().take_while(|draw| self.missed_safety(draw).is_empty()).count();
        match clean < usize::from(needed) {
            true => vec![format!("{clean} of {needed} clean checks on their own patients since release")],
            false => Vec::new(),
        }
    }

    fn missing_teach_back(&self, file: &File<'_>, rule: &TeachBackRule) -> Option<String> {
        let passes: Vec<_> =
            file.passes.iter().filter(|pass| self.pass_does_not_count(file, pass).is_none()).collect();
        let needed = usize::from(rule.clean_passes);
        let clean: Vec<_> =
            passes.iter().rev().take_while(|pass| self.faults_of_pass(pass, rule).is_empty()).collect();
        if clean.len() < needed {
            let because = match passes.last() {
                Some(pass) if clean.is_empty() => format!(
                    " (the last, on {}: {})",
                    day_in_words(pass.happened.date()),
                    self.faults_of_pass(pass, rule).join("; ")
                ),
                _ => String::new(),
            };
            return Some(format!(
                "{} of {needed} clean passes of the teach-back in a row{because}",
                clean.len()
            ));
        }
        let days: Vec<_> = clean.iter().map(|pass| pass.happened.date()).collect();
        let on_one_day = days.iter().min() == days.iter().max();
        (rule.on_different_days && needed > 1 && on_one_day)
            .then(|| "a clean pass of the teach-back on another day than the others".to_owned())
    }

    /// Why a pass is not clean; empty when it is.
    pub(crate) fn faults_of_pass(&self, pass: &Pass<'_>, rule: &TeachBackRule) -> Vec<String> {
        let Some(published) = self.versions.get(self.job, pass.teachback.version) else {
            return vec!["its version is not in the book".to_owned()];
        };
        let breakdown = published.breakdown;
        // An item said twice in one pass counts as it was said worst.
        let mark = |item: ItemId| {
            pass.teachback.items.iter().filter(|heard| heard.item == item).map(|heard| heard.mark).max()
        };
        let said = |item: &ItemId| matches!(mark(*item), Some(Mark::Unprompted | Mark::Prompted));
        let mut faults = Vec::new();
        let mut name = |what: &str, items: Vec<ItemId>| {
            if !items.is_empty() {
                faults.push(format!("{what}: {}", listed(&items)));
            }
        };
        let heard = |wanted: &[Mark]| {
            let mut items: Vec<_> = pass
                .teachback
                .items
                .iter()
                .filter(|heard| wanted.contains(&heard.mark))
                .map(|heard| heard.item)
                .collect();
            items.dedup();
            items
        };
        name("wrong", heard(&[Mark::Wrong, Mark::Unsafe]));
        name(
            "steps not said",
            (1u16..)
                .zip(&breakdown.steps)
                .map(|(step, _)| ItemId::step(step))
                .filter(|step| !said(step))
                .collect(),
        );
        name(
            "safety points not said unprompted",
            breakdown
                .safety_points()
                .into_iter()
                .filter(|point| mark(*point) != Some(Mark::Unprompted))
                .collect(),
        );
        let points = key_points(breakdown);
        let n_said = points.iter().filter(|point| said(point)).count();
        if (n_said as f64) < rule.least_share_of_key_points * points.len() as f64 - 1e-9 {
            let percent = rule.least_share_of_key_points * 100.0;
            faults.push(format!(
                "{n_said} of {} key points said; the rule asks for {percent:.0} %",
                points.len()
            ));
        }
        faults
    }
}

/// Items in a sentence: "2.1, 4.3".
pub(crate) fn listed(items: &[ItemId]) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// Days from one date to another; negative when the second is earlier.
pub(crate) fn days_between(from: Date, to: Date) -> i64 {
    from.until(to).map_or(0, |span| i64::from(span.get_days()))
}

fn count(number: usize) -> u16 {
    u16::try_from(number).unwrap_or(u16::MAX)
}
