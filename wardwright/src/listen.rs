//! `wardwright listen`: results from the laboratory's interface, as HL7 v2 messages over MLLP.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use ::door::{Fate, Limits, Listened, News};
use clap::Args;
use exchange::laboratory::acknowledge::Manner;

use crate::folder::Folder;
use crate::message::{Message, say};

/// Listen for the laboratory's results as HL7 v2 messages (ORU^R01 over MLLP)
///
/// Each message is answered once it is on the disk: AA when it is in the book or was there before, AE when it cannot be
/// read and is kept aside, AR when it is not ours or cannot be stored now. MLLP is not encrypted and knows no passwords:
/// without --trusted-network only this machine is listened to. Stop with Ctrl-C: what has come is finished first.
#[derive(Debug, Args)]
pub struct ListenArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Port; 0 takes any free one
    #[arg(long, default_value_t = 2575, value_name = "PORT")]
    port: u16,
    /// Address to listen on
    #[arg(long, default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST), value_name = "ADDRESS")]
    address: IpAddr,
    /// The network of the address is a closed one, or a tunnel ends on this machine: messages arrive readable
    #[arg(long)]
    trusted_network: bool,
    /// Mapping file: local codes and words (docs/mapping.md)
    #[arg(long, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Staff identifier of the person who answers for what the listener takes in
    #[arg(long, default_value = "listener", value_name = "ID")]
    by: String,
    /// Longest message in bytes
    #[arg(long, default_value_t = 4 << 20, value_name = "BYTES")]
    longest: usize,
    /// Most connections at one time
    #[arg(long, default_value_t = 64, value_name = "NUMBER")]
    connections: usize,
    /// Acknowledge as MSH-15 and MSH-16 ask, in place of one acknowledgement for every message
    #[arg(long)]
    as_asked: bool,
    #[command(flatten)]
    keeping: crate::door::Keeping,
}

pub fn run(args: &ListenArgs) -> ExitCode {
    match listen(args) {
        Ok(listened) => {
            say!("{}", summary(&listened));
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn listen(args: &ListenArgs) -> Result<Listened, Message> {
    let address = SocketAddr::new(args.address, args.port);
    if !args.address.is_loopback() && !args.trusted_network {
        return Err(Message::new(
            "--address",
            format!("{}, which other machines can reach", args.address),
            "the loopback address, or --trusted-network beside it",
            "MLLP carries patients' results readable and lets anyone send: end an encrypted tunnel on this machine, or, in a closed network, say so with --trusted-network",
        ));
    }
    let folder = Folder::open(&args.data)?;
    let clock = crate::door::clock(&folder);
    let mut door = crate::door::open(&folder, args.map.as_deref(), &args.by)?;
    let say_book = |error: ::book::BookError| crate::book::message(&error, folder.path());
    let now = clock();
    door.needs_every_set(now.today).map_err(|error| crate::door::message(&error, folder.path()))?;
    args.keeping.forget(&mut door, &folder, &now)?;
    door.store_mut().write_ahead().map_err(say_book)?;
    let taken = |error: std::io::Error| {
        Message::new(
            address.to_string(),
            error.to_string(),
            "a free port on an address of this machine",
            "stop the other program, or give another port with --port; --port 0 takes any free one",
        )
    };
    let listener = TcpListener::bind(address).map_err(taken)?;
    let bound = listener.local_addr().map_err(taken)?;
    let stop = Arc::new(AtomicBool::new(false));
    stop_when_asked(&stop)?;
    say!("Listening: {bound}   (HL7 v2 over MLLP, not encrypted; stop with Ctrl-C)");
    let limits = Limits {
        longest_message: args.longest.clamp(1_024, 1 << 30),
        most_connections: args.connections.max(1),
        manner: if args.as_asked { Manner::AsAsked } else { Manner::Always },
        ..Limits::default()
    };
    let (mut door, listened) =
        ::door::listen(listener, door, limits, clock, Arc::new(|news| tell(&news)), stop).map_err(taken)?;
    match door.store_mut().stop_writing_ahead() {
        // Another program has it open; the last to close makes it one file.
        Err(::book::BookError::Locked { .. }) => Ok(listened),
        other => other.map(|()| listened).map_err(say_book),
    }
}

/// Sets the flag when the person at the keyboard, or the system, asks the program to stop.
pub fn stop_when_asked(stop: &Arc<AtomicBool>) -> Result<(), Message> {
    let failed = |error: std::io::Error| {
        Message::new(
            "listener",
            error.to_string(),
            "a thread that waits for Ctrl-C",
            "close other programs and try again",
        )
    };
    let stop = Arc::clone(stop);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(failed)?;
    std::thread::Builder::new()
        .name("stop".to_owned())
        .spawn(move || {
            runtime.block_on(crate::serve::stopped());
            stop.store(true, Ordering::Relaxed);
        })
        .map(|_| ())
        .map_err(failed)
}

fn tell(news: &News) {
    match news {
        News::Message { from, fate } => {
            let (what, problem) = match fate {
                Fate::KeptAside(problem) => ("kept aside", problem),
                Fate::NotOurs(problem) => ("not ours", problem),
                Fate::NotStored(problem) => ("NOT STORED", problem),
                _ => return,
            };
            eprintln!("{from}: a message was {what}: {}", problem.text);
        }
        News::Closed { from, why } => eprintln!("{from}: connection closed: {why}"),
    }
}

/// Waits a little between looks so that nothing is burnt while nothing comes.
pub const PAUSE: Duration = Duration::from_millis(100);

fn summary(listened: &Listened) -> String {
    let Listened { taken_in, again, others, kept_aside, not_stored, commits } = listened;
    format!(
        "Stopped. {taken_in} messages taken in with {commits} commits, {again} known already, {others} without a blood culture, {kept_aside} kept aside, {not_stored} not stored."
    )
}
