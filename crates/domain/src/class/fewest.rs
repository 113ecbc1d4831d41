//! The fewest rotations, and what asks for them.
//!
//! With *w* rotations, a club of which there are *k* is swung at most *k·w* times. If every work can be
//! given one of its clubs within that, nobody has more than *w* works, and the room takes all works
//! in *w* rotations, then a plan with *w* rotations exists: works are the lines between athletes and
//! single clubs, no end has more than *w* lines, and such lines can be coloured with *w* colours
//! (König 1916), in colours of equal size (de Werra 1971); a colour is a rotation. So the fewest
//! rotations are the most that athletes, room or clubs ask for. Whether the clubs can be shared out
//! is a flow; where it is not, the smallest cut names the clubs that are short (Hall 1935).

use std::collections::{BTreeMap, BTreeSet};

use pathfinding::directed::edmonds_karp::{SparseCapacity, edmonds_karp};

use super::{AsLoaded, Bound, ClassDay, OneMore};
use crate::id::{AthleteId, ClubId};

/// One work that can be done, with the clubs that will do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Wanted {
    /// Who, by the place in [`ClassDay::expected`].
    pub(super) at: usize,
    pub(super) athlete: AthleteId,
    /// Never empty.
    pub(super) any_of: Vec<AsLoaded>,
}

/// All works of a class that can be done, and the clubs for them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Works {
    pub(super) wanted: Vec<Wanted>,
    /// How many there are of each club that is wanted.
    pub(super) count: BTreeMap<ClubId, u32>,
    /// How many the room takes at once; never 0.
    pub(super) at_once: usize,
    /// The clubs of the gym, of which there could be one more.
    of_gym: BTreeSet<ClubId>,
}

/// Works that have no other clubs to go to than these.
struct Tight {
    clubs: BTreeSet<ClubId>,
    /// By the place in [`Works::wanted`].
    works: Vec<usize>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Node {
    All,
    /// Works that may go to the same clubs.
    Alike(usize),
    Club(ClubId),
    Done,
}

impl Works {
    /// The works of a day, and who has work that there is no club for.
    pub(super) fn of(day: &ClassDay<'_>) -> (Self, Vec<AthleteId>) {
        let (mut wanted, mut without) = (Vec::new(), Vec::new());
        for (at, expected) in day.expected.iter().enumerate() {
            let athlete = expected.athlete;
            let may_hold = |with: &&AsLoaded| {
                day.rack.iter().any(|club| {
                    club.club == with.club
                        && club.count > 0
                        && club.owner.is_none_or(|owner| owner == athlete)
                })
            };
            for work in &expected.works {
                let any_of: Vec<AsLoaded> = work.any_of.iter().filter(may_hold).copied().collect();
                if !any_of.is_empty() {
                    wanted.push(Wanted {
                        at,
                        athlete,
                        any_of,
                    });
                } else if !without.contains(&athlete) {
                    without.push(athlete);
                }
            }
        }
        let clubs: BTreeSet<ClubId> = wanted.iter().flat_map(Wanted::clubs).collect();
        let rack = || day.rack.iter().filter(|club| clubs.contains(&club.club));
        let works = Self {
            count: rack()
                .map(|club| (club.club, u32::from(club.count)))
                .collect(),
            of_gym: rack()
                .filter(|club| club.owner.is_none())
                .map(|club| club.club)
                .collect(),
            at_once: day
                .at_once
                .map_or(usize::MAX, |at_once| usize::from(at_once.get())),
            wanted,
        };
        (works, without)
    }

    pub(super) fn is_of(&self, athlete: AthleteId) -> bool {
        self.wanted.iter().any(|work| work.athlete == athlete)
    }

    /// How many works each athlete has.
    fn works_of(&self) -> BTreeMap<AthleteId, usize> {
        let mut works = BTreeMap::new();
        for work in &self.wanted {
            *works.entry(work.athlete).or_default() += 1;
        }
        works
    }

    /// The fewest rotations; 0 for no work at all.
    pub(super) fn fewest(&self) -> usize {
        let one_after_another = self.works_of().into_values().max().unwrap_or(0);
        let room = self.wanted.len().div_ceil(self.at_once);
        let mut rotations = one_after_another.max(room);
        loop {
            let short = self.short_in(rotations);
            let Some(more) = short.iter().map(|tight| self.asks_for(tight)).max() else {
                return rotations;
            };
            rotations = more;
        }
    }

    /// How many rotations works need that have no other clubs to go to.
    fn asks_for(&self, tight: &Tight) -> usize {
        tight.works.len().div_ceil(self.there_are(tight) as usize)
    }

    fn there_are(&self, tight: &Tight) -> u32 {
        tight.clubs.iter().map(|club| self.count[club]).sum()
    }

    /// The clubs that are too few for so many rotations, those among which people choose together.
    /// Empty where they are enough.
    fn short_in(&self, rotations: usize) -> Vec<Tight> {
        let mut alike: BTreeMap<BTreeSet<ClubId>, Vec<usize>> = BTreeMap::new();
        for (at, work) in self.wanted.iter().enumerate() {
            alike.entry(work.clubs().collect()).or_default().push(at);
        }
        let alike: Vec<(BTreeSet<ClubId>, Vec<usize>)> = alike.into_iter().collect();
        let all = i64::try_from(self.wanted.len()).unwrap_or(i64::MAX);
        let size = |works: &Vec<usize>| i64::try_from(works.len()).unwrap_or(i64::MAX);
        let mut pipes = Vec::new();
        for (number, (clubs, works)) in alike.iter().enumerate() {
            pipes.push(((Node::All, Node::Alike(number)), size(works)));
            // More than all of the works: such a line is never cut.
            let uncut = |club: &ClubId| ((Node::Alike(number), Node::Club(*club)), all + 1);
            pipes.extend(clubs.iter().map(uncut));
        }
        for (club, count) in &self.count {
            let swings = i64::try_from(rotations).unwrap_or(all) * i64::from(*count);
            pipes.push(((Node::Club(*club), Node::Done), swings));
        }
        let mut nodes: Vec<Node> = pipes.iter().flat_map(|((a, b), _)| [*a, *b]).collect();
        nodes.extend([Node::All, Node::Done]);
        nodes.sort_unstable();
        nodes.dedup();
        let (_, done, cut) =
            edmonds_karp::<_, _, _, SparseCapacity<_>>(&nodes, &Node::All, &Node::Done, pipes);
        if done == all {
            return Vec::new();
        }
        let served: BTreeSet<usize> = cut
            .iter()
            .filter_map(|((_, to), _)| match to {
                Node::Alike(number) => Some(*number),
                _ => None,
            })
            .collect();
        let mut tight: Vec<Tight> = Vec::new();
        for (number, (clubs, works)) in alike.into_iter().enumerate() {
            if served.contains(&number) {
                continue;
            }
            let mut one = Tight { clubs, works };
            let (touching, apart): (Vec<Tight>, Vec<Tight>) = tight
                .into_iter()
                .partition(|other| !other.clubs.is_disjoint(&one.clubs));
            for other in touching {
                one.clubs.extend(other.clubs);
                one.works.extend(other.works);
            }
            tight = apart;
            tight.push(one);
        }
        tight
    }

    /// Everything that alone asks for so many rotations, which are the fewest.
    pub(super) fn why(&self, rotations: usize) -> Vec<Bound> {
        if rotations < 2 {
            return Vec::new();
        }
        let mut why: Vec<Bound> = self
            .short_in(rotations - 1)
            .into_iter()
            .map(|mut tight| {
                tight.works.sort_unstable();
                let mut wanted_by: Vec<AthleteId> = tight
                    .works
                    .iter()
                    .map(|at| self.wanted[*at].athlete)
                    .collect();
                wanted_by.dedup();
                Bound::Short {
                    there_are: self.there_are(&tight),
                    swings: tight.works.len(),
                    clubs: tight.clubs.into_iter().collect(),
                    wanted_by,
                }
            })
            .collect();
        if self.wanted.len().div_ceil(self.at_once) == rotations {
            why.push(Bound::Room {
                swings: self.wanted.len(),
                at_once: u16::try_from(self.at_once).unwrap_or(u16::MAX),
            });
        }
        let most = self.works_of();
        why.extend(
            most.into_iter()
                .filter(|(_, works)| *works == rotations)
                .map(|(athlete, works)| Bound::OneAfterAnother { athlete, works }),
        );
        why
    }

    /// One more of each club of the gym is tried.
    pub(super) fn one_more(&self, rotations: usize) -> Option<OneMore> {
        let mut best: Option<OneMore> = None;
        for club in &self.of_gym {
            let mut with = self.clone();
            *with.count.get_mut(club)? += 1;
            let then = with.fewest();
            match &mut best {
                Some(best) if best.rotations == then => best.clubs.push(*club),
                Some(best) if best.rotations < then => {}
                _ if then < rotations => {
                    best = Some(OneMore {
                        clubs: vec![*club],
                        rotations: then,
                    });
                }
                _ => {}
            }
        }
        best
    }
}

impl Wanted {
    fn clubs(&self) -> impl Iterator<Item = ClubId> {
        self.any_of.iter().map(|with| with.club)
    }
}
