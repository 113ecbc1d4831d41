//! The life of a private cluster, with real PostgreSQL, real processes and real kills. As
//! root these prove that the cluster runs as somebody else; as anybody else, as themselves.

use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::MetadataExt;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use leverbook_local_postgres::{Cluster, Connection, Error, Origin, Role};
use rustix::process::{Pid, Signal, geteuid, getpgid, kill_process};

/// A folder that is gone after the test.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("leverbook-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir(&folder).unwrap();
        Self(folder)
    }

    fn data(&self) -> PathBuf {
        self.0.join("data")
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn try_sql(cluster: &Cluster, as_whom: &Connection, sql: &str) -> Result<String, String> {
    let output = Command::new(cluster.binaries().program("psql"))
        .args([
            "-X",
            "-q",
            "-A",
            "-t",
            "-v",
            "ON_ERROR_STOP=1",
            "-c",
            sql,
            "-h",
        ])
        .arg(as_whom.socket_folder())
        .args(["-p", &as_whom.port().to_string()])
        .args(["-U", as_whom.user(), "-d", as_whom.database()])
        .output()
        .unwrap();
    if output.status.success() {
        Ok(String::from_utf8(output.stdout).unwrap().trim().to_owned())
    } else {
        Err(String::from_utf8_lossy(&output.stderr).into_owned())
    }
}

fn sql(cluster: &Cluster, role: Role, sql: &str) -> String {
    try_sql(cluster, &cluster.connection(role), sql).unwrap()
}

fn remember(cluster: &Cluster, text: &str) {
    let statement = format!(
        "CREATE TABLE kept (text text); INSERT INTO kept VALUES ('{text}'); \
         GRANT SELECT ON kept TO leverbook_server"
    );
    sql(cluster, Role::Owner, &statement);
}

fn remembered(cluster: &Cluster) -> String {
    sql(cluster, Role::Server, "SELECT text FROM kept")
}

fn process(cluster: &Cluster) -> Pid {
    Pid::from_raw(cluster.process().unwrap().unwrap().cast_signed()).unwrap()
}

fn is_alive(pid: Pid) -> bool {
    fs::read_to_string(format!("/proc/{}/stat", pid.as_raw_nonzero())).is_ok_and(|stat| {
        !stat
            .rsplit(')')
            .next()
            .unwrap()
            .trim_start()
            .starts_with('Z')
    })
}

fn until(what: &str, mut holds: impl FnMut() -> bool) {
    let began = Instant::now();
    while !holds() {
        assert!(
            began.elapsed() < Duration::from_secs(20),
            "still not: {what}"
        );
        sleep(Duration::from_millis(10));
    }
}

/// Another process that opens a cluster and stays, so that it can be killed.
struct Holder(Child);

impl Holder {
    /// Starts it, and gives the number of its postgres and a folder of the cluster as well.
    fn start(hold: &str) -> (Self, Pid, PathBuf) {
        // Cargo builds the examples beside the folder of the tests.
        let tests = std::env::current_exe().unwrap();
        let program = tests
            .parent()
            .unwrap()
            .with_file_name("examples")
            .join("hold");
        let mut child = Command::new(program)
            .arg(hold)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let told = lines
            .map(|line| line.unwrap())
            .find_map(|line| line.split_once("holding ").map(|(_, told)| told.to_owned()))
            .unwrap();
        let (pid, folder) = told.split_once(' ').unwrap();
        (
            Self(child),
            Pid::from_raw(pid.parse().unwrap()).unwrap(),
            PathBuf::from(folder),
        )
    }

    /// As `kill -9` does.
    fn kill(mut self) {
        self.0.kill().unwrap();
        self.0.wait().unwrap();
    }
}

#[test]
fn data_outlive_a_stop_and_a_start() {
    let scratch = Scratch::new("restart");
    let began = Instant::now();
    let cluster = Cluster::open(&scratch.data()).unwrap();
    println!("made and started in {:?}", began.elapsed());
    assert_eq!(cluster.origin(), Origin::Created);
    remember(&cluster, "four clubs");
    let pid = process(&cluster);
    cluster.stop().unwrap();
    assert!(!is_alive(pid));

    let began = Instant::now();
    let cluster = Cluster::open(&scratch.data()).unwrap();
    println!("started again in {:?}", began.elapsed());
    assert_eq!(cluster.origin(), Origin::Started);
    assert_eq!(remembered(&cluster), "four clubs");
    let pid = process(&cluster);
    drop(cluster);
    assert!(!is_alive(pid));
}

#[test]
fn nothing_is_open_to_others() {
    let scratch = Scratch::new("closed");
    let cluster = Cluster::open(&scratch.data()).unwrap();
    let admin = |query| sql(&cluster, Role::Admin, query);
    assert_eq!(admin("SHOW listen_addresses"), "");
    assert_eq!(admin("SHOW fsync"), "on");
    assert_eq!(admin("SHOW data_checksums"), "on");
    assert_eq!(admin("SHOW server_encoding"), "UTF8");
    assert_eq!(
        admin("SELECT count(*) FROM pg_hba_file_rules WHERE type <> 'local'"),
        "0"
    );
    let socket_folder = cluster.connection(Role::Server).socket_folder().to_owned();
    let socket = socket_folder.join(format!(
        ".s.PGSQL.{}",
        cluster.connection(Role::Server).port()
    ));
    for (path, mode) in [
        (socket_folder, 0o700),
        (scratch.data().join("postgres"), 0o700),
    ] {
        assert_eq!(
            fs::metadata(&path).unwrap().mode() & 0o777,
            mode,
            "{}",
            path.display()
        );
    }
    assert_eq!(fs::metadata(socket).unwrap().mode() & 0o777, 0o700);
    // A terminal's Ctrl-C goes to a process group: PostgreSQL must be in one of its own.
    assert_ne!(
        getpgid(Some(process(&cluster))).unwrap(),
        getpgid(None).unwrap()
    );
}

#[test]
fn the_server_role_owns_and_bypasses_nothing() {
    let cluster = Cluster::disposable().unwrap();
    let roles = "SELECT string_agg(concat_ws(' ', rolname, rolsuper, rolbypassrls, rolcreaterole, \
                 rolcreatedb), '; ' ORDER BY rolname) FROM pg_roles WHERE rolname LIKE 'leverbook%'";
    assert_eq!(
        sql(&cluster, Role::Admin, roles),
        "leverbook_admin t t t t; leverbook_owner f f f f; leverbook_server f f f f"
    );
    let owned = "SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = 'leverbook'";
    assert_eq!(sql(&cluster, Role::Server, owned), "leverbook_owner");
    let server = cluster.connection(Role::Server);
    for refused in [
        "CREATE TABLE t ()",
        "CREATE TEMPORARY TABLE t ()",
        "CREATE ROLE r",
    ] {
        let said = try_sql(&cluster, &server, refused).unwrap_err();
        assert!(said.contains("permission denied"), "{refused}: {said}");
    }
}

#[test]
fn a_cluster_whose_server_was_killed_is_adopted() {
    let scratch = Scratch::new("adopt");
    let (holder, pid, _) = Holder::start(scratch.data().to_str().unwrap());
    holder.kill();
    assert!(is_alive(pid), "PostgreSQL outlives the server");

    let began = Instant::now();
    let cluster = Cluster::open(&scratch.data()).unwrap();
    println!("adopted in {:?}", began.elapsed());
    assert_eq!(cluster.origin(), Origin::Adopted);
    assert_eq!(process(&cluster), pid);
    remember(&cluster, "adopted");
    cluster.stop().unwrap();
    assert!(!is_alive(pid));
    assert_eq!(
        remembered(&Cluster::open(&scratch.data()).unwrap()),
        "adopted"
    );
}

#[test]
fn a_killed_postgres_is_started_again() {
    let scratch = Scratch::new("killed");
    let first = Cluster::open(&scratch.data()).unwrap();
    remember(&first, "acknowledged");
    let pid = process(&first);
    kill_process(pid, Signal::KILL).unwrap();
    until("PostgreSQL has ended", || {
        first.process().unwrap().is_none()
    });

    // The first still has to take note of its end: a zombie holds the process number.
    let again = first.open_again().unwrap();
    assert_eq!(again.origin(), Origin::Started);
    assert_ne!(process(&again), pid);
    assert_eq!(remembered(&again), "acknowledged");
    drop(first);
    assert_eq!(remembered(&again), "acknowledged");
}

#[test]
fn a_lost_book_is_not_replaced_by_an_empty_one() {
    let scratch = Scratch::new("lost");
    let cluster = Cluster::open(&scratch.data()).unwrap();
    kill_process(process(&cluster), Signal::KILL).unwrap();
    until("PostgreSQL has ended", || {
        cluster.process().unwrap().is_none()
    });
    fs::rename(scratch.data().join("postgres"), scratch.0.join("elsewhere")).unwrap();
    assert!(matches!(cluster.open_again(), Err(Error::Io { .. })));
    assert!(!scratch.data().join("postgres").exists());

    // Found again, it is opened; PostgreSQL then clears what the killed one left in memory.
    fs::rename(scratch.0.join("elsewhere"), scratch.data().join("postgres")).unwrap();
    assert_eq!(cluster.open_again().unwrap().origin(), Origin::Started);
}

#[test]
fn a_crash_of_both_loses_nothing() {
    let scratch = Scratch::new("both");
    let (holder, pid, _) = Holder::start(scratch.data().to_str().unwrap());
    let beside = Cluster::open(&scratch.data()).unwrap();
    remember(&beside, "twice dead");
    kill_process(pid, Signal::KILL).unwrap();
    holder.kill();
    let began = Instant::now();
    let cluster = Cluster::open(&scratch.data()).unwrap();
    println!("recovered in {:?}", began.elapsed());
    assert_eq!(cluster.origin(), Origin::Started);
    assert_eq!(remembered(&cluster), "twice dead");
}

#[test]
fn a_stale_pid_file_is_seen_through() {
    let scratch = Scratch::new("stale");
    let cluster = Cluster::open(&scratch.data()).unwrap();
    remember(&cluster, "still here");
    let pid_file = scratch.data().join("postgres/postmaster.pid");
    let real = fs::read_to_string(&pid_file).unwrap();
    cluster.stop().unwrap();

    let rest = real.split_once('\n').unwrap().1;
    let ours = std::process::id();
    // A number given to another process since; one that nobody has (the largest is 2^22,
    // proc(5)); a machine that failed before a byte was on the disk.
    for stale in [
        format!("{ours}\n{rest}"),
        format!("4194304\n{rest}"),
        String::new(),
    ] {
        fs::write(&pid_file, &stale).unwrap();
        let cluster = Cluster::open(&scratch.data()).unwrap();
        assert_eq!(cluster.origin(), Origin::Started, "{stale:?}");
        assert_eq!(remembered(&cluster), "still here");
    }
}

#[test]
fn the_last_to_leave_stops_it() {
    let scratch = Scratch::new("shared");
    let server = Cluster::open(&scratch.data()).unwrap();
    let command = Cluster::open(&scratch.data()).unwrap();
    assert_eq!(command.origin(), Origin::Adopted);
    let pid = process(&server);
    assert_eq!(process(&command), pid);
    command.stop().unwrap();
    assert!(
        is_alive(pid),
        "a command that ends leaves the server its cluster"
    );
    let command = Cluster::open(&scratch.data()).unwrap();
    server.stop().unwrap();
    assert_eq!(sql(&command, Role::Server, "SELECT 1"), "1");
    command.stop().unwrap();
    assert!(!is_alive(pid));
}

#[test]
fn two_at_once_make_one_cluster() {
    let scratch = Scratch::new("race");
    let open = || {
        let data = scratch.data();
        std::thread::spawn(move || Cluster::open(&data).unwrap())
    };
    let clusters: Vec<_> = [open(), open(), open()]
        .map(|one| one.join().unwrap())
        .into();
    let made = clusters
        .iter()
        .filter(|one| one.origin() == Origin::Created)
        .count();
    assert_eq!(made, 1);
    assert!(
        clusters
            .iter()
            .all(|one| process(one) == process(&clusters[0]))
    );
}

#[test]
fn it_never_runs_as_root() {
    let scratch = Scratch::new("account");
    let cluster = Cluster::open(&scratch.data()).unwrap();
    let runs_as = fs::metadata(format!("/proc/{}", process(&cluster).as_raw_nonzero())).unwrap();
    let owns = fs::metadata(scratch.data().join("postgres/PG_VERSION")).unwrap();
    assert_eq!(runs_as.uid(), owns.uid());
    assert_ne!(runs_as.uid(), 0);
    if !geteuid().is_root() {
        assert_eq!(runs_as.uid(), geteuid().as_raw());
    }
}

#[test]
fn a_closed_folder_is_named() {
    let scratch = Scratch::new("home");
    let home = scratch.0.join("home");
    fs::create_dir(&home).unwrap();
    let mode = |mode| std::os::unix::fs::PermissionsExt::from_mode(mode);
    // To root this is a home that another account may not enter, to others one they cannot
    // write in.
    fs::set_permissions(&home, mode(if geteuid().is_root() { 0o700 } else { 0o500 })).unwrap();
    let said = Cluster::open(&home.join("data")).unwrap_err();
    if geteuid().is_root() {
        assert!(
            matches!(&said, Error::Closed { closed, .. } if *closed == home),
            "{said}"
        );
        assert!(said.to_string().contains("set LEVERBOOK_DATA"), "{said}");
    } else {
        assert!(
            matches!(&said, Error::Io { path, .. } if path.starts_with(&home)),
            "{said}"
        );
    }
    fs::set_permissions(&home, mode(0o700)).unwrap();
}

#[test]
fn awkward_paths_work() {
    let scratch = Scratch::new("paths");
    let long = "x".repeat(120);
    for (name, beside) in [
        ("with spaces", true),
        ("früh, \"spät\"", false),
        (long.as_str(), false),
    ] {
        let data = scratch.0.join(name);
        let cluster = Cluster::open(&data).unwrap();
        assert_eq!(sql(&cluster, Role::Server, "SELECT 1"), "1", "{name}");
        let socket_folder = cluster.connection(Role::Server).socket_folder().to_owned();
        assert_eq!(
            socket_folder.starts_with(&data),
            beside,
            "{}",
            socket_folder.display()
        );
        cluster.stop().unwrap();
        assert!(
            beside || !socket_folder.exists(),
            "{name}: the folder in /tmp is taken away"
        );
    }
}

#[test]
fn a_killed_cluster_with_a_long_path_keeps_its_socket() {
    let scratch = Scratch::new("long");
    let data = scratch.0.join("y".repeat(120));
    let first = Cluster::open(&data).unwrap();
    let pid = process(&first);
    kill_process(pid, Signal::KILL).unwrap();
    until("PostgreSQL has ended", || {
        first.process().unwrap().is_none()
    });
    let again = Cluster::open(&data).unwrap();
    assert_eq!(
        again.connection(Role::Server),
        first.connection(Role::Server)
    );
    assert_eq!(
        sql(&first, Role::Server, "SELECT 1"),
        "1",
        "an open pool finds its way back"
    );
}

#[test]
fn an_interrupted_making_is_begun_again() {
    let scratch = Scratch::new("half");
    let half = scratch.data().join("postgres.unfinished");
    fs::create_dir_all(half.join("base")).unwrap();
    fs::write(half.join("PG_VERSION"), "15\n").unwrap();
    let cluster = Cluster::open(&scratch.data()).unwrap();
    assert_eq!(cluster.origin(), Origin::Created);
    assert!(!half.exists());
}

#[test]
fn data_of_another_version_are_left_alone() {
    let scratch = Scratch::new("version");
    let folder = scratch.data().join("postgres");
    fs::create_dir_all(&folder).unwrap();
    fs::write(folder.join("PG_VERSION"), "9\n").unwrap();
    let said = Cluster::open(&scratch.data()).unwrap_err();
    assert!(matches!(said, Error::OtherMajor { major: 9, .. }), "{said}");
    assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
}

#[test]
fn a_disposable_cluster_goes_with_its_value() {
    let began = Instant::now();
    let cluster = Cluster::disposable().unwrap();
    println!("disposable in {:?}", began.elapsed());
    assert_eq!(sql(&cluster, Role::Admin, "SHOW fsync"), "off");
    assert_eq!(sql(&cluster, Role::Admin, "SHOW synchronous_commit"), "off");
    assert_eq!(sql(&cluster, Role::Admin, "SHOW full_page_writes"), "off");
    let pid = process(&cluster);
    let folder = cluster
        .connection(Role::Admin)
        .socket_folder()
        .parent()
        .unwrap()
        .to_owned();
    assert!(folder.exists());
    drop(cluster);
    assert!(!folder.exists());
    assert!(!is_alive(pid));
}

#[test]
fn a_disposable_cluster_goes_with_its_process_however_that_ends() {
    for signal in [Signal::KILL, Signal::INT, Signal::TERM] {
        let (holder, pid, socket_folder) = Holder::start("disposable");
        let folder = socket_folder.parent().unwrap();
        assert!(is_alive(pid) && folder.exists());
        if signal == Signal::KILL {
            holder.kill();
        } else {
            let Holder(mut child) = holder;
            kill_process(Pid::from_child(&child), signal).unwrap();
            child.wait().unwrap();
        }
        until("PostgreSQL has ended", || !is_alive(pid));
        until("the folder is gone", || !folder.exists());
    }
}
