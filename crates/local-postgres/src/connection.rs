use std::path::{Path, PathBuf};

/// The database that holds the book.
pub const DATABASE: &str = "leverbook";

/// The port number in the socket's file name; nothing listens on a network port.
pub(crate) const PORT: u16 = 5432;

/// Who one is inside the cluster.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The cluster's superuser: creates databases, and bypasses row security. For setting up
    /// and for tests, never for serving.
    Admin,
    /// Owns the database and its schema: migrations run as this one.
    Owner,
    /// What the server runs its queries as: owns nothing, bypasses nothing.
    Server,
}

impl Role {
    /// The role's name in PostgreSQL.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Admin => "leverbook_admin",
            Self::Owner => "leverbook_owner",
            Self::Server => "leverbook_server",
        }
    }
}

/// How to reach the cluster. There is no password: whoever may enter the socket's folder is
/// trusted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Connection {
    socket_folder: PathBuf,
    role: Role,
    database: String,
}

impl Connection {
    pub(crate) fn new(socket_folder: PathBuf, role: Role, database: &str) -> Self {
        Self {
            socket_folder,
            role,
            database: database.to_owned(),
        }
    }

    /// The folder of the unix socket: the "host" of a connection.
    #[must_use]
    pub fn socket_folder(&self) -> &Path {
        &self.socket_folder
    }

    /// The number in the socket's file name: the "port" of a connection.
    #[must_use]
    pub fn port(&self) -> u16 {
        PORT
    }

    /// The role to connect as.
    #[must_use]
    pub fn user(&self) -> &'static str {
        self.role.name()
    }

    /// The database to connect to.
    #[must_use]
    pub fn database(&self) -> &str {
        &self.database
    }

    /// The same role's way into another database of the cluster.
    #[must_use]
    pub fn with_database(mut self, database: &str) -> Self {
        database.clone_into(&mut self.database);
        self
    }
}
