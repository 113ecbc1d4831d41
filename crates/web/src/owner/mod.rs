//! Pages of whoever runs the gym.

pub(crate) mod attendance;
