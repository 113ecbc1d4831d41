//! Whose log a request is about: one's own, or that of an athlete on the coach's roster. The pages
//! are the same; the address tells.

use std::collections::HashMap;

use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;
use leverbook_domain::id::{AthleteId, SessionId};
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::{GymTx, StoreError};

use super::catalogue::Catalogue;
use super::questions::AfterSession;
use crate::App;
use crate::error::PageError;
use crate::frame::Nav;
use crate::visit::Visit;

/// What the address says: `/log/…`, or `/athletes/{athlete}/log/…`.
pub(crate) struct Whose {
    /// `None` for one's own log.
    athlete: Option<AthleteId>,
    session: Option<SessionId>,
}

impl FromRequestParts<App> for Whose {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, PageError> {
        let Path(named) = Path::<HashMap<String, String>>::from_request_parts(parts, app)
            .await
            .map_err(|_| PageError::NotFound)?;
        fn read<T: std::str::FromStr>(text: Option<&String>) -> Result<Option<T>, PageError> {
            text.map(|text| text.parse().map_err(|_| PageError::NotFound))
                .transpose()
        }
        Ok(Self {
            athlete: read(named.get("athlete"))?,
            session: read(named.get("session"))?,
        })
    }
}

/// An athlete whose log the visitor may read and write, and what the gym calls things.
pub(super) struct Own {
    pub(super) athlete: Athlete,
    pub(super) catalogue: Catalogue,
    pub(super) after: AfterSession,
    /// Whether a coach is at it, not the athlete.
    pub(super) by_coach: bool,
    base: String,
}

impl Whose {
    /// The session that the address names.
    pub(super) fn session(&self) -> Result<SessionId, PageError> {
        self.session.ok_or(PageError::NotFound)
    }

    /// The athlete: oneself, or somebody on the visiting coach's roster. Others do not exist.
    pub(super) async fn open(&self, tx: &mut GymTx, visit: &Visit) -> Result<Own, StoreError> {
        let athlete = match self.athlete {
            None => athletes::of_person(tx, visit.account).await?,
            Some(athlete) => athletes::of_roster(tx, visit.account, athlete).await?,
        };
        Ok(Own {
            base: match self.athlete {
                None => visit.to("log"),
                Some(athlete) => visit.to(&format!("athletes/{athlete}/log")),
            },
            catalogue: Catalogue::load(tx, athlete.id).await?,
            after: AfterSession::load(tx, athlete.id, self.athlete.is_some(), visit.today).await?,
            by_coach: self.athlete.is_some(),
            athlete,
        })
    }
}

impl Own {
    /// An address inside this log: `own.to("new")`.
    pub(super) fn to(&self, page: impl std::fmt::Display) -> String {
        format!("{}/{page}", self.base)
    }

    /// A title that says whose log it is, where it is not one's own.
    pub(super) fn title(&self, title: &str) -> String {
        if self.by_coach {
            format!("{title}: {}", self.athlete.name)
        } else {
            title.to_owned()
        }
    }

    /// The room that the page is in.
    pub(super) const fn nav(&self, own: Nav) -> Nav {
        if self.by_coach { Nav::Roster } else { own }
    }
}
