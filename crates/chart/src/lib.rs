//! Charts as accessible SVG.
//!
//! Values in, text out: the room computes no statistics, reads no file and keeps nothing. Every chart can be read
//! in black and white (shape and word before colour), by a screen reader (title, description, one sentence per
//! point) and as a table ([`control_chart_table`]). All text that comes in is escaped, and values that are not
//! finite are left out of the drawing and named in the table.

mod control;
mod curve;
mod interval;
mod labels;
mod scale;
mod svg;
mod table;
mod text;

pub use control::control_chart;
pub use curve::{Curve, curve_chart};
pub use interval::{Interval, IntervalRow, interval_plot};
pub use labels::{Labels, Layout, Look, Palette};
pub use scale::{Ticks, nice_ticks};
pub use table::{NumberedSignal, TableRow, control_chart_table, numbered_signals};
