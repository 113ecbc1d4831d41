//! What a gym calls its movements and clubs, for texts that speak of them.

use std::collections::HashMap;

use leverbook_domain::id::{LoadingId, MovementId};
use leverbook_domain::rules::Names;
use uuid::Uuid;

use crate::{GymTx, StoreError};

/// The names of everything in a gym, retired things too, since the past speaks of them.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct GymNames {
    movements: HashMap<MovementId, String>,
    clubs: HashMap<LoadingId, String>,
}

impl GymNames {
    /// Reads them: two queries.
    ///
    /// # Errors
    /// [`StoreError::Db`] when the database fails.
    pub async fn load(tx: &mut GymTx) -> Result<Self, StoreError> {
        let gym = tx.gym();
        let movements: Vec<(Uuid, String)> =
            sqlx::query_as("select movement_id, name from movements where gym_id = $1")
                .bind(gym.0)
                .fetch_all(tx.conn())
                .await?;
        let clubs: Vec<(Uuid, String)> =
            sqlx::query_as("select loading_id, name from loadings where gym_id = $1")
                .bind(gym.0)
                .fetch_all(tx.conn())
                .await?;
        Ok(Self {
            movements: movements
                .into_iter()
                .map(|(id, name)| (MovementId(id), name))
                .collect(),
            clubs: clubs
                .into_iter()
                .map(|(id, name)| (LoadingId(id), name))
                .collect(),
        })
    }

    /// A movement's name; `None` where the gym has no such movement.
    #[must_use]
    pub fn movement_named(&self, movement: MovementId) -> Option<&str> {
        self.movements.get(&movement).map(String::as_str)
    }

    /// A loading's name; `None` where the gym has no such loading.
    #[must_use]
    pub fn club_named(&self, loading: LoadingId) -> Option<&str> {
        self.clubs.get(&loading).map(String::as_str)
    }
}

impl Names for GymNames {
    fn movement(&self, movement: MovementId) -> &str {
        self.movement_named(movement)
            .unwrap_or("a movement of another gym")
    }

    fn club(&self, loading: LoadingId) -> &str {
        self.club_named(loading).unwrap_or("a club of another gym")
    }
}
