//! The thresholds in force in a gym.

use leverbook_domain::policy::{Policy, PolicyVersion};
use sqlx::types::Json;

use crate::{GymTx, StoreError};

/// The newest policy of this gym, or the policy as shipped where the gym never changed it.
///
/// # Errors
/// [`StoreError`] when the database fails or holds a policy that cannot be read.
pub async fn in_force(tx: &mut GymTx) -> Result<Policy, StoreError> {
    let gym = tx.gym();
    let newest: Option<(i32, Json<serde_json::Value>)> = sqlx::query_as(
        "select version, policy from policies where gym_id = $1 order by version desc limit 1",
    )
    .bind(gym.0)
    .fetch_optional(tx.conn())
    .await?;
    let Some((version, Json(stored))) = newest else {
        return Ok(Policy::default());
    };
    let policy: Policy = serde_json::from_value(stored)
        .map_err(|error| StoreError::corrupt("policies", version, error))?;
    Ok(Policy {
        version: PolicyVersion(version),
        ..policy
    })
}
