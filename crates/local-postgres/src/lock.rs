//! Who may start or stop the cluster, and who is using it.
//!
//! Both are locks the system drops when a process ends, however it ends. They are let go of
//! by name as well as by closing: a child process that is just being started may for a
//! moment share the open file.

use std::fs::{File, OpenOptions};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::thread::sleep;
use std::time::{Duration, Instant};

use rustix::fs::{FlockOperation, flock};

use crate::Error;

/// How long another process may take to start or stop the cluster before we give up.
const PATIENCE: Duration = Duration::from_secs(120);

/// The right to start or stop the cluster, for one process at a time.
pub(crate) struct Starting(File);

impl Starting {
    /// Waits for the right to start or stop the cluster in this data folder.
    pub(crate) fn lock(folder: &Path) -> Result<Self, Error> {
        let file = open(&folder.join("starting.lock"))?;
        let began = Instant::now();
        while flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
            if began.elapsed() > PATIENCE {
                return Err(Error::Locked {
                    folder: folder.to_owned(),
                });
            }
            sleep(Duration::from_millis(5));
        }
        Ok(Self(file))
    }
}

impl Drop for Starting {
    fn drop(&mut self) {
        // A failure leaves the lock to the closing of the file.
        let _ = flock(&self.0, FlockOperation::Unlock);
    }
}

/// A sign that somebody uses the cluster. Taken and let go of only under [`Starting`].
#[derive(Debug)]
pub(crate) struct Using(File);

impl Using {
    pub(crate) fn lock(folder: &Path) -> Result<Self, Error> {
        let path = folder.join("using.lock");
        let file = open(&path)?;
        flock(&file, FlockOperation::NonBlockingLockShared)
            .map_err(|e| Error::io("lock", &path)(e.into()))?;
        Ok(Self(file))
    }

    /// Leaves, and says whether nobody else is left.
    pub(crate) fn leave(self, _starting: &Starting) -> bool {
        let last = flock(&self.0, FlockOperation::NonBlockingLockExclusive).is_ok();
        let _ = flock(&self.0, FlockOperation::Unlock);
        last
    }
}

fn open(path: &Path) -> Result<File, Error> {
    // Reading is enough to lock: a file that root made serves everybody.
    OpenOptions::new()
        .read(true)
        .open(path)
        .or_else(|_| {
            OpenOptions::new()
                .write(true)
                .create(true)
                .truncate(false)
                .mode(0o644)
                .open(path)
        })
        .map_err(Error::io("open", path))
}
