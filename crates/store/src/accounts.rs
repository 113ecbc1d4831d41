//! Accounts: who can sign in. They are no gym's; what somebody may do is in each gym's own
//! [`people`](crate::people).

use std::fmt;

use leverbook_domain::id::{AccountId, GymId};
use leverbook_domain::roster::PersonName;
use leverbook_domain::text::is_unprintable;
use leverbook_domain::units::UnitSystem;
use sqlx::{FromRow, PgConnection};
use time::OffsetDateTime;
use uuid::Uuid;

use crate::{StoreError, touched};

/// The constraint that refuses a second account with the same email address.
pub const EMAIL_ONCE: &str = "accounts_email_once";

/// An email address in lower case, so that it can be compared. Whether somebody reads mail there
/// is not known: nothing is ever sent.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Email(String);

/// It is no email address.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("is no email address: it needs a name, an @ and a domain, without spaces")]
pub struct EmailError;

impl Email {
    /// Reads an address as typed.
    ///
    /// # Errors
    /// [`EmailError`] without exactly one `@` between two parts, with spaces or characters
    /// that cannot be shown, or over the 254 characters of RFC 5321.
    pub fn new(typed: &str) -> Result<Self, EmailError> {
        let email = typed.trim().to_lowercase();
        let fits = |c: char| !c.is_whitespace() && !is_unprintable(c);
        match email.split_once('@') {
            Some((local, domain))
                if !local.is_empty()
                    && !domain.is_empty()
                    && !domain.contains('@')
                    && email.chars().count() <= 254
                    && email.chars().all(fits) =>
            {
                Ok(Self(email))
            }
            _ => Err(EmailError),
        }
    }

    /// The address.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Email {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Somebody who can sign in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Account {
    /// Their id.
    pub id: AccountId,
    /// What they sign in with.
    pub email: Email,
    /// What to call them.
    pub name: PersonName,
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
        let corrupt = |what: &str| StoreError::corrupt("accounts", row.account_id, what);
        Ok(Self {
            id: AccountId(row.account_id),
            email: Email::new(&row.email).map_err(|_| corrupt("email"))?,
            name: PersonName::new(&row.name).map_err(|_| corrupt("name"))?,
            units: UnitSystem::from_word(&row.units).ok_or_else(|| corrupt("units"))?,
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
    .bind(account.email.as_str())
    .bind(account.name.as_str())
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
pub async fn by_email(outside: &mut PgConnection, email: &Email) -> Result<Lock, StoreError> {
    let row: LockRow = sqlx::query_as(
        "select account_id, email, name, units, password_hash,
             disabled_at is not null as disabled
         from accounts where email = $1",
    )
    .bind(email.as_str())
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
/// [`StoreError::NotFound`].
pub async fn describe(
    outside: &mut PgConnection,
    account: AccountId,
    name: &PersonName,
    units: UnitSystem,
) -> Result<(), StoreError> {
    let done = sqlx::query("update accounts set name = $2, units = $3 where account_id = $1")
        .bind(account.0)
        .bind(name.as_str())
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

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 5321 § 4.5.3.1.3: a path is 256 octets with its brackets, so an address is at most 254; from memory.
    #[test]
    fn what_is_an_email_address() {
        assert_eq!(
            Email::new(" Ida@Quarry.Example ").unwrap().as_str(),
            "ida@quarry.example"
        );
        for fine in ["a@b", "ida+club@quarry.example", "ida@παράδειγμα.example"] {
            assert!(Email::new(fine).is_ok(), "{fine}");
        }
        let long = format!("{}@quarry.example", "i".repeat(240));
        for bad in [
            "",
            "@",
            "ida",
            "ida@",
            "@quarry.example",
            "a@b@c",
            "i da@quarry.example",
            "ida@qu\u{0}arry",
            &long,
        ] {
            assert_eq!(Email::new(bad), Err(EmailError), "{bad:?}");
        }
    }
}
