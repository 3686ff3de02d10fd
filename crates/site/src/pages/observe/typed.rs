//! What was typed and tapped about a draw, kept as it was whether or not it can be saved.

use std::collections::{BTreeMap, BTreeSet};

use breakdown::{ItemId, ItemKind};
use desk::ObserveForm;
use jiff::civil::DateTime;
use practice::{
    Bottle, Circumstances, Difficulty, DrawItem, DrawMark, DrawnFrom, EventKind, ObservedDraw, PersonId,
    Role, Setting, SpotCheck, Stopped, WhyThere,
};
use uuid::Uuid;

use crate::address::quote;
use crate::door::{Draft, Refusal};
use crate::form::Posted;

/// Longest note about a draw.
pub(super) const LONGEST_NOTE: usize = 500;
/// Longest specimen number; the longest in use have about twenty characters.
pub(super) const LONGEST_SPECIMEN: usize = 40;
/// Most millilitres in one bottle: above every bottle there is, so that a misplaced point is noticed.
const MOST_ML: f64 = 30.0;
/// Longest draw: nobody draws for a day.
const LONGEST_S: u32 = 86_400;

/// How a key point was done, as the form says it. "Wrong" and "missed" are both not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seen {
    Done,
    AfterPrompt,
    Wrong,
    Missed,
    DoesNotApply,
}

impl Seen {
    pub(super) const ALL: [Seen; 5] =
        [Seen::Done, Seen::AfterPrompt, Seen::Wrong, Seen::Missed, Seen::DoesNotApply];

    pub(super) fn code(self) -> &'static str {
        match self {
            Seen::Done => "done",
            Seen::AfterPrompt => "prompt",
            Seen::Wrong => "wrong",
            Seen::Missed => "missed",
            Seen::DoesNotApply => "none",
        }
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            Seen::Done => "done",
            Seen::AfterPrompt => "after a prompt",
            Seen::Wrong => "wrong",
            Seen::Missed => "missed",
            Seen::DoesNotApply => "does not apply",
        }
    }

    fn mark(self) -> DrawMark {
        match self {
            Seen::Done => DrawMark::Done,
            Seen::AfterPrompt => DrawMark::AfterPrompt,
            Seen::Wrong | Seen::Missed => DrawMark::NotDone,
            Seen::DoesNotApply => DrawMark::NotApplicable,
        }
    }
}

/// The form as it stands. Texts are as they were sent.
#[derive(Debug, Clone, Default)]
pub(super) struct Typed {
    pub(super) entry: Uuid,
    /// True for a form that nobody has sent: only there does a draft of the device go before what the page holds.
    pub(super) is_fresh: bool,
    /// Every single field by its name, as it was sent.
    texts: BTreeMap<&'static str, String>,
    pub(super) difficulty: BTreeSet<Difficulty>,
    pub(super) marks: BTreeMap<ItemId, Seen>,
    /// Points marked done together with the rest.
    pub(super) together: BTreeSet<ItemId>,
    /// Seconds from the start at which each step began, as they were sent.
    began: BTreeMap<ItemId, String>,
}

/// Fields of one value. `rest` is the box that marks everything not marked as done.
const FIELDS: [&str; 18] = [
    "drawn",
    "watched",
    "by",
    "started",
    "setting",
    "attempts",
    "taken-over",
    "spot-check",
    "fill-aerobic",
    "fill-anaerobic",
    "fill-paediatric",
    "from",
    "why",
    "stopped",
    "specimen",
    "lasted",
    "moved",
    "rest",
];

pub(super) fn mark_field(item: ItemId) -> String {
    format!("m-{item}")
}

pub(super) fn fill_field(bottle: Bottle) -> &'static str {
    match bottle {
        Bottle::Aerobic => "fill-aerobic",
        Bottle::Anaerobic => "fill-anaerobic",
        Bottle::Paediatric => "fill-paediatric",
    }
}

pub(super) fn difficulty_code(difficulty: Difficulty) -> &'static str {
    match difficulty {
        Difficulty::NoVein => "no-vein",
        Difficulty::Shock => "shock",
        Difficulty::Oedema => "oedema",
        Difficulty::Obesity => "obesity",
        Difficulty::Agitation => "agitation",
        Difficulty::Emergency => "emergency",
    }
}

pub(super) fn from_code(from: DrawnFrom) -> &'static str {
    match from {
        DrawnFrom::FreshVein => "vein",
        DrawnFrom::NewCannula => "cannula",
        DrawnFrom::Line => "line",
    }
}

pub(super) fn why_code(why: WhyThere) -> &'static str {
    match why {
        WhyThere::LineSuspected => "suspected",
        WhyThere::NoOtherWay => "no-other-way",
        WhyThere::Ordered => "ordered",
        WhyThere::NoTime => "no-time",
    }
}

pub(super) fn stopped_code(stopped: Stopped) -> &'static str {
    match stopped {
        Stopped::Nerve => "nerve",
        Stopped::Artery => "artery",
        Stopped::Attempts => "attempts",
        Stopped::Breathless => "breathless",
        Stopped::Other => "other",
    }
}

impl Typed {
    /// A form nobody has touched.
    pub(super) fn blank(entry: Uuid, drawn: &str, watched: &str, now: DateTime) -> Typed {
        let mut typed = Typed { entry, is_fresh: true, ..Typed::default() };
        typed.texts.insert("drawn", drawn.to_owned());
        typed.texts.insert("watched", watched.to_owned());
        typed.texts.insert("started", minute(now));
        typed
    }

    /// Reads what was sent. What cannot be read is refused by name; everything else is kept.
    pub(super) fn read(
        entry: Uuid,
        form: &ObserveForm,
        posted: &Posted,
        now: DateTime,
    ) -> (Typed, Vec<Refusal>) {
        let mut typed = Typed { entry, ..Typed::default() };
        let mut faults = Vec::new();
        for field in FIELDS {
            typed.texts.insert(field, posted.text(field).to_owned());
        }
        typed.texts.insert("note", posted.lines("note").trim().to_owned());
        let points = points(form);
        for (name, value) in posted.all() {
            if name == "difficulty" {
                let known = Difficulty::ALL.into_iter().find(|each| difficulty_code(*each) == value);
                typed.difficulty.extend(known);
            } else if let Some(step) = name.strip_prefix("began-").and_then(ItemId::parse) {
                if !value.is_empty() {
                    typed.began.insert(step, value.to_owned());
                }
            } else if let Some(item) = name.strip_prefix("m-").and_then(ItemId::parse) {
                typed.read_mark(item, value, &points, form, &mut faults);
            }
        }
        let together = posted.text("together").split_whitespace().filter_map(ItemId::parse);
        typed.together = together.filter(|item| typed.marks.get(item) == Some(&Seen::Done)).collect();
        if !typed.text("rest").is_empty() {
            for point in &points {
                if !typed.marks.contains_key(point) {
                    typed.marks.insert(*point, Seen::Done);
                    typed.together.insert(*point);
                }
            }
            typed.texts.insert("rest", String::new());
        }
        typed.check(form, now, &mut faults);
        (typed, faults)
    }

    fn read_mark(
        &mut self,
        item: ItemId,
        word: &str,
        points: &[ItemId],
        form: &ObserveForm,
        faults: &mut Vec<Refusal>,
    ) {
        if word.is_empty() {
            return;
        }
        if !points.contains(&item) {
            faults.push(Refusal::new(
                format!("item {item}"),
                "a mark for a key point this version of the breakdown does not have",
                format!("key points of version {}", form.breakdown.version),
                "open the form again",
            ));
            return;
        }
        match Seen::ALL.into_iter().find(|seen| seen.code() == word) {
            Some(seen) => {
                self.marks.insert(item, seen);
            }
            None => faults.push(Refusal::new(
                format!("the mark of {item}"),
                format!("“{}”", quote(word)),
                "one of the five marks",
                "choose one",
            )),
        }
    }

    /// A field of one value, as it was sent.
    pub(super) fn text(&self, field: &str) -> &str {
        self.texts.get(field).map_or("", String::as_str)
    }

    /// Every field that has a value, for the page that is looked over before saving.
    pub(super) fn fields(&self) -> Vec<(String, String)> {
        let texts = self.texts.iter().filter(|(_, value)| !value.is_empty());
        let mut fields: Vec<(String, String)> =
            texts.map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
        fields.extend(
            self.difficulty.iter().map(|one| ("difficulty".to_owned(), difficulty_code(*one).to_owned())),
        );
        fields.extend(self.marks.iter().map(|(item, seen)| (mark_field(*item), seen.code().to_owned())));
        fields.extend(self.began.iter().map(|(step, at)| (format!("began-{step}"), at.clone())));
        fields.push(("together".to_owned(), self.together_text()));
        fields
    }

    pub(super) fn together_text(&self) -> String {
        self.together.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
    }

    pub(super) fn began(&self, step: ItemId) -> &str {
        self.began.get(&step).map_or("", String::as_str)
    }

    /// When the draw began, where it can be read.
    fn started(&self) -> Option<DateTime> {
        self.text("started").replace(' ', "T").parse().ok()
    }

    /// Who writes it down: the watcher, where nobody else is named.
    fn by(&self) -> &str {
        if self.text("by").is_empty() { self.text("watched") } else { self.text("by") }
    }

    fn check(&self, form: &ObserveForm, now: DateTime, faults: &mut Vec<Refusal>) {
        for (field, place, to_do) in [
            ("drawn", "Drawn by", "choose whose hands drew"),
            ("watched", "Watched by", "choose who watched"),
            ("by", "Logged by", "choose who writes it down, or leave it to the watcher"),
        ] {
            let id = self.text(field);
            if id.is_empty() && field == "by" {
                continue;
            }
            if !form.people.iter().any(|person| person.id.0 == id) {
                let found = if id.is_empty() { "nobody".to_owned() } else { format!("“{}”", quote(id)) };
                faults.push(Refusal::new(place, found, "somebody on the unit", to_do));
            }
        }
        let (drawn, watched) = (self.text("drawn"), self.text("watched"));
        if !drawn.is_empty() && drawn == watched {
            faults.push(Refusal::new(
                "Watched by",
                "the one who drew",
                "somebody else: nobody watches their own draw",
                "choose the name of the one who watched",
            ));
        }
        if !self.text("spot-check").is_empty() {
            let is_trainer =
                form.people.iter().any(|person| person.id.0 == watched && person.role == Role::Trainer);
            if !is_trainer || self.by() != watched {
                faults.push(Refusal::new(
                    "Spot check",
                    "a watcher who is no trainer, or somebody else writing it down",
                    "a trainer who watched and writes it down: a spot check is the trainer’s own look",
                    "take the tick away, or choose the trainer",
                ));
            }
        }
        match self.started() {
            None => faults.push(Refusal::new(
                "Began at",
                if self.text("started").is_empty() {
                    "nothing".to_owned()
                } else {
                    format!("“{}”", quote(self.text("started")))
                },
                "a date and a time such as 2026-03-03 14:05",
                "write when the draw began",
            )),
            Some(started) if started > now => faults.push(Refusal::new(
                "Began at",
                format!("{}, which is after now, {}", minute(started), minute(now)),
                "a time that has been",
                "correct the time; the clock of this device may be wrong",
            )),
            Some(_) => {}
        }
        self.check_texts(faults);
        if self.marks.is_empty() {
            faults.push(Refusal::new(
                "Marks",
                "no key point is marked",
                "a mark for what was seen",
                "mark each key point; what nobody saw stays unmarked",
            ));
        }
    }

    fn check_texts(&self, faults: &mut Vec<Refusal>) {
        for (field, place, longest) in
            [("specimen", "Specimen number", LONGEST_SPECIMEN), ("note", "Note", LONGEST_NOTE)]
        {
            let text = self.text(field);
            let n_characters = text.chars().count();
            if n_characters > longest {
                let found = format!("{n_characters} characters");
                faults.push(Refusal::new(place, found, format!("at most {longest}"), "shorten it"));
            }
            let may_break = |c: char| field == "note" && matches!(c, '\n' | '\t');
            if text.chars().any(|c| c.is_control() && !may_break(c)) {
                let to_do = "remove the character";
                faults.push(Refusal::new(place, "a control character", "plain text", to_do));
            }
        }
        if !self.text("attempts").is_empty() && self.attempts().is_none() {
            let found = format!("“{}”", quote(self.text("attempts")));
            faults.push(Refusal::new("Attempts", found, "1 to 9", "count the attempts of this collector"));
        }
        for bottle in Bottle::ALL {
            let text = self.text(fill_field(bottle));
            if !text.is_empty() && tenths_of_ml(text).is_none() {
                faults.push(Refusal::new(
                    format!("Fill of the {} bottle", bottle.words()),
                    format!("“{}”", quote(text)),
                    format!("0 to {MOST_ML} mL, such as 8.5"),
                    "correct it, or leave it empty where nobody looked",
                ));
            }
        }
    }

    fn attempts(&self) -> Option<u8> {
        match self.text("attempts") {
            "" => Some(1),
            text => text.parse().ok().filter(|attempts| (1..=9).contains(attempts)),
        }
    }

    /// The entry it would become; only for a form without faults.
    pub(super) fn draft(&self, form: &ObserveForm) -> Option<Draft> {
        let points = points(form);
        let wrong = points.iter().copied().filter(|item| self.marks.get(item) == Some(&Seen::Wrong));
        let seconds = |text: &str| text.parse::<u32>().ok().filter(|seconds| *seconds <= LONGEST_S);
        let steps = (1u16..).take(form.breakdown.steps.len()).map(ItemId::step);
        let from = DrawnFrom::ALL.into_iter().find(|from| from_code(*from) == self.text("from"));
        let circumstances = Circumstances {
            fills: Bottle::ALL
                .into_iter()
                .filter_map(|bottle| Some((bottle, tenths_of_ml(self.text(fill_field(bottle)))?)))
                .collect(),
            difficulty: self.difficulty.iter().copied().collect(),
            drawn_from: from,
            // A reason belongs to a line or a new cannula.
            why_there: WhyThere::ALL
                .into_iter()
                .find(|why| why_code(*why) == self.text("why"))
                .filter(|_| matches!(from, Some(DrawnFrom::NewCannula | DrawnFrom::Line))),
            stopped: Stopped::ALL.into_iter().find(|why| stopped_code(*why) == self.text("stopped")),
            wrong: wrong.collect(),
            together: points.iter().copied().filter(|item| self.together.contains(item)).collect(),
            lasted_s: seconds(self.text("lasted")),
            began_s: steps.filter_map(|step| Some((step, seconds(self.began(step))?))).collect(),
            clock_moved_s: self.text("moved").parse().ok().filter(|moved| *moved != 0),
        };
        let text = |field: &str| Some(self.text(field).to_owned()).filter(|text| !text.is_empty());
        let draw = ObservedDraw {
            job: form.breakdown.code.clone(),
            version: form.breakdown.version,
            drawn_by: PersonId(self.text("drawn").to_owned()),
            watched_by: PersonId(self.text("watched").to_owned()),
            setting: if self.text("setting") == "arm" { Setting::Simulated } else { Setting::RealPatient },
            specimen: text("specimen"),
            attempts: self.attempts()?,
            taken_over: !self.text("taken-over").is_empty(),
            items: points
                .iter()
                .filter_map(|item| Some(DrawItem { item: *item, mark: self.marks.get(item)?.mark() }))
                .collect(),
            note: text("note"),
            circumstances,
        };
        let what = match self.text("spot-check") {
            "" => EventKind::DrawObserved(draw),
            _ => EventKind::SpotChecked(SpotCheck(draw)),
        };
        Some(Draft { id: self.entry, happened: self.started()?, by: PersonId(self.by().to_owned()), what })
    }
}

/// Key points of the form's breakdown, in its order.
pub(super) fn points(form: &ObserveForm) -> Vec<ItemId> {
    let items = form.breakdown.items().into_iter().map(|item| item.id);
    items.filter(|item| item.kind() == ItemKind::KeyPoint).collect()
}

/// Millilitres with a point or a comma, as tenths.
fn tenths_of_ml(text: &str) -> Option<u16> {
    let ml: f64 = text.replace(',', ".").parse().ok()?;
    // Within 0 to 300 tenths, so nothing is cut off.
    (0.0..=MOST_ML).contains(&ml).then(|| (ml * 10.0).round() as u16)
}

/// `2026-03-03 14:05`.
pub(super) fn minute(at: DateTime) -> String {
    format!("{} {:02}:{:02}", at.date(), at.hour(), at.minute())
}
