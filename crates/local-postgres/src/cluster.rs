use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, kill_process};

use crate::account::Account;
use crate::connection::PORT;
use crate::lock::{Starting, Using};
use crate::postmaster::{self, Found, PidFile, State};
use crate::watchdog::Watchdog;
use crate::{Binaries, Connection, DATABASE, Error, Role, folders};

/// How often to look whether PostgreSQL has got further.
const GLANCE: Duration = Duration::from_millis(5);

/// How long a start may take. Recovery after a crash replays what was written since the last
/// checkpoint, which is minutes on a slow disk.
const START_PATIENCE: Duration = Duration::from_secs(300);

/// How long to retry a start while processes of a killed PostgreSQL are still letting go of
/// its shared memory.
const LETTING_GO_PATIENCE: Duration = Duration::from_secs(15);

/// How long a shutdown that lets PostgreSQL write everything out may take, before one that
/// leaves the rest to recovery.
const STOP_PATIENCE: Duration = Duration::from_secs(60);

/// Who may connect: whoever the folder of the socket lets in. Nobody over a network.
const WHO_MAY_CONNECT: &str = "\
# Written by Leverbook. The socket is in a folder that only the cluster's own user may enter.
local all all trust
";

/// Makes sure that it is our cluster that answers, and that it has its roles and database.
const SET_UP: &str = r"
SELECT current_setting('data_directory') = :'folder' AS ours \gset
\if :ours
SELECT format('CREATE ROLE %I LOGIN NOSUPERUSER NOBYPASSRLS NOCREATEDB NOCREATEROLE', wanted.name)
    FROM unnest(ARRAY[:'owner', :'server']) AS wanted (name)
    WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = wanted.name) \gexec
SELECT format('CREATE DATABASE %I OWNER %I', :'database', :'owner')
    WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = :'database') \gexec
SELECT format('REVOKE ALL ON DATABASE %I FROM PUBLIC; GRANT CONNECT ON DATABASE %I TO %I',
              datname, datname, :'server')
    FROM pg_database
    WHERE datname = :'database' AND NOT has_database_privilege(:'server', oid, 'CONNECT')
       OR datname = :'database' AND has_database_privilege(:'server', oid, 'TEMPORARY') \gexec
\endif
\echo :ours
";

/// How a cluster came to be running.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// The data folder was new: the cluster was made and started.
    Created,
    /// It had been stopped, or killed, and was started.
    Started,
    /// It was running already.
    Adopted,
}

/// What may be lost when the machine fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Durability {
    /// Nothing that was acknowledged.
    Durable,
    /// Everything: it lives as long as the process that opened it.
    Disposable,
}

/// A running private cluster. Dropping it stops PostgreSQL unless another process uses it
/// still; [`Cluster::stop`] does the same and reports what went wrong.
#[derive(Debug)]
pub struct Cluster {
    data: PathBuf,
    folder: PathBuf,
    socket_folder: PathBuf,
    binaries: Binaries,
    origin: Origin,
    durability: Durability,
    /// PostgreSQL, if we started it: it is then ours to take note of when it ends.
    child: Option<Child>,
    /// Present until we have left.
    using: Option<Using>,
    /// Removes the folder of a disposable cluster; dropped after PostgreSQL has stopped.
    _watchdog: Option<Watchdog>,
}

impl Cluster {
    /// Opens the cluster in a data folder: makes it if the folder is new, starts it if it is
    /// not running, adopts it if it is. What was acknowledged survives a crash of anything.
    ///
    /// The data folder may hold other things: the cluster is in `postgres` inside it, beside
    /// its log, its locks and, if the path is short enough, the folder of its socket.
    ///
    /// # Errors
    /// Any [`Error`]; nothing is left running if it fails.
    pub fn open(data: &Path) -> Result<Self, Error> {
        fs::create_dir_all(data).map_err(Error::io("create", data))?;
        Self::open_in(data, Durability::Durable, None)
    }

    /// Opens the same cluster once more, for when its PostgreSQL has ended. Never makes a new one
    /// in its place: an empty book must not take the place of a lost one.
    ///
    /// # Errors
    /// Any [`Error`]; [`Error::Io`] if its folder is gone.
    pub fn open_again(&self) -> Result<Self, Error> {
        fs::metadata(&self.folder).map_err(Error::io("find", &self.folder))?;
        Self::open_in(&self.data, self.durability, None)
    }

    /// Makes a cluster for tests: quick, in memory where there is room, and gone when this
    /// value is dropped or this process ends, however it ends.
    ///
    /// # Errors
    /// Any [`Error`].
    pub fn disposable() -> Result<Self, Error> {
        let data = folders::make_disposable()?;
        let watchdog = Watchdog::over(&data)?;
        // As root, another account must pass through; the folders inside are closed.
        let passable = std::os::unix::fs::PermissionsExt::from_mode(0o711);
        fs::set_permissions(&data, passable).map_err(Error::io("open", &data))?;
        Self::open_in(&data, Durability::Disposable, Some(watchdog))
    }

    fn open_in(
        data: &Path,
        durability: Durability,
        watchdog: Option<Watchdog>,
    ) -> Result<Self, Error> {
        // PostgreSQL and the system tell folders by their real paths.
        let data = fs::canonicalize(data).map_err(Error::io("find", data))?;
        let folder = data.join("postgres");

        let starting = Starting::lock(&data)?;
        let using = Using::lock(&data)?;
        let exists = folder.try_exists().map_err(Error::io("find", &folder))?;
        let account = if exists {
            Account::owning(&folder)?
        } else {
            Account::for_new()?
        };
        account.can_enter(&data)?;
        let binaries = if exists {
            binaries_for(&folder)?
        } else {
            Binaries::find()?
        };
        if !exists {
            initialise(&data, &folder, &binaries, &account, durability)?;
        }

        let left_behind = match postmaster::read(&folder)? {
            Found::Process(file) => file.socket_folder,
            Found::Nothing | Found::Unreadable => None,
        };
        let (origin, child, socket_folder) = match running(&folder)? {
            Some((_, socket_folder)) => (Origin::Adopted, None, socket_folder),
            None => {
                let socket_folder = folders::make_socket_folder(&data, left_behind, account.uid())?;
                account.give(&socket_folder)?;
                let child = start(
                    &data,
                    &folder,
                    &socket_folder,
                    &binaries,
                    &account,
                    durability,
                )?;
                let origin = if exists {
                    Origin::Started
                } else {
                    Origin::Created
                };
                (origin, Some(child), socket_folder)
            }
        };

        // From here on a failure drops the cluster, which stops what was started; the right
        // to do that must be free for it.
        let cluster = Self {
            data,
            folder,
            socket_folder,
            binaries,
            origin,
            durability,
            child,
            using: Some(using),
            _watchdog: watchdog,
        };
        let set_up = cluster.set_up();
        drop(starting);
        set_up.map(|()| cluster)
    }

    /// How to reach Leverbook's database as a role.
    #[must_use]
    pub fn connection(&self, role: Role) -> Connection {
        Connection::new(self.socket_folder.clone(), role, DATABASE)
    }

    /// PostgreSQL's programs, of the version that runs this cluster.
    #[must_use]
    pub fn binaries(&self) -> &Binaries {
        &self.binaries
    }

    /// How the cluster came to be running.
    #[must_use]
    pub fn origin(&self) -> Origin {
        self.origin
    }

    /// The process number of the running PostgreSQL, or `None` if it has ended.
    ///
    /// # Errors
    /// [`Error::Io`] if its pid file cannot be read.
    pub fn process(&self) -> Result<Option<u32>, Error> {
        Ok(alive(&self.folder)?.map(|file| file.pid.as_raw_nonzero().get().unsigned_abs()))
    }

    /// Leaves the cluster, and stops it if nobody else uses it.
    ///
    /// # Errors
    /// [`Error::Unresponsive`] if PostgreSQL does not stop.
    pub fn stop(mut self) -> Result<(), Error> {
        self.leave()
    }

    fn leave(&mut self) -> Result<(), Error> {
        let Some(using) = self.using.take() else {
            return Ok(());
        };
        let starting = Starting::lock(&self.data)?;
        if using.leave(&starting) {
            self.shut_down()?;
        }
        Ok(())
    }

    fn shut_down(&mut self) -> Result<(), Error> {
        if let Some(file) = alive(&self.folder)? {
            let pid = file.pid;
            let stopped = match self.durability {
                Durability::Durable => {
                    self.ends_after(pid, Signal::INT, STOP_PATIENCE)
                        || self.ends_after(pid, Signal::QUIT, STOP_PATIENCE)
                }
                Durability::Disposable => self.ends_after(pid, Signal::QUIT, STOP_PATIENCE),
            };
            if !stopped {
                return Err(Error::Unresponsive {
                    pid: pid.as_raw_nonzero().get(),
                    folder: self.data.clone(),
                    reason: "it was told to stop".to_owned(),
                });
            }
        }
        if !self.socket_folder.starts_with(&self.data) {
            // PostgreSQL has taken its socket away; what is left is an empty folder.
            let _ = fs::remove_dir(&self.socket_folder);
        }
        Ok(())
    }

    /// Signals PostgreSQL and says whether it ended in time.
    fn ends_after(&mut self, pid: Pid, signal: Signal, patience: Duration) -> bool {
        // It may end before the signal arrives, which the loop sees.
        let _ = kill_process(pid, signal);
        let began = Instant::now();
        while began.elapsed() < patience {
            match postmaster::state(pid, &self.folder) {
                State::Ours | State::Unknown => sleep(GLANCE),
                State::Gone | State::Ended | State::Stranger => {
                    if let Some(child) = &mut self.child {
                        let _ = child.try_wait();
                    }
                    return true;
                }
            }
        }
        false
    }

    fn set_up(&self) -> Result<(), Error> {
        let admin = self.connection(Role::Admin).with_database("postgres");
        let mut psql = Command::new(self.binaries.program("psql"));
        without_outside_settings(&mut psql)
            .env("PGCONNECT_TIMEOUT", "10")
            .args(["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1"])
            .arg("-h")
            .arg(admin.socket_folder())
            .args([
                "-p",
                &PORT.to_string(),
                "-U",
                admin.user(),
                "-d",
                admin.database(),
            ])
            .arg("-v")
            .arg(joined("folder=", &self.folder))
            .args(["-v", &format!("owner={}", Role::Owner.name())])
            .args(["-v", &format!("server={}", Role::Server.name())])
            .args(["-v", &format!("database={DATABASE}")])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        let path = self.binaries.program("psql");
        let mut running = psql.spawn().map_err(Error::io("run", &path))?;
        if let Some(mut script) = running.stdin.take() {
            // If it has ended already, its own message says why.
            let _ = script.write_all(SET_UP.as_bytes());
        }
        let output = running
            .wait_with_output()
            .map_err(Error::io("run", &path))?;
        let said = succeeded("psql", &output)?;
        if said.lines().last() == Some("t") {
            return Ok(());
        }
        Err(Error::Unresponsive {
            pid: self.process()?.unwrap_or_default().cast_signed(),
            folder: self.data.clone(),
            reason: "what answers on its socket is another cluster".to_owned(),
        })
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        // Nobody is left to tell; whoever opens the folder next adopts what still runs.
        let _ = self.leave();
    }
}

/// The programs of the version that wrote the data in this folder.
fn binaries_for(folder: &Path) -> Result<Binaries, Error> {
    let path = folder.join("PG_VERSION");
    let text = fs::read_to_string(&path).map_err(Error::io("read", &path))?;
    // Since version 10 the file holds the major version alone.
    let major = text.trim().parse().unwrap_or_default();
    Binaries::find_major(major).ok_or_else(|| Error::OtherMajor {
        folder: folder.to_owned(),
        major,
    })
}

/// Makes a new cluster. It appears under its name only when it is whole.
fn initialise(
    data: &Path,
    folder: &Path,
    binaries: &Binaries,
    account: &Account,
    durability: Durability,
) -> Result<(), Error> {
    let unfinished = data.join("postgres.unfinished");
    match fs::remove_dir_all(&unfinished) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(Error::io("remove", &unfinished)(error));
        }
        _ => {}
    }
    folders::make_private(&unfinished)?;
    account.give(&unfinished)?;

    let program = binaries.program("initdb");
    let mut initdb = account.command(&program);
    // macOS had no C.UTF-8 for long; it is not the same order of letters, but pages sort
    // names by themselves.
    let locale = if cfg!(target_os = "macos") {
        "en_US.UTF-8"
    } else {
        "C.UTF-8"
    };
    without_outside_settings(&mut initdb)
        .args([
            "-E",
            "UTF8",
            "--locale",
            locale,
            "-A",
            "trust",
            "-U",
            Role::Admin.name(),
        ])
        .arg(match durability {
            Durability::Durable => "--data-checksums",
            Durability::Disposable => "--no-sync",
        })
        .arg("-D")
        .arg(&unfinished)
        .current_dir(&unfinished)
        .stdin(Stdio::null());
    let output = initdb.output().map_err(Error::io("run", &program))?;
    succeeded("initdb", &output)?;

    let rules = unfinished.join("pg_hba.conf");
    fs::write(&rules, WHO_MAY_CONNECT).map_err(Error::io("write", &rules))?;
    fs::rename(&unfinished, folder).map_err(Error::io("rename", &unfinished))?;
    if durability == Durability::Durable {
        File::open(data)
            .and_then(|data| data.sync_all())
            .map_err(Error::io("save", data))?;
    }
    Ok(())
}

/// What the pid file says, if the process it names is alive and not known to be another's.
fn alive(folder: &Path) -> Result<Option<PidFile>, Error> {
    let Found::Process(file) = postmaster::read(folder)? else {
        return Ok(None);
    };
    Ok(match postmaster::state(file.pid, folder) {
        State::Ours | State::Unknown => Some(file),
        State::Gone | State::Ended | State::Stranger => None,
    })
}

/// The process and the socket folder of the cluster if it is running. Waits for one that is
/// starting or stopping, and clears away the pid file of one that was killed: PostgreSQL
/// itself would refuse to start if that number belongs to another process by now.
fn running(folder: &Path) -> Result<Option<(Pid, PathBuf)>, Error> {
    let began = Instant::now();
    loop {
        let file = match postmaster::read(folder)? {
            Found::Nothing => return Ok(None),
            Found::Unreadable => return clear_pid_file(folder).map(|()| None),
            Found::Process(file) => file,
        };
        match postmaster::state(file.pid, folder) {
            // One that has ended but keeps its number has let go of everything else, too.
            State::Gone | State::Ended | State::Stranger => {
                return clear_pid_file(folder).map(|()| None);
            }
            State::Ours | State::Unknown => match file.socket_folder {
                Some(socket_folder) if file.ready => return Ok(Some((file.pid, socket_folder))),
                _ if began.elapsed() > START_PATIENCE => {
                    return Err(Error::Unresponsive {
                        pid: file.pid.as_raw_nonzero().get(),
                        folder: folder.to_owned(),
                        reason: "it is neither ready nor gone".to_owned(),
                    });
                }
                _ => {}
            },
        }
        sleep(GLANCE);
    }
}

fn clear_pid_file(folder: &Path) -> Result<(), Error> {
    let path = postmaster::pid_file_of(folder);
    fs::remove_file(&path).map_err(Error::io("remove", &path))
}

/// Starts PostgreSQL and waits until it takes connections.
fn start(
    data: &Path,
    folder: &Path,
    socket_folder: &Path,
    binaries: &Binaries,
    account: &Account,
    durability: Durability,
) -> Result<Child, Error> {
    let log = data.join("postgres.log");
    let began = Instant::now();
    loop {
        // Left by a killed one, and in the way if its process number is taken again.
        for name in [format!(".s.PGSQL.{PORT}"), format!(".s.PGSQL.{PORT}.lock")] {
            let path = socket_folder.join(name);
            match fs::remove_file(&path) {
                Err(error) if error.kind() != ErrorKind::NotFound => {
                    return Err(Error::io("remove", &path)(error));
                }
                _ => {}
            }
        }
        let mut child = spawn(&log, folder, socket_folder, binaries, account, durability)?;
        let Some(message) = wait_until_ready(&mut child, folder, &log)? else {
            return Ok(child);
        };
        let letting_go = message.contains("still in use");
        if !letting_go || began.elapsed() > LETTING_GO_PATIENCE {
            return Err(Error::Program {
                program: "postgres",
                message,
            });
        }
        sleep(GLANCE * 4);
    }
}

fn spawn(
    log: &Path,
    folder: &Path,
    socket_folder: &Path,
    binaries: &Binaries,
    account: &Account,
    durability: Durability,
) -> Result<Child, Error> {
    // One log back is kept, so that it does not grow for ever and yet tells of a crash.
    match fs::rename(log, log.with_extension("log.before")) {
        Err(error) if error.kind() != ErrorKind::NotFound => {
            return Err(Error::io("rename", log)(error));
        }
        _ => {}
    }
    let log_file = File::options()
        .create(true)
        .append(true)
        .mode(0o600)
        .open(log)
        .map_err(Error::io("create", log))?;
    let log_again = log_file.try_clone().map_err(Error::io("open", log))?;

    let program = binaries.program("postgres");
    let mut postgres = account.command(&program);
    without_outside_settings(&mut postgres)
        .arg("-D")
        .arg(folder);
    let set = |postgres: &mut Command, name: &str, value: &str| {
        postgres.arg("-c").arg(format!("{name}={value}"));
    };
    let quoted = [
        OsString::from("unix_socket_directories=\""),
        socket_folder.into(),
        "\"".into(),
    ];
    postgres
        .arg("-c")
        .arg(quoted.into_iter().collect::<OsString>());
    for (name, value) in [
        ("cluster_name", "leverbook"),
        ("listen_addresses", ""),
        ("port", &PORT.to_string()),
        ("unix_socket_permissions", "0700"),
        ("timezone", "UTC"),
        ("log_timezone", "UTC"),
        // Every query is small; compiling it would cost more than running it.
        ("jit", "off"),
        ("log_checkpoints", "off"),
    ] {
        set(&mut postgres, name, value);
    }
    if durability == Durability::Disposable {
        for (name, value) in [
            ("fsync", "off"),
            ("synchronous_commit", "off"),
            ("full_page_writes", "off"),
            ("wal_level", "minimal"),
            ("max_wal_senders", "0"),
            ("max_connections", "300"),
        ] {
            set(&mut postgres, name, value);
        }
    }
    postgres
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(log_file)
        .stderr(log_again)
        // Ctrl-C at a terminal goes to a whole process group; the server must drain first.
        .process_group(0)
        .spawn()
        .map_err(Error::io("run", &program))
}

/// Waits until a just started PostgreSQL takes connections; gives its last words if it ended.
fn wait_until_ready(child: &mut Child, folder: &Path, log: &Path) -> Result<Option<String>, Error> {
    let pid = Pid::from_child(child);
    let began = Instant::now();
    while began.elapsed() < START_PATIENCE {
        if child
            .try_wait()
            .map_err(Error::io("wait for the postgres of", folder))?
            .is_some()
        {
            let text = fs::read(log).map_err(Error::io("read", log))?;
            return Ok(Some(last_words(&String::from_utf8_lossy(&text))));
        }
        match postmaster::read(folder)? {
            Found::Process(file) if file.pid == pid && file.ready => return Ok(None),
            _ => sleep(GLANCE),
        }
    }
    Err(Error::Unresponsive {
        pid: pid.as_raw_nonzero().get(),
        folder: folder.to_owned(),
        reason: format!("it is still starting; see {}", log.display()),
    })
}

/// Keeps settings for other clusters and other languages out of PostgreSQL's programs.
fn without_outside_settings(command: &mut Command) -> &mut Command {
    for (name, _) in std::env::vars_os() {
        if name.as_encoded_bytes().starts_with(b"PG") {
            command.env_remove(name);
        }
    }
    command.env("LC_ALL", "C").env_remove("DATABASE_URL")
}

fn succeeded(program: &'static str, output: &Output) -> Result<String, Error> {
    if output.status.success() {
        return Ok(String::from_utf8_lossy(&output.stdout).into_owned());
    }
    let message = last_words(&String::from_utf8_lossy(&output.stderr));
    Err(Error::Program { program, message })
}

/// The last few lines a program wrote, in one.
fn last_words(text: &str) -> String {
    let lines: Vec<&str> = text
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .collect();
    lines[lines.len().saturating_sub(6)..].join("; ")
}

fn joined(prefix: &str, path: &Path) -> OsString {
    let mut text = OsString::from(prefix);
    text.push(path);
    text
}
