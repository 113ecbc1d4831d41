//! Every rule, explained, with the thresholds in force.

use askama::Template;
use axum::extract::{Query, State};
use leverbook_domain::id::AthleteId;
use leverbook_domain::policy::{AthletePolicy, Exceptions};
use leverbook_domain::rules::Rule;
use leverbook_domain::rules::help::{FAMILIES, RuleText, help};
use leverbook_store::people::Role;
use leverbook_store::{GymTx, StoreError, athletes, policies};
use serde::Deserialize;

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "rules.html")]
pub(crate) struct RulesPage {
    frame: Frame,
    families: Vec<Family>,
    /// "Version 3, with an exception for Ida Marsh since …".
    numbers: String,
    may_change: bool,
}

/// A family of rules.
struct Family {
    letter: char,
    name: &'static str,
    rules: Vec<Line>,
}

/// A rule, and how much its flag asks of the coach.
struct Line {
    text: RuleText,
    /// Name, value, and the gym's value where an exception was made.
    thresholds: Vec<(&'static str, String, Option<String>)>,
    severities: &'static [&'static str],
    /// What the severity alone does not say.
    remark: &'static str,
}

impl Line {
    fn of(text: RuleText, gym: RuleText) -> Self {
        let rule = Rule::from_id(text.id).filter(|_| text.ends.is_some());
        let (severities, remark): (&'static [&'static str], _) = match rule {
            None => (&[], ""),
            Some(Rule::L4) => (&["stop", "look"], "stop from the limit on, look below it"),
            Some(Rule::O1) => (
                &["look", "note"],
                "a note once a coach has opened the gate early",
            ),
            Some(rule) => match rule.severity().word() {
                "look" => (&["look"], ""),
                "stop" => (&["stop"], ""),
                _ => (&["note"], ""),
            },
        };
        let thresholds = text.thresholds.iter().cloned().zip(gym.thresholds);
        Self {
            thresholds: thresholds
                .map(|((name, value), (_, gym))| {
                    let gym = (gym != value).then_some(gym);
                    (name, value, gym)
                })
                .collect(),
            text,
            severities,
            remark,
        }
    }
}

/// Whose numbers to show; the gym's if nobody is asked for.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    athlete: String,
}

/// The policy that counts: for a coach the gym's or that of one of their athletes, for an athlete their
/// own; and how the page calls that athlete.
async fn policy_for(
    tx: &mut GymTx,
    visit: &Visit,
    asked: &Asked,
) -> Result<(AthletePolicy, String), StoreError> {
    let athlete: Option<AthleteId> = asked.athlete.parse().ok();
    if let Some(athlete) = athlete.filter(|_| visit.roles.has(Role::Coach)) {
        let athlete = athletes::of_roster(tx, visit.account, athlete).await?;
        let policy = policies::of_athlete(tx, athlete.id).await?;
        return Ok((policy, athlete.name.to_string()));
    }
    if visit.roles.any(&[Role::Coach, Role::Owner]) {
        let gym = policies::in_force(tx).await?;
        return Ok((
            AthletePolicy::new(gym, Exceptions::default()),
            String::new(),
        ));
    }
    let athlete = athletes::of_person(tx, visit.account).await?;
    Ok((
        policies::of_athlete(tx, athlete.id).await?,
        "you".to_owned(),
    ))
}

/// `GET /rules`.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Query(asked): Query<Asked>,
) -> Result<Page<RulesPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let (policy, name) = policy_for(&mut tx, &visit, &asked).await?;
    let families = FAMILIES
        .iter()
        .map(|(letter, name)| Family {
            letter: *letter,
            name,
            rules: help(policy.own())
                .into_iter()
                .zip(help(policy.gym()))
                .filter(|(text, _)| text.id.starts_with(*letter))
                .map(|(text, gym)| Line::of(text, gym))
                .collect(),
        })
        .collect();
    let number = policy.exceptions().number();
    let called = policy.called(policy.gym().version, number, &name, day_label);
    Ok(Page(RulesPage {
        frame: visit.frame("Rules", Nav::Rules),
        families,
        numbers: called,
        may_change: visit.roles.any(&[Role::Coach, Role::Owner]),
    }))
}
