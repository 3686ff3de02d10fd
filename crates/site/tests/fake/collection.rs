//! One collection by the defaults that come along, confirmed by an invented role.

use desk::{AfterDraw, AfterPage, AfterResult, CollectionAsk, UnitPolicy};
use draw::Policy;
use jiff::civil::{Date, DateTime, Time};
use practice::PersonId;
use site::{AfterDesk, CollectionAnswer, CollectionDesk, Desk as _, DeskError, Refusal};

use super::Fake;

fn unit() -> UnitPolicy {
    let policy = Policy::default().confirm("the lead of the invented unit").expect("possible rules");
    UnitPolicy { name: "invented".to_owned(), version: "1".to_owned(), policy }
}

fn no_policy() -> Refusal {
    Refusal::new("policy.toml", "no policy in the data folder", "the unit's own policy", "have one confirmed")
}

impl CollectionDesk for Fake {
    fn collection_policy(&self) -> Result<Result<String, Refusal>, DeskError> {
        self.answer(|| Ok("Policy \"invented\", version 1".to_owned()), || Err(no_policy()))
    }

    fn collection(&self, ask: &CollectionAsk) -> Result<CollectionAnswer, DeskError> {
        let planned = || match desk::collection(ask, &unit(), self.now()) {
            Ok(sheet) => CollectionAnswer::Plan(Box::new(sheet)),
            Err(refused) => CollectionAnswer::Refused(refused),
        };
        self.answer(planned, || CollectionAnswer::NoPolicy(no_policy()))
    }

    fn time_of_day(&self, written: &str, day: Date) -> Option<DateTime> {
        written.parse::<Time>().ok().map(|time| day.to_datetime(time))
    }
}

impl AfterDesk for Fake {
    fn after(&self, id: &PersonId) -> Result<Option<AfterPage>, DeskError> {
        let draw = |day: i8, specimen: &str, result| AfterDraw {
            when: super::TODAY.first_of_month().with().day(day).build().expect("a day").at(9, 0, 0, 0),
            job_name: "Draw one set from a vein".to_owned(),
            watched_by: "Ansa Wolfendale".to_owned(),
            spot_check: false,
            circumstances: vec![
                ("attempts".to_owned(), "2".to_owned()),
                ("note".to_owned(), specimen.to_owned()),
            ],
            open: Vec::new(),
            result,
        };
        let known = self.people.iter().find(|page| page.row.id == *id);
        let page = || {
            known.map(|page| AfterPage {
                name: page.row.name.clone(),
                rule: "invented rule, version 1".to_owned(),
                sentence: "1 of 3 watched draws have a final result.".to_owned(),
                draws: vec![
                    draw(3, "<b>S3</b>", AfterResult::NotYet),
                    draw(2, "S2", AfterResult::NoSpecimen),
                    draw(
                        1,
                        "S1",
                        AfterResult::Final {
                            verdict: "negative".to_owned(),
                            sentence: "Nothing grew.".to_owned(),
                            organisms: Vec::new(),
                            bottles: vec![("aerobic".to_owned(), Some(9.5))],
                            to_laboratory_min: Some(40),
                        },
                    ),
                ],
            })
        };
        self.answer(page, || None)
    }
}
