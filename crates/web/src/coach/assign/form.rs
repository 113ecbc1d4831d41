//! The first page: whom, what, when; and what stands in it at first.

use std::collections::BTreeSet;

use askama::Template;
use leverbook_domain::id::{AthleteId, BlockId, BlockTemplateId, ClassId};
use leverbook_domain::plan::{Scheme, Weekdays, usual_scheme};
use leverbook_domain::policy::Policy;
use leverbook_domain::training::Hands;
use leverbook_store::block_templates::{self, BlockPattern};
use leverbook_store::blocks::{self, Block};
use leverbook_store::{GymTx, StoreError, classes};

use super::super::blocks::own_block;
use super::super::offer::Offer;
use super::super::words;
use super::wanted::{By, EACH_THEIR_NEXT};
use crate::App;
use crate::form::Form;
use crate::frame::{Frame, Nav};
use crate::parts::Choice;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/assign.html")]
pub(crate) struct AssignPage {
    frame: Frame,
    form: Form,
    athletes: Vec<Choice>,
    clubs: Vec<Choice>,
    bys: Vec<Choice>,
    ask: BlockFields,
    /// The blocks that "again" goes on from, where they are not everybody's last.
    from_blocks: Vec<String>,
    /// The block template that the form was filled in from: its name and version.
    template: Option<String>,
    /// The id of a template that the form may be kept as.
    new_template: String,
    /// Typed in the grid; carried through this page so that nothing is lost.
    carried: Vec<(String, String)>,
}

/// What the fields of a block are chosen from, here and on a template's page.
pub(in crate::coach) struct BlockFields {
    pub(in crate::coach) movements: Vec<Choice>,
    pub(in crate::coach) hands: Vec<Choice>,
    pub(in crate::coach) weekdays: Vec<Choice>,
    pub(in crate::coach) added_sets_at_most: u8,
    pub(in crate::coach) hold_every_weeks: u8,
    pub(in crate::coach) light_percent: f64,
}

impl BlockFields {
    pub(in crate::coach) fn new(offer: &Offer) -> Self {
        Self {
            movements: offer
                .movements
                .iter()
                .map(|(id, name)| Choice::new(id.to_string(), name.clone()))
                .collect(),
            hands: Hands::ALL
                .iter()
                .map(|hands| Choice::new(hands.word(), words::scheme_of(*hands)))
                .collect(),
            weekdays: words::weekdays(),
            added_sets_at_most: offer.policy.ladder_added_sets_max,
            hold_every_weeks: offer.policy.hold_every_weeks,
            light_percent: (100.0 * offer.policy.light_week_share).round(),
        }
    }
}

impl AssignPage {
    pub(in crate::coach) fn new(
        app: &App,
        visit: &Visit,
        offer: &Offer,
        form: Form,
        carried: Vec<(String, String)>,
    ) -> Self {
        let mut athletes: Vec<Choice> = offer
            .athletes
            .iter()
            .map(|athlete| Choice::new(athlete.athlete.to_string(), athlete.name.clone()))
            .collect();
        // Those chosen already stand first; the order by name stays.
        athletes.sort_by_key(|athlete| !form.checked("athlete", &athlete.value));
        let mut clubs = vec![Choice::new(
            EACH_THEIR_NEXT,
            "Each athlete’s own next: as proposed, else the last one swung",
        )];
        clubs.extend(offer.gym_clubs(visit.units));
        let template = Some(form.value("template_name_now").to_owned());
        let kept = form.value("template_id");
        Self {
            frame: visit.frame("Assign a block", Nav::Assign),
            athletes,
            clubs,
            bys: By::ALL
                .map(|by| Choice::new(by.word(), by.words()))
                .to_vec(),
            ask: BlockFields::new(offer),
            from_blocks: form.all("from_block"),
            template: template.filter(|name| !name.is_empty()),
            new_template: if kept.is_empty() {
                app.new_id::<BlockTemplateId>().to_string()
            } else {
                kept.to_owned()
            },
            form,
            carried,
        }
    }
}

type Fields = Vec<(String, String)>;

/// The fields of a scheme; those of the other two are as usual.
fn of_scheme(scheme: &Scheme) -> Fields {
    let set = |name: &str, value: &dyn ToString| (name.to_owned(), value.to_string());
    match scheme {
        Scheme::IntervalSets(work) => vec![
            set("interval_sets", &work.sets),
            set("interval_seconds", &work.seconds.get()),
            set("interval_rest", &work.rest_seconds),
            set(
                "interval_goal",
                &work
                    .goal
                    .map_or_else(String::new, |goal| format!("{:.1}", goal.rpm())),
            ),
        ],
        Scheme::FingertipSets(work) => vec![
            set("fingertip_sets", &work.sets),
            set("fingertip_reps", &work.reps.get()),
            set("fingertip_rest", &work.rest_seconds),
        ],
        Scheme::SetLadder(ladder) => {
            let mut fields = vec![
                set("ladder_reps", &ladder.reps.get()),
                set("ladder_start", &ladder.start_sets),
                set("ladder_add", &ladder.add_per_week),
                set("ladder_target", &ladder.target_sets),
                set("ladder_rest", &ladder.rest_seconds),
            ];
            if ladder.light_fourth_week {
                fields.push(set("ladder_light", &"yes"));
            }
            fields
        }
    }
}

fn of_days(weekdays: Weekdays, weeks: u8) -> Fields {
    let mut fields: Fields = weekdays
        .iso()
        .map(|day| ("weekday".to_owned(), day.to_string()))
        .collect();
    fields.push(("weeks".to_owned(), weeks.to_string()));
    fields
}

/// The fields of what a template asks.
pub(in crate::coach) fn of_pattern(pattern: &BlockPattern, policy: &Policy) -> Fields {
    let by = if pattern.each_their_own {
        By::Own
    } else {
        By::Same
    };
    let mut fields = vec![
        ("by".to_owned(), by.word().to_owned()),
        ("movement".to_owned(), pattern.movement.to_string()),
        ("hands".to_owned(), pattern.scheme.hands().word().to_owned()),
        ("note".to_owned(), pattern.note.clone()),
    ];
    fields.extend(of_scheme(&pattern.scheme));
    fields.extend(of_days(pattern.weekdays, pattern.weeks));
    beneath(fields, usual(policy))
}

fn of_block(block: &Block) -> Fields {
    let mut fields = vec![
        ("movement".to_owned(), block.movement.to_string()),
        ("hands".to_owned(), block.hands.word().to_owned()),
    ];
    fields.extend(of_scheme(&block.scheme));
    fields.extend(of_days(block.weekdays, block.weeks));
    fields
}

/// Common practice.
fn usual(policy: &Policy) -> Fields {
    let set = |name: &str, value: &str| (name.to_owned(), value.to_owned());
    let mut fields = vec![
        set("by", By::Own.word()),
        set("hands", Hands::Two.word()),
        set("club", EACH_THEIR_NEXT),
        set("weekday", "1"),
        set("weekday", "4"),
        set("weeks", "8"),
    ];
    for hands in Hands::ALL {
        fields.extend(of_scheme(&usual_scheme(hands, policy)));
    }
    fields
}

/// What stands on top counts, name by name; what it leaves out comes from beneath.
fn beneath(top: Fields, under: Fields) -> Fields {
    let named: BTreeSet<String> = top.iter().map(|(name, _)| name.clone()).collect();
    let left = under.into_iter().filter(|(name, _)| !named.contains(name));
    top.iter().cloned().chain(left).collect()
}

/// The form at first: what the address asks for, on the template or the block that it names, on common
/// practice. A class in the address is whoever usually comes and is on the coach's roster.
pub(super) async fn first(
    tx: &mut GymTx,
    offer: &Offer,
    mut asked: Fields,
    visit: &Visit,
) -> Result<Fields, StoreError> {
    let value = |asked: &Fields, name: &str| {
        let found = asked.iter().find(|(other, _)| other == name);
        found.map(|(_, value)| value.clone())
    };
    if let Some(class) = value(&asked, "class") {
        let class: ClassId = class.parse().map_err(|_| StoreError::NotFound)?;
        let class = classes::get(tx, class).await?;
        let members = classes::members(tx, class.id).await?;
        let own = offer.athletes.iter().map(|one| one.athlete);
        asked.extend(
            own.filter(|athlete| members.contains(athlete))
                .map(|athlete| ("athlete".to_owned(), athlete.to_string())),
        );
        asked.retain(|(name, _)| name != "class");
    }
    let mut under = usual(&offer.policy);
    under.push(("starts_on".to_owned(), visit.today.to_string()));
    if let Some(template) = value(&asked, "template").and_then(|id| id.parse().ok()) {
        let versions = block_templates::versions(tx, template).await?;
        let newest = &versions[0];
        asked.retain(|(name, _)| name != "template");
        let mut fields = of_pattern(&newest.pattern, &offer.policy);
        fields.extend(
            [
                ("template", newest.at.template.to_string()),
                ("template_version", newest.at.version.to_string()),
                ("template_name_now", newest.pattern.name.clone()),
            ]
            .map(|(name, value)| (name.to_owned(), value)),
        );
        under = beneath(fields, under);
    }
    let mut blocks = Vec::new();
    for (_, id) in asked.iter().filter(|(name, _)| name == "from_block") {
        let block: BlockId = id.parse().map_err(|_| StoreError::NotFound)?;
        blocks.push(own_block(tx, visit, block).await?);
    }
    for block in &blocks {
        asked.push(("athlete".to_owned(), block.athlete.to_string()));
    }
    if value(&asked, "by").as_deref() == Some(By::Again.word()) && blocks.is_empty() {
        let chosen: Vec<AthleteId> = offer
            .athletes
            .iter()
            .map(|one| one.athlete)
            .filter(|id| asked.contains(&("athlete".to_owned(), id.to_string())))
            .collect();
        blocks = blocks::last_of(tx, &chosen).await?;
    }
    if let Some(block) = blocks.first() {
        under = beneath(of_block(block), under);
    }
    Ok(beneath(asked, under))
}
