//! The gym's thresholds: seen, tried out, changed, taken out and brought in as a file. Nothing is saved
//! before the page has said what it would change.

mod form;
mod preview;
pub(crate) mod turns;

use std::time::Duration;

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::policy::{Policy, PolicyVersion, Threshold, file};
use leverbook_domain::rules::help::FAMILIES;
use leverbook_store::policies::{self, NewVersion, NotChanged, Version};
use leverbook_store::{GymTx, StoreError, flags};

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::files::download;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;
pub(crate) use form::why;
use form::{Typed, first_form, merged};
use preview::PreviewPage;

/// The largest file taken: many times a policy with all its comments.
const FILE_BYTES: usize = 256 * 1024;

/// The largest body taken: room for a file that is too large, so that its field can say so.
pub(crate) const UPLOAD_BYTES: usize = 4 * 1024 * 1024;

/// How long whoever saves waits for the flags: well under what a request may take.
const FLAGS_WITHIN: Duration = Duration::from_secs(10);

#[derive(Template)]
#[template(path = "policy/show.html")]
pub(crate) struct PolicyPage {
    frame: Frame,
    form: Form,
    version: i32,
    families: Vec<Family>,
    newest: Option<VersionLine>,
    /// Whether a change was asked for that changes nothing.
    unchanged: bool,
    /// What others saved while this was being typed.
    meanwhile: Vec<VersionLine>,
}

/// A family of rules and its thresholds.
struct Family {
    letter: char,
    name: &'static str,
    rows: Vec<Row>,
}

/// A threshold, but for what stands in its field.
struct Row {
    threshold: &'static Threshold,
    shipped: String,
    /// What is in force, where that is something else.
    present: Option<String>,
    range: String,
    /// Which keys a phone shows.
    mode: &'static str,
}

fn families(policy: &Policy) -> Vec<Family> {
    FAMILIES
        .iter()
        .map(|(letter, name)| Family {
            letter: *letter,
            name,
            rows: Threshold::ALL
                .iter()
                .filter(|threshold| threshold.family() == *letter)
                .map(|threshold| Row::new(threshold, policy))
                .collect(),
        })
        .filter(|family| !family.rows.is_empty())
        .collect()
}

impl Row {
    fn new(threshold: &'static Threshold, policy: &Policy) -> Self {
        let words = |value| threshold.unit.words(value);
        let shipped = words(threshold.shipped());
        let present = words(threshold.of(policy));
        Self {
            threshold,
            present: (present != shipped).then_some(present),
            shipped,
            range: threshold.range_words(),
            mode: if threshold.whole {
                "numeric"
            } else {
                "decimal"
            },
        }
    }
}

/// One threshold that was changed.
pub(crate) struct ChangeLine {
    pub(crate) words: &'static str,
    pub(crate) rules: String,
    pub(crate) from: String,
    pub(crate) to: String,
}

/// What is different in another policy, threshold by threshold.
pub(crate) fn changes(from: &Policy, to: &Policy) -> Vec<ChangeLine> {
    from.differing(to)
        .map(|threshold| ChangeLine {
            words: threshold.words,
            rules: threshold.rules.join(", "),
            from: threshold.unit.words(threshold.of(from)),
            to: threshold.unit.words(threshold.of(to)),
        })
        .collect()
}

/// A version, and what it changed.
struct VersionLine {
    version: i32,
    day: String,
    by: String,
    reason: String,
    changes: Vec<ChangeLine>,
}

/// The newest first. The first version is compared with the policy as shipped.
fn version_lines(versions: &[Version]) -> Vec<VersionLine> {
    let shipped = Policy::default();
    versions
        .iter()
        .enumerate()
        .map(|(at, version)| {
            let before = versions
                .get(at + 1)
                .map_or(&shipped, |before| &before.policy);
            VersionLine {
                version: version.policy.version.0,
                day: day_label(version.at.date()),
                by: version
                    .by_name
                    .clone()
                    .unwrap_or_else(|| "somebody who has left".to_owned()),
                reason: version.reason.clone(),
                changes: changes(before, &version.policy),
            }
        })
        .collect()
}

impl PolicyPage {
    async fn new(
        tx: &mut GymTx,
        visit: &Visit,
        form: Form,
        seen: PolicyVersion,
    ) -> Result<Self, StoreError> {
        let policy = policies::in_force(tx).await?;
        let mut lines = version_lines(&policies::versions(tx).await?);
        let others = lines
            .iter()
            .take_while(|line| line.version > seen.0)
            .count();
        let newest = lines.split_off(others).into_iter().next();
        Ok(Self {
            frame: visit.frame("Policy", Nav::Rules),
            form,
            version: policy.version.0,
            families: families(&policy),
            newest,
            unchanged: false,
            meanwhile: lines,
        })
    }
}

/// `GET /policy`.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<PolicyPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let policy = policies::in_force(&mut tx).await?;
    let form = first_form(&policy);
    let page = PolicyPage::new(&mut tx, &visit, form, policy.version).await?;
    Ok(Page(page))
}

/// `POST /policy`: what it would change, or the change.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let now = policies::in_force(&mut tx).await?;
    let after = form::version_in(&posted).unwrap_or(now.version);
    let typed = match Typed::read(&posted) {
        Ok(typed) => typed,
        Err(errors) => {
            let form = Form::again(&posted, errors);
            let page = PolicyPage::new(&mut tx, &visit, form, after).await?;
            return Ok(Page::unprocessable(page));
        }
    };
    if posted.text("act") == "edit" {
        let form = Form::again(&posted, FieldErrors::new());
        let page = PolicyPage::new(&mut tx, &visit, form, after).await?;
        return Ok(Page(page).into_response());
    }
    let wanted = Wanted { typed, after, now };
    wanted.go_on(&app, &visit, tx, &posted).await
}

/// A policy that could be used, and what it was decided upon.
struct Wanted {
    typed: Typed,
    after: PolicyVersion,
    now: Policy,
}

impl Wanted {
    /// Saves it, or says what it would change.
    async fn go_on(
        mut self,
        app: &App,
        visit: &Visit,
        mut tx: GymTx,
        posted: &Posted,
    ) -> Result<Response, PageError> {
        let mut errors = FieldErrors::new();
        if posted.text("act") == "save" {
            let new = NewVersion {
                policy: self.typed.policy.clone(),
                after: self.after,
                reason: self.typed.reason.clone(),
                at: visit.now,
            };
            match policies::change(&mut tx, &new).await {
                Ok(_) => {
                    tx.commit().await?;
                    bring_up_to_date(app, visit).await;
                    return Ok(see_other(&visit.to("policy?done=policy-changed")));
                }
                Err(NotChanged::Store(why)) => return Err(why.into()),
                // Told below.
                Err(NotChanged::Meanwhile | NotChanged::OutOfOrder(_)) => {
                    self.now = policies::in_force(&mut tx).await?;
                }
            }
        }
        if self.after != self.now.version {
            return self.somebody_else_was_quicker(visit, tx, posted).await;
        }
        let wrong = policies::out_of_order(&mut tx, &self.typed.policy).await?;
        form::out_of_order(
            &mut tx,
            visit,
            &self.now,
            &self.typed.policy,
            &wrong,
            &mut errors,
        )
        .await?;
        let unchanged = self.now.differing(&self.typed.policy).next().is_none();
        if unchanged || errors.any() {
            let form = form::all_of(&self.typed, self.after, errors);
            let mut page = PolicyPage::new(&mut tx, visit, form, self.after).await?;
            page.unchanged = unchanged;
            return Ok(Page::unprocessable(page));
        }
        let page = PreviewPage::new(&mut tx, visit, &self.now, &self.typed).await?;
        Ok(Page(page).into_response())
    }

    /// Nothing is saved: what the others changed is told, and put where this form left it alone.
    async fn somebody_else_was_quicker(
        self,
        visit: &Visit,
        mut tx: GymTx,
        posted: &Posted,
    ) -> Result<Response, PageError> {
        let versions = policies::versions(&mut tx).await?;
        let seen = versions
            .into_iter()
            .find(|version| version.policy.version == self.after)
            .map_or_else(Policy::default, |version| version.policy);
        let form = merged(posted, &seen, &self.now);
        let page = PolicyPage::new(&mut tx, visit, form, self.after).await?;
        Ok((StatusCode::CONFLICT, Page(page)).into_response())
    }
}

/// Works the flags out again under the policy just saved. It stays saved whatever happens here: what is not
/// done in time counts as out of date, and [`crate::day_change`] does it within minutes.
async fn bring_up_to_date(app: &App, visit: &Visit) {
    let all = flags::bring_up_to_date(&app.store, visit.gym, visit.account, visit.today);
    match tokio::time::timeout(FLAGS_WITHIN, all).await {
        Ok(Ok(_)) => {}
        Ok(Err(error)) => {
            tracing::warn!(gym = %visit.gym, %error, "cannot bring flags up to date; the policy is saved");
        }
        Err(_) => {
            tracing::info!(gym = %visit.gym, "flags are not all up to date yet; the policy is saved");
        }
    }
}

#[derive(Template)]
#[template(path = "policy/history.html")]
pub(crate) struct HistoryPage {
    frame: Frame,
    versions: Vec<VersionLine>,
}

/// `GET /policy/history`.
pub(crate) async fn history(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<HistoryPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    Ok(Page(HistoryPage {
        frame: visit.frame("History of the policy", Nav::Rules),
        versions: version_lines(&policies::versions(&mut tx).await?),
    }))
}

/// `GET /policy.toml`.
pub(crate) async fn give(State(app): State<App>, visit: Visit) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let policy = policies::in_force(&mut tx).await?;
    Ok(download("policy.toml", file::write(&policy).into_bytes()))
}

#[derive(Template)]
#[template(path = "policy/file.html")]
pub(crate) struct FilePage {
    frame: Frame,
    form: Form,
    faults: Vec<file::FileFault>,
}

impl FilePage {
    fn new(visit: &Visit, form: Form, faults: Vec<file::FileFault>) -> Self {
        Self {
            frame: visit.frame("Policy as a file", Nav::Rules),
            form,
            faults,
        }
    }
}

/// `GET /policy/file`.
pub(crate) async fn file_form(visit: Visit) -> Page<FilePage> {
    Page(FilePage::new(&visit, Form::default(), Vec::new()))
}

/// `POST /policy/file`: what the policy in a file would change.
pub(crate) async fn take(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let reason = errors.read(&posted, "reason", why);
    let content = posted.file("file").map(|file| file.content.as_ref());
    let mut faults = Vec::new();
    let policy = match content.map(std::str::from_utf8) {
        None => {
            errors.add("file", "choose a file");
            None
        }
        Some(_) if content.is_some_and(|content| content.len() > FILE_BYTES) => {
            errors.add("file", "is larger than 256 KB, so it is no policy");
            None
        }
        Some(Err(_)) => {
            errors.add("file", "is no text");
            None
        }
        Some(Ok(text)) => file::read(text).map_err(|found| faults = found).ok(),
    };
    let (Some(policy), Some(reason), false) = (policy, reason, errors.any()) else {
        let form = Form::again(&posted, errors);
        return Ok(Page::unprocessable(FilePage::new(&visit, form, faults)));
    };
    let mut tx = visit.enter(&app).await?;
    let now = policies::in_force(&mut tx).await?;
    if now.differing(&policy).next().is_none() {
        errors.add(
            "file",
            "has no number that is different from what is in force",
        );
        let form = Form::again(&posted, errors);
        return Ok(Page::unprocessable(FilePage::new(&visit, form, faults)));
    }
    let wanted = Wanted {
        typed: Typed { policy, reason },
        after: now.version,
        now,
    };
    wanted.go_on(&app, &visit, tx, &posted).await
}
