//! How the signing page is laid out: said, done and decided apart, then what they tell, then the decision.

use desk::{ConfidenceFacts, FaultFacts, SigningEvidence, SigningForm};
use maud::{Markup, html};
use practice::{EvidenceKind, Scope, scope_words};

use super::{Decision, Typed};
use crate::address;
use crate::ask::Site;
use crate::door::{About, Refusal};
use crate::entrance::is_chosen;
use crate::form;
use crate::parts::{Shape, day, moment, name, of, percent, section, shape, standing};
use crate::sheet::{self, Place};

pub(super) fn page(
    site: &Site,
    about: &About,
    form: &SigningForm,
    typed: &Typed,
    refusals: &[Refusal],
) -> Markup {
    let title = format!("Decide: {}", form.name);
    let content = html! {
        header.opening {
            h1 { "Decide: " (name(&form.name)) }
            p.lead {
                a href=(address::breakdown(&form.job)) { (name(&form.job_name)) }
                @if let Some(version) = form.version { ", version " (version) }
                ". The program advises and raises nothing; you decide and sign."
            }
            p.private { "For this person and their trainer only." }
        }
        (form::refusals(refusals))
        (section("now", "Where they stand", None, &now(form)))
        (section("evidence", "What it rests on", Some(html! { p { "Said, done and decided stand apart: none stands in for another." } }), &evidence(form)))
        (section("faults", "What the draws say", Some(html! { p { "Of the draws that count today." } }), &faults(form.fault.as_ref())))
        (section("own", "What they say of themselves", None, &own(form, form.confidence.as_ref())))
        (section("rule", "What the rule says", Some(html! {
            p { (name(&form.rule.rule.name)) ", version " (form.rule.rule.version) ". " a href="/rules" { "The rule" } }
        }), &rule(form)))
        (section("decide", "What you decide", None, &decide(site, form, typed)))
    };
    sheet::page(about, Place::People, &title, &content)
}

fn now(form: &SigningForm) -> Markup {
    html! {
        p.where-stands { (standing(form.level.words(), form.level.words())) }
        dl.facts {
            @if let Some(since) = form.since { dt { "Since" } dd { (day(since)) } }
            @if let Some(who) = &form.on_word_of { dt { "On the word of" } dd { (name(who)) } }
            @if let Some(rule) = &form.released_under { dt { "Signed under the rule" } dd { (name(rule)) } }
            @if let Some((on, why)) = &form.next_check { dt { "Next" } dd { (day(*on)) ": " (why) } }
            dt { "Lapses" }
            dd {
                @match form.lapse_after_days {
                    Some(days) => {
                        "after " (days) " days without a known draw, or on return from a leave longer than that; a watched draw or a "
                        "refresher brings it back"
                    }
                    None => { "never, under this rule" }
                }
            }
        }
    }
}

fn evidence(form: &SigningForm) -> Markup {
    let kinds = [
        (EvidenceKind::Said, "Said", Shape::Speech),
        (EvidenceKind::Done, "Done", Shape::Hand),
        (EvidenceKind::Decided, "Decided or arranged", Shape::Pen),
    ];
    html! {
        @if form.evidence.is_empty() { p.empty { "Nothing is on record for this job." } }
        @for (kind, words, mark) in kinds {
            @let rows: Vec<&SigningEvidence> = form.evidence.iter().filter(|one| one.kind == kind).collect();
            @if !rows.is_empty() {
                h3 { (shape(mark)) " " (words) ": " (rows.len()) @if rows.len() == 1 { " entry" } @else { " entries" } }
                ol.entries {
                    @for row in rows {
                        li {
                            (day(row.on)) ": " (name(&row.what))
                            span.by { " " (name(&row.by)) ", " a href=(address::entry(&form.person, &row.entry)) { "entry" } }
                            @if let Some(why) = &row.does_not_count { p.note { "Does not count: " (why) "." } }
                        }
                    }
                }
            }
        }
    }
}

fn faults(facts: Option<&FaultFacts>) -> Markup {
    html! {
        @match facts {
            None => { p.empty { "No draw counts yet, so the draws say nothing." } }
            Some(facts) => {
                p.rate {
                    strong.share { (of(facts.faults, facts.draws)) }
                    span.counts { "Draws with a missed safety point: " (of(facts.faults, facts.draws)) " draws that count" }
                    span.interval {
                        "The rate lies between " (percent(facts.in_80.0)) " and " (percent(facts.in_80.1)) " with a chance of 80\u{a0}%, between "
                        (percent(facts.in_95.0)) " and " (percent(facts.in_95.1)) " with 95\u{a0}%"
                    }
                }
                p.sentence {
                    "The chance that this person misses a safety point on more than " (percent(facts.target)) " of draws is "
                    strong { (percent(facts.above_target)) } ". The mean of what may be believed is " (percent(facts.mean)) "."
                }
                p.note {
                    "Nothing is assumed beforehand but Jeffreys’ prior, Beta(½, ½), and that the rate is the same on each draw: somebody who is "
                    "still learning does better now than their first draws say. "
                    a.method href=(address::method("fault_rate")) { "How this is worked out" }
                }
            }
        }
    }
}

fn own(form: &SigningForm, facts: Option<&ConfidenceFacts>) -> Markup {
    html! {
        @match facts {
            None => {
                p.empty { "They have not been asked. Ask before you tell them what you think." }
                p.papers { a href=(address::confidence(&form.person, &form.job)) { "Ask " (name(&form.name)) } }
            }
            Some(facts) => { (beside(facts)) p.papers { a href=(address::confidence(&form.person, &form.job)) { "Ask again" } } }
        }
    }
}

/// What somebody said of themselves, beside what was observed.
pub(super) fn beside(facts: &ConfidenceFacts) -> Markup {
    html! {
        p {
            "On " (moment(facts.when)) ": of the next ten draws, no safety point missed on " strong { (facts.clean_of_ten) } "."
        }
        @if let Some((clean, draws)) = facts.observed {
            p { "Observed: clean on " strong { (of(clean, draws)) } " draws that count." }
        }
        @if let Some((difference, lower, upper)) = facts.difference {
            p.sentence {
                (facts.sentence) " Stated less observed: " (points(difference)) ", between " (points(lower)) " and " (points(upper))
                " (95\u{a0}%, Wilson)."
            }
            p.note { a.method href=(address::method("confidence_beside")) { "How this is worked out" } }
        } @else { p.sentence { (facts.sentence) } }
    }
}

/// A difference of shares in percentage points, with its sign.
pub(crate) fn points(difference: f64) -> String {
    let rounded = (difference * 100.0).round();
    if rounded == 0.0 { "0 points".to_owned() } else { format!("{rounded:+} points").replace('-', "−") }
}

fn rule(form: &SigningForm) -> Markup {
    html! {
        @match (form.rule_met, form.next_scope) {
            (true, Some(scope)) => { p.due { (shape(Shape::Square)) "The rule is met for release " (scope_words(scope)) "." } }
            _ if !form.missing.is_empty() => {
                p { "The rule still asks for:" }
                ul { @for missing in &form.missing { li { (missing) } } }
            }
            _ => { p { "The rule asks nothing further." } }
        }
        h3 { "How often it is wrong" }
        @for sentence in &form.rule.sentences { p.sentence { (sentence) } }
        p.note {
            "By the draws alone, exactly; no sample was taken, so there is no interval. "
            a.method href=(address::method("error_rates")) { "How this is worked out" }
        }
    }
}

fn decide(site: &Site, form: &SigningForm, typed: &Typed) -> Markup {
    let open = Decision::open(form);
    html! {
        @if open.is_empty() { p.empty { "Nothing is to be decided today: " (form.level.words()) "." } }
        @else if form.trainers.is_empty() { p.empty { "No trainer is on the unit who could sign; nobody signs for themselves." } }
        @else {
            form method="post" action="/signing" {
                (site.secret().field())
                @if let (Some(entry), Some(at)) = (typed.entry, typed.at) {
                    input type="hidden" name="entry" value=(entry);
                    input type="hidden" name="at" value=(at);
                }
                input type="hidden" name="person" value=(form.person);
                input type="hidden" name="breakdown" value=(form.job);
                input type="hidden" name="seen" value=(form.evidence.len());
                fieldset.decisions {
                    legend { "Decision" }
                    @for decision in open {
                        label.pick {
                            input type="radio" name="decision" value=(decision.code()) required checked[typed.decision == decision.code()];
                            span { (words(decision, form)) }
                        }
                    }
                }
                p.field {
                    label for="reason" { "Why, without blame" }
                    textarea #reason name="reason" rows="3" maxlength="1000" required { (typed.reason) }
                }
                p.field {
                    label for="by" { "Signed by" }
                    select #by name="by" required {
                        option value="" { "choose" }
                        @for (id, who) in &form.trainers { option value=(id) selected[is_chosen(&typed.by, id)] { (who) } }
                    }
                }
                p.actions { button type="submit" { "Sign" } }
            }
        }
    }
}

fn words(decision: Decision, form: &SigningForm) -> Markup {
    let against =
        !form.rule_met || !matches!(decision, Decision::Release(scope) if form.next_scope == Some(scope));
    html! {
        @match decision {
            Decision::Release(scope) => {
                "Release " (scope_words(scope))
                @if scope == Scope::MayPrecept { ": the rule has no step for this; say what shows that they can" }
                @else if against { ": the rule does not support it yet, so say why you do" }
            }
            Decision::NotYet => { "Not yet" }
            Decision::Withdraw => { "Withdraw the standing: draws only with someone watching, and evidence begins anew" }
            Decision::Refresh => { "Refresher done on the version in force: the standing is back" }
        }
    }
}
