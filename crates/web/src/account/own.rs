//! One's own account: name, units, password, and the browsers that are signed in.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use leverbook_domain::roster::PersonName;
use leverbook_domain::units::UnitSystem;
use leverbook_store::sign_ins::{self, Device};
use leverbook_store::{StoreError, accounts, people};
use time::OffsetDateTime;
use time::macros::format_description;

use crate::App;
use crate::account::sign_in::{From, open};
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::guard::no_sign_in_cookie;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::passwords;
use crate::posted::Posted;
use crate::visit::Signed;

#[derive(Template)]
#[template(path = "account/own.html")]
struct OwnPage {
    frame: Frame,
    email: String,
    form: Form,
    password_form: Form,
    units: [Choice; 2],
    devices: Vec<Device>,
}

/// An instant as people read it, in UTC, which the page says.
pub(crate) fn instant(at: OffsetDateTime) -> String {
    at.format(format_description!(
        "[day padding:none] [month repr:long] [year], [hour]:[minute] UTC"
    ))
    .unwrap_or_default()
}

async fn page(
    app: &App,
    signed: &Signed,
    form: Option<Form>,
    password_form: Form,
) -> Result<OwnPage, PageError> {
    let account = &signed.account;
    let mut outside = app.store.outside().await?;
    let devices = sign_ins::list(
        &mut outside,
        account.id,
        signed.token,
        app.clock.now(),
        app.config.sign_in,
    )
    .await?;
    Ok(OwnPage {
        frame: signed.frame("Your account", Nav::Account),
        email: account.email.to_string(),
        form: form.unwrap_or_else(|| {
            Form::with([
                ("name", account.name.as_str()),
                ("units", account.units.word()),
            ])
        }),
        password_form,
        units: [
            Choice::new(UnitSystem::Kilogram.word(), "Kilograms and millimetres"),
            Choice::new(UnitSystem::Pound.word(), "Pounds and inches"),
        ],
        devices,
    })
}

pub(crate) async fn show(State(app): State<App>, signed: Signed) -> Result<Response, PageError> {
    Ok(Page(page(&app, &signed, None, Form::default()).await?).into_response())
}

pub(crate) async fn describe(
    State(app): State<App>,
    signed: Signed,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let name = errors.read(&posted, "name", PersonName::new);
    let units = errors.read(&posted, "units", |word| {
        UnitSystem::from_word(word).ok_or("Choose kilograms or pounds")
    });
    let (Some(name), Some(units)) = (name, units) else {
        let form = Form::again(&posted, errors);
        let page = page(&app, &signed, Some(form), Form::default()).await?;
        return Ok(Page::unprocessable(page));
    };
    let account = signed.account.id;
    let gyms = {
        let mut outside = app.store.outside().await?;
        accounts::describe(&mut outside, account, &name, units).await?;
        accounts::gyms(&mut outside, account).await?
    };
    // Each gym keeps the name behind its own wall.
    for gym in gyms {
        let mut tx = app.store.enter(gym, account).await?;
        match people::rename(&mut tx, account, &name).await {
            Ok(()) => tx.commit().await?,
            Err(StoreError::NotFound) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Ok(see_other("/account?done=saved"))
}

pub(crate) async fn change_password(
    State(app): State<App>,
    signed: Signed,
    from: From,
    posted: Posted,
) -> Result<Response, PageError> {
    let account = &signed.account;
    app.limits
        .attempt(&account.email, from.address)
        .map_err(|seconds| PageError::TooMany { seconds })?;
    let hash = {
        let mut outside = app.store.outside().await?;
        accounts::by_id(&mut outside, account.id)
            .await?
            .password_hash
    };
    let mut errors = FieldErrors::new();
    let typed = posted.text("password_now");
    if !app.passwords.verify(typed, Some(&hash)).await {
        errors.add("password_now", "This is not your password");
    }
    let about = [account.email.as_str(), account.name.as_str()];
    let new = posted.text("password_new");
    if !errors.refuse_broken(&posted, "password_new")
        && let Err(weak) = passwords::check(new, &about)
    {
        errors.add("password_new", format!("The new password {weak}"));
    }
    if errors.any() {
        let form = Form::again(&posted, errors);
        return Ok(Page::unprocessable(page(&app, &signed, None, form).await?));
    }
    let hash = app.passwords.hash(new).await;
    {
        let mut outside = app.store.outside().await?;
        accounts::set_password(&mut outside, account.id, &hash).await?;
        sign_ins::close_all(&mut outside, account.id).await?;
    }
    // This browser stays signed in, under a new token.
    let jar = open(&app, &from, CookieJar::new(), account.id).await?;
    Ok((jar, see_other("/account?done=password-changed")).into_response())
}

pub(crate) async fn sign_out_everywhere(
    State(app): State<App>,
    signed: Signed,
    _posted: Posted,
) -> Result<Response, PageError> {
    let mut outside = app.store.outside().await?;
    sign_ins::close_all(&mut outside, signed.account.id).await?;
    let jar = CookieJar::new().add(no_sign_in_cookie(&app));
    Ok((jar, see_other("/sign-in?done=signed-out-everywhere")).into_response())
}
