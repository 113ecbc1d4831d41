//! Inviting somebody: a link that works once, as text and as a QR code; and taking it back.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::AthleteId;
use leverbook_store::invitations::{self, Fate, Invitation};
use leverbook_store::people::Role;
use leverbook_store::sign_ins::TokenHash;
use leverbook_store::{StoreError, athletes};
use qrcode::{Color, QrCode};
use serde::Deserialize;

use crate::account::own::instant;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;
use crate::{App, tokens};

#[derive(Template)]
#[template(path = "owner/invite.html")]
struct InvitePage {
    frame: Frame,
    form: Form,
    roles: Vec<Choice>,
    athletes: Vec<Choice>,
    invitations: Vec<Invitation>,
}

#[derive(Template)]
#[template(path = "owner/invited.html")]
struct InvitedPage {
    frame: Frame,
    link: String,
    code: Code,
    role: Role,
    expires: String,
    only_here: bool,
}

/// A QR code as one SVG path: a unit square for each dark module.
struct Code {
    path: String,
    /// Modules along a side, with the quiet zone of four that ISO/IEC 18004 asks for.
    side: usize,
}

impl Code {
    fn of(text: &str) -> Result<Self, PageError> {
        const QUIET: usize = 4;
        let code = QrCode::new(text).map_err(|error| PageError::Internal(error.to_string()))?;
        let width = code.width();
        let path = code
            .to_colors()
            .iter()
            .enumerate()
            .filter(|(_, colour)| **colour == Color::Dark)
            .map(|(i, _)| format!("M{} {}h1v1h-1z", i % width + QUIET, i / width + QUIET))
            .collect();
        Ok(Self {
            path,
            side: width + 2 * QUIET,
        })
    }
}

/// What the form sends where the athlete is not in the book yet.
const NEW: &str = "new";

/// The roles that this visitor may invite to: an owner to all, a coach to train.
fn roles(visit: &Visit) -> Vec<Role> {
    if visit.roles.has(Role::Owner) {
        Role::ALL.to_vec()
    } else {
        vec![Role::Athlete]
    }
}

/// Whether this visitor may take an invitation back: an owner any, a coach their own.
fn may_withdraw(visit: &Visit, invitation: &Invitation) -> bool {
    visit.roles.has(Role::Owner) || invitation.invited_by == visit.account
}

/// Where inviting belongs: an owner comes from the people, a coach from the roster.
fn room(visit: &Visit) -> Nav {
    if visit.roles.has(Role::Owner) {
        Nav::People
    } else {
        Nav::Roster
    }
}

/// Whom the invitation is for, where the page that led here said so.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    athlete: Option<String>,
}

async fn page(app: &App, visit: &Visit, form: Form) -> Result<InvitePage, PageError> {
    let mut tx = visit.enter(app).await?;
    let mut choices = vec![Choice::new(NEW, "Somebody who is not in the book yet")];
    let rosters = athletes::rosters(&mut tx).await?;
    for athlete in athletes::all(&mut tx).await? {
        let theirs = visit.roles.has(Role::Owner) || rosters.contains(&(athlete.id, visit.account));
        if athlete.person.is_none() && theirs {
            choices.push(Choice::new(athlete.id.to_string(), athlete.name));
        }
    }
    let word = |role: &Role| match role {
        Role::Coach => "Coach: plans, reviews and sees health notes of their roster",
        Role::Athlete => "Athlete: logs training and sees their own plan",
        Role::Owner => "Owner: attendance and people, no health data",
    };
    let mut invitations = invitations::open(&mut tx, visit.now).await?;
    invitations.retain(|invitation| may_withdraw(visit, invitation));
    Ok(InvitePage {
        frame: visit.frame("Invite somebody", room(visit)),
        form,
        roles: roles(visit)
            .iter()
            .map(|role| Choice::new(role.word(), word(role)))
            .collect(),
        athletes: choices,
        invitations,
    })
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let athlete = asked.athlete.unwrap_or_else(|| NEW.to_owned());
    let form = Form::with([
        ("role", Role::Athlete.word().to_owned()),
        ("athlete", athlete),
    ]);
    Ok(Page(page(&app, &visit, form).await?).into_response())
}

pub(crate) async fn invite(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let role = errors.read(&posted, "role", |word| {
        Role::from_word(word)
            .filter(|role| roles(&visit).contains(role))
            .ok_or("Choose a role that you may invite to")
    });
    let mut tx = visit.enter(&app).await?;
    let mut athlete = None;
    if role == Some(Role::Athlete) && !matches!(posted.text("athlete"), NEW | "") {
        athlete = errors.read(&posted, "athlete", str::parse::<AthleteId>);
        if let Some(id) = athlete
            && let Err(sentence) = may_be_invited(&mut tx, &visit, id).await?
        {
            errors.add("athlete", sentence);
        }
    }
    let (Some(role), false) = (role, errors.any()) else {
        drop(tx);
        let page = page(&app, &visit, Form::again(&posted, errors)).await?;
        return Ok(Page::unprocessable(page));
    };
    let token = tokens::secret();
    let expires = visit.now + app.config.invitation;
    let hash = TokenHash::of(&token);
    invitations::create(&mut tx, hash, role, athlete, visit.now, expires).await?;
    tx.commit().await?;
    let link = format!("{}/invitation/{}/{token}", app.config.origin(), visit.gym);
    // Not sent on to another page: the token is not stored, so it can only be shown now.
    Ok(Page(InvitedPage {
        frame: visit.frame("The invitation", room(&visit)),
        code: Code::of(&link)?,
        link,
        role,
        expires: instant(expires),
        only_here: app.config.is_for_this_machine_only(),
    })
    .into_response())
}

/// Takes an invitation back. Sent twice, it is done once.
pub(crate) async fn withdraw(
    State(app): State<App>,
    visit: Visit,
    Path((_, invitation)): Path<(String, String)>,
    _: Posted,
) -> Result<Response, PageError> {
    let token: TokenHash = invitation.parse().map_err(|_| PageError::NotFound)?;
    let mut tx = visit.enter(&app).await?;
    let mut invitation = invitations::find(&mut tx, token).await?;
    if !may_withdraw(&visit, &invitation) {
        return Err(PageError::NotFound);
    }
    match invitations::withdraw(&mut tx, token, visit.now).await {
        Ok(()) => tx.commit().await?,
        // Somebody was quicker, now or long ago: with what?
        Err(StoreError::NotFound) => invitation = invitations::find(&mut tx, token).await?,
        Err(error) => return Err(error.into()),
    }
    if invitation.fate == Fate::TakenUp {
        return Err(PageError::Conflict(
            "The invitation was taken up before it could be withdrawn. An owner can take the role away, on the page People."
                .to_owned(),
        ));
    }
    let room = if visit.roles.has(Role::Owner) {
        "people"
    } else {
        "people/invite"
    };
    Ok(see_other(&visit.to(&format!("{room}?done=withdrawn"))))
}

/// Whether an athlete of the book can be invited by this visitor, or why not.
async fn may_be_invited(
    tx: &mut leverbook_store::GymTx,
    visit: &Visit,
    athlete: AthleteId,
) -> Result<Result<(), &'static str>, StoreError> {
    let known = match athletes::get(tx, athlete).await {
        Ok(known) => known,
        Err(StoreError::NotFound) => return Ok(Err("There is no such athlete")),
        Err(error) => return Err(error),
    };
    let theirs =
        visit.roles.has(Role::Owner) || athletes::is_on_roster(tx, visit.account, athlete).await?;
    Ok(if !theirs {
        Err("There is no such athlete")
    } else if known.person.is_some() {
        Err("They have an account already")
    } else {
        Ok(())
    })
}
