//! What becomes of athletes' plans around days away, as a coach looks at it before it stands.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use leverbook_domain::id::{AthleteId, MovementId, PlannedId};
use leverbook_domain::plan::{
    Afterwards, ComesBack, InBlock, Known, LastDone, LighterClub, PlannedOn, PlannedState,
    Standing, TimeAway, around, comes_back, one_club_lighter,
};
use leverbook_domain::policy::Policy;
use leverbook_domain::text::counted;
use leverbook_domain::training::{Hands, History};
use leverbook_store::blocks::{self, Planned};
use leverbook_store::names::GymNames;
use leverbook_store::{GymTx, StoreError, care, history, policies};
use sha2::{Digest, Sha256};
use time::{Date, Duration};

use super::objections::{self, Objected};
use super::words;
use crate::chart::day_label;
use crate::tokens::hex;
use crate::visit::Visit;

/// How long ago a movement that is not planned may have been done, to be come back to.
const REMEMBERED: Duration = Duration::days(366);

/// One athlete's share of an act.
pub(super) struct Share {
    pub(super) athlete: AthleteId,
    pub(super) name: String,
    /// The sessions that change, as they stand.
    pub(super) planned: Vec<Planned>,
    /// As they will stand, in the same order.
    pub(super) after: Vec<Standing>,
    /// Weeks by which their blocks move on.
    pub(super) weeks: i64,
    pub(super) summary: String,
    pub(super) lines: Vec<Line>,
    pub(super) backs: Vec<Back>,
    pub(super) objections: Vec<Objected>,
    /// Something would move on to a day that has passed.
    pub(super) lands_in_the_past: bool,
}

/// One session: as it stands, and as it will.
pub(super) struct Line {
    pub(super) movement: String,
    pub(super) before: String,
    pub(super) after: String,
}

/// A1: how a movement is come back to.
pub(super) struct Back {
    pub(super) sentence: String,
    /// The way to plan it as a block of its own.
    pub(super) assign_href: String,
}

/// What is changed, and how.
pub(super) struct Wish<'a> {
    pub(super) away: TimeAway,
    pub(super) afterwards: Afterwards,
    /// Sessions that a pause took out, and that are planned again.
    pub(super) waiting: &'a HashSet<PlannedId>,
    /// Whether they come back on the day after: then what is not planned is told too.
    pub(super) returns: bool,
    /// Nothing after the days away is touched: they are not over yet.
    pub(super) open_ended: bool,
}

/// Works out everybody's share, from a handful of queries however many athletes there are.
pub(super) async fn shares(
    tx: &mut GymTx,
    visit: &Visit,
    whom: &[(AthleteId, String)],
    wish: &Wish<'_>,
) -> Result<Vec<Share>, StoreError> {
    let ids: Vec<AthleteId> = whom.iter().map(|(athlete, _)| *athlete).collect();
    let names = GymNames::load(tx).await?;
    let policies = policies::of_athletes(tx, &ids).await?;
    let out_of_use = care::out_of_use(tx, visit.today).await?;
    let mut histories: HashMap<AthleteId, History> =
        history::load_many(tx, &ids).await?.into_iter().collect();
    for history in histories.values_mut() {
        history.leave_out(&out_of_use);
    }
    let mut planned: HashMap<AthleteId, Vec<Planned>> = HashMap::new();
    for one in blocks::of_running_blocks(tx, &ids).await? {
        planned.entry(one.athlete).or_default().push(one);
    }
    let mut shares = Vec::with_capacity(whom.len());
    for (athlete, name) in whom {
        let history = histories.get(athlete).ok_or(StoreError::NotFound)?;
        let policy = policies.get(athlete).ok_or(StoreError::NotFound)?.own();
        let planned = planned.remove(athlete).unwrap_or_default();
        let ground = Ground {
            visit,
            history,
            policy,
            names: &names,
        };
        shares.push(ground.share((*athlete, name), planned, wish));
    }
    Ok(shares)
}

/// What one athlete's share is worked out from.
struct Ground<'a> {
    visit: &'a Visit,
    history: &'a History,
    policy: &'a Policy,
    names: &'a GymNames,
}

impl Ground<'_> {
    fn share(
        &self,
        (athlete, name): (AthleteId, &str),
        planned: Vec<Planned>,
        wish: &Wish<'_>,
    ) -> Share {
        let today = self.visit.today;
        let all: Vec<InBlock> = planned
            .iter()
            .map(|one| {
                let mut placed = one.placed();
                if wish.waiting.contains(&one.planned) {
                    placed.standing.state = PlannedState::Planned;
                }
                InBlock {
                    block: one.block,
                    placed,
                }
            })
            .collect();
        let known = self.known(&all);
        let around = around(&all, wish.away, wish.afterwards, &known, self.policy, today);
        let then: HashMap<PlannedId, &Standing> = around
            .sessions
            .iter()
            .map(|one| (one.placed.planned, &one.placed.standing))
            .filter(|(_, then)| !wish.open_ended || then.state == PlannedState::Skipped)
            .collect();
        let objections = self.objections(&planned, wish.waiting, &then);
        let mut changed: Vec<(Planned, Standing)> = planned
            .into_iter()
            .filter_map(|one| {
                let after = (*then.get(&one.planned)?).clone();
                (after != one.standing).then_some((one, after))
            })
            .collect();
        changed.sort_by_key(|(one, _)| (one.standing.on, one.planned));
        let lines = changed
            .iter()
            .map(|(one, after)| line(one, after))
            .collect();
        let lands_in_the_past = changed
            .iter()
            .any(|(_, after)| after.state == PlannedState::Planned && after.on < today);
        let moves_on = wish.afterwards == Afterwards::MoveOn && !changed.is_empty();
        let weeks = if moves_on { wish.away.weeks() } else { 0 };
        let mut backs: Vec<ComesBack> = around.comes_back;
        if wish.open_ended {
            backs.clear();
        } else if wish.returns {
            backs.extend(self.not_planned(wish, &known, &all));
        }
        let (planned, after): (Vec<Planned>, Vec<Standing>) = changed.into_iter().unzip();
        Share {
            athlete,
            name: name.to_owned(),
            summary: summary(&after, weeks),
            planned,
            after,
            weeks,
            lines,
            backs: backs.iter().map(|back| self.back(athlete, back)).collect(),
            objections,
            lands_in_the_past,
        }
    }

    /// What the log says of each movement that is planned or was done.
    fn known(&self, planned: &[InBlock]) -> BTreeMap<MovementId, Known> {
        let tomorrow = self.visit.today.saturating_add(Duration::DAY);
        let done = self.history.sessions().iter();
        let done = done.flat_map(|session| session.sets.iter().map(|set| set.movement));
        let asked = planned
            .iter()
            .map(|one| one.placed.standing.prescription.movement);
        let movements: BTreeSet<MovementId> = done.chain(asked).collect();
        movements
            .into_iter()
            .map(|movement| {
                let lighter = one_club_lighter(self.history, self.policy, movement, tomorrow);
                let known = Known {
                    last_done: LastDone::before(self.history, movement, tomorrow),
                    lighter: lighter.and_then(|loading| {
                        let name = self.names.club_named(loading)?.to_owned();
                        Some(LighterClub { loading, name })
                    }),
                };
                (movement, known)
            })
            .collect()
    }

    /// Movements of the last year that nothing is planned of any more.
    fn not_planned(
        &self,
        wish: &Wish<'_>,
        known: &BTreeMap<MovementId, Known>,
        planned: &[InBlock],
    ) -> Vec<ComesBack> {
        let on = wish.away.last().saturating_add(Duration::DAY);
        let is_planned = |movement: MovementId| {
            planned.iter().any(|one| {
                let standing = &one.placed.standing;
                standing.prescription.movement == movement
                    && standing.state == PlannedState::Planned
                    && !one.placed.logged
                    && standing.on >= wish.away.first()
            })
        };
        let lately = |known: &Known| {
            known
                .last_done
                .is_some_and(|last| last.on >= on.saturating_sub(REMEMBERED))
        };
        known
            .iter()
            .filter(|(movement, known)| !is_planned(**movement) && lately(known))
            .filter_map(|(movement, known)| {
                let about = (*movement, self.hands(*movement));
                comes_back(about, on, None, known, self.policy)
            })
            .collect()
    }

    /// How a movement was held last.
    fn hands(&self, movement: MovementId) -> Hands {
        let sets = self.history.sessions().iter().rev();
        let mut sets = sets.flat_map(|session| session.sets.iter().rev());
        sets.find(|set| set.movement == movement)
            .map_or(Hands::Two, |set| set.hands)
    }

    fn back(&self, athlete: AthleteId, back: &ComesBack) -> Back {
        let movement = self.names.movement_named(back.movement).unwrap_or_default();
        let share = 100.0 * self.policy.return_share;
        let (sets, days) = (back.sets, back.days);
        let with = match &back.lighter {
            Some(club) => format!(", with {}, one club lighter", club.name),
            None if back.no_lighter => {
                ". So long away asks for a lighter club, and none is usable".to_owned()
            }
            None => ", with the same club".to_owned(),
        };
        let on = day_label(back.on);
        let sentence = format!(
            "{movement}: {days} days without it by {on}. Back with {sets} sets a side, {share:.0} % of them{with}; \
             then one set more a week, up to what was planned."
        );
        let mut query = form_urlencoded::Serializer::new(String::new());
        query
            .append_pair("athlete", &athlete.to_string())
            .append_pair("by", "same")
            .append_pair("movement", &back.movement.to_string())
            .append_pair("hands", back.hands.word())
            .append_pair("starts_on", &back.on.to_string());
        let field = match back.hands {
            Hands::Two => "interval_sets",
            Hands::Fingertip => "fingertip_sets",
            Hands::One => "ladder_start",
        };
        query.append_pair(field, &sets.to_string());
        if let Some(club) = &back.lighter {
            query.append_pair("club", &club.loading.to_string());
        }
        Back {
            sentence,
            assign_href: self.visit.to(&format!("assign?{}", query.finish())),
        }
    }

    /// What the rules object to once all of it is changed, and did not when it was planned as it was.
    fn objections(
        &self,
        planned: &[Planned],
        waiting: &HashSet<PlannedId>,
        then: &HashMap<PlannedId, &Standing>,
    ) -> Vec<Objected> {
        let today = self.visit.today;
        let open = || planned.iter().filter(|one| one.logged.is_none());
        let before = open()
            .filter(|one| {
                one.standing.state == PlannedState::Planned || waiting.contains(&one.planned)
            })
            .map(|one| &one.standing);
        let after = open()
            .map(|one| then.get(&one.planned).copied().unwrap_or(&one.standing))
            .filter(|standing| standing.state == PlannedState::Planned && standing.on >= today);
        let before = self.objections_to(before);
        objections::new_ones(self.objections_to(after), &before)
            .into_iter()
            .filter(Objected::asks_for_a_reason)
            .collect()
    }

    fn objections_to<'p>(&self, standings: impl Iterator<Item = &'p Standing>) -> Vec<Objected> {
        let mut planned: Vec<PlannedOn> = standings
            .map(|standing| PlannedOn {
                on: standing.on,
                prescription: standing.prescription.clone(),
            })
            .collect();
        planned.sort_by_key(|one| one.on);
        objections::to(self.history, self.policy, &planned, self.names)
    }
}

fn line(planned: &Planned, after: &Standing) -> Line {
    let before = &planned.standing;
    let say = |standing: &Standing| {
        let asked = &standing.prescription;
        format!(
            "{}: {}, {}",
            day_label(standing.on),
            words::short_line(asked),
            asked.club_name
        )
    };
    Line {
        movement: before.prescription.movement_name.clone(),
        before: match before.state {
            PlannedState::Planned => say(before),
            PlannedState::Skipped | PlannedState::Ended => format!("{}, waits", say(before)),
        },
        after: match after.state {
            PlannedState::Planned => say(after),
            PlannedState::Skipped | PlannedState::Ended => "left out".to_owned(),
        },
    }
}

/// "2 sessions are left out, 6 later ones change; the last one is on Thu 14 Jan."
fn summary(after: &[Standing], weeks: i64) -> String {
    let many = |count: usize| counted(count, "session");
    let planned = || {
        after
            .iter()
            .filter(|standing| standing.state == PlannedState::Planned)
    };
    let out = after.len() - planned().count();
    let mut parts = Vec::new();
    if out > 0 {
        parts.push(format!("{} left out", many(out)));
    }
    if planned().count() > 0 {
        let by = match weeks {
            0 => "with other sets".to_owned(),
            1 => "moved on by a week".to_owned(),
            weeks => format!("moved on by {weeks} weeks"),
        };
        parts.push(format!("{} {by}", many(planned().count())));
    }
    if let Some(last) = planned()
        .map(|standing| standing.on)
        .max()
        .filter(|_| weeks > 0)
    {
        parts.push(format!("the last one is on {}", day_label(last)));
    }
    if parts.is_empty() {
        "Nothing is planned that changes.".to_owned()
    } else {
        format!("{}.", parts.join("; "))
    }
}

/// Everything that the rules object to, for whoever.
pub(super) fn asks_for_a_reason(shares: &[Share]) -> bool {
    shares.iter().any(|share| !share.objections.is_empty())
}

/// A mark of what was looked at: another where somebody changed one of the plans, or the log, meanwhile.
pub(super) fn mark_of(shares: &[Share], more: &[String]) -> String {
    let mut hash = Sha256::new();
    for part in more {
        hash.update(part);
        hash.update([0]);
    }
    for share in shares {
        hash.update(share.athlete.to_string());
        for (planned, after) in share.planned.iter().zip(&share.after) {
            let asked = &after.prescription;
            hash.update(format!(
                "{} {} {} {} {} {}\n",
                planned.planned,
                planned.revision,
                after.on,
                after.state.word(),
                asked.sets,
                asked.loading
            ));
        }
        for objected in &share.objections {
            hash.update(objected.rule.id());
        }
    }
    hex(&hash.finalize()[..16])
}

/// The last day that a plan is changed on where there is no last day yet.
pub(super) fn open_ended(first: Date) -> Date {
    first.saturating_add(Duration::days(leverbook_domain::plan::LONGEST_AWAY - 1))
}
