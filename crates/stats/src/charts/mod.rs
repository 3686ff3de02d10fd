//! Control charts: which points are beyond what chance explains, and since when.
//!
//! A chart is plain data ([`ControlChart`]); drawing it is another room's work. Indices count from 0 and ranges
//! hold both ends.

mod chart;

pub use chart::{ChartKind, ChartPoint, ControlChart, Phase, PhaseBasis, Rule, Signal};
