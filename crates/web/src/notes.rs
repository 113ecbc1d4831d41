//! Notes between an athlete and their coaches. The pages are the same on both sides; the address tells
//! which. Health data: an athlete's own, and their coaches'.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{FromRequestParts, Path, Query, State};
use axum::http::request::Parts;
use axum::response::Response;
use leverbook_domain::id::{AthleteId, DecisionId, FlagId};
use leverbook_domain::rules::Flag;
use leverbook_domain::rules::words::{for_athlete, sentence};
use leverbook_domain::text::NoteBody;
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::names::GymNames;
use leverbook_store::notes::{self, About, NewNote, Note, Side, Thread, Wanted};
use leverbook_store::{GymTx, StoreError, flags, roster};
use serde::Deserialize;
use time::PrimitiveDateTime;

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::{Sight, Visit};

/// Notes on one page.
const ON_A_PAGE: u16 = 30;

/// Notes about one session or flag; more than anybody writes.
const ABOUT_ONE_THING: u16 = 100;

/// A note, ready to be read.
pub(crate) struct NoteLine {
    pub(crate) id: DecisionId,
    pub(crate) from: String,
    pub(crate) when: String,
    pub(crate) body: String,
    pub(crate) unread: bool,
    /// Of one's own: whether the other side has opened it.
    pub(crate) read: Option<String>,
    pub(crate) about: Option<AboutWords>,
    /// The way to answer, about the same thing.
    pub(crate) answer: Option<String>,
}

/// What a note is about, in words, with the way there.
pub(crate) struct AboutWords {
    pub(crate) words: String,
    pub(crate) href: Option<String>,
}

/// The form for a new note.
pub(crate) struct Writing {
    pub(crate) action: String,
    pub(crate) id: DecisionId,
    pub(crate) about: String,
    pub(crate) about_words: Option<String>,
    pub(crate) form: Form,
    pub(crate) label: String,
    pub(crate) hint: String,
    /// Why nobody would read it; then there is no form.
    pub(crate) nobody: Option<&'static str>,
}

/// Notes and the form for the next one, as other pages have them.
pub(crate) struct Section {
    pub(crate) lines: Vec<NoteLine>,
    pub(crate) writing: Writing,
    /// The page with all notes.
    pub(crate) all: String,
}

/// Whose notes, and on which side the visitor is.
pub(crate) struct Reader<'a> {
    visit: &'a Visit,
    athlete: AthleteId,
    name: String,
    has_account: bool,
    side: Side,
}

impl<'a> Reader<'a> {
    /// A coach who has the athlete on their roster, or the athlete.
    pub(crate) fn new(visit: &'a Visit, athlete: &Athlete, by_coach: bool) -> Self {
        Self {
            visit,
            athlete: athlete.id,
            name: athlete.name.to_string(),
            has_account: athlete.person.is_some(),
            side: if by_coach { Side::Coach } else { Side::Athlete },
        }
    }

    fn all(&self) -> String {
        match self.side {
            Side::Coach => self.visit.to(&format!("athletes/{}/notes", self.athlete)),
            Side::Athlete => self.visit.to("mine/notes"),
        }
    }

    fn nav(&self) -> Nav {
        match self.side {
            Side::Coach => Nav::Notes,
            Side::Athlete => Nav::MyNotes,
        }
    }

    /// The page of what a note is about, where the reader has one.
    fn page_of(&self, about: About) -> Option<String> {
        let (athlete, to) = (self.athlete, |page: String| Some(self.visit.to(&page)));
        match (about, self.side) {
            (About::Nothing, _) | (About::Flag(_), Side::Athlete) => None,
            (About::Session(session), Side::Athlete) => to(format!("log/{session}")),
            (About::Session(session), Side::Coach) => {
                to(format!("athletes/{athlete}/log/{session}"))
            }
            (About::Flag(flag), Side::Coach) => to(format!("athletes/{athlete}/flags/{flag}")),
        }
    }

    async fn words(
        &self,
        tx: &mut GymTx,
        notes: &[Note],
        asked: About,
    ) -> Result<Vec<(FlagId, String)>, StoreError> {
        let is_flag = |about: About| matches!(about, About::Flag(_));
        if !is_flag(asked) && !notes.iter().any(|note| is_flag(note.about)) {
            return Ok(Vec::new());
        }
        let names = GymNames::load(tx).await?;
        let told = flags::story(tx, self.athlete).await?;
        Ok(told
            .iter()
            .map(|kept| (kept.id, self.flag_words(&kept.flag, &names)))
            .collect())
    }

    fn flag_words(&self, flag: &Flag, names: &GymNames) -> String {
        match self.side {
            Side::Coach => format!("{}: {}", flag.rule.id(), sentence(flag, names)),
            Side::Athlete => for_athlete(flag, names)
                .unwrap_or_else(|| "what the rules saw in your log".to_owned()),
        }
    }

    fn line(&self, note: &Note, flags: &[(FlagId, String)]) -> NoteLine {
        let from = if note.own {
            "You".to_owned()
        } else {
            note.by.clone().unwrap_or_else(|| match note.side {
                Side::Coach => "A coach who has left".to_owned(),
                Side::Athlete => self.name.clone(),
            })
        };
        NoteLine {
            id: note.id,
            from,
            when: when(note.at),
            body: note.body.clone(),
            unread: note.unread,
            read: (note.side == self.side).then(|| match note.read_on {
                Some(day) => format!("opened on {}", day_label(day)),
                None => "not opened yet".to_owned(),
            }),
            about: self.about_words(note.about, note.session_on, flags),
            answer: (note.side != self.side && !note.own).then(|| match note.about {
                About::Nothing => format!("{}#write", self.all()),
                about => format!("{}?about={}#write", self.all(), about_value(about)),
            }),
        }
    }

    fn about_words(
        &self,
        about: About,
        session_on: Option<time::Date>,
        flags: &[(FlagId, String)],
    ) -> Option<AboutWords> {
        let words = match about {
            About::Nothing => return None,
            About::Session(_) => session_on.map_or_else(
                || "a session".to_owned(),
                |day| format!("the session of {}", day_label(day)),
            ),
            About::Flag(flag) => flags
                .iter()
                .find(|(id, _)| *id == flag)
                .map_or_else(|| "a flag".to_owned(), |(_, words)| words.clone()),
        };
        Some(AboutWords {
            words,
            href: self.page_of(about),
        })
    }

    async fn writing(
        &self,
        app: &App,
        tx: &mut GymTx,
        about: About,
        form: Form,
    ) -> Result<Writing, StoreError> {
        let nobody = match self.side {
            Side::Coach => None,
            Side::Athlete => nobody_reads(tx, self.athlete).await?,
        };
        let flags = self.words(tx, &[], about).await?;
        let session_on = match about {
            About::Session(session) => leverbook_store::log::revisions(tx, self.athlete, session)
                .await?
                .pop()
                .map(|newest| newest.on),
            About::Nothing | About::Flag(_) => None,
        };
        let (label, hint) = match (self.side, self.has_account) {
            (Side::Coach, true) => (
                format!("Note to {}", self.name),
                "They and their coaches here read it.".to_owned(),
            ),
            (Side::Coach, false) => (
                format!("Note to {}", self.name),
                "They have no account yet and read it once they have joined; so do their coaches \
                 here."
                    .to_owned(),
            ),
            (Side::Athlete, _) => (
                "Note to your coach".to_owned(),
                "Only your coaches here read it, when they next open the book. If something hurts, \
                 stop, and log it: nobody watches these notes at once."
                    .to_owned(),
            ),
        };
        Ok(Writing {
            action: self.all(),
            id: app.new_id(),
            about: about_value(about),
            about_words: self
                .about_words(about, session_on, &flags)
                .map(|about| about.words),
            form,
            label,
            hint,
            nobody,
        })
    }

    /// The notes about one thing, opened with it, and the form for the next.
    pub(crate) async fn about(
        &self,
        app: &App,
        tx: &mut GymTx,
        about: About,
        sight: Sight,
        frame: &mut Frame,
    ) -> Result<Section, StoreError> {
        let wanted = Wanted {
            about: Some(about),
            at_most: ABOUT_ONE_THING,
            ..Wanted::default()
        };
        let notes = notes::of_athlete(tx, self.athlete, self.side, wanted).await?;
        self.opened(tx, &notes, sight, frame).await?;
        let lines = self.lines(tx, &notes).await?.into_iter();
        Ok(Section {
            // They stand with the thing itself, and the form is below them.
            lines: lines
                .map(|line| NoteLine {
                    about: None,
                    answer: None,
                    ..line
                })
                .collect(),
            writing: self.writing(app, tx, about, Form::default()).await?,
            all: self.all(),
        })
    }

    /// The newest notes and the form for the next, on a page that is about more than notes.
    pub(crate) async fn in_short(
        &self,
        app: &App,
        tx: &mut GymTx,
        at_most: u16,
    ) -> Result<Section, StoreError> {
        Ok(Section {
            lines: self.newest(tx, at_most).await?,
            writing: self
                .writing(app, tx, About::Nothing, Form::default())
                .await?,
            all: self.all(),
        })
    }

    /// The newest notes, opened or not.
    pub(crate) async fn newest(
        &self,
        tx: &mut GymTx,
        at_most: u16,
    ) -> Result<Vec<NoteLine>, StoreError> {
        let wanted = Wanted {
            at_most,
            ..Wanted::default()
        };
        let notes = notes::of_athlete(tx, self.athlete, self.side, wanted).await?;
        self.lines(tx, &notes).await
    }

    /// The notes that were not opened, newest first.
    pub(crate) async fn unread(
        &self,
        tx: &mut GymTx,
        at_most: u16,
    ) -> Result<Vec<NoteLine>, StoreError> {
        let wanted = Wanted {
            unread_only: true,
            at_most,
            ..Wanted::default()
        };
        let notes = notes::of_athlete(tx, self.athlete, self.side, wanted).await?;
        self.lines(tx, &notes).await
    }

    async fn lines(&self, tx: &mut GymTx, notes: &[Note]) -> Result<Vec<NoteLine>, StoreError> {
        let flags = self.words(tx, notes, About::Nothing).await?;
        Ok(notes.iter().map(|note| self.line(note, &flags)).collect())
    }

    /// What is shown whole counts as read from now on.
    async fn opened(
        &self,
        tx: &mut GymTx,
        notes: &[Note],
        sight: Sight,
        frame: &mut Frame,
    ) -> Result<(), StoreError> {
        if sight == Sight::Opened {
            let opened = notes::mark_read(tx, notes, self.visit.now).await?;
            frame.has_opened(self.nav(), opened);
        }
        Ok(())
    }
}

/// Why an athlete's note would be read by nobody.
async fn nobody_reads(
    tx: &mut GymTx,
    athlete: AthleteId,
) -> Result<Option<&'static str>, StoreError> {
    let coaches = roster::coaches_of(tx, athlete).await?;
    Ok(coaches.is_empty().then_some(
        "No coach has you on their roster yet, so nobody would read a note. Ask at the hall who \
         looks after you.",
    ))
}

fn when(at: PrimitiveDateTime) -> String {
    format!(
        "{}, {:02}:{:02}",
        day_label(at.date()),
        at.hour(),
        at.minute()
    )
}

/// What a form or an address says of the thing that a note is about.
fn about_value(about: About) -> String {
    match about {
        About::Nothing => String::new(),
        About::Session(session) => format!("session:{session}"),
        About::Flag(flag) => format!("flag:{flag}"),
    }
}

fn about_from(text: &str) -> Option<About> {
    match text.split_once(':') {
        None if text.is_empty() => Some(About::Nothing),
        Some(("session", id)) => id.parse().ok().map(About::Session),
        Some(("flag", id)) => id.parse().ok().map(About::Flag),
        _ => None,
    }
}

/// What the address says: `/mine/notes`, or `/athletes/{athlete}/notes`.
pub(crate) struct Whose(Option<AthleteId>);

impl FromRequestParts<App> for Whose {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, PageError> {
        let Path(named) = Path::<HashMap<String, String>>::from_request_parts(parts, app)
            .await
            .map_err(|_| PageError::NotFound)?;
        named
            .get("athlete")
            .map(|id| id.parse().map_err(|_| PageError::NotFound))
            .transpose()
            .map(Self)
    }
}

impl Whose {
    async fn open<'a>(&self, tx: &mut GymTx, visit: &'a Visit) -> Result<Reader<'a>, StoreError> {
        let athlete = match self.0 {
            None => athletes::of_person(tx, visit.account).await?,
            Some(athlete) => athletes::of_roster(tx, visit.account, athlete).await?,
        };
        Ok(Reader::new(visit, &athlete, self.0.is_some()))
    }
}

/// Which notes, and about what the next is.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    about: String,
    #[serde(default)]
    before: String,
}

#[derive(Template)]
#[template(path = "notes/thread.html")]
pub(crate) struct ThreadPage {
    frame: Frame,
    title: String,
    /// A coach's way to the athlete's page.
    story: Option<String>,
    section: Section,
    /// The address of the notes before these.
    older: Option<String>,
    is_newest: bool,
}

/// `GET /mine/notes` and `GET /athletes/{athlete}/notes`: all notes, newest first.
pub(crate) async fn thread(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    sight: Sight,
    Query(asked): Query<Asked>,
) -> Result<Page<ThreadPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let reader = whose.open(&mut tx, &visit).await?;
    let about = about_from(&asked.about).ok_or(PageError::NotFound)?;
    let before = asked.before.parse().ok();
    let page = thread_page(
        &app,
        &mut tx,
        &reader,
        about,
        before,
        sight,
        Form::default(),
    )
    .await?;
    tx.commit().await?;
    Ok(Page(page))
}

async fn thread_page(
    app: &App,
    tx: &mut GymTx,
    reader: &Reader<'_>,
    about: About,
    before: Option<DecisionId>,
    sight: Sight,
    form: Form,
) -> Result<ThreadPage, StoreError> {
    let title = match reader.side {
        Side::Coach => format!("Notes: {}", reader.name),
        Side::Athlete => "My notes".to_owned(),
    };
    let mut frame = reader.visit.frame(title.as_str(), reader.nav());
    let wanted = Wanted {
        before,
        at_most: ON_A_PAGE,
        ..Wanted::default()
    };
    let notes = notes::of_athlete(tx, reader.athlete, reader.side, wanted).await?;
    reader.opened(tx, &notes, sight, &mut frame).await?;
    let is_full = notes.len() == usize::from(ON_A_PAGE);
    Ok(ThreadPage {
        frame,
        title,
        story: (reader.side == Side::Coach)
            .then(|| reader.visit.to(&format!("athletes/{}", reader.athlete))),
        older: notes
            .last()
            .filter(|_| is_full)
            .map(|oldest| format!("{}?before={}", reader.all(), oldest.id)),
        is_newest: before.is_none(),
        section: Section {
            lines: reader.lines(tx, &notes).await?,
            writing: reader.writing(app, tx, about, form).await?,
            all: reader.all(),
        },
    })
}

/// `POST /mine/notes` and `POST /athletes/{athlete}/notes`: writes a note, once however often it is
/// sent, and goes to what it is about.
pub(crate) async fn write(
    State(app): State<App>,
    visit: Visit,
    whose: Whose,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let reader = whose.open(&mut tx, &visit).await?;
    let about = about_from(posted.text("about")).ok_or(PageError::NotFound)?;
    let mut errors = FieldErrors::new();
    let body = errors.read(&posted, "words", NoteBody::new);
    let id = errors.read(&posted, "id", |text| {
        text.parse::<DecisionId>()
            .map_err(|_| "is missing: open the page again")
    });
    if reader.side == Side::Athlete
        && let Some(why) = nobody_reads(&mut tx, reader.athlete).await?
    {
        errors.add("words", why);
    }
    let (Some(id), Some(body), false) = (id, body, errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = thread_page(&app, &mut tx, &reader, about, None, Sight::Fetched, form).await?;
        return Ok(Page::unprocessable(page));
    };
    let new = NewNote {
        id,
        athlete: reader.athlete,
        side: reader.side,
        about,
        body,
        at: visit.now,
    };
    notes::write(&mut tx, &new).await?;
    tx.commit().await?;
    let page = reader.page_of(about).unwrap_or_else(|| reader.all());
    Ok(see_other(&format!("{page}?done=note-written#notes")))
}

#[derive(Template)]
#[template(path = "notes/people.html")]
pub(crate) struct PeoplePage {
    frame: Frame,
    people: Vec<PersonLine>,
}

/// An athlete of the roster, with what was written.
struct PersonLine {
    name: String,
    href: String,
    unread: i64,
    newest: Option<String>,
}

impl PersonLine {
    fn of(visit: &Visit, thread: &Thread) -> Self {
        let by = if thread.newest_from_athlete {
            "theirs"
        } else {
            "a coach’s"
        };
        Self {
            name: thread.name.to_string(),
            href: visit.to(&format!("athletes/{}/notes", thread.athlete)),
            unread: thread.unread,
            newest: thread.newest.map(|at| format!("{}, {by}", when(at))),
        }
    }
}

/// `GET /notes`: a coach's roster, those with unread notes first.
pub(crate) async fn people(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<PeoplePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let threads = notes::threads(&mut tx, visit.account).await?;
    Ok(Page(PeoplePage {
        frame: visit.frame("Notes", Nav::Notes),
        people: threads
            .iter()
            .map(|thread| PersonLine::of(&visit, thread))
            .collect(),
    }))
}
