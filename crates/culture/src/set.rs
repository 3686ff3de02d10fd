use std::fmt;

use jiff::civil::{Date, DateTime};

/// The laboratory's specimen number, or a key made from what the mapping says makes a set.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SetId(pub String);

impl fmt::Display for SetId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A keyed hash that lets the sets of one patient meet without naming anybody.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PatientKey(pub String);

/// When the blood was taken, as precisely as the laboratory said it. Local civil time of the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Collected {
    /// Day and time of day.
    At(DateTime),
    /// The day only: the file gave no usable time.
    On(Date),
}

impl Collected {
    /// The calendar day of the draw.
    pub fn date(self) -> Date {
        match self {
            Collected::At(at) => at.date(),
            Collected::On(date) => date,
        }
    }

    /// The time of the draw, where the laboratory gave one.
    pub fn time(self) -> Option<DateTime> {
        match self {
            Collected::At(at) => Some(at),
            Collected::On(_) => None,
        }
    }
}

/// Where the blood came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Route {
    /// A fresh venepuncture.
    Vein,
    /// A central venous line.
    CentralLine,
    /// An arterial line.
    ArterialLine,
    /// A peripheral cannula already in place.
    Cannula,
}

/// What was put into the bottles, as far as a rule asks: some definitions leave part of the bottles out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Specimen {
    /// Blood of a living patient; also where the file does not say.
    #[default]
    Blood,
    /// Blood taken after death.
    PostMortem,
    /// Another fluid in blood culture bottles: joint fluid, ascites.
    OtherFluid,
    /// The laboratory's own quality control.
    QualityControl,
}

/// How far the laboratory's report on a set has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ReportStatus {
    /// Still incubating or still being worked up.
    Preliminary,
    /// Final.
    Final,
    /// A final report that replaces an earlier one.
    Corrected,
    /// Cancelled or rejected: no result will come.
    Cancelled,
    /// The file does not say.
    NotStated,
}

/// Which broth a bottle holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BottleKind {
    /// Aerobic bottle.
    Aerobic,
    /// Anaerobic bottle.
    Anaerobic,
    /// Paediatric bottle.
    Paediatric,
    /// Another bottle, or the file does not say which.
    Other,
}

/// One bottle of a set.
#[derive(Debug, Clone, PartialEq)]
pub struct Bottle {
    /// Which broth it holds.
    pub kind: BottleKind,
    /// Blood in the bottle in millilitres, where it was weighed or reported.
    pub fill_ml: Option<f64>,
}

/// One organism that grew from a set.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Isolate {
    /// The name exactly as the laboratory wrote it.
    pub reported_name: String,
}

/// One venepuncture or line draw and what the laboratory found in it.
#[derive(Debug, Clone, PartialEq)]
pub struct CultureSet {
    /// Specimen number or derived key.
    pub id: SetId,
    /// Keyed hash of the patient.
    pub patient: PatientKey,
    /// When the blood was taken.
    pub collected: Collected,
    /// When the laboratory received it, where known.
    pub received: Option<DateTime>,
    /// Unit at the time of the draw, as the laboratory or the stays file names it.
    pub unit: Option<String>,
    /// Person whose hands drew, as the laboratory recorded it.
    pub collector: Option<String>,
    /// Vein or line, where known.
    pub route: Option<Route>,
    /// What was put into the bottles.
    pub specimen: Specimen,
    /// Patient's age in whole or part years at the draw, where known.
    pub age_years: Option<f64>,
    /// How far the report has come.
    pub status: ReportStatus,
    /// Bottles, where the file lists them.
    pub bottles: Vec<Bottle>,
    /// Organisms, one entry per distinct reported name; empty means no growth reported.
    pub isolates: Vec<Isolate>,
    /// Seconds from loading to the first positive bottle, as the laboratory's instrument says, where the file gives them.
    pub positive_after_s: Option<u32>,
}
