//! A release rule as it is typed: each part as text, so that nothing typed is lost when one of them cannot be read.

use practice::{FollowUp, PointsTest, ReleaseRule, RuleFault, TeachBackRule, WhoMayWatch};

use crate::address::quote;
use crate::door::Refusal;

/// A part of the form.
pub(super) struct Part {
    /// Its name in a form and an address.
    pub(super) name: &'static str,
    /// What the page calls it.
    pub(super) label: &'static str,
    /// What may be left empty, and what that means.
    pub(super) hint: &'static str,
    pub(super) kind: Kind,
}

/// How a part is typed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Text,
    Number,
    /// One of two: the value and the words of each.
    Choice([(&'static str, &'static str); 2]),
}

const fn number(name: &'static str, label: &'static str, hint: &'static str) -> Part {
    Part { name, label, hint, kind: Kind::Number }
}

const fn choice(name: &'static str, label: &'static str, of: [(&'static str, &'static str); 2]) -> Part {
    Part { name, label, hint: "", kind: Kind::Choice(of) }
}

const YES_NO: [(&str, &str); 2] = [("yes", "yes"), ("no", "no")];
const TRAINERS: &str = "trainers";

/// Every part, in the order of the form.
pub(super) const PARTS: [Part; 20] = [
    Part { name: "name", label: "Name of the rule", hint: "", kind: Kind::Text },
    number("draws", "Observed draws needed", ""),
    number("clean", "Last draws without a missed safety point", "0 asks for none"),
    number("prompts", "Safety points after a prompt, on these draws", "empty: any number"),
    choice("seen", "Every safety point seen done on them", YES_NO),
    number("look", "Trainer's own clean look, from draw", "empty: none"),
    choice(
        "watch",
        "Whose watching counts",
        [("all", "preceptors and trainers"), (TRAINERS, "trainers only")],
    ),
    number("points", "Score needed", "empty: no score; a clean draw adds 1"),
    number("lost", "Score lost by a missed safety point", "only with a score"),
    number("passes", "Clean passes of the teach-back", "empty: no teach-back"),
    choice("days", "Passes not all on one day", YES_NO),
    number("share", "Key points said, at least, in %", ""),
    number("checks", "Clean checks before all patients", "empty: all patients at once"),
    number("counts", "Days for which evidence counts", "empty: no limit"),
    number("most", "Draws after which you take stock", ""),
    number("lapse", "Days without a draw until a standing lapses", "empty: never"),
    number("update", "Days to update on a major version", ""),
    Part {
        name: "after",
        label: "Checks on days after release",
        hint: "rising: 7, 30, 91",
        kind: Kind::Text,
    },
    number("every", "Then every so many days", ""),
    number("prompted", "Clean draws with a prompt, in %", "not part of the rule: what the chances assume"),
];

/// The rule's part that a field of the form holds.
fn field_of(part: &str) -> &'static str {
    let name = match part {
        "name, version" => "name",
        "draws_needed" => "draws",
        "clean_in_a_row" => "clean",
        "most_draws" => "most",
        "update_within_days" => "update",
        "safety_prompts_allowed" => "prompts",
        "spot_check_from_draw" => "look",
        "clean_checks_before_all" => "checks",
        "lapse_after_days" => "lapse",
        "evidence_counts_days" => "counts",
        "points.needed" => "points",
        "points.lost_by_fault" => "lost",
        "teach_back.clean_passes" => "passes",
        "teach_back.least_share_of_key_points" => "share",
        "follow_up.after_days" => "after",
        _ => "every",
    };
    label(name)
}

fn label(name: &str) -> &'static str {
    PARTS.iter().find(|part| part.name == name).map_or("This part", |part| part.label)
}

/// What is out of range, in the words of the form.
pub(super) fn refusal(fault: &RuleFault) -> Refusal {
    Refusal::new(
        field_of(fault.part),
        format!("“{}”", quote(&fault.found)),
        fault.expected.clone(),
        "correct it and look again",
    )
}

/// The texts of a form.
#[derive(Debug, Clone, Default)]
pub(super) struct Typed(Vec<(String, String)>);

impl Typed {
    /// The fields of the form among those that were sent. Longer texts than any part needs are cut.
    pub(super) fn of<'a>(sent: impl Iterator<Item = (&'a str, &'a str)>) -> Typed {
        let known = |name: &str| PARTS.iter().any(|part| part.name == name);
        let cut = |text: &str| text.trim().chars().take(200).collect::<String>();
        Typed(sent.filter(|(name, _)| known(name)).map(|(name, text)| (name.to_owned(), cut(text))).collect())
    }

    /// Whether any part of a rule was sent.
    pub(super) fn is_there(&self) -> bool {
        !self.0.is_empty()
    }

    pub(super) fn text(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text)
    }

    /// The form filled in with a rule.
    pub(super) fn from_rule(rule: &ReleaseRule) -> Typed {
        let or_empty = |value: Option<u16>| value.map(|value| value.to_string()).unwrap_or_default();
        let yes = |value: bool| if value { "yes" } else { "no" }.to_owned();
        let teach_back = rule.teach_back.as_ref();
        let after: Vec<String> = rule.follow_up.after_days.iter().map(u16::to_string).collect();
        let texts = [
            ("name", rule.name.clone()),
            ("draws", rule.draws_needed.to_string()),
            ("clean", rule.clean_in_a_row.to_string()),
            ("prompts", or_empty(rule.safety_prompts_allowed)),
            ("seen", yes(rule.every_safety_point_seen)),
            ("look", or_empty(rule.spot_check_from_draw)),
            ("watch", if rule.who_may_watch == WhoMayWatch::Trainers { TRAINERS } else { "all" }.to_owned()),
            ("points", or_empty(rule.points.map(|points| points.needed))),
            ("lost", or_empty(rule.points.map(|points| points.lost_by_fault))),
            ("passes", or_empty(teach_back.map(|one| one.clean_passes))),
            ("days", yes(teach_back.is_none_or(|one| one.on_different_days))),
            (
                "share",
                teach_back.map_or_else(
                    || "90".to_owned(),
                    |one| ((one.least_share_of_key_points * 1000.0).round() / 10.0).to_string(),
                ),
            ),
            ("checks", or_empty(rule.clean_checks_before_all)),
            ("counts", or_empty(rule.evidence_counts_days)),
            ("most", rule.most_draws.to_string()),
            ("lapse", or_empty(rule.lapse_after_days)),
            ("update", rule.update_within_days.to_string()),
            ("after", after.join(", ")),
            ("every", rule.follow_up.then_every_days.to_string()),
        ];
        Typed(texts.into_iter().map(|(name, text)| (name.to_owned(), text)).collect())
    }

    /// The rule that is typed, as the version given, or every part that cannot be read.
    pub(super) fn rule(&self, version: u32) -> Result<ReleaseRule, Vec<Refusal>> {
        let mut refusals = Vec::new();
        let mut whole = |name: &str, needed: bool| -> Option<u16> {
            let text = self.text(name);
            let number = text.parse::<u16>().ok();
            if number.is_none() && (needed || !text.is_empty()) {
                refusals.push(Refusal::new(
                    label(name),
                    if text.is_empty() { "nothing".to_owned() } else { format!("“{}”", quote(text)) },
                    "a whole number from 0 to 65535",
                    "correct it and look again",
                ));
            }
            number
        };
        let draws_needed = whole("draws", true);
        let clean_in_a_row = whole("clean", true);
        let most_draws = whole("most", true);
        let update_within_days = whole("update", true);
        let then_every_days = whole("every", true);
        let safety_prompts_allowed = whole("prompts", false);
        let spot_check_from_draw = whole("look", false);
        let clean_checks_before_all = whole("checks", false);
        let lapse_after_days = whole("lapse", false);
        let evidence_counts_days = whole("counts", false);
        let needed = whole("points", false);
        let lost = whole("lost", needed.is_some());
        let passes = whole("passes", false);
        let points = needed.map(|needed| PointsTest { needed, lost_by_fault: lost.unwrap_or_default() });
        let least = match (passes, percent(self.text("share"))) {
            (Some(_), Some(share)) => share,
            (None, _) => 0.0,
            (Some(_), None) => {
                refusals.push(Refusal::new(
                    label("share"),
                    format!("“{}”", quote(self.text("share"))),
                    "a number from 0 to 100",
                    "correct it and look again",
                ));
                0.0
            }
        };
        let mut after_days = Vec::new();
        for text in self.text("after").split([',', ' ', ';']).filter(|text| !text.is_empty()) {
            match text.parse::<u16>() {
                Ok(day) => after_days.push(day),
                Err(_) => refusals.push(Refusal::new(
                    label("after"),
                    format!("“{}”", quote(text)),
                    "days as whole numbers with commas between, such as 7, 30, 91",
                    "correct it and look again",
                )),
            }
        }
        if !refusals.is_empty() {
            return Err(refusals);
        }
        Ok(ReleaseRule {
            name: self.text("name").to_owned(),
            version,
            draws_needed: draws_needed.unwrap_or_default(),
            clean_in_a_row: clean_in_a_row.unwrap_or_default(),
            safety_prompts_allowed,
            every_safety_point_seen: self.text("seen") == "yes",
            points,
            who_may_watch: match self.text("watch") {
                TRAINERS => WhoMayWatch::Trainers,
                _ => WhoMayWatch::PreceptorsAndTrainers,
            },
            spot_check_from_draw,
            teach_back: passes.map(|clean_passes| TeachBackRule {
                clean_passes,
                on_different_days: self.text("days") == "yes",
                least_share_of_key_points: least,
            }),
            clean_checks_before_all,
            evidence_counts_days,
            most_draws: most_draws.unwrap_or_default(),
            lapse_after_days,
            update_within_days: update_within_days.unwrap_or_default(),
            follow_up: FollowUp { after_days, then_every_days: then_every_days.unwrap_or_default() },
        })
    }

    /// The share of clean draws with a prompt that the chances assume; none where nothing was typed.
    pub(super) fn prompt_rate(&self) -> Result<f64, Refusal> {
        let text = self.text("prompted");
        if text.is_empty() {
            return Ok(0.0);
        }
        percent(text).ok_or_else(|| {
            Refusal::new(
                label("prompted"),
                format!("“{}”", quote(text)),
                "a number from 0 to 100",
                "correct it and look again",
            )
        })
    }
}

/// A share from a percentage written by hand, with a point or a comma.
pub(super) fn percent(text: &str) -> Option<f64> {
    let number = text.trim().trim_end_matches('%').trim_end().replace(',', ".").parse::<f64>().ok()?;
    (0.0..=100.0).contains(&number).then_some(number / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(name: &str, text: &str) -> Typed {
        let rule = Typed::from_rule(&ReleaseRule::default());
        let changed = rule
            .0
            .iter()
            .map(|(known, old)| (known.as_str(), if known == name { text } else { old.as_str() }));
        Typed::of(changed)
    }

    #[test]
    fn a_rule_comes_back_as_it_was_typed() {
        let default = ReleaseRule::default();
        assert_eq!(Typed::from_rule(&default).rule(1).unwrap(), default);
        let other = ReleaseRule {
            safety_prompts_allowed: None,
            points: Some(PointsTest { needed: 12, lost_by_fault: 5 }),
            who_may_watch: WhoMayWatch::Trainers,
            spot_check_from_draw: None,
            teach_back: None,
            clean_checks_before_all: None,
            lapse_after_days: None,
            evidence_counts_days: Some(400),
            follow_up: FollowUp { after_days: vec![], then_every_days: 9 },
            ..default
        };
        assert_eq!(Typed::from_rule(&other).rule(1).unwrap(), other);
    }

    #[test]
    fn what_cannot_be_read_is_named_by_its_label() {
        for (name, text, place) in [
            ("draws", "", "Observed draws needed"),
            ("draws", "five", "Observed draws needed"),
            ("clean", "-1", "Last draws without a missed safety point"),
            ("points", "70000", "Score needed"),
            ("points", "4", "Score lost by a missed safety point"),
            ("share", "101", "Key points said, at least, in %"),
            ("after", "7, x", "Checks on days after release"),
        ] {
            let refusals = with(name, text).rule(1).unwrap_err();
            assert_eq!(refusals[0].place, place, "{name} {text}");
        }
        assert!(with("prompts", "").rule(1).unwrap().safety_prompts_allowed.is_none());
        assert_eq!((percent("2,5 %"), percent("101"), percent("x")), (Some(0.025), None, None));
        // A field of no form is not kept.
        assert!(!Typed::of([("other", "1")].into_iter()).is_there());
    }
}
