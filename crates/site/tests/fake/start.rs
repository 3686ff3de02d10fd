//! The beginning of the invented unit, and entries that may be corrected.

use breakdown::{Breakdown, JobCode};
use practice::{EventKind, Person, PersonId, Role};
use site::{
    Beginning, CorrectDesk, Correctable, Correction, Desk as _, DeskError, Draft, PeopleRead, PersonRead,
    Reading, Recording, Refusal, StartDesk,
};
use uuid::Uuid;

use super::{Fake, Mood, TODAY, job};

impl StartDesk for Fake {
    fn beginning(&self) -> Result<Beginning, DeskError> {
        let people = self.people()?;
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        let taken_in = recorded.values().filter_map(|draft| match &draft.what {
            EventKind::PersonAdded(person) => Some(person.clone()),
            _ => None,
        });
        let taken_in: Vec<Person> = taken_in.collect();
        let trainers = taken_in.iter().filter(|person| person.role == Role::Trainer);
        let mut trainers: Vec<_> = trainers.map(|person| (person.id.clone(), person.name.clone())).collect();
        if self.mood == Mood::Full {
            trainers.push((PersonId("T-01".into()), "Ansa Wolfendale".into()));
        }
        let jobs = self.breakdowns()?.into_iter().map(|job| (job.code, job.job));
        Ok(Beginning {
            people: people.len() + taken_in.len(),
            trainers,
            jobs: jobs.collect(),
            planned: 0,
            has_roster: false,
            sets: 0,
        })
    }

    fn read_people(&self, file: &[u8]) -> Result<PeopleRead, DeskError> {
        let text = String::from_utf8_lossy(file);
        let rows =
            (2u64..).zip(text.lines().skip(1)).filter(|(_, line)| !line.is_empty()).map(|(line, words)| {
                let mut cells = words.split(',').map(str::to_owned);
                let found = std::array::from_fn(|_| cells.next().unwrap_or_default());
                let [id, name, role, _] = &found;
                let reading = if name.is_empty() {
                    Reading::Refused(vec![Refusal::new("name", "nothing", "a name", "correct the row")])
                } else {
                    let role = if role == "trainer" { Role::Trainer } else { Role::Nurse };
                    let person = Person {
                        id: PersonId(id.clone()),
                        name: name.clone(),
                        role,
                        unit: "Larkfield".into(),
                        started: TODAY,
                    };
                    Reading::New(person, Vec::new())
                };
                PersonRead { line, found, reading }
            });
        Ok(PeopleRead { rows: rows.collect(), unread: Vec::new() })
    }

    fn take_in_people(&self, drafts: &[Draft]) -> Result<Recording, DeskError> {
        for draft in drafts {
            if let Recording::Refused(refusals) = self.record(draft)? {
                return Ok(Recording::Refused(refusals));
            }
        }
        Ok(Recording::Recorded)
    }

    fn ready_breakdowns(&self) -> Vec<Breakdown> {
        vec![Breakdown { code: JobCode("ready".into()), ..job::vein() }]
    }
}

/// The entry that may be corrected.
pub const CORRECTABLE: Uuid = Uuid::from_u128(0x0198_0000_0000_7000_8000_0000_0000_0001);

impl CorrectDesk for Fake {
    fn correctable(&self, entry: Uuid) -> Result<Option<Correctable>, DeskError> {
        Ok((entry == CORRECTABLE).then(|| Correctable {
            what: "Draw on a real patient, <b>watched</b>.".into(),
            when: TODAY.at(9, 0, 0, 0),
            by: (PersonId("N-101".into()), "Ottoline Vesper".into()),
            of: Some((PersonId("N-112".into()), "Maren Adeyemi-Holt".into())),
            corrected: None,
            writers: vec![
                (PersonId("N-101".into()), "Ottoline Vesper".into()),
                (PersonId("T-01".into()), "Ansa Wolfendale".into()),
            ],
        }))
    }

    fn correct(&self, correction: &Correction) -> Result<Recording, DeskError> {
        if correction.reason.contains("refuse") {
            return Ok(Recording::Refused(vec![Refusal::new("Why", "a refusal", "none", "say more")]));
        }
        Ok(Recording::Recorded)
    }
}
