//! A breakdown from the text of its file. Broken input gives a breakdown and its faults, never one or the other.

use jiff::civil::Date;
use quantity::{ReadError, Stated};

use crate::check;
use crate::decode::{Encoding, decode};
use crate::fault::{Fault, FaultKind, Place, Severity};
use crate::keyword::Keyword;
use crate::lines::{Entry, entries, shortened};
use crate::model::{
    Breakdown, Change, ChangeKind, JobCode, KeyPoint, KeyPointKind, OrderPair, Step, Supply, Version,
};

/// Bytes beyond which a file is not read: far more than any breakdown, little enough to be read at once.
pub const LARGEST_FILE_BYTES: usize = 1_000_000;

/// What a breakdown file gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Parsed {
    /// What could be read; `None` where the file holds no step and no job name.
    pub breakdown: Option<Breakdown>,
    /// Everything found, in order of place.
    pub faults: Vec<Fault>,
    /// Encoding of the file.
    pub encoding: Encoding,
}

impl Parsed {
    /// True when nothing must be put right first.
    pub fn is_sound(&self) -> bool {
        self.breakdown.is_some() && self.n_of(Severity::Fault) == 0
    }

    /// The breakdown, only where nothing must be put right first.
    pub fn sound(&self) -> Option<&Breakdown> {
        self.breakdown.as_ref().filter(|_| self.is_sound())
    }

    /// How many findings have this severity.
    pub fn n_of(&self, severity: Severity) -> usize {
        self.faults.iter().filter(|fault| fault.severity() == severity).count()
    }
}

/// Where the parts of a breakdown stand in its file; the model itself keeps only what the trade needs.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Places {
    pub(crate) orders: Vec<Place>,
    pub(crate) synonyms: Vec<Place>,
    /// Reasons and quantities of each key point, by step and point.
    pub(crate) points: Vec<Vec<PointPlaces>>,
}

#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct PointPlaces {
    pub(crate) reasons: Vec<Place>,
    pub(crate) quantities: Vec<Place>,
}

/// Reads a breakdown file in whatever encoding it was written.
pub fn parse_bytes(bytes: &[u8]) -> Parsed {
    if bytes.len() > LARGEST_FILE_BYTES {
        let kind = FaultKind::TooLarge { bytes: bytes.len() };
        return Parsed {
            breakdown: None,
            faults: vec![Fault::new(Place::default(), kind)],
            encoding: Encoding::Utf8,
        };
    }
    let decoded = decode(bytes);
    let mut parsed = parse(&decoded.text);
    parsed.encoding = decoded.encoding;
    if decoded.assumed && parsed.breakdown.is_some() {
        let kind = FaultKind::EncodingAssumed { name: decoded.encoding.name() };
        parsed.faults.insert(0, Fault::new(Place::default(), kind));
    }
    parsed
}

/// Reads the text of a breakdown file and checks what it says.
///
/// ```
/// let parsed = breakdown::parse("job: Draw\ncode: draw\nversion: 1\nstep: Clean skin\n  key point: Rub 30 s\n");
/// let breakdown = parsed.breakdown.as_ref().expect("a job and a step were read");
/// assert_eq!(breakdown.steps[0].key_points[0].text, "Rub 30 s");
/// let names: Vec<_> = parsed.faults.iter().map(|fault| fault.name()).collect();
/// assert!(names.contains(&"no-reason"), "{names:?}");
/// ```
pub fn parse(text: &str) -> Parsed {
    let encoding = Encoding::Utf8;
    // Old editors end lines with a carriage return alone.
    let text = text.trim_start_matches('\u{feff}').replace("\r\n", "\n").replace('\r', "\n");
    let text = text.as_str();
    if let Some(place) = first_control_character(text) {
        return Parsed { breakdown: None, faults: vec![Fault::new(place, FaultKind::NotText)], encoding };
    }
    let (entries, mut faults) = entries(text);
    if entries.is_empty() && faults.is_empty() {
        return Parsed {
            breakdown: None,
            faults: vec![Fault::new(Place::line(1), FaultKind::Empty)],
            encoding,
        };
    }
    let mut reader = Reader::default();
    for entry in entries {
        reader.take(entry);
    }
    let (breakdown, places, given, more) = reader.finish();
    faults.extend(more);
    faults.extend(check::missing(&given, &breakdown));
    faults.extend(check::check_with(&breakdown, &places));
    faults.sort_by_key(|fault| fault.place);
    let anything = !breakdown.steps.is_empty() || !breakdown.job.is_empty();
    Parsed { breakdown: anything.then_some(breakdown), faults, encoding }
}

/// Control characters other than tab and line ends: the file is not text.
fn first_control_character(text: &str) -> Option<Place> {
    text.lines().zip(1..).find_map(|(line, number)| {
        let column = line
            .chars()
            .position(|letter| letter.is_control() && !matches!(letter, '\t' | '\r' | '\u{c}'))?;
        Some(Place { line: number, column: column + 1 })
    })
}

#[derive(Default)]
struct Reader {
    job: String,
    code: String,
    version: u32,
    effective: Option<Date>,
    author: Option<String>,
    approved_by: Option<String>,
    change: Option<Change>,
    cautions: Vec<String>,
    supplies: Vec<Supply>,
    steps: Vec<Step>,
    orders: Vec<OrderPair>,
    synonyms: Vec<Vec<String>>,
    places: Places,
    given: Vec<(Keyword, usize)>,
    labels: Vec<(String, usize)>,
    /// True while the last step has a key point that reasons and quantities belong to.
    in_point: bool,
    faults: Vec<Fault>,
}

impl Reader {
    fn take(&mut self, entry: Entry) {
        let Entry { keyword, ref label, ref text, place, text_place } = entry;
        if keyword.is_single() {
            let same = |known: Keyword| {
                let is_change = |keyword| {
                    matches!(keyword, Keyword::Change | Keyword::ChangeMajor | Keyword::ChangeMinor)
                };
                known == keyword || (is_change(known) && is_change(keyword))
            };
            if let Some(&(_, first_line)) = self.given.iter().find(|(known, _)| same(*known)) {
                return self.fault(place, FaultKind::Twice { keyword, first_line });
            }
            self.given.push((keyword, place.line));
        }
        if let Some((_, label_place)) = label
            && !keyword.is_point()
        {
            self.fault(*label_place, FaultKind::LabelNotHere { keyword });
        }
        if text.is_empty() {
            self.fault(text_place, FaultKind::NoText { keyword });
            // A nameless step or key point still holds what follows it.
            if keyword != Keyword::Step && !keyword.is_point() {
                return;
            }
        }
        match keyword {
            Keyword::Job => self.job.clone_from(text),
            Keyword::Code if is_name(text) => self.code.clone_from(text),
            Keyword::Code => self.fault(text_place, FaultKind::BadCode { code: text.clone() }),
            Keyword::Version => match text.parse() {
                Ok(version @ 1..=1_000_000) => self.version = version,
                _ => self.fault(text_place, FaultKind::BadVersion { text: text.clone() }),
            },
            Keyword::Effective => match text.parse() {
                // jiff also reads a date with a time behind it; a breakdown is in force from a day.
                Ok(date) if text.len() == "2026-01-31".len() => self.effective = Some(date),
                _ => self.fault(text_place, FaultKind::BadDate { text: text.clone() }),
            },
            Keyword::Author => self.author = Some(text.clone()),
            Keyword::ApprovedBy => self.approved_by = Some(text.clone()),
            Keyword::ChangeMajor => {
                self.change = Some(Change { kind: ChangeKind::Major, what: text.clone() })
            }
            Keyword::ChangeMinor => {
                self.change = Some(Change { kind: ChangeKind::Minor, what: text.clone() })
            }
            Keyword::Change => self.fault(place, FaultKind::BadChange),
            Keyword::Caution => self.cautions.push(text.clone()),
            Keyword::Supply => self.supply(text, text_place),
            Keyword::Words => self.words(text, text_place),
            Keyword::Step => {
                self.steps.push(Step { name: text.clone(), key_points: Vec::new(), line: place.line });
                self.places.points.push(Vec::new());
                self.in_point = false;
            }
            Keyword::KeyPoint | Keyword::SafetyPoint | Keyword::Knack => self.point(entry),
            Keyword::Reason | Keyword::Quantity => self.detail(&entry),
            Keyword::Order => self.order(text, text_place),
        }
    }

    fn point(&mut self, entry: Entry) {
        let Entry { keyword, label, text, place, .. } = entry;
        let kind = match keyword {
            Keyword::SafetyPoint => KeyPointKind::Safety,
            Keyword::Knack => KeyPointKind::Knack,
            _ => KeyPointKind::MakesOrBreaks,
        };
        if self.steps.is_empty() {
            self.fault(place, FaultKind::OutOfPlace { keyword, needs: Keyword::Step });
            self.steps.push(Step { name: String::new(), key_points: Vec::new(), line: place.line });
            self.places.points.push(Vec::new());
        }
        let label = label.and_then(|(label, label_place)| self.label(label, label_place));
        let line = place.line;
        let point = KeyPoint { label, kind, text, reasons: Vec::new(), quantities: Vec::new(), line };
        if let (Some(step), Some(places)) = (self.steps.last_mut(), self.places.points.last_mut()) {
            step.key_points.push(point);
            places.push(PointPlaces::default());
        }
        self.in_point = true;
    }

    fn label(&mut self, label: String, place: Place) -> Option<String> {
        if !is_name(&label) {
            self.fault(place, FaultKind::BadLabel { label });
            return None;
        }
        if let Some(&(_, first_line)) = self.labels.iter().find(|(known, _)| *known == label) {
            self.fault(place, FaultKind::LabelTwice { label, first_line });
            return None;
        }
        self.labels.push((label.clone(), place.line));
        Some(label)
    }

    /// A reason or a quantity of the key point above.
    fn detail(&mut self, entry: &Entry) {
        let Entry { keyword, text, place, text_place, .. } = entry;
        let point = self.steps.last_mut().and_then(|step| step.key_points.last_mut());
        let places = self.places.points.last_mut().and_then(|points| points.last_mut());
        let (Some(point), Some(places), true) = (point, places, self.in_point) else {
            let kind = FaultKind::OutOfPlace { keyword: *keyword, needs: Keyword::KeyPoint };
            return self.fault(*place, kind);
        };
        if *keyword == Keyword::Reason {
            point.reasons.push(text.clone());
            places.reasons.push(*text_place);
            return;
        }
        match Stated::read(text) {
            Ok(quantity) => {
                point.quantities.push(quantity);
                places.quantities.push(*text_place);
            }
            Err(error) => {
                let text = text.clone();
                let kind = match error {
                    ReadError::NoUnit { .. } => FaultKind::QuantityWithoutUnit { text },
                    ReadError::UnknownUnit { nearest: try_this, .. } => {
                        FaultKind::BadQuantity { text, why: error.to_string(), try_this }
                    }
                    _ => FaultKind::BadQuantity { text, why: error.to_string(), try_this: None },
                };
                self.fault(*text_place, kind);
            }
        }
    }

    /// "2 x winged set" or "winged set".
    fn supply(&mut self, text: &str, place: Place) {
        let counted = text.split_once(['x', 'X', '×']).and_then(|(count, name)| {
            let count = count.trim();
            let digits = !count.is_empty() && count.chars().all(|letter| letter.is_ascii_digit());
            (digits && name.starts_with(char::is_whitespace)).then_some((count, name.trim()))
        });
        let Some((digits, name)) = counted else {
            return self.supplies.push(Supply { count: None, name: text.to_owned() });
        };
        match digits.parse() {
            Ok(count @ 1..=1000) => self.supplies.push(Supply { count: Some(count), name: name.to_owned() }),
            _ => self.fault(place, FaultKind::BadCount { text: text.to_owned() }),
        }
    }

    /// "scrub = clean = prep".
    fn words(&mut self, text: &str, place: Place) {
        let group: Vec<String> = text.split('=').map(|word| word.trim().to_lowercase()).collect();
        if group.len() < 2 || group.iter().any(String::is_empty) {
            return self.fault(place, FaultKind::BadWords { text: text.to_owned() });
        }
        self.synonyms.push(group);
        self.places.synonyms.push(place);
    }

    /// "clean before dry before puncture".
    fn order(&mut self, text: &str, place: Place) {
        let labels: Vec<&str> = text.split(" before ").map(str::trim).collect();
        if labels.len() < 2 || labels.iter().any(|label| !is_name(label)) {
            return self.fault(place, FaultKind::BadOrder { text: text.to_owned() });
        }
        for pair in labels.windows(2) {
            self.orders.push(OrderPair { first: pair[0].to_owned(), then: pair[1].to_owned() });
            self.places.orders.push(place);
        }
    }

    fn fault(&mut self, place: Place, kind: FaultKind) {
        self.faults.push(Fault::new(place, kind));
    }

    fn finish(self) -> (Breakdown, Places, Vec<(Keyword, usize)>, Vec<Fault>) {
        let breakdown = Breakdown {
            job: self.job,
            code: JobCode(self.code),
            version: Version(self.version),
            effective: self.effective,
            author: self.author,
            approved_by: self.approved_by,
            change: self.change,
            cautions: self.cautions,
            supplies: self.supplies,
            steps: self.steps,
            orders: self.orders,
            synonyms: self.synonyms,
        };
        (breakdown, self.places, self.given, self.faults)
    }
}

/// Small letters, digits and hyphens, at most 40, as codes and labels are.
fn is_name(text: &str) -> bool {
    let allowed = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
    (1..=40).contains(&text.len()) && text.chars().all(allowed)
}

/// For messages that quote a line.
pub(crate) fn quoted(text: &str) -> String {
    format!("\"{}\"", shortened(text))
}
