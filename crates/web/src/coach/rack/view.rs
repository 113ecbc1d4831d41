//! The rack in the order of its static moments, with the steps between neighbours and what would
//! close those that are too wide (M5).

use std::collections::BTreeSet;

use leverbook_domain::club::care::{Out, OutOfUse};
use leverbook_domain::club::rack::{
    self as order, Closing, Gap, OwnedPlate, Sleeve, gaps, plate_loadings, sorted,
};
use leverbook_domain::club::{ClubMeasure, Mechanics, Plate, step_size};
use leverbook_domain::id::{AthleteId, ClubId, LoadingId};
use leverbook_domain::units::{Length, Measured, StaticMoment, UnitSystem};
use leverbook_store::care::{self, Inspectable};
use leverbook_store::rack::{self, Club, Loading};
use leverbook_store::{GymTx, StoreError};
use time::Date;

use super::figures::{Figures, Step};
use super::ladder::{self, Between, Ladder, Rung};
use super::standing::Standing;
use crate::chart::day_label;
use crate::club_picture::{ClubPicture, Scale};

/// Everything on the shelves, retired or not.
pub(super) struct Stock {
    pub(super) clubs: Vec<Club>,
    pub(super) loadings: Vec<Loading>,
    /// What cannot be picked up today.
    out: OutOfUse,
    /// The loadable clubs, and when each is to be inspected.
    inspectable: Vec<Inspectable>,
}

/// Who looks at the rack, and when.
#[derive(Debug, Clone, Copy)]
pub(super) struct SeenBy {
    /// Whose rack it is, where not the gym's alone.
    pub(super) whose: Option<AthleteId>,
    /// Whether the clubs of others are shown too.
    pub(super) with_others: bool,
    pub(super) today: Date,
    pub(super) units: UnitSystem,
}

impl Stock {
    pub(super) async fn load(tx: &mut GymTx, today: Date) -> Result<Self, StoreError> {
        Ok(Self {
            clubs: rack::clubs(tx).await?,
            loadings: rack::loadings(tx).await?,
            out: care::out_of_use(tx, today).await?,
            inspectable: care::inspectable(tx).await?,
        })
    }

    /// The scale on which every club is drawn that is there to be seen: by this athlete, or by
    /// somebody who sees those of others too.
    pub(super) fn scale(
        &self,
        whose: Option<AthleteId>,
        with_others: bool,
        units: UnitSystem,
    ) -> Scale {
        let seen = |loading: &&Loading| {
            loading.retired_at.is_none()
                && self.club(loading.club).is_some_and(|club| {
                    let owner = club.details.owner;
                    club.retired_at.is_none() && (with_others || owner.is_none() || owner == whose)
                })
        };
        let measures = self.loadings.iter().filter(seen);
        Scale::over(measures.map(|loading| &loading.measure), units)
    }

    fn club(&self, id: ClubId) -> Option<&Club> {
        self.clubs.iter().find(|club| club.id == id)
    }

    /// What can be picked up: by this athlete, or by anybody of the gym.
    fn usable(&self, whose: Option<AthleteId>) -> Vec<(&Club, &Loading)> {
        let mut kept = self.kept(whose);
        kept.retain(|(club, loading)| self.out.of(club.id, loading.id).is_none());
        kept
    }

    /// The same, and what is out of use for a while.
    fn kept(&self, whose: Option<AthleteId>) -> Vec<(&Club, &Loading)> {
        self.loadings
            .iter()
            .filter(|loading| loading.retired_at.is_none())
            .filter_map(|loading| Some((self.club(loading.club)?, loading)))
            .filter(|(club, _)| {
                let owner = club.details.owner;
                club.retired_at.is_none() && (owner.is_none() || owner == whose)
            })
            .collect()
    }

    /// What is out of use, each whole club once.
    fn out_of_use(&self, seen_by: SeenBy) -> Vec<CareLine> {
        let mut lines: Vec<CareLine> = Vec::new();
        for loading in self.loadings.iter().filter(|one| one.retired_at.is_none()) {
            let Some(club) = self.club(loading.club).filter(|club| seen_by.sees(club)) else {
                continue;
            };
            let (name, out) = match self.out.of_club(club.id) {
                Some(out) => (club.details.name.as_str(), Some(out)),
                None => (loading.name.as_str(), self.out.of(club.id, loading.id)),
            };
            let line = out.map(|out| CareLine {
                club: club.id,
                name: name.to_owned(),
                owner: club.owner_name.clone().unwrap_or_default(),
                words: out_words(out),
            });
            lines.extend(line.filter(|line| !lines.contains(line)));
        }
        lines
    }

    /// The loadable clubs whose inspection is overdue.
    fn overdue(&self, seen_by: SeenBy) -> Vec<CareLine> {
        self.inspectable
            .iter()
            .filter(|one| one.is_overdue(seen_by.today))
            .filter_map(|one| Some((one, self.club(one.club)?)))
            .filter(|(_, club)| seen_by.sees(club))
            .map(|(one, club)| CareLine {
                club: one.club,
                name: one.name.as_str().to_owned(),
                owner: club.owner_name.clone().unwrap_or_default(),
                words: overdue_words(one),
            })
            .collect()
    }
}

impl SeenBy {
    fn sees(self, club: &Club) -> bool {
        let owner = club.details.owner;
        club.retired_at.is_none() && (self.with_others || owner.is_none() || owner == self.whose)
    }
}

/// "since Tue 3 November: in repair".
pub(super) fn out_words(out: Out) -> String {
    format!("since {}: {}", day_label(out.since), out.why.words())
}

/// "was due by Tue 3 November; last inspected on Sun 4 October".
fn overdue_words(one: &Inspectable) -> String {
    let last = one.last.map_or_else(
        || "no inspection is in the book".to_owned(),
        |last| format!("last inspected on {}", day_label(last.on)),
    );
    format!("was due by {}; {last}", day_label(one.by))
}

/// A club and what is to be known about its care.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CareLine {
    pub(super) club: ClubId,
    pub(super) name: String,
    pub(super) owner: String,
    pub(super) words: String,
}

/// The rack as shown.
pub(super) struct RackView {
    /// The ladder of those with a static moment; `None` without any.
    pub(super) ladder: Option<Ladder>,
    /// Who stands at no rung of it.
    pub(super) elsewhere: Vec<String>,
    /// What is out of use for a while.
    pub(super) out: Vec<CareLine>,
    /// Loadable clubs whose inspection is overdue.
    pub(super) overdue: Vec<CareLine>,
    /// From the least static moment on.
    pub(super) by_moment: Vec<RackRow>,
    /// Those without a static moment, from the least mass on.
    pub(super) by_mass: Vec<RackRow>,
    /// Steps over the limit, and what closes each.
    pub(super) gaps: Vec<GapView>,
    /// Clubs of athletes, where they are not in the rack shown: by their names, then as above, each
    /// with its step within the gym's clubs and that athlete's own.
    pub(super) personal: Vec<RackRow>,
    /// Clubs that were taken out.
    pub(super) retired: Vec<ClubLink>,
    /// Whether anything in it has fasteners to inspect.
    pub(super) loadable: bool,
}

/// One loading.
pub(super) struct RackRow {
    pub(super) club: ClubId,
    pub(super) name: String,
    pub(super) count: u16,
    /// Whose it is, where it is not the gym's.
    pub(super) owner: Option<String>,
    pub(super) picture: ClubPicture,
    pub(super) figures: Figures,
    /// The mass without its ±, which the club's own page has; so the length and the balance point.
    pub(super) mass: String,
    pub(super) length: String,
    pub(super) balance: String,
    /// From the one before.
    pub(super) step: Option<Step>,
}

/// A step over the limit.
pub(super) struct GapView {
    pub(super) from: String,
    pub(super) to: String,
    pub(super) step: String,
    /// Loadings that the plates recorded make, or clubs to get.
    pub(super) closed_by: Vec<String>,
    /// Whether plates that are there already do it.
    pub(super) with_own_plates: bool,
}

/// A club elsewhere.
pub(super) struct ClubLink {
    pub(super) club: ClubId,
    pub(super) name: String,
    pub(super) owner: String,
}

/// A loading that is on the shelf, or one that plates would make.
#[derive(Debug, Clone, PartialEq)]
enum Key {
    Kept(LoadingId),
    Made(String),
}

/// Lays the rack out.
pub(super) fn laid_out(
    stock: &Stock,
    seen_by: SeenBy,
    standing: Option<&Standing>,
    limit_percent: f64,
) -> RackView {
    let SeenBy {
        whose,
        with_others,
        units,
        ..
    } = seen_by;
    let usable = stock.usable(whose);
    let order = sorted(usable.iter().map(|(_, loading)| placed(loading)).collect());
    let scale = stock.scale(whose, with_others, units);
    let shown =
        |loadings: &[order::Loading<Key>]| rows(&usable, loadings, scale, limit_percent, units);
    let by_mass = lightest_first(order.unplaced.clone());
    let made = made_from_plates(&usable, units);
    let wide = gaps(&order, &made, limit_percent / 100.0);
    let rungs: Vec<(&Club, &Loading)> = order
        .by_moment
        .iter()
        .filter_map(|placed| found(&usable, &placed.id))
        .collect();
    let on_ladder: Vec<LoadingId> = rungs.iter().map(|(_, loading)| loading.id).collect();
    RackView {
        ladder: ladder_of(&rungs, &wide, &made, standing, limit_percent, units),
        elsewhere: standing.map_or_else(Vec::new, |standing| {
            standing.elsewhere(&on_ladder, |id| {
                let mut all = stock.loadings.iter();
                all.find(|loading| loading.id == id)
                    .map_or_else(String::new, |loading| loading.name.to_string())
            })
        }),
        out: stock.out_of_use(seen_by),
        overdue: stock.overdue(seen_by),
        by_moment: shown(&order.by_moment),
        by_mass: shown(&by_mass),
        gaps: wide
            .iter()
            .map(|gap| gap_view(gap, &usable, units))
            .collect(),
        personal: if with_others {
            personal(stock, whose, scale, limit_percent, units)
        } else {
            Vec::new()
        },
        retired: links(stock, |club| with_others && club.retired_at.is_some()),
        loadable: usable.iter().any(|(club, _)| club.details.loadable),
    }
}

fn found<'a>(usable: &[(&'a Club, &'a Loading)], key: &Key) -> Option<(&'a Club, &'a Loading)> {
    let mut usable = usable.iter();
    usable
        .find(|(_, loading)| *key == Key::Kept(loading.id))
        .copied()
}

/// The ladder of loadings in order of moment.
fn ladder_of(
    rungs: &[(&Club, &Loading)],
    wide: &[Gap<Key>],
    made: &[order::Loading<Key>],
    standing: Option<&Standing>,
    limit_percent: f64,
    units: UnitSystem,
) -> Option<Ladder> {
    let one = StaticMoment::from_nm(1.0).map_or(1.0, |one| one.in_system(units));
    let moment = |mechanics: &Mechanics| {
        let known = mechanics.static_moment;
        known.map_or((0.0, 0.0), |known| {
            (known.value().nm() * one, known.plus_minus() * one)
        })
    };
    let missing = |gap: &Gap<Key>| match &gap.closed_by {
        Closing::Owned(keys) => keys
            .iter()
            .filter_map(|key| made.iter().find(|loading| loading.id == *key))
            .map(|loading| {
                let Key::Made(words) = &loading.id else {
                    return (moment(&loading.mechanics).0, String::new());
                };
                (moment(&loading.mechanics).0, words.clone())
            })
            .collect(),
        Closing::New(new) => new
            .iter()
            .map(|club| {
                let words = format!("about {}", units.format_mass(club.mass));
                (club.static_moment.nm() * one, words)
            })
            .collect::<Vec<_>>(),
    };
    let between: Vec<Between> = rungs
        .windows(2)
        .map(|pair| {
            let (from, to) = (pair[0].1, pair[1].1);
            let step = step_size(from.measure.mechanics(), to.measure.mechanics());
            let is_here =
                |gap: &&Gap<Key>| gap.from == Key::Kept(from.id) && gap.to == Key::Kept(to.id);
            Between {
                step: format!("{:+.0} %", step.fraction * 100.0),
                over: step.is_over(limit_percent / 100.0),
                missing: wide.iter().find(is_here).map_or_else(Vec::new, missing),
            }
        })
        .collect();
    let rungs: Vec<Rung> = rungs
        .iter()
        .map(|(club, loading)| {
            let (moment, plus_minus) = moment(loading.measure.mechanics());
            Rung {
                club: club.id,
                name: loading.name.to_string(),
                moment,
                plus_minus,
                people: standing.map_or_else(Vec::new, |standing| standing.at(loading.id)),
            }
        })
        .collect();
    ladder::drawn(&rungs, &between, standing.is_some(), units.moment_unit())
}

/// Rows for loadings in their order, each with the step from the one before.
fn rows(
    usable: &[(&Club, &Loading)],
    loadings: &[order::Loading<Key>],
    scale: Scale,
    limit_percent: f64,
    units: UnitSystem,
) -> Vec<RackRow> {
    let found: Vec<_> = loadings
        .iter()
        .filter_map(|placed| {
            usable
                .iter()
                .find(|(_, loading)| placed.id == Key::Kept(loading.id))
        })
        .collect();
    let before = std::iter::once(None).chain(found.iter().map(Some));
    found
        .iter()
        .zip(before)
        .map(|((club, loading), before)| {
            let to = loading.measure.mechanics();
            let step = before.map(|(_, before)| {
                let from = before.measure.mechanics();
                Step::of(
                    (before.name.as_str(), from),
                    (loading.name.as_str(), to),
                    step_size(from, to),
                    limit_percent,
                    units,
                )
            });
            let length = |known: Option<Measured<Length>>| {
                known.map_or_else(
                    || "unknown".to_owned(),
                    |known| units.format_length(known.value()),
                )
            };
            RackRow {
                club: club.id,
                name: loading.name.as_str().to_owned(),
                count: club.details.count,
                owner: club.owner_name.clone(),
                picture: scale.draw(loading.name.as_str(), &loading.measure),
                figures: Figures::of(&loading.measure, units),
                mass: units.format_mass(to.mass.value()),
                length: length(to.length),
                balance: length(to.balance),
                step,
            }
        })
        .collect()
}

/// The clubs of everybody but this athlete, each athlete's placed among the gym's.
fn personal(
    stock: &Stock,
    whose: Option<AthleteId>,
    scale: Scale,
    limit_percent: f64,
    units: UnitSystem,
) -> Vec<RackRow> {
    let owners: BTreeSet<(Option<&str>, AthleteId)> = stock
        .clubs
        .iter()
        .filter(|club| club.retired_at.is_none() && club.details.owner != whose)
        .filter_map(|club| Some((club.owner_name.as_deref(), club.details.owner?)))
        .collect();
    owners
        .into_iter()
        .flat_map(|(_, owner)| {
            let usable = stock.usable(Some(owner));
            let order = sorted(usable.iter().map(|(_, loading)| placed(loading)).collect());
            let by_mass = lightest_first(order.unplaced);
            [order.by_moment, by_mass]
                .map(|loadings| rows(&usable, &loadings, scale, limit_percent, units))
        })
        .flatten()
        .filter(|row| row.owner.is_some())
        .collect()
}

fn lightest_first(mut loadings: Vec<order::Loading<Key>>) -> Vec<order::Loading<Key>> {
    loadings.sort_by_key(|loading| loading.mechanics.mass.value());
    loadings
}

fn placed(loading: &Loading) -> order::Loading<Key> {
    order::Loading {
        id: Key::Kept(loading.id),
        mechanics: *loading.measure.mechanics(),
    }
}

fn links(stock: &Stock, wanted: impl Fn(&Club) -> bool) -> Vec<ClubLink> {
    stock
        .clubs
        .iter()
        .filter(|club| wanted(club))
        .map(|club| ClubLink {
            club: club.id,
            name: club.details.name.as_str().to_owned(),
            owner: club.owner_name.clone().unwrap_or_default(),
        })
        .collect()
}

fn gap_view(gap: &Gap<Key>, usable: &[(&Club, &Loading)], units: UnitSystem) -> GapView {
    let name = |key: &Key| match key {
        Key::Kept(id) => usable
            .iter()
            .find(|(_, loading)| loading.id == *id)
            .map_or_else(String::new, |(_, loading)| loading.name.as_str().to_owned()),
        Key::Made(words) => words.clone(),
    };
    let (closed_by, with_own_plates) = match &gap.closed_by {
        Closing::Owned(keys) => (keys.iter().map(name).collect(), true),
        Closing::New(new) => {
            let words = |club: &order::NewLoading| {
                format!(
                    "about {}, so that its static moment is near {}",
                    units.format_mass(club.mass),
                    units.format_moment(club.static_moment)
                )
            };
            (new.iter().map(words).collect(), false)
        }
    };
    GapView {
        from: name(&gap.from),
        to: name(&gap.to),
        step: format!(
            "{:+.0} %, {}",
            gap.step.fraction * 100.0,
            gap.step.basis.words()
        ),
        closed_by,
        with_own_plates,
    }
}

/// Every loading that the plates of a club, as recorded on its loadings, would make and that is not
/// on the shelf. A club whose plates make too many to weigh offers none.
fn made_from_plates(usable: &[(&Club, &Loading)], units: UnitSystem) -> Vec<order::Loading<Key>> {
    let mut made = Vec::new();
    let mut seen: Vec<ClubId> = Vec::new();
    for (club, _) in usable.iter().filter(|(club, _)| club.details.loadable) {
        if seen.contains(&club.id) {
            continue;
        }
        seen.push(club.id);
        let measures: Vec<&ClubMeasure> = usable
            .iter()
            .filter(|(other, _)| other.id == club.id)
            .map(|(_, loading)| &loading.measure)
            .collect();
        let Some((bare, sleeve, plates)) = sleeve_of(&measures) else {
            continue;
        };
        for measure in plate_loadings(&bare, sleeve, &plates).unwrap_or_default() {
            let on_shelf = measures
                .iter()
                .any(|kept| same_lever(kept.mechanics(), measure.mechanics()));
            if !on_shelf {
                let words = loaded_words(club, measure.plates(), units);
                made.push(order::Loading {
                    id: Key::Made(words),
                    mechanics: *measure.mechanics(),
                });
            }
        }
    }
    made
}

/// Whether two loadings ask the same of the hands.
fn same_lever(one: &Mechanics, other: &Mechanics) -> bool {
    let moment = |mechanics: &Mechanics| mechanics.static_moment.map(|moment| moment.value().nm());
    match (moment(one), moment(other)) {
        (Some(one), Some(other)) => (one - other).abs() < 1e-6,
        _ => false,
    }
}

/// The bare club, where its plates sit, and the plates there are: of each kind as many as ever went
/// on at once. The sleeve has room for the thickest stack recorded, and no more is assumed.
fn sleeve_of(measures: &[&ClubMeasure]) -> Option<(ClubMeasure, Sleeve, Vec<OwnedPlate>)> {
    let loaded = || {
        measures
            .iter()
            .filter(|measure| !measure.plates().is_empty())
    };
    let near = |plate: &Plate| plate.offset.m() - plate.thickness.m() / 2.0;
    let far = |plate: &Plate| plate.offset.m() + plate.thickness.m() / 2.0;
    let plates = || loaded().flat_map(|measure| measure.plates());
    let seat = plates().map(near).min_by(f64::total_cmp)?;
    let end = plates().map(far).max_by(f64::total_cmp)?;
    let mut owned: Vec<OwnedPlate> = Vec::new();
    for measure in loaded() {
        let on: Vec<OwnedPlate> = measure.plates().iter().map(owned_plate).collect();
        for plate in &on {
            let count = |list: &[OwnedPlate]| list.iter().filter(|other| *other == plate).count();
            let missing = count(&on).saturating_sub(count(&owned));
            owned.extend(std::iter::repeat_n(*plate, missing));
        }
    }
    let sleeve = Sleeve {
        seat: Length::from_m(seat.max(0.0)).ok()?,
        room: Length::from_m(end - seat).ok()?,
    };
    let bare = loaded().next()?.with_plates(Vec::new()).ok()?;
    Some((bare, sleeve, owned))
}

const fn owned_plate(plate: &Plate) -> OwnedPlate {
    OwnedPlate {
        mass: plate.mass,
        radius: plate.radius,
        bore_radius: plate.bore_radius,
        thickness: plate.thickness,
    }
}

/// "Loadable with 2 × 1.25 kg and 0.5 kg".
fn loaded_words(club: &Club, plates: &[Plate], units: UnitSystem) -> String {
    let masses: Vec<String> = plates
        .chunk_by(|one, other| one.mass == other.mass)
        .map(|alike| {
            let mass = units.format_mass(alike[0].mass);
            if alike.len() > 1 {
                format!("{} × {mass}", alike.len())
            } else {
                mass
            }
        })
        .collect();
    let name = club.details.name.as_str();
    match masses.as_slice() {
        [] => format!("{name} without plates"),
        masses => format!("{name} with {}", masses.join(" and ")),
    }
}
