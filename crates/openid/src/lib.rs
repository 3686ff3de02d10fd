//! Sign-in with a provider that speaks OpenID Connect: the authorization code flow with PKCE, and nothing else.
//!
//! What is checked stands in pure files, which are given the moment, the random bytes and the answers: the settings, the
//! provider's description ([`Described`]), the ways under way ([`Ways`]), and the ID token. Only [`Provider`] asks over
//! the network, through [`Fetch`]. Nobody is let in here: what comes out is a subject, and the program knows whose it is.
//!
//! Sources: OpenID Connect Core 1.0 (sections 3.1.2 to 3.1.3.7) and Discovery 1.0, RFC 6749, RFC 7636 (PKCE), RFC 7515 to
//! 7519 (tokens and keys), RFC 9207 (`iss` in the answer), RFC 9700 (current practice for OAuth 2.0).

mod described;
mod fault;
mod fetch;
mod keys;
mod provider;
mod settings;
mod token;
mod way;

pub use described::Described;
pub use fault::{Fault, TokenFault};
pub use fetch::{Answer, Fetch, OverHttp};
pub use keys::Keys;
pub use provider::{Came, Provider};
pub use settings::{LONGEST_TEXT, Secret, Settings, SettingsFault};
pub use token::{Expected, Person, check};
pub use way::{RANDOM_BYTES, Started, Way, Ways, challenge};
