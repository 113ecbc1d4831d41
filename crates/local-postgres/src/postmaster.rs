//! The process that runs the cluster, as told by its pid file and by the system.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rustix::process::{Pid, test_kill_process};

use crate::Error;

/// What PostgreSQL writes about itself into `postmaster.pid`: its process, and further down
/// the folder of its socket and how far it has got (`src/include/utils/pidfile.h` in
/// PostgreSQL's sources).
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PidFile {
    pub(crate) pid: Pid,
    pub(crate) socket_folder: Option<PathBuf>,
    pub(crate) ready: bool,
}

/// What became of a pid file.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Found {
    Nothing,
    /// There is one, but it does not name a process.
    Unreadable,
    Process(PidFile),
}

pub(crate) fn pid_file_of(cluster: &Path) -> PathBuf {
    cluster.join("postmaster.pid")
}

pub(crate) fn read(cluster: &Path) -> Result<Found, Error> {
    let path = pid_file_of(cluster);
    match fs::read_to_string(&path) {
        Ok(text) => Ok(parse(&text).map_or(Found::Unreadable, Found::Process)),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Found::Nothing),
        Err(error) => Err(Error::io("read", &path)(error)),
    }
}

fn parse(text: &str) -> Option<PidFile> {
    let lines: Vec<&str> = text.lines().collect();
    // PostgreSQL's single-user mode writes its process number as a negative one.
    let pid = Pid::from_raw(lines.first()?.trim().parse::<i32>().ok()?.checked_abs()?)?;
    let socket_folder = lines
        .get(4)
        .filter(|line| !line.is_empty())
        .map(PathBuf::from);
    let ready = lines.get(7).is_some_and(|line| line.trim() == "ready");
    Some(PidFile {
        pid,
        socket_folder,
        ready,
    })
}

/// What a process number stands for now.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum State {
    /// No such process.
    Gone,
    /// It has ended, but its parent has not yet taken note, so its number is still taken.
    Ended,
    /// It is the cluster's.
    Ours,
    /// The number was given to some other process since.
    Stranger,
    /// The system will not tell whose it is: only talking to the cluster can.
    Unknown,
}

/// Looks a process up. A process is the cluster's if it is called `postgres` and works in
/// the cluster's folder, where PostgreSQL goes as it starts.
pub(crate) fn state(pid: Pid, cluster: &Path) -> State {
    if test_kill_process(pid) == Err(rustix::io::Errno::SRCH) {
        return State::Gone;
    }
    let process = PathBuf::from(format!("/proc/{pid}", pid = pid.as_raw_pid()));
    let Ok(stat) = fs::read_to_string(process.join("stat")) else {
        // No such folder on systems without /proc; on others the process has just gone.
        return if Path::new("/proc/self/stat").exists() {
            State::Gone
        } else {
            State::Unknown
        };
    };
    match parse_stat(&stat) {
        Some((_, 'Z' | 'X')) => State::Ended,
        Some(("postgres", _)) => match fs::read_link(process.join("cwd")) {
            Ok(folder) if folder == cluster => State::Ours,
            Ok(_) => State::Stranger,
            Err(_) => State::Unknown,
        },
        _ => State::Stranger,
    }
}

/// The name and the state in `/proc/PID/stat`: `PID (NAME) S …`, where the name may itself
/// hold brackets (proc(5)).
fn parse_stat(text: &str) -> Option<(&str, char)> {
    let (before, after) = text.rsplit_once(')')?;
    let name = before.split_once('(')?.1;
    Some((name, after.trim_start().chars().next()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As PostgreSQL 15 wrote it.
    #[test]
    fn reads_a_pid_file() {
        let text = "4242\n/srv/book/postgres\n1764064000\n5432\n/srv/a book/socket\n\n  \
                    1234567    32768\nready   \n";
        let file = parse(text).unwrap();
        assert_eq!(file.pid.as_raw_pid(), 4242);
        assert_eq!(
            file.socket_folder.as_deref(),
            Some(Path::new("/srv/a book/socket"))
        );
        assert!(file.ready);
        assert!(!parse(&text.replace("ready   ", "stopping")).unwrap().ready);
        assert!(!parse("4242\n/srv/book/postgres\n").unwrap().ready);
        assert_eq!(parse("-77\n").unwrap().pid.as_raw_pid(), 77);
        for unreadable in ["", "\n", "x\n", "0\n", "-2147483648\n"] {
            assert_eq!(parse(unreadable), None, "{unreadable:?}");
        }
    }

    #[test]
    fn reads_a_state() {
        assert_eq!(parse_stat("7 (postgres) S 1 7 7"), Some(("postgres", 'S')));
        assert_eq!(parse_stat("7 (a) b)) Z 1"), Some(("a) b)", 'Z')));
        assert_eq!(parse_stat("7"), None);
    }

    #[test]
    fn tells_ended_and_strange_processes() {
        let cluster = Path::new("/nowhere");
        let ourselves = rustix::process::getpid();
        assert_eq!(state(ourselves, cluster), State::Stranger);

        let mut child = std::process::Command::new("true").spawn().unwrap();
        let pid = Pid::from_child(&child);
        while state(pid, cluster) != State::Ended {
            std::thread::yield_now();
        }
        child.wait().unwrap();
        assert_eq!(state(pid, cluster), State::Gone);
    }
}
