//! What has to be at hand before a collection begins.

use quantity::Volume;

use crate::access::Site;
use crate::order::{BottleKind, Method};
use crate::plan::PlannedSet;
use crate::policy::{Gloves, Mask, Policy};

/// One kind of thing, and how many of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Supply {
    /// Culture bottles of a kind.
    Bottles(BottleKind, usize),
    /// Labels, one for each bottle.
    Labels(usize),
    /// A pen to mark the fill on the bottles.
    Pen,
    /// Closed winged sets with holder.
    WingedSets(usize),
    /// Needles with a safety device, for syringes at a vein.
    SafetyNeedles(usize),
    /// Syringes of 20 mL or the size at hand, and the blood they must hold.
    Syringes(usize, Volume),
    /// Transfer devices, one for each set drawn with a syringe.
    TransferDevices(usize),
    /// Syringes of 10 mL or more for what is discarded from lines.
    DiscardSyringes(usize),
    /// Tubes or a waste syringe for diverted blood.
    DiversionTubes(usize),
    /// Tourniquet, single use.
    Tourniquet,
    /// Skin antiseptic, one for each vein.
    SkinAntiseptic(usize),
    /// Alcohol wipes for bottle tops.
    BottleTopWipes(usize),
    /// Wipes for connectors.
    ConnectorWipes(usize),
    /// New sterile connectors.
    Connectors(usize),
    /// Saline for flushing, in all.
    Flush(Volume),
    /// Pairs of gloves, one for each site.
    Gloves(Gloves, usize),
    /// Mask.
    Mask,
    /// Drapes, one for each site.
    Drapes(usize),
    /// Sharps bin within reach.
    SharpsBin,
    /// Gauze or a dressing for each puncture.
    Dressings(usize),
}

/// A syringe holds this much.
const SYRINGE_ML: f64 = 20.0;

/// Supplies of a plan, in the order in which they are fetched.
pub fn supplies(sets: &[PlannedSet], method: Method, rules: &Policy) -> Vec<Supply> {
    let n_at = |wanted: fn(&PlannedSet) -> bool| sets.iter().filter(|set| wanted(set)).count();
    let n_veins = n_at(|set| set.site == Site::Vein);
    let n_cannulas = n_at(|set| set.site == Site::NewCannula);
    let n_lines = n_at(|set| set.site.is_line());
    let n_bottles = sets.iter().map(|set| set.bottles.len()).sum();
    let mut list = Vec::new();
    for kind in [BottleKind::Aerobic, BottleKind::Anaerobic, BottleKind::Paediatric] {
        let n = sets.iter().flat_map(|set| &set.bottles).filter(|bottle| bottle.kind == kind).count();
        if n > 0 {
            list.push(Supply::Bottles(kind, n));
        }
    }
    list.extend([Supply::Labels(n_bottles), Supply::Pen]);
    // A line and a cannula are drawn from with a syringe, whatever is used at the vein.
    let with_syringe = |set: &&PlannedSet| set.site != Site::Vein || method == Method::Syringe;
    let blood = |set: &PlannedSet| -> Volume { set.bottles.iter().map(|bottle| bottle.target).sum() };
    let n_transfers = sets.iter().filter(with_syringe).count();
    if n_transfers > 0 {
        let n_syringes: f64 = sets
            .iter()
            .filter(with_syringe)
            .map(|set| (blood(set).to_ml() / SYRINGE_ML - 1e-9).ceil().max(1.0))
            .sum();
        let held = sets.iter().filter(with_syringe).map(blood).sum();
        list.extend([Supply::Syringes(n_syringes as usize, held), Supply::TransferDevices(n_transfers)]);
    }
    if n_veins > 0 {
        list.push(match method {
            Method::WingedSet => Supply::WingedSets(n_veins),
            Method::Syringe => Supply::SafetyNeedles(n_veins),
        });
        if rules.vein_divert > Volume::ZERO {
            list.push(Supply::DiversionTubes(n_veins));
        }
        list.extend([Supply::Tourniquet, Supply::SkinAntiseptic(n_veins), Supply::Dressings(n_veins)]);
    }
    list.push(Supply::BottleTopWipes(n_bottles));
    if n_lines + n_cannulas > 0 {
        list.push(Supply::ConnectorWipes(n_lines + n_cannulas));
    }
    if n_lines > 0 {
        if rules.line_discard > Volume::ZERO {
            list.push(Supply::DiscardSyringes(n_lines));
        }
        if rules.line.connector_changed {
            list.push(Supply::Connectors(n_lines));
        }
        if rules.line.flush > Volume::ZERO {
            list.push(Supply::Flush(rules.line.flush.times(u32::try_from(n_lines).unwrap_or(u32::MAX))));
        }
    }
    list.push(Supply::Gloves(rules.conduct.gloves, sets.len()));
    match rules.conduct.mask {
        Mask::Always => list.push(Supply::Mask),
        Mask::AtLines if n_lines > 0 => list.push(Supply::Mask),
        Mask::AtLines | Mask::Never => {}
    }
    if rules.conduct.drape {
        list.push(Supply::Drapes(sets.len()));
    }
    list.push(Supply::SharpsBin);
    list
}
