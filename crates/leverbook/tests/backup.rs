//! A book is migrated, backed up and restored by the commands an operator types, in a private
//! PostgreSQL and on a server of the operator's own.

use std::path::Path;
use std::process::{Command, Output};

use leverbook_local_postgres::{Cluster, Connection as Way, Role};
use sqlx::postgres::{PgConnectOptions, PgConnection};
use sqlx::{AssertSqlSafe, Connection, query, query_scalar};
use tempfile::{Builder, TempDir};

const GYM: &str = "0192f0c0-0000-7000-8000-000000000001";

/// A folder that the account which runs PostgreSQL may pass through, too.
fn scratch() -> TempDir {
    let open = std::os::unix::fs::PermissionsExt::from_mode(0o755);
    Builder::new().permissions(open).tempdir().unwrap()
}

fn leverbook(arguments: &[&str], variable: (&str, &str)) -> Output {
    Command::new(env!("CARGO_BIN_EXE_leverbook"))
        .args(arguments)
        .env_remove("DATABASE_URL")
        .env_remove("LEVERBOOK_DATA")
        .env(variable.0, variable.1)
        .output()
        .unwrap()
}

fn succeeds(arguments: &[&str], variable: (&str, &str)) -> String {
    let output = leverbook(arguments, variable);
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

/// What it says when it refuses: one line.
fn refuses(arguments: &[&str], variable: (&str, &str)) -> String {
    let output = leverbook(arguments, variable);
    assert!(!output.status.success());
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(said.lines().count(), 1, "{said}");
    said
}

fn url(way: &Way, database: &str) -> String {
    let socket = way.socket_folder().to_str().unwrap().replace('/', "%2F");
    format!(
        "postgres://{}@{socket}:{}/{database}",
        way.user(),
        way.port()
    )
}

async fn connect(way: &Way) -> PgConnection {
    let options = PgConnectOptions::new_without_pgpass()
        .socket(way.socket_folder())
        .port(way.port())
        .username(way.user())
        .database(way.database());
    PgConnection::connect_with(&options).await.unwrap()
}

async fn name_a_gym(way: &Way) {
    let mut connection = connect(way).await;
    let mut tx = connection.begin().await.unwrap();
    sqlx::raw_sql(AssertSqlSafe(format!(
        "set local app.gym_id = '{GYM}';
         insert into gyms values ('{GYM}', 'Quarry Lane Club Hall', 'Europe/Lisbon', now())"
    )))
    .execute(&mut *tx)
    .await
    .unwrap();
    tx.commit().await.unwrap();
}

/// The names of the gyms that the server's role sees, inside a gym's door and outside.
async fn gyms_seen(way: &Way, inside: bool) -> Vec<String> {
    let mut connection = connect(way).await;
    let mut tx = connection.begin().await.unwrap();
    if inside {
        let enter = format!("set local app.gym_id = '{GYM}'");
        query(AssertSqlSafe(enter)).execute(&mut *tx).await.unwrap();
    }
    query_scalar("select name from gyms")
        .fetch_all(&mut *tx)
        .await
        .unwrap()
}

async fn with_server<T>(data: &Path, work: impl AsyncFnOnce(Way) -> T) -> T {
    let folder = data.to_owned();
    let cluster = tokio::task::spawn_blocking(move || Cluster::open(&folder))
        .await
        .unwrap();
    let cluster = cluster.unwrap();
    let done = work(cluster.connection(Role::Server)).await;
    tokio::task::spawn_blocking(|| cluster.stop())
        .await
        .unwrap()
        .unwrap();
    done
}

#[tokio::test]
async fn a_private_book_moves_to_another_folder_whole() {
    let scratch = scratch();
    let [old, new] = ["old", "new"].map(|name| scratch.path().join(name));
    let [old_data, new_data] = [&old, &new].map(|data| ("LEVERBOOK_DATA", data.to_str().unwrap()));
    let file = scratch.path().join("book.backup");
    let file = file.to_str().unwrap();

    succeeds(&["migrate"], old_data);
    succeeds(&["migrate"], old_data);
    with_server(&old, async |way| name_a_gym(&way).await).await;
    succeeds(&["backup", file], old_data);
    let mode = std::os::unix::fs::MetadataExt::mode(&std::fs::metadata(file).unwrap());
    assert_eq!(mode & 0o777, 0o600, "a backup holds health data");
    assert!(refuses(&["backup", file], old_data).contains("exists"));

    succeeds(&["restore", file], new_data);
    with_server(&new, async |way| {
        assert_eq!(gyms_seen(&way, true).await, ["Quarry Lane Club Hall"]);
        assert_eq!(
            gyms_seen(&way, false).await,
            Vec::<String>::new(),
            "the wall stands"
        );
    })
    .await;
    assert!(refuses(&["restore", file], new_data).contains("not empty"));
    succeeds(&["migrate"], new_data);
}

async fn disposable() -> Cluster {
    tokio::task::spawn_blocking(Cluster::disposable)
        .await
        .unwrap()
        .unwrap()
}

async fn do_all(way: &Way, statements: &[&'static str]) {
    let mut connection = connect(&way.clone().with_database("postgres")).await;
    for statement in statements {
        query(*statement).execute(&mut connection).await.unwrap();
    }
}

#[tokio::test]
async fn a_book_on_a_server_of_ones_own_needs_a_login_that_sees_all() {
    let cluster = disposable().await;
    let admin = cluster.connection(Role::Admin);
    do_all(
        &admin,
        &[
            "create role hall login createrole",
            "create database one owner hall",
        ],
    )
    .await;
    let admin_one = url(&admin, "one");
    let hall = admin_one.replace(admin.user(), "hall");
    let scratch = scratch();
    let file = scratch.path().join("book.backup");
    let file = file.to_str().unwrap();

    succeeds(&["migrate"], ("DATABASE_URL", &hall));
    name_a_gym(&cluster.connection(Role::Server).with_database("one")).await;
    assert!(refuses(&["backup", file], ("DATABASE_URL", &hall)).contains("BYPASSRLS"));
    assert!(!Path::new(file).exists());
    succeeds(&["backup", file], ("DATABASE_URL", &admin_one));

    // A server that has never seen a book has no role of ours either.
    let other = disposable().await;
    let other_admin = other.connection(Role::Admin);
    let as_new = [
        "drop database leverbook",
        "drop role leverbook_server",
        "create database two",
    ];
    do_all(&other_admin, &as_new).await;
    succeeds(
        &["restore", file],
        ("DATABASE_URL", &url(&other_admin, "two")),
    );
    let server = other.connection(Role::Server).with_database("two");
    assert_eq!(gyms_seen(&server, true).await, ["Quarry Lane Club Hall"]);
    tokio::task::spawn_blocking(move || drop([cluster, other]))
        .await
        .unwrap();
}
