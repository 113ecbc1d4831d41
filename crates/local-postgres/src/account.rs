//! Whom the cluster runs as. PostgreSQL refuses to run as root, so root hands it to an
//! unprivileged account; an ordinary user runs it as themselves.

use std::fs;
use std::os::unix::fs::{MetadataExt, chown};
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::Command;

use rustix::process::geteuid;

use crate::Error;

/// The account the cluster's processes and files belong to.
#[derive(Debug, Clone)]
pub(crate) struct Account {
    /// Its name and numbers if it is another than our own, which only root can arrange.
    other: Option<Other>,
}

#[derive(Debug, Clone)]
struct Other {
    name: String,
    uid: u32,
    gid: u32,
}

impl Account {
    /// The account for a cluster that is yet to be made.
    pub(crate) fn for_new() -> Result<Self, Error> {
        if !geteuid().is_root() {
            return Ok(Self { other: None });
        }
        let accounts = fs::read_to_string("/etc/passwd").unwrap_or_default();
        ["postgres", "nobody"]
            .iter()
            .find_map(|name| parse_accounts(&accounts).find(|other| other.name == *name))
            .map(|other| Self { other: Some(other) })
            .ok_or(Error::NoAccount)
    }

    /// The account that owns the files of an existing cluster.
    pub(crate) fn owning(cluster: &Path) -> Result<Self, Error> {
        let metadata = fs::metadata(cluster).map_err(Error::io("read", cluster))?;
        if !geteuid().is_root() {
            return Ok(Self { other: None });
        }
        let (uid, gid) = (metadata.uid(), metadata.gid());
        if uid == 0 {
            return Self::for_new();
        }
        let accounts = fs::read_to_string("/etc/passwd").unwrap_or_default();
        let name = parse_accounts(&accounts)
            .find(|other| other.uid == uid)
            .map_or_else(|| format!("user {uid}"), |other| other.name);
        Ok(Self {
            other: Some(Other { name, uid, gid }),
        })
    }

    /// The account's number.
    pub(crate) fn uid(&self) -> u32 {
        self.other
            .as_ref()
            .map_or_else(|| geteuid().as_raw(), |other| other.uid)
    }

    /// A command that will run as this account.
    pub(crate) fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        if let Some(other) = &self.other {
            command.uid(other.uid).gid(other.gid);
        }
        command
    }

    /// Gives a file or folder to this account.
    pub(crate) fn give(&self, path: &Path) -> Result<(), Error> {
        match &self.other {
            Some(other) => chown(path, Some(other.uid), Some(other.gid))
                .map_err(Error::io("change the owner of", path)),
            None => Ok(()),
        }
    }

    /// Makes sure that the account may pass through every folder down to this one. The
    /// folder must be absolute and free of links.
    pub(crate) fn can_enter(&self, folder: &Path) -> Result<(), Error> {
        let Some(other) = &self.other else {
            return Ok(());
        };
        for on_the_way in folder.ancestors() {
            let metadata = fs::metadata(on_the_way).map_err(Error::io("read", on_the_way))?;
            let passes = if metadata.uid() == other.uid {
                0o100
            } else if metadata.gid() == other.gid {
                0o010
            } else {
                0o001
            };
            if metadata.mode() & passes == 0 {
                return Err(Error::Closed {
                    account: other.name.clone(),
                    closed: on_the_way.to_owned(),
                });
            }
        }
        Ok(())
    }
}

/// The accounts in the text of `/etc/passwd`: `name:x:uid:gid:…`, as in passwd(5).
fn parse_accounts(text: &str) -> impl Iterator<Item = Other> + '_ {
    text.lines().filter_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?.to_owned();
        let uid = fields.nth(1)?.parse().ok()?;
        let gid = fields.next()?.parse().ok()?;
        Some(Other { name, uid, gid })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_accounts() {
        let text = "root:x:0:0:root:/root:/bin/bash\nbroken\n\
                    nobody:x:65534:65534:nobody:/nonexistent:/usr/sbin/nologin\n";
        let found: Vec<_> = parse_accounts(text)
            .map(|other| (other.name, other.uid, other.gid))
            .collect();
        assert_eq!(
            found,
            [
                ("root".to_owned(), 0, 0),
                ("nobody".to_owned(), 65534, 65534)
            ]
        );
    }
}
