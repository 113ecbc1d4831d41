//! Pages of whoever runs the gym.
