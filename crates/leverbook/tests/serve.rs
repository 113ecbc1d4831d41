//! The server as an operator meets it: started, asked to end, killed, and started again.

use std::io::{BufRead, BufReader, Read};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use leverbook_local_postgres::{Cluster, Connection, Role};
use rustix::process::{Pid, Signal, kill_process, test_kill_process};
use tempfile::{Builder, TempDir};

/// A folder that the account which runs PostgreSQL may pass through, too.
fn scratch() -> TempDir {
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    Builder::new().permissions(open).tempdir().unwrap()
}

fn command(arguments: &[&str], variable: (&str, &str)) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leverbook"));
    command
        .args(arguments)
        .env_remove("DATABASE_URL")
        .env_remove("LEVERBOOK_DATA")
        .env_remove("LEVERBOOK_PUBLIC_URL")
        .env(variable.0, variable.1);
    command
}

struct Server {
    process: Child,
    url: String,
}

impl Server {
    fn start(variable: (&str, &str)) -> Self {
        let began = Instant::now();
        let mut process = command(&["serve", "--bind", "127.0.0.1:0"], variable)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(process.stdout.take().unwrap()).lines();
        let url = lines
            .map(|line| line.unwrap())
            .find_map(|line| {
                line.split(' ')
                    .find(|word| word.starts_with("http://"))
                    .map(str::to_owned)
            })
            .expect("the server says where it is");
        println!("open after {:?}", began.elapsed());
        Self { process, url }
    }

    fn answers(&self) -> bool {
        ureq::get(&self.url)
            .call()
            .is_ok_and(|page| page.status() == 200)
    }

    fn end(mut self, signal: Signal) -> ExitStatus {
        kill_process(Pid::from_child(&self.process), signal).unwrap();
        self.process.wait().unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // Only a test that failed leaves it running.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// The number in the cluster's pid file.
fn postgres_of(data: &Path) -> Option<Pid> {
    let text = std::fs::read_to_string(data.join("postgres/postmaster.pid")).ok()?;
    Pid::from_raw(text.lines().next()?.parse().ok()?)
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let began = Instant::now();
    while !holds() {
        assert!(
            began.elapsed() < Duration::from_secs(30),
            "still not: {what}"
        );
        sleep(Duration::from_millis(20));
    }
}

#[test]
fn asked_to_end_it_ends_with_its_postgres() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    for signal in [Signal::INT, Signal::TERM] {
        let server = Server::start(("LEVERBOOK_DATA", data.to_str().unwrap()));
        assert!(server.answers());
        let postgres = postgres_of(&data).unwrap();
        test_kill_process(postgres).unwrap();
        let status = server.end(signal);
        assert!(status.success(), "{signal:?}: {status}");
        assert!(test_kill_process(postgres).is_err(), "{signal:?}");
        assert_eq!(postgres_of(&data), None);
    }
}

#[test]
fn asked_to_end_while_it_gets_ready_it_leaves_nothing_running() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    let mut process = command(
        &["serve", "--bind", "127.0.0.1:0"],
        ("LEVERBOOK_DATA", data.to_str().unwrap()),
    )
    .spawn()
    .unwrap();
    until("it has begun", || data.exists());
    kill_process(Pid::from_child(&process), Signal::INT).unwrap();
    assert!(process.wait().unwrap().success());
    assert_eq!(postgres_of(&data), None);
}

#[test]
fn killed_it_finds_its_postgres_again() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    let variable = ("LEVERBOOK_DATA", data.to_str().unwrap());
    let first = Server::start(variable);
    let postgres = postgres_of(&data).unwrap();
    first.end(Signal::KILL);
    let adopts = Server::start(variable);
    assert!(adopts.answers());
    assert_eq!(
        postgres_of(&data),
        Some(postgres),
        "the running cluster is adopted"
    );
    adopts.end(Signal::KILL);
    kill_process(postgres, Signal::KILL).unwrap();
    let restarts = Server::start(variable);
    assert!(restarts.answers());
    assert_ne!(postgres_of(&data), Some(postgres));
    assert!(restarts.end(Signal::TERM).success());
}

#[test]
fn it_starts_its_postgres_again_when_that_is_killed() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    let server = Server::start(("LEVERBOOK_DATA", data.to_str().unwrap()));
    let postgres = postgres_of(&data).unwrap();
    kill_process(postgres, Signal::KILL).unwrap();
    until("another PostgreSQL", || {
        postgres_of(&data).is_some_and(|now| now != postgres)
    });
    until("it answers", || server.answers());
    assert!(server.end(Signal::TERM).success());
    assert_eq!(postgres_of(&data), None);
}

#[test]
fn a_port_that_is_taken_is_one_sentence() {
    let scratch = scratch();
    let data = scratch.path().join("data");
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = taken.local_addr().unwrap().to_string();
    let output = command(
        &["serve", "--bind", &address],
        ("LEVERBOOK_DATA", data.to_str().unwrap()),
    )
    .output()
    .unwrap();
    assert!(!output.status.success());
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains(&address) && said.contains("--bind"), "{said}");
    assert!(!data.exists(), "nothing was begun");
}

fn sql(cluster: &Cluster, way: &Connection, statement: &str) {
    let done = Command::new(cluster.binaries().program("psql"))
        .args(["-X", "-q", "-v", "ON_ERROR_STOP=1", "-c", statement, "-h"])
        .arg(way.socket_folder())
        .args(["-U", way.user(), "-d", way.database()])
        .status()
        .unwrap();
    assert!(done.success(), "{statement}");
}

#[test]
fn on_a_server_of_ones_own_it_serves_with_no_more_right_than_it_needs() {
    let cluster = Cluster::disposable().unwrap();
    let admin = cluster.connection(Role::Admin).with_database("postgres");
    let socket = admin.socket_folder().to_str().unwrap().replace('/', "%2F");
    sql(&cluster, &admin, "create role hall login createrole");
    for (login, database) in [("hall", "one"), (admin.user(), "two")] {
        sql(
            &cluster,
            &admin,
            &format!("create database {database} owner {login}"),
        );
        let url = format!("postgres://{login}@{socket}:5432/{database}");
        let server = Server::start(("DATABASE_URL", &url));
        assert!(server.answers(), "{login}");
        assert!(server.end(Signal::INT).success());
    }

    // With such a role every gym would see every other's rows.
    sql(&cluster, &admin, "alter role leverbook_server bypassrls");
    let url = format!("postgres://hall@{socket}:5432/one");
    let mut refused = command(&["serve", "--bind", "127.0.0.1:0"], ("DATABASE_URL", &url))
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    assert!(!refused.wait().unwrap().success());
    let mut said = String::new();
    refused.stderr.unwrap().read_to_string(&mut said).unwrap();
    assert!(said.contains("bypasses row security"), "{said}");
}
