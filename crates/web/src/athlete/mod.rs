//! The athlete's pages, made for a phone between swings: what to do now, the log, how it goes,
//! what is to come. An athlete only ever reaches their own; a coach can log for those on
//! their roster, with the same pages.

pub(crate) mod calendar;
pub(crate) mod calendar_feed;
pub(crate) mod carried;
pub(crate) mod carry;
mod catalogue;
mod entry;
mod log;
mod log_form;
mod mine;
pub(crate) mod phone;
mod plan;
mod questions;
mod show;
mod today;
mod whose;

pub(crate) use log::{change, edit, new, send, session, take_back};
pub(crate) use mine::mine;
pub(crate) use plan::plan;
pub(crate) use today::today;
