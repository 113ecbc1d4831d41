//! The application: what every handler may use, and the whole of it as a server.

use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::{from_fn, from_fn_with_state};
use axum::serve::ListenerExt;
use leverbook_store::Store;
use tokio::net::TcpListener;
use tokio::sync::watch;
use tower_http::CompressionLevel;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutLayer;
use uuid::Uuid;

use crate::guard::{Post, guard};
use crate::limits::Limits;
use crate::observe::{self, observe};
use crate::passwords::Passwords;
use crate::too_large::read_the_rest;
use crate::week_mail::{self, Mailer};
use crate::{Clock, Config, assets, day_change, routes};

/// How long requests that are under way may take to end once the server is told to stop.
const DRAIN: Duration = Duration::from_secs(10);

/// How hard pages are compressed, of Brotli's 11: a tenth smaller than by default, still in about a millisecond.
const EFFORT: CompressionLevel = CompressionLevel::Precise(6);

/// What every handler may use. Cheap to clone.
#[derive(Clone)]
pub struct App {
    /// The database.
    pub store: Store,
    /// The one clock.
    pub clock: Clock,
    /// What the operator decided.
    pub config: Arc<Config>,
    /// Hashes and checks passwords.
    pub passwords: Passwords,
    pub(crate) limits: Arc<Limits>,
    pub(crate) mailer: Option<Arc<Mailer>>,
}

impl App {
    /// Puts an application together.
    #[must_use]
    pub fn new(store: Store, clock: Clock, config: Config) -> Self {
        Self {
            store,
            clock,
            config: Arc::new(config),
            passwords: Passwords::new(),
            limits: Arc::new(Limits::new()),
            mailer: None,
        }
    }

    /// Sends mail by this.
    #[must_use]
    pub fn mailing_by(mut self, mailer: Mailer) -> Self {
        self.mailer = Some(Arc::new(mailer));
        self
    }

    /// A new id, in the order of time.
    #[must_use]
    pub fn new_id<T: From<Uuid>>(&self) -> T {
        self.clock.new_id()
    }

    /// Every route behind its guard, and what is around them all.
    pub fn router(&self) -> Router {
        let mut router = Router::new();
        for route in routes::table() {
            let post = Post {
                app: self.clone(),
                who: route.who,
            };
            let mut handler = route.handler;
            if let Some(bytes) = route.body_bytes {
                handler = handler.layer(DefaultBodyLimit::max(bytes));
            }
            let guarded = handler.route_layer(from_fn_with_state(post, guard));
            router = router.route(route.path, guarded);
        }
        router
            .merge(assets::router())
            .fallback(observe::nothing_here)
            .layer(DefaultBodyLimit::max(self.config.form_bytes))
            .layer(CatchPanicLayer::custom(observe::panicked))
            .layer(TimeoutLayer::with_status_code(
                observe::TOO_LONG,
                observe::PATIENCE,
            ))
            .layer(from_fn_with_state(self.clone(), observe))
            .layer(from_fn(read_the_rest))
            .layer(CompressionLayer::new().quality(EFFORT))
            .with_state(self.clone())
    }
}

/// Serves until `stop` comes, then lets what is under way end.
///
/// # Errors
/// If the listener fails.
pub async fn serve(
    listener: TcpListener,
    app: App,
    stop: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()> {
    // Small answers would wait for each other's acknowledgement otherwise.
    let listener = listener.tap_io(|stream| {
        if let Err(error) = stream.set_nodelay(true) {
            tracing::debug!(%error, "cannot set TCP_NODELAY");
        }
    });
    let watching = tokio::spawn(day_change::watch(app.clone()));
    let (enough, told_enough) = watch::channel(false);
    let mailing = tokio::spawn(week_mail::watch(app.clone(), told_enough));
    let (told, stopping) = tokio::sync::oneshot::channel();
    let service = app
        .router()
        .into_make_service_with_connect_info::<SocketAddr>();
    let served = axum::serve(listener, service).with_graceful_shutdown(async move {
        stop.await;
        // The receiver is there until serving has ended.
        let _ = told.send(());
    });
    let overdue = async {
        if stopping.await.is_ok() {
            tokio::time::sleep(DRAIN).await;
        } else {
            std::future::pending::<()>().await;
        }
    };
    let ended = tokio::select! {
        ended = served => ended,
        () = overdue => Ok(()),
    };
    watching.abort();
    drop(enough);
    // A mail that is on its way arrives and is noted, so that it is not sent again.
    if tokio::time::timeout(DRAIN, mailing).await.is_err() {
        tracing::warn!("a mail was not through when the server ended; it is tried again");
    }
    ended
}
