//! What each quantity of a job is for, read from its words and from what it is counted per.

use std::fmt;

use quantity::{Per, Stated, Unit};

use crate::model::Breakdown;

/// What a quantity is for in the ledgers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    FillPerBottle,
    VolumePerSet,
    VolumePerPatient,
    Wasted,
    Returned,
    BottlesPerSet,
    SetsPerPatient,
    Contact,
    Dry,
    Wait,
    Other,
}

/// A quantity of a job with what it is for and where it stands.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Amount<'a> {
    pub(crate) quantity: &'a Stated,
    pub(crate) used_for: Use,
    /// Line of its key point.
    pub(crate) line: usize,
    /// Step, key point and quantity, each counted from 0.
    pub(crate) index: (usize, usize, usize),
}

/// Every quantity of a job.
#[derive(Debug, Clone)]
pub(crate) struct Amounts<'a>(pub(crate) Vec<Amount<'a>>);

/// Least and greatest value, both known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Span {
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl<'a> Amounts<'a> {
    pub(crate) fn of(breakdown: &'a Breakdown) -> Amounts<'a> {
        let mut amounts = Vec::new();
        for (step_at, step) in breakdown.steps.iter().enumerate() {
            for (point_at, point) in step.key_points.iter().enumerate() {
                for (at, quantity) in point.quantities.iter().enumerate() {
                    let used_for = used_for(quantity);
                    amounts.push(Amount {
                        quantity,
                        used_for,
                        line: point.line,
                        index: (step_at, point_at, at),
                    });
                }
            }
        }
        Amounts(amounts)
    }

    pub(crate) fn all(&self, used_for: Use) -> impl Iterator<Item = &Amount<'a>> {
        self.0.iter().filter(move |amount| amount.used_for == used_for)
    }

    pub(crate) fn fill_per_bottle(&self) -> Option<&Amount<'a>> {
        self.all(Use::FillPerBottle).next()
    }

    pub(crate) fn bottles_per_set(&self) -> Option<&Amount<'a>> {
        self.all(Use::BottlesPerSet).next()
    }

    pub(crate) fn sets_per_patient(&self) -> Option<&Amount<'a>> {
        self.all(Use::SetsPerPatient).next()
    }

    pub(crate) fn volume_per_set(&self) -> impl Iterator<Item = &Amount<'a>> {
        self.all(Use::VolumePerSet)
    }

    pub(crate) fn volume_per_patient(&self) -> impl Iterator<Item = &Amount<'a>> {
        self.all(Use::VolumePerPatient)
    }
}

impl Amount<'_> {
    /// Both ends; nothing for an open end, except that "at most" starts from zero.
    pub(crate) fn span(&self) -> Option<Span> {
        Some(Span { low: self.quantity.low.unwrap_or(0.0), high: self.quantity.high? })
    }
}

impl Span {
    pub(crate) const ZERO: Span = Span { low: 0.0, high: 0.0 };

    pub(crate) fn times(self, other: Span) -> Span {
        Span { low: self.low * other.low, high: self.high * other.high }
    }

    pub(crate) fn plus(self, other: Span) -> Span {
        Span { low: self.low + other.low, high: self.high + other.high }
    }

    /// True when `other` lies within, but for rounding.
    pub(crate) fn holds(self, other: Span) -> bool {
        let slack = 1e-9 * self.high.max(1.0);
        other.low >= self.low - slack && other.high <= self.high + slack
    }
}

impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.low == self.high {
            write!(f, "{}", self.low)
        } else {
            write!(f, "{} to {}", self.low, self.high)
        }
    }
}

fn used_for(quantity: &Stated) -> Use {
    let what = quantity.what.as_deref().unwrap_or("");
    let says = |words: &[&str]| what.split_whitespace().any(|word| words.contains(&word));
    match quantity.unit {
        Unit::Millilitre if says(&["discard", "waste", "wasted", "divert", "diverted"]) => Use::Wasted,
        Unit::Millilitre if says(&["return", "returned"]) => Use::Returned,
        Unit::Millilitre
            if what.is_empty()
                || says(&["fill", "draw", "withdraw", "take", "blood", "volume", "culture", "total"]) =>
        {
            match quantity.per {
                Some(Per::Bottle) => Use::FillPerBottle,
                Some(Per::Set) => Use::VolumePerSet,
                Some(Per::Patient) => Use::VolumePerPatient,
                _ => Use::Other,
            }
        }
        Unit::Second if says(&["dry", "drying"]) => Use::Dry,
        Unit::Second if says(&["contact", "scrub", "rub", "friction", "clean", "wipe"]) => Use::Contact,
        Unit::Second if says(&["wait", "press", "hold"]) => Use::Wait,
        Unit::Count if what.ends_with("bottles") && matches!(quantity.per, None | Some(Per::Set)) => {
            Use::BottlesPerSet
        }
        Unit::Count if what.ends_with("sets") && matches!(quantity.per, None | Some(Per::Patient)) => {
            Use::SetsPerPatient
        }
        _ => Use::Other,
    }
}
