//! `wardwright watch`: a folder the laboratory lays its files into.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use ::door::{Found, Watch};
use clap::Args;

use crate::folder::Folder;
use crate::message::{FAULTS, Message, say};

/// Take in what the laboratory lays into a folder, file by file
///
/// A file is taken in when it has not changed between two looks; write it under another name, such as one ending in
/// .part, and rename it when it is whole. Then it is moved to "done" in the same folder, or to "kept-aside" with the
/// reason beside it. Stopped at any moment and started again, it goes on where it was and takes nothing in twice.
#[derive(Debug, Args)]
pub struct WatchArgs {
    /// Folder to watch
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Mapping file: which column is what; messages can be read without one
    #[arg(long, value_name = "FILE.toml")]
    map: Option<PathBuf>,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Staff identifier of the person who answers for what is taken in
    #[arg(long, default_value = "watched-folder", value_name = "ID")]
    by: String,
    /// Seconds between two looks
    #[arg(long, default_value_t = 2.0, value_name = "SECONDS")]
    every: f64,
    /// Take a file in although some of its rows cannot be read
    #[arg(long)]
    with_unread: bool,
    /// Look twice, take in what lies there, and stop
    #[arg(long)]
    once: bool,
    #[command(flatten)]
    keeping: crate::door::Keeping,
}

pub fn run(args: &WatchArgs) -> ExitCode {
    match watch(args) {
        Ok(false) => ExitCode::SUCCESS,
        Ok(true) => ExitCode::from(FAULTS),
        Err(message) => message.give_up(),
    }
}

/// Gives whether anything was kept aside or left.
fn watch(args: &WatchArgs) -> Result<bool, Message> {
    if !(0.05..=86_400.0).contains(&args.every) {
        return Err(Message::new(
            "--every",
            args.every.to_string(),
            "between 0.05 and 86400 seconds",
            "give a number in this range",
        ));
    }
    let folder = Folder::open(&args.data)?;
    let clock = crate::door::clock(&folder);
    let failed = |error: ::door::WatchError| {
        Message::new(
            error.path.display().to_string(),
            error.error.to_string(),
            "a folder whose files may be read and moved",
            "check the name and the permissions; what was taken in is in the book",
        )
    };
    let mut watch = Watch::open(&args.folder, args.with_unread).map_err(failed)?;
    let stop = Arc::new(AtomicBool::new(false));
    if !args.once {
        crate::listen::stop_when_asked(&stop)?;
        say!("Watching: {}   (stop with Ctrl-C)", args.folder.display());
    }
    let mut any_fault = false;
    let mut n_looks = 0;
    while !stop.load(Ordering::Relaxed) {
        // Opened anew for each look, so that a change of the settings or of the mapping holds from the next file on.
        let mut door = crate::door::open(&folder, args.map.as_deref(), &args.by)?;
        if n_looks == 0 {
            args.keeping.forget(&mut door, &folder, &clock())?;
        }
        for found in watch.look(&mut door, &*clock).map_err(failed)? {
            any_fault |= matches!(found, Found::KeptAside { .. } | Found::Left { .. });
            say!("{}", found.line());
        }
        drop(door);
        n_looks += 1;
        if args.once && n_looks == 2 {
            break;
        }
        let until = Instant::now() + Duration::from_secs_f64(args.every);
        while Instant::now() < until && !stop.load(Ordering::Relaxed) {
            std::thread::sleep(crate::listen::PAUSE.min(until.saturating_duration_since(Instant::now())));
        }
    }
    Ok(any_fault)
}
