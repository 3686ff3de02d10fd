//! A plan as people read it.

use std::collections::BTreeMap;

use desk::{Named, PairChange, PlanFacts, PlanLearner, PlanObstacle, PlanPair, PlanVisit, PlanWarning};
use jiff::civil::{Date, Weekday};
use maud::{Markup, html};

use super::{Jobs, neighbours, roster_problems};
use crate::address;
use crate::door::{KeptPlanPage, Proposed};
use crate::parts::{cell, day, name, section, sentence_start, table};

/// The kept plan.
pub(super) fn kept(page: &KeptPlanPage, jobs: &Jobs, again: &Markup) -> Markup {
    let facts = &page.facts;
    let note = html! {
        "Kept plan"
        @if let Some(made_on) = page.made_on { ", made on " (day(made_on)) }
        ". "
        @match &page.not_seen_from_today {
            None => "Chances and visits are as of today.",
            Some(why) => { "Chances and visits are of the day it was made: " (why) "." }
        }
    };
    html! {
        (opening(facts, jobs, &note))
        @if facts.until < jobs.today {
            section.caution aria-labelledby="over" {
                h2 id="over" { "This plan is over" }
                p { "Its last day was " (day(facts.until)) ". Plan again below." }
            }
        }
        @if !page.broken.is_empty() {
            section.caution aria-labelledby="broken" {
                h2 id="broken" { "No longer possible" }
                p { "Somebody is away, off, or no longer learns or watches. Plan again below; what can stay stays." }
                ul { @for pair in &page.broken { li { (pair_words(pair)) } } }
            }
        }
        (warnings("to-settle", "To settle", &facts.warnings))
        (body(facts, &format!("On the day it was made: {}", sum_words(facts))))
        (calendars(facts))
        (again)
        (rests_on(facts))
    }
}

/// A plan that is not kept yet.
pub(super) fn proposed(
    proposed: &Proposed,
    jobs: &Jobs,
    has_kept: bool,
    overtaken: bool,
    keep: impl Fn(&str) -> Markup,
    again: &Markup,
) -> Markup {
    let stays = if has_kept { "The plan kept so far stays as it is." } else { "No plan is kept yet." };
    match proposed {
        Proposed::Working { seconds } => html! {
            header.opening {
                h1 { "A plan is being worked out" }
                p.lead role="status" {
                    @if *seconds > 0 { "At work for " (seconds) "\u{a0}s so far. " }
                    "A unit takes a second or two, one as large as a whole hospital half a minute. The page loads itself again until the plan is there. " (stays)
                }
                p { "You need not wait here: the work goes on while you look at something else, and the plan stands here when you come back." }
                p.papers { a href="" { "Look again now" } }
                (neighbours(jobs))
            }
        },
        Proposed::NoGround { found, to_do } => html! {
            header.opening { h1 { "No plan" } p.lead { (stays) } (neighbours(jobs)) }
            p.empty { "Found: " bdi { (found) } ". What to do: " bdi { (to_do) } "." }
        },
        Proposed::Impossible(faults) => html! {
            header.opening {
                h1 { "No plan keeps every limit" }
                p.lead { (stays) " What stands in the way is named below, with what would help." }
                (neighbours(jobs))
            }
            (warnings("impossible", "In the way", faults))
            (again)
        },
        Proposed::Made { facts, mark, seconds, changes } => html! {
            (opening(facts, jobs, &html! { "Proposed, not kept yet. " (stays) }))
            @if overtaken {
                section.caution aria-labelledby="overtaken" {
                    h2 id="overtaken" { "Look again: nothing was kept" }
                    p { "The book, the roster or the settings have changed since the proposal you looked at. This one is made from today’s state." }
                }
            }
            (warnings("to-settle", "To settle", &facts.warnings))
            (section("keep", "Keep it?", None, &html! {
                @if let Some([known, kept, other, dropped, added]) = changes {
                    p {
                        "Of " (known) " pairings of the kept plan from today on: " (kept) " stay, " (other)
                        " get another preceptor, " (dropped) " are dropped; " (added) " are added."
                    }
                    (changed(facts))
                }
                (keep(mark))
            }))
            (body(facts, &sum_words(facts)))
            (again)
            (rests_on(facts))
            @if *seconds > 0.0 { p.empty { "Worked out in " (format!("{seconds:.1}")) " s." } }
        },
    }
}

fn opening(facts: &PlanFacts, jobs: &Jobs, note: &Markup) -> Markup {
    html! {
        header.opening {
            h1 { "Plan: " (name(&facts.job_name)) }
            p.lead { "From " (day(facts.from)) " to " (day(facts.until)) ". " (note) }
            p.lead { "Advice: the charge nurse decides on shift, and the patient comes first." }
            p.private { "A person’s figures are for that person and their trainer only." }
            (neighbours(jobs))
        }
        (roster_problems(&jobs.roster_problems))
    }
}

/// "Learners done by their dates, in the mean: 4.13 of 6. No plan within the limits has more than 4.15."
fn sum_words(facts: &PlanFacts) -> String {
    format!(
        "Learners done by their dates, in the mean: {:.2} of {}. No plan within the limits of plan.toml has more than {:.2}, \
         so at most {:.2} could be gained by looking longer.",
        facts.objective,
        facts.learners.len(),
        facts.bound,
        (facts.bound - facts.objective).max(0.0),
    )
}

fn body(facts: &PlanFacts, sum: &str) -> Markup {
    html! {
        (section("learners", "When they will be done", Some(html! { p { "Soonest date first." } }), &html! {
            @if facts.learners.is_empty() {
                p.empty { "Nobody is learning this job now." }
            } @else {
                p.sentence { (sum) }
                (learners(&facts.learners))
            }
        }))
        @if !facts.obstacles.is_empty() {
            (section("in-the-way", "What stands in the way", Some(html! {
                p { "The plan made again with one thing different: at least this is gained." }
            }), &html! {
                ul { @for one in &facts.obstacles { li { (obstacle(one, facts.learners.len())) } } }
            }))
        }
        (section("pairings", "Who learns with whom", Some(html! {
            p { "By shift. The draws of a shift are offered in turn." }
        }), &html! {
            @for week in &facts.weeks {
                h3 { "Week of " (day(week.from)) }
                @if week.pairs.is_empty() {
                    p.empty { "No pairing." }
                } @else {
                    (pairs(&format!("Pairings from {} to {}.", practice::day_in_words(week.from), practice::day_in_words(week.until)), &week.pairs))
                }
            }
        }))
        (section("visits", "When the trainer comes by", None, &html! {
            @if facts.visits.is_empty() {
                p.empty { "No visit is due within the plan." }
            } @else {
                ul { @for one in &facts.visits { li { (visit(one)) } } }
            }
        }))
    }
}

fn learners(all: &[PlanLearner]) -> Markup {
    let compares = all.iter().any(|one| one.chance_before.is_some());
    let mut sorted: Vec<&PlanLearner> = all.iter().collect();
    sorted.sort_by_key(|one| one.by);
    let mut columns = vec!["Learner", "By", "Chance by then"];
    if compares {
        columns.push("Kept plan");
    }
    columns.extend(["Half by", "Nine in ten by", "Draws needed", "Draws expected", "Watched shifts"]);
    let or_later =
        |date: Option<Date>| html! { @match date { Some(date) => (day(date)), None => "not in the plan" } };
    table(
        "plan-learners",
        "Chance that the draws of the release rule are met by the date. It holds what is not known of the rate of draws, so it has no interval of its own.",
        &columns,
        &html! {
            @for one in sorted {
                tr role="row" {
                    th scope="row" role="rowheader" { (person(&one.person)) }
                    (cell("By", &html! { (day(one.by)) }))
                    (cell("Chance by then", &html! { strong { (chance(one.chance)) } }))
                    @if compares {
                        (cell("Kept plan", &html! { (one.chance_before.map_or_else(|| "new".to_owned(), chance)) }))
                    }
                    (cell("Half by", &or_later(one.date_50)))
                    (cell("Nine in ten by", &or_later(one.date_90)))
                    (cell("Draws needed", &html! {
                        (one.draws_needed.map_or_else(|| "none: learns no more".to_owned(), |n| n.to_string()))
                    }))
                    (cell("Draws expected", &html! { (format!("{:.1}", one.mean_draws)) }))
                    (cell("Watched shifts", &html! { (one.n_watched) " of " (one.n_shifts) }))
                }
            }
        },
    )
}

fn pairs(caption: &str, all: &[PlanPair]) -> Markup {
    let compares = all.iter().any(|one| one.change.is_some());
    let mut columns = vec!["Shift", "Learner", "With", "Draws offered"];
    if compares {
        columns.push("Change");
    }
    table(
        "pairs",
        caption,
        &columns,
        &html! {
            @for one in all {
                tr role="row" {
                    th scope="row" role="rowheader" { (on_shift(one.shift.0, &one.shift.1)) }
                    (cell("Learner", &name(&one.learner.name)))
                    (cell("With", &name(&one.preceptor.name)))
                    (cell("Draws offered", &html! { (turns(one.turns)) ", about " (format!("{:.1}", one.draws)) }))
                    @if compares {
                        (cell("Change", &html! {
                            @match &one.change {
                                Some(PairChange::Kept) | None => "none",
                                Some(PairChange::Added) => strong { "added" },
                                Some(PairChange::OtherPreceptor(before)) => { strong { "instead of " (name(&before.name)) } }
                            }
                        }))
                    }
                }
            }
        },
    )
}

/// What would change, before anything does.
fn changed(facts: &PlanFacts) -> Markup {
    let changed: Vec<&PlanPair> = facts
        .weeks
        .iter()
        .flat_map(|week| &week.pairs)
        .filter(|one| matches!(one.change, Some(PairChange::Added | PairChange::OtherPreceptor(_))))
        .collect();
    html! {
        @if changed.is_empty() && facts.dropped.is_empty() {
            p { "No pairing would change." }
        } @else {
            ul {
                @for one in &facts.dropped { li { strong { "Dropped: " } (pair_words(one)) } }
                @for one in changed {
                    li {
                        @match &one.change {
                            Some(PairChange::OtherPreceptor(before)) => {
                                strong { "Another preceptor: " } (pair_words(one)) " instead of " (name(&before.name))
                            }
                            _ => { strong { "Added: " } (pair_words(one)) }
                        }
                    }
                }
            }
        }
    }
}

fn pair_words(one: &PlanPair) -> Markup {
    html! {
        (on_shift(one.shift.0, &one.shift.1)) ": " (name(&one.learner.name)) " with " (name(&one.preceptor.name))
    }
}

fn visit(one: &PlanVisit) -> Markup {
    html! {
        @match &one.visit {
            Some((trainer, on, shift)) => {
                strong { (on_shift(*on, shift)) } ": " (name(&trainer.name)) " to " (name(&one.person.name))
                ", " (one.why) "."
            }
            None => {
                strong { "No shift together with a trainer" } " for " (name(&one.person.name)) ", " (one.why)
                ": roster one, or let another trainer look."
            }
        }
    }
}

fn obstacle(one: &PlanObstacle, n_learners: usize) -> Markup {
    let (now, then) = one.learners_done;
    html! {
        strong { (sentence_start(&one.without)) } ": " (format!("{now:.2} to at least {then:.2} of {n_learners}"))
        " learners done by their dates"
        @if let Some((person, before, after)) = &one.helps_most {
            "; " (name(&person.name)) " from " (chance(*before)) " to " (chance(*after))
        }
        "."
    }
}

fn warnings(id: &str, heading: &str, all: &[PlanWarning]) -> Markup {
    html! {
        @if !all.is_empty() {
            section.caution aria-labelledby=(id) {
                h2 id=(id) { (heading) }
                ul {
                    @for one in all {
                        li {
                            @if let Some(who) = &one.who { strong { (name(&who.name)) } ": " }
                            "found " bdi { (one.found) } "; expected " (one.expected) "; " (one.to_do) "."
                        }
                    }
                }
            }
        }
    }
}

/// Each person of the plan with their own calendar.
fn calendars(facts: &PlanFacts) -> Markup {
    let mut people: BTreeMap<&str, &Named> = BTreeMap::new();
    for pair in facts.weeks.iter().flat_map(|week| &week.pairs) {
        people.insert(&pair.learner.id.0, &pair.learner);
        people.insert(&pair.preceptor.id.0, &pair.preceptor);
    }
    for (trainer, ..) in facts.visits.iter().filter_map(|one| one.visit.as_ref()) {
        people.insert(&trainer.id.0, trainer);
    }
    section(
        "calendars",
        "Each person’s own calendar",
        Some(html! { p { "iCalendar, as the plan was kept. For that person only." } }),
        &html! {
            @if people.is_empty() {
                p.empty { "Nobody is in the plan from today on." }
            } @else {
                ul.months {
                    @for person in people.values() {
                        li { a href=(address::plan_calendar(&facts.job, &person.id)) { (name(&person.name)) } }
                    }
                }
            }
        },
    )
}

fn rests_on(facts: &PlanFacts) -> Markup {
    section(
        "rests-on",
        "What it rests on",
        None,
        &html! {
            @for note in &facts.notes { p { (note) } }
            p {
                "Draws come by chance, Poisson with a gamma rate for each weekday and shift. Turns of a shift are taken to be of equal worth: that is an assumption. "
                a.method href=(address::method("chance_of_at_least_across")) { "How the chances are worked out" }
            }
            @if !facts.absences.is_empty() {
                h3 { "Not planned" }
                ul {
                    @for one in &facts.absences {
                        li { (name(&one.person.name)) ": " (day(one.from)) " to " (day(one.to)) }
                    }
                }
            }
        },
    )
}

fn person(person: &Named) -> Markup {
    html! { a href=(address::person(&person.id)) { (name(&person.name)) } }
}

/// "Tue 3 November 2026, night".
pub(crate) fn on_shift(on: Date, shift: &str) -> Markup {
    html! { (weekday(on)) " " (day(on)) ", " (shift) }
}

fn weekday(on: Date) -> &'static str {
    match on.weekday() {
        Weekday::Monday => "Mon",
        Weekday::Tuesday => "Tue",
        Weekday::Wednesday => "Wed",
        Weekday::Thursday => "Thu",
        Weekday::Friday => "Fri",
        Weekday::Saturday => "Sat",
        Weekday::Sunday => "Sun",
    }
}

fn turns((turns, of): (u8, u8)) -> String {
    if turns == of { "every draw".to_owned() } else { format!("{turns} of every {of}") }
}

/// A chance in whole per cent that never reads as none or certain when it is not.
pub(crate) fn chance(chance: f64) -> String {
    let percent = chance * 100.0;
    if chance > 0.0 && percent < 1.0 {
        "under\u{a0}1\u{a0}%".to_owned()
    } else if chance < 1.0 && percent > 99.0 {
        "over\u{a0}99\u{a0}%".to_owned()
    } else {
        format!("{percent:.0}\u{a0}%")
    }
}
