//! One order (OBR) with what belongs to it, as a report.

use std::collections::{HashMap, HashSet};

use culture::{ReportStatus, Specimen};

use super::results::{ResultStatus, results};
use super::segments::{Field, Segment};
use crate::laboratory::account::{Account, Fault};
use crate::laboratory::age::age_at;
use crate::laboratory::codes::{BLOOD_SPECIMEN, ORGANISM_CODES, bottle_label, is_among, is_blood_culture};
use crate::laboratory::mapping::Mapping;
use crate::laboratory::message_rules::FieldAddress;
use crate::laboratory::moment::{Moment, shape};
use crate::laboratory::patient::PatientHashKey;
use crate::laboratory::reports::{Report, Sent, Susceptibilities, slowest};
use crate::laboratory::words;

/// An order with its segments. Patient, visit and common order are those that stand before it.
#[derive(Debug)]
pub(super) struct Order<'m> {
    pub header: &'m Segment<'m>,
    pub patient: Option<&'m Segment<'m>>,
    pub visit: Option<&'m Segment<'m>>,
    pub common: Option<&'m Segment<'m>>,
    pub request: &'m Segment<'m>,
    pub results: Vec<&'m Segment<'m>>,
    pub specimens: Vec<&'m Segment<'m>>,
    pub participants: Vec<&'m Segment<'m>>,
}

/// Most results and specimens of one culture.
pub(super) const MOST_SEGMENTS_OF_ORDER: usize = 5_000;

/// The orders of one message that others may hang under.
#[derive(Debug, Default)]
pub(super) struct Parents {
    numbers: HashSet<String>,
    /// The number of the order that holds a result, by code and sub-id.
    by_result: HashMap<(String, String), String>,
}

impl Parents {
    pub(super) fn of(orders: &[Order<'_>]) -> Self {
        let mut parents = Self::default();
        for order in orders {
            let number = order.request.field(3).component(1).into_owned();
            for result in &order.results {
                let key =
                    (result.field(3).component(1).into_owned(), result.field(4).component(1).into_owned());
                if !key.0.is_empty() && !number.is_empty() {
                    parents.by_result.entry(key).or_insert_with(|| number.clone());
                }
            }
            if !number.is_empty() {
                parents.numbers.insert(number);
            }
        }
        parents
    }
}

impl Order<'_> {
    /// By the code of the order or of a result, standard or local; or by a code for organisms where the specimen is
    /// blood.
    pub(super) fn is_blood_culture(&self, mapping: &Mapping) -> bool {
        let known = |field: Field<'_>| {
            [1, 4]
                .iter()
                .any(|&n| is_blood_culture(&field.component(n), &mapping.messages.blood_culture_codes))
        };
        let names_organisms = |field: Field<'_>| {
            [1, 4].iter().any(|&n| {
                let code = field.component(n);
                ORGANISM_CODES.contains(&code.as_ref()) || is_among(&code, &mapping.messages.organism_codes)
            })
        };
        let code = self.request.field(4);
        known(code)
            || self.results.iter().any(|result| known(result.field(3)))
            || (self.is_on_blood()
                && (names_organisms(code)
                    || self.results.iter().any(|result| names_organisms(result.field(3)))))
    }

    /// Whether the name of the order speaks of blood and culture although its code is not known.
    pub(super) fn sounds_like_one(&self) -> bool {
        let code = self.request.field(4);
        [2, 5, 9].iter().any(|&n| {
            let name = words::plain(&code.component(n));
            name.contains("blood") && name.contains("cult")
        })
    }

    fn is_on_blood(&self) -> bool {
        let is_blood =
            |field: Field<'_>| [1, 4].iter().any(|&n| BLOOD_SPECIMEN.contains(&field.component(n).as_ref()));
        self.specimens.iter().any(|specimen| is_blood(specimen.field(4))) || is_blood(self.request.field(15))
    }

    /// What this order hangs under (OBR-26, OBR-29), where it hangs under anything. Systems name the parent by its
    /// order number, by a number of their own, or only by its result; `parents` are those of the same message.
    pub(super) fn susceptibilities(&self, parents: &Parents, account: &Account) -> Option<Susceptibilities> {
        let (parent, result) = (self.request.field(29), self.request.field(26));
        let (code, sub_id) = (result.component(1), result.component(2));
        let named = first_of([parent.component(2), parent.component(1)]);
        if named.is_none() && code.is_empty() {
            return None;
        }
        let by_number = || named.clone().filter(|number| parents.numbers.contains(number));
        let by_result =
            || parents.by_result.get(&(code.clone().into_owned(), sub_id.clone().into_owned())).cloned();
        Some(Susceptibilities {
            place: account.place(self.request.line),
            parent: by_number().or_else(by_result).or(named.clone())?,
            sub_id: sub_id.into_owned(),
        })
    }

    /// The report, and what should be said about it.
    pub(super) fn report(
        &self,
        mapping: &Mapping,
        key: &PatientHashKey,
        account: &mut Account,
    ) -> Result<Report, Fault> {
        let place = account.place(self.request.line);
        let patient = key.hash(&self.patient_identifier()?);
        let clock = mapping.messages.clock.as_ref();
        let collected_moment = self.collected(account)?;
        let collected = collected_moment.by(clock);
        if clock.is_none() && collected_moment.is_utc() {
            account.note(
                place,
                "times of collection are in UTC and were taken for the clock of the unit; name the unit's clock as clock under [messages] in the mapping if it is another",
            );
        }
        let received = self
            .specimens
            .iter()
            .map(|specimen| specimen.field(18).component(1))
            .chain([self.request.field(14).component(1)])
            .find_map(|text| Moment::hl7(&text))
            .map(
                |moment| {
                    if clock.is_some() { moment.by(clock) } else { moment.in_offset_of(collected_moment) }
                },
            );
        let born = self.patient.and_then(|patient| Moment::hl7(&patient.field(7).component(1)));
        let filler = self.request.field(3).component(1).into_owned();
        let (number, under) = self.set_number(mapping)?;
        let (set, kind_of_number) = mapping.messages.without_ending(&number);
        let results = results(&self.results, mapping);
        let bottles = self.bottles(set, kind_of_number, mapping, account);
        // Two bottles may stand under one order number and one code; what tells them apart must not grow with results.
        let own_kind = self.specimens.first().and_then(|specimen| self.kind_of(specimen, mapping));
        let own_kind = own_kind.or_else(|| self.kind_of_order(kind_of_number, mapping));
        let said_kind = own_kind.map(bottle_label).unwrap_or_default();
        let order = first_of([self.request.field(3).component(1), self.request.field(2).component(1)]);
        let status = self.status(mapping, &results.statuses, results.found.is_empty());
        if results.without_status > 0 {
            account.note(
                account.place(results.last_line),
                "a result carries no status (OBX-11); the status of the order stands for it, and the message may have been cut off",
            );
        }
        Ok(Report {
            place,
            set: set.to_owned(),
            order: format!(
                "{}\u{1f}{}\u{1f}{said_kind}",
                order.unwrap_or_default(),
                self.request.field(4).component(1)
            ),
            filler,
            under,
            replaces_all: false,
            stamp: self.stamp(),
            sent: Sent::of(&self.header.field(7).component(1), &self.header.field(10).component(1)),
            patient,
            age_years: born.and_then(|born| age_at(born.date, collected.date)),
            received: received.and_then(Moment::date_time),
            unit: self.unit(),
            collector: self.collector(),
            route: self.first_meaning(|word| mapping.routes.get(word)),
            specimen: self.specimen(),
            status,
            bottles,
            positive_after_s: self.positive_after_s(mapping, account),
            results: results.found,
            collected: collected.collected(),
        })
    }

    /// The medical record number where one is marked so, else the first identifier; before version 2.3 PID-2 held it.
    fn patient_identifier(&self) -> Result<String, Fault> {
        let fault = |found: &str| {
            Fault::new(
                found,
                "an identifier in PID-3",
                "ask the interface team; without it no set can be compared with the others of the patient",
            )
            .in_field("PID-3")
        };
        let patient = self.patient.ok_or_else(|| fault("no patient (PID)"))?;
        let identifiers: Vec<Field<'_>> =
            patient.field(3).repetitions().filter(|field| !field.component(1).is_empty()).collect();
        let marked = identifiers.iter().find(|field| field.component(5) == "MR");
        let first = marked.or(identifiers.first()).map(|field| field.component(1));
        let identifier = first.unwrap_or_else(|| patient.field(2).component(1)).into_owned();
        if identifier.is_empty() {
            return Err(fault("no patient identifier"));
        }
        if identifier.contains('\u{fffd}') {
            return Err(fault("a patient identifier with unreadable characters"));
        }
        Ok(identifier)
    }

    /// What the mapping names, else the laboratory's own specimen number, else that of the ward. Where there is none of
    /// these, the order number stands for it, with the number of the culture this order hangs under: if that culture is
    /// known, in this message or in another, its set is meant.
    fn set_number(&self, mapping: &Mapping) -> Result<(String, Option<String>), Fault> {
        let named = mapping.messages.specimen_number.as_ref().and_then(|address| self.at(address));
        let of_specimen = || {
            let numbers = self.specimens.iter().map(|specimen| specimen.field(2));
            numbers.into_iter().find_map(|number| first_of([number.component(2), number.component(1)]))
        };
        let own = named.or_else(of_specimen);
        let parent = first_of([self.request.field(29).component(2)]);
        let under = if own.is_none() { parent } else { None };
        let of_order = || first_of([self.request.field(3).component(1), self.request.field(2).component(1)]);
        let number = own.or_else(of_order).or_else(|| under.clone());
        let fault = |found: &str| {
            Fault::new(found, "SPM-2, OBR-3 or OBR-2", "ask the interface team for one of them")
                .in_field("SPM-2")
        };
        match number {
            None => Err(fault("no specimen number and no order number")),
            Some(number) if number.contains('\u{fffd}') => {
                Err(fault("a specimen number with unreadable characters"))
            }
            Some(number) => Ok((number, under)),
        }
    }

    fn at(&self, address: &FieldAddress) -> Option<String> {
        let segment = match address.segment.as_str() {
            "ORC" => self.common?,
            "OBR" => self.request,
            _ => self.specimens.first()?,
        };
        first_of([segment.field(address.field).component(address.component)])
    }

    /// The start of the collection by the specimen, else by the order.
    fn collected(&self, account: &mut Account) -> Result<Moment, Fault> {
        let of_specimens = self.specimens.iter().map(|specimen| specimen.field(17).component(1));
        let of_specimen = of_specimens.into_iter().find(|text| !text.is_empty()).unwrap_or_default();
        let of_order = self.request.field(7).component(1);
        let read = (Moment::hl7(&of_specimen), Moment::hl7(&of_order));
        if let (None, Some(moment)) = read
            && !of_specimen.is_empty()
        {
            account.note(
                account.place(self.request.line),
                "the time of collection of the specimen (SPM-17) cannot be read; that of the order (OBR-7) stands for it",
            );
            return Ok(moment);
        }
        read.0.or(read.1).ok_or_else(|| {
            let (text, field) =
                if of_specimen.is_empty() { (of_order, "OBR-7") } else { (of_specimen, "SPM-17") };
            let found = if text.is_empty() { "no time of collection".to_owned() } else { shape(&text) };
            Fault::new(
                found,
                "a time of collection as YYYYMMDDhhmm in SPM-17 or OBR-7",
                "ask the interface team; without it the set belongs to no day and no window",
            )
            .in_field(field)
        })
    }

    /// When the results last changed (OBR-22), else when the message was made (MSH-7).
    fn stamp(&self) -> Option<i64> {
        let times = [self.request.field(22).component(1), self.header.field(7).component(1)];
        times.iter().find_map(|text| Moment::hl7(text)).map(Moment::seconds)
    }

    fn unit(&self) -> Option<String> {
        let place = self.visit?.field(3);
        first_of([place.component(1), place.component(9)])
    }

    /// The collector's number, else the name as it is written (OBR-10; from version 2.7 on also PRT-5, where PRT-4 is
    /// SC for the collector of the specimen).
    fn collector(&self) -> Option<String> {
        let of_order = self.request.field(10);
        let participant =
            self.participants.iter().find(|participant| participant.field(4).component(1) == "SC");
        let collector = match participant {
            Some(participant) if of_order.whole().is_empty() => participant.field(5),
            _ => of_order,
        };
        first_of([collector.component(1)]).or_else(|| {
            let name = [2, 3].map(|n| collector.component(n)).join(" ");
            Some(name.trim().to_owned()).filter(|name| !name.is_empty())
        })
    }

    /// Looks up the words for how and where the blood was taken: method (SPM-7), source (SPM-8), site (SPM-10), and
    /// the older OBR-15. OBR-15 has several coded parts, whose words stand in the first subcomponent.
    fn first_meaning<T>(&self, meaning: impl Fn(&str) -> Option<T>) -> Option<T> {
        let of_specimens = self.specimens.iter().flat_map(|specimen| [7, 8, 10].map(|n| specimen.field(n)));
        let words = of_specimens.flat_map(|field| [1, 2, 4, 5].map(|n| field.component(n)));
        let older = self.request.field(15);
        let older = [6, 4, 3].map(|n| older.component(n));
        words.chain(older).filter(|word| !word.is_empty()).find_map(|word| meaning(&word))
    }

    fn specimen(&self) -> Specimen {
        // HL7 table 0369, role of a specimen: Q is a control (from memory).
        if self.specimens.iter().any(|specimen| specimen.field(11).component(1) == "Q") {
            return Specimen::QualityControl;
        }
        let texts = self.specimens.iter().flat_map(|specimen| [2, 5].map(|n| specimen.field(4).component(n)));
        let older = self.request.field(15).component(1);
        let mut kinds = texts.chain([older]).map(|text| words::specimen(&text));
        kinds.find(|kind| *kind != Specimen::Blood).unwrap_or_default()
    }

    /// The status of the order (OBR-25); where it has none, that of its slowest result, or what ORC says. An order
    /// that was cancelled, or whose specimen was rejected before anything was found, is cancelled.
    fn status(&self, mapping: &Mapping, of_results: &[ResultStatus], nothing_found: bool) -> ReportStatus {
        let common = self.common.map(|common| (common.field(1).component(1), common.field(5).component(1)));
        let cancelled = common.is_some_and(|(control, status)| {
            matches!(control.as_ref(), "CA" | "OC" | "CR" | "DC") || status == "CA"
        });
        let rejected = self.specimens.iter().any(|specimen| !specimen.field(21).component(1).is_empty());
        if cancelled || (rejected && nothing_found) {
            return ReportStatus::Cancelled;
        }
        let written = self.request.field(25).component(1);
        let of_order = match written.as_ref() {
            // HL7 table 0123, from memory: corrected and not final; procedure completed; no order, no patient on record.
            "M" | "N" => Some(ReportStatus::Preliminary),
            "Y" | "Z" => Some(ReportStatus::Cancelled),
            written => mapping.statuses.get(written),
        };
        of_order.unwrap_or_else(|| slowest(of_results.iter().copied().filter_map(ResultStatus::of_report)))
    }
}

pub(super) fn first_of<const N: usize>(texts: [std::borrow::Cow<'_, str>; N]) -> Option<String> {
    texts.into_iter().find(|text| !text.is_empty()).map(std::borrow::Cow::into_owned)
}
