//! Makes a disposable cluster vanish when the process that holds it ends, however it ends.
//!
//! A small shell waits for the end of a pipe whose other end only the holder has: the system
//! closes that when the holder dies, even of kill -9. (A "parent death signal" will not do:
//! it is sent when the *thread* that started the child ends, and tests run in threads.)

use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::Error;

/// Ends PostgreSQL at once and removes the folder `$1`, as soon as the pipe ends. Programs
/// that were still writing into the folder make `rm` fail, so it is tried until nothing is left.
const SCRIPT: &str = r#"
cat >/dev/null
if pid=$(head -n 1 "$1/postgres/postmaster.pid" 2>/dev/null) && [ -n "$pid" ]; then
    kill -QUIT "$pid" 2>/dev/null
    tries=0
    while kill -0 "$pid" 2>/dev/null && [ "$tries" -lt 100 ]; do
        sleep 0.05
        tries=$((tries + 1))
    done
fi
tries=0
while { rm -rf "$1" 2>/dev/null; [ -e "$1" ]; } && [ "$tries" -lt 100 ]; do
    sleep 0.05
    tries=$((tries + 1))
done
"#;

/// A watchdog over one folder.
#[derive(Debug)]
pub(crate) struct Watchdog(Child);

impl Watchdog {
    pub(crate) fn over(folder: &Path) -> Result<Self, Error> {
        let shell = Path::new("/bin/sh");
        Command::new(shell)
            .args(["-c", SCRIPT, "leverbook-watchdog"])
            .arg(folder)
            .current_dir("/")
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            // Ctrl-C at a terminal goes to a whole process group; this must outlive it.
            .process_group(0)
            .spawn()
            .map(Self)
            .map_err(Error::io("run", shell))
    }
}

impl Drop for Watchdog {
    fn drop(&mut self) {
        // Closing the pipe is the signal; waiting makes sure the folder is gone.
        drop(self.0.stdin.take());
        let _ = self.0.wait();
    }
}
