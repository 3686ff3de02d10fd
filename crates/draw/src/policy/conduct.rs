//! Rules of conduct in which units differ: order, lines, gloves, who draws, and the clock.

use quantity::{Seconds, Volume};

use crate::order::BottleKind;

/// Where the first blood of a puncture goes when it is diverted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum DivertedInto {
    /// Into waste.
    Waste,
    /// Into tubes for other tests, which contradicts "culture bottles first".
    Tubes,
}

/// Which bottle comes first.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderRules {
    /// First of an adult pair with a winged set.
    pub winged_set_first: BottleKind,
    /// First of an adult pair with a syringe.
    pub syringe_first: BottleKind,
    /// This much or less goes into the aerobic bottle alone.
    pub short_draw: Volume,
    /// Where diverted blood goes.
    pub diverted_into: DivertedInto,
}

/// Draws from what is in place already.
#[derive(Debug, Clone, PartialEq)]
pub struct LineRules {
    /// Saline after each set from a line.
    pub flush: Volume,
    /// A new sterile connector before a culture is drawn.
    pub connector_changed: bool,
    /// A central line may be drawn from where no vein can be had and no line infection is suspected.
    pub central_without_suspicion: bool,
    /// An arterial line may be drawn from.
    pub arterial: bool,
    /// A peripheral cannula just placed may be drawn from.
    pub new_cannula: bool,
}

/// Gloves of the one who draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Gloves {
    /// Sterile.
    Sterile,
    /// Clean.
    Clean,
}

/// When a mask is worn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mask {
    /// Never for a blood culture.
    Never,
    /// When a line is opened.
    AtLines,
    /// Always.
    Always,
}

/// How the draw is done and by whom.
#[derive(Debug, Clone, PartialEq)]
pub struct ConductRules {
    /// Gloves.
    pub gloves: Gloves,
    /// Mask.
    pub mask: Mask,
    /// A sterile drape.
    pub drape: bool,
    /// A second person checks patient, order and labels.
    pub second_checker: bool,
    /// Attempts of one person before another takes over.
    pub attempts: u8,
    /// Shortest time from one set to the next.
    pub between_sets: Seconds,
    /// Who may draw from a vein.
    pub who_vein: String,
    /// Who may draw from a central line.
    pub who_central_line: String,
    /// Who may draw from an arterial line.
    pub who_arterial_line: String,
}

/// How long things may take.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeRules {
    /// From the draw to the laboratory.
    pub to_laboratory: Seconds,
    /// From the draw to the incubator.
    pub to_incubator: Seconds,
    /// Longest a dose of antibiotic that is due may wait for the draw.
    pub dose_waits_most: Seconds,
}

/// Winged set aerobic first (a hospital's phlebotomy guide); syringe anaerobic first (from memory); 10 mL or less into
/// the aerobic bottle alone (IDSA/ASM, from memory); diverted blood is waste.
impl Default for OrderRules {
    fn default() -> Self {
        OrderRules {
            winged_set_first: BottleKind::Aerobic,
            syringe_first: BottleKind::Anaerobic,
            short_draw: ml(10.0),
            diverted_into: DivertedInto::Waste,
        }
    }
}

/// Flush 10 mL (often 10 to 20 mL: common practice, no source); a new connector (Mathew 2009: 36 positive through old
/// ones, of which 17 were confirmed through new); a central line where nothing else can be had; arterial lines (Nakayama
/// 2023: 0.3 against 0.7 % contaminated); no draws from a cannula (Snyder 2012: odds ratio of contamination 2.69).
impl Default for LineRules {
    fn default() -> Self {
        LineRules {
            flush: ml(10.0),
            connector_changed: true,
            central_without_suspicion: true,
            arterial: true,
            new_cannula: false,
        }
    }
}

/// Sterile gloves (Kim 2011: 0.6 against 1.1 % contaminated), a mask at lines, no drape, no second checker, two
/// attempts, no wait between sets: common practice, no source where none is named.
impl Default for ConductRules {
    fn default() -> Self {
        ConductRules {
            gloves: Gloves::Sterile,
            mask: Mask::AtLines,
            drape: false,
            second_checker: false,
            attempts: 2,
            between_sets: Seconds::ZERO,
            who_vein: "whoever is released on the job for a vein, or is watched by someone who is".to_owned(),
            who_central_line:
                "whoever is released on the job for a central line, or is watched by someone who is"
                    .to_owned(),
            who_arterial_line: "whoever the unit allows to draw from arterial lines".to_owned(),
        }
    }
}

/// Laboratory within 2 h (CLSI, from memory), incubator within 4 h (UK SMI B 37, from memory), a dose held for at most 45
/// minutes (Surviving Sepsis Campaign 2021, from memory).
impl Default for TimeRules {
    fn default() -> Self {
        let minutes = |value| Seconds::from_minutes(value).unwrap_or(Seconds::ZERO);
        TimeRules {
            to_laboratory: minutes(120.0),
            to_incubator: minutes(240.0),
            dose_waits_most: minutes(45.0),
        }
    }
}

fn ml(value: f64) -> Volume {
    Volume::from_ml(value).unwrap_or(Volume::ZERO)
}
