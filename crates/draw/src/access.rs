//! Where each set is drawn.

use crate::error::DrawError;
use crate::policy::LineRules;

/// What blood can be had from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Access {
    /// A vein that can be punctured.
    pub vein: bool,
    /// A peripheral cannula just placed.
    pub new_cannula: bool,
    /// A central line, with its number of lumens.
    pub central_line_lumens: Option<u8>,
    /// An arterial line.
    pub arterial_line: bool,
}

/// Where one set is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Site {
    /// A fresh vein, not used for another set.
    Vein,
    /// A peripheral cannula just placed.
    NewCannula,
    /// The central line, through one of its lumens, counted from 1.
    CentralLine {
        /// Which lumen.
        lumen: u8,
    },
    /// The arterial line.
    ArterialLine,
}

impl Site {
    /// Central or arterial line: discarded from before a set, flushed after it, drawn with a syringe.
    pub fn is_line(self) -> bool {
        matches!(self, Site::CentralLine { .. } | Site::ArterialLine)
    }
}

/// What two sets of one collection are to each other, where a line infection is suspected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pairing {
    /// No line is suspected.
    NotAsked,
    /// One set from the line, one from a vein, equal volumes, one soon after the other (IDSA 2009).
    LineAndVein,
    /// No vein can be had: sets from two lumens or two lines (IDSA 2009, from memory).
    TwoLumens,
    /// Only one lumen can be had: there is nothing to compare it with.
    NotPossible,
}

/// Most lumens a central line has.
const MOST_LUMENS: u8 = 5;

impl Access {
    /// Only a vein.
    pub const VEIN: Access =
        Access { vein: true, new_cannula: false, central_line_lumens: None, arterial_line: false };

    /// Sites of a number of sets in the order of drawing, and whether they make a pair.
    ///
    /// A suspected line is drawn from first and a vein second (IDSA 2009); otherwise a vein, and only where none can
    /// be had a cannula, an arterial line or a central line, each if the policy allows it.
    pub fn sites(
        self,
        line_suspected: bool,
        rules: &LineRules,
        n_sets: usize,
    ) -> Result<(Vec<Site>, Pairing), DrawError> {
        if let Some(lumens) = self.central_line_lumens.filter(|lumens| !(1..=MOST_LUMENS).contains(lumens)) {
            return Err(DrawError::Lumens { lumens, most: MOST_LUMENS });
        }
        let lumens = (1..=self.central_line_lumens.unwrap_or(0)).map(|lumen| Site::CentralLine { lumen });
        let arterial = self.arterial_line.then_some(Site::ArterialLine);
        if line_suspected {
            let lines: Vec<Site> = lumens.chain(arterial).collect();
            let Some(first) = lines.first() else { return Err(DrawError::NoLineToSuspect) };
            if self.vein {
                let sites =
                    std::iter::once(*first).chain(std::iter::repeat(Site::Vein)).take(n_sets).collect();
                return Ok((sites, Pairing::LineAndVein));
            }
            let pairing = if lines.len() > 1 { Pairing::TwoLumens } else { Pairing::NotPossible };
            return Ok((lines.into_iter().cycle().take(n_sets).collect(), pairing));
        }
        let sites: Vec<Site> = if self.vein {
            vec![Site::Vein]
        } else if self.new_cannula && rules.new_cannula {
            vec![Site::NewCannula]
        } else if self.arterial_line && rules.arterial {
            vec![Site::ArterialLine]
        } else if self.central_line_lumens.is_some() && rules.central_without_suspicion {
            lumens.collect()
        } else if self.new_cannula || self.arterial_line || self.central_line_lumens.is_some() {
            return Err(DrawError::NotDrawnFrom {
                new_cannula: self.new_cannula,
                arterial_line: self.arterial_line,
                central_line: self.central_line_lumens.is_some(),
            });
        } else {
            return Err(DrawError::NoAccess);
        };
        Ok((sites.into_iter().cycle().take(n_sets).collect(), Pairing::NotAsked))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sites_by_what_can_be_had() {
        let rules = LineRules::default();
        let none = Access { vein: false, ..Access::VEIN };
        let line = |lumens| Access { central_line_lumens: Some(lumens), ..none };
        let central = |lumen| Site::CentralLine { lumen };
        let with_vein = Access { vein: true, ..line(3) };
        let sites = |access: Access, suspected| access.sites(suspected, &rules, 2);
        assert_eq!(sites(with_vein, true), Ok((vec![central(1), Site::Vein], Pairing::LineAndVein)));
        assert_eq!(
            sites(with_vein, false),
            Ok((vec![Site::Vein; 2], Pairing::NotAsked)),
            "not for convenience"
        );
        assert_eq!(sites(line(3), true), Ok((vec![central(1), central(2)], Pairing::TwoLumens)));
        assert_eq!(sites(line(1), true), Ok((vec![central(1); 2], Pairing::NotPossible)));
        assert_eq!(sites(Access::VEIN, true), Err(DrawError::NoLineToSuspect));
        assert_eq!(sites(none, false), Err(DrawError::NoAccess));
        assert!(matches!(sites(line(0), false), Err(DrawError::Lumens { .. })));
        let cannula = Access { new_cannula: true, ..none };
        assert!(matches!(sites(cannula, false), Err(DrawError::NotDrawnFrom { new_cannula: true, .. })));
        let arterial = Access { arterial_line: true, ..line(2) };
        assert_eq!(sites(arterial, false), Ok((vec![Site::ArterialLine; 2], Pairing::NotAsked)));
    }
}
