//! Cleaning of skin, bottle tops and line connectors: the unit's agent and seconds, and what is published for them.

use quantity::Seconds;

use crate::blood_volume::AgeMonths;

/// What is cleaned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Surface {
    /// Skin before a puncture.
    Skin,
    /// Skin of the youngest.
    NewbornSkin,
    /// Top of a culture bottle.
    BottleTop,
    /// Connector or hub of a line.
    Connector,
}

/// What it is cleaned with.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Agent {
    /// Chlorhexidine in alcohol, 0.5 to 2 %.
    ChlorhexidineAlcohol,
    /// Isopropyl alcohol, 70 %.
    Alcohol,
    /// Tincture of iodine, 1 to 2 %.
    IodineTincture,
    /// Povidone-iodine, 10 %.
    PovidoneIodine,
    /// Another, by the unit's own name. Nothing is published for it here.
    Other(String),
}

/// One cleaning: agent, time of contact, time of drying.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaning {
    /// With what.
    pub agent: Agent,
    /// Rubbed or wet for so long.
    pub contact: Seconds,
    /// Left to dry for so long.
    pub dry: Seconds,
}

/// The unit's cleanings.
#[derive(Debug, Clone, PartialEq)]
pub struct AntisepsisRules {
    /// Skin before a puncture.
    pub skin: Cleaning,
    /// Skin of children younger than `newborn_below`.
    pub newborn_skin: Cleaning,
    /// Below this age the newborn's cleaning holds.
    pub newborn_below: AgeMonths,
    /// Top of each bottle.
    pub bottle_top: Cleaning,
    /// Connector or hub of a line.
    pub connector: Cleaning,
}

/// Shortest published times of an agent on a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PublishedCleaning {
    /// Shortest time of contact.
    pub contact_s: f64,
    /// Shortest time of drying.
    pub dry_s: f64,
    /// Where the two are from, and whether they were read there.
    pub source: &'static str,
}

/// Shortest published times; `None` where none is at hand.
///
/// Skin: 2 % chlorhexidine in 70 % alcohol 30 s of friction and 30 s of drying, longer on moist or hairy skin;
/// isopropyl alcohol 30 s (WHO 2010) and 30 s; tincture of iodine 30 s and 30 s; povidone-iodine 90 to 120 s and as
/// long to dry. Bottle top: alcohol 15 to 30 s and 30 to 60 s. Connector: at least 5 s, dry 5 s (alcohol), 20 s
/// (chlorhexidine in alcohol), more than 6 minutes (povidone-iodine). All from memory, except that more than 6
/// minutes and 5 s of drying were read for connectors (Slater 2018); no agent is proven best.
pub fn published_cleaning(surface: Surface, agent: &Agent) -> Option<PublishedCleaning> {
    let (contact_s, dry_s, source) = match (surface, agent) {
        (_, Agent::Other(_)) => return None,
        (Surface::Skin | Surface::NewbornSkin, Agent::ChlorhexidineAlcohol) => {
            (30.0, 30.0, "30 s of friction and 30 s to dry, from memory")
        }
        (Surface::Skin | Surface::NewbornSkin, Agent::Alcohol) => {
            (30.0, 30.0, "30 s (WHO 2010) and 30 s to dry, from memory")
        }
        (Surface::Skin | Surface::NewbornSkin, Agent::IodineTincture) => {
            (30.0, 30.0, "30 s and 30 s to dry, from memory")
        }
        (Surface::Skin | Surface::NewbornSkin, Agent::PovidoneIodine) => {
            (90.0, 90.0, "90 to 120 s and as long to dry, from memory")
        }
        (Surface::BottleTop, Agent::Alcohol) => {
            (15.0, 30.0, "a wipe of 15 to 30 s and 30 to 60 s to dry, from memory")
        }
        (Surface::Connector, Agent::Alcohol) => (
            5.0,
            5.0,
            "5 to 60 s published with no proven optimum (Moureau and Flynn 2015); 5 s to dry (Slater 2018)",
        ),
        (Surface::Connector, Agent::ChlorhexidineAlcohol) => {
            (5.0, 20.0, "at least 5 s and 20 s to dry (SHEA/IDSA 2022 and Slater 2018, from memory)")
        }
        (Surface::Connector, Agent::PovidoneIodine) => {
            (5.0, 360.0, "at least 5 s; more than 6 minutes to dry (Slater 2018)")
        }
        (Surface::BottleTop | Surface::Connector, _) => return None,
    };
    Some(PublishedCleaning { contact_s, dry_s, source })
}

/// Defaults: chlorhexidine in alcohol 30 s and 30 s on skin; povidone-iodine 120 s and 120 s on the skin of children
/// younger than 2 months (chlorhexidine with care there: a drug label and a national alert, from memory); alcohol 15
/// s and 30 s on bottle tops; alcohol 15 s and 30 s on connectors. From memory; each unit sets its own.
impl Default for AntisepsisRules {
    fn default() -> Self {
        let cleaning = |agent, contact: f64, dry: f64| {
            let s = |value| Seconds::from_s(value).unwrap_or(Seconds::ZERO);
            Cleaning { agent, contact: s(contact), dry: s(dry) }
        };
        AntisepsisRules {
            skin: cleaning(Agent::ChlorhexidineAlcohol, 30.0, 30.0),
            newborn_skin: cleaning(Agent::PovidoneIodine, 120.0, 120.0),
            newborn_below: AgeMonths(2),
            bottle_top: cleaning(Agent::Alcohol, 15.0, 30.0),
            connector: cleaning(Agent::Alcohol, 15.0, 30.0),
        }
    }
}

impl AntisepsisRules {
    /// Each cleaning with its surface.
    pub fn all(&self) -> [(Surface, &Cleaning); 4] {
        [
            (Surface::Skin, &self.skin),
            (Surface::NewbornSkin, &self.newborn_skin),
            (Surface::BottleTop, &self.bottle_top),
            (Surface::Connector, &self.connector),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The defaults are not below what is published for their agents.
    #[test]
    fn defaults_keep_the_published_times() {
        for (surface, cleaning) in AntisepsisRules::default().all() {
            let published = published_cleaning(surface, &cleaning.agent).unwrap();
            assert!(cleaning.contact.to_s() >= published.contact_s, "{surface:?}");
            assert!(cleaning.dry.to_s() >= published.dry_s, "{surface:?}");
        }
        assert_eq!(published_cleaning(Surface::Skin, &Agent::Other("own".to_owned())), None);
        assert_eq!(published_cleaning(Surface::BottleTop, &Agent::PovidoneIodine), None, "no iodine on tops");
    }
}
