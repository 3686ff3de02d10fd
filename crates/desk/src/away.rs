//! Who is on leave or has left, since when, and who could go or come back.

use std::collections::BTreeMap;

use jiff::civil::Date;
use practice::{EventKind, Person, PersonId};

use crate::facts::{Desk, valid};
use crate::next_draw::Named;
use crate::today::days_between;

/// Somebody who is away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AwayRow {
    /// Who, as the book has them; coming back is this entry again.
    pub person: Person,
    /// First day away.
    pub since: Date,
    /// Days away until today.
    pub days: i32,
}

/// Leave and return.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AwayPage {
    /// People of the unit who are here, as the book has them.
    pub here: Vec<Person>,
    /// Those who are not, the last who left first.
    pub away: Vec<AwayRow>,
    /// Trainers, who sign.
    pub trainers: Vec<Named>,
    /// Days without a draw that the release rule allows; `None` where a standing never lapses.
    pub lapse_after_days: Option<u16>,
}

impl Desk {
    /// Leave and return, as the book has them today.
    pub fn away_page(&self) -> AwayPage {
        let mut since: BTreeMap<&PersonId, Option<Date>> = BTreeMap::new();
        for event in valid(&self.material.history).filter(|event| event.happened.date() <= self.today()) {
            match &event.kind {
                EventKind::PersonAdded(person) => {
                    since.insert(&person.id, None);
                }
                EventKind::PersonLeft { person } => {
                    since.entry(person).or_default().get_or_insert(event.happened.date());
                }
                _ => {}
            }
        }
        let is_here = |id: &PersonId| since.get(id).is_none_or(Option::is_none);
        let mut away: Vec<AwayRow> = since
            .iter()
            .filter_map(|(id, since)| {
                let since = (*since)?;
                let days = days_between(since, self.today());
                Some(AwayRow { person: self.people.get(*id)?.clone(), since, days })
            })
            .collect();
        away.sort_by_key(|row| (std::cmp::Reverse(row.since), row.person.id.clone()));
        AwayPage {
            here: self.people.values().filter(|person| is_here(&person.id)).cloned().collect(),
            away,
            trainers: self
                .people
                .values()
                .filter(|person| person.role == practice::Role::Trainer && is_here(&person.id))
                .map(|person| self.named(&person.id))
                .collect(),
            lapse_after_days: self.rule_in_force().lapse_after_days,
        }
    }
}
