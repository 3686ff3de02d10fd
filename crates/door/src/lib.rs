//! The laboratory's door: files and messages into the record book, from the wire, from a folder, or by hand.
//!
//! The doors, in reading order: [`Door`] turns files and messages into sets with verdicts and commits them together
//! with the messages that brought them; [`Fate`] says what became of a message, and with it how it is answered;
//! [`listen`] answers senders on the wire, with the acknowledgement after the commit; [`watch`] takes in
//! what is laid into a folder. [`Seal`] makes what is kept of a message unreadable without the key.
//!
//! This room does input and output but reads no clock and draws no identifiers: it is given a [`Clock`].

mod files;
mod intake;
mod listen;
mod messages;
mod numbers;
mod seal;
mod watch;

pub use files::OfMessages;
pub use intake::{Clock, Door, DoorError, LaboratoryFile, Moment, Terms};
pub use listen::{Limits, Listened, News, Tell, listen};
pub use messages::{Arrival, Fate, KeptAside};
pub use seal::{Seal, SealError};
pub use watch::{Found, Watch, WatchError};
