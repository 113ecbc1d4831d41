//! Invitations: a link that works once, for one role, until it expires.

use leverbook_domain::id::{AccountId, AthleteId};
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::accounts::Account;
use crate::people::{self, Role};
use crate::sign_ins::TokenHash;
use crate::{GymTx, StoreError, athletes, touched};

/// The actor where somebody only looks at an invitation, and may have no account yet.
pub const BEARER: AccountId = AccountId(Uuid::nil());

/// What became of an invitation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fate {
    /// Nothing yet.
    Waiting,
    /// Somebody joined with it.
    TakenUp,
    /// It was taken back before anybody did.
    Withdrawn,
}

/// An invitation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Invitation {
    /// What is kept of its token: names it without opening it.
    pub token: TokenHash,
    /// To be what.
    pub role: Role,
    /// Which athlete of the gym it is for, and their name; `None` is somebody new.
    pub athlete: Option<(AthleteId, String)>,
    /// Who invited.
    pub invited_by: AccountId,
    /// Their name.
    pub invited_by_name: String,
    /// Until when it works.
    pub expires_at: OffsetDateTime,
    /// What became of it.
    pub fate: Fate,
}

impl Invitation {
    /// Whether it can still be taken up.
    #[must_use]
    pub fn is_open(&self, now: OffsetDateTime) -> bool {
        self.fate == Fate::Waiting && now < self.expires_at
    }
}

#[derive(FromRow)]
struct Row {
    token_hash: Vec<u8>,
    role: String,
    athlete_id: Option<Uuid>,
    athlete_name: Option<String>,
    invited_by: Uuid,
    invited_by_name: String,
    expires_at: OffsetDateTime,
    used: bool,
    withdrawn: bool,
}

impl TryFrom<Row> for Invitation {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        Ok(Self {
            token: TokenHash::stored(&row.token_hash)
                .ok_or_else(|| StoreError::corrupt("invitations", row.invited_by, "token_hash"))?,
            role: Role::from_word(&row.role)
                .ok_or_else(|| StoreError::corrupt("invitations", row.invited_by, "role"))?,
            athlete: row.athlete_id.map(AthleteId).zip(row.athlete_name),
            invited_by: AccountId(row.invited_by),
            invited_by_name: row.invited_by_name,
            expires_at: row.expires_at,
            fate: match (row.used, row.withdrawn) {
                (true, _) => Fate::TakenUp,
                (false, true) => Fate::Withdrawn,
                (false, false) => Fate::Waiting,
            },
        })
    }
}

/// Makes an invitation on behalf of the transaction's actor.
///
/// # Errors
/// [`StoreError::Constraint`] if there is no such athlete.
pub async fn create(
    tx: &mut GymTx,
    token: TokenHash,
    role: Role,
    athlete: Option<AthleteId>,
    now: OffsetDateTime,
    expires_at: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    sqlx::query(
        "insert into invitations
             (gym_id, token_hash, role, athlete_id, invited_by, created_at, expires_at)
         values ($1, $2, $3, $4, $5, $6, $7)",
    )
    .bind(gym.0)
    .bind(token.as_bytes())
    .bind(role.word())
    .bind(athlete.map(|athlete| athlete.0))
    .bind(actor.0)
    .bind(now)
    .bind(expires_at)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// The invitation of a token.
///
/// # Errors
/// [`StoreError::NotFound`] if this gym gave out no such token.
pub async fn find(tx: &mut GymTx, token: TokenHash) -> Result<Invitation, StoreError> {
    let gym = tx.gym();
    let row: Row = sqlx::query_as(
        "select i.token_hash, i.role, i.athlete_id, a.name as athlete_name, i.invited_by,
             p.name as invited_by_name, i.expires_at, i.used_at is not null as used,
             i.withdrawn_at is not null as withdrawn
         from invitations i
         join people p on p.gym_id = i.gym_id and p.person_id = i.invited_by
         left join athletes a on a.gym_id = i.gym_id and a.athlete_id = i.athlete_id
         where i.gym_id = $1 and i.token_hash = $2",
    )
    .bind(gym.0)
    .bind(token.as_bytes())
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

/// The invitations that can still be taken up, the newest first.
///
/// # Errors
/// [`StoreError`].
pub async fn open(tx: &mut GymTx, now: OffsetDateTime) -> Result<Vec<Invitation>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<Row> = sqlx::query_as(
        "select i.token_hash, i.role, i.athlete_id, a.name as athlete_name, i.invited_by,
             p.name as invited_by_name, i.expires_at, false as used, false as withdrawn
         from invitations i
         join people p on p.gym_id = i.gym_id and p.person_id = i.invited_by
         left join athletes a on a.gym_id = i.gym_id and a.athlete_id = i.athlete_id
         where i.gym_id = $1 and i.used_at is null and i.withdrawn_at is null
             and i.expires_at > $2
         order by i.created_at desc",
    )
    .bind(gym.0)
    .bind(now)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Invitation::try_from).collect()
}

/// Takes an invitation back on behalf of the transaction's actor: nobody can join with it any more.
///
/// # Errors
/// [`StoreError::NotFound`] if it was used or withdrawn, or is not this gym's.
pub async fn withdraw(
    tx: &mut GymTx,
    token: TokenHash,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let (gym, actor) = (tx.gym(), tx.actor());
    let done = sqlx::query(
        "update invitations set withdrawn_at = $3, withdrawn_by = $4
         where gym_id = $1 and token_hash = $2 and used_at is null and withdrawn_at is null",
    )
    .bind(gym.0)
    .bind(token.as_bytes())
    .bind(now)
    .bind(actor.0)
    .execute(tx.conn())
    .await?;
    touched(&done)
}

/// Somebody takes an invitation up: it is used, they have the role, and for an athlete the account
/// and the athlete are one. Of two who try at the same moment, one finds it used.
///
/// `new_athlete` is the id for an athlete who is not in the gym yet, and `today` their first day;
/// they come onto the roster of the coach who invited them.
///
/// # Errors
/// [`StoreError::NotFound`] if it was used or withdrawn, has expired, is not this gym's, or if its athlete has
/// an account by now;
/// [`StoreError::Constraint`] with `athletes_person_once` if the account is another athlete here.
pub async fn take_up(
    tx: &mut GymTx,
    token: TokenHash,
    account: &Account,
    new_athlete: AthleteId,
    today: Date,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let invitation = find(tx, token).await?;
    let gym = tx.gym();
    let done = sqlx::query(
        "update invitations set used_at = $3, used_by = $4
         where gym_id = $1 and token_hash = $2 and used_at is null
             and withdrawn_at is null and expires_at > $3",
    )
    .bind(gym.0)
    .bind(token.as_bytes())
    .bind(now)
    .bind(account.id.0)
    .execute(tx.conn())
    .await?;
    touched(&done)?;
    people::join(tx, account, invitation.role, now).await?;
    if invitation.role != Role::Athlete {
        return Ok(());
    }
    match invitation.athlete {
        Some((athlete, _)) => athletes::give_account(tx, athlete, account.id).await,
        None => {
            let is_new = athletes::of_new_person(tx, account, new_athlete, today, now).await?;
            let inviter = people::get(tx, invitation.invited_by).await?;
            if is_new && inviter.roles.has(Role::Coach) {
                athletes::set_coaches(tx, new_athlete, &[inviter.id]).await?;
            }
            Ok(())
        }
    }
}
