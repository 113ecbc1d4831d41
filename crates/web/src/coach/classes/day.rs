//! The plan of a class on a day: who comes and with what, and who swings what, when.

use std::num::NonZeroU16;

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use leverbook_domain::class::{
    Ahead, AsLoaded, ClassDay, Expected, OfTheDay, RackClub, Work, of_the_day, plan,
};
use leverbook_domain::id::{AthleteId, ClassId, LoadingId};
use leverbook_domain::plan::PlannedState;
use leverbook_store::blocks;
use leverbook_store::classes::{self, Class, Coming, KeepError, KeptPlan, Made, MayCome};
use leverbook_store::rack::{self, Club, Loading};
use leverbook_store::{GymTx, StoreError, athletes, care, flags};
use serde::Deserialize;
use time::{Date, Duration};

use super::told::{Called, Told, list};
use super::{hour, places};
use crate::App;
use crate::account::own::instant;
use crate::chart::day_label;
use crate::coach::assign::waits;
use crate::days;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// How far ahead somebody's next session is looked for.
const AHEAD: Duration = Duration::days(60);

/// Which day; the next of the class where nothing is said.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    on: Option<String>,
}

/// Somebody who may come, and what they would do.
struct Person {
    who: MayCome,
    /// What their sessions ask for; nothing where they have none, or are on another roster.
    works: Vec<Work>,
    /// That, in words.
    says: String,
    /// It is no day's session of theirs, but the next after it.
    is_next: bool,
    /// Their work waits for the coach, all of it (L4).
    waits: bool,
    /// A stop flag holds some of their work: no club is chosen by hand for them before it is
    /// decided about.
    held: bool,
    /// How they stand in the plan that was made.
    kept: Option<Coming>,
}

impl Person {
    /// Whether the visitor may plan for them.
    fn can_come(&self) -> bool {
        if self.who.own {
            !self.waits
        } else {
            self.kept.is_some() && !self.held
        }
    }
}

/// A class on a day, and what there is to plan with.
struct Around {
    class: Class,
    on: Date,
    people: Vec<Person>,
    clubs: Vec<Club>,
    loadings: Vec<Loading>,
    kept: Option<KeptPlan>,
    called: Called,
}

impl Around {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        class: Class,
        on: Date,
    ) -> Result<Self, StoreError> {
        let mut clubs = rack::clubs(tx).await?;
        let mut loadings = rack::loadings(tx).await?;
        let kept = classes::plan_on(tx, class.id, on).await?;
        let mut may_come = classes::may_come(tx, class.id, on).await?;
        let everybody = athletes::all(tx).await?;
        let names = everybody
            .iter()
            .map(|athlete| (athlete.id, athlete.name.to_string()));
        let called = Called::new(names.collect(), &clubs, &loadings);
        let out = care::out_of_use(tx, on).await?;
        clubs.retain(|club| out.of_club(club.id).is_none());
        loadings.retain(|loading| out.of(loading.club, loading.id).is_none());
        // Whoever stands in the plan already, though neither of the class nor on this roster.
        for coming in kept.iter().flat_map(|kept| &kept.made.coming) {
            let athlete = coming.expected.athlete;
            if may_come.iter().all(|one| one.athlete != athlete) {
                may_come.push(MayCome {
                    athlete,
                    name: called.athlete(athlete),
                    member: false,
                    own: false,
                    here: true,
                });
            }
        }
        let own: Vec<AthleteId> = may_come
            .iter()
            .filter(|one| one.own)
            .map(|one| one.athlete)
            .collect();
        let planned = blocks::between(tx, &own, on, on.saturating_add(AHEAD)).await?;
        let all: Vec<AthleteId> = may_come.iter().map(|one| one.athlete).collect();
        let standing = flags::standing_for(tx, &all).await?;
        let mut around = Self {
            class,
            on,
            people: Vec::with_capacity(may_come.len()),
            clubs,
            loadings,
            kept,
            called,
        };
        for who in may_come {
            let ahead: Vec<Ahead<'_>> = planned
                .iter()
                .filter(|one| {
                    one.athlete == who.athlete && one.standing.state == PlannedState::Planned
                })
                .map(|one| Ahead {
                    on: one.standing.on,
                    prescription: &one.standing.prescription,
                    logged: one.logged.is_some(),
                    waits: waits(
                        &standing,
                        who.athlete,
                        one.standing.prescription.movement,
                        visit.today,
                    ),
                })
                .collect();
            let held = standing
                .iter()
                .any(|flag| flag.athlete == who.athlete && flag.holds_work(visit.today));
            let person = around.person(who, &of_the_day(&ahead, on), held);
            around.people.push(person);
        }
        Ok(around)
    }

    fn person(&self, who: MayCome, of: &OfTheDay<'_>, held: bool) -> Person {
        let kept = self.kept.iter().flat_map(|kept| &kept.made.coming);
        let lines: Vec<String> = of
            .sessions()
            .iter()
            .map(|one| format!("{}, {}: {}", one.movement_name, one.club_name, one.line()))
            .collect();
        let says = match of {
            OfTheDay::Planned {
                some_wait: true, ..
            } => format!(
                "{}. Other work of theirs waits for you and is left out (L4).",
                lines.join("; ")
            ),
            OfTheDay::Planned { .. } => format!("{}.", lines.join("; ")),
            OfTheDay::Next { on, .. } => format!(
                "Nothing planned for this day. Their next, on {}: {}.",
                day_label(*on),
                lines.join("; ")
            ),
            OfTheDay::Done => "What was planned for this day is in the log already.".to_owned(),
            OfTheDay::Waits => {
                "Their work waits for you: a stop flag is open (L4). They are left out until you have decided about it.".to_owned()
            }
            OfTheDay::Nothing if held => {
                "Nothing planned, and a stop flag is open (L4): decide about it before you give them a club.".to_owned()
            }
            OfTheDay::Nothing => "Nothing planned: choose a club.".to_owned(),
        };
        Person {
            works: of
                .clubs()
                .into_iter()
                .map(|club| self.work(&[club]))
                .collect(),
            says,
            is_next: matches!(of, OfTheDay::Next { .. }),
            waits: matches!(of, OfTheDay::Waits) || held && of.sessions().is_empty(),
            held,
            kept: kept
                .clone()
                .find(|coming| coming.expected.athlete == who.athlete)
                .cloned(),
            who,
        }
    }

    /// Work with any of these. A loading out of use can be had from no club.
    fn work(&self, any_of: &[LoadingId]) -> Work {
        let in_use = |id: &LoadingId| {
            let mut loadings = self.loadings.iter();
            loadings.find(|loading| loading.id == *id && loading.retired_at.is_none())
        };
        Work {
            any_of: any_of
                .iter()
                .filter_map(in_use)
                .map(|loading| AsLoaded {
                    club: loading.club,
                    loading: loading.id,
                })
                .collect(),
        }
    }

    /// The clubs in use.
    fn rack(&self) -> Vec<RackClub> {
        self.clubs
            .iter()
            .filter(|club| club.retired_at.is_none())
            .map(|club| RackClub {
                club: club.id,
                count: club.details.count,
                owner: club.details.owner,
            })
            .collect()
    }

    /// The clubs that somebody may be given by hand.
    fn choices(&self, athlete: AthleteId) -> Vec<Choice> {
        let may_hold = |loading: &&Loading| {
            loading.retired_at.is_none()
                && self.clubs.iter().any(|club| {
                    club.id == loading.club
                        && club.retired_at.is_none()
                        && club.details.owner.is_none_or(|owner| owner == athlete)
                })
        };
        self.loadings
            .iter()
            .filter(may_hold)
            .map(|loading| Choice::new(loading.id.to_string(), loading.name.to_string()))
            .collect()
    }

    /// The form at first: as the plan was made, else whoever usually comes, with what is planned.
    fn first_form(&self) -> Form {
        let at_once = self
            .kept
            .as_ref()
            .map_or(self.class.details.at_once, |kept| kept.made.at_once);
        let mut values = vec![("at_once".to_owned(), at_once.to_string())];
        for person in &self.people {
            let id = person.who.athlete;
            let comes = if self.kept.is_some() {
                person.kept.is_some()
            } else {
                person.who.member && person.who.here && !person.works.is_empty()
            };
            if comes && person.can_come() {
                values.push(("here".to_owned(), id.to_string()));
            }
            let Some(coming) = &person.kept else { continue };
            if coming.expected.first {
                values.push(("first".to_owned(), id.to_string()));
            }
            let any_of = coming.expected.works.first().map(|work| &work.any_of);
            let by_hand = any_of.filter(|_| coming.by_hand && person.who.own);
            for (name, with) in ["club", "or"].iter().zip(by_hand.into_iter().flatten()) {
                values.push((format!("{name}-{id}"), with.loading.to_string()));
            }
        }
        Form::with(values)
    }

    /// Reads who comes and with what.
    fn read(&self, posted: &Posted, errors: &mut FieldErrors) -> Vec<Coming> {
        let sent = posted.all("here");
        let first = posted.all("first");
        let comes = |id: AthleteId| sent.contains(&id.to_string().as_str());
        if sent.is_empty() {
            errors.add("here", "tick at least one athlete");
        }
        let known = |id: &str| {
            let mut people = self.people.iter();
            people.any(|person| person.who.athlete.to_string() == id && person.can_come())
        };
        if !sent.iter().all(|id| known(id)) {
            errors.add(
                "here",
                "somebody ticked cannot be planned for now: look at the list again",
            );
        }
        self.people
            .iter()
            .filter(|person| person.can_come() && comes(person.who.athlete))
            .filter_map(|person| {
                let athlete = person.who.athlete;
                let first = first.contains(&athlete.to_string().as_str());
                let (works, by_hand) = self.works_of(person, posted, errors)?;
                Some(Coming {
                    expected: Expected {
                        athlete,
                        works,
                        first,
                    },
                    by_hand,
                })
            })
            .collect()
    }

    /// What somebody does, and whether the coach chose it by hand.
    fn works_of(
        &self,
        person: &Person,
        posted: &Posted,
        errors: &mut FieldErrors,
    ) -> Option<(Vec<Work>, bool)> {
        if !person.who.own {
            let kept = person.kept.as_ref()?;
            return Some((kept.expected.works.clone(), kept.by_hand));
        }
        let athlete = person.who.athlete;
        let name = &person.who.name;
        let choices = self.choices(athlete);
        let mut chosen = |field: &str| {
            let field = format!("{field}-{athlete}");
            errors.read_optional(posted, &field, |text| {
                let offered = choices.iter().any(|choice| choice.value == text);
                let loading = text.parse::<LoadingId>().ok().filter(|_| offered);
                loading.ok_or_else(|| format!("{name}: choose a club from the list"))
            })
        };
        let (club, other) = (chosen("club"), chosen("or"));
        let at = |field: &str| format!("{field}-{athlete}");
        match (club, other) {
            (Some(_), _) if person.held => {
                let sentence = format!(
                    "{name}: a stop flag is open (L4); decide about it before you choose a club for them"
                );
                errors.add(&at("club"), sentence);
                None
            }
            (Some(club), other) => {
                let mut any_of = vec![club];
                any_of.extend(other.filter(|other| *other != club));
                Some((vec![self.work(&any_of)], true))
            }
            (None, Some(_)) => {
                errors.add(&at("club"), format!("{name}: choose the first club, too"));
                None
            }
            (None, None) if person.works.is_empty() => {
                let sentence = format!(
                    "{name}: nothing is left to do by the plan; choose a club, or untick them"
                );
                errors.add(&at("club"), sentence);
                None
            }
            (None, None) => Some((person.works.clone(), false)),
        }
    }

    /// What is not true any more of the plan that was made.
    fn since(&self) -> Vec<String> {
        let mut said = Vec::new();
        let names = |of: &dyn Fn(&Person, &Coming) -> bool| -> Vec<String> {
            self.people
                .iter()
                .filter(|person| person.who.own)
                .filter(|person| {
                    person
                        .kept
                        .as_ref()
                        .is_some_and(|coming| of(person, coming))
                })
                .map(|person| person.who.name.clone())
                .collect()
        };
        let now_waits = names(&|person, coming| person.waits || coming.by_hand && person.held);
        if !now_waits.is_empty() {
            said.push(format!(
                "Since this plan was made, a stop flag was opened (L4) for {}. Their work waits for you: leave them out and make the plan again.",
                list(now_waits, "and")
            ));
        }
        let of_others: Vec<String> = self
            .people
            .iter()
            .filter(|person| !person.who.own && person.held && person.kept.is_some())
            .map(|person| person.who.name.clone())
            .collect();
        if !of_others.is_empty() {
            said.push(format!(
                "Since this plan was made, this has changed: their own coaches look first before {} may swing. Leave them out and make the plan again.",
                list(of_others, "or")
            ));
        }
        let changed = names(&|person, coming| {
            !coming.by_hand && !person.waits && person.works != coming.expected.works
        });
        if !changed.is_empty() {
            said.push(format!(
                "Since this plan was made, the session changed of {}. Make the plan again to follow it.",
                list(changed, "and")
            ));
        }
        said
    }
}

#[derive(Template)]
#[template(path = "coach/class_plan.html")]
pub(crate) struct ClassPlanPage {
    frame: Frame,
    form: Form,
    asked: Form,
    class: ClassId,
    name: String,
    on: String,
    when: String,
    before: (String, String),
    after: (String, String),
    told: Option<Told>,
    since: Vec<String>,
    made: Option<String>,
    revision: i32,
    members: Vec<Row>,
    others: Vec<Row>,
    /// Whether the others are shown at once: some of them come, or nobody else is there.
    others_open: bool,
    /// Members whom only their own coaches plan for.
    on_other_rosters: Option<String>,
}

/// Somebody in the form.
struct Row {
    id: AthleteId,
    name: String,
    href: Option<String>,
    says: String,
    away: bool,
    can_come: bool,
    can_choose: bool,
    club_field: String,
    or_field: String,
    clubs: Vec<Choice>,
    as_planned: String,
}

impl Row {
    fn new(visit: &Visit, around: &Around, person: &Person) -> Self {
        let id = person.who.athlete;
        let own = person.who.own;
        let planned = person.works.iter().flat_map(|work| &work.any_of);
        let planned: Vec<String> = planned
            .map(|with| around.called.loading(with.loading))
            .collect();
        let can_choose = own && !person.held;
        let kept_works = person.kept.iter().flat_map(|kept| &kept.expected.works);
        Self {
            id,
            name: person.who.name.clone(),
            href: own.then(|| visit.to(&format!("athletes/{id}"))),
            says: if own {
                person.says.clone()
            } else if person.held {
                // Why is between them and their coach.
                "Left out until their own coach has looked.".to_owned()
            } else {
                let clubs = kept_works.flat_map(|work| &work.any_of);
                let clubs = clubs.map(|with| around.called.loading(with.loading));
                format!(
                    "As their coach planned it: {}.",
                    list(clubs.collect(), "and")
                )
            },
            away: !person.who.here,
            can_come: person.can_come(),
            can_choose,
            club_field: format!("club-{id}"),
            or_field: format!("or-{id}"),
            clubs: if can_choose {
                around.choices(id)
            } else {
                Vec::new()
            },
            as_planned: match planned.as_slice() {
                [] => "Choose a club".to_owned(),
                clubs if person.is_next => {
                    format!("{}, of their next session", clubs.join(", then "))
                }
                clubs => format!("{}, as planned", clubs.join(", then ")),
            },
        }
    }
}

impl ClassPlanPage {
    fn new(visit: &Visit, around: &Around, form: Form) -> Self {
        let details = &around.class.details;
        let day = |days: i64| {
            let day = around.on.saturating_add(Duration::days(days));
            let day = if days > 0 {
                around
                    .class
                    .day_from(around.on.saturating_add(Duration::days(1)))
            } else {
                around.class.day_from(day)
            };
            (day.to_string(), day_label(day))
        };
        let told = around.kept.as_ref().map(|kept| {
            let made = &kept.made;
            let expected: Vec<&Expected> = made.coming.iter().map(|one| &one.expected).collect();
            Told::new(
                &made.plan,
                &expected,
                made.at_once,
                details.minutes,
                &around.called,
            )
        });
        let rows = |member: bool| {
            let of = move |person: &&Person| {
                person.who.member == member && (person.who.own || person.kept.is_some())
            };
            around
                .people
                .iter()
                .filter(of)
                .map(|person| Row::new(visit, around, person))
                .collect()
        };
        let elsewhere: Vec<String> = around
            .people
            .iter()
            .filter(|person| !person.who.own && person.kept.is_none())
            .map(|person| person.who.name.clone())
            .collect();
        let comes = |person: &Person| form.checked("here", &person.who.athlete.to_string());
        let others_open = form.any()
            || around.people.iter().all(|person| !person.who.member)
            || around
                .people
                .iter()
                .any(|person| !person.who.member && comes(person));
        Self {
            frame: visit.frame(
                format!("{}, {}", details.name, day_label(around.on)),
                Nav::Classes,
            ),
            others_open,
            form,
            asked: Form::with([("on", around.on.to_string())]),
            class: around.class.id,
            name: details.name.to_string(),
            on: around.on.to_string(),
            when: format!(
                "{}, {}, {} minutes",
                day_label(around.on),
                hour(details.starts_at),
                details.minutes
            ),
            before: day(-7),
            after: day(1),
            told,
            since: around.since(),
            made: around
                .kept
                .as_ref()
                .map(|kept| format!("Made by {} on {}.", kept.made_by, instant(kept.made_at))),
            revision: around.kept.as_ref().map_or(0, |kept| kept.revision),
            members: rows(true),
            others: rows(false),
            on_other_rosters: (!elsewhere.is_empty()).then(|| list(elsewhere, "and")),
        }
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, class)): Path<(String, ClassId)>,
    Query(asked): Query<Asked>,
) -> Result<Page<ClassPlanPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let class = classes::get(&mut tx, class).await?;
    let next = class.day_from(visit.today);
    let (on, wrong) = match asked.on.as_deref().map(|text| days::day(text, visit.today)) {
        None => (next, None),
        Some(Ok(on)) => (on, None),
        Some(Err(sentence)) => (next, Some(sentence)),
    };
    let around = Around::load(&mut tx, &visit, class, on).await?;
    let mut page = ClassPlanPage::new(&visit, &around, around.first_form());
    if let Some(sentence) = wrong {
        let mut errors = FieldErrors::new();
        errors.add("on", sentence);
        page.asked = Form::wrong([("on", asked.on.unwrap_or_default())], errors);
    }
    Ok(Page(page))
}

pub(crate) async fn make(
    State(app): State<App>,
    visit: Visit,
    Path((_, class)): Path<(String, ClassId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let class = classes::get(&mut tx, class).await?;
    let mut errors = FieldErrors::new();
    let next = class.day_from(visit.today);
    let on = errors.read(&posted, "on", |text| days::day(text, visit.today));
    let around = Around::load(&mut tx, &visit, class, on.unwrap_or(next)).await?;
    let after = errors.read(&posted, "revision", whole).unwrap_or_default();
    let at_once = errors.read(&posted, "at_once", places);
    let coming = around.read(&posted, &mut errors);
    let at_once = match at_once {
        Some(at_once) if !errors.any() => at_once,
        _ => {
            let mut page = ClassPlanPage::new(&visit, &around, Form::again(&posted, errors));
            page.revision = i32::try_from(after).unwrap_or_default();
            return Ok(Page::unprocessable(page));
        }
    };
    let expected: Vec<Expected> = coming.iter().map(|one| one.expected.clone()).collect();
    let made = Made {
        at_once,
        plan: plan(&ClassDay {
            expected: &expected,
            rack: &around.rack(),
            at_once: NonZeroU16::new(at_once),
            last: &classes::last_time(&mut tx, around.class.id, around.on).await?,
        }),
        coming,
    };
    let after = i32::try_from(after).unwrap_or_default();
    classes::keep(&mut tx, around.class.id, around.on, after, &made, visit.now)
        .await
        .map_err(|error| match error {
            KeepError::MadeMeanwhile => PageError::Conflict(
                "Somebody made this plan anew while you looked at it. Nothing of yours was saved; open it again and look at theirs."
                    .to_owned(),
            ),
            KeepError::Store(error) => error.into(),
        })?;
    tx.commit().await?;
    Ok(see_other(&visit.to(&format!(
        "classes/{}/plan?on={}&done=class-planned",
        around.class.id, around.on
    ))))
}
