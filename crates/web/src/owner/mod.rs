//! Pages of whoever runs the gym.

pub(crate) mod attendance;
pub(crate) mod gym;
pub(crate) mod invite;
pub(crate) mod people;
