//! A release rule with its curve for machines; docs/json.md describes every key.

use practice::{asks_for_no_clean_draw, error_rate_sentence, rule_in_words};
use serde_json::{Value, json};

use super::{ADVICE, IN_SENTENCES, Shown};

/// One object and a line feed.
pub(super) fn object(shown: &Shown) -> String {
    let rule = &shown.rule;
    let curve: Vec<Value> = shown
        .curve
        .iter()
        .map(|released| {
            json!({
                "fault_rate": released.fault_rate,
                "released": released.probability,
                "mean_draws": released.mean_draws,
                "draws_90": released.draws_90,
            })
        })
        .collect();
    let sentences: Vec<String> = IN_SENTENCES
        .iter()
        .filter_map(|at| shown.curve.get(*at))
        .map(|released| error_rate_sentence(rule, released))
        .collect();
    let search = shown.search.as_ref().map(|search| {
        let risks = &search.risks;
        json!({
            "not_ready": risks.not_ready.get(),
            "most_released": risks.most_released.get(),
            "ready": risks.ready.get(),
            "most_held_back": risks.most_held_back.get(),
            "within_draws": risks.most_draws,
            "found": search.found.is_some(),
            "not_ready_released": search.found.as_ref().map(|found| found.not_ready.probability),
            "ready_held_back": search.found.as_ref().map(|found| 1.0 - found.ready.probability),
        })
    });
    let object = json!({
        "schema": 1,
        "name": rule.name,
        "version": rule.version,
        "rule": rule_in_words(rule),
        "most_draws": rule.most_draws,
        "can_be_met": shown.never_met.is_empty(),
        "never_met_because": shown.never_met,
        "asks_for_no_clean_draw": asks_for_no_clean_draw(rule),
        "prompted": shown.prompted.0.get(),
        "prompts_in_curve": shown.prompted.1,
        "curve": curve,
        "sentences": sentences,
        "search": search,
        "advice": ADVICE,
    });
    format!("{object:#}\n")
}
