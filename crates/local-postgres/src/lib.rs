//! A private PostgreSQL cluster: for the first run, where nobody should have to set up a
//! database, and for tests, which use the real thing and throw it away.
//!
//! The cluster is the distribution's own PostgreSQL in a data folder of ours. It listens on a
//! unix socket in a folder only its user may enter, never on the network, and never touches a
//! cluster that is not its own. It survives the program that started it, so that a killed
//! server costs nothing: whoever opens the folder next adopts the running cluster.
//!
//! Several processes may open one data folder at once, for example `serve` and `account add`.
//! They share the cluster, and the last to leave stops it.
//!
//! Everything here blocks; asynchronous callers use a thread for it.
//!
//! ```no_run
//! use leverbook_local_postgres::{Cluster, Role, default_data_folder};
//!
//! let cluster = Cluster::open(&default_data_folder()?)?;
//! let server = cluster.connection(Role::Server);
//! println!("{} port {} as {}", server.socket_folder().display(), server.port(), server.user());
//! cluster.stop()?;
//! # Ok::<(), leverbook_local_postgres::Error>(())
//! ```

mod account;
mod binaries;
mod cluster;
mod connection;
mod error;
mod folders;
mod lock;
mod postmaster;
mod watchdog;

pub use binaries::{Binaries, OLDEST_MAJOR};
pub use cluster::{Cluster, Origin};
pub use connection::{Connection, DATABASE, Role};
pub use error::Error;
pub use folders::default_data_folder;
