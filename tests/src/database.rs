use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};

use leverbook_local_postgres::{Cluster, Connection, DATABASE, Role};
use leverbook_store::{PgConnectOptions, Store, migrate};
use sqlx::{AssertSqlSafe, ConnectOptions, Connection as _, PgConnection};
use tokio::runtime::Runtime;
use tokio::sync::OnceCell;

static CLUSTER: OnceLock<Cluster> = OnceLock::new();
static MIGRATED: OnceCell<()> = OnceCell::const_new();
static NUMBER: AtomicU32 = AtomicU32::new(0);
static SERVERS: OnceLock<Runtime> = OnceLock::new();

/// The threads that the servers under test run on. A test's own runtime may block meanwhile.
pub(crate) fn servers() -> &'static Runtime {
    SERVERS.get_or_init(|| Runtime::new().expect("threads for the servers"))
}

fn cluster() -> &'static Cluster {
    CLUSTER.get_or_init(|| Cluster::disposable().expect("a cluster for tests"))
}

fn options(connection: &Connection) -> PgConnectOptions {
    PgConnectOptions::new_without_pgpass()
        .host(&connection.socket_folder().display().to_string())
        .port(connection.port())
        .username(connection.user())
        .database(connection.database())
}

/// A freshly migrated database of its own. It is dropped with this value.
#[derive(Debug)]
pub struct Database {
    name: String,
}

impl Database {
    /// Copies the migrated template.
    pub async fn new() -> Self {
        MIGRATED
            .get_or_init(|| async {
                let owner = options(&cluster().connection(Role::Owner));
                migrate(&owner).await.expect("the migrations run");
            })
            .await;
        let name = format!("test_{}", NUMBER.fetch_add(1, Ordering::Relaxed));
        admin(format!(
            "create database {name} template {DATABASE} strategy file_copy"
        ))
        .await;
        Self { name }
    }

    /// The way in as a role.
    #[must_use]
    pub fn options(&self, role: Role) -> PgConnectOptions {
        options(&cluster().connection(role).with_database(&self.name))
    }

    /// One raw connection as a role, past the application's door.
    pub async fn connect(&self, role: Role) -> PgConnection {
        self.options(role)
            .connect()
            .await
            .expect("a raw connection")
    }

    /// The server's store.
    pub async fn store(&self) -> Store {
        Store::connect(self.options(Role::Server), 4)
            .await
            .expect("the server's role may connect")
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        let name = std::mem::take(&mut self.name);
        servers().spawn(admin(format!("drop database {name} with (force)")));
    }
}

async fn admin(sql: String) {
    let admin = cluster().connection(Role::Admin).with_database("postgres");
    let mut connection = options(&admin)
        .connect()
        .await
        .expect("the cluster's administrator");
    sqlx::raw_sql(AssertSqlSafe(sql))
        .execute(&mut connection)
        .await
        .expect("databases come and go");
    connection.close().await.expect("the connection closes");
}
