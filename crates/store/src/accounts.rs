//! Accounts: who can sign in. They are no gym's; what somebody may do is in each gym's own
//! [`people`](crate::people).

use leverbook_domain::id::{AccountId, GymId};
use leverbook_domain::units::UnitSystem;
use sqlx::{FromRow, PgConnection};
use time::OffsetDateTime;
use uuid::Uuid;

use crate::{StoreError, touched};

/// The constraint that refuses a second account with the same email address.
pub const EMAIL_ONCE: &str = "accounts_email_once";

/// Somebody who can sign in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Their id.
    pub id: AccountId,
    /// In lower case.
    pub email: String,
    /// What to call them.
    pub name: String,
    /// The units they read and write.
    pub units: UnitSystem,
}

/// An account with what is needed to let somebody in.
#[derive(Debug, Clone)]
pub struct Lock {
    /// Whose.
    pub account: Account,
    /// The password's hash, as a PHC string.
    pub password_hash: String,
    /// Nobody gets in while it is disabled.
    pub disabled: bool,
}

#[derive(FromRow)]
pub(crate) struct Row {
    account_id: Uuid,
    email: String,
    name: String,
    units: String,
}

impl TryFrom<Row> for Account {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let units = UnitSystem::from_word(&row.units)
            .ok_or_else(|| StoreError::corrupt("accounts", row.account_id, "units"))?;
        Ok(Self {
            id: AccountId(row.account_id),
            email: row.email,
            name: row.name,
            units,
        })
    }
}

#[derive(FromRow)]
struct LockRow {
    #[sqlx(flatten)]
    account: Row,
    password_hash: String,
    disabled: bool,
}

/// How an address is stored and compared: trimmed, in lower case.
#[must_use]
pub fn normal_email(typed: &str) -> String {
    typed.trim().to_lowercase()
}

/// Makes an account.
///
/// # Errors
/// [`StoreError::Constraint`] with [`EMAIL_ONCE`] if the address is taken.
pub async fn create(
    outside: &mut PgConnection,
    account: &Account,
    password_hash: &str,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "insert into accounts (account_id, email, name, units, password_hash, created_at)
         values ($1, $2, $3, $4, $5, $6)",
    )
    .bind(account.id.0)
    .bind(normal_email(&account.email))
    .bind(&account.name)
    .bind(account.units.word())
    .bind(password_hash)
    .bind(now)
    .execute(outside)
    .await?;
    Ok(())
}

/// The account with an address, and its lock.
///
/// # Errors
/// [`StoreError::NotFound`] if nobody has that address.
pub async fn by_email(outside: &mut PgConnection, email: &str) -> Result<Lock, StoreError> {
    let row: LockRow = sqlx::query_as(
        "select account_id, email, name, units, password_hash,
             disabled_at is not null as disabled
         from accounts where email = $1",
    )
    .bind(normal_email(email))
    .fetch_one(outside)
    .await?;
    lock(row)
}

/// An account and its lock.
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn by_id(outside: &mut PgConnection, account: AccountId) -> Result<Lock, StoreError> {
    let row: LockRow = sqlx::query_as(
        "select account_id, email, name, units, password_hash,
             disabled_at is not null as disabled
         from accounts where account_id = $1",
    )
    .bind(account.0)
    .fetch_one(outside)
    .await?;
    lock(row)
}

fn lock(row: LockRow) -> Result<Lock, StoreError> {
    Ok(Lock {
        account: row.account.try_into()?,
        password_hash: row.password_hash,
        disabled: row.disabled,
    })
}

/// Changes the name and the units.
///
/// # Errors
/// [`StoreError::Constraint`] if the name is empty or too long.
pub async fn describe(
    outside: &mut PgConnection,
    account: AccountId,
    name: &str,
    units: UnitSystem,
) -> Result<(), StoreError> {
    let done = sqlx::query("update accounts set name = $2, units = $3 where account_id = $1")
        .bind(account.0)
        .bind(name)
        .bind(units.word())
        .execute(outside)
        .await?;
    touched(&done)
}

/// Changes the password.
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn set_password(
    outside: &mut PgConnection,
    account: AccountId,
    password_hash: &str,
) -> Result<(), StoreError> {
    let done = sqlx::query("update accounts set password_hash = $2 where account_id = $1")
        .bind(account.0)
        .bind(password_hash)
        .execute(outside)
        .await?;
    touched(&done)
}

/// Locks an account, or opens it again with `None`.
///
/// # Errors
/// [`StoreError::NotFound`].
pub async fn set_disabled(
    outside: &mut PgConnection,
    account: AccountId,
    since: Option<OffsetDateTime>,
) -> Result<(), StoreError> {
    let done = sqlx::query("update accounts set disabled_at = $2 where account_id = $1")
        .bind(account.0)
        .bind(since)
        .execute(outside)
        .await?;
    touched(&done)
}

/// The gyms whose doors an account may try.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn gyms(
    outside: &mut PgConnection,
    account: AccountId,
) -> Result<Vec<GymId>, StoreError> {
    let gyms: Vec<Uuid> =
        sqlx::query_scalar("select gym_id from account_gyms where account_id = $1 order by gym_id")
            .bind(account.0)
            .fetch_all(outside)
            .await?;
    Ok(gyms.into_iter().map(GymId).collect())
}

/// Every gym that anybody belongs to, for the command line, which has no account.
///
/// # Errors
/// [`StoreError::Db`].
pub async fn all_gyms(outside: &mut PgConnection) -> Result<Vec<GymId>, StoreError> {
    let gyms: Vec<Uuid> =
        sqlx::query_scalar("select distinct gym_id from account_gyms order by gym_id")
            .fetch_all(outside)
            .await?;
    Ok(gyms.into_iter().map(GymId).collect())
}
