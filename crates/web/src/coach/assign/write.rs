//! The end of an assignment: why it goes ahead all the same, and the blocks.

use std::collections::HashMap;

use leverbook_domain::id::{AthleteId, BlockId};
use leverbook_domain::text::Reason;
use leverbook_store::blocks::{self, Assignment, NewBlock};
use leverbook_store::{GymTx, block_templates, flags};
use time::{Date, Duration};

use super::super::objections::{self, Objected};
use super::super::words;
use super::share::{Share, field};
use super::wanted::Wanted;
use crate::error::PageError;
use crate::form::FieldErrors;
use crate::posted::Posted;
use crate::visit::Visit;

/// Why rows go ahead that the rules object to.
pub(super) struct Because {
    /// Of one athlete.
    own: HashMap<AthleteId, Reason>,
    /// Of whoever has none of their own.
    of_all: Option<Reason>,
}

impl Because {
    fn of(&self, athlete: AthleteId) -> Option<&Reason> {
        self.own.get(&athlete).or(self.of_all.as_ref())
    }
}

/// The shares that are to be assigned.
pub(super) fn ticked(shares: &[Share]) -> impl Iterator<Item = &Share> {
    shares.iter().filter(|share| share.ticked)
}

pub(super) fn asks_for_a_reason(share: &Share) -> bool {
    share.objections.iter().any(Objected::asks_for_a_reason)
}

/// A mark of everything that is objected to.
pub(super) fn looked_at(shares: &[Share]) -> String {
    objections::mark(shares.iter().flat_map(|share| {
        let athlete = share.athlete.athlete;
        share
            .objections
            .iter()
            .map(move |objected| (athlete, objected))
    }))
}

/// To go on despite an objection that asks for a look, the coach says why: in the row, or for all that
/// have no reason of their own. What was proposed and
/// objected to must be what the coach looked at.
pub(super) fn read_because(posted: &Posted, shares: &[Share], errors: &mut FieldErrors) -> Because {
    if ticked(shares).next().is_none() {
        errors.add("in", "tick at least one athlete");
    }
    if posted.text("looked_at") != looked_at(shares) {
        errors.add(
            "because",
            "what the rules object to has changed since you looked: read it again",
        );
    }
    for share in ticked(shares).filter(|share| share.changed_since) {
        errors.add(
            &field("club", share.athlete.athlete),
            "what is proposed has changed since you looked: read the row again",
        );
    }
    let mut own = HashMap::new();
    for share in shares {
        let id = share.athlete.athlete;
        if let Some(reason) = errors.read_optional(posted, &field("because", id), Reason::new) {
            own.insert(id, reason);
        }
    }
    let of_all = errors.read_optional(posted, "because", Reason::new);
    let because = Because { own, of_all };
    let without: Vec<&str> = ticked(shares)
        .filter(|share| asks_for_a_reason(share))
        .filter(|share| because.of(share.athlete.athlete).is_none())
        .map(|share| share.athlete.name.as_str())
        .collect();
    if let [first, rest @ ..] = without.as_slice()
        && !errors.any()
    {
        let others = match rest {
            [] => String::new(),
            [second] => format!(" and {second}"),
            more => format!(" and {} others", more.len()),
        };
        errors.add(
            "because",
            format!("say why this goes ahead despite what the rules object to: {first}{others}"),
        );
    }
    because
}

/// Writes the ticked blocks, and says where to go on.
pub(super) async fn all(
    tx: &mut GymTx,
    visit: &Visit,
    wanted: &Wanted,
    shares: Vec<Share>,
    because: &Because,
    end_running: bool,
) -> Result<String, PageError> {
    let mut athletes: Vec<AthleteId> = Vec::new();
    let mut running: Vec<(BlockId, BlockId, Date)> = Vec::new();
    let mut assignments: Vec<Assignment> = Vec::new();
    for share in shares.into_iter().filter(|share| share.ticked) {
        let (Some(draft), Some(loading)) = (share.draft.clone(), share.club) else {
            continue;
        };
        let id = share.athlete.athlete;
        athletes.push(id);
        let last_day = draft.starts_on() - Duration::days(1);
        running.extend(
            share
                .running
                .iter()
                .map(|block| (share.block, block.block, last_day)),
        );
        let overruled = asks_for_a_reason(&share);
        assignments.push(Assignment {
            draft,
            blocks: vec![NewBlock {
                block: share.block,
                athlete: id,
                loading,
                planned: share.planned,
                objections: share.objections.into_iter().map(Objected::kept).collect(),
                overruled_because: because
                    .of(id)
                    .filter(|_| overruled)
                    .map(|because| because.as_str().to_owned()),
            }],
        });
    }
    let next = match assignments.as_slice() {
        [only] => format!("blocks/{}?done=assigned", only.blocks[0].block),
        _ => "roster?done=assigned".to_owned(),
    };
    let from = match wanted.template {
        Some(from) => {
            let known = block_templates::versions(tx, from.template).await?;
            known.iter().any(|one| one.at == from).then_some(from)
        }
        None => None,
    };
    let written = blocks::assign_each(tx, &assignments, from, visit.now).await?;
    if end_running {
        let ending: Vec<(BlockId, Date)> = running
            .into_iter()
            .filter(|(new, old, _)| written.contains(new) && !written.contains(old))
            .map(|(_, old, last_day)| (old, last_day))
            .collect();
        blocks::end_each(tx, &ending, "A new block begins.", visit.now)
            .await
            .map_err(words::change_refused)?;
    }
    flags::reassess_all(tx, &athletes, visit.today).await?;
    Ok(next)
}
