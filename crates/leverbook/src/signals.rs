//! When the operator wants the server to end.

use anyhow::Context;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::watch;

/// Knows whether the server was told to end. Cheap to copy.
#[derive(Debug, Clone)]
pub(crate) struct Ending(watch::Receiver<bool>);

impl Ending {
    /// From now on SIGTERM, and Ctrl-C at a terminal, ask the server to end instead of cutting it
    /// off. A second one ends it at once; its private PostgreSQL is then left for the next start.
    pub(crate) fn listen() -> anyhow::Result<Self> {
        let why = "cannot listen for signals";
        let mut interrupt = signal(SignalKind::interrupt()).context(why)?;
        let mut terminate = signal(SignalKind::terminate()).context(why)?;
        let (tell, told) = watch::channel(false);
        tokio::spawn(async move {
            for asked_before in [false, true] {
                tokio::select! {
                    _ = interrupt.recv() => {}
                    _ = terminate.recv() => {}
                }
                if asked_before {
                    eprintln!("leverbook: asked twice, so ending at once");
                    std::process::exit(1);
                }
                tell.send_replace(true);
            }
        });
        Ok(Self(told))
    }

    /// Waits until the server is told to end.
    pub(crate) async fn asked(mut self) {
        // The sender lives as long as its task, and that as long as the program.
        let _ = self.0.wait_for(|told| *told).await;
    }
}
