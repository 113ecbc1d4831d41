//! Sign-ins: one row a browser that is signed in. The token itself is only in the browser.

use std::fmt;
use std::str::FromStr;

use leverbook_domain::id::AccountId;
use sha2::{Digest, Sha256};
use sqlx::{FromRow, PgConnection};
use time::{Duration, OffsetDateTime};

use crate::StoreError;
use crate::accounts::{self, Account};

/// What is stored of a secret token: its SHA-256. The token has 256 random bits, so that one
/// round of a fast hash is enough.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TokenHash([u8; 32]);

impl TokenHash {
    /// Of a token as the browser sends it.
    #[must_use]
    pub fn of(token: &str) -> Self {
        Self(Sha256::digest(token.as_bytes()).into())
    }

    /// As it was stored, if it is one.
    pub(crate) fn stored(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().map(Self).ok()
    }

    /// The 32 bytes.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8] {
        &self.0
    }
}

/// As 64 hex digits. Whoever reads them cannot work out the token.
impl fmt::Display for TokenHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

/// Why a text is no hash of a token.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the hash of a token is 64 hex digits")]
pub struct NoTokenHash;

impl FromStr for TokenHash {
    type Err = NoTokenHash;

    fn from_str(text: &str) -> Result<Self, NoTokenHash> {
        let (pairs, []) = text.as_bytes().as_chunks::<2>() else {
            return Err(NoTokenHash);
        };
        let digit = |byte: u8| match byte {
            b'0'..=b'9' => Ok(byte - b'0'),
            b'a'..=b'f' => Ok(byte - b'a' + 10),
            _ => Err(NoTokenHash),
        };
        let bytes = pairs
            .iter()
            .map(|[high, low]| Ok(digit(*high)? << 4 | digit(*low)?))
            .collect::<Result<Vec<u8>, NoTokenHash>>()?;
        bytes.try_into().map(Self).map_err(|_| NoTokenHash)
    }
}

/// How long a sign-in lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lifetime {
    /// Without a request.
    pub idle: Duration,
    /// In all.
    pub absolute: Duration,
}

/// A browser that is signed in.
#[derive(Debug, Clone)]
pub struct SignIn {
    /// Who.
    pub account: Account,
    /// The token that every form of this browser carries.
    pub csrf_token: String,
    /// Since when.
    pub since: OffsetDateTime,
    /// The last request that was noted; not every one is.
    pub last_seen: OffsetDateTime,
}

#[derive(FromRow)]
struct Row {
    #[sqlx(flatten)]
    account: accounts::Row,
    csrf_token: String,
    created_at: OffsetDateTime,
    last_seen_at: OffsetDateTime,
}

/// One of an account's sign-ins, as its owner sees them.
#[derive(Debug, Clone, FromRow)]
pub struct Device {
    /// What the browser called itself.
    pub device: String,
    /// Signed in since.
    #[sqlx(rename = "created_at")]
    pub since: OffsetDateTime,
    /// Seen last.
    #[sqlx(rename = "last_seen_at")]
    pub last_seen: OffsetDateTime,
    /// Whether it is the one that asks.
    pub this_one: bool,
}

/// A sign-in about to be opened.
#[derive(Debug)]
pub struct New<'a> {
    /// The hash of the new token.
    pub token: TokenHash,
    /// Who.
    pub account: AccountId,
    /// The token for this browser's forms.
    pub csrf_token: &'a str,
    /// What the browser calls itself; cut to 200 characters.
    pub device: &'a str,
    /// When.
    pub now: OffsetDateTime,
    /// Until when at most.
    pub lifetime: Lifetime,
}

/// Opens a sign-in, and clears away the account's expired ones.
///
/// # Errors
/// [`StoreError`].
pub async fn open(outside: &mut PgConnection, new: &New<'_>) -> Result<(), StoreError> {
    sqlx::query("delete from sign_ins where account_id = $1 and expires_at <= $2")
        .bind(new.account.0)
        .bind(new.now)
        .execute(&mut *outside)
        .await?;
    sqlx::query(
        "insert into sign_ins
             (token_hash, account_id, csrf_token, created_at, last_seen_at, expires_at, device)
         values ($1, $2, $3, $4, $4, $5, $6)",
    )
    .bind(new.token.as_bytes())
    .bind(new.account.0)
    .bind(new.csrf_token)
    .bind(new.now)
    .bind(new.now + new.lifetime.absolute)
    .bind(new.device.chars().take(200).collect::<String>())
    .execute(outside)
    .await?;
    Ok(())
}

/// The sign-in of a token, if it is alive and its account not disabled.
///
/// # Errors
/// [`StoreError::NotFound`] otherwise.
pub async fn find(
    outside: &mut PgConnection,
    token: TokenHash,
    now: OffsetDateTime,
    lifetime: Lifetime,
) -> Result<SignIn, StoreError> {
    let row: Row = sqlx::query_as(
        "select a.account_id, a.email, a.name, a.units, s.csrf_token, s.created_at, s.last_seen_at
         from sign_ins s join accounts a on a.account_id = s.account_id
         where s.token_hash = $1 and s.expires_at > $2 and s.last_seen_at > $3
             and a.disabled_at is null",
    )
    .bind(token.as_bytes())
    .bind(now)
    .bind(now - lifetime.idle)
    .fetch_one(outside)
    .await?;
    Ok(SignIn {
        account: row.account.try_into()?,
        csrf_token: row.csrf_token,
        since: row.created_at,
        last_seen: row.last_seen_at,
    })
}

/// Notes a request, so that the sign-in does not run out.
///
/// # Errors
/// [`StoreError`].
pub async fn seen(
    outside: &mut PgConnection,
    token: TokenHash,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query(
        "update sign_ins set last_seen_at = greatest(last_seen_at, $2) where token_hash = $1",
    )
    .bind(token.as_bytes())
    .bind(now)
    .execute(outside)
    .await?;
    Ok(())
}

/// An account's living sign-ins, the newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn list(
    outside: &mut PgConnection,
    account: AccountId,
    asking: TokenHash,
    now: OffsetDateTime,
    lifetime: Lifetime,
) -> Result<Vec<Device>, StoreError> {
    Ok(sqlx::query_as(
        "select device, created_at, last_seen_at, token_hash = $2 as this_one
         from sign_ins
         where account_id = $1 and expires_at > $3 and last_seen_at > $4
         order by last_seen_at desc, created_at desc",
    )
    .bind(account.0)
    .bind(asking.as_bytes())
    .bind(now)
    .bind(now - lifetime.idle)
    .fetch_all(outside)
    .await?)
}

/// Ends one sign-in. It is no error if it has ended.
///
/// # Errors
/// [`StoreError`].
pub async fn close(outside: &mut PgConnection, token: TokenHash) -> Result<(), StoreError> {
    sqlx::query("delete from sign_ins where token_hash = $1")
        .bind(token.as_bytes())
        .execute(outside)
        .await?;
    Ok(())
}

/// Ends all of an account's sign-ins, everywhere.
///
/// # Errors
/// [`StoreError`].
pub async fn close_all(outside: &mut PgConnection, account: AccountId) -> Result<(), StoreError> {
    sqlx::query("delete from sign_ins where account_id = $1")
        .bind(account.0)
        .execute(outside)
        .await?;
    Ok(())
}
