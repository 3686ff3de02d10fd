use jiff::civil::DateTime;

use crate::people::{NORTH, SOUTH, STEP_DOWN};

/// An area of the unit, in the laboratory's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Area {
    North,
    South,
    StepDown,
}

impl Area {
    pub(crate) fn name(self) -> &'static str {
        match self {
            Area::North => NORTH,
            Area::South => SOUTH,
            Area::StepDown => STEP_DOWN,
        }
    }
}

/// Where the blood came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    Vein,
    CentralLine,
    ArterialLine,
}

/// Whose hands drew.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hands {
    /// Nobody yet.
    Nobody,
    /// A person of the unit, by place in the list of members.
    Member(usize),
    /// The hospital's draw team, which is not on the unit's staff list.
    DrawTeam(u8),
}

/// What the truth about a patient's blood is; only the story knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Infection {
    None,
    /// Germs in the blood, by the name the laboratory gives them.
    With(&'static str),
}

/// One bottle.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct DemoBottle {
    /// As the laboratory codes it.
    pub(crate) code: &'static str,
    /// Tenths of a millilitre of blood in it.
    pub(crate) fill_tenths: u32,
    /// What grew in it.
    pub(crate) organisms: Vec<&'static str>,
}

/// One set: what was drawn at one place at one time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct DemoSet {
    /// The laboratory's specimen number.
    pub(crate) specimen: String,
    /// Sets of one episode share its number.
    pub(crate) episode: usize,
    /// True when the episode has another set.
    pub(crate) in_series: bool,
    pub(crate) patient: String,
    pub(crate) age: u32,
    pub(crate) area: Area,
    pub(crate) collected: DateTime,
    pub(crate) received: DateTime,
    pub(crate) source: Source,
    pub(crate) infection: Infection,
    pub(crate) cancelled: Option<&'static str>,
    /// Whose hands drew in truth.
    pub(crate) hands: Hands,
    /// Collector as the laboratory recorded it; empty when it is missing.
    pub(crate) collector: String,
    /// True when somebody watched and wrote it down.
    pub(crate) watched: bool,
    /// True when the bottles were weighed.
    pub(crate) weighed: bool,
    pub(crate) bottles: Vec<DemoBottle>,
}

impl DemoSet {
    /// True when nothing grew.
    pub(crate) fn is_clear(&self) -> bool {
        self.bottles.iter().all(|bottle| bottle.organisms.is_empty())
    }

    /// True for a patient to whom the adult rule applies.
    pub(crate) fn is_adult(&self) -> bool {
        self.age >= 18
    }
}
