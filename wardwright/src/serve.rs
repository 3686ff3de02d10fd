use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;

use site::Doorkeeper as _;

use crate::desk_of_book::DeskOfBook;
use crate::doorkeeper::DoorkeeperOfFolder;
use crate::folder::Folder;
use crate::message::{Message, say};

/// Serve the pages on this machine
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Port on the loopback address
    #[arg(long, default_value_t = 8437, value_name = "PORT")]
    port: u16,
    /// Name of a proxy on this machine that encrypts and passes requests on; needs accounts
    #[arg(long, value_name = "NAME")]
    behind: Option<String>,
}

pub fn run(args: &ServeArgs) -> ExitCode {
    match Folder::open(&args.data).and_then(|folder| serve(folder, args.port, args.behind.clone())) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

/// Serves a folder's pages until the person at the keyboard stops it.
fn serve(folder: Folder, port: u16, behind: Option<String>) -> Result<(), Message> {
    serve_desk(DeskOfBook::open(folder)?, port, behind)
}

/// Serves a desk that has been opened already. The address is printed once it is taken.
pub fn serve_desk(desk: DeskOfBook, port: u16, behind: Option<String>) -> Result<(), Message> {
    let keeper = DoorkeeperOfFolder::open(Folder::open(desk.folder().path())?, behind)?;
    if keeper.behind().is_some() && !keeper.has_accounts() {
        return Err(Message::new(
            "--behind",
            "a unit without accounts",
            "accounts, because a proxy lets other machines in",
            "make the first one with `wardwright accounts add NAME --role administrator`, then serve again",
        ));
    }
    let address = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(|error| {
        Message::new(
            "web pages",
            error.to_string(),
            "threads to serve them with",
            "close other programs and try again",
        )
    })?;
    let served = runtime.block_on(async {
        let listening = site::bind(address).await?;
        say!("Pages: http://{}/   (stop with Ctrl-C)", listening.address());
        listening.run(Arc::new(desk), Arc::new(keeper), stopped()).await
    });
    served.map_err(|error| {
        Message::new(
            format!("http://{address}"),
            error.to_string(),
            "a free port on this machine's loopback address",
            "stop the other program, or give another port with --port; --port 0 takes any free one",
        )
    })
}

/// Done when the person at the keyboard, or the system, asks the program to stop.
pub async fn stopped() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}
