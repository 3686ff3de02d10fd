//! What else was seen of a draw: kept for the one who drew and the trainer. No rule judges by it.

use breakdown::ItemId;

/// Which bottle of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Bottle {
    /// Grows what needs air.
    Aerobic,
    /// Grows what is harmed by air.
    Anaerobic,
    /// Made for the small volumes of a child.
    Paediatric,
}

impl Bottle {
    /// Every kind, in the order a form lists them.
    pub const ALL: [Bottle; 3] = [Bottle::Aerobic, Bottle::Anaerobic, Bottle::Paediatric];

    /// The kind in the trade's words.
    pub fn words(self) -> &'static str {
        match self {
            Bottle::Aerobic => "aerobic",
            Bottle::Anaerobic => "anaerobic",
            Bottle::Paediatric => "paediatric",
        }
    }
}

/// What made a draw difficult; about the circumstances of the draw, and nothing that names a patient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Difficulty {
    /// No vein was to be seen or felt.
    NoVein,
    /// Shock.
    Shock,
    /// Oedema.
    Oedema,
    /// Obesity.
    Obesity,
    /// The patient moved or pulled away.
    Agitation,
    /// It had to be done at once.
    Emergency,
}

impl Difficulty {
    /// Every difficulty, in the order a form lists them.
    pub const ALL: [Difficulty; 6] = [
        Difficulty::NoVein,
        Difficulty::Shock,
        Difficulty::Oedema,
        Difficulty::Obesity,
        Difficulty::Agitation,
        Difficulty::Emergency,
    ];

    /// The difficulty in words.
    pub fn words(self) -> &'static str {
        match self {
            Difficulty::NoVein => "no vein to be found",
            Difficulty::Shock => "shock",
            Difficulty::Oedema => "oedema",
            Difficulty::Obesity => "obesity",
            Difficulty::Agitation => "agitation",
            Difficulty::Emergency => "emergency",
        }
    }
}

/// Where the blood came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DrawnFrom {
    /// A vein punctured for this draw.
    FreshVein,
    /// A cannula that had just been put in.
    NewCannula,
    /// A line that was there already.
    Line,
}

impl DrawnFrom {
    /// Every place, in the order a form lists them.
    pub const ALL: [DrawnFrom; 3] = [DrawnFrom::FreshVein, DrawnFrom::NewCannula, DrawnFrom::Line];

    /// The place in words.
    pub fn words(self) -> &'static str {
        match self {
            DrawnFrom::FreshVein => "a fresh vein",
            DrawnFrom::NewCannula => "a new cannula",
            DrawnFrom::Line => "a line",
        }
    }
}

/// Why it came from a line or a new cannula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum WhyThere {
    /// The line itself was suspected.
    LineSuspected,
    /// No other way in was found.
    NoOtherWay,
    /// The order or the unit's policy asked for it.
    Ordered,
    /// There was no time for another puncture.
    NoTime,
}

impl WhyThere {
    /// Every reason, in the order a form lists them.
    pub const ALL: [WhyThere; 4] =
        [WhyThere::LineSuspected, WhyThere::NoOtherWay, WhyThere::Ordered, WhyThere::NoTime];

    /// The reason in words.
    pub fn words(self) -> &'static str {
        match self {
            WhyThere::LineSuspected => "the line is suspected",
            WhyThere::NoOtherWay => "no other way in",
            WhyThere::Ordered => "order or policy",
            WhyThere::NoTime => "no time for another puncture",
        }
    }
}

/// Why a draw was stopped before it was whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stopped {
    /// Shooting pain, tingling or tremor: a nerve.
    Nerve,
    /// Bright, pulsing blood: an artery.
    Artery,
    /// The limit of attempts was reached.
    Attempts,
    /// Breathlessness, chest pain or confusion after a line was opened.
    Breathless,
    /// Something else.
    Other,
}

impl Stopped {
    /// Every reason, in the order a form lists them.
    pub const ALL: [Stopped; 5] =
        [Stopped::Nerve, Stopped::Artery, Stopped::Attempts, Stopped::Breathless, Stopped::Other];

    /// The reason in words.
    pub fn words(self) -> &'static str {
        match self {
            Stopped::Nerve => "shooting pain or tingling",
            Stopped::Artery => "bright, pulsing blood",
            Stopped::Attempts => "limit of attempts",
            Stopped::Breathless => "breathlessness after opening the line",
            Stopped::Other => "another reason",
        }
    }
}

/// What else was seen of a draw. Empty where nobody wrote any of it down.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Circumstances {
    /// Tenths of a millilitre in each bottle, in the order in which a form lists them.
    pub fills: Vec<(Bottle, u16)>,
    /// What made it difficult.
    pub difficulty: Vec<Difficulty>,
    /// Where the blood came from.
    pub drawn_from: Option<DrawnFrom>,
    /// Why from there, where it was no fresh vein.
    pub why_there: Option<WhyThere>,
    /// Why it was stopped before it was whole.
    pub stopped: Option<Stopped>,
    /// Of the items not done, those that were done, but wrong. The others were left out.
    pub wrong: Vec<ItemId>,
    /// Items that were marked done together, in one action, after the others had been marked one by one.
    pub together: Vec<ItemId>,
    /// Seconds from the start of the draw to its end.
    pub lasted_s: Option<u32>,
    /// Seconds from the start of the draw at which each step began.
    pub began_s: Vec<(ItemId, u32)>,
    /// Seconds by which the device's clock was moved during the draw; the times above are of a clock that cannot be.
    pub clock_moved_s: Option<i32>,
}

impl Circumstances {
    /// True where nobody wrote any of it down.
    pub fn is_empty(&self) -> bool {
        *self == Circumstances::default()
    }
}
