//! Leave and return of the invented unit: one person is away, everybody else is here.

use desk::{AwayPage, AwayRow, Named};
use jiff::civil::date;
use practice::{EventKind, Person, PersonId, Role};
use site::{AwayDesk, Desk as _, DeskError};

use super::Fake;

/// Somebody on leave.
pub fn on_leave() -> Person {
    Person {
        id: PersonId("N-88".into()),
        name: "Tove Birkeland-Rao".into(),
        role: Role::Nurse,
        unit: "Invented Critical Care".into(),
        started: date(2024, 1, 8),
    }
}

impl AwayDesk for Fake {
    fn away(&self) -> Result<AwayPage, DeskError> {
        let people = self.people()?;
        let named = |id: &PersonId, name: &str| Named { id: id.clone(), name: name.to_owned() };
        let mut page = AwayPage {
            here: people
                .iter()
                .map(|row| Person { id: row.id.clone(), name: row.name.clone(), ..on_leave() })
                .collect(),
            away: vec![AwayRow { person: on_leave(), since: date(2026, 1, 5), days: 57 }],
            trainers: vec![named(&PersonId("T-01".into()), "Ansa Wolfendale")],
            lapse_after_days: Some(90),
        };
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        for draft in recorded.values() {
            match &draft.what {
                EventKind::PersonLeft { person } => {
                    let (gone, here) = page.here.into_iter().partition(|one| one.id == *person);
                    page.here = here;
                    let since = draft.happened.date();
                    let gone: Vec<Person> = gone;
                    page.away.extend(gone.into_iter().map(|person| AwayRow { person, since, days: 0 }));
                }
                EventKind::PersonAdded(person) => {
                    page.away.retain(|row| row.person.id != person.id);
                    page.here.push(person.clone());
                }
                _ => {}
            }
        }
        Ok(page)
    }
}
