//! Classes: the list of the week, what is written about one, and its plan on a day. The owner keeps
//! the list, too; the plan is the coach's.

mod day;
mod told;

pub(crate) use day::{make, show as show_plan};

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::id::{AccountId, AthleteId, ClassId};
use leverbook_domain::roster::Status;
use leverbook_domain::text::ClassName;
use leverbook_store::classes::{self, Class, ClassDetails};
use leverbook_store::people::{self, Role};
use leverbook_store::{GymTx, StoreError, athletes};
use time::macros::format_description;
use time::{Time, Weekday};

use super::words;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// What the schema says at the field that it is about.
const REFUSED: [(&str, &str, &str); 2] = [
    (
        "classes_once",
        "name",
        "is the name of another class at that hour, perhaps a retired one",
    ),
    (
        "classes_gym_id_coach_id_fkey",
        "taken_by",
        "choose somebody from the list",
    ),
];

#[derive(Template)]
#[template(path = "coach/classes.html")]
pub(crate) struct ClassesPage {
    frame: Frame,
    in_use: Vec<Line>,
    retired: Vec<Line>,
    /// Plans are the coach's.
    may_plan: bool,
}

/// A class in the list.
struct Line {
    id: ClassId,
    name: String,
    when: String,
    minutes: u16,
    at_once: u16,
    coach: Option<String>,
    members: usize,
    /// Its next day, for the address and in words.
    next: (String, String),
}

impl Line {
    fn new(class: Class, visit: &Visit) -> Self {
        let next = class.day_from(visit.today);
        Self {
            id: class.id,
            when: when(&class.details),
            name: class.details.name.to_string(),
            minutes: class.details.minutes,
            at_once: class.details.at_once,
            coach: class.coach_name,
            members: class.members,
            next: (next.to_string(), day_label(next)),
        }
    }
}

/// "Thursday, 18:30".
fn when(details: &ClassDetails) -> String {
    let weekday = words::weekday(details.weekday);
    format!("{weekday}, {}", hour(details.starts_at))
}

/// "18:30".
fn hour(time: Time) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<ClassesPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let (retired, in_use): (Vec<Class>, Vec<Class>) = classes::all(&mut tx)
        .await?
        .into_iter()
        .partition(|class| class.retired_at.is_some());
    let lines = |classes: Vec<Class>| {
        let line = |class| Line::new(class, &visit);
        classes.into_iter().map(line).collect()
    };
    Ok(Page(ClassesPage {
        frame: visit.frame("Classes", Nav::Classes),
        in_use: lines(in_use),
        retired: lines(retired),
        may_plan: visit.roles.any(&[Role::Coach]),
    }))
}

#[derive(Template)]
#[template(path = "coach/class.html")]
pub(crate) struct ClassPage {
    frame: Frame,
    form: Form,
    /// `None` for a new one.
    class: Option<ClassId>,
    weekdays: Vec<Choice>,
    coaches: Vec<Choice>,
    athletes: Vec<Choice>,
}

impl ClassPage {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        form: Form,
        class: Option<ClassId>,
    ) -> Result<Self, StoreError> {
        let mut coaches = vec![Choice::new("", "Nobody yet")];
        coaches.extend(
            people::list(tx)
                .await?
                .into_iter()
                .filter(|person| person.roles.any(&[Role::Coach]))
                .map(|person| Choice::new(person.id.to_string(), person.name)),
        );
        let mut athletes: Vec<Choice> = athletes::all(tx)
            .await?
            .into_iter()
            .filter(|athlete| athlete.status != Status::Left)
            .map(|athlete| Choice::new(athlete.id.to_string(), athlete.name.to_string()))
            .collect();
        // Those who come already stand first; the order by name stays.
        athletes.sort_by_key(|athlete| !form.checked("member", &athlete.value));
        let title = if class.is_some() {
            "Change a class"
        } else {
            "Add a class"
        };
        Ok(Self {
            frame: visit.frame(title, Nav::Classes),
            form,
            class,
            weekdays: words::weekdays(),
            coaches,
            athletes,
        })
    }
}

pub(crate) async fn add_form(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<ClassPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let id: ClassId = app.new_id();
    let mut form = Form::with([
        ("class", id.to_string()),
        (
            "day",
            visit.today.weekday().number_from_monday().to_string(),
        ),
        ("starts_at", "18:00".to_owned()),
        ("minutes", "60".to_owned()),
        ("at_once", "6".to_owned()),
    ]);
    if visit.roles.any(&[Role::Coach]) {
        form.set("taken_by", visit.account.to_string());
    }
    Ok(Page(ClassPage::load(&mut tx, &visit, form, None).await?))
}

pub(crate) async fn add(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let wanted = Wanted::read(&posted, &mut errors);
    // The id comes with the form, so that sending twice makes one class.
    let class = posted
        .text("class")
        .parse()
        .unwrap_or_else(|_| app.new_id());
    let mut tx = visit.enter(&app).await?;
    if let Some(wanted) = wanted {
        match classes::add(&mut tx, class, &wanted.details, visit.now).await {
            Ok(()) => return wanted.keep_members(tx, &visit, class).await,
            Err(error) => errors.refused(error, &REFUSED)?,
        }
    }
    drop(tx);
    let mut tx = visit.enter(&app).await?;
    let form = Form::again(&posted, errors);
    let page = ClassPage::load(&mut tx, &visit, form, None).await?;
    Ok(Page::unprocessable(page))
}

pub(crate) async fn change_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, class)): Path<(String, ClassId)>,
) -> Result<Page<ClassPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let Class { details, .. } = classes::get(&mut tx, class).await?;
    let fields = [
        ("name", details.name.to_string()),
        ("day", details.weekday.number_from_monday().to_string()),
        ("starts_at", hour(details.starts_at)),
        ("minutes", details.minutes.to_string()),
        ("at_once", details.at_once.to_string()),
        (
            "taken_by",
            details.coach.map(|id| id.to_string()).unwrap_or_default(),
        ),
    ];
    let members = classes::members(&mut tx, class).await?;
    let members = members.into_iter().map(|id| ("member", id.to_string()));
    let form = Form::with(fields.into_iter().chain(members));
    let page = ClassPage::load(&mut tx, &visit, form, Some(class)).await?;
    Ok(Page(page))
}

pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, class)): Path<(String, ClassId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let wanted = Wanted::read(&posted, &mut errors);
    let mut tx = visit.enter(&app).await?;
    classes::get(&mut tx, class).await?;
    if let Some(wanted) = wanted {
        match classes::change(&mut tx, class, &wanted.details).await {
            Ok(()) => return wanted.keep_members(tx, &visit, class).await,
            Err(error) => errors.refused(error, &REFUSED)?,
        }
    }
    drop(tx);
    let mut tx = visit.enter(&app).await?;
    let form = Form::again(&posted, errors);
    let page = ClassPage::load(&mut tx, &visit, form, Some(class)).await?;
    Ok(Page::unprocessable(page))
}

/// Takes a class out of the week, or brings it back.
pub(crate) async fn retire(
    State(app): State<App>,
    visit: Visit,
    Path((_, class)): Path<(String, ClassId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let back = posted.text("bring") == "back";
    let mut tx = visit.enter(&app).await?;
    classes::retire(&mut tx, class, (!back).then_some(visit.now)).await?;
    tx.commit().await?;
    let done = if back {
        "brought-back"
    } else {
        "class-retired"
    };
    Ok(see_other(&visit.to(&format!("classes?done={done}"))))
}

/// A class as read from the form.
struct Wanted {
    details: ClassDetails,
    members: Vec<AthleteId>,
}

impl Wanted {
    fn read(posted: &Posted, errors: &mut FieldErrors) -> Option<Self> {
        let name = errors.read(posted, "name", ClassName::new);
        let weekday = errors.read(posted, "day", |text| {
            text.parse()
                .ok()
                .filter(|number| (1..=7).contains(number))
                .map(|number: u8| Weekday::Monday.nth_next(number - 1))
                .ok_or("choose a day of the week")
        });
        let starts_at = errors.read(posted, "starts_at", |text| {
            Time::parse(text, format_description!("[hour padding:none]:[minute]"))
                .map_err(|_| "is a time of day, such as 18:30")
        });
        let minutes = errors.read(posted, "minutes", |text| {
            within(
                text,
                10..=300,
                "is a whole number of minutes from 10 to 300",
            )
        });
        let at_once = errors.read(posted, "at_once", places);
        let coach: Option<AccountId> = errors.read_optional(posted, "taken_by", |text| {
            text.parse().map_err(|_| "choose somebody from the list")
        });
        let members: Vec<Option<AthleteId>> = posted
            .all("member")
            .iter()
            .map(|id| id.parse().ok())
            .collect();
        if members.contains(&None) {
            errors.add("member", "somebody chosen is not in the list: choose again");
        }
        if errors.any() {
            return None;
        }
        Some(Self {
            details: ClassDetails {
                name: name?,
                weekday: weekday?,
                starts_at: starts_at?,
                minutes: minutes?,
                at_once: at_once?,
                coach,
            },
            members: members.into_iter().flatten().collect(),
        })
    }

    /// Whoever is not in this gym cannot come: the page has nobody else to choose.
    async fn keep_members(
        self,
        mut tx: GymTx,
        visit: &Visit,
        class: ClassId,
    ) -> Result<Response, PageError> {
        match classes::set_members(&mut tx, class, &self.members).await {
            Ok(()) => tx.commit().await?,
            Err(StoreError::Constraint { .. }) => {
                return Err(PageError::Conflict(
                    "Somebody chosen is not in this gym. Nothing was saved; open the class and choose again."
                        .to_owned(),
                ));
            }
            Err(error) => return Err(error.into()),
        }
        Ok(see_other(&visit.to("classes?done=saved")))
    }
}

fn within(
    text: &str,
    range: std::ops::RangeInclusive<i64>,
    sentence: &'static str,
) -> Result<u16, &'static str> {
    let number = whole(text).map_err(|_| sentence)?;
    u16::try_from(number)
        .ok()
        .filter(|_| range.contains(&number))
        .ok_or(sentence)
}

/// How many swing at once.
fn places(text: &str) -> Result<u16, &'static str> {
    within(text, 1..=200, "is a whole number from 1 to 200")
}
