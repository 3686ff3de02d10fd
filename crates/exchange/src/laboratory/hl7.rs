//! HL7 v2 ORU^R01 messages into reports.
//!
//! Field numbers are those of HL7 v2.5.1, chapter 7. A real feed repeats a report while it grows, corrects results
//! and parts one culture over several orders; the specimen number (SPM-2) holds them together.

use culture::{Collected, ReportStatus};
use jiff::civil::{Date, DateTime, Time};

use super::InputFile;
use super::account::{Account, Fault, quoted};
use super::age::age_at;
use super::codes::{ORGANISM_CODES, is_blood_culture};
use super::gather::BottleFact;
use super::hl7_segments::{Field, Message, Piece, Segment, pieces};
use super::mapping::Mapping;
use super::patient::PatientHashKey;
use super::reports::{Report, Reports, ResultKey, ResultValue};
use super::words::plain;
use crate::text::decode;

/// Reads the messages of one file. Every order (OBR) counts as one row.
pub(super) fn read(
    file: &InputFile<'_>,
    mapping: &Mapping,
    key: &PatientHashKey,
    reports: &mut Reports,
    account: &mut Account,
) {
    let decoded = match decode(file.bytes, mapping.table.encoding.or_else(|| stated_encoding(file.bytes))) {
        Ok(decoded) => decoded,
        Err(error) => {
            account.unread_file(Fault::new(
                error.to_string(),
                format!("{} text, as MSH-18 or the mapping states", error.stated.name()),
                "ask for the true character set and state it as encoding in the mapping",
            ));
            return;
        }
    };
    if let Some(note) = decoded.note {
        account.note_file(note);
    }
    let (mut n_orders, mut n_cultures) = (0_u64, 0_u64);
    for piece in pieces(&decoded.text) {
        match piece {
            Piece::Message(message) => {
                let (orders, cultures) = read_message(&message, mapping, key, reports, account);
                n_orders += orders;
                n_cultures += cultures;
            }
            Piece::Stray { line, start } => {
                account.row();
                account.unread_row(
                    account.place(line),
                    Fault::new(
                        format!("a line that starts with {}", quoted(start)),
                        "a segment of three capital letters after a message header (MSH)",
                        "look for a message that was cut off, or a line end inside a field",
                    ),
                );
            }
            Piece::BadHeader { line } => {
                account.row();
                account.unread_row(
                    account.place(line),
                    Fault::new(
                        "a message header whose delimiters cannot be used",
                        "MSH, the field separator and the encoding characters, as in MSH|^~\\&|",
                        "ask the interface team for the message as it was sent",
                    ),
                );
            }
        }
    }
    if n_cultures == 0 {
        account.note_file(format!("nothing to import here: {n_orders} orders, none of them a blood culture"));
    }
}

/// The character set in MSH-18 of the first message, where it is one that is known.
fn stated_encoding(bytes: &[u8]) -> Option<crate::text::TextEncoding> {
    let start = bytes.get(..bytes.len().min(4_096))?;
    let header = start.split(|byte| matches!(byte, b'\r' | b'\n')).find(|line| line.starts_with(b"MSH"))?;
    let separator = *header.get(3)?;
    let set = header.split(|byte| *byte == separator).nth(17)?;
    match String::from_utf8_lossy(set).trim().to_ascii_uppercase().as_str() {
        "UNICODE UTF-8" | "UTF-8" => Some(crate::text::TextEncoding::Utf8),
        "8859/1" | "ISO-8859-1" | "8859/15" => Some(crate::text::TextEncoding::Windows1252),
        _ => None,
    }
}

/// One order with what belongs to it.
struct Order<'m> {
    order: &'m Segment<'m>,
    results: Vec<&'m Segment<'m>>,
    specimen: Option<&'m Segment<'m>>,
}

/// Reads one message; gives how many orders it has and how many of them are blood cultures.
fn read_message(
    message: &Message<'_>,
    mapping: &Mapping,
    key: &PatientHashKey,
    reports: &mut Reports,
    account: &mut Account,
) -> (u64, u64) {
    let place = account.place(message.line);
    let Some(header) = message.segments.first() else { return (0, 0) };
    if header.field(9).component(1) != "ORU" {
        account.row();
        account.drop_row(place.file, "not a message of results (ORU)");
        return (1, 0);
    }
    let find = |name: &str| message.segments.iter().find(|segment| segment.name() == name);
    let (patient, visit) = (find("PID"), find("PV1"));
    let mut orders: Vec<Order<'_>> = Vec::new();
    for segment in &message.segments {
        match (segment.name(), orders.last_mut()) {
            ("OBR", _) => orders.push(Order { order: segment, results: Vec::new(), specimen: None }),
            ("OBX", Some(order)) => order.results.push(segment),
            ("SPM", Some(order)) => order.specimen = order.specimen.or(Some(segment)),
            _ => {}
        }
    }
    if orders.is_empty() {
        account.row();
        account.unread_row(
            place,
            Fault::new(
                "a message of results without an order (OBR)",
                "at least one OBR segment",
                "look for a message that was cut off",
            ),
        );
        return (1, 0);
    }
    let n_orders = orders.len() as u64;
    let mut n_cultures = 0;
    for order in &orders {
        account.row();
        let place = account.place(order.order.line);
        if !order.is_blood_culture(mapping) {
            account.drop_row(place.file, "not a blood culture");
            continue;
        }
        n_cultures += 1;
        match order.report(header, patient, visit, mapping, key, account) {
            Ok(report) => reports.add(report, account),
            Err(fault) => account.unread_row(place, fault),
        }
    }
    (n_orders, n_cultures)
}

impl Order<'_> {
    /// By the code of the order, standard or local; susceptibilities, which name a parent result, are not.
    fn is_blood_culture(&self, mapping: &Mapping) -> bool {
        let code = self.order.field(4);
        let known = |number| is_blood_culture(&code.component(number), &mapping.messages.blood_culture_codes);
        self.order.field(26).component(1).is_empty() && (known(1) || known(4))
    }

    fn report(
        &self,
        header: &Segment<'_>,
        patient: Option<&Segment<'_>>,
        visit: Option<&Segment<'_>>,
        mapping: &Mapping,
        key: &PatientHashKey,
        account: &Account,
    ) -> Result<Report, Fault> {
        let identifier = patient.and_then(patient_identifier).ok_or_else(|| {
            Fault::new(
                "no patient identifier",
                "an identifier in PID-3",
                "ask the interface team; without it no set can be compared with the others of the patient",
            )
            .in_field("PID-3")
        })?;
        let collected = self.collected()?;
        let born = patient.and_then(|patient| time_stamp(&patient.field(7).component(1))).map(Stamp::date);
        let received = self
            .specimen
            .and_then(|specimen| time_stamp(&specimen.field(18).component(1)))
            .or_else(|| time_stamp(&self.order.field(14).component(1)));
        let place = account.place(self.order.line);
        let order_number = first_of([self.order.field(3).component(1), self.order.field(2).component(1)]);
        let set = self.specimen_number().or_else(|| order_number.clone()).ok_or_else(|| {
            Fault::new(
                "no specimen number and no order number",
                "SPM-2, OBR-3 or OBR-2",
                "ask the interface team for one of them",
            )
            .in_field("SPM-2")
        })?;
        let method = self.specimen.map(|specimen| specimen.field(7));
        let word = |lookup: &dyn Fn(&str) -> bool| {
            method.and_then(|method| {
                [1, 2, 4, 5].map(|n| method.component(n)).into_iter().find(|text| lookup(text))
            })
        };
        let route =
            word(&|text| mapping.routes.get(text).is_some()).and_then(|text| mapping.routes.get(&text));
        let bottle = word(&|text| mapping.bottles.get(text).is_some());
        let bottles = bottle
            .and_then(|text| {
                Some(BottleFact { label: plain(&text), kind: mapping.bottles.get(&text)?, fill_ml: None })
            })
            .into_iter()
            .collect();
        Ok(Report {
            place,
            set,
            order: order_number.unwrap_or_default(),
            stamp: header.field(7).component(1).into_owned(),
            patient: key.hash(&identifier),
            age_years: born.and_then(|born| age_at(born, collected.date())),
            received: received.and_then(Stamp::moment),
            unit: visit.map(|visit| visit.field(3).component(1).into_owned()).filter(|unit| !unit.is_empty()),
            collector: Some(self.order.field(10).component(1).into_owned()).filter(|text| !text.is_empty()),
            route,
            status: self.status(mapping),
            bottles,
            results: self.results(mapping),
            collected,
        })
    }

    /// The laboratory's own specimen number, else that of the ward.
    fn specimen_number(&self) -> Option<String> {
        let number = self.specimen?.field(2);
        first_of([number.component(2), number.component(1)])
    }

    fn collected(&self) -> Result<Collected, Fault> {
        let of_specimen = self.specimen.map(|specimen| specimen.field(17).component(1)).unwrap_or_default();
        let of_order = self.order.field(7).component(1);
        let text = if of_specimen.is_empty() { &of_order } else { &of_specimen };
        time_stamp(text).map(Stamp::collected).ok_or_else(|| {
            let found = if text.is_empty() { "no time of collection".to_owned() } else { quoted(text) };
            Fault::new(
                found,
                "a time of collection as YYYYMMDDhhmm in SPM-17 or OBR-7",
                "ask the interface team; without it the set belongs to no day and no window",
            )
            .in_field("SPM-17")
        })
    }

    /// The status of the order; where it has none, that of its slowest result.
    fn status(&self, mapping: &Mapping) -> ReportStatus {
        let of_order = mapping.statuses.get(&self.order.field(25).component(1));
        of_order.unwrap_or_else(|| {
            let of_results =
                self.results.iter().filter_map(|result| mapping.statuses.get(&result.field(11).component(1)));
            of_results
                .min_by_key(|status| match status {
                    ReportStatus::Preliminary => 0,
                    ReportStatus::Corrected => 1,
                    ReportStatus::Final => 2,
                    ReportStatus::NotStated | ReportStatus::Cancelled => 3,
                })
                .unwrap_or(ReportStatus::NotStated)
        })
    }

    fn results(&self, mapping: &Mapping) -> Vec<(ResultKey, ResultValue)> {
        let mut results: Vec<(ResultKey, ResultValue)> = Vec::new();
        for segment in &self.results {
            let code = segment.field(3);
            let about_growth = [1, 4].map(|number| code.component(number)).into_iter().any(|code| {
                is_blood_culture(&code, &mapping.messages.blood_culture_codes)
                    || ORGANISM_CODES.contains(&code.as_ref())
            });
            if !about_growth {
                continue;
            }
            let value = match segment.field(11).component(1).as_ref() {
                "D" | "W" | "X" => ResultValue::Withdrawn,
                _ => ResultValue::Said(said(segment)),
            };
            let mut key = ResultKey {
                code: code.component(1).into_owned(),
                sub_id: segment.field(4).component(1).into_owned(),
                turn: 0,
            };
            // Results that neither code nor sub-id tells apart are told apart by their turn.
            key.turn = results
                .iter()
                .filter(|(known, _)| known.code == key.code && known.sub_id == key.sub_id)
                .count();
            results.push((key, value));
        }
        results
    }
}

/// The words of a result: of a coded value its text, the local text or the code, of text the whole.
fn said(segment: &Segment<'_>) -> String {
    let value = segment.field(5);
    match segment.field(2).component(1).as_ref() {
        "CE" | "CWE" | "CNE" | "CF" => {
            let said = [2, 5, 9, 1].map(|number| value.component(number));
            first_of(said).unwrap_or_default()
        }
        "ST" | "TX" | "FT" | "" => value.whole().into_owned(),
        // Numbers and files name no organism.
        _ => String::new(),
    }
}

/// The medical record number where one is marked so, else the first identifier.
fn patient_identifier(patient: &Segment<'_>) -> Option<String> {
    let identifiers: Vec<Field<'_>> =
        patient.field(3).repetitions().filter(|field| !field.component(1).is_empty()).collect();
    let marked = identifiers.iter().find(|field| field.component(5) == "MR");
    marked.or(identifiers.first()).map(|field| field.component(1).into_owned())
}

fn first_of<const N: usize>(texts: [std::borrow::Cow<'_, str>; N]) -> Option<String> {
    texts.into_iter().find(|text| !text.is_empty()).map(std::borrow::Cow::into_owned)
}

/// A day, with the time where the stamp has one. The offset is passed over: the clock of the unit counts.
#[derive(Debug, Clone, Copy)]
struct Stamp {
    date: Date,
    time: Option<Time>,
}

impl Stamp {
    fn date(self) -> Date {
        self.date
    }

    fn moment(self) -> Option<DateTime> {
        self.time.map(|time| self.date.to_datetime(time))
    }

    fn collected(self) -> Collected {
        self.moment().map_or(Collected::On(self.date), Collected::At)
    }
}

/// Reads `YYYYMMDD[hhmm[ss[.s]]][+/-zzzz]`.
fn time_stamp(text: &str) -> Option<Stamp> {
    let digits: String = text.chars().take_while(char::is_ascii_digit).collect();
    let number = |from: usize, to: usize| digits.get(from..to).and_then(|part| part.parse::<i16>().ok());
    let small = |from: usize| number(from, from + 2).and_then(|value| i8::try_from(value).ok());
    let date = Date::new(number(0, 4)?, small(4)?, small(6)?).ok()?;
    let time = match digits.len() {
        8 => None,
        10 => Some(Time::new(small(8)?, 0, 0, 0).ok()?),
        12 => Some(Time::new(small(8)?, small(10)?, 0, 0).ok()?),
        14 => Some(Time::new(small(8)?, small(10)?, small(12)?, 0).ok()?),
        _ => return None,
    };
    Some(Stamp { date, time })
}
