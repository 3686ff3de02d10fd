//! Files taken in and reports published.

use serde::{Deserialize, Serialize};

use super::{StoredError, date, finite};
use crate::entry::{self, PublishedReport, RuleNamed, TakenInCounts};

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TakenIn {
    file_name: String,
    file_sha256: String,
    rows: u64,
    rows_unread: u64,
    sets: u64,
    rule: String,
    rule_version: String,
    sets_new: u64,
    sets_changed: u64,
    sets_unchanged: u64,
    rows_sha256: String,
}

impl From<&entry::TakenIn> for TakenIn {
    fn from(of: &entry::TakenIn) -> Self {
        TakenIn {
            file_name: of.file_name.clone(),
            file_sha256: of.file_sha256.clone(),
            rows: of.counts.rows,
            rows_unread: of.counts.rows_unread,
            sets: of.counts.sets,
            rule: of.rule.name.clone(),
            rule_version: of.rule.version.clone(),
            sets_new: of.sets_new,
            sets_changed: of.sets_changed,
            sets_unchanged: of.sets_unchanged,
            rows_sha256: of.rows_sha256.clone(),
        }
    }
}

impl From<TakenIn> for entry::TakenIn {
    fn from(stored: TakenIn) -> Self {
        entry::TakenIn {
            file_name: stored.file_name,
            file_sha256: stored.file_sha256,
            counts: TakenInCounts { rows: stored.rows, rows_unread: stored.rows_unread, sets: stored.sets },
            rule: RuleNamed { name: stored.rule, version: stored.rule_version },
            sets_new: stored.sets_new,
            sets_changed: stored.sets_changed,
            sets_unchanged: stored.sets_unchanged,
            rows_sha256: stored.rows_sha256,
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Figure {
    name: String,
    events: u64,
    trials: u64,
    lower: Option<f64>,
    upper: Option<f64>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Report {
    title: String,
    unit: Option<String>,
    from: String,
    to: String,
    as_of: String,
    rule: String,
    rule_version: String,
    figures: Vec<Figure>,
    file_sha256: Option<String>,
}

impl Report {
    pub(super) fn store(of: &PublishedReport) -> Result<Self, StoredError> {
        let figure = |figure: &entry::Figure| {
            Ok(Figure {
                name: figure.name.clone(),
                events: figure.events,
                trials: figure.trials,
                lower: finite("lower bound of a figure", figure.interval.map(|(lower, _)| lower))?,
                upper: finite("upper bound of a figure", figure.interval.map(|(_, upper)| upper))?,
            })
        };
        Ok(Report {
            title: of.title.clone(),
            unit: of.unit.clone(),
            from: of.from.to_string(),
            to: of.to.to_string(),
            as_of: of.as_of.to_string(),
            rule: of.rule.name.clone(),
            rule_version: of.rule.version.clone(),
            figures: of.figures.iter().map(figure).collect::<Result<_, StoredError>>()?,
            file_sha256: of.file_sha256.clone(),
        })
    }

    pub(super) fn restore(self) -> Result<PublishedReport, StoredError> {
        let figure = |figure: Figure| entry::Figure {
            name: figure.name,
            events: figure.events,
            trials: figure.trials,
            interval: figure.lower.zip(figure.upper),
        };
        Ok(PublishedReport {
            title: self.title,
            unit: self.unit,
            from: date("first day of the period", &self.from)?,
            to: date("last day of the period", &self.to)?,
            as_of: date("day of the figures", &self.as_of)?,
            rule: RuleNamed { name: self.rule, version: self.rule_version },
            figures: self.figures.into_iter().map(figure).collect(),
            file_sha256: self.file_sha256,
        })
    }
}
