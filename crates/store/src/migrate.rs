use sqlx::migrate::Migrator;
use sqlx::postgres::PgConnectOptions;
use sqlx::{ConnectOptions, Connection, PgConnection};

static MIGRATIONS: Migrator = sqlx::migrate!("../../migrations");

/// Makes the server's role where there is none, and lets the login that migrates take it on.
const SERVER_ROLE_READY: &str = "
do $$
begin
    if not exists (select from pg_roles where rolname = 'leverbook_server') then
        create role leverbook_server login nosuperuser nobypassrls nocreatedb nocreaterole;
    end if;
    -- Since PostgreSQL 16 whoever makes a role is its member, but may not take it on without this.
    -- A login that may not grant it was perhaps granted it; the server finds out as it connects.
    begin
        execute format('grant leverbook_server to %I', current_user);
    exception when insufficient_privilege then
        null;
    end;
end
$$";

/// Why the schema could not be brought up to date.
#[derive(Debug, thiserror::Error)]
pub enum MigrateError {
    /// PostgreSQL could not be reached, or refused.
    #[error("cannot reach the database to migrate it")]
    Unreachable(#[source] sqlx::Error),
    /// The server's role is missing and this login may not make it.
    #[error(
        "cannot make the database role leverbook_server; \
         ask a database administrator for `create role leverbook_server login`"
    )]
    Role(#[source] sqlx::Error),
    /// A migration failed; the ones before it are done.
    #[error("a migration failed")]
    Migration(#[from] sqlx::migrate::MigrateError),
}

/// Brings the schema up to date, as the login of `options`, which then owns the tables.
///
/// # Errors
/// [`MigrateError`]; each migration is done wholly or not at all.
pub async fn migrate(options: &PgConnectOptions) -> Result<(), MigrateError> {
    let mut connection = options.connect().await.map_err(MigrateError::Unreachable)?;
    make_server_role(&mut connection).await?;
    MIGRATIONS.run(&mut connection).await?;
    connection.close().await.map_err(MigrateError::Unreachable)
}

/// Makes the role that the server's queries run as, where there is none. A backup names it, so
/// it must be there before one is restored.
///
/// # Errors
/// [`MigrateError::Role`] if it is missing and this login may not make it.
pub async fn make_server_role(connection: &mut PgConnection) -> Result<(), MigrateError> {
    sqlx::raw_sql(SERVER_ROLE_READY)
        .execute(connection)
        .await
        .map(drop)
        .map_err(MigrateError::Role)
}
