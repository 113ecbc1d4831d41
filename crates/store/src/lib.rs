//! Everything that is kept: accounts and sign-ins, and behind one wall each, gyms.
//!
//! One file an aggregate, with the SQL beside the type that it fills. A gym's data is reached
//! through one door, [`Store::enter`], which opens a transaction for a gym and an actor; every
//! statement names the gym, and forced row security stands behind it.

mod door;
mod error;
mod migrate;

pub mod accounts;
pub mod athletes;
pub mod attendance;
pub mod block_templates;
pub mod blocks;
pub mod calendar;
pub mod care;
pub mod classes;
pub mod digests;
pub mod exceptions;
pub mod exchange;
pub mod flags;
pub mod gyms;
pub mod history;
pub mod invitations;
pub mod log;
pub mod names;
pub mod notes;
pub mod people;
pub mod plan_acts;
pub mod policies;
pub mod rack;
pub mod review;
pub mod roster;
pub mod sign_ins;
pub mod story;

pub use door::{ConnectError, GymTx, SERVER_ROLE, Store};
pub use error::{StoreError, touched};
pub use migrate::{MigrateError, make_server_role, migrate};
pub use sqlx::postgres::PgConnectOptions;
