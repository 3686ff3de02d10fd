use std::fmt;

use jiff::civil::Date;
use quantity::Stated;

/// Short name of a job, used in file names and entries: `vein`, `central-line`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct JobCode(pub String);

impl fmt::Display for JobCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Published version of a breakdown, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Version(pub u32);

impl fmt::Display for Version {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// Why a key point is a key point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum KeyPointKind {
    /// Could injure the patient or the person drawing.
    Safety,
    /// Makes or breaks the step.
    MakesOrBreaks,
    /// Makes the work easier: the knack.
    Knack,
}

impl KeyPointKind {
    /// The words a trainer uses for it.
    pub fn words(self) -> &'static str {
        match self {
            KeyPointKind::Safety => "safety point",
            KeyPointKind::MakesOrBreaks => "key point",
            KeyPointKind::Knack => "knack",
        }
    }
}

/// A key point within an important step, with its reasons.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyPoint {
    /// Name used by order pairs, such as `dry`.
    pub label: Option<String>,
    /// Why it is a key point.
    pub kind: KeyPointKind,
    /// How it is done, in the unit's own words.
    pub text: String,
    /// Why it is done so; a sound breakdown has at least one.
    pub reasons: Vec<String>,
    /// Quantities the learner must know, such as "8 to 10 mL per bottle".
    pub quantities: Vec<Stated>,
    /// Line of the breakdown file on which the key point starts, counted from 1.
    pub line: usize,
}

/// A logical part of the job that moves it forward.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What happens: verb and noun.
    pub name: String,
    /// Its key points in order.
    pub key_points: Vec<KeyPoint>,
    /// Line of the breakdown file, counted from 1.
    pub line: usize,
}

/// Something that must lie ready before the job starts.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// How many; `None` when the file gives no count.
    pub count: Option<u32>,
    /// What.
    pub name: String,
}

/// Two labelled key points whose order is binding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OrderPair {
    /// Label of the key point that comes first.
    pub first: String,
    /// Label of the key point that must come after it.
    pub then: String,
}

/// Whether a new version asks those already released to be updated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChangeKind {
    /// Safety or sequence changed: releases on the older version are to be updated.
    Major,
    /// Wording only.
    Minor,
}

/// What changed since the version before.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Major or minor.
    pub kind: ChangeKind,
    /// In a sentence.
    pub what: String,
}

/// One job as important steps, each with key points, each with a reason.
#[derive(Debug, Clone, PartialEq)]
pub struct Breakdown {
    /// Name of the job as the unit says it.
    pub job: String,
    /// Short name.
    pub code: JobCode,
    /// Version.
    pub version: Version,
    /// Date from which it is in force.
    pub effective: Option<Date>,
    /// Who wrote it.
    pub author: Option<String>,
    /// Who approved it.
    pub approved_by: Option<String>,
    /// What changed since the version before.
    pub change: Option<Change>,
    /// Cautions shown above everything else.
    pub cautions: Vec<String>,
    /// Supplies for one run of the job.
    pub supplies: Vec<Supply>,
    /// Important steps in order.
    pub steps: Vec<Step>,
    /// Orders that bind.
    pub orders: Vec<OrderPair>,
    /// Words the unit uses for one thing: each group holds its synonyms.
    pub synonyms: Vec<Vec<String>>,
}

/// What an item of a breakdown is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ItemKind {
    /// An important step.
    Step,
    /// A key point.
    KeyPoint,
    /// The reasons of a key point, judged together.
    Reason,
}

/// Place of an item in its breakdown: step 3 is `3`, its second key point `3.2`, that point's reason `3.2r`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ItemId {
    /// Number of the step, counted from 1.
    pub step: u16,
    /// Number of the key point within the step, counted from 1; 0 for the step itself.
    pub point: u16,
    /// True for the reason of that key point.
    pub reason: bool,
}

impl ItemId {
    /// The step itself.
    pub fn step(step: u16) -> ItemId {
        ItemId { step, point: 0, reason: false }
    }

    /// A key point.
    pub fn key_point(step: u16, point: u16) -> ItemId {
        ItemId { step, point, reason: false }
    }

    /// The reason of a key point.
    pub fn reason_of(step: u16, point: u16) -> ItemId {
        ItemId { step, point, reason: true }
    }

    /// What the item is.
    pub fn kind(self) -> ItemKind {
        match (self.point, self.reason) {
            (0, _) => ItemKind::Step,
            (_, false) => ItemKind::KeyPoint,
            (_, true) => ItemKind::Reason,
        }
    }

    /// Reads `3`, `3.2` or `3.2r`.
    pub fn parse(text: &str) -> Option<ItemId> {
        let text = text.trim();
        let (number, reason) = match text.strip_suffix('r') {
            Some(rest) => (rest, true),
            None => (text, false),
        };
        let id = match number.split_once('.') {
            Some((step, point)) => ItemId { step: step.parse().ok()?, point: point.parse().ok()?, reason },
            None => ItemId { step: number.parse().ok()?, point: 0, reason },
        };
        (id.step > 0 && (id.point > 0 || (!number.contains('.') && !reason))).then_some(id)
    }
}

impl fmt::Display for ItemId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.kind() {
            ItemKind::Step => write!(f, "{}", self.step),
            ItemKind::KeyPoint => write!(f, "{}.{}", self.step, self.point),
            ItemKind::Reason => write!(f, "{}.{}r", self.step, self.point),
        }
    }
}

/// An item with what it says, for lists of items.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ItemView<'a> {
    /// Place.
    pub id: ItemId,
    /// Words: the step's name, the key point's text, or its first reason.
    pub text: &'a str,
    /// The key point, for key points and reasons.
    pub key_point: Option<&'a KeyPoint>,
}

impl Breakdown {
    /// Every item in reading order: step, then each key point followed by its reason where it has one.
    pub fn items(&self) -> Vec<ItemView<'_>> {
        let mut items = Vec::new();
        for (step_number, step) in (1u16..).zip(&self.steps) {
            items.push(ItemView { id: ItemId::step(step_number), text: &step.name, key_point: None });
            for (point_number, point) in (1u16..).zip(&step.key_points) {
                let key_point = Some(point);
                items.push(ItemView {
                    id: ItemId::key_point(step_number, point_number),
                    text: &point.text,
                    key_point,
                });
                if let Some(reason) = point.reasons.first() {
                    items.push(ItemView {
                        id: ItemId::reason_of(step_number, point_number),
                        text: reason,
                        key_point,
                    });
                }
            }
        }
        items
    }

    /// The key point at a place, if there is one.
    pub fn key_point(&self, id: ItemId) -> Option<&KeyPoint> {
        let step = self.steps.get(usize::from(id.step).checked_sub(1)?)?;
        step.key_points.get(usize::from(id.point).checked_sub(1)?)
    }

    /// Places of the safety key points.
    pub fn safety_points(&self) -> Vec<ItemId> {
        self.items()
            .into_iter()
            .filter(|item| item.id.kind() == ItemKind::KeyPoint)
            .filter(|item| item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety))
            .map(|item| item.id)
            .collect()
    }
}
