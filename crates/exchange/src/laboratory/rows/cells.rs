//! Cells into times, ages, bottles and words. What cannot be read here is noted and left out; it loses no set.

use culture::{Collected, fill_from_mass};
use jiff::civil::DateTime;

use super::Reader;
use crate::laboratory::account::Account;
use crate::laboratory::age::age_at;
use crate::laboratory::gather::BottleFact;
use crate::laboratory::shown;
use crate::laboratory::until_positive::seconds_to_positivity;
use crate::laboratory::words::plain;
use crate::table::Row;

impl Reader<'_> {
    pub(super) fn moment(
        &self,
        row: &Row<'_>,
        column: Option<usize>,
        what: &str,
        account: &mut Account,
    ) -> Option<DateTime> {
        let column = column?;
        if let Some(at) = row.date_cell(column) {
            return Some(at);
        }
        let text = row.text(column);
        if text.is_empty() {
            return None;
        }
        let when = self.mapping.formats.read(&text).and_then(|when| when.date_time());
        if when.is_none() {
            let note =
                format!("the {what} cannot be read as {} and was left out", self.mapping.formats.tried());
            account.note(account.place(row.line), note);
        }
        when
    }

    pub(super) fn age(&self, row: &Row<'_>, collected: Collected, account: &mut Account) -> Option<f64> {
        if let Some(column) = self.places.age_years {
            let (age, note) = self.age_in_years(&row.text(column));
            if let Some(note) = note {
                account.note(account.place(row.line), note);
            }
            if age.is_some() {
                return age;
            }
        }
        let column = self.places.birth_date?;
        let born = match row.date_cell(column) {
            Some(at) => at.date(),
            None => {
                let text = row.text(column);
                if text.is_empty() {
                    return None;
                }
                let read = self.mapping.formats.read(&text).map(|when| when.date);
                if read.is_none() {
                    account
                        .note(account.place(row.line), "the date of birth cannot be read and was left out");
                }
                read?
            }
        };
        age_at(born, collected.date())
    }

    /// A number of years, or what is noted about it.
    pub(super) fn age_in_years(&self, text: &str) -> (Option<f64>, Option<&'static str>) {
        // Ages over a limit are published as ">89" or "90+".
        let number = text.trim_start_matches('>').trim_end_matches('+');
        match number.trim().replace(',', ".").parse::<f64>() {
            Ok(age) if (0.0..=130.0).contains(&age) => (Some(age), None),
            _ if text.is_empty() => (None, None),
            _ => (None, Some("the age is not a number of years from 0 to 130 and was left out")),
        }
    }

    pub(super) fn bottles(&self, row: &Row<'_>, account: &mut Account) -> Vec<BottleFact> {
        let mut bottles = Vec::new();
        for ((kind, column_name), &column) in self.mapping.wide_bottles.iter().zip(&self.places.wide_bottles)
        {
            if let Some(fill_ml) = self.volume(row, column, account) {
                bottles.push(BottleFact { label: column_name.clone(), kind: *kind, fill_ml: Some(fill_ml) });
            }
        }
        let kind = self
            .word(row, self.places.bottle, "bottle_words", account, |word| self.mapping.bottles.get(word));
        let fill_ml = self.fill(row, account);
        let label = self.places.bottle_id.or(self.places.bottle).map(|column| plain(&row.text(column)));
        let there = label.as_ref().is_some_and(|label| !label.is_empty());
        if there || fill_ml.is_some() {
            bottles.push(BottleFact {
                label: label.unwrap_or_default(),
                kind: kind.unwrap_or(culture::BottleKind::Other),
                fill_ml,
            });
        }
        bottles
    }

    pub(super) fn fill(&self, row: &Row<'_>, account: &mut Account) -> Option<f64> {
        if let Some(fill) = self.places.fill_ml.and_then(|column| self.volume(row, column, account)) {
            return Some(fill);
        }
        let number = |column: Option<usize>| column.and_then(|column| decimal(&row.text(column)));
        let gain = number(self.places.mass_gain_g).or_else(|| {
            let full = number(self.places.mass_full_g)?;
            // A bottle weighed empty says more than the mass its lot has on average.
            Some(full - number(self.places.mass_empty_g).or_else(|| self.lot_tare(row, account))?)
        })?;
        let fill = fill_from_mass(gain, self.mapping.density_g_per_ml);
        if fill.is_none() {
            account.note(
                account.place(row.line),
                "the gain in mass of a bottle is not 0 to 60 g and was left out",
            );
        }
        fill
    }

    /// The mass of an empty bottle of the lot, where the mapping gives it.
    fn lot_tare(&self, row: &Row<'_>, account: &mut Account) -> Option<f64> {
        let lot = row.text(self.places.lot?);
        let tare = self.mapping.lot_tare_g.get(&plain(&lot)).copied();
        if tare.is_none() && !lot.is_empty() {
            let note = format!(
                "the lot {} has no mass under [lot_tare_g]; its bottles have no fill",
                shown::word(&lot)
            );
            account.note(account.place(row.line), note);
        }
        tare
    }

    pub(super) fn volume(&self, row: &Row<'_>, column: usize, account: &mut Account) -> Option<f64> {
        let (volume, note) = self.volume_of(&row.text(column));
        if let Some(note) = note {
            account.note(account.place(row.line), note);
        }
        volume
    }

    /// A fill in millilitres, or what is noted about it.
    pub(super) fn volume_of(&self, text: &str) -> (Option<f64>, Option<&'static str>) {
        if text.is_empty() {
            return (None, None);
        }
        // Minus nought is nought.
        let volume = decimal(text).filter(|volume| (0.0..=60.0).contains(volume)).map(|volume| volume + 0.0);
        let note = "a fill is not a number of millilitres from 0 to 60 and was left out";
        (volume, volume.is_none().then_some(note))
    }

    /// Seconds to positivity; what cannot be read is noted and left out.
    pub(super) fn positive_after_s(&self, row: &Row<'_>, account: &mut Account) -> Option<u32> {
        let text = row.text(self.places.positive_after_h?);
        if text.is_empty() {
            return None;
        }
        let seconds = seconds_to_positivity(&text);
        if seconds.is_none() {
            let note = "the time to positivity is not hours as 13.5 or 13:30, 0 to 1000, and was left out";
            account.note(account.place(row.line), note);
        }
        seconds
    }

    /// Looks a word up; an unknown one is noted, so that nobody takes silence for an answer.
    pub(super) fn word<T>(
        &self,
        row: &Row<'_>,
        column: Option<usize>,
        table: &str,
        account: &mut Account,
        meaning: impl Fn(&str) -> Option<T>,
    ) -> Option<T> {
        let (found, note) = self.word_of(&row.text(column?), table, meaning);
        if let Some(note) = note {
            account.note(account.place(row.line), note);
        }
        found
    }

    /// What a word means, or what is noted about it.
    pub(super) fn word_of<T>(
        &self,
        text: &str,
        table: &str,
        meaning: impl Fn(&str) -> Option<T>,
    ) -> (Option<T>, Option<String>) {
        if text.is_empty() {
            return (None, None);
        }
        let found = meaning(text);
        let unknown =
            || format!("{} is no known word of [{table}]; add it there to use it", shown::word(text));
        let note = found.is_none().then(unknown);
        (found, note)
    }
}

/// A number with a decimal point or a decimal comma.
fn decimal(text: &str) -> Option<f64> {
    let text = text.trim().trim_end_matches("mL").trim_end_matches("ml").trim_end_matches('g').trim();
    let number: f64 =
        if text.contains('.') { text.parse().ok()? } else { text.replace(',', ".").parse().ok()? };
    number.is_finite().then_some(number)
}
