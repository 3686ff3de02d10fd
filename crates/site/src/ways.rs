//! The ways through the pages: few, grouped by what a person does, each shown only to those who may go it.

use maud::{Markup, html};

use crate::entrance::{Viewer, home};
use crate::words::{self, way};

/// The parts of the site that the ways through name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    Today,
    Bedside,
    NextDraw,
    Collection,
    People,
    Plan,
    Timetable,
    FollowUp,
    Watching,
    Breakdowns,
    Rules,
    Results,
    Reports,
    Methods,
    Find,
    Keys,
    Account,
    Accounts,
}

/// A page among the ways: where it belongs, its address and its words.
type Way = (Place, &'static str, &'static str);

/// What a person does, with the pages for it. The first that a reader may open stands for the group.
const GROUPS: [(&str, &[Way]); 5] = [
    (way::TODAY, &[(Place::Today, "/", way::TODAY)]),
    (
        way::BEDSIDE,
        &[
            (Place::Bedside, "/bedside", way::MARK),
            (Place::NextDraw, "/next-draw", way::NEXT_DRAW),
            (Place::Collection, "/draw/plan", way::COLLECTION),
        ],
    ),
    (
        way::PEOPLE,
        &[
            (Place::People, "/people", way::EVERYBODY),
            (Place::Plan, "/plan", way::PLAN),
            (Place::Timetable, "/timetable", way::TIMETABLE),
            (Place::FollowUp, "/follow-up", way::FOLLOW_UP),
            (Place::Watching, "/watching", way::WATCHING),
        ],
    ),
    (way::JOBS, &[(Place::Breakdowns, "/breakdowns", way::BREAKDOWNS), (Place::Rules, "/rules", way::RULE)]),
    (
        way::RESULTS,
        &[
            (Place::Results, "/results", way::FIGURES),
            (Place::Reports, "/reports", way::REPORTS),
            (Place::Methods, "/methods", way::METHODS),
        ],
    ),
];

/// A group as a reader has it: its words, the key that leads there, and the pages they may open.
struct Group {
    words: &'static str,
    key: usize,
    ways: Vec<Way>,
}

fn groups(viewer: &Viewer) -> Vec<Group> {
    let numbered = (1..).zip(GROUPS);
    numbered
        .filter_map(|(key, (words, ways))| {
            let ways: Vec<Way> =
                ways.iter().copied().filter(|(_, address, _)| viewer.may_read(address)).collect();
            // A group of which one page is left is that page.
            let words = match ways.as_slice() {
                [] => return None,
                [(_, _, only)] => only,
                _ => words,
            };
            Some(Group { words, key, ways })
        })
        .collect()
}

/// Pages that this reader may open, by address and words.
pub(crate) fn pages(viewer: &Viewer) -> Vec<(&'static str, &'static str)> {
    let all = groups(viewer).into_iter().flat_map(|group| group.ways);
    all.map(|(_, address, words)| (address, words)).collect()
}

/// Keys that lead somewhere, with what they lead to.
pub(crate) fn keys(viewer: &Viewer) -> Vec<(String, &'static str)> {
    groups(viewer).into_iter().map(|group| (group.key.to_string(), group.words)).collect()
}

/// The ways at the head of every page: what a person does, then the pages within the one chosen.
pub(crate) fn ways(viewer: &Viewer, place: Option<Place>) -> Markup {
    let groups = groups(viewer);
    let is_here = |group: &Group| group.ways.iter().any(|(each, ..)| place == Some(*each));
    let within = groups.iter().find(|group| is_here(group) && group.ways.len() > 1);
    html! {
        nav aria-label=(words::PAGES) {
            ul.ways {
                @for group in &groups {
                    @if let Some((_, address, _)) = group.ways.first() {
                        li {
                            a href=(address) data-key=(group.key) aria-current=[is_here(group).then_some("true")] {
                                (group.words)
                            }
                        }
                    }
                }
                (own_ways(viewer, place))
            }
            @if let Some(group) = within {
                ul.within aria-label=(group.words) {
                    @for (each, address, words) in &group.ways {
                        li { a href=(address) aria-current=[(place == Some(*each)).then_some("true")] { (words) } }
                    }
                }
            }
        }
        @if viewer.may_read("/find") { (seek(place)) }
    }
}

/// Looking for something by name: a field where there is room, a way to it where there is not.
fn seek(place: Option<Place>) -> Markup {
    html! {
        a.to-find href="/find" data-key="f" aria-current=[(place == Some(Place::Find)).then_some("true")] { (words::FIND) }
        @if place != Some(Place::Find) {
            form.seek role="search" method="get" action="/find" aria-label=(words::FIND_WHAT) {
                input name="q" type="search" aria-label=(words::FIND_WHAT) data-key="f" maxlength="100" autocomplete="off" dir="auto";
                button type="submit" { (words::FIND) }
            }
        }
    }
}

/// The ways of whoever is signed in: own record, account, and out.
fn own_ways(viewer: &Viewer, place: Option<Place>) -> Markup {
    html! {
        @if let Some(account) = &viewer.account {
            @if account.person.is_some() && !account.is(account::Role::Trainer) {
                li { a href=(home(account)) { (words::YOUR_RECORD) } }
            }
            @if account.is(account::Role::Administrator) {
                li { a href="/accounts" aria-current=[(place == Some(Place::Accounts)).then_some("true")] { (words::ACCOUNTS) } }
            }
            li {
                a href="/account" aria-current=[(place == Some(Place::Account)).then_some("true")] {
                    (words::ACCOUNT) " " bdi { (account.name.as_str()) }
                }
            }
            li { form.sign-out method="post" action="/sign-out" { button type="submit" { (words::SIGN_OUT) } } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_page_stands_among_the_ways_twice() {
        let mut all = pages(&Viewer::default());
        let n = all.len();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), n);
    }
}
