//! Opens a cluster and stays for a minute: the tests kill it, to see what is left behind.
//!
//! The argument is a data folder, or `disposable`.

use std::path::Path;
use std::thread;
use std::time::Duration;

use leverbook_local_postgres::{Cluster, Role};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let hold = std::env::args().nth(1).ok_or("which data folder?")?;
    // Opened in a thread that ends: what belongs to the process must not end with the thread.
    let opened = thread::spawn(move || match hold.as_str() {
        "disposable" => Cluster::disposable(),
        data => Cluster::open(Path::new(data)),
    });
    let cluster = opened.join().map_err(|_| "the thread panicked")??;
    let pid = cluster.process()?.ok_or("no postgres")?;
    let folder = cluster.connection(Role::Admin).socket_folder().to_owned();
    println!("holding {pid} {}", folder.display());
    thread::sleep(Duration::from_secs(60));
    Ok(())
}
