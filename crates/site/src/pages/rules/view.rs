//! How the rule page is laid out.

use chart::{Curve, Labels, Look, curve_chart};
use desk::{RuleShown, RulesPage, Searched};
use maud::{Markup, PreEscaped, html};
use percent_encoding::{NON_ALPHANUMERIC, utf8_percent_encode};
use practice::{LONGEST, Released};

use super::typed::{Kind, PARTS, Part, Typed};
use super::{SEARCH, Shown};
use crate::address;
use crate::ask::Site;
use crate::door::About;
use crate::entrance::is_chosen;
use crate::form;
use crate::parts::{Shape, caution, cell, day, moment, name, percent, section, shape, table};
use crate::sheet::{self, Place};

/// Fault rates of the table in percent, which are points of the curve.
const ROWS: [usize; 9] = [0, 1, 2, 5, 10, 20, 30, 40, 50];

pub(super) fn page(site: &Site, about: &About, page: &RulesPage, shown: &Shown) -> Markup {
    let content = html! {
        header.opening {
            h1 { "Release rule" }
            p.lead {
                "What must be in the book before the program says that somebody may be released, and how often it would be "
                "wrong. The rule advises; a release is a trainer’s signed decision, and no standing rises by itself."
            }
            nav.neighbours aria-label="Beside this page" {
                ul {
                    li { a href="/follow-up" { "Follow-up after release" } }
                    li { a href="/watching" { "Watching" } }
                }
            }
        }
        @if shown.published { p.kept role="status" { "Published. It advises from now on; who was released before keeps what they have." } }
        @if shown.is_refused { (form::refusals(&shown.refusals)) } @else { (cannot_be_read(shown)) }
        @for (rule, which) in [(Some(&page.in_force), "The rule in force"), (page.changed.as_ref(), "The changed rule")] {
            @if let Some(rule) = rule { (warnings(rule, which)) }
        }
        @if let Some(changed) = &page.changed { (section("beside", "Changed, beside the rule in force", None, &beside(&page.in_force, changed))) }
        @else { (section("in-force", "In force", Some(html! { p { (in_force_since(page)) } }), &in_words(&page.in_force))) }
        (section("does", "What its draws do", Some(html! {
            p { "Of those who miss a safety point on so many of their draws: how many meet the rule." }
        }), &does(page, shown)))
        @if let Some(changed) = page.changed.as_ref().filter(|changed| changed.never_met.is_empty()) {
            (section("publish", "Publish the changed rule", Some(html! {
                p { "It becomes an entry of the record book and is never edited. The next change is another version." }
            }), &publish(site, page, changed, shown)))
        }
        (section("change", "Change the rule and look", Some(html! { p { "Looking changes nothing." } }), &change(page, shown)))
        (section("search", "Shortest rule within risks", Some(html! {
            p { "Every number of draws with every run of last clean ones, and every score. All other parts stay as in force." }
        }), &search(page, shown)))
        (section("so-far", "Rules so far", None, &so_far(page)))
    };
    sheet::page(about, Place::Rules, "Release rule", &content)
}

fn in_force_since(page: &RulesPage) -> Markup {
    html! {
        @match page.rules.first() {
            Some(row) => {
                (name(&row.name)) ", version " (row.version)
                @match row.from { Some(from) => { ", since " (moment(from)) } None => { ", the rule of the unit’s file" } }
                "."
            }
            None => { "No rule." }
        }
    }
}

fn cannot_be_read(shown: &Shown) -> Markup {
    html! {
        @if !shown.refusals.is_empty() {
            section.refused role="alert" aria-labelledby="refused" {
                h2 id="refused" { "Not worked out. Nothing was changed, and everything typed is below." }
                ul {
                    @for each in &shown.refusals {
                        li { strong { (each.place) } ": found " bdi { (each.found) } "; expected " (each.expected) "; " (each.to_do) "." }
                    }
                }
            }
        }
    }
}

/// A rule that nobody or everybody meets is named as such, with what would help.
fn warnings(rule: &RuleShown, which: &str) -> Markup {
    let mut words: Vec<String> = rule
        .never_met
        .iter()
        .map(|because| format!("{which} can never be met, not even by someone without a fault: {because}. Ask for fewer, or take stock later."))
        .collect();
    if rule.asks_for_no_clean_draw {
        words.push(format!(
            "{which} asks for no clean draw: someone who misses a safety point on every draw meets it. Ask for last draws \
             without a missed safety point, or for your own look."
        ));
    }
    caution(
        if which.contains("force") { "warn-in-force" } else { "warn-changed" },
        "A rule that tells nothing",
        &words,
    )
}

fn in_words(rule: &RuleShown) -> Markup {
    html! { ul { @for words in &rule.words { li { (words) } } } }
}

fn beside(in_force: &RuleShown, changed: &RuleShown) -> Markup {
    let only = |here: &RuleShown, there: &RuleShown| -> Vec<String> {
        here.words.iter().filter(|words| !there.words.contains(words)).cloned().collect()
    };
    let (gone, new) = (only(in_force, changed), only(changed, in_force));
    let same = in_force.words.iter().filter(|words| changed.words.contains(words)).count();
    html! {
        @if gone.is_empty() && new.is_empty() {
            p { "The two ask for the same." }
        } @else {
            div.two {
                div { h3 { "In force" } ul { @for words in &gone { li { (words) } } @if gone.is_empty() { li { "nothing more" } } } }
                div { h3 { "Changed" } ul { @for words in &new { li { strong { (words) } } } @if new.is_empty() { li { "nothing more" } } } }
            }
            p.note { "The other " (same) " parts are the same." }
        }
    }
}

fn does(page: &RulesPage, shown: &Shown) -> Markup {
    let prompted = shown.typed.text("prompted");
    let rules: Vec<(&str, &RuleShown)> = std::iter::once(("in force", &page.in_force))
        .chain(page.changed.as_ref().map(|changed| ("changed", changed)))
        .collect();
    html! {
        @for (which, rule) in &rules {
            @for sentence in &rule.sentences {
                p.sentence { @if rules.len() > 1 { strong { (crate::parts::sentence_start(which)) ": " } } (sentence) }
            }
        }
        (drawing(&rules))
        details open[page.changed.is_some()] { summary { "The chart as a table" } (numbers(&rules)) }
        p.note {
            "Exact chances of the rule, each draw failing apart from every other; no sample was taken, so there is no interval. "
            @if rules.iter().all(|(_, rule)| rule.has_prompts) {
                "Prompts: a safety point is done only after a prompt on "
                (if prompted.is_empty() { "0" } else { prompted }) "\u{a0}% of the draws that miss none, at most one on a draw. "
            } @else {
                "Prompts are not in these chances: the rule allows several over so many draws that too many patterns of them "
                "would have to be told apart. They can only hold more people back. "
            }
            "Not in the numbers either: the teach-back, safety points nobody saw, and time. They can only hold more people back. "
            "Watchers who miss faults make a rule laxer than this. "
            a.method href=(address::method("error_rates_with_prompts")) { "How this is worked out" }
        }
    }
}

fn drawing(rules: &[(&str, &RuleShown)]) -> Markup {
    let curves: Vec<Curve> = rules
        .iter()
        .map(|(which, rule)| Curve {
            name: format!("{which}, within {} draws", rule.rule.most_draws),
            points: rule.curve.iter().map(|point| (point.fault_rate, point.probability)).collect(),
        })
        .collect();
    let labels = Labels {
        title: "Share that meets the rule, by how often a safety point is missed".to_owned(),
        description:
            "The share falls from left to right; the steeper, the better the rule tells people apart."
                .to_owned(),
        value_axis: "share of such nurses who meet the rule".to_owned(),
        percent: true,
        anchor_href: Some(address::method("error_rates_with_prompts")),
        ..Labels::default()
    };
    let across = "share of draws on which a safety point is missed";
    html! {
        figure.chart {
            div.wide { (PreEscaped(curve_chart(&curves, across, &labels, &Look::page("rule-wide")))) }
            div.narrow { (PreEscaped(curve_chart(&curves, across, &labels, &Look::narrow_page("rule-narrow")))) }
            figcaption { (labels.title) "." }
        }
    }
}

fn numbers(rules: &[(&str, &RuleShown)]) -> Markup {
    let mut columns = vec!["Misses on".to_owned()];
    for (which, _) in rules {
        columns.push(format!("Of 100 released, {which}"));
        columns.push(format!("Mean draws, {which}"));
        columns.push(format!("90 % by draw, {which}"));
    }
    let heads: Vec<&str> = columns.iter().map(String::as_str).collect();
    let rows = html! {
        @for at in ROWS {
            tr role="row" {
                th scope="row" role="rowheader" { (at) "\u{a0}% of draws" }
                @for (place, (_, rule)) in rules.iter().enumerate() {
                    @if let Some(point) = rule.curve.get(at) {
                        (cell(heads[1 + 3 * place], &html! { (format!("{:.1}", point.probability * 100.0)) }))
                        (cell(heads[2 + 3 * place], &html! { (mean(point)) }))
                        (cell(heads[3 + 3 * place], &html! { (by_draw(point)) }))
                    }
                }
            }
        }
    };
    html! {
        (table("rule-table", "Those who meet the rule before you take stock; mean and 90 % without that limit.", &heads, &rows))
    }
}

fn mean(point: &Released) -> String {
    match point.mean_draws {
        None => "never".to_owned(),
        Some(mean) if mean > f64::from(LONGEST) => format!("over {LONGEST}"),
        Some(mean) => format!("{mean:.1}"),
    }
}

fn by_draw(point: &Released) -> String {
    point.draws_90.map_or_else(|| format!("over {LONGEST}"), |draws| draws.to_string())
}

/// One part as a field; the identifier is apart from the name, for the search has fields of its own.
fn field(part: &Part, value: &str) -> Markup {
    let id = format!("rule-{}", part.name);
    let hint = format!("{id}-hint");
    let described = (!part.hint.is_empty()).then_some(hint.as_str());
    html! {
        p.field {
            label for=(id) { (part.label) }
            @match part.kind {
                Kind::Choice(of) => {
                    select id=(id) name=(part.name) {
                        @for (code, words) in of { option value=(code) selected[code == value] { (words) } }
                    }
                }
                Kind::Number => {
                    input id=(id) name=(part.name) value=(value) inputmode="decimal" maxlength="20" autocomplete="off" aria-describedby=[described];
                }
                Kind::Text => {
                    input id=(id) name=(part.name) value=(value) maxlength="100" autocomplete="off" aria-describedby=[described];
                }
            }
            @if !part.hint.is_empty() { span.hint id=(hint) { (part.hint) } }
        }
    }
}

fn change(page: &RulesPage, shown: &Shown) -> Markup {
    let in_force = Typed::from_rule(&page.in_force.rule);
    let typed = if shown.typed.is_there() { &shown.typed } else { &in_force };
    html! {
        form method="get" action="/rules#does" {
            div.fields.even { @for part in &PARTS { (field(part, typed.text(part.name))) } }
            p.actions {
                button type="submit" { "Work it out" }
                @if shown.typed.is_there() { a href="/rules" { "Back to the rule in force" } }
            }
        }
    }
}

fn publish(site: &Site, page: &RulesPage, changed: &RuleShown, shown: &Shown) -> Markup {
    let typed = Typed::from_rule(&changed.rule);
    html! {
        @if page.trainers.is_empty() {
            p.empty { "No trainer is on the unit, and only a trainer publishes a rule." }
        } @else {
            form method="post" action="/rules" {
                (site.secret().field())
                @if let (Some(entry), Some(at)) = (shown.entry, shown.at) {
                    input type="hidden" name="entry" value=(entry);
                    input type="hidden" name="at" value=(at);
                }
                input type="hidden" name="version" value=(page.next_version);
                @for part in &PARTS {
                    @let text = if part.name == "prompted" { shown.typed.text("prompted") } else { typed.text(part.name) };
                    input type="hidden" name=(part.name) value=(text);
                }
                p { (name(&changed.rule.name)) ", version " (page.next_version) ", in force from the moment you publish it." }
                p.field {
                    label for="by" { "Published by" }
                    select #by name="by" required {
                        option value="" { "choose" }
                        @for (id, who) in &page.trainers { option value=(id) selected[is_chosen(&shown.by, id)] { (who) } }
                    }
                }
                p.field {
                    label for="why" { "Why" }
                    textarea #why name="why" rows="3" maxlength="1000" required { (shown.why) }
                }
                p.actions { button type="submit" { "Publish version " (page.next_version) } }
            }
        }
    }
}

fn search(page: &RulesPage, shown: &Shown) -> Markup {
    let typed = |field: &str, first: &'static str| -> String {
        let sent = shown.search.iter().find(|(known, _)| known == field).map(|(_, text)| text.clone());
        sent.unwrap_or_else(|| first.to_owned())
    };
    html! {
        @if let Some(searched) = &page.searched { (found(searched)) }
        form method="get" action="/rules#search" {
            div.fields.even {
                @for (field, label, first) in SEARCH {
                    p.field {
                        label for=(field) { (label) }
                        input id=(field) name=(field) value=(typed(field, first)) inputmode="decimal" maxlength="20" autocomplete="off";
                    }
                }
            }
            p.actions { button type="submit" { "Search" } }
        }
    }
}

fn found(searched: &Searched) -> Markup {
    html! {
        div role="status" {
            @match searched {
                Searched::Found { shown, released, held_back } => {
                    p.sentence {
                        "The shortest takes " (shown.rule.most_draws) " draws. It releases " (percent(*released))
                        " of those who are not ready, and holds back " (percent(*held_back)) " of those who are."
                    }
                    ul { @for words in shown.words.iter().take(3) { li { (words) } } }
                    @if let Some(points) = shown.rule.points {
                        p { "With a score of " (points.needed) ": a clean draw adds 1, a missed safety point takes " (points.lost_by_fault) "." }
                    }
                    p { a href=(with_rule(shown)) { "Put it into the form and look at its curve" } }
                }
                Searched::None => {
                    p.sentence { "No rule of so many draws, the last few clean, nor a score, is within these risks. Allow more draws or larger risks." }
                }
                Searched::Refused(why) => { p.sentence { "Not searched: " (why) ". Put right the fields below." } }
            }
            p { a.method href=(address::method("shortest_rule")) { "How the search works" } }
        }
    }
}

/// The address that puts a rule into the form.
fn with_rule(shown: &RuleShown) -> String {
    let typed = Typed::from_rule(&shown.rule);
    let escaped = |text: &str| utf8_percent_encode(text, NON_ALPHANUMERIC).to_string();
    let fields: Vec<String> =
        PARTS.iter().map(|part| format!("{}={}", part.name, escaped(typed.text(part.name)))).collect();
    format!("/rules?{}#does", fields.join("&"))
}

fn so_far(page: &RulesPage) -> Markup {
    let columns = ["Rule", "In force from", "Published by", "Why", "Standings signed under it"];
    let rows = html! {
        @for (place, row) in page.rules.iter().enumerate() {
            tr role="row" {
                th scope="row" role="rowheader" {
                    @if place == 0 { (shape(Shape::Square)) " " }
                    (name(&row.name)) ", version " (row.version) @if place == 0 { " (in force)" }
                }
                (cell(columns[1], &html! { @match row.from { Some(from) => { (day(from.date())) } None => { "the beginning" } } }))
                (cell(columns[2], &html! { @match &row.by { Some(by) => { (name(by)) } None => { "the unit’s file" } } }))
                (cell(columns[3], &html! { @match &row.why { Some(why) => { (name(why)) } None => { "not said" } } }))
                (cell(columns[4], &html! { (row.n_released) }))
            }
        }
    };
    html! {
        (table("rules", "Latest first. A standing keeps the lapse and the checks of the rule it was signed under.", &columns, &rows))
    }
}
