//! Ctrl-C and its kin.

/// The signals that end a run in order. Each is listened for from here on, without a gap: one that
/// comes while an event is dealt with is there at the next look.
#[derive(Debug)]
pub(super) struct Signals {
    #[cfg(unix)]
    kinds: Vec<(tokio::signal::unix::Signal, &'static str)>,
    #[cfg(windows)]
    ctrl_c: Option<tokio::signal::windows::CtrlC>,
}

impl Signals {
    #[cfg(unix)]
    pub(super) fn new() -> Self {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [
            (SignalKind::interrupt(), "ended by Ctrl-C"),
            (SignalKind::terminate(), "ended by SIGTERM"),
            (SignalKind::hangup(), "ended by SIGHUP"),
        ];
        let heard = kinds
            .into_iter()
            .filter_map(|(kind, name)| Some((signal(kind).ok()?, name)));
        Self {
            kinds: heard.collect(),
        }
    }

    #[cfg(windows)]
    pub(super) fn new() -> Self {
        Self {
            ctrl_c: tokio::signal::windows::ctrl_c().ok(),
        }
    }

    /// Listens for none: each does what it does to a program that knows none.
    pub(super) fn none() -> Self {
        Self {
            #[cfg(unix)]
            kinds: Vec::new(),
            #[cfg(windows)]
            ctrl_c: None,
        }
    }

    #[cfg(unix)]
    pub(super) async fn next(&mut self) -> &'static str {
        std::future::poll_fn(|context| {
            for (signal, name) in &mut self.kinds {
                if signal.poll_recv(context).is_ready() {
                    return std::task::Poll::Ready(*name);
                }
            }
            std::task::Poll::Pending
        })
        .await
    }

    #[cfg(windows)]
    pub(super) async fn next(&mut self) -> &'static str {
        match &mut self.ctrl_c {
            Some(ctrl_c) => drop(ctrl_c.recv().await),
            None => std::future::pending().await,
        }
        "ended by Ctrl-C"
    }
}
