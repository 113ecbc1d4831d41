//! The pages: what a person sees and sends. A handler parses, asks the domain, opens one
//! transaction and returns a page; it computes nothing itself.

pub mod app;
pub mod assets;
pub mod chart;
pub mod clock;
pub mod config;
pub mod days;
pub mod error;
pub mod evidence;
pub mod form;
pub mod frame;
pub mod numbers;
pub mod page;
pub mod parts;
pub mod passwords;
pub mod posted;
pub mod routes;
pub mod shipping;
pub mod tokens;
pub mod visit;
pub mod week_mail;

mod account;
mod ahead;
mod athlete;
mod club_picture;
mod coach;
mod day_change;
mod files;
mod guard;
mod limits;
mod notes;
mod observe;
mod owner;
mod policy;
mod rules;
mod sample_parts;
mod too_large;

pub use app::{App, serve};
pub use clock::Clock;
pub use config::Config;
