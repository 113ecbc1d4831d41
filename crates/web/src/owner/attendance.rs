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
    wrong: Option<Wrong>,
}

/// A month that is none.
#[derive(Debug)]
struct Wrong {
    typed: String,
    sentence: String,
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
    days: Vec<Seen>,
    count: usize,
    excused: usize,
}

/// A day of a person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Seen {
    Came,
    Excused,
    Neither,
}

/// The page of a month.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let month = match month_of(asked, visit.today) {
        Ok(month) => month,
        Err(wrong) => return refused(&app, &visit, wrong).await,
    };
    let attendance = of_month(&app, &visit, month).await?;
    let frame = visit.frame("Attendance", Nav::Attendance);
    Ok(Page(AttendancePage::new(frame, &attendance, None)).into_response())
}

/// This month's page, with what was typed and why it is no month.
async fn refused(app: &App, visit: &Visit, wrong: Wrong) -> Result<Response, PageError> {
    let attendance = of_month(app, visit, CalendarMonth::of(visit.today)).await?;
    let frame = visit.frame("Attendance", Nav::Attendance);
    let page = AttendancePage::new(frame, &attendance, Some(wrong));
    Ok(Page::unprocessable(page))
}

/// The same month as a file.
pub(crate) async fn csv(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Response, PageError> {
    let month = match month_of(asked, visit.today) {
        Ok(month) => month,
        Err(wrong) => return refused(&app, &visit, wrong).await,
    };
    let attendance = of_month(&app, &visit, month).await?;
    Ok(download(
        &format!("attendance-{month}.csv"),
        attendance_csv(&attendance),
    ))
}

fn month_of(asked: Asked, today: Date) -> Result<CalendarMonth, Wrong> {
    let Some(typed) = asked.month.filter(|typed| !typed.is_empty()) else {
        return Ok(CalendarMonth::of(today));
    };
    typed.parse().map_err(|why: attendance::MonthError| Wrong {
        sentence: why.to_string(),
        typed,
    })
}

/// An owner sees the whole gym, a coach their own roster.
async fn of_month(app: &App, visit: &Visit, month: CalendarMonth) -> Result<Attendance, PageError> {
    let roster_of = (!visit.roles.has(Role::Owner)).then_some(visit.account);
    let mut tx = visit.enter(app).await?;
    Ok(attendance::month(&mut tx, month, roster_of).await?)
}

impl AttendancePage {
    fn new(frame: Frame, attendance: &Attendance, wrong: Option<Wrong>) -> Self {
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
                days: month
                    .days()
                    .map(|day| match person.days.binary_search(&day) {
                        Ok(_) => Seen::Came,
                        Err(_) if person.excused.binary_search(&day).is_ok() => Seen::Excused,
                        Err(_) => Seen::Neither,
                    })
                    .collect(),
                count: person.days.len(),
                excused: person.excused.len(),
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
