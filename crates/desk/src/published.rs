//! The figures of a month's report as they are when it is published, and beside them what they are today.

use jiff::civil::{Date, DateTime};
use practice::PersonId;

use crate::view::{MonthReport, Rate, Share};

/// One figure of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportFigure {
    /// What it is; no two figures of a report have the same name.
    pub name: String,
    /// How often it happened.
    pub events: u64,
    /// How often it could have happened.
    pub trials: u64,
    /// Lower and upper end of its interval as fractions of one, where it has one.
    pub interval: Option<(f64, f64)>,
}

/// A report as it was published.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedMonth {
    /// First day of the month.
    pub month: Date,
    /// When it was published.
    pub at: DateTime,
    /// On whose word.
    pub by: PersonId,
    /// Their name, where the book knows it.
    pub by_name: String,
    /// Day on which the figures were worked out.
    pub as_of: Date,
    /// Name and version of the rule behind them.
    pub rule: String,
    /// The figures, in the order of the report.
    pub figures: Vec<ReportFigure>,
}

/// A figure as it was published beside the same figure of today.
#[derive(Debug, Clone, PartialEq)]
pub struct FigureBeside {
    /// What it is.
    pub name: String,
    /// As it was published; `None` where the report did not hold it.
    pub published: Option<ReportFigure>,
    /// As it is today; `None` where the report does not hold it any more.
    pub today: Option<ReportFigure>,
}

impl FigureBeside {
    /// Whether its counts are others than those that were published.
    pub fn has_changed(&self) -> bool {
        let counts =
            |figure: &Option<ReportFigure>| figure.as_ref().map(|figure| (figure.events, figure.trials));
        counts(&self.published) != counts(&self.today)
    }
}

impl MonthReport {
    /// The figures that a published report keeps. Shares that are withheld keep their counts.
    pub fn figures(&self) -> Vec<ReportFigure> {
        let counts = &self.this_month.counts;
        let mut figures = vec![
            of_rate("contaminated sets of closed sets", &self.this_month.contamination),
            ReportFigure {
                name: "provisional sets of all sets".to_owned(),
                events: counts.provisional,
                trials: counts.sets,
                interval: None,
            },
            of_rate("contaminated sets of closed sets, the twelve months up to this one", &self.last_twelve),
            of_rate("single sets", &self.single_sets),
            of_rate("sets without a collector", &self.unknown_collectors),
        ];
        if let Ok(fill) = &self.fill {
            figures.push(of_rate("bottles filled under the range", &fill.under));
        }
        let strata = self.units.iter().map(|unit| ("unit", unit));
        let strata = strata.chain(self.routes.iter().map(|route| ("route", route)));
        figures.extend(strata.map(|(kind, row)| {
            of_rate(&format!("contaminated sets of closed sets, {kind} {}", row.name), &row.contamination)
        }));
        figures
    }
}

fn of_rate(name: &str, rate: &Rate) -> ReportFigure {
    let interval = match rate.share {
        Share::Shown { lower, upper, .. } => Some((lower, upper)),
        Share::Withheld(_) => None,
    };
    ReportFigure { name: name.to_owned(), events: rate.events, trials: rate.of, interval }
}

/// Holds the figures that were published against those of today, in the order of what was published.
pub fn beside_today(published: &[ReportFigure], today: &[ReportFigure]) -> Vec<FigureBeside> {
    let find = |figures: &[ReportFigure], name: &str| figures.iter().find(|each| each.name == name).cloned();
    let then = published.iter().map(|figure| FigureBeside {
        name: figure.name.clone(),
        published: Some(figure.clone()),
        today: find(today, &figure.name),
    });
    let new = today.iter().filter(|figure| find(published, &figure.name).is_none());
    then.chain(new.map(|figure| FigureBeside {
        name: figure.name.clone(),
        published: None,
        today: Some(figure.clone()),
    }))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(name: &str, events: u64, trials: u64) -> ReportFigure {
        ReportFigure { name: name.to_owned(), events, trials, interval: None }
    }

    #[test]
    fn a_figure_that_changed_came_or_went_is_told_from_one_that_stayed() {
        let published = [figure("a", 3, 100), figure("b", 1, 50), figure("gone", 0, 9)];
        let today = [figure("new", 2, 4), figure("b", 1, 50), figure("a", 4, 100)];
        let beside = beside_today(&published, &today);
        let told: Vec<(&str, bool)> =
            beside.iter().map(|each| (each.name.as_str(), each.has_changed())).collect();
        assert_eq!(told, [("a", true), ("b", false), ("gone", true), ("new", true)]);
        assert_eq!(beside[0].today, Some(figure("a", 4, 100)));
        assert_eq!((&beside[2].today, &beside[3].published), (&None, &None));
    }
}
