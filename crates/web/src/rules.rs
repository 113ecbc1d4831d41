//! Every rule, explained, with the thresholds in force.

use askama::Template;
use axum::extract::State;
use leverbook_domain::rules::Rule;
use leverbook_domain::rules::help::{FAMILIES, RuleText, help};
use leverbook_store::policies;

use crate::App;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "rules.html")]
pub(crate) struct RulesPage {
    frame: Frame,
    families: Vec<Family>,
    policy: i32,
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
    severities: &'static [&'static str],
    /// What the severity alone does not say.
    remark: &'static str,
}

impl Line {
    fn of(text: RuleText) -> Self {
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
        Self {
            text,
            severities,
            remark,
        }
    }
}

/// `GET /rules`.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<RulesPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let policy = policies::in_force(&mut tx).await?;
    let families = FAMILIES
        .iter()
        .map(|(letter, name)| Family {
            letter: *letter,
            name,
            rules: help(&policy)
                .into_iter()
                .filter(|text| text.id.starts_with(*letter))
                .map(Line::of)
                .collect(),
        })
        .collect();
    Ok(Page(RulesPage {
        frame: visit.frame("Rules", Nav::Rules),
        families,
        policy: policy.version.0,
    }))
}
