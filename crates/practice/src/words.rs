//! Days and people as a sentence says them.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::effective::StandingEvent;
use crate::event::{EventKind, PersonId};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A day as a sentence says it, with the month in letters so that nobody can misread it: "14 September 2026".
pub fn day_in_words(day: Date) -> String {
    format!("{} {}", day.day(), month_in_words(day))
}

/// The month of a day as a sentence says it: "September 2026".
pub fn month_in_words(day: Date) -> String {
    format!("{} {}", month_name(day), day.year())
}

/// The name of the month of a day: "September".
pub fn month_name(day: Date) -> &'static str {
    usize::try_from(day.month() - 1).ok().and_then(|place| MONTHS.get(place)).copied().unwrap_or_default()
}

/// What people are called: the name they were last added with.
#[derive(Debug, Default)]
pub(crate) struct Names<'a> {
    by_id: BTreeMap<&'a PersonId, &'a str>,
}

impl<'a> Names<'a> {
    pub(crate) fn read(events: &[StandingEvent<'a>]) -> Names<'a> {
        let by_id = events
            .iter()
            .filter_map(|known| match &known.event.kind {
                EventKind::PersonAdded(person) => Some((&person.id, person.name.as_str())),
                _ => None,
            })
            .collect();
        Names { by_id }
    }

    /// The name, or the identifier of someone whom the book does not know by name.
    pub(crate) fn of<'b>(&self, person: &'b PersonId) -> &'b str
    where
        'a: 'b,
    {
        self.by_id.get(person).copied().filter(|name| !name.trim().is_empty()).unwrap_or(&person.0)
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn a_day_names_its_month() {
        assert_eq!(day_in_words(date(2026, 9, 14)), "14 September 2026");
        assert_eq!(day_in_words(date(2027, 1, 1)), "1 January 2027");
        assert_eq!(month_in_words(date(2026, 12, 31)), "December 2026");
    }
}
