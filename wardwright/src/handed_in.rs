//! A transcript, or the proposals another run printed, handed in to be decided on.

use ::breakdown::{Breakdown, ItemId};
use ::teachback::{HeardAs, Mark, OrderError, Proposal, Proposed, ProposedItem, Settings, Unmatched, hear};
use exchange::transcript;
use serde::Deserialize;
use site::{HandedIn, HeardFrom, Refusal};

/// Longest question taken over from printed proposals, in characters.
const LONGEST_QUESTION: usize = 400;

/// Name and version of this program, as the book keeps it beside what it proposed.
pub fn program() -> String {
    format!("wardwright {}", env!("CARGO_PKG_VERSION"))
}

/// Reads what was handed in and proposes a mark for every item.
pub fn hand_in(breakdown: &Breakdown, bytes: &[u8]) -> HandedIn {
    if bytes.len() > transcript::LARGEST_TRANSCRIPT_BYTES {
        return HandedIn::Unreadable(faults(&transcript::read(bytes).faults));
    }
    let text = text_of(bytes);
    if text.trim_start().starts_with('{') {
        return match proposals(breakdown, &text) {
            Ok(heard) => HandedIn::Heard(Box::new(heard)),
            Err(refusal) => HandedIn::Unreadable(vec![refusal]),
        };
    }
    let reading = transcript::read(text.as_bytes());
    if reading.transcript.lines.is_empty() {
        return HandedIn::Unreadable(faults(&reading.faults));
    }
    let settings = Settings::default();
    let hearing = hear(breakdown, &reading.transcript, &settings);
    let mut proposed = Proposed::of(&hearing, settings.listen_below, program());
    proposed.transcript_sha256 = Some(digest(&text));
    let lines = reading.transcript.lines;
    HandedIn::Heard(Box::new(HeardFrom {
        before: before(&hearing.proposals),
        text,
        proposed,
        lines,
        unmatched: hearing.unmatched,
        pace: hearing.pace,
        same_job: hearing.same_job,
        same_job_because: hearing.same_job_because,
        faults: faults(&reading.faults),
    }))
}

/// SHA-256 of a transcript's text. Line ends are one sign, so that a file has the same digest whether it was uploaded,
/// pasted or read from the disk.
pub fn digest(text: &str) -> String {
    ::book::sha256_hex(text.as_bytes())
}

/// Bytes as text with line ends as one sign and no empty end.
pub fn text_of(bytes: &[u8]) -> String {
    let text = ::breakdown::decode(bytes).text;
    text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n").trim_end().to_owned()
}

fn faults(found: &[transcript::TranscriptFault]) -> Vec<Refusal> {
    let place = |line| match line {
        0 => "the transcript".to_owned(),
        line => format!("line {line} of the transcript"),
    };
    found
        .iter()
        .map(|fault| Refusal::new(place(fault.line), &*fault.found, fault.expected, fault.to_do))
        .collect()
}

/// What was asked just before each item that was prompted or led.
fn before(proposals: &[Proposal]) -> Vec<(ItemId, String)> {
    proposals.iter().filter_map(|each| Some((each.item, each.asked.clone()?))).collect()
}

/// What `wardwright teachback --json` prints, as far as it is needed here; docs/json.md describes it.
#[derive(Debug, Deserialize)]
struct Printed {
    schema: u32,
    code: String,
    version: u32,
    program: Option<String>,
    transcript_sha256: Option<String>,
    items: Vec<PrintedItem>,
    steps_named: Option<u32>,
    order_errors: Vec<PrintedOrder>,
    unmatched: Vec<PrintedTalk>,
    same_job: bool,
    same_job_because: String,
}

#[derive(Debug, Deserialize)]
struct PrintedItem {
    item: String,
    mark: String,
    time_s: Option<f64>,
    heard: Option<String>,
    /// Not in what was printed before it was shown.
    #[serde(default)]
    asked: Option<String>,
    expected_quantity: Option<String>,
    heard_quantity: Option<String>,
    confidence: f64,
    heard_as: String,
    listen: bool,
}

#[derive(Debug, Deserialize)]
struct PrintedOrder {
    first: String,
    then: String,
}

#[derive(Debug, Deserialize)]
struct PrintedTalk {
    time_s: Option<f64>,
    text: String,
}

fn proposals(breakdown: &Breakdown, text: &str) -> Result<HeardFrom, Refusal> {
    let printed: Printed = serde_json::from_str(text).map_err(|error| {
        let place = format!("line {}, column {} of the proposals", error.line(), error.column());
        fault(&place, &error.to_string(), "the object that `wardwright teachback --json` prints")
    })?;
    if printed.schema != 1 {
        let found = format!("schema {}", printed.schema);
        return Err(fault("the proposals", &found, "schema 1"));
    }
    if printed.code != breakdown.code.0 || printed.version != breakdown.version.0 {
        return Err(Refusal::new(
            "the proposals",
            format!("proposals for \u{201c}{}\u{201d}, version {}", printed.code, printed.version),
            format!("\u{201c}{}\u{201d}, version {}", breakdown.code, breakdown.version),
            "choose the job and version they were made for, or hand in the transcript itself",
        ));
    }
    let settings = Settings::default();
    let (mut items, mut before) = (Vec::new(), Vec::new());
    for known in breakdown.items() {
        let of_item: Vec<&PrintedItem> =
            printed.items.iter().filter(|each| ItemId::parse(&each.item) == Some(known.id)).collect();
        let [one] = of_item.as_slice() else {
            let found = format!("{} proposals for item {}", of_item.len(), known.id);
            return Err(fault("the proposals", &found, "one proposal for every item of the breakdown"));
        };
        items.push(item(known.id, one, &settings)?);
        before.extend(
            one.asked.as_ref().map(|asked| (known.id, asked.chars().take(LONGEST_QUESTION).collect())),
        );
    }
    if printed.items.len() > items.len() {
        let found = format!("{} proposals for {} items", printed.items.len(), items.len());
        return Err(fault("the proposals", &found, "one proposal for every item of the breakdown"));
    }
    let place = |text: &str| {
        let known = ItemId::parse(text).filter(|item| items.iter().any(|each| each.item == *item));
        known.ok_or_else(|| fault("order_errors", &format!("{text:?}"), "items of the breakdown"))
    };
    let mut order_errors = Vec::new();
    for pair in &printed.order_errors {
        order_errors.push(OrderError { first: place(&pair.first)?, then: place(&pair.then)? });
    }
    let is_digest = |text: &String| text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit());
    let unmatched = printed.unmatched.into_iter();
    Ok(HeardFrom {
        proposed: Proposed {
            program: printed.program.unwrap_or_else(|| "a program that did not give its version".to_owned()),
            transcript_sha256: printed.transcript_sha256.filter(is_digest),
            transcript: None,
            listen_below: settings.listen_below,
            items,
            steps_named: printed.steps_named,
            order_errors,
        },
        text: text.to_owned(),
        lines: Vec::new(),
        before,
        unmatched: unmatched.map(|talk| Unmatched { at_s: talk.time_s, text: talk.text }).collect(),
        pace: Vec::new(),
        same_job: printed.same_job,
        same_job_because: printed.same_job_because,
        faults: Vec::new(),
    })
}

fn item(id: ItemId, printed: &PrintedItem, settings: &Settings) -> Result<ProposedItem, Refusal> {
    let place = format!("item {id} of the proposals");
    let mark = Mark::from_name(&printed.mark).ok_or_else(|| {
        let names = Mark::ALL.map(Mark::name).join(", ");
        fault(&place, &format!("the mark {:?}", printed.mark), &format!("one of: {names}"))
    })?;
    let heard_as = HeardAs::from_name(&printed.heard_as).ok_or_else(|| {
        let names = HeardAs::ALL.map(HeardAs::name).join(", ");
        fault(&place, &format!("heard_as {:?}", printed.heard_as), &format!("one of: {names}"))
    })?;
    if !(0.0..=1.0).contains(&printed.confidence) {
        return Err(fault(&place, &format!("confidence {}", printed.confidence), "a confidence of 0 to 1"));
    }
    if printed.time_s.is_some_and(|at| !(0.0..=1e6).contains(&at)) {
        return Err(fault(&place, &format!("time_s {:?}", printed.time_s), "seconds from the start"));
    }
    let listen = printed.listen || printed.confidence < settings.listen_below;
    let is_heard = heard_as != HeardAs::NotHeard || listen;
    Ok(ProposedItem {
        item: id,
        mark,
        heard_as,
        at_s: printed.time_s.filter(|_| is_heard),
        heard: printed.heard.clone().filter(|_| is_heard),
        expected_quantity: printed.expected_quantity.clone(),
        heard_quantity: printed.heard_quantity.clone(),
        confidence: printed.confidence,
        listen,
    })
}

fn fault(place: &str, found: &str, expected: &str) -> Refusal {
    Refusal::new(
        place,
        found,
        expected,
        "print them anew with `wardwright teachback FILE --json`, or hand in the transcript",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    const VEIN: &str = include_str!("../../breakdowns/vein.txt");
    const SAID: &str = include_str!("../../breakdowns/examples/teach-back-vein.vtt");

    fn vein() -> Breakdown {
        ::breakdown::parse(VEIN).sound().unwrap().clone()
    }

    fn heard(bytes: &[u8]) -> HeardFrom {
        match hand_in(&vein(), bytes) {
            HandedIn::Heard(heard) => *heard,
            HandedIn::Unreadable(refusals) => panic!("{refusals:?}"),
        }
    }

    fn refused(text: &str) -> String {
        match hand_in(&vein(), text.as_bytes()) {
            HandedIn::Unreadable(refusals) => {
                refusals.iter().map(|each| format!("{}: {}; ", each.place, each.found)).collect()
            }
            HandedIn::Heard(_) => panic!("it was read"),
        }
    }

    #[test]
    fn line_ends_and_encoding_change_nothing() {
        let plain = heard(SAID.as_bytes());
        assert_eq!(plain.proposed.items.len(), vein().items().len());
        assert_eq!(plain, heard(SAID.replace('\n', "\r\n").as_bytes()));
        let wide: Vec<u8> =
            [0xff, 0xfe].into_iter().chain(SAID.encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(plain.proposed, heard(&wide).proposed);
        // SHA-256 of "abc": FIPS 180-4, as in its published example.
        assert_eq!(digest("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }

    #[test]
    fn what_was_asked_stands_beside_what_was_said() {
        let said = "[00:00] Trainer: and how long does the skin dry\n[00:04] Learner: it dries by itself for thirty seconds\n\
                    [00:09] Trainer: you take two sets from two sites, right?\n[00:12] Learner: yes\n\
                    [00:15] Learner: label both bottles at the bedside after filling\n";
        let heard = heard(said.as_bytes());
        let asked = |label: &str| {
            let job = vein();
            let item = job.items().into_iter().find(|item| {
                !item.id.reason && item.key_point.is_some_and(|point| point.label.as_deref() == Some(label))
            });
            let id = item.unwrap().id;
            heard.before.iter().find(|(item, _)| *item == id).map(|(_, words)| words.as_str())
        };
        assert_eq!(asked("dry"), Some("and how long does the skin dry"));
        assert_eq!(asked("two-sets"), Some("you take two sets from two sites, right?"));
        assert_eq!(asked("label"), None);
    }

    #[test]
    fn what_is_no_transcript_and_no_proposals_is_refused_by_place() {
        assert!(refused("").contains("transcript"), "{}", refused(""));
        assert!(refused("{ \"schema\": 1 ").starts_with("line 1, column"), "{}", refused("{ \"schema\": 1 "));
        assert!(refused("{}").contains("missing field"), "{}", refused("{}"));
        assert!(refused(&"said ".repeat(2_000_000)).contains("bytes"));
    }
}
