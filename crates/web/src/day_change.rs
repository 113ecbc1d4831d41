//! Some flags begin or end because days pass, not because somebody logs. While the server runs,
//! they are brought up to date soon after each gym's day has changed; the weekly review does the
//! same for itself when it is opened.

use std::time::Duration;

use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::{StoreError, accounts, flags, gyms};
use uuid::Uuid;

use crate::App;

/// How long after one look comes the next.
const PAUSE: Duration = Duration::from_secs(60);

/// Nobody: the server acts for itself.
const NOBODY: AccountId = AccountId(Uuid::nil());

/// Looks after every gym until it is dropped.
pub(crate) async fn watch(app: App) {
    loop {
        tokio::time::sleep(PAUSE).await;
        if let Err(error) = every_gym(&app).await {
            tracing::warn!(%error, "cannot bring flags up to date; trying again");
        }
    }
}

async fn every_gym(app: &App) -> Result<(), StoreError> {
    let all = {
        let mut outside = app.store.outside().await?;
        accounts::all_gyms(&mut outside).await?
    };
    for gym in all {
        // One gym's trouble is not the others'.
        match one_gym(app, gym).await {
            Ok(0) => {}
            Ok(athletes) => tracing::info!(%gym, athletes, "flags brought up to date"),
            Err(error) => tracing::warn!(%gym, %error, "cannot bring flags up to date"),
        }
    }
    Ok(())
}

async fn one_gym(app: &App, gym: GymId) -> Result<usize, StoreError> {
    let today = {
        let mut tx = app.store.enter(gym, NOBODY).await?;
        gyms::get(&mut tx, app.clock.now()).await?.today
    };
    flags::bring_up_to_date(&app.store, gym, NOBODY, today).await
}
