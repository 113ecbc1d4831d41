//! Everything that needs a database or a server, in one program: one cluster for all.

mod accounts;
mod ahead;
mod assign;
mod browser;
mod calendar;
mod carried;
mod classes;
mod demo;
mod files;
mod forms;
mod guided;
mod hall;
mod log;
mod mine;
mod parts;
mod phone;
mod plan;
mod policy;
mod rack;
mod rack_care;
mod review;
mod roster;
mod routes;
mod story;
mod walls;
