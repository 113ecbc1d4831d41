//! What every end-to-end test shares.

pub mod demo_gym;
