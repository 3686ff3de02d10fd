//! Messages into the book, one by one as they come and many at each commit.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use book::{BookError, KeptMessage, MessageFate, NewMessage, Store, TakenInCounts};
use culture::{PatientKey, SetId};
use exchange::laboratory::acknowledge::{ErrorCode, Problem, Reply, identity};
use exchange::laboratory::{Import, InputFile, OrderNumber, Unread};
use jiff::Timestamp;

use crate::intake::{Commit, Door, DoorError, Moment};
use crate::numbers::Arriving;
use crate::seal::SealError;

/// A message that has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arrival {
    /// Its bytes, without those of the frame.
    pub bytes: Vec<u8>,
    /// Where it came from, such as an address or the name of a file; never anything about a patient.
    pub source: String,
    /// What was wrong with the way it came, such as an end that never came. It is then kept aside unread.
    pub fault: Option<Problem>,
}

/// What became of a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// Its sets are in the book, and the message is kept with them.
    TakenIn,
    /// The very same message was taken in before; nothing was added.
    TakenInBefore,
    /// It can be read and holds no blood culture; nothing was stored.
    NothingForUs,
    /// It cannot be taken in as it is, and is kept for a person to look at.
    KeptAside(Problem),
    /// It is not a message of results; nothing was stored.
    NotOurs(Problem),
    /// The book could not be written; nothing was stored, and the sender is to send it again.
    NotStored(Problem),
}

impl Fate {
    /// How the sender is answered.
    pub fn reply(&self) -> Reply {
        match self {
            Fate::TakenIn | Fate::TakenInBefore | Fate::NothingForUs => Reply::Accepted,
            Fate::KeptAside(problem) => Reply::Error(problem.clone()),
            Fate::NotOurs(problem) | Fate::NotStored(problem) => Reply::Rejected(problem.clone()),
        }
    }
}

/// A message that waits for a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptAside {
    /// Its number among the messages that are kept.
    pub number: u64,
    /// When it first came.
    pub received_at: Timestamp,
    /// Where it came from.
    pub source: String,
    /// How often it has come.
    pub times_received: u64,
    /// Why it waits, in words that name no patient.
    pub reason: String,
}

/// What the reader says of messages of other kinds.
const NOT_RESULTS: &str = "not a message of results (ORU)";

/// A message on its way through one batch.
struct OnItsWay {
    place: usize,
    identity: String,
    /// Its number, where it has been kept before.
    number: Option<u64>,
    import: Import,
}

/// Why a batch cannot be taken in as one.
enum Stopped {
    /// One of its messages does not go with the others; alone it can be named.
    OneByOne,
    /// The only message of the batch cannot be taken in.
    Alone(Problem),
    /// The book, or the seal, said no.
    Door(DoorError),
}

impl From<DoorError> for Stopped {
    fn from(error: DoorError) -> Self {
        Stopped::Door(error)
    }
}

impl From<BookError> for Stopped {
    fn from(error: BookError) -> Self {
        Stopped::Door(error.into())
    }
}

impl From<SealError> for Stopped {
    fn from(error: SealError) -> Self {
        Stopped::Door(error.into())
    }
}

impl<S: Store> Door<S> {
    /// Takes messages in with one commit and says what became of each, in the order given.
    ///
    /// A set is put together from every message that speaks of it, those of earlier days included, so that one that comes
    /// in parts is the same as if all parts had come in one file. When this returns, every message whose fate is
    /// [`Fate::TakenIn`] or [`Fate::KeptAside`] is on the disk.
    pub fn take_in_messages(
        &mut self,
        arrivals: &[Arrival],
        now: &Moment,
        next: &dyn Fn() -> Moment,
    ) -> Vec<Fate> {
        match self.batch(arrivals, now) {
            Ok(fates) => fates,
            Err(Stopped::OneByOne) => arrivals
                .iter()
                .flat_map(|arrival| self.take_in_messages(std::slice::from_ref(arrival), &next(), next))
                .collect(),
            Err(Stopped::Alone(problem)) => {
                let arrivals: Vec<Arrival> = arrivals
                    .iter()
                    .map(|arrival| Arrival { fault: Some(problem.clone()), ..arrival.clone() })
                    .collect();
                self.batch(&arrivals, now).unwrap_or_else(|stopped| not_stored(&arrivals, &stopped))
            }
            Err(stopped) => not_stored(arrivals, &stopped),
        }
    }

    fn batch(&mut self, arrivals: &[Arrival], now: &Moment) -> Result<Vec<Fate>, Stopped> {
        let mut fates: Vec<Option<Fate>> = vec![None; arrivals.len()];
        let mut first: HashMap<String, usize> = HashMap::with_capacity(arrivals.len());
        let mut again: Vec<(usize, usize)> = Vec::new();
        let mut kept: Vec<NewMessage> = Vec::new();
        let mut ways: Vec<OnItsWay> = Vec::new();
        for (place, arrival) in arrivals.iter().enumerate() {
            let identity = identity(&arrival.bytes, &self.key).digest;
            if let Some(&before) = first.get(&identity) {
                again.push((place, before));
                continue;
            }
            first.insert(identity.clone(), place);
            let known = self.store.message(&identity)?;
            if known.as_ref().is_some_and(|known| known.aside_because.is_none()) {
                fates[place] = Some(Fate::TakenInBefore);
                continue;
            }
            match self.look_at(arrival, now) {
                Looked::Good(import) => {
                    let number = known.map(|known| known.number);
                    ways.push(OnItsWay { place, identity, number, import });
                }
                Looked::Nothing => {
                    fates[place] = Some(Fate::NothingForUs);
                    // It waited for a person, and under the mapping of today there is nothing to wait for.
                    if known.is_some() {
                        kept.push(self.settled(arrival, identity, now)?);
                    }
                }
                Looked::NotOurs(problem) => {
                    fates[place] = Some(Fate::NotOurs(problem));
                    if known.is_some() {
                        kept.push(self.settled(arrival, identity, now)?);
                    }
                }
                Looked::Aside(problem) => {
                    kept.push(self.aside(arrival, identity, &problem, now)?);
                    fates[place] = Some(Fate::KeptAside(problem));
                }
            }
        }
        let mut ours = Vec::with_capacity(ways.len());
        let mut patients = self.store.patients_of_sets(&sets_of(&ways))?;
        for way in ways {
            if let Some(problem) = other_patient(&way.import, &mut patients) {
                kept.push(self.aside(&arrivals[way.place], way.identity, &problem, now)?);
                fates[way.place] = Some(Fate::KeptAside(problem));
                continue;
            }
            let sealed = self.seal.seal(&way.identity, &arrivals[way.place].bytes)?;
            kept.push(NewMessage {
                identity: way.identity.clone(),
                received_at: now.at,
                source: arrivals[way.place].source.clone(),
                fate: MessageFate::TakenIn { sets: keys_of(&way.import).into_iter().collect() },
                sealed,
            });
            fates[way.place] = Some(Fate::TakenIn);
            ours.push(way);
        }
        let arriving = self.put_together(&ours, arrivals, now)?;
        if !kept.is_empty() {
            let commit = (!arriving.sets.is_empty()).then(|| commit_of(&ours));
            // Refused for what one message says: alone it is kept aside with the reason, the others go in.
            self.commit(&arriving, commit.as_ref(), &kept, now).map_err(|error| match error {
                BookError::BadDraft { .. } if arrivals.len() > 1 => Stopped::OneByOne,
                BookError::BadDraft { fault, .. } => {
                    let text = format!("{}: expected {}; {}", fault.place, fault.expected, fault.what_to_do);
                    Stopped::Alone(Problem::new(ErrorCode::DataType, text))
                }
                other => Stopped::Door(other.into()),
            })?;
        }
        for (place, before) in again {
            fates[place] = match &fates[before] {
                Some(Fate::TakenIn) => Some(Fate::TakenInBefore),
                other => other.clone(),
            };
        }
        Ok(fates.into_iter().map(|fate| fate.unwrap_or(Fate::NothingForUs)).collect())
    }

    fn look_at(&self, arrival: &Arrival, now: &Moment) -> Looked {
        if let Some(problem) = &arrival.fault {
            return Looked::Aside(problem.clone());
        }
        let start = arrival.bytes.trim_ascii_start();
        if ![b"MSH", b"FHS", b"BHS"].iter().any(|header| start.starts_with(*header)) {
            return Looked::Aside(Problem::new(
                ErrorCode::SegmentSequence,
                format!(
                    "found {} bytes that do not begin with MSH; expected an HL7 v2 message; look at what the sender puts into the frame",
                    arrival.bytes.len()
                ),
            ));
        }
        let import = self.read(&[InputFile { name: "message", bytes: &arrival.bytes }], now.today);
        if let Some(unread) = import.unread.first() {
            return Looked::Aside(without_finding(unread, import.unread.len()));
        }
        if import.sets.is_empty() {
            let all_other = !import.dropped.is_empty()
                && import.dropped.iter().all(|dropped| dropped.reason == NOT_RESULTS);
            if all_other {
                let text = "found a message of another type; expected ORU^R01; send only results here";
                return Looked::NotOurs(Problem::new(ErrorCode::UnsupportedMessageType, text));
            }
            if import.counts.iter().all(|counts| counts.rows == 0) {
                let text = "found no order; expected MSH, PID and at least one OBR; look for a message that was cut off";
                return Looked::Aside(Problem::new(ErrorCode::SegmentSequence, text));
            }
            return Looked::Nothing;
        }
        Looked::Good(import)
    }

    fn aside(
        &self,
        arrival: &Arrival,
        identity: String,
        problem: &Problem,
        now: &Moment,
    ) -> Result<NewMessage, DoorError> {
        let sealed = self.seal.seal(&identity, &arrival.bytes)?;
        let fate = MessageFate::KeptAside { reason: words(problem) };
        Ok(NewMessage { identity, received_at: now.at, source: arrival.source.clone(), fate, sealed })
    }

    /// A message that was dealt with and speaks of no set.
    fn settled(&self, arrival: &Arrival, identity: String, now: &Moment) -> Result<NewMessage, DoorError> {
        let sealed = self.seal.seal(&identity, &arrival.bytes)?;
        let fate = MessageFate::TakenIn { sets: Vec::new() };
        Ok(NewMessage { identity, received_at: now.at, source: arrival.source.clone(), fate, sealed })
    }

    /// The sets the messages speak of, each from every message that speaks of it. An order that names no specimen leads
    /// by the number of the order it hangs under to the messages of that order, and these to their set.
    fn put_together(
        &self,
        ours: &[OnItsWay],
        arrivals: &[Arrival],
        now: &Moment,
    ) -> Result<Arriving, Stopped> {
        const MOST_STEPS: usize = 8;
        let mut touched: BTreeSet<SetId> = sets_of(ours);
        let mut keys: BTreeSet<SetId> = ours.iter().flat_map(|way| keys_of(&way.import)).collect();
        let mut earlier = self.store.messages_of_sets(&keys)?;
        let n_keys: usize = ours.iter().map(|way| keys_of(&way.import).len()).sum();
        if earlier.is_empty() && n_keys == keys.len() {
            let mut arriving = Arriving::default();
            for way in ours {
                let of_message = Arriving::of(&way.import);
                arriving.sets.extend(of_message.sets);
                arriving.parts.extend(of_message.parts);
            }
            return Ok(arriving);
        }
        for step in 1.. {
            let import = self.read_together(&earlier, ours, arrivals, now)?;
            let n_keys = keys.len();
            for (part, whole) in &import.parts {
                if touched.contains(part) || touched.contains(whole) {
                    touched.extend([part.clone(), whole.clone()]);
                }
            }
            keys.extend(touched.iter().cloned());
            let linked = import.orders.iter().filter(|order| touched.contains(&order.set));
            keys.extend(linked.flat_map(keys_of_order));
            if keys.len() > n_keys && step < MOST_STEPS {
                earlier = self.store.messages_of_sets(&keys)?;
                continue;
            }
            // Sets that an earlier message speaks of besides are not complete here and stay as they are.
            let Arriving { mut sets, mut parts } = Arriving::of(&import);
            sets.retain(|set| touched.contains(&set.id));
            parts.retain(|(_, whole)| touched.contains(whole));
            return Ok(Arriving { sets, parts });
        }
        Ok(Arriving::default())
    }

    /// Reads earlier messages and those that arrive as one.
    fn read_together(
        &self,
        earlier: &[KeptMessage],
        ours: &[OnItsWay],
        arrivals: &[Arrival],
        now: &Moment,
    ) -> Result<Import, Stopped> {
        // In the order in which they first came: a message kept aside before has its old place.
        let mut messages: Vec<(u64, Vec<u8>)> = Vec::with_capacity(earlier.len() + ours.len());
        for message in earlier {
            if let Some(bytes) = self.opened(message)? {
                messages.push((message.number, bytes));
            }
        }
        for way in ours {
            messages.push((way.number.unwrap_or(u64::MAX), arrivals[way.place].bytes.clone()));
        }
        messages.sort_by_key(|(number, _)| *number);
        let files: Vec<InputFile<'_>> =
            messages.iter().map(|(_, bytes)| InputFile { name: "messages of one set", bytes }).collect();
        let import = self.read(&files, now.today);
        match import.unread.first() {
            Some(_) if arrivals.len() > 1 => Err(Stopped::OneByOne),
            Some(unread) => Err(Stopped::Alone(without_finding(unread, import.unread.len()))),
            None => Ok(import),
        }
    }

    fn opened(&self, message: &KeptMessage) -> Result<Option<Vec<u8>>, DoorError> {
        let open = |sealed: &Vec<u8>| self.seal.open(&message.identity, sealed);
        message.sealed.as_ref().map(open).transpose().map_err(DoorError::from)
    }

    /// Messages that wait for a person, oldest first.
    pub fn kept_aside(&self) -> Result<Vec<KeptAside>, DoorError> {
        let waiting = self.store.messages_kept_aside()?;
        Ok(waiting
            .into_iter()
            .map(|message| KeptAside {
                number: message.number,
                received_at: message.received_at,
                source: message.source,
                times_received: message.times_received,
                reason: message.aside_because.unwrap_or_default(),
            })
            .collect())
    }

    /// The bytes of a message that waits for a person, with what they hold about the patient; `None` where no message of
    /// that number waits.
    pub fn message_kept_aside(&self, number: u64) -> Result<Option<Vec<u8>>, DoorError> {
        let waiting = self.store.messages_kept_aside()?;
        match waiting.iter().find(|message| message.number == number) {
            Some(message) => self.opened(message),
            None => Ok(None),
        }
    }

    /// Takes a message off the list of those that wait: a person has looked at it and it needs nothing more. False where
    /// no message of that number waits.
    pub fn dismiss(&mut self, number: u64, now: &Moment) -> Result<bool, DoorError> {
        let waiting = self.store.messages_kept_aside()?;
        let Some(message) = waiting.into_iter().find(|message| message.number == number) else {
            return Ok(false);
        };
        let Some(bytes) = self.opened(&message)? else { return Ok(false) };
        let arrival = Arrival { bytes, source: message.source, fault: None };
        let settled = self.settled(&arrival, message.identity, now)?;
        self.commit(&Arriving::default(), None, &[settled], now)?;
        Ok(true)
    }

    /// Tries the messages that wait for a person once more, as after a change of the mapping; gives each with its number.
    pub fn retry(&mut self, next: &dyn Fn() -> Moment) -> Result<Vec<(u64, Fate)>, DoorError> {
        let mut fates = Vec::new();
        for message in self.store.messages_kept_aside()? {
            let Some(bytes) = self.opened(&message)? else { continue };
            let arrival = Arrival { bytes, source: message.source.clone(), fault: None };
            for fate in self.take_in_messages(&[arrival], &next(), next) {
                fates.push((message.number, fate));
            }
        }
        Ok(fates)
    }
}

enum Looked {
    Good(Import),
    Nothing,
    NotOurs(Problem),
    Aside(Problem),
}

/// The numbers the messages speak of, halves of joined sets by themselves.
fn sets_of(ways: &[OnItsWay]) -> BTreeSet<SetId> {
    ways.iter().flat_map(|way| way.import.unjoined()).map(|set| set.id).collect()
}

/// By what a message is found again: the numbers of its sets, and of orders that lead to them.
fn keys_of(import: &Import) -> BTreeSet<SetId> {
    let mut keys: BTreeSet<SetId> = import.unjoined().into_iter().map(|set| set.id).collect();
    keys.extend(import.parts.iter().map(|(part, _)| part.clone()));
    keys.extend(import.orders.iter().flat_map(keys_of_order));
    keys
}

/// An order number is no specimen number, and is marked. Where a laboratory uses one number for both, the order above is
/// found by its specimen number.
fn keys_of_order(order: &OrderNumber) -> impl Iterator<Item = SetId> {
    let marked = SetId(format!("order\u{1f}{}", order.number));
    [marked].into_iter().chain(order.is_above.then(|| SetId(order.number.clone())))
}

fn commit_of(ours: &[OnItsWay]) -> Commit<'static> {
    let identities: Vec<&str> = ours.iter().map(|way| way.identity.as_str()).collect();
    Commit {
        name: "HL7 messages",
        sha256: book::sha256_hex(identities.join("\n").as_bytes()),
        counts: TakenInCounts {
            rows: ours.iter().flat_map(|way| &way.import.counts).map(|counts| counts.rows).sum(),
            rows_unread: 0,
            sets: sets_of(ours).len() as u64,
        },
        entry_when_unchanged: false,
    }
}

/// The fault of a specimen number that is known under another patient. Otherwise its sets are noted as the patient's.
fn other_patient(import: &Import, patients: &mut BTreeMap<SetId, PatientKey>) -> Option<Problem> {
    let sets = import.unjoined();
    let clash = sets.iter().find(|set| patients.get(&set.id).is_some_and(|patient| *patient != set.patient));
    if let Some(set) = clash {
        let text = format!(
            "found specimen number {}, which the book has under another patient; expected one patient for each specimen number; ask the laboratory whose it is",
            set.id
        );
        return Some(Problem::new(ErrorCode::TableValue, text));
    }
    patients.extend(sets.into_iter().map(|set| (set.id, set.patient)));
    None
}

/// A fault of the reader without what was found: in a message that is cut off or shifted, that may be a name.
fn without_finding(unread: &Unread, n_faults: usize) -> Problem {
    let line = unread.line.map(|line| format!("segment {line}: ")).unwrap_or_default();
    let more = if n_faults > 1 { format!(" ({} faults more)", n_faults - 1) } else { String::new() };
    let text = format!("{line}expected {}; {}{more}", unread.expected, unread.to_do);
    Problem { text, ..Problem::of(unread) }
}

/// A problem as it is kept and printed.
pub(crate) fn words(problem: &Problem) -> String {
    match (&problem.segment, problem.field) {
        (Some(segment), Some(field)) => format!("{segment}-{field}: {}", problem.text),
        _ => problem.text.clone(),
    }
}

fn not_stored(arrivals: &[Arrival], stopped: &Stopped) -> Vec<Fate> {
    let why = match stopped {
        Stopped::Door(DoorError::Book(error)) => {
            let fault = error.fault();
            // The place may be a path of this machine, which is nothing to the sender.
            format!("{}; {}", fault.found, fault.what_to_do)
        }
        Stopped::Door(error) => error.to_string(),
        Stopped::OneByOne | Stopped::Alone(_) => "the message could not be kept aside".to_owned(),
    };
    let problem = Problem::new(ErrorCode::Internal, format!("not stored, send it again later: {why}"));
    vec![Fate::NotStored(problem); arrivals.len()]
}
