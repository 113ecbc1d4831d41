//! Where things are kept.

use std::ffi::OsString;
use std::fs::{self, DirBuilder};
use std::io::ErrorKind;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{DirBuilderExt, MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, process};

use rustix::fs::statvfs;
use rustix::process::geteuid;

use crate::Error;
use crate::connection::PORT;

/// The longest path of a socket that every system we run on accepts, in bytes: `sun_path`
/// holds 108 on Linux and 104 on macOS and the BSDs, with the closing zero (unix(7), unix(4)).
const LONGEST_SOCKET_PATH: usize = 103;

/// The room a disposable cluster wants in memory, in bytes; containers often give 64 MB.
const ROOM_FOR_DISPOSABLE: u64 = 1 << 30;

/// The data folder if none is named: `LEVERBOOK_DATA`; else for root `/var/lib/leverbook`,
/// because the unprivileged account that runs PostgreSQL may not enter root's home; else
/// `leverbook` in the user's data folder (`XDG_DATA_HOME`, or `~/.local/share`).
///
/// # Errors
/// [`Error::NoHome`] if the environment names neither.
pub fn default_data_folder() -> Result<PathBuf, Error> {
    data_folder(|name| env::var_os(name), geteuid().is_root())
}

fn data_folder(
    variable: impl Fn(&str) -> Option<OsString>,
    is_root: bool,
) -> Result<PathBuf, Error> {
    let set = |name: &str| {
        variable(name)
            .filter(|value| !value.is_empty())
            .map(PathBuf::from)
    };
    if let Some(folder) = set("LEVERBOOK_DATA") {
        return Ok(folder);
    }
    if is_root {
        return Ok(PathBuf::from("/var/lib/leverbook"));
    }
    // The XDG base directory specification says to ignore a relative path.
    set("XDG_DATA_HOME")
        .filter(|folder| folder.is_absolute())
        .or_else(|| set("HOME").map(|home| home.join(".local/share")))
        .map(|parent| parent.join("leverbook"))
        .ok_or(Error::NoHome)
}

/// Makes a folder that only its owner may enter.
pub(crate) fn make_private(folder: &Path) -> Result<(), Error> {
    DirBuilder::new()
        .mode(0o700)
        .create(folder)
        .map_err(Error::io("create", folder))
}

/// The folder for the cluster's socket: in the data folder, or in the system's folder for
/// temporary files if the path would be too long or PostgreSQL's clients would misread it.
/// One left there by a cluster that was killed is used again, as long as it is `owner`'s.
pub(crate) fn make_socket_folder(
    data: &Path,
    left_behind: Option<PathBuf>,
    owner: u32,
) -> Result<PathBuf, Error> {
    let beside = data.join("socket");
    if fits(&beside) {
        return match make_private(&beside) {
            Err(Error::Io { source, .. }) if source.kind() == ErrorKind::AlreadyExists => {
                let private = fs::Permissions::from_mode(0o700);
                fs::set_permissions(&beside, private).map_err(Error::io("close", &beside))?;
                Ok(beside)
            }
            made => made.map(|()| beside),
        };
    }
    let reusable = left_behind.filter(|folder| {
        fits(folder)
            && fs::symlink_metadata(folder).is_ok_and(|found| {
                found.is_dir() && found.uid() == owner && found.mode() & 0o777 == 0o700
            })
    });
    reusable.map_or_else(|| make_new_private(Path::new("/tmp")), Ok)
}

/// Whether a socket in this folder has a path that is short enough, and none of the
/// characters that separate or quote folders in PostgreSQL's settings.
fn fits(folder: &Path) -> bool {
    let socket = folder.join(format!(".s.PGSQL.{PORT}.lock"));
    let bytes = socket.as_os_str().as_bytes();
    bytes.len() <= LONGEST_SOCKET_PATH
        && folder
            .to_str()
            .is_some_and(|text| !text.contains([',', '"', '\\', '\n', '@']))
}

/// Makes a private folder under a name nobody has yet. Making it fails if somebody was
/// quicker, so nobody can put theirs in our way.
fn make_new_private(parent: &Path) -> Result<PathBuf, Error> {
    static MADE: AtomicU32 = AtomicU32::new(0);
    loop {
        let n = MADE.fetch_add(1, Ordering::Relaxed);
        let folder = parent.join(format!("leverbook-{}-{n}", process::id()));
        match make_private(&folder) {
            Err(Error::Io { source, .. }) if source.kind() == ErrorKind::AlreadyExists => {}
            made => return made.map(|()| folder),
        }
    }
}

/// Makes the folder of a disposable cluster: in memory if there is room, else among the
/// temporary files.
pub(crate) fn make_disposable() -> Result<PathBuf, Error> {
    let memory = Path::new("/dev/shm");
    let roomy = statvfs(memory)
        .is_ok_and(|room| room.f_bavail.saturating_mul(room.f_frsize) >= ROOM_FOR_DISPOSABLE);
    if roomy && let Ok(folder) = make_new_private(memory) {
        return Ok(folder);
    }
    make_new_private(&env::temp_dir())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chosen(variables: &[(&str, &str)], is_root: bool) -> Option<PathBuf> {
        let lookup = |name: &str| {
            variables
                .iter()
                .find(|(key, _)| *key == name)
                .map(|(_, value)| OsString::from(value))
        };
        data_folder(lookup, is_root).ok()
    }

    /// The order for ordinary users is that of the XDG base directory specification 0.8.
    #[test]
    fn the_data_folder_follows_the_environment() {
        let home = ("HOME", "/home/ada");
        let xdg = ("XDG_DATA_HOME", "/data/ada");
        let ours = ("LEVERBOOK_DATA", "/srv/book");
        let path = |text: &str| Some(PathBuf::from(text));
        assert_eq!(
            chosen(&[home], false),
            path("/home/ada/.local/share/leverbook")
        );
        assert_eq!(chosen(&[home, xdg], false), path("/data/ada/leverbook"));
        assert_eq!(chosen(&[home, xdg, ours], false), path("/srv/book"));
        assert_eq!(chosen(&[home, xdg, ours], true), path("/srv/book"));
        assert_eq!(chosen(&[home, xdg], true), path("/var/lib/leverbook"));
        let relative = ("XDG_DATA_HOME", "data");
        assert_eq!(
            chosen(&[home, relative], false),
            path("/home/ada/.local/share/leverbook")
        );
        assert_eq!(
            chosen(&[home, ("LEVERBOOK_DATA", "")], true),
            path("/var/lib/leverbook")
        );
        assert_eq!(chosen(&[], false), None);
    }

    #[test]
    fn a_socket_goes_elsewhere_when_its_path_would_not_do() {
        assert!(fits(Path::new("/var/lib/leverbook/socket")));
        assert!(fits(Path::new("/home/ada/my data/socket")));
        assert!(!fits(Path::new("/home/a,b/socket")));
        assert!(!fits(Path::new(&format!("/{}/socket", "x".repeat(80)))));
    }
}
