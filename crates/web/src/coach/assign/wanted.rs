//! What the coach asks of everybody, as read from the form.

use leverbook_domain::id::{BlockId, LoadingId, MovementId};
use leverbook_domain::plan::{
    BlockDraft, BlockField, BlockProblems, BlockWish, FingertipSets, IntervalSets, Scheme,
    SetLadder,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::training::Hands;
use leverbook_domain::units::{Density, Reps, Seconds};
use leverbook_store::blocks::{Assignable, TemplateVersion};
use time::Date;

use super::super::offer::{ClubOffered, Offer};
use super::super::typed::{iso_date, seconds, small};
use crate::form::FieldErrors;
use crate::numbers::{decimal, whole};
use crate::posted::Posted;

/// The value of the club field that takes each athlete's proposed or last club.
pub(super) const EACH_THEIR_NEXT: &str = "next";

/// Where each athlete's values come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::coach) enum By {
    /// Their own log, by the next-step rules.
    Own,
    /// Their last block, moved on by the next-step rules.
    Again,
    /// The form.
    Same,
}

impl By {
    pub(in crate::coach) const ALL: [Self; 3] = [Self::Own, Self::Again, Self::Same];

    pub(in crate::coach) const fn word(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Again => "again",
            Self::Same => "same",
        }
    }

    pub(in crate::coach) const fn words(self) -> &'static str {
        match self {
            Self::Own => "Each athlete’s own log: what the rules propose next",
            Self::Again => "Their last block again, one step on: its movement, days and weeks",
            Self::Same => "The same for everybody: as filled in below",
        }
    }

    /// What is not said is the same for everybody.
    pub(in crate::coach) fn read(posted: &Posted, errors: &mut FieldErrors) -> Option<Self> {
        errors.read(posted, "by", |text| {
            if text.is_empty() {
                return Ok(Self::Same);
            }
            let known = Self::ALL.into_iter().find(|by| by.word() == text);
            known.ok_or("choose where the values come from")
        })
    }
}

/// A block as read from the form, and whom it is for.
pub(super) struct Wanted {
    pub(super) by: By,
    pub(super) draft: BlockDraft,
    pub(super) movement_name: String,
    pub(super) athletes: Vec<Assignable>,
    /// `None` takes each athlete's own next.
    pub(super) club: Option<LoadingId>,
    /// Blocks to go on from, where they are not the last of their athletes.
    pub(super) from_blocks: Vec<BlockId>,
    pub(super) template: Option<TemplateVersion>,
}

impl Wanted {
    pub(super) fn read(posted: &Posted, offer: &Offer, today: Date) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::new();
        let athletes = read_athletes(posted, offer, &mut errors);
        let club = errors.read(posted, "club", |text| {
            if text == EACH_THEIR_NEXT {
                return Ok(None);
            }
            let gyms = |loading: &LoadingId| {
                let known = |club: &ClubOffered| club.loading == *loading && club.owner.is_none();
                offer.clubs.iter().any(known)
            };
            text.parse()
                .ok()
                .filter(gyms)
                .map(Some)
                .ok_or("choose a club from the list")
        });
        let by = By::read(posted, &mut errors);
        let starts_on = errors.read(posted, "starts_on", iso_date);
        let policy = match athletes.as_slice() {
            [one] => offer.policy_for(one.athlete),
            _ => &offer.policy,
        };
        let block = read_block(posted, offer, policy, starts_on, today, &mut errors);
        match (block, club, by) {
            (Some((draft, movement_name)), Some(club), Some(by)) if !errors.any() => Ok(Self {
                by,
                draft,
                movement_name,
                athletes,
                club,
                from_blocks: posted
                    .all("from_block")
                    .into_iter()
                    .filter_map(|id| id.parse().ok())
                    .collect(),
                template: template_of(posted),
            }),
            _ => Err(errors),
        }
    }
}

/// The version of a template that a form says it was filled in from.
fn template_of(posted: &Posted) -> Option<TemplateVersion> {
    let template = posted.text("template").parse().ok()?;
    let version = posted.text("template_version").parse().ok()?;
    Some(TemplateVersion { template, version })
}

/// Reads what a block asks, with the movement's name. A template has no first day: it is judged as if it
/// began today.
pub(in crate::coach) fn read_block(
    posted: &Posted,
    offer: &Offer,
    policy: &Policy,
    starts_on: Option<Date>,
    today: Date,
    errors: &mut FieldErrors,
) -> Option<(BlockDraft, String)> {
    let movement = errors.read(posted, "movement", |text| {
        let movement = text.parse::<MovementId>().ok();
        movement
            .and_then(|id| Some((id, offer.movement_name(id)?.to_owned())))
            .ok_or("choose a movement from the list")
    });
    let hands = errors.read(posted, "hands", |text| {
        Hands::from_word(text).ok_or("choose how the club is held")
    });
    let scheme = hands.and_then(|hands| read_scheme(posted, hands, errors));
    let weekdays: Vec<i64> = posted
        .all("weekday")
        .iter()
        .map(|day| day.parse().unwrap_or(0))
        .collect();
    let weeks = errors.read(posted, "weeks", whole);
    let note = errors.read(posted, "note", |text| Ok::<_, String>(text.to_owned()));
    let (hands, (movement, movement_name)) = (hands?, movement?);
    let wish = BlockWish {
        movement,
        scheme: scheme?,
        weekdays,
        starts_on: starts_on?,
        weeks: weeks?,
        note: note?,
    };
    match BlockDraft::new(wish, policy, today) {
        Ok(draft) => Some((draft, movement_name)),
        Err(BlockProblems(problems)) => {
            for problem in problems {
                errors.add(field_name(problem.field, hands), problem.message);
            }
            None
        }
    }
}

/// The name of a field of the form; each scheme has fields of its own.
const fn field_name(field: BlockField, hands: Hands) -> &'static str {
    match (field, hands) {
        (BlockField::Weekdays, _) => "weekday",
        (BlockField::StartsOn, _) => "starts_on",
        (BlockField::Weeks, _) => "weeks",
        (BlockField::Note, _) => "note",
        (BlockField::Seconds, _) => "interval_seconds",
        (BlockField::Goal, _) => "interval_goal",
        (BlockField::StartSets, _) => "ladder_start",
        (BlockField::AddPerWeek, _) => "ladder_add",
        (BlockField::TargetSets, _) => "ladder_target",
        (BlockField::Sets, Hands::Fingertip) => "fingertip_sets",
        (BlockField::Sets, _) => "interval_sets",
        (BlockField::Reps, Hands::Fingertip) => "fingertip_reps",
        (BlockField::Reps, _) => "ladder_reps",
        (BlockField::Rest, Hands::Two) => "interval_rest",
        (BlockField::Rest, Hands::Fingertip) => "fingertip_rest",
        (BlockField::Rest, Hands::One) => "ladder_rest",
    }
}

fn read_athletes(posted: &Posted, offer: &Offer, errors: &mut FieldErrors) -> Vec<Assignable> {
    let sent = posted.all("athlete");
    if sent.is_empty() {
        errors.add("athlete", "choose at least one athlete");
    }
    let chosen: Vec<Assignable> = offer
        .athletes
        .iter()
        .filter(|athlete| sent.contains(&athlete.athlete.to_string().as_str()))
        .cloned()
        .collect();
    let unknown = sent.iter().any(|id| {
        !chosen
            .iter()
            .any(|athlete| athlete.athlete.to_string() == **id)
    });
    if unknown {
        errors.add(
            "athlete",
            "somebody chosen is not on your roster, or not in training: choose again",
        );
    }
    chosen
}

/// Reads the fields of the scheme that goes with these hands; the other schemes' are left alone.
fn read_scheme(posted: &Posted, hands: Hands, errors: &mut FieldErrors) -> Option<Scheme> {
    match hands {
        Hands::Two => {
            let sets = errors.read(posted, "interval_sets", small);
            let interval = errors.read(posted, "interval_seconds", |text| {
                Seconds::new(whole(text)?).map_err(|e| e.to_string())
            });
            let rest = errors.read(posted, "interval_rest", seconds);
            let goal = errors.read_optional(posted, "interval_goal", |text| {
                Density::from_rpm(decimal(text)?).map_err(|e| e.to_string())
            });
            Some(Scheme::IntervalSets(IntervalSets {
                sets: sets?,
                seconds: interval?,
                rest_seconds: rest?,
                goal,
            }))
        }
        Hands::Fingertip => {
            let sets = errors.read(posted, "fingertip_sets", small);
            let reps = errors.read(posted, "fingertip_reps", reps);
            let rest = errors.read(posted, "fingertip_rest", seconds);
            Some(Scheme::FingertipSets(FingertipSets {
                sets: sets?,
                reps: reps?,
                rest_seconds: rest?,
            }))
        }
        Hands::One => {
            let reps = errors.read(posted, "ladder_reps", reps);
            let start = errors.read(posted, "ladder_start", small);
            let add = errors.read(posted, "ladder_add", small);
            let target = errors.read(posted, "ladder_target", small);
            let rest = errors.read(posted, "ladder_rest", seconds);
            Some(Scheme::SetLadder(SetLadder {
                reps: reps?,
                start_sets: start?,
                add_per_week: add?,
                target_sets: target?,
                light_fourth_week: posted.has("ladder_light"),
                rest_seconds: rest?,
            }))
        }
    }
}

fn reps(text: &str) -> Result<Reps, String> {
    Reps::new(whole(text)?).map_err(|e| e.to_string())
}
