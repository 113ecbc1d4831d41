use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::{env, fs};

use crate::Error;

/// The oldest major version of PostgreSQL that Leverbook runs on.
pub const OLDEST_MAJOR: u32 = 15;

/// The programs without which a private cluster cannot be run.
const NEEDED: [&str; 3] = ["initdb", "postgres", "psql"];

/// Folders that hold PostgreSQL's programs on the distributions we know; `*` stands for any
/// version. Debian and Ubuntu, the PostgreSQL project's own RPMs, Alpine, Homebrew on both
/// kinds of Mac, openSUSE, and a build from source.
const USUAL_FOLDERS: [&str; 8] = [
    "/usr/lib/postgresql/*/bin",
    "/usr/pgsql-*/bin",
    "/usr/libexec/postgresql*",
    "/opt/homebrew/opt/postgresql*/bin",
    "/usr/local/opt/postgresql*/bin",
    "/home/linuxbrew/.linuxbrew/opt/postgresql*/bin",
    "/usr/lib/postgresql*/bin",
    "/usr/local/pgsql/bin",
];

/// The programs of one installed PostgreSQL.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Binaries {
    folder: PathBuf,
    major: u32,
}

impl Binaries {
    /// Finds the newest PostgreSQL on this machine: on `PATH`, where `pg_config` says, and in
    /// the usual folders of the distributions.
    ///
    /// # Errors
    /// [`Error::NoPostgres`] if there is none of version [`OLDEST_MAJOR`] or newer.
    pub fn find() -> Result<Self, Error> {
        let mut installed = Self::installed();
        match installed.pop() {
            Some(newest) if newest.major >= OLDEST_MAJOR => Ok(newest),
            old => Err(Error::NoPostgres {
                too_old: old.map(|old| old.major.to_string()),
            }),
        }
    }

    /// Finds the programs of the major version that wrote existing data; data written by one
    /// cannot be opened by another.
    pub(crate) fn find_major(major: u32) -> Option<Self> {
        Self::installed()
            .into_iter()
            .rfind(|found| found.major == major)
    }

    /// All installed versions, oldest first; of equal ones the first on `PATH` comes last.
    fn installed() -> Vec<Self> {
        let mut folders: Vec<PathBuf> = env::var_os("PATH")
            .map(|path| env::split_paths(&path).collect())
            .unwrap_or_default();
        folders.extend(pg_config_folder());
        folders.extend(USUAL_FOLDERS.iter().flat_map(|pattern| matching(pattern)));

        let mut seen = BTreeSet::new();
        let mut found: Vec<Self> = folders
            .into_iter()
            .filter(|folder| seen.insert(folder.clone()))
            .filter_map(Self::in_folder)
            .collect();
        found.reverse();
        found.sort_by_key(|binaries| binaries.major);
        found
    }

    fn in_folder(folder: PathBuf) -> Option<Self> {
        if !NEEDED.iter().all(|name| folder.join(name).is_file()) {
            return None;
        }
        let said = output(&folder.join("postgres"), &["--version"])?;
        Some(Self {
            major: parse_major(&said)?,
            folder,
        })
    }

    /// The major version, for example 15.
    #[must_use]
    pub fn major(&self) -> u32 {
        self.major
    }

    /// The path of one of PostgreSQL's programs, for example `pg_dump`.
    #[must_use]
    pub fn program(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

fn pg_config_folder() -> Option<PathBuf> {
    output(Path::new("pg_config"), &["--bindir"]).map(|said| PathBuf::from(said.trim()))
}

fn output(program: &Path, arguments: &[&str]) -> Option<String> {
    let output = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .ok()?;
    output
        .status
        .success()
        .then(|| String::from_utf8_lossy(&output.stdout).into_owned())
}

/// The major version in the answer to `postgres --version`, such as
/// `postgres (PostgreSQL) 15.13 (Debian 15.13-0+deb12u1)` or `postgres (PostgreSQL) 18beta1`.
fn parse_major(said: &str) -> Option<u32> {
    let version = said.split_once("(PostgreSQL) ")?.1;
    let digits = version
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(version.len());
    version[..digits].parse().ok()
}

/// The folders that match a pattern with at most one `*` in one of its parts.
fn matching(pattern: &str) -> Vec<PathBuf> {
    let Some((before, after)) = pattern.split_once('*') else {
        return vec![PathBuf::from(pattern)];
    };
    let (parent, prefix) = before.rsplit_once('/').unwrap_or(("", before));
    let rest = after.trim_start_matches('/');
    let Ok(entries) = fs::read_dir(parent) else {
        return Vec::new();
    };
    entries
        .flatten()
        .filter(|entry| starts_with(&entry.file_name(), prefix))
        .map(|entry| entry.path().join(rest))
        .collect()
}

fn starts_with(name: &OsStr, prefix: &str) -> bool {
    name.as_encoded_bytes().starts_with(prefix.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first two lines as printed by Debian's and by the project's own packages, the
    /// others from memory.
    #[test]
    fn reads_the_major_version() {
        let cases = [
            (
                "postgres (PostgreSQL) 15.13 (Debian 15.13-0+deb12u1)\n",
                Some(15),
            ),
            ("postgres (PostgreSQL) 17.5\n", Some(17)),
            ("postgres (PostgreSQL) 18beta1\n", Some(18)),
            ("postgres (PostgreSQL) 9.6.24\n", Some(9)),
            ("something else 15\n", None),
            ("", None),
        ];
        for (said, major) in cases {
            assert_eq!(parse_major(said), major, "{said:?}");
        }
    }

    #[test]
    fn patterns_match_folders_of_any_version() {
        let root = env::temp_dir().join(format!("leverbook-binaries-{}", std::process::id()));
        for name in ["lib/15/bin", "lib/17/bin", "pgsql-16/bin", "other/bin"] {
            fs::create_dir_all(root.join(name)).unwrap();
        }
        let found = |pattern: &str| {
            let mut found = matching(&format!("{}/{pattern}", root.display()));
            found.sort();
            found
        };
        assert_eq!(
            found("lib/*/bin"),
            [root.join("lib/15/bin"), root.join("lib/17/bin")]
        );
        assert_eq!(found("pgsql-*/bin"), [root.join("pgsql-16/bin")]);
        assert_eq!(found("absent-*/bin"), Vec::<PathBuf>::new());
        fs::remove_dir_all(root).unwrap();
    }

    #[test]
    fn finds_one_that_is_new_enough() {
        let found = Binaries::find().unwrap();
        assert!(found.major() >= OLDEST_MAJOR);
        assert_eq!(
            Binaries::find_major(found.major()).unwrap().major(),
            found.major()
        );
        assert_eq!(Binaries::find_major(1), None);
    }
}
