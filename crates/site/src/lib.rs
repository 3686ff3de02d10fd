//! The web pages: what the trainer's desk shows, rendered on the server and readable without scripts.
//!
//! The room asks its questions through one trait, [`Desk`], and renders the answers. It knows neither the record
//! book nor the typesetter, computes no figure of its own, and keeps nothing. It listens on loopback addresses
//! only, because there are no accounts yet: whoever can reach a page can read it.
//!
//! A page is one question answered: each file of `pages` is a handler that checks what the address holds, asks
//! the desk once, and lays the answer out. Wording lives in the page; how a figure, a date or a standing looks
//! lives in `parts`, in one place each.

mod address;
mod ask;
mod door;
mod guard;
mod markdown;
mod pages;
mod parts;
mod problem;
mod server;
mod sheet;

pub use door::{About, Desk, DeskError, Paper};
pub use markdown::anchors as method_anchors;
pub use pages::router;
pub use server::{Listening, SiteError, bind, serve};
