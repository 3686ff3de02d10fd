//! Answers to HL7 v2 messages: acknowledgements, and the mark by which a message is known again.
//!
//! HL7 v2.5.1, chapter 2 (sections from memory): the two modes of acknowledging in 2.9, the segments ERR and MSA in 2.15.5
//! and 2.15.8, tables 0008, 0155 and 0357. The form of ERR before version 2.5, and that MSH-9 has one component up to
//! version 2.2, two in 2.3 and three from 2.3.1 on, are from memory too.

use jiff::civil::DateTime;

use super::account::{Column, Unread};
use super::header::Header;
use super::patient::PatientHashKey;

pub use super::header::split_messages;

/// What became of a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    /// It is stored, now or by an earlier sending: AA or CA.
    Accepted,
    /// Its content cannot be used as it is: AE or CE.
    Error(Problem),
    /// It is no message for this receiver, or cannot be read at all, or the receiver cannot store at present: AR or CR.
    Rejected(Problem),
}

/// Why a message was not accepted, as ERR says it. The words must name no patient.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Which of the errors of HL7 table 0357.
    pub code: ErrorCode,
    /// The segment it is about, such as "OBR".
    pub segment: Option<String>,
    /// The number of the field in that segment, from 1.
    pub field: Option<u16>,
    /// What was found, what was expected and what to do, for the people who look after the connection.
    pub text: String,
}

impl Problem {
    /// A problem of the message as a whole.
    pub fn new(code: ErrorCode, text: impl Into<String>) -> Self {
        Self { code, segment: None, field: None, text: text.into() }
    }

    /// What a reader could not read, as a problem of its message.
    pub fn of(unread: &Unread) -> Self {
        let place = match &unread.column {
            Some(Column::Field(field)) => field.split_once('-'),
            _ => None,
        };
        let (segment, field) = place.unzip();
        Self {
            code: if place.is_some() { ErrorCode::DataType } else { ErrorCode::SegmentSequence },
            segment: segment.map(str::to_owned),
            field: field.and_then(|number| number.parse().ok()),
            text: unread.reason(),
        }
    }
}

/// Errors of HL7 table 0357.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorCode {
    /// 100: segments missing, or in an order that cannot be read.
    SegmentSequence,
    /// 101: a field that is needed is not there.
    RequiredField,
    /// 102: a field holds something of another type.
    DataType,
    /// 103: a code that is not in its table.
    TableValue,
    /// 200: not a message of a type that is read here.
    UnsupportedMessageType,
    /// 201: an event that is not read here.
    UnsupportedEvent,
    /// 203: a version that is not read here.
    UnsupportedVersion,
    /// 207: anything else, such as a store that cannot be written to at present.
    Internal,
}

impl ErrorCode {
    /// Number and words of the table.
    fn entry(self) -> (&'static str, &'static str) {
        match self {
            Self::SegmentSequence => ("100", "Segment sequence error"),
            Self::RequiredField => ("101", "Required field missing"),
            Self::DataType => ("102", "Data type error"),
            Self::TableValue => ("103", "Table value not found"),
            Self::UnsupportedMessageType => ("200", "Unsupported message type"),
            Self::UnsupportedEvent => ("201", "Unsupported event code"),
            Self::UnsupportedVersion => ("203", "Unsupported version id"),
            Self::Internal => ("207", "Application internal error"),
        }
    }
}

/// Whether the sender's own wish about acknowledgements counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// MSH-15 and MSH-16 are followed: none, one or two acknowledgements.
    AsAsked,
    /// One application acknowledgement whatever they say: some senders ask for none and wait for one all the same.
    Always,
}

/// The acknowledgements of a message, each to be framed and sent in this order.
///
/// Without MSH-15 and MSH-16 (original mode), or with [`Manner::Always`], there is one, with AA, AE or AR. Where the
/// sender uses enhanced mode, MSH-15 asks for an accept acknowledgement (CA, CE, CR) and MSH-16 for one of the
/// application, each always (AL), never (NE), on error (ER) or on success (SU); both come from the same commit here.
///
/// Delimiters, version, processing identifier and character set are those of the message; sender and receiver change
/// places; MSA-2 holds the control identifier as it was written. Of a message whose header cannot be read nothing can
/// be echoed: the answer then has the usual delimiters, version 2.5.1 and an empty MSA-2.
///
/// `control_id` is the identifier of the answer; each must be new, and the second of two has "-2" at its end. `now` is
/// the local time of the receiver.
pub fn acknowledge(
    message: &[u8],
    reply: &Reply,
    manner: Manner,
    control_id: &str,
    now: DateTime,
) -> Vec<Vec<u8>> {
    let header = Header::find(message);
    let is_good = matches!(reply, Reply::Accepted);
    let (accept, application) = match &header {
        Some(header) if manner == Manner::AsAsked => {
            let (accept, application) = (header.first(15), header.first(16));
            if accept.is_empty() && application.is_empty() {
                (false, true)
            } else {
                (is_asked_for(accept, is_good), is_asked_for(application, is_good))
            }
        }
        _ => (false, true),
    };
    let mut answers = Vec::new();
    if accept {
        answers.push(answer(header.as_ref(), reply, b'C', control_id, now));
    }
    if application {
        let control_id = if accept { format!("{control_id}-2") } else { control_id.to_owned() };
        answers.push(answer(header.as_ref(), reply, b'A', &control_id, now));
    }
    answers
}

/// HL7 table 0155: an empty condition beside one that is stated asks for nothing; an unknown one asks for everything.
fn is_asked_for(condition: &[u8], is_good: bool) -> bool {
    match condition {
        b"" | b"NE" => false,
        b"ER" => !is_good,
        b"SU" => is_good,
        _ => true,
    }
}

/// One acknowledgement; `mode` is the first letter of MSA-1.
fn answer(header: Option<&Header<'_>>, reply: &Reply, mode: u8, control_id: &str, now: DateTime) -> Vec<u8> {
    let field = |number: usize| header.map(|header| header.field(number)).unwrap_or_default();
    let encoding = if header.is_some() { field(2) } else { b"^~\\&" };
    let writer = Writer::new(header.map_or(b'|', |header| header.separator), encoding, field(18));
    let version = header.map(|header| header.first(12)).filter(|version| !version.is_empty());
    let version = version.unwrap_or(b"2.5.1");
    let event = header.map(|header| header.component(9, 2)).unwrap_or_default();
    let (letter, problem) = match reply {
        Reply::Accepted => (b'A', None),
        Reply::Error(problem) => (b'E', Some(problem)),
        Reply::Rejected(problem) => (b'R', Some(problem)),
    };
    let made = now.strftime("%Y%m%d%H%M%S").to_string();
    let kind = writer.message_type(event, version_number(version));
    let processing = if field(11).is_empty() { b"P" } else { field(11) };
    let control = writer.text(control_id, 199);
    // MSH-1 is the separator itself, so the second entry here is MSH-2.
    let mut segments: Vec<Vec<Vec<u8>>> = vec![vec![
        b"MSH".to_vec(),
        encoding.to_vec(),
        field(5).to_vec(),
        field(6).to_vec(),
        field(3).to_vec(),
        field(4).to_vec(),
        made.into_bytes(),
        Vec::new(),
        kind,
        control,
        processing.to_vec(),
        if field(12).is_empty() { version.to_vec() } else { field(12).to_vec() },
        Vec::new(),
        Vec::new(),
        Vec::new(),
        Vec::new(),
        Vec::new(),
        field(18).to_vec(),
    ]];
    let mut acknowledged = vec![b"MSA".to_vec(), vec![mode, letter], field(10).to_vec()];
    let old_form = version_number(version) < [2, 5, 0];
    if let Some(problem) = problem.filter(|_| old_form) {
        acknowledged.push(writer.text(&problem.text, 80));
    }
    segments.push(acknowledged);
    if let Some(problem) = problem {
        segments.push(if old_form { writer.old_error(problem) } else { writer.error(problem) });
    }
    let mut bytes = Vec::new();
    for segment in segments {
        let n_filled = segment.iter().rposition(|field| !field.is_empty()).map_or(0, |last| last + 1);
        bytes.extend(segment[..n_filled].join(&writer.separator));
        bytes.push(b'\r');
    }
    bytes
}

/// "2.5.1" as its numbers; what cannot be read counts as the newest.
fn version_number(version: &[u8]) -> [u32; 3] {
    let text = String::from_utf8_lossy(version);
    let mut parts = text.trim().split('.').map(|part| part.parse::<u32>().ok());
    match [parts.next().flatten(), parts.next().flatten()] {
        [Some(major), Some(minor)] => [major, minor, parts.next().flatten().unwrap_or_default()],
        _ => [u32::MAX; 3],
    }
}

/// Writes values with the delimiters of the message that is answered.
struct Writer {
    separator: u8,
    component: u8,
    repetition: Option<u8>,
    escape: Option<u8>,
    subcomponent: Option<u8>,
    is_utf8: bool,
}

impl Writer {
    fn new(separator: u8, encoding: &[u8], character_set: &[u8]) -> Self {
        let at = |place: usize| encoding.get(place).copied();
        Self {
            separator,
            component: at(0).unwrap_or(b'^'),
            repetition: at(1),
            escape: at(2),
            subcomponent: at(3),
            is_utf8: character_set.starts_with(b"UNICODE UTF-8") || character_set.starts_with(b"UTF-8"),
        }
    }

    /// MSH-9: ACK, with the event from version 2.3 and the structure from 2.3.1 on.
    fn message_type(&self, event: &[u8], version: [u32; 3]) -> Vec<u8> {
        let mut parts: Vec<&[u8]> = vec![b"ACK"];
        if version >= [2, 3, 0] && !event.is_empty() {
            parts.push(event);
            if version >= [2, 3, 1] {
                parts.push(b"ACK");
            }
        }
        parts.join(&self.component)
    }

    /// ERR from version 2.5 on: place, error of table 0357, severity, and words for a person.
    fn error(&self, problem: &Problem) -> Vec<Vec<u8>> {
        let (code, words) = problem.code.entry();
        let mut location: Vec<Vec<u8>> = Vec::new();
        if let Some(segment) = &problem.segment {
            location.push(self.text(segment, 3));
            if let Some(field) = problem.field {
                location.extend([b"1".to_vec(), field.to_string().into_bytes()]);
            }
        }
        let coded = [code.as_bytes(), words.as_bytes(), b"HL70357"].join(&self.component);
        vec![
            b"ERR".to_vec(),
            Vec::new(),
            location.join(&self.component),
            coded,
            b"E".to_vec(),
            Vec::new(),
            Vec::new(),
            Vec::new(),
            self.text(&problem.text, 250),
        ]
    }

    /// ERR up to version 2.4: segment, its turn, field and error in one field.
    fn old_error(&self, problem: &Problem) -> Vec<Vec<u8>> {
        let (code, words) = problem.code.entry();
        let coded = match self.subcomponent {
            Some(subcomponent) => [code.as_bytes(), words.as_bytes(), b"HL70357"].join(&subcomponent),
            None => code.as_bytes().to_vec(),
        };
        let segment = problem.segment.as_deref().map(|segment| self.text(segment, 3)).unwrap_or_default();
        let turn = if problem.field.is_some() { b"1".to_vec() } else { Vec::new() };
        let field = problem.field.map(|field| field.to_string().into_bytes()).unwrap_or_default();
        vec![b"ERR".to_vec(), [segment, turn, field, coded].join(&self.component)]
    }

    /// A text of ours, delimiters escaped, line ends made blanks, cut to a length in characters before escaping.
    fn text(&self, text: &str, longest: usize) -> Vec<u8> {
        let mut out = Vec::with_capacity(text.len());
        let mut utf8 = [0; 4];
        for character in text.chars().take(longest) {
            let Ok(byte) = u8::try_from(character) else {
                self.other(character.encode_utf8(&mut utf8), &mut out);
                continue;
            };
            let known = |delimiter: Option<u8>| delimiter == Some(byte);
            let escaped = match byte {
                _ if byte == self.separator => Some(b'F'),
                _ if byte == self.component => Some(b'S'),
                _ if known(self.subcomponent) => Some(b'T'),
                _ if known(self.repetition) => Some(b'R'),
                _ if known(self.escape) => Some(b'E'),
                _ => None,
            };
            match (escaped, self.escape) {
                (Some(code), Some(escape)) => out.extend([escape, code, escape]),
                (Some(_), None) => out.push(b'?'),
                (None, _) if byte.is_ascii_control() => out.push(b' '),
                (None, _) if byte.is_ascii() => out.push(byte),
                (None, _) => self.other(character.encode_utf8(&mut utf8), &mut out),
            }
        }
        out
    }

    /// A character beyond ASCII is written only where the message says it is UTF-8.
    fn other(&self, character: &str, out: &mut Vec<u8>) {
        if self.is_utf8 {
            out.extend_from_slice(character.as_bytes());
        } else {
            out.push(b'?');
        }
    }
}

/// By what a message is known again when it is sent twice.
///
/// Two sendings are the same message when all of it is equal. Senders use a control identifier again for another
/// message, so the identifier alone does not tell; it is given to find the message in a log.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct MessageIdentity {
    /// Sending application, MSH-3.
    pub application: String,
    /// Sending facility, MSH-4.
    pub facility: String,
    /// Control identifier, MSH-10.
    pub control_id: String,
    /// Keyed hash of the whole message as 64 hexadecimal digits, line ends apart. It is keyed because a message holds
    /// a patient identifier, which could be found by trying all numbers against a plain digest.
    pub digest: String,
}

/// The identity of a message. What cannot be read of its header is empty; the digest covers every byte but line ends.
pub fn identity(message: &[u8], key: &PatientHashKey) -> MessageIdentity {
    let header = Header::find(message);
    let field = |number: usize| {
        let bytes = header.as_ref().map(|header| header.field(number)).unwrap_or_default();
        String::from_utf8_lossy(bytes.get(..bytes.len().min(200)).unwrap_or_default()).into_owned()
    };
    let lines = message.split(|byte| matches!(byte, b'\r' | b'\n')).filter(|line| !line.is_empty());
    MessageIdentity {
        application: field(3),
        facility: field(4),
        control_id: field(10),
        digest: key.digest_of_lines(lines),
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    const ORIGINAL: &[u8] =
        b"MSH|^~\\&#|LAB^2.16^ISO|NORTH|WARD|SOUTH|20260302||ORU^R01^ORU_R01|C-17|T|2.5.1\rPID|1||77\r";

    fn one(message: &[u8], reply: &Reply) -> String {
        let now = date(2026, 3, 2).at(8, 5, 9, 0);
        let mut answers = acknowledge(message, reply, Manner::AsAsked, "W1", now);
        assert_eq!(answers.len(), 1);
        String::from_utf8(answers.remove(0)).unwrap()
    }

    fn problem() -> Problem {
        Problem {
            code: ErrorCode::DataType,
            segment: Some("OBR".to_owned()),
            field: Some(7),
            text: "found \"5^6|7\"; expected a time".to_owned(),
        }
    }

    /// HL7 v2.5.1, sections 2.15.9 (MSH), 2.15.8 (MSA) and 2.15.5 (ERR), read field by field.
    #[test]
    fn an_answer_mirrors_its_message() {
        let accepted = one(ORIGINAL, &Reply::Accepted);
        let msh = "MSH|^~\\&#|WARD|SOUTH|LAB^2.16^ISO|NORTH|20260302080509||ACK^R01^ACK|W1|T|2.5.1\r";
        assert_eq!(accepted, format!("{msh}MSA|AA|C-17\r"));
        let refused = one(ORIGINAL, &Reply::Error(problem()));
        let err = "ERR||OBR^1^7|102^Data type error^HL70357|E||||found \"5\\S\\6\\F\\7\"; expected a time\r";
        assert_eq!(refused, format!("{msh}MSA|AE|C-17\r{err}"));
        let rejected =
            one(ORIGINAL, &Reply::Rejected(Problem::new(ErrorCode::UnsupportedMessageType, "an order")));
        let err = "ERR|||200^Unsupported message type^HL70357|E||||an order\r";
        assert_eq!(rejected, format!("{msh}MSA|AR|C-17\r{err}"));
    }

    #[test]
    fn versions_before_2_5_have_the_older_error_segment() {
        let old = b"MSH|^~\\&|LAB|||ICU|20260302||ORU^R01|9|P|2.3\r";
        assert_eq!(
            one(old, &Reply::Error(problem())),
            "MSH|^~\\&||ICU|LAB||20260302080509||ACK^R01|W1|P|2.3\r\
             MSA|AE|9|found \"5\\S\\6\\F\\7\"; expected a time\r\
             ERR|OBR^1^7^102&Data type error&HL70357\r"
        );
    }

    #[test]
    fn other_delimiters_and_the_character_set_are_kept() {
        let other = "MSH$%*!+$LAB$$$ICU$20260302$$ORU%R01$9$P$2.6$$$$$$UNICODE UTF-8\r".as_bytes();
        let reply = Reply::Error(Problem::new(ErrorCode::TableValue, "5$ für 10%\r\n"));
        assert_eq!(
            one(other, &reply),
            "MSH$%*!+$$ICU$LAB$$20260302080509$$ACK%R01%ACK$W1$P$2.6$$$$$$UNICODE UTF-8\r\
             MSA$AE$9\rERR$$$103%Table value not found%HL70357$E$$$$5!F! für 10!S!  \r"
        );
        let ascii = one(ORIGINAL, &Reply::Error(Problem::new(ErrorCode::TableValue, "für")));
        assert!(ascii.ends_with("f?r\r"), "{ascii}");
    }

    /// HL7 v2.5.1, section 2.9.3 and table 0155.
    #[test]
    fn enhanced_mode_gives_what_is_asked_for() {
        let error = Reply::Error(problem());
        let codes = |asked: &str, manner: Manner, reply: &Reply| -> Vec<String> {
            let message = format!("MSH|^~\\&|LAB|||ICU|20260302||ORU^R01|9|P|2.5.1|||{asked}\r");
            let now = date(2026, 3, 2).at(8, 0, 0, 0);
            let answers = acknowledge(message.as_bytes(), reply, manner, "W1", now);
            let texts = answers.into_iter().map(|answer| String::from_utf8(answer).unwrap());
            texts.map(|text| text.split("MSA|").nth(1).unwrap()[..2].to_owned()).collect()
        };
        for (asked, good, bad) in [
            ("|", vec!["AA"], vec!["AE"]),
            ("AL|NE", vec!["CA"], vec!["CE"]),
            ("AL|AL", vec!["CA", "AA"], vec!["CE", "AE"]),
            ("NE|AL", vec!["AA"], vec!["AE"]),
            ("|AL", vec!["AA"], vec!["AE"]),
            ("ER|NE", vec![], vec!["CE"]),
            ("NE|SU", vec!["AA"], vec![]),
            ("NE|NE", vec![], vec![]),
        ] {
            assert_eq!(codes(asked, Manner::AsAsked, &Reply::Accepted), good, "{asked}");
            assert_eq!(codes(asked, Manner::AsAsked, &error), bad, "{asked}");
            assert_eq!(codes(asked, Manner::Always, &error), ["AE"], "{asked}");
        }
    }

    #[test]
    fn a_message_that_cannot_be_read_is_still_answered() {
        let reply = Reply::Rejected(Problem::new(ErrorCode::SegmentSequence, "no message header (MSH)"));
        for message in [b"quux".as_slice(), b"", b"MSH", b"MSH|"] {
            let text = one(message, &reply);
            assert!(text.starts_with("MSH|^~\\&|||||20260302080509||ACK|W1|P|2.5.1\rMSA|AR\rERR|"), "{text}");
        }
    }

    #[test]
    fn a_message_is_known_again_and_another_is_not() {
        let key = PatientHashKey::new(b"a key that is used by tests only").unwrap();
        let known = identity(ORIGINAL, &key);
        assert_eq!((known.application.as_str(), known.facility.as_str()), ("LAB^2.16^ISO", "NORTH"));
        assert_eq!(known.control_id, "C-17");
        let with_newlines = String::from_utf8_lossy(ORIGINAL).replace('\r', "\r\n");
        assert_eq!(identity(with_newlines.as_bytes(), &key), known);
        let changed = String::from_utf8_lossy(ORIGINAL).replace("|77", "|78");
        assert_ne!(identity(changed.as_bytes(), &key).digest, known.digest);
        let moved = String::from_utf8_lossy(ORIGINAL).replace("|1||77", "|1|\r|77");
        assert_ne!(identity(moved.as_bytes(), &key).digest, known.digest);
        let other_key = PatientHashKey::new(b"another key, used by tests only").unwrap();
        assert_ne!(identity(ORIGINAL, &other_key).digest, known.digest);
    }
}
