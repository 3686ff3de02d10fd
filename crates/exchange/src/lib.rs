//! What comes in and goes out: CSV, XLSX, HL7 v2, FHIR R4, iCalendar, WebVTT and SRT.
//!
//! This room opens no file and reads no clock: it is fed names, bytes and the day.

mod nearest;
mod text;
mod when;

pub mod table;

pub mod laboratory;
pub mod people;
pub mod roster;
pub mod transcript;
