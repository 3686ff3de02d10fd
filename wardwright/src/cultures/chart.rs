//! The control chart of the monthly rate.

use std::path::Path;

use exchange::laboratory::Holds;
use stats::Proportion;
use stats::charts::{ChartOptions, Series, chosen_chart};

use super::figures::Figures;
use crate::message::Message;

/// Draws the chart and writes it.
pub fn write(path: &Path, figures: &Figures<'_>) -> Result<(), Message> {
    let svg = draw(figures)?;
    std::fs::write(path, svg).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be written: {error}"),
            "a place where a file can be written",
            "choose another name or folder for --chart",
        )
    })
}

fn draw(figures: &Figures<'_>) -> Result<String, Message> {
    let cannot = |found: String| {
        Message::new(
            "--chart",
            found,
            "at least one month with closed sets in a file that holds every set",
            "leave --chart out, or give files of more months; the figures were printed all the same",
        )
    };
    if figures.import.holds == Holds::PositivesOnly {
        return Err(cannot("a file of positive cultures only, which gives no rate".to_owned()));
    }
    let months: Vec<(String, Proportion)> = figures
        .months
        .iter()
        .filter_map(|(month, counts)| Some((month.to_string(), counts.tally.rate()?.proportion)))
        .collect();
    let series: Vec<Proportion> = months.iter().map(|(_, proportion)| *proportion).collect();
    let chart = chosen_chart(Series::Proportions(&series), &ChartOptions::default())
        .map_err(|error| cannot(error.to_string()))?;
    let mut description = format!(
        "Contaminated sets out of closed sets by month of collection. Rule: {}. As of {}. {}",
        figures.rules.label(),
        figures.as_of,
        chart.why
    );
    let mut title = "Contaminated sets by month".to_owned();
    if figures.shifted() {
        title.push_str(" (dates shifted: the order of months means nothing)");
        description
            .push_str(" Dates were shifted to protect patients, so neither order nor signals mean anything.");
    }
    let labels = chart::Labels {
        title,
        description,
        point_labels: months.into_iter().map(|(month, _)| month).collect(),
        value_axis: "Contaminated sets, share of closed sets".to_owned(),
        of_what: "closed sets".to_owned(),
        percent: true,
        anchor_href: None,
    };
    Ok(chart::control_chart(&chart, &labels, &chart::Look::file("cultures-rates")))
}
