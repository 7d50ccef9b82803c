//! The page's own thread: connections in, answers out.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use axum::Router;
use axum::extract::ConnectInfo;
use axum::extract::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tower::ServiceExt as _;

use super::desk::Desk;
use super::door::{Codes, Door};
use super::groups::Groups;
use super::hall::Hall;
use super::places::{Connected, Place, Places};
use super::web::{Web, router};

/// A connection that has not sent a whole head for so long is closed, also between two requests.
const PATIENCE: Duration = Duration::from_secs(10);

/// Threads that read files for viewers, at most.
const READERS: usize = 4;

/// Ports that are tried where the first is taken.
const NEXT_PORTS: u16 = 20;

/// What the page is to do.
#[derive(Debug, Clone)]
pub struct PageSetup {
    /// The folder with the runs.
    pub dir: PathBuf,
    /// The port, or the first of those to try; 0 for any.
    pub port: u16,
    /// For the room, with codes, rather than for this computer alone.
    pub share: bool,
    /// The desk of the session that logs in this program, if one does.
    pub desk: Option<Arc<Desk>>,
}

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// No port could be had.
    #[error("the page cannot listen on port {port}: {source}")]
    Listen {
        /// The port.
        port: u16,
        /// The system's answer.
        source: io::Error,
    },
    /// The system has no random numbers for the codes.
    #[error("no codes can be drawn: {0}")]
    Random(getrandom::Error),
    /// The system gives no thread.
    #[error("the page cannot be started: {0}")]
    Thread(io::Error),
}

/// A page that is served until this is dropped.
#[derive(Debug)]
pub struct Page {
    /// Where it is on this computer: `http://127.0.0.1:8470/`.
    pub here: String,
    /// Where others in the room find it, where it is shared.
    pub there: Option<String>,
    /// This computer is in no network, so that nobody else finds it.
    pub is_alone: bool,
    /// The code for those who look, likewise.
    pub join: Option<String>,
    /// The code for those who act from another computer, likewise.
    pub act: Option<String>,
    stop: watch::Sender<bool>,
    hall: Arc<Hall>,
    threads: Vec<JoinHandle<()>>,
}

impl Page {
    /// Starts to serve.
    ///
    /// # Errors
    /// [`PageError`] if no port can be had, or the system lacks something.
    pub fn start(setup: &PageSetup) -> Result<Self, PageError> {
        let listener = listen(setup)?;
        let port = listener.local_addr().map_err(PageError::Thread)?.port();
        let codes = setup
            .share
            .then(Codes::draw)
            .transpose()
            .map_err(PageError::Random)?;
        let own = own_address();
        let there = setup.share.then(|| format!("http://{own}:{port}/"));
        let (stop, stopped) = watch::channel(false);
        let hall = Hall::new(&setup.dir, setup.desk.clone());
        let web = Arc::new(Web {
            hall: Arc::clone(&hall),
            door: Door::new(codes.clone(), own_names()),
            groups: Groups::default(),
            address: there.clone().unwrap_or_default(),
            stop: stopped.clone(),
            correcting: Semaphore::new(1),
        });
        let watched = Arc::clone(&hall);
        let watching = thread("page-files", move || watched.watch())?;
        let serving = thread("page", move || serve(listener, web, stopped))?;
        Ok(Self {
            here: format!("http://127.0.0.1:{port}/"),
            is_alone: own.is_loopback(),
            there,
            join: codes.as_ref().map(|c| c.join.clone()),
            act: codes.map(|c| c.act),
            stop,
            hall,
            threads: vec![watching, serving],
        })
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        self.hall.stop();
        let _ = self.stop.send(true);
        for thread in self.threads.drain(..) {
            let _ = thread.join();
        }
    }
}

fn thread(name: &str, work: impl FnOnce() + Send + 'static) -> Result<JoinHandle<()>, PageError> {
    std::thread::Builder::new()
        .name(name.into())
        .spawn(work)
        .map_err(PageError::Thread)
}

fn listen(setup: &PageSetup) -> Result<std::net::TcpListener, PageError> {
    let ip = if setup.share {
        Ipv4Addr::UNSPECIFIED
    } else {
        Ipv4Addr::LOCALHOST
    };
    let failed = |source| PageError::Listen {
        port: setup.port,
        source,
    };
    let last = if setup.port == 0 {
        0
    } else {
        setup.port.saturating_add(NEXT_PORTS)
    };
    let mut ports = setup.port..=last;
    let listener = loop {
        let Some(port) = ports.next() else {
            return Err(failed(io::ErrorKind::AddrInUse.into()));
        };
        match std::net::TcpListener::bind((ip, port)) {
            Ok(listener) => break listener,
            Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
            Err(error) => return Err(failed(error)),
        }
    };
    listener.set_nonblocking(true).map_err(failed)?;
    Ok(listener)
}

/// This computer's address in the room: that from which it would send outwards. Nothing is sent.
fn own_address() -> IpAddr {
    let look = || -> io::Result<IpAddr> {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        // An address that is kept for documentation (RFC 5737).
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        Ok(socket.local_addr()?.ip())
    };
    look().unwrap_or(Ipv4Addr::LOCALHOST.into())
}

/// This computer's own names.
#[cfg(unix)]
fn own_names() -> Vec<String> {
    let name = rustix::system::uname()
        .nodename()
        .to_string_lossy()
        .into_owned();
    vec![format!("{name}.local"), name]
}

/// This computer's own names.
#[cfg(not(unix))]
fn own_names() -> Vec<String> {
    std::env::var("COMPUTERNAME").into_iter().collect()
}

/// Serves until told to stop. For a thread of its own.
fn serve(listener: std::net::TcpListener, web: Arc<Web>, stop: watch::Receiver<bool>) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(READERS)
        .build();
    let runtime = match runtime {
        Ok(runtime) => runtime,
        Err(error) => {
            tracing::error!(%error, "the page cannot be served");
            return;
        }
    };
    runtime.block_on(accept(listener, router(web), stop));
    runtime.shutdown_background();
}

async fn accept(listener: std::net::TcpListener, router: Router, mut stop: watch::Receiver<bool>) {
    let listener = match TcpListener::from_std(listener) {
        Ok(listener) => listener,
        Err(error) => {
            tracing::error!(%error, "the page cannot be served");
            return;
        }
    };
    let places = Places::new();
    loop {
        let accepted = tokio::select! {
            _ = stop.wait_for(|stop| *stop) => return,
            accepted = listener.accept() => accepted,
        };
        match accepted {
            Ok((stream, peer)) => {
                let asked = Arc::new(AtomicBool::new(false));
                let who = Connected {
                    ip: peer.ip().to_canonical(),
                    asked: Arc::clone(&asked),
                };
                // Where there is no place the connection is closed at once: nobody waits behind it.
                if let Some(place) = places.connect(who) {
                    let router = router.clone();
                    tokio::spawn(connection((stream, peer), router, asked, place));
                }
            }
            Err(error) => {
                // No files left, most likely: others get theirs back meanwhile.
                tracing::warn!(%error, "a viewer could not be let in");
                tokio::time::sleep(Duration::from_millis(200)).await;
            }
        }
    }
}

async fn connection(
    (stream, peer): (TcpStream, SocketAddr),
    router: Router,
    asked: Arc<AtomicBool>,
    place: Place<Connected>,
) {
    let _ = stream.set_nodelay(true);
    let service = router.map_request(move |mut request: Request<Incoming>| {
        asked.store(true, Ordering::Relaxed);
        request.extensions_mut().insert(ConnectInfo(peer));
        request.map(axum::body::Body::new)
    });
    let serving = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_buf_size(16 * 1024)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
    let result = tokio::select! {
        result = serving => result,
        () = place.ended() => return,
    };
    if let Err(error) = result {
        tracing::debug!(%error, %peer, "a viewer's connection ended");
    }
}
