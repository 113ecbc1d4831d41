//! What every end-to-end test shares: a real server on a real PostgreSQL, a gym with people in it,
//! and clients shaped as actors.
//!
//! One disposable cluster serves all tests of a process. Each test gets a database of its own,
//! copied from one that was migrated once, and a server on a free port whose connections have the
//! server's role.
//!
//! ```no_run
//! # async fn example() {
//! use leverbook_tests::TestGym;
//!
//! let gym = TestGym::new().await;
//! let mut coach = gym.coach().await;
//! assert_eq!(coach.get(&gym.path("people")).status, 200);
//! assert_eq!(gym.anon().get(&gym.path("people")).status, 303);
//! # }
//! ```

mod actor;
mod assigned;
mod database;
pub mod demo_gym;
mod forwarder;
mod gym;
pub mod roster_of_sixty;

pub use actor::{Actor, Answer};
pub use assigned::assign;
pub use database::Database;
pub use forwarder::Forwarder;
pub use gym::{NOW, PASSWORD, Person, TestGym, new_id};
