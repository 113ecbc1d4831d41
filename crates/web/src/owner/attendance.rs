//! Who came: a month of the gym, by person and by day, on a page and as a file. Names and days only.

use askama::Template;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};
use leverbook_store::attendance::{self, Attendance, CalendarMonth};
use leverbook_store::exchange::attendance_csv;
use leverbook_store::people::Role;
use serde::Deserialize;
use time::macros::format_description;
use time::{Date, Weekday};

use crate::App;
use crate::error::PageError;
use crate::files::download;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

/// Which month; this one where nothing is said.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    month: Option<String>,
}

#[derive(Debug, Template)]
#[template(path = "owner/attendance.html")]
pub(crate) struct AttendancePage {
    frame: Frame,
    title: String,
    month: CalendarMonth,
    before: CalendarMonth,
    after: CalendarMonth,
    days: Vec<DayHead>,
    people: Vec<PersonLine>,
    visits: usize,
    came: usize,
    wrong: Option<String>,
}

/// A column of the table.
#[derive(Debug)]
struct DayHead {
    number: u8,
    long: String,
    /// A Monday: a line is drawn before it.
    starts_week: bool,
    count: usize,
}

/// A row of the table.
#[derive(Debug)]
struct PersonLine {
    name: String,
    came: Vec<bool>,
    count: usize,
}

/// The page of a month.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let (month, wrong) = match month_of(&asked, visit.today) {
        Ok(month) => (month, None),
        Err(sentence) => (CalendarMonth::of(visit.today), Some(sentence)),
    };
    let attendance = of_month(&app, &visit, month).await?;
    let refused = wrong.is_some();
    let page = AttendancePage::new(
        visit.frame("Attendance", Nav::Attendance),
        &attendance,
        wrong,
    );
    Ok(if refused {
        Page::unprocessable(page)
    } else {
        Page(page).into_response()
    })
}

/// The same month as a file.
pub(crate) async fn csv(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let month = month_of(&asked, visit.today).map_err(|_| PageError::NotFound)?;
    let attendance = of_month(&app, &visit, month).await?;
    Ok(download(
        &format!("attendance-{month}.csv"),
        attendance_csv(&attendance),
    ))
}

fn month_of(asked: &Asked, today: Date) -> Result<CalendarMonth, String> {
    match asked.month.as_deref() {
        None | Some("") => Ok(CalendarMonth::of(today)),
        Some(text) => text
            .parse()
            .map_err(|why: attendance::MonthError| why.to_string()),
    }
}

/// An owner sees the whole gym, a coach their own roster.
async fn of_month(app: &App, visit: &Visit, month: CalendarMonth) -> Result<Attendance, PageError> {
    let roster_of = (!visit.roles.has(Role::Owner)).then_some(visit.account);
    let mut tx = visit.enter(app).await?;
    Ok(attendance::month(&mut tx, month, roster_of).await?)
}

impl AttendancePage {
    fn new(frame: Frame, attendance: &Attendance, wrong: Option<String>) -> Self {
        let month = attendance.month;
        let long = format_description!("[weekday] [day padding:none] [month repr:long] [year]");
        let days = attendance
            .by_day()
            .into_iter()
            .map(|(day, count)| DayHead {
                number: day.day(),
                starts_week: day.weekday() == Weekday::Monday,
                long: day.format(long).unwrap_or_else(|_| day.to_string()),
                count,
            })
            .collect();
        let people: Vec<PersonLine> = attendance
            .people
            .iter()
            .map(|person| PersonLine {
                name: person.name.clone(),
                came: month
                    .days()
                    .map(|day| person.days.binary_search(&day).is_ok())
                    .collect(),
                count: person.days.len(),
            })
            .collect();
        Self {
            frame,
            title: month.words(),
            month,
            before: month.before(),
            after: month.after(),
            days,
            visits: attendance.visits(),
            came: people.iter().filter(|person| person.count > 0).count(),
            people,
            wrong,
        }
    }
}
