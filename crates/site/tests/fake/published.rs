//! Reports of the invented unit, published.

use desk::PublishedMonth;
use jiff::civil::Date;
use practice::PersonId;
use site::{Desk, DeskError, Publication, PublishedDesk, Recording};

use super::release::trainer;
use super::{Fake, Mood, TODAY};

impl PublishedDesk for Fake {
    fn published(&self, month: Date) -> Result<Vec<PublishedMonth>, DeskError> {
        self.answer(|| (), || ())?;
        let Some(report) = self.report(month)? else { return Ok(Vec::new()) };
        let publications = self.publications.lock().expect("no test panics while it holds the lock");
        let of_month = publications.iter().rev().filter(|each| each.month == month);
        Ok(of_month
            .map(|each| {
                let mut figures = report.figures();
                // A correction has come since.
                figures[0].events += 1;
                PublishedMonth {
                    month,
                    at: each.at,
                    by: each.by.clone(),
                    by_name: trainer().1,
                    as_of: TODAY,
                    rule: report.rule.clone(),
                    figures,
                }
            })
            .collect())
    }

    fn publishers(&self) -> Result<Vec<(PersonId, String)>, DeskError> {
        self.answer(|| (), || ())?;
        Ok(if self.mood == Mood::Empty { Vec::new() } else { vec![trainer()] })
    }

    fn publish(&self, publication: &Publication) -> Result<Recording, DeskError> {
        let mut publications = self.publications.lock().expect("no test panics while it holds the lock");
        if publications.contains(publication) {
            return Ok(Recording::AlreadyThere);
        }
        publications.push(publication.clone());
        Ok(Recording::Recorded)
    }
}
