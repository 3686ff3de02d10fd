//! Who may sign in, as what, and what each may see.
//!
//! A pure room: the moment, the random bytes and the list of accounts come as arguments; nothing here reads a clock, a
//! file or a socket. What is said of passwords, sessions and failed attempts follows NIST SP 800-63B (revision 4, 2025;
//! its numbers from memory), and the hash is Argon2id (RFC 9106) with the parameters that OWASP's cheat sheet on storing
//! passwords names first for machines without much memory (19 MiB, two passes, one lane; from memory).

mod accounts;
mod attempts;
mod audience;
mod password;
mod role;
mod sessions;

pub use accounts::{Account, AccountFault, AccountName, Accounts, Subject};
pub use attempts::{Attempts, Wait};
pub use audience::{Audience, Whose, may};
pub use password::{PasswordFault, PasswordHash, SALT_BYTES, waste_as_much_time};
pub use role::Role;
pub use sessions::{Sessions, TOKEN_BYTES, Through, Token};
