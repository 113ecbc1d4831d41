use sqlx::migrate::Migrator;
use sqlx::postgres::PgConnectOptions;
use sqlx::{ConnectOptions, Connection};

static MIGRATIONS: Migrator = sqlx::migrate!("../../migrations");

/// Makes the server's role where there is none, and lets the login that migrates take it on.
const SERVER_ROLE_READY: &str = "
do $$
begin
    if not exists (select from pg_roles where rolname = 'leverbook_server') then
        create role leverbook_server login nosuperuser nobypassrls nocreatedb nocreaterole;
    end if;
    if not pg_has_role(current_user, 'leverbook_server', 'member')
        and (select rolcreaterole from pg_roles where rolname = current_user)
    then
        execute format('grant leverbook_server to %I', current_user);
    end if;
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
    sqlx::raw_sql(SERVER_ROLE_READY)
        .execute(&mut connection)
        .await
        .map_err(MigrateError::Role)?;
    MIGRATIONS.run(&mut connection).await?;
    connection.close().await.map_err(MigrateError::Unreachable)
}
