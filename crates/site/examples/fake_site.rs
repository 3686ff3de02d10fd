//! Serves the pages over invented people and results, for looking at them.
//!
//! `cargo run -p wardwright-site --example fake_site -- 127.0.0.1:8099 [full|empty|failing]`

#[path = "../tests/fake/mod.rs"]
mod fake;

use std::process::ExitCode;
use std::sync::Arc;

use fake::{Fake, Mood};

#[tokio::main]
async fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let address = arguments.next().unwrap_or_else(|| "127.0.0.1:8099".to_owned());
    let desk = match arguments.next().as_deref() {
        None | Some("full") => Fake::full(),
        Some("empty") => Fake::in_mood(Mood::Empty),
        Some("failing") => Fake::in_mood(Mood::Failing),
        Some(other) => {
            eprintln!("“{other}” is not known: expected full, empty or failing");
            return ExitCode::from(2);
        }
    };
    let Ok(address) = address.parse() else {
        eprintln!("“{address}” is not an address: expected an address and a port such as 127.0.0.1:8099");
        return ExitCode::from(2);
    };
    println!("http://{address}/");
    match site::serve(Arc::new(desk), address).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
