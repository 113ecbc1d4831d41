//! Who has a part in a gym, and what they may do there.

use std::fmt;

use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::roster::PersonName;
use sqlx::FromRow;
use time::{Date, OffsetDateTime};
use uuid::Uuid;

use crate::accounts::Account;
use crate::gyms::Gym;
use crate::{GymTx, StoreError, touched};

/// What somebody may do in a gym. One person may be several.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Looks after the athletes on their roster.
    Coach,
    /// Trains.
    Athlete,
    /// Runs the gym: attendance and people, no health data.
    Owner,
}

impl Role {
    /// All of them, in the order pages list them.
    pub const ALL: [Self; 3] = [Self::Coach, Self::Athlete, Self::Owner];

    /// The word stored, sent in forms and shown.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Coach => "coach",
            Self::Athlete => "athlete",
            Self::Owner => "owner",
        }
    }

    /// The role of that word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.word() == word)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// The roles of one person in one gym.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Roles {
    coach: bool,
    athlete: bool,
    owner: bool,
}

impl Roles {
    /// Whether this role is among them.
    #[must_use]
    pub const fn has(self, role: Role) -> bool {
        match role {
            Role::Coach => self.coach,
            Role::Athlete => self.athlete,
            Role::Owner => self.owner,
        }
    }

    /// Whether any of these is among them.
    #[must_use]
    pub fn any(self, roles: &[Role]) -> bool {
        roles.iter().any(|role| self.has(*role))
    }

    /// Whether there is none: no part in the gym.
    #[must_use]
    pub fn is_empty(self) -> bool {
        self == Self::default()
    }

    /// One after the other.
    pub fn iter(self) -> impl Iterator<Item = Role> {
        Role::ALL.into_iter().filter(move |role| self.has(*role))
    }
}

impl FromIterator<Role> for Roles {
    fn from_iter<I: IntoIterator<Item = Role>>(roles: I) -> Self {
        let mut all = Self::default();
        for role in roles {
            match role {
                Role::Coach => all.coach = true,
                Role::Athlete => all.athlete = true,
                Role::Owner => all.owner = true,
            }
        }
        all
    }
}

/// Somebody with a part in the gym.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Their account.
    pub id: AccountId,
    /// Their name when they joined, or as changed since.
    pub name: String,
    /// Their address.
    pub email: String,
    /// What they may do.
    pub roles: Roles,
    /// Which athlete they are, where they train.
    pub athlete: Option<AthleteId>,
}

#[derive(FromRow)]
struct Row {
    person_id: Uuid,
    name: String,
    email: String,
    roles: Vec<String>,
    athlete_id: Option<Uuid>,
}

impl TryFrom<Row> for Person {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        Ok(Self {
            id: AccountId(row.person_id),
            name: row.name,
            email: row.email,
            roles: roles(row.person_id, &row.roles)?,
            athlete: row.athlete_id.map(AthleteId),
        })
    }
}

fn roles(person: Uuid, words: &[String]) -> Result<Roles, StoreError> {
    words
        .iter()
        .map(|word| {
            Role::from_word(word)
                .ok_or_else(|| StoreError::corrupt("memberships", person, "unknown role"))
        })
        .collect()
}

/// Everybody who has a role in the gym, by name.
///
/// # Errors
/// [`StoreError`].
pub async fn list(tx: &mut GymTx) -> Result<Vec<Person>, StoreError> {
    let gym = tx.gym();
    let rows: Vec<Row> = sqlx::query_as(
        "select p.person_id, p.name, p.email, array_agg(m.role order by m.role) as roles, a.athlete_id
         from people p
         join memberships m on m.gym_id = p.gym_id and m.person_id = p.person_id
         left join athletes a on a.gym_id = p.gym_id and a.person_id = p.person_id
         where p.gym_id = $1
         group by p.person_id, p.name, p.email, a.athlete_id
         order by lower(p.name), p.person_id",
    )
    .bind(gym.0)
    .fetch_all(tx.conn())
    .await?;
    rows.into_iter().map(Person::try_from).collect()
}

/// One person of the gym, with or without a role.
///
/// # Errors
/// [`StoreError::NotFound`] if they never had a part in this gym.
pub async fn get(tx: &mut GymTx, person: AccountId) -> Result<Person, StoreError> {
    let gym = tx.gym();
    let row: Row = sqlx::query_as(
        "select p.person_id, p.name, p.email, a.athlete_id,
             array(select m.role from memberships m
                   where m.gym_id = p.gym_id and m.person_id = p.person_id order by m.role) as roles
         from people p
         left join athletes a on a.gym_id = p.gym_id and a.person_id = p.person_id
         where p.gym_id = $1 and p.person_id = $2",
    )
    .bind(gym.0)
    .bind(person.0)
    .fetch_one(tx.conn())
    .await?;
    row.try_into()
}

#[derive(FromRow)]
struct PartRow {
    name: String,
    time_zone: String,
    today: Date,
    roles: Vec<String>,
}

/// The gym and what somebody may do in it, in one round trip: every page asks for both.
///
/// # Errors
/// [`StoreError::NotFound`] if they have no role here, or there is no such gym.
pub async fn part_in(
    tx: &mut GymTx,
    person: AccountId,
    now: OffsetDateTime,
) -> Result<(Gym, Roles), StoreError> {
    let gym = tx.gym();
    let row: PartRow = sqlx::query_as(
        "select g.name, g.time_zone, ($3 at time zone g.time_zone)::date as today,
             array_agg(m.role) as roles
         from gyms g join memberships m on m.gym_id = g.gym_id
         where g.gym_id = $1 and m.person_id = $2
         group by g.gym_id, g.name, g.time_zone",
    )
    .bind(gym.0)
    .bind(person.0)
    .bind(now)
    .fetch_one(tx.conn())
    .await?;
    let gym = Gym {
        id: gym,
        name: row.name,
        zone: row.time_zone,
        today: row.today,
    };
    Ok((gym, roles(person.0, &row.roles)?))
}

/// Gives somebody a role; nothing changes if they have it.
///
/// # Errors
/// [`StoreError`].
pub async fn join(
    tx: &mut GymTx,
    account: &Account,
    role: Role,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query(
        "insert into people (gym_id, person_id, name, email) values ($1, $2, $3, $4)
         on conflict (gym_id, person_id) do update set name = excluded.name, email = excluded.email",
    )
    .bind(gym.0)
    .bind(account.id.0)
    .bind(account.name.as_str())
    .bind(account.email.as_str())
    .execute(tx.conn())
    .await?;
    give_role(tx, account.id, role, now).await
}

/// Gives another role to somebody who has or had a part in the gym.
///
/// # Errors
/// [`StoreError::Constraint`] if they never had.
pub async fn give_role(
    tx: &mut GymTx,
    person: AccountId,
    role: Role,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    sqlx::query(
        "insert into memberships (gym_id, person_id, role, since) values ($1, $2, $3, $4)
         on conflict (gym_id, person_id, role) do nothing",
    )
    .bind(gym.0)
    .bind(person.0)
    .bind(role.word())
    .bind(now)
    .execute(tx.conn())
    .await?;
    sqlx::query(
        "insert into account_gyms (account_id, gym_id) values ($1, $2)
         on conflict (account_id, gym_id) do nothing",
    )
    .bind(person.0)
    .bind(gym.0)
    .execute(tx.conn())
    .await?;
    Ok(())
}

/// Carries somebody's new name into the gym.
///
/// # Errors
/// [`StoreError::NotFound`] if they have no part in it.
pub async fn rename(
    tx: &mut GymTx,
    person: AccountId,
    name: &PersonName,
) -> Result<(), StoreError> {
    let gym = tx.gym();
    let done = sqlx::query("update people set name = $3 where gym_id = $1 and person_id = $2")
        .bind(gym.0)
        .bind(person.0)
        .bind(name.as_str())
        .execute(tx.conn())
        .await?;
    touched(&done)
}

/// Why a role was not taken away.
#[derive(Debug, thiserror::Error)]
pub enum RemoveError {
    /// Somebody must be left who can invite others.
    #[error("the last owner stays")]
    LastOwner,
    /// They do not have that role here, or the database failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Takes a role away. A coach's roster is cleared; an athlete's account is parted from their log,
/// which stays, and their calendar link ends. Whoever has no role left cannot enter.
///
/// # Errors
/// [`RemoveError::LastOwner`]; [`StoreError::NotFound`] if they do not have the role.
pub async fn remove_role(tx: &mut GymTx, person: AccountId, role: Role) -> Result<(), RemoveError> {
    let gym = tx.gym();
    // Two owners who remove each other at the same moment wait for each other here.
    sqlx::query("select gym_id from gyms where gym_id = $1 for update")
        .bind(gym.0)
        .execute(tx.conn())
        .await
        .map_err(StoreError::from)?;
    let done =
        sqlx::query("delete from memberships where gym_id = $1 and person_id = $2 and role = $3")
            .bind(gym.0)
            .bind(person.0)
            .bind(role.word())
            .execute(tx.conn())
            .await
            .map_err(StoreError::from)?;
    touched(&done)?;
    match role {
        Role::Owner => {
            let owners: i64 = sqlx::query_scalar(
                "select count(*) from memberships where gym_id = $1 and role = 'owner'",
            )
            .bind(gym.0)
            .fetch_one(tx.conn())
            .await
            .map_err(StoreError::from)?;
            if owners == 0 {
                return Err(RemoveError::LastOwner);
            }
        }
        Role::Coach => {
            sqlx::query("delete from rosters where gym_id = $1 and coach_id = $2")
                .bind(gym.0)
                .bind(person.0)
                .execute(tx.conn())
                .await
                .map_err(StoreError::from)?;
        }
        Role::Athlete => {
            sqlx::query(
                "delete from calendar_links l using athletes a
                 where l.gym_id = $1 and a.gym_id = l.gym_id and a.athlete_id = l.athlete_id
                     and a.person_id = $2",
            )
            .bind(gym.0)
            .bind(person.0)
            .execute(tx.conn())
            .await
            .map_err(StoreError::from)?;
            sqlx::query(
                "update athletes set person_id = null where gym_id = $1 and person_id = $2",
            )
            .bind(gym.0)
            .bind(person.0)
            .execute(tx.conn())
            .await
            .map_err(StoreError::from)?;
        }
    }
    sqlx::query(
        "delete from account_gyms where gym_id = $1 and account_id = $2 and not exists (
             select from memberships where gym_id = $1 and person_id = $2)",
    )
    .bind(gym.0)
    .bind(person.0)
    .execute(tx.conn())
    .await
    .map_err(StoreError::from)?;
    Ok(())
}
