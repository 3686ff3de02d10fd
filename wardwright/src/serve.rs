pub mod first;

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;

use site::{Certificates, Doorkeeper as _, TlsFault};

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
    /// Port
    #[arg(long, default_value_t = 8437, value_name = "PORT")]
    port: u16,
    /// Name of a proxy on this machine that encrypts and passes requests on; needs accounts
    #[arg(long, value_name = "NAME", conflicts_with = "tls_certificate")]
    behind: Option<String>,
    /// Certificate in PEM, the program's own first: pages are then encrypted by the program itself
    #[arg(long, value_name = "FILE", requires = "tls_key")]
    tls_certificate: Option<PathBuf>,
    /// Its private key in PEM, which others on this machine must not be able to read
    #[arg(long, value_name = "FILE", requires = "tls_certificate")]
    tls_key: Option<PathBuf>,
    /// Address to listen on, such as 0.0.0.0 for every one of this machine; other than loopback only with a certificate and accounts
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    address: IpAddr,
}

/// How the pages are reached.
#[derive(Debug, Default)]
pub struct WaysIn {
    /// Name of a proxy.
    behind: Option<String>,
    /// Certificate and key.
    tls: Option<(PathBuf, PathBuf)>,
}

pub fn run(args: &ServeArgs) -> ExitCode {
    let only_here = args.behind.is_none() && args.tls_certificate.is_none() && args.address.is_loopback();
    if only_here && first::is_empty(&args.data) {
        return match first::serve(&args.data, SocketAddr::new(args.address, args.port)) {
            Ok(()) => ExitCode::SUCCESS,
            Err(message) => message.give_up(),
        };
    }
    let ways_in =
        WaysIn { behind: args.behind.clone(), tls: args.tls_certificate.clone().zip(args.tls_key.clone()) };
    let address = SocketAddr::new(args.address, args.port);
    let served =
        Folder::open(&args.data).and_then(|folder| serve_desk(DeskOfBook::open(folder)?, address, ways_in));
    match served {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

/// Serves a desk that has been opened already, on this port of the loopback address.
pub fn serve_here(desk: DeskOfBook, port: u16) -> Result<(), Message> {
    serve_desk(desk, SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), port), WaysIn::default())
}

/// Serves a desk until the person at the keyboard stops it. The address is printed once it is taken.
fn serve_desk(desk: DeskOfBook, address: SocketAddr, ways_in: WaysIn) -> Result<(), Message> {
    let certificates = match &ways_in.tls {
        Some((certificate, key)) => {
            Some(Certificates::open(certificate, key).map_err(|fault| tls_message(&fault))?)
        }
        None => None,
    };
    let keeper = Arc::new(DoorkeeperOfFolder::open(Folder::open(desk.folder().path())?, ways_in.behind)?);
    let open_to_others = if keeper.behind().is_some() {
        Some("--behind")
    } else if !address.ip().is_loopback() {
        Some("--address")
    } else {
        None
    };
    if let Some(option) = open_to_others
        && !keeper.has_accounts()
    {
        return Err(Message::new(
            option,
            "a unit without accounts",
            "accounts, because other machines are let in",
            "make the first one with `wardwright accounts add NAME --role administrator`, then serve again",
        ));
    }
    if keeper.behind().is_some() && !address.ip().is_loopback() {
        return Err(Message::new(
            "--address",
            format!("{} together with --behind", address.ip()),
            "a loopback address: what a proxy on this machine says of where requests come from holds only there",
            "leave --address out, or give a certificate in place of --behind",
        ));
    }
    if let Some(host) = keeper.host_to_come_back_to() {
        let certificate = certificates.as_ref().map(Certificates::now);
        let is_reached = match (keeper.behind(), certificate) {
            (Some(name), _) => host.eq_ignore_ascii_case(name),
            (None, Some(certificate)) => certificate.is_for(host),
            (None, None) => {
                let bare = host.rsplit_once(':').map_or(host, |(bare, _)| bare).trim_matches(['[', ']']);
                bare.eq_ignore_ascii_case("localhost")
                    || bare.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
            }
        };
        if !is_reached {
            return Err(Message::new(
                format!("{}: address", crate::provider_file::PROVIDER),
                host,
                "the name these pages are reached by: that of --behind, one of the certificate's, or a loopback address",
                "correct the line, or start the pages the way they are to be reached; the provider sends people back there",
            ));
        }
    }
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(|error| {
        Message::new(
            "web pages",
            error.to_string(),
            "threads to serve them with",
            "close other programs and try again",
        )
    })?;
    let scheme = if certificates.is_some() { "https" } else { "http" };
    let served = runtime.block_on(async {
        let days_left = certificates.as_ref().map(|certificates| certificates.now().days_left());
        let listening = match certificates {
            Some(certificates) => site::bind_encrypted(address, certificates).await?,
            None => site::bind(address).await?,
        };
        if let Some(days) = days_left {
            let soon = if days < 21 { ": renew it" } else { "" };
            say!("Certificate: {days} days left{soon}; a renewed one is taken within a minute");
        }
        if keeper.has_accounts() {
            let asks = Arc::clone(&keeper);
            tokio::task::spawn_blocking(move || asks.look_at_provider());
        }
        let under = if scheme == "https" { "under a name of the certificate; " } else { "" };
        say!("Pages: {scheme}://{}/   ({under}stop with Ctrl-C)", listening.address());
        listening.run(Arc::new(desk), keeper, stopped()).await
    });
    served.map_err(|error| {
        Message::new(
            format!("{scheme}://{address}"),
            error.to_string(),
            "a free port, on a loopback address or with a certificate",
            "stop the other program, or give another port with --port; --port 0 takes any free one",
        )
    })
}

fn tls_message(fault: &TlsFault) -> Message {
    let text = fault.to_string();
    let (place, rest) = text.split_once(": ").unwrap_or(("--tls-certificate", &text));
    let (found, expected) =
        rest.split_once("; expected ").unwrap_or((rest, "a certificate and its key, in PEM"));
    Message::new(
        place,
        found,
        expected,
        "docs/accounts.md says how the two files must be; until then the pages are not served",
    )
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
