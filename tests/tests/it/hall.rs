//! A gym with something to swing, for the tests of several rooms.

use leverbook_domain::club::ClubMeasure;
use leverbook_domain::id::{BlockId, ClubId, LoadingId, MovementId};
use leverbook_store::blocks::{self, Planned};
use leverbook_store::rack::{self, ClubDetails, MovementDetails, NewLoading};
use leverbook_tests::{NOW, TestGym, new_id};

/// A gym with a movement and three clubs, whose levers are 5, 6 and 10 kg at the same lengths: so
/// the steps from the first are 20 % and 100 % by static moment (M1, M4, by hand).
pub(crate) struct Hall {
    pub(crate) gym: TestGym,
    pub(crate) mill: MovementId,
    pub(crate) light: LoadingId,
    pub(crate) middle: LoadingId,
    pub(crate) heavy: LoadingId,
}

impl Hall {
    pub(crate) async fn new() -> Self {
        let gym = TestGym::new().await;
        let mill = new_id();
        let mut tx = gym.enter().await;
        let details = MovementDetails {
            name: "Test mill".to_owned().try_into().unwrap(),
            cues: Default::default(),
            faults: Default::default(),
        };
        rack::add_movement(&mut tx, mill, &details).await.unwrap();
        let mut clubs = Vec::new();
        for (name, mass) in [("Ash 5", 5.0), ("Elm 6", 6.0), ("Oak 10", 10.0)] {
            let measure: ClubMeasure = serde_json::from_value(serde_json::json!({
                "mass_kg": mass, "length_mm": 600.0, "balance_mm": 400.0, "grip_mm": 60.0,
            }))
            .unwrap();
            let loading = NewLoading {
                id: new_id(),
                name: name.to_owned().try_into().unwrap(),
                measure,
            };
            let details = ClubDetails {
                name: name.to_owned().try_into().unwrap(),
                owner: None,
                loadable: false,
                count: 1,
            };
            rack::add_club(&mut tx, new_id::<ClubId>(), &details, &loading, NOW)
                .await
                .unwrap();
            clubs.push(loading.id);
        }
        tx.commit().await.unwrap();
        Self {
            gym,
            mill,
            light: clubs[0],
            middle: clubs[1],
            heavy: clubs[2],
        }
    }

    /// The planned sessions of a block, in order of day.
    pub(crate) async fn planned(&self, block: BlockId) -> Vec<Planned> {
        let mut tx = self.gym.enter().await;
        blocks::of_block(&mut tx, block).await.unwrap()
    }
}
