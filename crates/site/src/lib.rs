//! The web pages: what the trainer's desk shows, rendered on the server, readable and writable without scripts.
//!
//! The room asks its questions through one trait, [`Desk`], and renders the answers. It knows neither the record
//! book nor the typesetter, computes no figure of its own, and keeps nothing. It listens on loopback addresses
//! only where the unit has no accounts: whoever can reach a page can then read it. With accounts, `entrance` decides in one
//! place who may ask for what.
//!
//! What is written goes through the same trait: a form carries the identifier of the entry it will become and a secret
//! that only these pages know, and comes back with what was typed when it is refused.
//!
//! A page is one question answered: each file of `pages` is a handler that checks what the address holds, asks
//! the desk once, and lays the answer out. Wording lives in the page; how a figure, a date or a standing looks
//! lives in `parts`, in one place each.

mod address;
mod ask;
mod at_once;
mod door;
mod entrance;
mod first;
mod form;
mod guard;
mod keeper;
mod markdown;
mod packed;
mod pages;
mod parts;
mod problem;
mod server;
mod sheet;
mod tls;
mod ways;
mod words;

pub use door::{
    About, AfterDesk, AwayDesk, Beginning, CollectionAnswer, CollectionDesk, CorrectDesk, Correctable,
    Correction, Desk, DeskError, Draft, Founder, HandedIn, HeardFrom, Keeping, KeptPlanPage, ObserveDesk,
    Older, Opened, PairsDesk, Paper, PeopleRead, PersonRead, PlanAsked, PlanDesk, Proposed, Publication,
    PublishedDesk, Reading, Recording, Refusal, ReleaseDesk, StartDesk, TranscriptDesk,
};
pub use entrance::addresses;
pub use first::router_of_empty;
pub use keeper::{
    AccountChange, AccountRow, AccountsPage, Administration, AtProvider, ChangeNote, Changed, Doorkeeper,
    FromProvider, OpenDoor, SignIn, Stranger, View, ViewsAsked, ViewsPage,
};
pub use markdown::anchors as method_anchors;
pub use pages::{router, router_for};
pub use server::{Listening, SiteError, bind, bind_encrypted, serve};
pub use tls::{Certificate, Certificates, TlsFault};
