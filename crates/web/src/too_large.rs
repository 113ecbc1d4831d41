//! Reads the rest of a body that was refused for its size, so that the refusal arrives.
//!
//! A server that answers and closes while the other side still sends makes that side's system throw
//! away what came (RFC 9112 section 9.6): whoever sent too much would see a broken connection, not why.

use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use http_body::Frame;

/// The most that is read and thrown away. What goes on after it breaks off.
const MOST: usize = 64 * 1024 * 1024;

/// How long it is read for.
const PATIENCE: Duration = Duration::from_secs(20);

/// Around a handler: once it has refused a body as too large, what is still coming is read.
pub(crate) async fn read_the_rest(request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let shared = Shared(Arc::new(Mutex::new(body)));
    let for_handler = Body::new(shared.clone());
    let response = next.run(Request::from_parts(parts, for_handler)).await;
    if response.status() == StatusCode::PAYLOAD_TOO_LARGE {
        // Whether it ended or went on too long, the answer is the same.
        let _ = tokio::time::timeout(PATIENCE, shared.throw_away()).await;
    }
    response
}

/// A body that can still be read when whoever it was handed to has let it go.
#[derive(Clone)]
struct Shared(Arc<Mutex<Body>>);

impl Shared {
    fn body(&self) -> MutexGuard<'_, Body> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    async fn throw_away(mut self) {
        let mut bytes = 0;
        while bytes < MOST {
            let frame = std::future::poll_fn(|context| Pin::new(&mut self).poll_frame(context));
            match frame.await {
                Some(Ok(frame)) => bytes += frame.data_ref().map_or(0, Bytes::len),
                Some(Err(_)) | None => return,
            }
        }
    }
}

impl HttpBody for Shared {
    type Data = <Body as HttpBody>::Data;
    type Error = <Body as HttpBody>::Error;

    fn poll_frame(
        self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Self::Data>, Self::Error>>> {
        Pin::new(&mut *self.body()).poll_frame(context)
    }
}
