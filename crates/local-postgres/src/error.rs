use std::io;
use std::path::{Path, PathBuf};

/// Why a cluster could not be opened or stopped. Each says in one plain sentence what is
/// wrong and what to do about it.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No PostgreSQL that is new enough was found.
    #[error(
        "PostgreSQL {oldest} or newer was not found on this machine: install your \
         distribution's package (for example \"apt-get install postgresql\"), or put the \
         folder of its \"initdb\" and \"postgres\" programs on PATH{also}",
        oldest = crate::OLDEST_MAJOR,
        also = too_old.as_ref().map_or(String::new(), |old| format!(" (found only {old})"))
    )]
    NoPostgres {
        /// A version that was found and is too old to use.
        too_old: Option<String>,
    },

    /// The data were written by a major version that is not installed.
    #[error(
        "the data in {} were written by PostgreSQL {major}, which is not installed: install \
         PostgreSQL {major} again, or restore a backup into a new data folder",
        folder.display()
    )]
    OtherMajor {
        /// The data folder.
        folder: PathBuf,
        /// The major version that wrote the data.
        major: u32,
    },

    /// PostgreSQL refuses to run as root, and no account to run it as exists.
    #[error(
        "PostgreSQL refuses to run as root, and there is neither a \"postgres\" nor a \
         \"nobody\" account to run it as: create one, or start Leverbook as an ordinary user"
    )]
    NoAccount,

    /// The account that runs PostgreSQL cannot reach the data folder.
    #[error(
        "PostgreSQL runs as \"{account}\", which may not enter {}: set LEVERBOOK_DATA to a \
         folder outside it, such as /var/lib/leverbook",
        closed.display()
    )]
    Closed {
        /// The account PostgreSQL runs as.
        account: String,
        /// The folder on the way that it may not enter.
        closed: PathBuf,
    },

    /// There is neither a `LEVERBOOK_DATA` nor a home folder to derive the data folder from.
    #[error("there is no home folder to keep the data in: set LEVERBOOK_DATA to a folder")]
    NoHome,

    /// Another process kept the folder locked for too long.
    #[error(
        "another Leverbook is starting or stopping the cluster in {} and has not finished: \
         wait for it or end it, then try again",
        folder.display()
    )]
    Locked {
        /// The data folder.
        folder: PathBuf,
    },

    /// A PostgreSQL holds the data folder but does not answer.
    #[error(
        "PostgreSQL process {pid} holds {} but does not answer ({reason}): end that process, \
         then try again",
        folder.display()
    )]
    Unresponsive {
        /// The process that holds the folder.
        pid: i32,
        /// The data folder.
        folder: PathBuf,
        /// What the attempt to talk to it gave.
        reason: String,
    },

    /// One of PostgreSQL's own programs failed.
    #[error("{program} failed: {message}")]
    Program {
        /// The name of the program.
        program: &'static str,
        /// What it wrote last.
        message: String,
    },

    /// The file system or the system refused.
    #[error("cannot {action} {}: {source}", path.display())]
    Io {
        /// What was attempted, as a verb.
        action: &'static str,
        /// The path it was attempted on.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl Error {
    /// Turns an error of the system into one that says what was attempted on which path.
    pub(crate) fn io(action: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Io {
            action,
            path,
            source,
        }
    }
}
