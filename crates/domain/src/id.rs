//! Ids: one type for each kind of thing, so that one can never stand in for another.

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)
            }
        }

        impl std::str::FromStr for $name {
            type Err = uuid::Error;

            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::try_parse(text).map(Self)
            }
        }

        impl From<Uuid> for $name {
            fn from(id: Uuid) -> Self {
                Self(id)
            }
        }
    )+};
}

ids! {
    /// A gym: the wall around everything it owns.
    GymId,
    /// Somebody who can sign in, in one gym or several.
    AccountId,
    /// Somebody who trains in one gym, with or without an account.
    AthleteId,
    /// A movement of a gym's catalogue.
    MovementId,
    /// A club: the thing that is picked up.
    ClubId,
    /// A club as loaded: what a set is swung with. A fixed club has exactly one.
    LoadingId,
    /// Several weeks of planned sessions for one athlete.
    BlockId,
    /// A block that a gym uses again and again, through all its versions.
    BlockTemplateId,
    /// One planned session, through all its revisions.
    PlannedId,
    /// One logged session, through all its revisions.
    SessionId,
    /// One revision of a logged session.
    RevisionId,
    /// A flag. Made from what the flag is about, so that a rebuild gives the same id.
    FlagId,
    /// A class: people who train together at an hour of the week.
    ClassId,
    /// Something a coach decided, found or noted: made by whoever wrote it.
    DecisionId,
}

#[cfg(test)]
mod tests {
    use super::*;

    // The example of RFC 9562, appendix A.6, from memory.
    #[test]
    fn an_id_is_read_as_it_is_shown() {
        let shown = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
        let id: ClubId = shown.parse().unwrap();
        assert_eq!(id.to_string(), shown);
        assert_eq!(ClubId::from(id.0), id);
        assert!("club 7".parse::<ClubId>().is_err());
    }
}
