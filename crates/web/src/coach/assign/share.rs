//! One athlete's share of an assignment: what the rules propose for them, and what the coach changed.

use std::collections::HashMap;

use leverbook_domain::id::{AthleteId, BlockId, LoadingId, MovementId};
use leverbook_domain::next_step::{NextStep, Reason};
use leverbook_domain::plan::{
    BlockDraft, BlockField, BlockGround, BlockProblems, BlockWish, PlannedOn, ProposedBlock,
    Scheme, Swung, last_day, preview, proposed_block, start_after, usual_scheme,
};
use leverbook_domain::training::{Hands, History};
use leverbook_domain::units::Density;
use leverbook_store::blocks::{self, Assignable, Block};
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::names::GymNames;
use leverbook_store::{GymTx, StoreError, care, history};
use sha2::{Digest, Sha256};
use time::{Date, Duration};

use super::super::objections::{self, Objected};
use super::super::offer::{ClubOffered, Offer};
use super::super::typed::small;
use super::wanted::{By, Wanted};
use crate::App;
use crate::ahead::{self, Ahead};
use crate::coach::review::step_words;
use crate::form::FieldErrors;
use crate::numbers::decimal;
use crate::posted::Posted;
use crate::tokens::hex;
use crate::visit::Visit;

/// One athlete's share of what is about to be assigned.
pub(super) struct Share {
    pub(super) athlete: Assignable,
    pub(super) block: BlockId,
    /// Whether it is to be assigned.
    pub(super) ticked: bool,
    pub(super) movement_name: String,
    /// `None` where a value is wrong.
    pub(super) draft: Option<BlockDraft>,
    /// `None` where no club could be told; then nothing is planned yet.
    pub(super) club: Option<LoadingId>,
    pub(super) loadable: bool,
    pub(super) planned: Vec<PlannedOn>,
    /// What the block leads to; nothing where nothing is planned yet.
    pub(super) ahead: Option<Ahead>,
    pub(super) objections: Vec<Objected>,
    /// Blocks of the same movement that still run when this one begins.
    pub(super) running: Vec<Block>,
    /// Whether an open stop flag makes this work wait for the coach (L4).
    pub(super) waits: bool,
    pub(super) proposal: Proposal,
    /// What stands in the row's fields.
    pub(super) values: Values,
    /// What would stand there if the coach had changed nothing.
    proposed: Values,
    /// A mark of what is proposed beside that.
    beside: String,
    /// What is proposed is not what the coach looked at.
    pub(super) changed_since: bool,
}

impl Share {
    /// What is proposed, as the page carries it, to tell later what the coach changed.
    pub(super) fn told(&self) -> String {
        self.proposed.told(&self.beside)
    }
}

/// What the rules propose for an athlete, as the coach reads it.
pub(super) struct Proposal {
    pub(super) sentence: String,
    pub(super) reasons: Vec<Reason>,
    pub(super) against: Vec<Reason>,
    /// Whether the rules say that the coach decides first.
    pub(super) waits: bool,
}

/// The values of a row, as its fields hold them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Values {
    pub(super) hands: String,
    pub(super) club: String,
    pub(super) sets: String,
    /// Sets in week 1, where they are others.
    pub(super) first: String,
    pub(super) goal: String,
}

impl Values {
    fn of(proposed: &ProposedBlock, club: Option<LoadingId>) -> Self {
        let or_none = |text: Option<String>| text.unwrap_or_default();
        Self {
            hands: proposed.scheme.hands().word().to_owned(),
            club: or_none(club.map(|club| club.to_string())),
            sets: proposed.scheme.sets().to_string(),
            first: or_none(proposed.first_week_sets.map(|sets| sets.to_string())),
            goal: or_none(
                proposed
                    .scheme
                    .goal()
                    .map(|goal| format!("{:.1}", goal.rpm())),
            ),
        }
    }

    fn told(&self, beside: &str) -> String {
        let Self {
            hands,
            club,
            sets,
            first,
            goal,
        } = self;
        [hands, club, sets, first, goal, beside].join(" ")
    }
}

/// The same for the same work on the same days.
fn beside(proposed: &ProposedBlock, wish: &BlockWish) -> String {
    let text = format!(
        "{:?} {:?} {} {} {}",
        proposed.scheme, wish.weekdays, wish.movement, wish.starts_on, wish.weeks
    );
    hex(&Sha256::digest(text.as_bytes())[..8])
}

/// The name of a field of an athlete's row.
pub(super) fn field(what: &str, athlete: AthleteId) -> String {
    format!("{what}-{athlete}")
}

/// What of a row there is more than one of.
pub(super) const ROW_FIELDS: [&str; 9] = [
    "in-", "block-", "told-", "club-", "hands-", "sets-", "first-", "goal-", "because-",
];

/// What is known of all athletes beside the form.
struct Known<'a> {
    visit: &'a Visit,
    posted: &'a Posted,
    offer: &'a Offer,
    wanted: &'a Wanted,
    names: GymNames,
    standing: Vec<KeptFlag>,
    /// Blocks of the form that were written when it was sent before.
    written: Vec<BlockId>,
}

/// Works out everybody's share, from a handful of queries however many athletes there are.
pub(super) async fn all(
    tx: &mut GymTx,
    app: &App,
    visit: &Visit,
    posted: &Posted,
    offer: &Offer,
    wanted: &Wanted,
    errors: &mut FieldErrors,
) -> Result<Vec<Share>, StoreError> {
    let ids: Vec<AthleteId> = wanted.athletes.iter().map(|one| one.athlete).collect();
    let mut histories: HashMap<AthleteId, History> =
        history::load_many(tx, &ids).await?.into_iter().collect();
    let out = care::out_of_use(tx, visit.today).await?;
    histories
        .values_mut()
        .for_each(|history| history.leave_out(&out));
    let mut proposals = flags::assessments(tx, &ids).await?;
    let running = blocks::running(tx, &ids, visit.today).await?;
    let mut last = last_blocks(tx, wanted, &ids).await?;
    let sent: Vec<BlockId> = ids
        .iter()
        .filter_map(|id| posted.text(&field("block", *id)).parse().ok())
        .collect();
    let known = Known {
        visit,
        posted,
        offer,
        wanted,
        names: GymNames::load(tx).await?,
        standing: flags::standing_for(tx, &ids).await?,
        written: blocks::written(tx, &sent).await?,
    };
    let mut shares = Vec::with_capacity(ids.len());
    for athlete in &wanted.athletes {
        let id = athlete.athlete;
        let history = histories.remove(&id).ok_or(StoreError::NotFound)?;
        let steps = proposals.remove(&id).map_or_else(Vec::new, |it| it.steps);
        let running = running.iter().filter(|block| block.athlete == id);
        let block = posted
            .text(&field("block", id))
            .parse()
            .unwrap_or_else(|_| app.new_id());
        let mut wrong = FieldErrors::new();
        let share = known.share(
            athlete,
            block,
            &history,
            &steps,
            last.remove(&id),
            running,
            &mut wrong,
        );
        // Who is left out keeps nobody else waiting.
        if share.ticked {
            errors.extend(wrong);
        }
        shares.push(share);
    }
    Ok(shares)
}

/// The blocks that "again" goes on from: those of the form, else each athlete's last.
async fn last_blocks(
    tx: &mut GymTx,
    wanted: &Wanted,
    athletes: &[AthleteId],
) -> Result<HashMap<AthleteId, Block>, StoreError> {
    if wanted.by != By::Again {
        return Ok(HashMap::new());
    }
    let mut last: HashMap<AthleteId, Block> = blocks::last_of(tx, athletes)
        .await?
        .into_iter()
        .map(|block| (block.athlete, block))
        .collect();
    for id in &wanted.from_blocks {
        let block = blocks::block(tx, *id).await?;
        if athletes.contains(&block.athlete) {
            last.insert(block.athlete, block);
        }
    }
    Ok(last)
}

/// What a row begins with, before the log is asked.
struct Beginning {
    wish: BlockWish,
    movement_name: String,
    /// The club of the last block, which a goal in the scheme is about.
    goal_is_for: Option<LoadingId>,
    /// Why it is not what was asked for.
    but: Option<String>,
}

impl Known<'_> {
    /// What is asked of this athlete: of all, or as in their last block.
    fn beginning(&self, last: Option<Block>) -> Beginning {
        let draft = &self.wanted.draft;
        let wish = BlockWish {
            movement: draft.movement(),
            scheme: draft.scheme(),
            weekdays: draft.weekdays().iso().map(i64::from).collect(),
            starts_on: draft.starts_on(),
            weeks: draft.weeks().into(),
            note: draft.note().unwrap_or_default().to_owned(),
        };
        let of_all = |but: Option<String>| Beginning {
            wish: wish.clone(),
            movement_name: self.wanted.movement_name.clone(),
            goal_is_for: None,
            but,
        };
        if self.wanted.by != By::Again {
            return of_all(None);
        }
        let Some(last) = last else {
            return of_all(Some(
                "No block to go on from: planned as the form says.".to_owned(),
            ));
        };
        let Some(movement_name) = self.offer.movement_name(last.movement) else {
            return of_all(Some(format!(
                "The last block’s movement, {}, is out of use: planned as the form says.",
                last.movement_name
            )));
        };
        let its_last = last_day(last.weekdays, last.starts_on, last.weeks)
            .saturating_add(Duration::weeks(last.moved_on_weeks.into()));
        let its_last = last
            .ended
            .as_ref()
            .map_or(its_last, |(ended, _)| its_last.min(*ended));
        Beginning {
            movement_name: movement_name.to_owned(),
            goal_is_for: Some(last.loading),
            but: None,
            wish: BlockWish {
                movement: last.movement,
                scheme: last.scheme,
                weekdays: last.weekdays.iso().map(i64::from).collect(),
                starts_on: start_after(its_last, self.visit.today),
                weeks: last.weeks.into(),
                note: wish.note,
            },
        }
    }

    #[expect(clippy::too_many_arguments, reason = "a row is made of all of it")]
    fn share<'a>(
        &self,
        athlete: &Assignable,
        block: BlockId,
        history: &History,
        steps: &[NextStep],
        last: Option<Block>,
        running: impl Iterator<Item = &'a Block>,
        errors: &mut FieldErrors,
    ) -> Share {
        let (id, today) = (athlete.athlete, self.visit.today);
        let policy = self.offer.policy_for(id);
        let Beginning {
            wish,
            movement_name,
            goal_is_for,
            but,
        } = self.beginning(last);
        let movement = wish.movement;
        let step = steps.iter().find(|step| step.movement == movement);
        let row = Row {
            posted: self.posted,
            athlete: id,
            told: self.posted.text(&field("told", id)),
        };
        let ground = BlockGround {
            history,
            policy,
            step,
            movement,
            asked: wish.scheme,
            club: row.club_chosen().or(self.wanted.club),
            goal_is_for,
            first_day: first_day(&wish),
            today,
        };
        let proposed = match self.wanted.by {
            By::Own | By::Again => proposed_block(&ground),
            By::Same => ProposedBlock {
                scheme: wish.scheme,
                first_week_sets: None,
                loading: step
                    .filter(|step| step.hands == wish.scheme.hands())
                    .and_then(|step| step.loading),
                ..proposed_block(&ground)
            },
        };
        let own_club = self
            .wanted
            .club
            .or(proposed.loading)
            .or_else(|| last_swung(history, movement, proposed.scheme.hands()))
            .or(goal_is_for);
        let proposed_values = Values::of(&proposed, own_club);
        let beside = beside(&proposed, &wish);
        let changed_since = row.was_shown()
            && row.told != proposed_values.told(&beside)
            && !self.written.contains(&block);
        let values = row.values(&proposed_values);
        let (scheme, first_week) = row.work(&proposed, &wish, policy, &values, errors);
        let club = row
            .club(self.offer, &values, errors)
            .map(|club| (club.loading, club.name.as_str(), club.loadable));
        let draft = scheme.and_then(|scheme| {
            let wish = BlockWish { scheme, ..wish };
            row.draft(wish, first_week, policy, today, errors)
        });
        let planned = match (&draft, club) {
            (Some(draft), Some((loading, club_name, _))) => preview(
                draft,
                policy,
                Swung {
                    movement_name: &movement_name,
                    loading,
                    club_name,
                },
            ),
            _ => Vec::new(),
        };
        let own_flags = self.standing.iter().filter(|flag| flag.athlete == id);
        let waits = waits(&self.standing, id, movement, today);
        let club_name = proposed
            .loading
            .and_then(|club| self.names.club_named(club));
        let by_default = !waits && !proposed.waits() && but.is_none();
        let begins = planned.first().map(|first| first.on);
        Share {
            block,
            ticked: if row.was_shown() {
                self.posted.has(&field("in", id))
            } else {
                by_default
            },
            proposal: Proposal {
                sentence: match (but, proposed.step) {
                    (Some(but), _) => but,
                    (None, None) => {
                        format!("Nothing of {movement_name} in the log: as filled in.")
                    }
                    (None, Some(step)) => {
                        format!("The rules propose: {}", step_words(step, club_name))
                    }
                },
                waits: proposed.waits(),
                reasons: proposed.reasons,
                against: proposed.against,
            },
            club: club.map(|(loading, ..)| loading),
            loadable: club.is_some_and(|(.., loadable)| loadable),
            ahead: draft.as_ref().and_then(|draft| {
                ahead::of_block(
                    history,
                    policy,
                    &self.names,
                    &ahead::closed(own_flags, today),
                    &draft.scheme(),
                    &planned,
                    today,
                )
            }),
            objections: objections::to(history, policy, &planned, &self.names),
            running: running
                .filter(|block| block.movement == movement)
                .filter(|block| begins.is_some_and(|begins| block.until() >= begins))
                .cloned()
                .collect(),
            planned,
            draft,
            waits,
            movement_name,
            athlete: athlete.clone(),
            values,
            proposed: proposed_values,
            beside,
            changed_since,
        }
    }
}

/// The first day on which a block can ask something.
fn first_day(wish: &BlockWish) -> Date {
    leverbook_domain::plan::Weekdays::from_iso(wish.weekdays.iter().copied())
        .map_or(wish.starts_on, |days| days.first_from(wish.starts_on))
}

/// The row of one athlete, as sent.
struct Row<'a> {
    posted: &'a Posted,
    athlete: AthleteId,
    /// What the page had proposed; empty where it had no such row.
    told: &'a str,
}

impl Row<'_> {
    fn name(&self, what: &str) -> String {
        field(what, self.athlete)
    }

    fn was_shown(&self) -> bool {
        !self.told.is_empty()
    }

    /// The club that the coach chose in place of what the page had proposed.
    fn club_chosen(&self) -> Option<LoadingId> {
        let typed = self.posted.text(&self.name("club")).trim();
        let told = self.told.split(' ').nth(1);
        typed.parse().ok().filter(|_| told != Some(typed))
    }

    /// What stands in the fields: as proposed now, but for what the coach changed from what the page
    /// had proposed.
    fn values(&self, proposed: &Values) -> Values {
        let told: Vec<&str> = self.told.split(' ').collect();
        let value = |at: usize, what: &str, proposed: &str| {
            let name = self.name(what);
            let typed = self.posted.text(&name).trim();
            let as_told = match told.get(at) {
                Some(told) if self.was_shown() => *told == typed,
                _ => typed.is_empty() && !self.posted.is_broken(&name),
            };
            if as_told || !self.posted.has(&name) {
                proposed.to_owned()
            } else {
                typed.to_owned()
            }
        };
        Values {
            hands: value(0, "hands", &proposed.hands),
            club: value(1, "club", &proposed.club),
            sets: value(2, "sets", &proposed.sets),
            first: value(3, "first", &proposed.first),
            goal: value(4, "goal", &proposed.goal),
        }
    }

    /// The work with the coach's changes, and the sets of week 1.
    fn work(
        &self,
        proposed: &ProposedBlock,
        wish: &BlockWish,
        policy: &leverbook_domain::policy::Policy,
        values: &Values,
        errors: &mut FieldErrors,
    ) -> (Option<Scheme>, Option<u8>) {
        let own = Values::of(proposed, None);
        let hands = if values.hands == own.hands {
            Some(proposed.scheme.hands())
        } else {
            errors.read(self.posted, &self.name("hands"), |text| {
                Hands::from_word(text).ok_or("choose how the club is held")
            })
        };
        let Some(hands) = hands else {
            return (None, None);
        };
        let same_hands = hands == proposed.scheme.hands();
        let base = if same_hands {
            proposed.scheme
        } else if wish.scheme.hands() == hands {
            wish.scheme
        } else {
            usual_scheme(hands, policy)
        };
        let sets = if values.sets == own.sets {
            Some(base.sets())
        } else {
            errors.read(self.posted, &self.name("sets"), small)
        };
        let first = if values.first == own.first {
            proposed.first_week_sets.filter(|_| same_hands)
        } else {
            errors.read_optional(self.posted, &self.name("first"), small)
        };
        let goal = if values.goal == own.goal {
            base.goal()
        } else {
            errors.read_optional(self.posted, &self.name("goal"), |text| {
                Density::from_rpm(decimal(text)?).map_err(|error| error.to_string())
            })
        };
        (sets.map(|sets| base.with_sets(sets).with_goal(goal)), first)
    }

    fn club<'a>(
        &self,
        offer: &'a Offer,
        values: &Values,
        errors: &mut FieldErrors,
    ) -> Option<&'a ClubOffered> {
        let club = values.club.parse().ok();
        let club = club.and_then(|loading| offer.club(loading, self.athlete));
        if club.is_none() {
            errors.add(
                &self.name("club"),
                "choose a club: none was proposed, or it is not in the rack",
            );
        }
        club
    }

    /// The block, or what is wrong with it at a field of the row.
    fn draft(
        &self,
        wish: BlockWish,
        first_week: Option<u8>,
        policy: &leverbook_domain::policy::Policy,
        today: Date,
        errors: &mut FieldErrors,
    ) -> Option<BlockDraft> {
        match BlockDraft::new(wish, policy, today) {
            Ok(draft) => match draft.with_first_week(first_week) {
                Ok(draft) => Some(draft),
                Err(message) => {
                    errors.add(&self.name("first"), message);
                    None
                }
            },
            Err(BlockProblems(problems)) => {
                for problem in problems {
                    let (what, about) = match problem.field {
                        BlockField::Goal => ("goal", ""),
                        BlockField::Sets | BlockField::StartSets => ("sets", ""),
                        BlockField::Reps => ("sets", "reps a set: "),
                        BlockField::AddPerWeek => ("sets", "sets added a week: "),
                        BlockField::TargetSets => ("sets", "target sets: "),
                        BlockField::StartsOn => ("sets", "the first day: "),
                        _ => ("sets", "the block: "),
                    };
                    errors.add(&self.name(what), format!("{about}{}", problem.message));
                }
                None
            }
        }
    }
}

/// L4: whether work in this movement waits for the coach.
pub(in crate::coach) fn waits(
    standing: &[KeptFlag],
    athlete: AthleteId,
    movement: MovementId,
    today: Date,
) -> bool {
    standing
        .iter()
        .filter(|kept| kept.athlete == athlete && kept.holds_work(today))
        .any(|kept| {
            kept.flag
                .subject
                .movement
                .is_none_or(|about| about == movement)
        })
}

/// The club last swung in this movement and hands.
fn last_swung(history: &History, movement: MovementId, hands: Hands) -> Option<LoadingId> {
    history
        .sessions()
        .iter()
        .rev()
        .flat_map(|session| session.sets.iter().rev())
        .find(|set| set.movement == movement && set.hands == hands)
        .map(|set| set.loading)
}
