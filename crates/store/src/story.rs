//! What an athlete's story needs beside the aggregates: who the people are that decided something.

use std::collections::HashMap;

use leverbook_domain::id::AccountId;
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// The names of these people, as far as they belong to the gym.
///
/// # Errors
/// [`StoreError::Db`] when the database fails.
pub async fn names_of(
    tx: &mut GymTx,
    people: &[AccountId],
) -> Result<HashMap<AccountId, String>, StoreError> {
    let gym = tx.gym();
    let ids: Vec<Uuid> = people.iter().map(|person| person.0).collect();
    let rows: Vec<(Uuid, String)> = sqlx::query_as(
        "select person_id, name from people where gym_id = $1 and person_id = any($2)",
    )
    .bind(gym.0)
    .bind(ids)
    .fetch_all(tx.conn())
    .await?;
    Ok(rows
        .into_iter()
        .map(|(id, name)| (AccountId(id), name))
        .collect())
}
