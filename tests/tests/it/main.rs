//! Everything that needs a database or a server, in one program: one cluster for all.

mod accounts;
mod log;
mod walls;
mod demo;
mod files;
