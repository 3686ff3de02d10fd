//! Which organism a laboratory's words name.
//!
//! Laboratories write one organism in many ways: "Staphylococcus epidermidis", "S. epidermidis", "STAPH. EPIDERMIDIS",
//! "Staph epi". [`Nomenclature::identify`] reads them into an [`Identity`]; what it cannot read stays unresolved, so
//! that a person decides and nothing is guessed.

mod nomenclature;
mod reading;
mod spelling;
mod words;

use std::fmt;

pub(crate) use spelling::may_be_slip;

pub use nomenclature::{Nomenclature, NomenclatureError};

/// What the reading of a name found.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Identified {
    /// The organism, as precisely as the name says it.
    pub identity: Identity,
    /// The laboratory marked the name as doubtful: presumptive, probable, resembling.
    pub doubtful: bool,
    /// The name was misspelt and read as the only known name near it.
    pub misspelt: bool,
}

/// The organism a name stands for, as precisely as the name says it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Identity {
    /// Genus and species.
    Species(Species),
    /// A genus without a species: "Enterococcus sp.".
    Genus(String),
    /// A named group wider or narrower than a genus: "Staphylococcus, coagulase negative".
    Group(String),
    /// No organism could be read from the words.
    Unresolved(Unresolved),
}

/// Genus and species, with the subspecies where the laboratory gave one.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Species {
    /// Genus, capitalised: "Staphylococcus".
    pub genus: String,
    /// Species epithet in lower case: "hominis".
    pub species: String,
    /// Subspecies epithet in lower case, where given.
    pub subspecies: Option<String>,
    /// The name says "group" or "complex": "Streptococcus mitis group".
    pub as_group: bool,
}

/// Why no organism could be read from the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unresolved {
    /// There were no words.
    Empty,
    /// Only what the microscope shows: "gram positive cocci".
    AppearanceOnly,
    /// An abbreviation fits more than one organism: "S. intermedius".
    Ambiguous,
    /// The words name more than one organism.
    SeveralNames,
    /// The words say what it is not.
    Negated,
    /// No known name is among the words.
    Unknown,
}

impl Identity {
    /// The genus, where the name settles it.
    pub fn genus(&self) -> Option<&str> {
        match self {
            Identity::Species(species) => Some(&species.genus),
            Identity::Genus(genus) => Some(genus),
            Identity::Group(_) | Identity::Unresolved(_) => None,
        }
    }
}

impl fmt::Display for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Identity::Species(species) => species.fmt(f),
            Identity::Genus(genus) => write!(f, "{genus} species"),
            Identity::Group(group) => f.write_str(group),
            Identity::Unresolved(why) => why.fmt(f),
        }
    }
}

impl fmt::Display for Species {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.genus, self.species)?;
        if let Some(subspecies) = &self.subspecies {
            write!(f, " subsp. {subspecies}")?;
        }
        if self.as_group { f.write_str(" group") } else { Ok(()) }
    }
}

impl fmt::Display for Unresolved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Unresolved::Empty => "no name given",
            Unresolved::AppearanceOnly => "only the appearance under the microscope is named",
            Unresolved::Ambiguous => "the abbreviation fits more than one organism",
            Unresolved::SeveralNames => "more than one organism is named",
            Unresolved::Negated => "the words say what it is not",
            Unresolved::Unknown => "the name is not known",
        })
    }
}

/// How far two names must agree to count as one organism.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Matching {
    /// Both reports must give the same name: coagulase-negative staphylococci do not match S. epidermidis.
    Species,
    /// A report that stops at genus or group matches any species of it: coagulase-negative staphylococci match
    /// S. epidermidis; S. epidermidis does not match S. hominis. This is how NHSN matches names.
    Genus,
}

/// How two names agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Agreement {
    /// The same name, or two names of one organism.
    SameName,
    /// One stops at genus or group and covers the other.
    Covered,
}
