//! Files in and out: the same three, read with a dry run that tells every problem by line and
//! column, and written so that they read back to the same.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use leverbook_store::exchange::{
    self, Counted, File, Files, Import, ImportError, Problem, Report, Scope,
};

use crate::App;
use crate::error::PageError;
use crate::files::download;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::posted::Posted;
use crate::visit::Visit;

/// The largest upload: far more than a gym logs in a decade.
pub(crate) const UPLOAD_BYTES: usize = 32 * 1024 * 1024;

/// The most text that a checked page carries along, so that importing needs no second choosing.
const CARRIED_BYTES: usize = 4 * 1024 * 1024;

/// The most problems shown on the page.
const SHOWN: usize = 200;

/// A file's field in the form and its name.
const FIELDS: [(&str, File); 3] = [
    ("athletes", File::Athletes),
    ("clubs", File::Clubs),
    ("log", File::Sets),
];

#[derive(Debug, Template)]
#[template(path = "coach/files.html")]
pub(crate) struct FilesPage {
    frame: Frame,
    problems: Vec<(&'static str, Problem)>,
    more_problems: usize,
    outcome: Option<Outcome>,
    nothing_chosen: bool,
    /// Field and text of what was checked and can be imported as it stands.
    carried: Vec<(String, String)>,
}

/// What was done, or would be.
#[derive(Debug)]
struct Outcome {
    dry_run: bool,
    counts: [(&'static str, Counted); 3],
    movements: Vec<String>,
}

impl Outcome {
    fn new(dry_run: bool, report: Report) -> Self {
        let counts = [
            ("Athletes", report.athletes),
            ("Clubs", report.clubs),
            ("Sessions", report.sessions),
        ];
        Self {
            dry_run,
            counts,
            movements: report.movements,
        }
    }
}

impl FilesPage {
    fn new(visit: &Visit) -> Self {
        Self {
            frame: visit.frame("Files", Nav::Files),
            problems: Vec::new(),
            more_problems: 0,
            outcome: None,
            nothing_chosen: false,
            carried: Vec::new(),
        }
    }
}

/// The page.
pub(crate) async fn show(visit: Visit) -> Page<FilesPage> {
    Page(FilesPage::new(&visit))
}

/// Checks or imports what was sent.
pub(crate) async fn take(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut page = FilesPage::new(&visit);
    let contents = FIELDS.map(|(field, _)| content(&posted, field));
    if contents.iter().all(Option::is_none) {
        page.nothing_chosen = true;
        return Ok(Page::unprocessable(page));
    }
    let [athletes, clubs, sets] = contents;
    let dry_run = posted.text("act") != "import";
    let how = Import {
        scope: Scope::Roster,
        now: visit.now,
        today: visit.today,
        dry_run,
    };
    let mut tx = visit.enter(&app).await?;
    match exchange::import(
        &mut tx,
        Files {
            athletes,
            clubs,
            sets,
        },
        how,
    )
    .await
    {
        Err(ImportError::Store(why)) => Err(why.into()),
        Err(ImportError::Refused(problems)) => {
            page.more_problems = problems.len().saturating_sub(SHOWN);
            page.problems = problems
                .into_iter()
                .take(SHOWN)
                .map(|(file, problem)| (file.name(), problem))
                .collect();
            Ok(Page::unprocessable(page))
        }
        Ok(report) => {
            if dry_run {
                page.carried = carried([athletes, clubs, sets]);
            } else {
                tx.commit().await?;
            }
            page.outcome = Some(Outcome::new(dry_run, report));
            Ok(Page(page).into_response())
        }
    }
}

/// What was sent for a field: a chosen file, or the text of one that was checked before.
fn content<'a>(posted: &'a Posted, field: &str) -> Option<&'a [u8]> {
    let text = posted.text(field);
    match posted.file(field) {
        Some(file) => Some(&file.content),
        None if !text.is_empty() => Some(text.as_bytes()),
        None => None,
    }
}

fn carried(contents: [Option<&[u8]>; 3]) -> Vec<(String, String)> {
    let total: usize = contents.iter().flatten().map(|content| content.len()).sum();
    if total > CARRIED_BYTES {
        return Vec::new();
    }
    FIELDS
        .iter()
        .zip(contents)
        .filter_map(|((field, _), content)| {
            let text = std::str::from_utf8(content?).ok()?;
            Some(((*field).to_owned(), text.to_owned()))
        })
        .collect()
}

/// One of the files.
pub(crate) async fn give(
    State(app): State<App>,
    visit: Visit,
    Path((_, name)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let content = match name.as_str() {
        "athletes.csv" => exchange::athletes_csv(&mut tx, Scope::Roster).await?,
        "clubs.csv" => exchange::clubs_csv(&mut tx).await?,
        "sets.csv" => exchange::sets_csv(&mut tx, Scope::Roster).await?,
        _ => return Err(PageError::NotFound),
    };
    Ok(download(&name, content))
}
