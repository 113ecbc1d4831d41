//! Who holds which club in which rotation, once it is known how many rotations there are.
//!
//! Works among several clubs are given one each, the club of last time first. Then one rotation
//! after another is taken off: a matching of athletes and clubs that leaves no more to do than the
//! rotations after it can hold. König's theorem says that there is one each time; among all such
//! the one is taken that keeps most of last time's places. Both are assignments of greatest worth
//! (Kuhn 1955, Munkres 1957).

use std::collections::BTreeMap;

use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;

use super::fewest::{Wanted, Works};
use super::{AsLoaded, ClassDay, Swing};
use crate::id::{AthleteId, ClubId};

/// Never: worth less than anything that could be won with it.
const NEVER: i64 = -1_000_000_000_000;
/// What has to be in this rotation.
const MUST: i64 = 1_000_000_000;
/// The coach holds them to be first.
const HELD_FIRST: i64 = 1_000_000;
/// Their place of last time has gone by: whoever was earlier stays earlier.
const OVERDUE: i64 = 2_000;
/// The place of last time.
const AS_LAST_TIME: i64 = 1_000;

/// A work with its club.
#[derive(Debug, Clone, Copy)]
struct Line {
    at: usize,
    swing: Swing,
    /// The rotation of last time, from 0.
    place: Option<usize>,
    /// Which of the athlete's works it is.
    number: usize,
}

/// The rotations, first to last.
pub(super) fn order(works: &Works, rotations: usize, day: &ClassDay<'_>) -> Vec<Vec<Swing>> {
    let mut lines = with_places(works, &shared_out(works, rotations, day), day);
    let mut held: Vec<AthleteId> = day
        .expected
        .iter()
        .filter(|one| one.first)
        .map(|one| one.athlete)
        .collect();
    let mut ordered = Vec::with_capacity(rotations);
    for rotation in 0..rotations {
        let mut taken = Rotation {
            number: rotation,
            after: rotations - 1 - rotation,
            works,
            held: &held,
        }
        .take(&lines);
        taken.sort_unstable();
        let swings: Vec<Swing> = taken.iter().map(|line| lines[*line].swing).collect();
        for line in taken.into_iter().rev() {
            lines.remove(line);
        }
        held.retain(|athlete| swings.iter().all(|swing| swing.athlete != *athlete));
        ordered.push(swings);
    }
    ordered
}

/// One club for each work, within what the rotations allow.
fn shared_out(works: &Works, rotations: usize, day: &ClassDay<'_>) -> Vec<AsLoaded> {
    let choosing: Vec<&Wanted> = works
        .wanted
        .iter()
        .filter(|work| work.any_of.len() > 1)
        .collect();
    let mut free: BTreeMap<ClubId, usize> = works
        .count
        .iter()
        .map(|(club, count)| (*club, *count as usize * rotations))
        .collect();
    for work in works.wanted.iter().filter(|work| work.any_of.len() == 1) {
        if let Some(free) = free.get_mut(&work.any_of[0].club) {
            *free -= 1;
        }
    }
    let mut slots = Vec::new();
    for (club, free) in free {
        let wants = |work: &&&Wanted| work.any_of.iter().any(|with| with.club == club);
        let useful = free.min(choosing.iter().filter(wants).count());
        slots.extend(std::iter::repeat_n(club, useful));
    }
    let last = |athlete: AthleteId, club: ClubId| {
        let same = |swing: &Swing| swing.athlete == athlete && swing.with.club == club;
        day.last.iter().flatten().any(same)
    };
    let worth = |work: &Wanted, club: ClubId| {
        let at = work.any_of.iter().position(|with| with.club == club);
        at.map_or(NEVER, |at| {
            let as_last_time = if last(work.athlete, club) {
                AS_LAST_TIME
            } else {
                0
            };
            as_last_time - i64::try_from(at).unwrap_or(AS_LAST_TIME)
        })
    };
    let mut given = if choosing.is_empty() {
        Vec::new()
    } else {
        let rows = choosing
            .iter()
            .map(|work| slots.iter().map(|club| worth(work, *club)).collect());
        assigned(rows.collect())
            .into_iter()
            .map(|slot| slots[slot])
            .collect()
    }
    .into_iter();
    works
        .wanted
        .iter()
        .map(|work| {
            let club = if work.any_of.len() > 1 {
                given.next()
            } else {
                None
            };
            let chosen = |with: &&AsLoaded| Some(with.club) == club;
            *work.any_of.iter().find(chosen).unwrap_or(&work.any_of[0])
        })
        .collect()
}

/// Gives each work the place that its athlete had last time: the place of the same club, else one
/// that no club of today was swung in.
fn with_places(works: &Works, clubs: &[AsLoaded], day: &ClassDay<'_>) -> Vec<Line> {
    let mut places: BTreeMap<AthleteId, Vec<(usize, ClubId)>> = BTreeMap::new();
    for (rotation, swings) in day.last.iter().enumerate() {
        for swing in swings {
            places
                .entry(swing.athlete)
                .or_default()
                .push((rotation, swing.with.club));
        }
    }
    let mut numbers: BTreeMap<AthleteId, usize> = BTreeMap::new();
    let mut lines: Vec<Line> = works
        .wanted
        .iter()
        .zip(clubs)
        .map(|(work, with)| {
            let number = numbers.entry(work.athlete).or_default();
            *number += 1;
            Line {
                at: work.at,
                swing: Swing {
                    athlete: work.athlete,
                    with: *with,
                },
                place: None,
                number: *number,
            }
        })
        .collect();
    for same_club in [true, false] {
        for line in lines.iter_mut().filter(|line| line.place.is_none()) {
            let Some(left) = places.get_mut(&line.swing.athlete) else {
                continue;
            };
            let fits = |(_, club): &(usize, ClubId)| !same_club || *club == line.swing.with.club;
            if let Some(at) = left.iter().position(fits) {
                line.place = Some(left.remove(at).0);
            }
        }
    }
    lines
}

/// One rotation that is being taken off.
struct Rotation<'a> {
    number: usize,
    /// How many come after it.
    after: usize,
    works: &'a Works,
    held: &'a [AthleteId],
}

impl Rotation<'_> {
    /// Which of the lines left are in this rotation.
    fn take(&self, lines: &[Line]) -> Vec<usize> {
        let mut of_athlete: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut of_club: BTreeMap<ClubId, usize> = BTreeMap::new();
        for (number, line) in lines.iter().enumerate() {
            of_athlete.entry(line.at).or_default().push(number);
            *of_club.entry(line.swing.with.club).or_default() += 1;
        }
        if of_athlete.is_empty() {
            return Vec::new();
        }
        // A place to swing: which club, and whether it must be in use, or the rest cannot be done.
        let mut places: Vec<(Option<ClubId>, bool)> = Vec::new();
        for (club, load) in &of_club {
            let count = self.works.count[club] as usize;
            let must = load.saturating_sub(self.after * count);
            places.extend((0..count.min(*load)).map(|copy| (Some(*club), copy < must)));
        }
        // A place to sit out: so many must because of the room, so many may because of the rest.
        let people = of_athlete.len();
        let must_sit = people.saturating_sub(self.works.at_once);
        let must_swing = lines
            .len()
            .saturating_sub(self.after.saturating_mul(self.works.at_once));
        let may_sit = people.saturating_sub(must_swing);
        places.extend((0..may_sit).map(|place| (None, place < must_sit)));

        let people: Vec<&Vec<usize>> = of_athlete.values().collect();
        let best = |own: &[usize], club: ClubId| {
            own.iter()
                .filter(|line| lines[**line].swing.with.club == club)
                .map(|line| (self.worth(&lines[*line]), *line))
                .max_by_key(|(worth, line)| (*worth, std::cmp::Reverse(*line)))
        };
        let rows = people.iter().map(|own| {
            let worth = |(club, must): &(Option<ClubId>, bool)| {
                let here = match club {
                    Some(club) => best(own, *club).map_or(NEVER, |(worth, _)| worth),
                    None if own.len() > self.after => NEVER,
                    None => 0,
                };
                here + if *must { MUST } else { 0 }
            };
            places.iter().map(worth).collect()
        });
        let chosen = assigned(rows.collect());
        people
            .iter()
            .zip(chosen)
            .filter_map(|(own, place)| best(own, places[place].0?).map(|(_, line)| line))
            .collect()
    }

    /// How much it is worth to have this in this rotation.
    fn worth(&self, line: &Line) -> i64 {
        let place = match line.place {
            Some(place) if place == self.number => AS_LAST_TIME,
            Some(place) if place < self.number => OVERDUE,
            Some(place) => -10 - i64::try_from(place).unwrap_or(0),
            None => 10 - i64::try_from(line.number.min(9)).unwrap_or(0),
        };
        let held = self.held.contains(&line.swing.athlete);
        place + if held { HELD_FIRST } else { 0 }
    }
}

/// The column of each row in an assignment of greatest worth. There are at least as many columns.
fn assigned(rows: Vec<Vec<i64>>) -> Vec<usize> {
    match Matrix::from_rows(rows) {
        Ok(worth) => kuhn_munkres(&worth).1,
        Err(_) => Vec::new(),
    }
}
