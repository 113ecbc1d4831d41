use std::time::Duration;

use leverbook_domain::id::{AccountId, GymId};
use sqlx::pool::PoolConnection;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::{AssertSqlSafe, PgConnection, PgPool, Postgres, Transaction};

use crate::StoreError;

/// The role that every query of the server runs as. It owns nothing and bypasses nothing.
pub const SERVER_ROLE: &str = "leverbook_server";

/// How long a request waits for a free connection before it gives up.
const PATIENCE: Duration = Duration::from_secs(10);

/// The server's connections to PostgreSQL.
#[derive(Debug, Clone)]
pub struct Store {
    pool: PgPool,
}

/// Why the server does not start on this database.
#[derive(Debug, thiserror::Error)]
pub enum ConnectError {
    /// PostgreSQL could not be reached, or refused.
    #[error("cannot use the database as {SERVER_ROLE}; has `leverbook migrate` been run?")]
    Unreachable(#[source] sqlx::Error),
    /// Row security would not hold for this role.
    #[error(
        "the database role {role} {because}, so gyms would not be walled off from each other; \
         give {SERVER_ROLE} no such right"
    )]
    Unsafe {
        /// The role that queries would run as.
        role: String,
        /// What it may do that it must not.
        because: &'static str,
    },
}

impl Store {
    /// Opens at most `connections` connections, whose queries all run as [`SERVER_ROLE`] whoever
    /// logs in: a login that may migrate does not serve with that right.
    ///
    /// # Errors
    /// [`ConnectError`] if PostgreSQL cannot be reached or if row security would not bind the role.
    pub async fn connect(
        options: PgConnectOptions,
        connections: u32,
    ) -> Result<Self, ConnectError> {
        let pool = PgPoolOptions::new()
            .max_connections(connections)
            .acquire_timeout(PATIENCE)
            // A ping on each checkout costs a fifth of the throughput; a dead connection shows
            // itself at its first query.
            .test_before_acquire(false)
            .connect_with(options.options([("role", SERVER_ROLE)]))
            .await
            .map_err(ConnectError::Unreachable)?;
        let store = Self { pool };
        store.refuse_unbound_role().await?;
        Ok(store)
    }

    async fn refuse_unbound_role(&self) -> Result<(), ConnectError> {
        let (role, superuser, bypasses, owns): (String, bool, bool, bool) = sqlx::query_as(
            "select current_user::text, r.rolsuper, r.rolbypassrls, exists (
                 select from pg_class c
                 where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p')
                     and pg_has_role(r.oid, c.relowner, 'usage')
             )
             from pg_roles r where r.rolname = current_user",
        )
        .fetch_one(&self.pool)
        .await
        .map_err(ConnectError::Unreachable)?;
        let because = if superuser {
            "is a superuser"
        } else if bypasses {
            "bypasses row security"
        } else if owns {
            "owns tables"
        } else {
            return Ok(());
        };
        Err(ConnectError::Unsafe { role, because })
    }

    /// The one door to a gym's data: a transaction in which only that gym's rows exist.
    ///
    /// # Errors
    /// [`StoreError::Db`] if no connection is to be had.
    pub async fn enter(&self, gym: GymId, actor: AccountId) -> Result<GymTx, StoreError> {
        // One round trip. Safe to format because a uuid prints as hex digits and dashes only.
        let begin = format!("begin; set local app.gym_id = '{gym}'");
        Ok(GymTx {
            tx: self.pool.begin_with(AssertSqlSafe(begin)).await?,
            gym,
            actor,
        })
    }

    /// A connection for the few tables that are no gym's: accounts and sign-ins. Row security
    /// shows it nothing else.
    ///
    /// # Errors
    /// [`StoreError::Db`] if no connection is to be had.
    pub async fn outside(&self) -> Result<PoolConnection<Postgres>, StoreError> {
        Ok(self.pool.acquire().await?)
    }

    /// Closes all connections; waits for those in use.
    pub async fn close(&self) {
        self.pool.close().await;
    }
}

/// A transaction inside one gym, on behalf of one person. Dropped without [`GymTx::commit`], it is
/// rolled back.
#[derive(Debug)]
pub struct GymTx {
    tx: Transaction<'static, Postgres>,
    gym: GymId,
    actor: AccountId,
}

impl GymTx {
    /// The gym that this transaction sees. Every statement names it.
    #[must_use]
    pub const fn gym(&self) -> GymId {
        self.gym
    }

    /// Who is doing this.
    #[must_use]
    pub const fn actor(&self) -> AccountId {
        self.actor
    }

    /// Goes on in the same transaction on behalf of somebody else, for what several people do and
    /// must be there whole or not at all.
    pub const fn go_on_as(&mut self, actor: AccountId) {
        self.actor = actor;
    }

    /// The connection to run a statement on.
    pub fn conn(&mut self) -> &mut PgConnection {
        &mut self.tx
    }

    /// Makes everything done here lasting.
    ///
    /// # Errors
    /// [`StoreError`] if the database refuses; then nothing was done.
    pub async fn commit(self) -> Result<(), StoreError> {
        Ok(self.tx.commit().await?)
    }
}
