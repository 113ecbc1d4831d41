//! The roster: who is here, how are they.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::roster::Status;
use leverbook_domain::rules::Severity;
use leverbook_store::people::{self, Person, Role};
use leverbook_store::roster::{self, Coached, Found, PAGE, Search};
use serde::Deserialize;

use crate::App;
use crate::error::PageError;
use crate::form::Form;
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// What stands for "all of them" in a filter.
const ANY: &str = "any";

#[derive(Template)]
#[template(path = "coach/roster.html")]
pub(crate) struct RosterPage {
    frame: Frame,
    form: Form,
    statuses: Vec<Choice>,
    coaches: Vec<Choice>,
    severities: Vec<Choice>,
    found: Found,
    /// Whether somebody on the page can be assigned a block.
    may_pick: bool,
    /// "1 to 50 of 212".
    extent: String,
    /// The query of the page before, and of the one after.
    before: Option<String>,
    after: Option<String>,
}

/// The filters, as typed.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    name: String,
    status: Option<String>,
    coach: Option<String>,
    flag: String,
    page: String,
}

impl Asked {
    /// Without a word, a coach sees their own athletes who train.
    fn search(&self, visit: &Visit) -> Search {
        // A name has no control characters; PostgreSQL's text cannot hold all of them.
        let text: String = self
            .name
            .trim()
            .chars()
            .filter(|c| !c.is_control())
            .take(120)
            .collect();
        Search {
            text,
            status: Status::from_word(self.status_word()),
            coached: match self.coach_word() {
                ANY => Coached::ByAnybody,
                "nobody" => Coached::ByNobody,
                id => Coached::By(id.parse().unwrap_or(visit.account)),
            },
            at_least: Severity::from_word(&self.flag),
            page: self.page.parse().unwrap_or(1).max(1),
        }
    }

    fn status_word(&self) -> &str {
        self.status.as_deref().unwrap_or(Status::Active.word())
    }

    fn coach_word(&self) -> &str {
        self.coach.as_deref().unwrap_or("me")
    }

    /// The query of another page of the same search.
    fn query(&self, page: u32) -> String {
        form_urlencoded::Serializer::new(String::new())
            .append_pair("name", &self.name)
            .append_pair("status", self.status_word())
            .append_pair("coach", self.coach_word())
            .append_pair("flag", &self.flag)
            .append_pair("page", &page.to_string())
            .finish()
    }
}

/// Athletes by name, a page at a time.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Page<RosterPage>, PageError> {
    let wanted = asked.search(&visit);
    let mut tx = visit.enter(&app).await?;
    let found = roster::search(&mut tx, &wanted, visit.today).await?;
    let people = people::list(&mut tx).await?;
    let shown = i64::try_from(found.lines.len()).unwrap_or(PAGE);
    let first = i64::from(wanted.page - 1) * PAGE + 1;
    let last = first + shown - 1;
    Ok(Page(RosterPage {
        frame: visit.frame("Roster", Nav::Roster),
        form: Form::with([
            ("name", asked.name.as_str()),
            ("status", asked.status_word()),
            ("coach", asked.coach_word()),
            ("flag", asked.flag.as_str()),
        ]),
        statuses: statuses(),
        coaches: coaches(&people, visit.account),
        severities: severities(),
        may_pick: found
            .lines
            .iter()
            .any(|line| line.closer.is_some() && line.status == Status::Active),
        extent: if shown == 0 {
            String::new()
        } else {
            format!("{first} to {last} of {}", found.total)
        },
        before: (wanted.page > 1).then(|| asked.query(wanted.page - 1)),
        after: (last < found.total).then(|| asked.query(wanted.page + 1)),
        found,
    }))
}

fn statuses() -> Vec<Choice> {
    std::iter::once(Choice::new(ANY, "any"))
        .chain(Status::ALL.map(|status| Choice::new(status.word(), status.word())))
        .collect()
}

/// The filter of coaches: oneself first.
fn coaches(people: &[Person], me: AccountId) -> Vec<Choice> {
    let others = people
        .iter()
        .filter(|person| person.roles.has(Role::Coach) && person.id != me)
        .map(|person| Choice::new(person.id.to_string(), person.name.to_string()));
    [Choice::new("me", "me"), Choice::new(ANY, "any")]
        .into_iter()
        .chain(others)
        .chain([Choice::new("nobody", "nobody")])
        .collect()
}

fn severities() -> Vec<Choice> {
    vec![
        Choice::new("", "any or none"),
        Choice::new("note", "note or graver"),
        Choice::new("look", "look or stop"),
        Choice::new("stop", "stop"),
    ]
}

/// Puts an athlete whom nobody looks after on one's own roster.
pub(crate) async fn take_on(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    _token_checked: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    roster::take_on(&mut tx, athlete).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to("roster?done=taken-on")))
}
