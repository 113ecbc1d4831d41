//! What things are called, for texts that speak of them.

use crate::id::{LoadingId, MovementId};

/// Looks up the names of a gym's movements and clubs.
pub trait Names {
    /// The movement's name, as it stands inside a sentence.
    fn movement(&self, movement: MovementId) -> &str;

    /// The name of a club, or of a loading of a plate-loaded one.
    fn club(&self, loading: LoadingId) -> &str;
}
