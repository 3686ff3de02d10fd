use std::future::IntoFuture;
use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::connect_info::Connected;
use axum::serve::IncomingStream;
use tokio::net::TcpListener;

use crate::door::{Desk, Founder};
use crate::first::router_of_empty;
use crate::keeper::{Doorkeeper, OpenDoor};
use crate::pages::router_for;
use crate::tls::{Certificates, Peer, TlsListener};

/// How long pages under way may take once the program was told to stop.
const LAST_PAGES: Duration = Duration::from_secs(5);

/// Why the pages cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum SiteError {
    /// The address can be reached from other machines.
    #[error(
        "{0} can be reached from other machines, and nothing would be encrypted: give a certificate, or use a loopback \
         address such as 127.0.0.1:{port} with a proxy before it that encrypts", port = .0.port()
    )]
    NotLoopback(SocketAddr),
    /// Another program listens there.
    #[error("another program listens on {0}: stop it, or choose another port (port 0 takes any free one)")]
    InUse(SocketAddr),
    /// The system does not allow it.
    #[error("the system does not allow listening on {0}: choose a port above 1023")]
    NotAllowed(SocketAddr),
    /// The address does not belong to this machine, or the system refused for another reason.
    #[error("cannot listen on {address}: {source}; use 127.0.0.1 and a port above 1023")]
    CannotListen {
        /// Address asked for.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The listening socket failed.
    #[error("serving pages stopped: {0}")]
    Stopped(io::Error),
}

/// A socket that listens and has not been asked for a page yet.
#[derive(Debug)]
pub struct Listening {
    listener: TcpListener,
    address: SocketAddr,
    certificates: Option<Certificates>,
}

/// Takes a loopback address. Any other is refused: passwords and figures must not cross a network in the clear.
pub async fn bind(address: SocketAddr) -> Result<Listening, SiteError> {
    if !address.ip().is_loopback() {
        return Err(SiteError::NotLoopback(address));
    }
    listen(address, None).await
}

/// Takes any address of this machine, for pages that are encrypted with this certificate.
pub async fn bind_encrypted(address: SocketAddr, certificates: Certificates) -> Result<Listening, SiteError> {
    listen(address, Some(certificates)).await
}

async fn listen(address: SocketAddr, certificates: Option<Certificates>) -> Result<Listening, SiteError> {
    let listener = TcpListener::bind(address).await.map_err(|source| match source.kind() {
        io::ErrorKind::AddrInUse => SiteError::InUse(address),
        io::ErrorKind::PermissionDenied => SiteError::NotAllowed(address),
        _ => SiteError::CannotListen { address, source },
    })?;
    let address = listener.local_addr().map_err(|source| SiteError::CannotListen { address, source })?;
    Ok(Listening { listener, address, certificates })
}

impl Listening {
    /// The address taken, with the port the system chose where port 0 was asked for.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Serves pages until `stop` is done; pages under way then get a few seconds.
    pub async fn run(
        self,
        desk: Arc<dyn Desk>,
        keeper: Arc<dyn Doorkeeper>,
        stop: impl Future<Output = ()>,
    ) -> Result<(), SiteError> {
        self.serve(router_for(desk, keeper), stop).await
    }

    /// Serves the page on which a unit is named, and from then on the pages of that unit.
    pub async fn run_empty(
        self,
        founder: Arc<dyn Founder>,
        stop: impl Future<Output = ()>,
    ) -> Result<(), SiteError> {
        self.serve(router_of_empty(founder), stop).await
    }

    async fn serve(self, router: axum::Router, stop: impl Future<Output = ()>) -> Result<(), SiteError> {
        let (told, mut hear) = tokio::sync::watch::channel(());
        let stopped = async move {
            // An error means the sender is gone, which is a reason to stop too.
            let _ = hear.changed().await;
        };
        let pages = router.into_make_service_with_connect_info::<Peer>();
        let serving: Pin<Box<dyn Future<Output = io::Result<()>> + Send>> = match self.certificates {
            None => Box::pin(axum::serve(self.listener, pages).with_graceful_shutdown(stopped).into_future()),
            Some(certificates) => Box::pin(
                axum::serve(TlsListener::new(self.listener, certificates, self.address), pages)
                    .with_graceful_shutdown(stopped)
                    .into_future(),
            ),
        };
        tokio::pin!(serving);
        tokio::select! {
            end = &mut serving => return end.map_err(SiteError::Stopped),
            () = stop => {}
        }
        // Fails only when nobody listens any more, that is when serving has ended by itself.
        let _ = told.send(());
        match tokio::time::timeout(LAST_PAGES, serving).await {
            Ok(end) => end.map_err(SiteError::Stopped),
            Err(_) => Ok(()),
        }
    }
}

impl Connected<IncomingStream<'_, TcpListener>> for Peer {
    fn connect_info(stream: IncomingStream<'_, TcpListener>) -> Peer {
        Peer { address: *stream.remote_addr(), certificate: None }
    }
}

impl Connected<IncomingStream<'_, TlsListener>> for Peer {
    fn connect_info(stream: IncomingStream<'_, TlsListener>) -> Peer {
        stream.remote_addr().clone()
    }
}

/// Serves the pages of a unit without accounts on a loopback address until the program is interrupted.
pub async fn serve(desk: Arc<dyn Desk>, address: SocketAddr) -> Result<(), SiteError> {
    bind(address).await?.run(desk, Arc::new(OpenDoor), interrupted()).await
}

/// Done when the user presses ctrl-c or the system asks the program to end.
async fn interrupted() {
    let ctrl_c = async {
        if tokio::signal::ctrl_c().await.is_err() {
            // Without the signal the program ends the hard way; it must not end at once.
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                () = ctrl_c => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    ctrl_c.await;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn only_loopback_addresses_are_taken() {
        for address in ["0.0.0.0:8080", "192.0.2.1:8080", "[::]:8080"] {
            let refused = bind(address.parse().unwrap()).await.unwrap_err();
            assert!(matches!(refused, SiteError::NotLoopback(_)), "{address}");
            assert!(refused.to_string().contains("127.0.0.1:8080"), "{refused}");
        }
    }

    #[tokio::test]
    async fn a_port_in_use_is_named() {
        let first = bind("127.0.0.1:0".parse().unwrap()).await.unwrap();
        assert_ne!(first.address().port(), 0);
        let second = bind(first.address()).await.unwrap_err();
        assert_eq!(
            second.to_string(),
            format!(
                "another program listens on {}: stop it, or choose another port (port 0 takes any free one)",
                first.address()
            )
        );
    }
}
