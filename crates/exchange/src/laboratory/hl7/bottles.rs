//! The bottles of one order and how full they were.

use culture::BottleKind;

use super::order::{Order, first_of};
use super::segments::{Field, Segment};
use crate::laboratory::account::Account;
use crate::laboratory::amount::blood_ml;
use crate::laboratory::codes::{bottle_label, bottle_of};
use crate::laboratory::gather::BottleFact;
use crate::laboratory::mapping::Mapping;
use crate::laboratory::reports::{add_bottle, plain_bottle};
use crate::laboratory::until_positive::{LEFT_OUT, seconds_in};

impl Order<'_> {
    /// Bottles and their fills: one for each specimen that names its bottle, else what the number, the order or the
    /// results say.
    pub(super) fn bottles(
        &self,
        set: &str,
        kind_of_number: Option<BottleKind>,
        mapping: &Mapping,
        account: &mut Account,
    ) -> Vec<BottleFact> {
        let mut bottles = Vec::new();
        let of_order = self.kind_of_order(kind_of_number, mapping);
        for specimen in &self.specimens {
            let kind = self.kind_of(specimen, mapping).or(of_order);
            let (amount, unit) = (specimen.field(12).component(1), specimen.field(12).component(2));
            let fill_ml = blood_ml(&amount, &unit, mapping.density_g_per_ml);
            let n_containers = specimen.field(26).component(1).parse::<f64>().ok();
            let is_one = kind.is_some() || n_containers == Some(1.0);
            if !amount.is_empty() && (fill_ml.is_none() || !is_one) {
                account.note(
                    account.place(specimen.line),
                    "an amount of specimen (SPM-12) was left out: it is not 0 to 60 mL, or it is not said to be that of one bottle",
                );
            }
            if let Some(kind) = kind.or(fill_ml.filter(|_| is_one).map(|_| BottleKind::Other)) {
                let own = specimen.field(2);
                let own = first_of([own.component(2), own.component(1)]);
                let tells_apart =
                    own.filter(|own| own != set && mapping.messages.without_ending(own).0 != set);
                let label = tells_apart.unwrap_or_else(|| bottle_label(kind).to_owned());
                add_bottle(&mut bottles, BottleFact { label, kind, fill_ml: fill_ml.filter(|_| is_one) });
            }
        }
        if let Some(kind) = of_order.filter(|_| bottles.is_empty()) {
            bottles.push(plain_bottle(kind, None));
        }
        // Before specimens had a segment of their own, OBR-9 gave the volume of the specimen, in mL where no unit is
        // written.
        if let (true, [only]) = (self.specimens.is_empty(), bottles.as_mut_slice()) {
            let volume = self.request.field(9);
            let unit = first_of([volume.component(2)]);
            let unit = unit.as_deref().unwrap_or("mL");
            only.fill_ml = blood_ml(&volume.component(1), unit, mapping.density_g_per_ml);
        }
        for result in &self.results {
            let code = result.field(3);
            for code in [1, 4].map(|n| code.component(n)) {
                if let Some(kind) = mapping.messages.volume_of(&code) {
                    let unit = result.field(6);
                    let unit = first_of([unit.component(1), unit.component(2)]);
                    let unit = unit.as_deref().unwrap_or("mL");
                    match blood_ml(&result.field(5).component(1), unit, mapping.density_g_per_ml) {
                        fill_ml @ Some(_) => add_bottle(&mut bottles, plain_bottle(kind, fill_ml)),
                        None => account.note(
                            account.place(result.line),
                            "a volume of blood (OBX-5) is not 0 to 60 mL and was left out",
                        ),
                    }
                } else if let Some(kind) = bottle_of(&code) {
                    add_bottle(&mut bottles, plain_bottle(kind, None));
                }
            }
        }
        bottles
    }

    /// Seconds to the first positive bottle, by the results whose code the mapping names.
    pub(super) fn positive_after_s(&self, mapping: &Mapping, account: &mut Account) -> Option<u32> {
        let mut earliest = None;
        for result in &self.results {
            let code = result.field(3);
            let is_one = [1, 4].iter().any(|&n| mapping.messages.is_positive_after(&code.component(n)));
            let is_withdrawn = matches!(result.field(11).component(1).as_ref(), "D" | "W" | "X" | "N");
            let (value, unit) = (result.field(5).component(1), result.field(6).component(1));
            if !is_one || is_withdrawn || value.is_empty() {
                continue;
            }
            match seconds_in(&value, &unit) {
                Some(seconds) => earliest = Some(earliest.map_or(seconds, |known: u32| known.min(seconds))),
                None => account.note(account.place(result.line), LEFT_OUT),
            }
        }
        earliest
    }

    /// The bottle a specimen names: method (SPM-7, which mixes bottles and devices), container (SPM-27), type (SPM-4).
    pub(super) fn kind_of(&self, specimen: &Segment<'_>, mapping: &Mapping) -> Option<BottleKind> {
        [7, 27, 4].iter().find_map(|&n| bottle_word(specimen.field(n), mapping))
    }

    /// The bottle that the specimen number or the order names.
    pub(super) fn kind_of_order(
        &self,
        of_number: Option<BottleKind>,
        mapping: &Mapping,
    ) -> Option<BottleKind> {
        let code = self.request.field(4);
        of_number
            .or_else(|| [1, 4].iter().find_map(|&n| bottle_of(&code.component(n))))
            .or_else(|| bottle_word(code, mapping))
            .or_else(|| mapping.bottles.get(&self.request.field(15).component(6)))
    }
}

fn bottle_word(field: Field<'_>, mapping: &Mapping) -> Option<BottleKind> {
    [1, 2, 4, 5].iter().find_map(|&n| mapping.bottles.get(&field.component(n)))
}
