//! Reports published: their figures kept in the book as they were.

use ::book::{Body, Draft, Figure, PublishedReport, RuleNamed, Store as _};
use desk::{Desk, MonthReport, PublishedMonth, ReportFigure};
use jiff::civil::{Date, DateTime};
use practice::PersonId;
use site::{DeskError, Publication, PublishedDesk, Recording, Refusal};
use uuid::Uuid;

use super::{DeskOfBook, failed};
use crate::message::Message;

impl PublishedDesk for DeskOfBook {
    fn published(&self, month: Date) -> Result<Vec<PublishedMonth>, DeskError> {
        let desk = self.facts().map_err(failed)?;
        let folder = &self.shared.folder;
        let say = |error: ::book::BookError| failed(crate::book::message(&error, folder.path()));
        let entries = folder.book().map_err(failed)?.entries_of_people().map_err(say)?;
        let mut published: Vec<PublishedMonth> = entries
            .iter()
            .filter_map(|entry| match entry.body() {
                Body::ReportPublished(report) if report.from == month => {
                    let (happened, by) = (entry.happened(), entry.by());
                    Some(as_published(&desk, report, happened, by))
                }
                _ => None,
            })
            .collect();
        published.reverse();
        Ok(published)
    }

    fn publishers(&self) -> Result<Vec<(PersonId, String)>, DeskError> {
        Ok(self.facts().map_err(failed)?.trainers())
    }

    fn publish(&self, sent: &Publication) -> Result<Recording, DeskError> {
        self.publish_month(sent.id, sent.at, &sent.by, sent.month, None).map_err(failed)
    }
}

impl DeskOfBook {
    /// Publishes a month's report with the figures of today; with the digest of its file, where one was printed.
    pub fn publish_month(
        &self,
        id: Uuid,
        at: DateTime,
        by: &PersonId,
        month: Date,
        file_sha256: Option<String>,
    ) -> Result<Recording, Message> {
        let desk = self.facts()?;
        let refused = |place: &str, found: String, expected: &str, to_do: &str| {
            Ok(Recording::Refused(vec![Refusal::new(place, found, expected, to_do)]))
        };
        if desk.trainers().iter().all(|(trainer, _)| trainer != by) {
            let found = format!("{by}, who is no trainer on the unit");
            return refused("Published by", found, "a trainer of the unit", "choose a trainer");
        }
        let Some(report) = desk.month_report(month) else {
            let found = format!("{}, without a set", month.strftime("%Y-%m"));
            return refused("the month", found, "a month with sets", "take in the laboratory's file first");
        };
        if report.as_of <= month.last_of_month() {
            let found = format!("{}, which is not over", month.strftime("%Y-%m"));
            let expected = "a month whose last day is past";
            return refused("the month", found, expected, "publish it after its last day");
        }
        let folder = &self.shared.folder;
        if at > folder.now() {
            let found = format!("{at}, which is after now, {}", folder.now());
            return refused("the time", found, "something that has happened", "open the page again");
        }
        let rules = crate::cultures::named_rules(&folder.settings().rules)?;
        let rule = RuleNamed { name: rules.name, version: rules.version };
        let draft = Draft::new(id, at, by.clone(), Body::ReportPublished(kept(&report, rule, file_sha256)));
        let say = |error: ::book::BookError| crate::book::message(&error, folder.path());
        crate::recording::append(&mut folder.book()?, draft).map_err(say)
    }
}

fn kept(report: &MonthReport, rule: RuleNamed, file_sha256: Option<String>) -> PublishedReport {
    let figures = report.figures().into_iter();
    PublishedReport {
        title: format!("Report of {}", report.month.strftime("%B %Y")),
        unit: None,
        from: report.month,
        to: report.month.last_of_month(),
        as_of: report.as_of,
        rule,
        figures: figures
            .map(|ReportFigure { name, events, trials, interval }| Figure { name, events, trials, interval })
            .collect(),
        file_sha256,
    }
}

fn as_published(desk: &Desk, report: &PublishedReport, at: DateTime, by: &PersonId) -> PublishedMonth {
    let figures = report.figures.iter();
    PublishedMonth {
        month: report.from,
        at,
        by: by.clone(),
        by_name: desk.name_of(by),
        as_of: report.as_of,
        rule: format!("{}, version {}", report.rule.name, report.rule.version),
        figures: figures
            .map(|figure| ReportFigure {
                name: figure.name.clone(),
                events: figure.events,
                trials: figure.trials,
                interval: figure.interval,
            })
            .collect(),
    }
}
