//! Pages of one's own account: signing in and out, choosing a gym, invitations.

pub(crate) mod home;
pub(crate) mod invitation;
pub(crate) mod own;
pub(crate) mod sign_in;
