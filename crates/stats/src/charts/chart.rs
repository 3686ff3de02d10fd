//! What a finished control chart says, as plain data.

/// A control chart, ready to be drawn or written as a table.
#[derive(Debug, Clone, PartialEq)]
pub struct ControlChart {
    /// Which chart this is.
    pub kind: ChartKind,
    /// One sentence: which chart, and why this one.
    pub why: String,
    /// The points in the order given.
    pub points: Vec<ChartPoint>,
    /// What the run rules found, in order of the first point concerned.
    pub signals: Vec<Signal>,
    /// The stretches that share limits, in order, covering every point once.
    pub phases: Vec<Phase>,
}

/// The charts of this room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ChartKind {
    /// Proportions, three-sigma limits from the normal approximation.
    PNormal,
    /// Proportions, probability limits from the binomial distribution.
    PExact,
    /// Proportions, limits widened by the variation between points (Laney).
    PPrime,
    /// Events per unit of exposure.
    U,
    /// Events per equal piece of exposure.
    C,
    /// Trials between events.
    G,
    /// Time between events.
    T,
    /// Single measurements.
    Individuals,
    /// Means of subgroups.
    XBar,
    /// Standard deviations of subgroups.
    S,
    /// Exponentially weighted moving average.
    Ewma,
    /// Values around their median, without limits.
    Run,
}

impl ChartKind {
    /// The name to print: "p chart (exact binomial limits)".
    pub fn name(self) -> &'static str {
        match self {
            Self::PNormal => "p chart (normal limits)",
            Self::PExact => "p chart (exact binomial limits)",
            Self::PPrime => "p-prime chart (Laney limits)",
            Self::U => "u chart",
            Self::C => "c chart",
            Self::G => "g chart",
            Self::T => "t chart",
            Self::Individuals => "individuals chart",
            Self::XBar => "X-bar chart",
            Self::S => "s chart",
            Self::Ewma => "EWMA chart",
            Self::Run => "run chart",
        }
    }
}

/// One point with the limits that hold for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartPoint {
    /// The value plotted, in the unit of the chart.
    pub value: f64,
    /// The denominator: trials of a proportion, exposure of a count, readings of a subgroup. `None` for a
    /// single measurement.
    pub n: Option<f64>,
    /// The centre line here.
    pub centre: f64,
    /// The lower limit; `None` where there is none, that is where no value could fall below it.
    pub lower: Option<f64>,
    /// The upper limit; `None` where there is none, that is where no value could rise above it.
    pub upper: Option<f64>,
    /// Whether the value is beyond a limit. A value on a limit is not beyond it.
    pub outside: bool,
}

/// Something a run rule found.
#[derive(Debug, Clone, PartialEq)]
pub struct Signal {
    /// The rule that fired.
    pub rule: Rule,
    /// First point concerned.
    pub from: usize,
    /// Last point concerned.
    pub to: usize,
    /// The finding in one plain sentence; it counts points from 1, as a reader does.
    pub sentence: String,
}

/// The rules that can give a signal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Rule {
    /// Western Electric test 1: one point beyond a limit.
    BeyondLimit,
    /// Western Electric test 2: two of three points in a row beyond two sigma on one side.
    TwoOfThreeBeyondTwoSigma,
    /// Western Electric test 3: four of five points in a row beyond one sigma on one side.
    FourOfFiveBeyondOneSigma,
    /// Western Electric test 4: eight points in a row on one side of the centre line.
    EightOnOneSide,
    /// Anhøj: an unusually long run on one side of the median.
    LongRun,
    /// Anhøj: unusually few crossings of the median.
    FewCrossings,
}

/// A stretch of points that share one set of limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// The name given: "baseline", "after".
    pub name: String,
    /// First point of the phase.
    pub from: usize,
    /// Last point of the phase.
    pub to: usize,
    /// Where its limits come from.
    pub basis: PhaseBasis,
    /// The centre line of the phase.
    pub centre: f64,
    /// How many points the limits were computed from; 0 when the centre was given.
    pub n_basis: usize,
}

/// Where the limits of a phase come from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PhaseBasis {
    /// The points of the phase itself.
    OwnPoints,
    /// The points of an earlier phase, by its place in the list: limits frozen at the baseline.
    Frozen(usize),
    /// A centre line given from outside.
    Known(f64),
}
