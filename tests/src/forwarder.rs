//! Stands between a browser and the server, on an address that stays: loses requests and answers
//! when it is told to, and puts another server behind itself as if the one before had been killed.

use std::collections::{BTreeSet, VecDeque};
use std::net::SocketAddr;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use leverbook_local_postgres::Role as DatabaseRole;
use leverbook_store::PgConnectOptions;
use leverbook_web::{Clock, Config, assets};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::{Builder, Runtime};

use crate::database::{Database, servers};
use crate::gym::serve_anew;

/// Requests to this folder are for the forwarder, not for the server:
/// `POST /forwarder/{fault}` has it happen to the next request inside a gym, after those before it,
/// `POST /forwarder/clear` takes all of them away, `POST /forwarder/restart` kills the server and
/// starts another, `POST /forwarder/away` and `/forwarder/back` stop and start it,
/// `POST /forwarder/cut-{phone}` and `/forwarder/mend-{phone}` cut one browser off, which has a cookie
/// `phone` with its name, and `POST /forwarder/upgrade` gives the server's files another release, as a
/// new server would.
const CONTROL: &str = "/forwarder/";

/// What can happen to a request on its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fault {
    /// It never reaches the server.
    RequestLost,
    /// The server has dealt with it, but the answer gets lost.
    AnswerLost,
    /// Something before the server answers 500, and the server never sees it.
    Failed,
    /// The server has dealt with it, but 500 is answered.
    FailedAfter,
}

impl Fault {
    fn named(name: &str) -> Option<Self> {
        Some(match name {
            "request-lost" => Self::RequestLost,
            "answer-lost" => Self::AnswerLost,
            "failed" => Self::Failed,
            "failed-after" => Self::FailedAfter,
            _ => return None,
        })
    }
}

const FAILED: &[u8] =
    b"HTTP/1.1 500 Internal Server Error\r\nContent-Length: 0\r\nConnection: close\r\n\r\n";
const GONE: &[u8] = b"HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\nConnection: close\r\n\r\n";
const DONE: &[u8] = b"HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n";

/// A server that can be killed at any moment: everything of it runs on threads of its own.
struct Server {
    address: SocketAddr,
    threads: Option<Runtime>,
}

impl Server {
    async fn start(options: PgConnectOptions, clock: Clock) -> Self {
        let threads = Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
            .expect("a thread for the server");
        let started = threads.spawn(serve_anew(
            options,
            2,
            clock,
            Config::default(),
            std::future::pending(),
        ));
        let address = started.await.expect("a server");
        Self {
            address,
            threads: Some(threads),
        }
    }
}

impl Drop for Server {
    /// Nothing is finished: requests under way and their transactions just end.
    fn drop(&mut self) {
        if let Some(threads) = self.threads.take() {
            threads.shutdown_background();
        }
    }
}

struct Inner {
    options: PgConnectOptions,
    clock: Clock,
    server: tokio::sync::RwLock<Option<Server>>,
    faults: Mutex<VecDeque<Fault>>,
    upgraded: AtomicBool,
    cut_off: Mutex<BTreeSet<String>>,
}

/// The forwarder, with a server of its own behind it.
pub struct Forwarder {
    address: SocketAddr,
    listening: tokio::task::JoinHandle<()>,
}

impl Forwarder {
    /// Starts a server on a database, and itself before it.
    pub async fn before(database: &Database, clock: &Clock) -> Self {
        let (options, clock) = (database.options(DatabaseRole::Server), clock.clone());
        let started = servers().spawn(async move {
            let server = Server::start(options.clone(), clock.clone()).await;
            let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
            let address = listener.local_addr().expect("the port's number");
            let inner = Arc::new(Inner {
                options,
                clock,
                server: tokio::sync::RwLock::new(Some(server)),
                faults: Mutex::default(),
                upgraded: AtomicBool::new(false),
                cut_off: Mutex::default(),
            });
            let listening = tokio::spawn(async move {
                while let Ok((stream, _)) = listener.accept().await {
                    let inner = Arc::clone(&inner);
                    // A connection that breaks is what this is for.
                    tokio::spawn(async move { inner.serve(stream).await.ok() });
                }
            });
            Self { address, listening }
        });
        started.await.expect("a forwarder")
    }

    /// Where it is, for a browser.
    #[must_use]
    pub fn origin(&self) -> String {
        format!("http://{}", self.address)
    }
}

impl Drop for Forwarder {
    fn drop(&mut self) {
        self.listening.abort();
    }
}

impl Inner {
    async fn serve(&self, mut stream: TcpStream) -> std::io::Result<()> {
        stream.set_nodelay(true)?;
        let Some((path, request)) = read(&mut stream).await? else {
            return Ok(());
        };
        if let Some(control) = path.strip_prefix(CONTROL) {
            self.control(control).await;
            return stream.write_all(DONE).await;
        }
        if self.is_cut_off(&request) {
            return Ok(());
        }
        let inside = path.starts_with("/g/");
        let fault = inside
            .then(|| self.faults.lock().expect("the faults").pop_front())
            .flatten();
        if fault == Some(Fault::RequestLost) {
            return Ok(());
        }
        if fault == Some(Fault::Failed) {
            return stream.write_all(FAILED).await;
        }
        let address = self
            .server
            .read()
            .await
            .as_ref()
            .map(|server| server.address);
        let Some(address) = address else {
            return Ok(());
        };
        let release = self.upgraded.load(Ordering::Relaxed).then(releases);
        let request = match &release {
            // The files of the release before are gone, as on a server that has only its own.
            Some((old, _)) if path.contains(old.as_str()) => return stream.write_all(GONE).await,
            Some((old, new)) => replaced(&request, new, old),
            None => request,
        };
        let mut server = TcpStream::connect(address).await?;
        server.set_nodelay(true)?;
        server.write_all(&request).await?;
        let mut answer = Vec::new();
        server.read_to_end(&mut answer).await?;
        if let Some((old, new)) = &release {
            answer = replaced(&answer, old, new);
        }
        match fault {
            Some(Fault::AnswerLost) => Ok(()),
            Some(Fault::FailedAfter) => stream.write_all(FAILED).await,
            _ => stream.write_all(&answer).await,
        }
    }

    fn is_cut_off(&self, request: &[u8]) -> bool {
        let request = String::from_utf8_lossy(request);
        let cut_off = self.cut_off.lock().expect("who is cut off");
        cut_off
            .iter()
            .any(|phone| request.contains(&format!("phone={phone}")))
    }

    async fn control(&self, word: &str) {
        let cut_off = || self.cut_off.lock().expect("who is cut off");
        if let Some(phone) = word.strip_prefix("cut-") {
            cut_off().insert(phone.to_owned());
            return;
        }
        if let Some(phone) = word.strip_prefix("mend-") {
            cut_off().remove(phone);
            return;
        }
        match word {
            "clear" => self.faults.lock().expect("the faults").clear(),
            "upgrade" => self.upgraded.store(true, Ordering::Relaxed),
            "away" => drop(self.server.write().await.take()),
            "restart" | "back" => {
                let mut server = self.server.write().await;
                *server = None;
                *server = Some(Server::start(self.options.clone(), self.clock.clone()).await);
            }
            name => {
                let fault = Fault::named(name).expect("a fault that there is");
                self.faults.lock().expect("the faults").push_back(fault);
            }
        }
    }
}

/// This release, and one of the same length that there is not.
fn releases() -> (String, String) {
    let old = assets::release().to_owned();
    let new = old.chars().rev().collect();
    (old, new)
}

/// Bytes with one text in the place of another of the same length.
fn replaced(bytes: &[u8], from: &str, to: &str) -> Vec<u8> {
    let (from, to) = (from.as_bytes(), to.as_bytes());
    let mut replaced = bytes.to_vec();
    for at in 0..bytes.len().saturating_sub(from.len() - 1) {
        if &bytes[at..at + from.len()] == from {
            replaced[at..at + from.len()].copy_from_slice(to);
        }
    }
    replaced
}

/// A request as it is to be passed on, and its path. Every connection carries one request.
async fn read(stream: &mut TcpStream) -> std::io::Result<Option<(String, Vec<u8>)>> {
    let mut bytes = Vec::new();
    let head_end = loop {
        if let Some(end) = bytes.windows(4).position(|four| four == b"\r\n\r\n") {
            break end + 4;
        }
        if stream.read_buf(&mut bytes).await? == 0 {
            return Ok(None);
        }
    };
    let head = String::from_utf8_lossy(&bytes[..head_end]).into_owned();
    let mut lines = head.split("\r\n");
    let first = lines.next().unwrap_or_default();
    let path = first.split(' ').nth(1).unwrap_or_default().to_owned();
    let mut length = 0;
    let mut passed_on = format!("{first}\r\n");
    for line in lines.filter(|line| !line.is_empty()) {
        let (name, value) = line.split_once(':').unwrap_or((line, ""));
        if name.eq_ignore_ascii_case("content-length") {
            length = value.trim().parse().unwrap_or(0);
        }
        // Answers are read, so they come uncompressed.
        let own = ["connection", "accept-encoding"];
        if !own.iter().any(|own| name.eq_ignore_ascii_case(own)) {
            passed_on.push_str(line);
            passed_on.push_str("\r\n");
        }
    }
    passed_on.push_str("Connection: close\r\n\r\n");
    while bytes.len() < head_end + length {
        if stream.read_buf(&mut bytes).await? == 0 {
            return Ok(None);
        }
    }
    let mut request = passed_on.into_bytes();
    request.extend_from_slice(&bytes[head_end..head_end + length]);
    Ok(Some((path, request)))
}
