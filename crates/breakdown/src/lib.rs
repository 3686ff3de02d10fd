//! A job broken down: its file format, its checks, its ledgers.
//!
//! This room is pure: text in, a breakdown and its faults out. It opens no file and reads no clock.

mod model;

pub use model::{
    Breakdown, Change, ChangeKind, ItemId, ItemKind, ItemView, JobCode, KeyPoint, KeyPointKind, OrderPair, Step,
    Supply, Version,
};
