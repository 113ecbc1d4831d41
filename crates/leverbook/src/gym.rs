//! Finding a gym from the command line, which has no account and no address to go by.

use anyhow::{Context, bail};
use clap::Args;
use leverbook_domain::id::{AccountId, GymId};
use leverbook_store::gyms::{self, Gym};
use leverbook_store::people::{self, Role};
use leverbook_store::{GymTx, Store, accounts};
use time::OffsetDateTime;
use uuid::Uuid;

/// Which gym a command is about.
#[derive(Debug, Args)]
pub(crate) struct Which {
    /// The gym's name or id; may be left out where there is only one
    #[arg(long, value_name = "NAME")]
    gym: Option<String>,
}

impl Which {
    /// Opens the gym's door on behalf of its first owner.
    pub(crate) async fn enter(
        &self,
        store: &Store,
        now: OffsetDateTime,
    ) -> anyhow::Result<(GymTx, Gym)> {
        let ids = accounts::all_gyms(&mut *store.outside().await?).await?;
        let mut found = Vec::new();
        for id in ids {
            let gym = gyms::get(&mut store.enter(id, nobody()).await?, now).await?;
            let asked = self.gym.as_deref();
            if asked.is_none_or(|asked| asked == gym.name || asked == id.to_string()) {
                found.push(gym);
            }
        }
        let gym = match (found.pop(), found.is_empty(), &self.gym) {
            (Some(gym), true, _) => gym,
            (None, _, None) => bail!("there is no gym yet: make one with `leverbook account add`"),
            (None, _, Some(asked)) => bail!("there is no gym {asked:?}"),
            (Some(_), false, _) => bail!("there is more than one gym: name it with --gym"),
        };
        let owner = owner(store, gym.id).await?;
        Ok((store.enter(gym.id, owner).await?, gym))
    }
}

/// Reading a gym's name needs an actor, but nothing is done on anybody's behalf.
fn nobody() -> AccountId {
    AccountId(Uuid::nil())
}

async fn owner(store: &Store, gym: GymId) -> anyhow::Result<AccountId> {
    people::list(&mut store.enter(gym, nobody()).await?)
        .await?
        .into_iter()
        .find(|person| person.roles.has(Role::Owner))
        .map(|person| person.id)
        .context("this gym has no owner: make one with `leverbook account add`")
}
