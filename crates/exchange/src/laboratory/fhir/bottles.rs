//! The bottles of one culture and how full they were.

use culture::BottleKind;

use super::culture_report::{Builder, ISOLATE};
use super::json::Json;
use super::values::{codes, codes_and_words, first_identifier, list, quantity, text};
use crate::laboratory::account::{Account, Place};
use crate::laboratory::amount::blood_ml;
use crate::laboratory::codes::{bottle_label, bottle_of};
use crate::laboratory::gather::BottleFact;
use crate::laboratory::reports::{add_bottle, plain_bottle};
use crate::laboratory::until_positive::{LEFT_OUT, seconds_in};

impl Builder<'_> {
    /// Seconds to the first positive bottle, by the observations and components whose code the mapping names.
    pub(super) fn positive_after_s(
        &self,
        observations: &[usize],
        place: Place,
        account: &mut Account,
    ) -> Option<u32> {
        let mut earliest = None;
        for at in observations {
            let observation = &self.store.at(*at).value;
            if matches!(text(observation, &["status"]), Some("entered-in-error" | "cancelled")) {
                continue;
            }
            for part in std::iter::once(observation).chain(list(observation, "component")) {
                let own = codes(part.get("code"));
                if !own.iter().any(|code| self.mapping.messages.is_positive_after(code)) {
                    continue;
                }
                let of_quantity = || {
                    let (number, unit) = quantity(part.get("valueQuantity")?)?;
                    Some(seconds_in(&number, unit))
                };
                let of_words = || Some(seconds_in(text(part, &["valueString"])?, ""));
                match of_quantity().or_else(of_words) {
                    Some(Some(seconds)) => {
                        earliest = Some(earliest.map_or(seconds, |known: u32| known.min(seconds)));
                    }
                    Some(None) => account.note(place, LEFT_OUT),
                    None => {}
                }
            }
        }
        earliest
    }

    /// Bottles and their fills: containers, specimens that name their bottle, results that give a volume.
    pub(super) fn bottles(
        &self,
        specimens: &[usize],
        observations: &[usize],
        set: &str,
        of_number: Option<BottleKind>,
        place: Place,
        account: &mut Account,
    ) -> Vec<BottleFact> {
        let mapping = self.mapping;
        let word = |value: &Json, name: &str| {
            codes_and_words(value, name).into_iter().find_map(|word| mapping.bottles.get(word))
        };
        let amount = |value: Option<&Json>| -> Option<Option<f64>> {
            let (number, unit) = quantity(value?)?;
            Some(blood_ml(&number, unit, mapping.density_g_per_ml))
        };
        let mut bottles = Vec::new();
        let mut n_unusable = 0;
        for at in specimens {
            let specimen = &self.store.at(*at).value;
            if codes(specimen.get("type")).contains(&ISOLATE) {
                continue;
            }
            let collection = specimen.get("collection").unwrap_or(&Json::Nothing);
            let of_specimen = word(collection, "method").or_else(|| word(specimen, "type")).or(of_number);
            let own = self.specimen_number(*at).filter(|own| mapping.messages.without_ending(own).0 != set);
            let containers: Vec<&Json> = list(specimen, "container").collect();
            for container in &containers {
                let kind = word(container, "type").or(of_specimen.filter(|_| containers.len() == 1));
                let fill = amount(container.get("specimenQuantity"));
                n_unusable += usize::from(fill == Some(None));
                let fill_ml = fill.flatten();
                if let Some(kind) = kind.or(fill_ml.map(|_| BottleKind::Other)) {
                    let label = first_identifier(container).or(own).unwrap_or(bottle_label(kind)).to_owned();
                    add_bottle(&mut bottles, BottleFact { label, kind, fill_ml });
                }
            }
            let whole = amount(collection.get("quantity"));
            let is_one = of_specimen.is_some() || containers.len() == 1;
            n_unusable += usize::from(whole.is_some_and(|fill| fill.is_none() || !is_one));
            if let (Some(kind), true) = (of_specimen, containers.is_empty()) {
                let label = own.unwrap_or(bottle_label(kind)).to_owned();
                add_bottle(&mut bottles, BottleFact { label, kind, fill_ml: whole.flatten() });
            } else if let (Some(fill), [only]) = (whole.flatten(), bottles.as_mut_slice()) {
                only.fill_ml = only.fill_ml.or(Some(fill));
            }
        }
        for at in observations {
            let value = &self.store.at(*at).value;
            for code in codes(value.get("code")) {
                if let Some(kind) = mapping.messages.volume_of(code) {
                    match amount(value.get("valueQuantity")) {
                        Some(fill_ml @ Some(_)) => add_bottle(&mut bottles, plain_bottle(kind, fill_ml)),
                        _ => n_unusable += 1,
                    }
                } else if let Some(kind) = bottle_of(code) {
                    add_bottle(&mut bottles, plain_bottle(kind, None));
                }
            }
        }
        if let (Some(kind), true) = (of_number, bottles.is_empty()) {
            bottles.push(plain_bottle(kind, None));
        }
        if n_unusable > 0 {
            account.note(
                place,
                "an amount of specimen was left out: it is not 0 to 60 mL, or it is not said to be that of one bottle",
            );
        }
        bottles
    }
}
