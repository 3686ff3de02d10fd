/// Unit of a stated quantity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Millilitres.
    Millilitre,
    /// Seconds.
    Second,
    /// Plain count.
    Count,
}

/// What a stated quantity is counted per.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Per {
    /// Per bottle.
    Bottle,
    /// Per set.
    Set,
    /// Per patient.
    Patient,
    /// Per kilogram of body weight.
    Kilogram,
    /// Per day.
    Day,
}

/// A quantity as a job states it: "8 to 10 mL per bottle", "at least 30 s".
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// Least value that is right; `None` for "at most".
    pub low: Option<f64>,
    /// Greatest value that is right; `None` for "at least".
    pub high: Option<f64>,
    /// Unit in which both are given.
    pub unit: Unit,
    /// What it is counted per, where the job says.
    pub per: Option<Per>,
    /// The words it was read from.
    pub words: String,
}
