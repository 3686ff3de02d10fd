//! HL7 v2 ORU^R01 messages into reports.
//!
//! Field numbers are those of HL7 v2.5.1, chapters 3, 4 and 7; versions 2.3 to 2.8 agree on those that are read here,
//! and where an older version has a field of its own (OBR-15, PID-2) it is read as well. A real feed repeats a report
//! while it grows, corrects results and parts one culture over several orders; the specimen number holds them
//! together. Nothing of a message is quoted in what is said about it: any field may hold a patient's number.

mod bottles;
mod character_set;
mod order;
#[cfg(test)]
mod outside;
mod pieces;
mod results;
mod segments;

use std::borrow::Cow;
use std::collections::HashMap;

use character_set::CharacterSet;
use order::{MOST_SEGMENTS_OF_ORDER, Order, Parents};
use pieces::{LARGEST_MESSAGE_BYTES, Piece, Pieces};
use segments::{CutFault, MOST_LINES, Message};

use super::InputFile;
use super::account::{Account, Fault};
use super::header::Header;
use super::mapping::Mapping;
use super::patient::PatientHashKey;
use super::reports::Reports;
use crate::text::{TextEncoding, decode};

/// Reads the messages of one file, one at a time. Every order (OBR) counts as one row.
pub(super) fn read(
    file: &InputFile<'_>,
    mapping: &Mapping,
    key: &PatientHashKey,
    reports: &mut Reports,
    account: &mut Account,
) {
    let bytes = one_byte_ascii(file.bytes);
    let mut reader = Reader { mapping, key, reports, account, n_orders: 0, n_cultures: 0 };
    for piece in Pieces::of(&bytes) {
        reader.piece(piece);
    }
    let (n_orders, n_cultures) = (reader.n_orders, reader.n_cultures);
    if n_cultures == 0 {
        account.note_file(format!("nothing to import here: {n_orders} orders, none of them a blood culture"));
    }
}

/// Whether the bytes are UTF-16: by their mark, or because every other one at the start is zero.
pub(super) fn is_utf16(bytes: &[u8]) -> bool {
    let start = &bytes[..bytes.len().min(8)];
    let by_zeros = start.len() == 8 && start.iter().filter(|&&byte| byte == 0).count() == 4;
    by_zeros || bytes.starts_with(&[0xFE, 0xFF]) || bytes.starts_with(&[0xFF, 0xFE])
}

/// Messages are cut as bytes, which needs a character set that holds ASCII as it is; UTF-16 does not.
pub(super) fn one_byte_ascii(bytes: &[u8]) -> Cow<'_, [u8]> {
    if !is_utf16(bytes) {
        return Cow::Borrowed(bytes);
    }
    match decode(bytes, Some(TextEncoding::Utf16)) {
        Ok(decoded) => Cow::Owned(decoded.text.into_owned().into_bytes()),
        Err(_) => Cow::Borrowed(bytes),
    }
}

struct Reader<'r> {
    mapping: &'r Mapping,
    key: &'r PatientHashKey,
    reports: &'r mut Reports,
    account: &'r mut Account,
    n_orders: u64,
    n_cultures: u64,
}

impl Reader<'_> {
    fn piece(&mut self, piece: Piece<'_>) {
        match piece {
            Piece::Message { bytes, line } => self.message(bytes, line),
            Piece::TooLong { n_bytes, line } => self.unread(
                line,
                Fault::new(
                    format!("a message of {n_bytes} bytes"),
                    format!("a message of at most {LARGEST_MESSAGE_BYTES} bytes"),
                    "look for line ends that were lost, or for a document inside the message",
                ),
            ),
            Piece::Stray { line } => self.stray(line),
            Piece::Miscounted { what, stated, found, line } => self.account.note(
                self.account.place(line),
                format!("the number of {what} is stated as {stated} and {found} were found; the file may have been cut off or put together"),
            ),
            Piece::WithoutEnd { trailer } => {
                self.account.note_file(format!("the file has no {trailer} at its end; it may have been cut off"));
            }
        }
    }

    fn unread(&mut self, line: u64, fault: Fault) {
        self.account.row();
        self.account.unread_row(self.account.place(line), fault);
    }

    fn stray(&mut self, line: u64) {
        self.unread(
            line,
            Fault::new(
                "a line that is no segment",
                "a segment of three capital letters after a message header (MSH)",
                "look for a message that was cut off, or a line end inside a field",
            ),
        );
    }

    fn message(&mut self, bytes: &[u8], line: u64) {
        let set = self.mapping.table.encoding.map_or_else(|| stated_set(bytes), CharacterSet::stated);
        let Some(decoded) = set.read(bytes) else {
            let fault = Fault::new(
                "a character set (MSH-18) that is not known, and bytes beyond ASCII",
                "a set of HL7 table 0211 that can be read: ASCII, 8859/1 to 8859/9, 8859/15, UNICODE UTF-8, ISO IR87, GB 18030-2000, KS X 1001 or BIG-5",
                "ask the interface team to send UNICODE UTF-8, or state the encoding in the mapping",
            );
            self.unread(line, fault.in_field("MSH-18"));
            return;
        };
        if let Some(note) = decoded.note {
            self.account.note(self.account.place(line), note);
        }
        let message = match Message::cut(&decoded.text, line, decoded.encoding) {
            Ok(message) => message,
            Err(fault) => {
                self.unread(line, cut_fault(fault));
                return;
            }
        };
        for line in &message.strays {
            self.stray(*line);
        }
        for line in &message.joined {
            self.account.note(
                self.account.place(*line),
                "a line that is no segment was taken for the rest of the result or comment before it",
            );
        }
        self.orders_of(&message, line);
    }

    fn orders_of(&mut self, message: &Message<'_>, line: u64) {
        let Some(header) = message.segments.first() else { return };
        let kind = header.field(9);
        if kind.component(1) != "ORU" {
            self.account.row();
            self.n_orders += 1;
            self.account.drop_row(self.account.file(), "not a message of results (ORU)");
            return;
        }
        if matches!(header.field(11).component(1).as_ref(), "T" | "D") {
            self.account.note(
                self.account.place(line),
                "messages are marked as training or debugging (MSH-11); they were counted all the same",
            );
        }
        let orders = orders(message);
        if orders.is_empty() {
            self.n_orders += 1;
            self.unread(
                line,
                Fault::new(
                    "a message of results without an order (OBR)",
                    "at least one OBR segment",
                    "look for a message that was cut off",
                ),
            );
            return;
        }
        let parents = Parents::of(&orders);
        for order in &orders {
            self.n_orders += 1;
            self.order(order, &parents);
        }
    }

    /// Takes in one of the orders of a message.
    fn order(&mut self, order: &Order<'_>, parents: &Parents) {
        self.account.row();
        let place = self.account.place(order.request.line);
        if !order.is_blood_culture(self.mapping) {
            if let Some(found) = order.susceptibilities(parents, self.account) {
                self.reports.susceptibilities(found);
                return;
            }
            if order.sounds_like_one() {
                self.account.note(
                    place,
                    "an order that speaks of blood culture carries a code (OBR-4) that is not known and was left out; write the code under blood_culture_codes in the mapping if it is one",
                );
            }
            self.account.drop_row(place.file, "not a blood culture");
            return;
        }
        self.n_cultures += 1;
        if order.results.len() + order.specimens.len() > MOST_SEGMENTS_OF_ORDER {
            let fault = Fault::new(
                format!("a blood culture with more than {MOST_SEGMENTS_OF_ORDER} results and specimens"),
                "the results of one culture",
                "look for a missing order (OBR)",
            );
            self.account.unread_row(place, fault);
            return;
        }
        match order.report(self.mapping, self.key, self.account) {
            Ok(report) => self.reports.add(report),
            Err(fault) => self.account.unread_row(place, fault),
        }
    }
}

fn cut_fault(fault: CutFault) -> Fault {
    match fault {
        CutFault::Delimiters => Fault::new(
            "a message header whose delimiters cannot be used",
            "MSH, the field separator and the encoding characters, as in MSH|^~\\&|",
            "ask the interface team for the message as it was sent",
        ),
        CutFault::TooManyLines => Fault::new(
            format!("a message of more than {MOST_LINES} lines"),
            "a message about one patient, or a few",
            "look for a missing message header (MSH)",
        ),
    }
}

/// The character set that the header states, in all repetitions of MSH-18.
fn stated_set(bytes: &[u8]) -> CharacterSet {
    let Some(header) = Header::find(bytes) else { return CharacterSet::Ascii };
    let repetition = header.field(2).get(1).copied().unwrap_or(b'~');
    CharacterSet::named(header.field(18).split(|&byte| byte == repetition))
}

/// Orders with what belongs to them. A patient holds until the next one: a message may bring several.
fn orders<'m>(message: &'m Message<'m>) -> Vec<Order<'m>> {
    let Some(header) = message.segments.first() else { return Vec::new() };
    let (mut patient, mut visit, mut common) = (None, None, None);
    let mut orders: Vec<Order<'m>> = Vec::new();
    let mut n_before_patient = 0;
    for segment in &message.segments {
        let is_of_patient = orders.len() > n_before_patient;
        match segment.name() {
            "PID" => {
                (patient, visit, common) = (Some(segment), None, None);
                n_before_patient = orders.len();
            }
            "PV1" => visit = Some(segment),
            "ORC" => common = Some(segment),
            "OBR" => orders.push(Order {
                header,
                patient,
                visit,
                common: common.take(),
                request: segment,
                results: Vec::new(),
                specimens: Vec::new(),
                participants: Vec::new(),
            }),
            name @ ("OBX" | "SPM" | "PRT") if is_of_patient => {
                if let Some(order) = orders.last_mut() {
                    match name {
                        "OBX" => order.results.push(segment),
                        "SPM" => order.specimens.push(segment),
                        // After a result, PRT is about that result.
                        _ if order.results.is_empty() => order.participants.push(segment),
                        _ => {}
                    }
                }
            }
            _ => {}
        }
    }
    share_specimens(&mut orders);
    orders
}

/// An order without a specimen of its own shares that of an order of the same patient with the same laboratory number,
/// or of its parent.
fn share_specimens(orders: &mut [Order<'_>]) {
    let patient = |order: &Order<'_>| order.patient.map(|patient| patient.line);
    let mut holders: HashMap<(Option<u64>, String), usize> = HashMap::new();
    for (place, order) in orders.iter().enumerate().filter(|(_, order)| !order.specimens.is_empty()) {
        let number = order.request.field(3).component(1).into_owned();
        if !number.is_empty() {
            holders.entry((patient(order), number)).or_insert(place);
        }
    }
    for place in 0..orders.len() {
        let order = &orders[place];
        if !order.specimens.is_empty() {
            continue;
        }
        let numbers = [order.request.field(3).component(1), order.request.field(29).component(2)];
        let holder =
            numbers.into_iter().find_map(|number| holders.get(&(patient(order), number.into_owned())));
        if let Some(holder) = holder {
            orders[place].specimens = orders[*holder].specimens.clone();
        }
    }
}
