//! M5: where the steps of a rack are too wide, and the fewest added loadings that close every gap.

use super::measure::{ClubMeasure, MeasureError};
use super::mechanics::Mechanics;
use super::shape::Plate;
use super::step::{StepSize, step_size};
use crate::units::{Length, Mass, STANDARD_GRAVITY, StaticMoment};

/// A loading under the name its rack knows it by: a row's id, a line of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Loading<Id> {
    /// Whose.
    pub id: Id,
    /// What it asks of the hands.
    pub mechanics: Mechanics,
}

/// A rack in the order of its static moments.
#[derive(Debug, Clone, PartialEq)]
pub struct Rack<Id> {
    /// Those with a static moment, from the least on.
    pub by_moment: Vec<Loading<Id>>,
    /// Those without one: they cannot be placed until the balance point and the grip are measured.
    pub unplaced: Vec<Loading<Id>>,
}

/// M5: two neighbours with too wide a step between them, and what closes it.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap<Id> {
    /// The neighbour below.
    pub from: Id,
    /// The neighbour above.
    pub to: Id,
    /// The step between them (M4).
    pub step: StepSize,
    /// The fewest loadings to add.
    pub closed_by: Closing<Id>,
}

/// What closes a gap.
#[derive(Debug, Clone, PartialEq)]
pub enum Closing<Id> {
    /// Loadings that the owned plates allow, from the least on.
    Owned(Vec<Id>),
    /// The owned plates cannot: clubs to make or buy, from the least on.
    New(Vec<NewLoading>),
}

/// A loading that would stand evenly between two neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewLoading {
    /// The static moment it should have.
    pub static_moment: StaticMoment,
    /// The mass that gives it, with its balance point as far from the grip as its neighbours have theirs (between
    /// the two, where they differ).
    pub mass: Mass,
}

/// A loading with its static moment in N·m.
struct Placed<'a, Id> {
    loading: &'a Loading<Id>,
    moment: f64,
}

fn placed<Id>(loading: &Loading<Id>) -> Option<Placed<'_, Id>> {
    let moment = loading.mechanics.static_moment?.value().nm();
    Some(Placed { loading, moment })
}

/// M5: sorts a rack by static moment.
#[must_use]
pub fn sorted<Id>(loadings: Vec<Loading<Id>>) -> Rack<Id> {
    let (mut by_moment, unplaced): (Vec<_>, Vec<_>) = loadings
        .into_iter()
        .partition(|loading| loading.mechanics.static_moment.is_some());
    by_moment.sort_by_key(|loading| loading.mechanics.static_moment.map(|moment| moment.value()));
    Rack {
        by_moment,
        unplaced,
    }
}

/// M5: the neighbouring pairs whose step is over the limit (0.33 for a third), each with the fewest loadings that close
/// it: from `candidates`, the loadings that could be made from owned plates (see [`plate_loadings`]), else of any mass.
///
/// A gap's closing loadings all lie between its two neighbours, so each gap is closed on its own, and the sum over
/// the gaps is the fewest for the rack. A limit under 1 % counts as 1 %.
#[must_use]
pub fn gaps<Id: Clone>(rack: &Rack<Id>, candidates: &[Loading<Id>], limit: f64) -> Vec<Gap<Id>> {
    let limit = limit.max(0.01);
    let mut candidates: Vec<_> = candidates.iter().filter_map(placed).collect();
    candidates.sort_by(|a, b| a.moment.total_cmp(&b.moment));
    let rack: Vec<_> = rack.by_moment.iter().filter_map(placed).collect();
    rack.windows(2)
        .filter_map(|pair| {
            let (from, to) = (&pair[0], &pair[1]);
            let step = step_size(&from.loading.mechanics, &to.loading.mechanics);
            step.is_over(limit).then(|| Gap {
                from: from.loading.id.clone(),
                to: to.loading.id.clone(),
                step,
                closed_by: owned_closing(from, to, &candidates, limit).map_or_else(
                    || Closing::New(new_closing(from, to, limit)),
                    Closing::Owned,
                ),
            })
        })
        .collect()
}

/// The fewest candidates between two loadings with no step over the limit: a shortest path, by breadth, over the
/// candidates in order of moment. `None` when there is no path.
fn owned_closing<Id: Clone>(
    from: &Placed<'_, Id>,
    to: &Placed<'_, Id>,
    candidates: &[Placed<'_, Id>],
    limit: f64,
) -> Option<Vec<Id>> {
    let between: Vec<_> = candidates
        .iter()
        .filter(|candidate| candidate.moment > from.moment && candidate.moment < to.moment)
        .chain([to])
        .collect();
    // For each stop the number of loadings up to it and the stop before it; `None` before it is `from`.
    let mut best: Vec<Option<(usize, Option<usize>)>> = vec![None; between.len()];
    for upper in 0..between.len() {
        let fits =
            |lower: &Mechanics| !step_size(lower, &between[upper].loading.mechanics).is_over(limit);
        let direct = fits(&from.loading.mechanics).then_some((1, None));
        let through = (0..upper).filter_map(|lower| {
            let (count, _) = best[lower]?;
            let rises = between[lower].moment < between[upper].moment;
            (rises && fits(&between[lower].loading.mechanics)).then_some((count + 1, Some(lower)))
        });
        best[upper] = direct
            .into_iter()
            .chain(through)
            .min_by_key(|(count, _)| *count);
    }
    let (_, mut stop) = *best.last()?.as_ref()?;
    let mut path = Vec::new();
    while let Some(index) = stop {
        path.push(between[index].loading.id.clone());
        stop = best[index].and_then(|(_, before)| before);
    }
    path.reverse();
    Some(path)
}

/// The fewest new loadings, evenly spaced as ratios: k of them split a ratio r into k + 1 equal steps of r^(1/(k+1)), and
/// the wider of the moment's and the inertia's ratios decides.
fn new_closing<Id>(from: &Placed<'_, Id>, to: &Placed<'_, Id>, limit: f64) -> Vec<NewLoading> {
    let (lower, upper) = (&from.loading.mechanics, &to.loading.mechanics);
    let ratio = 1.0 + step_size(lower, upper).fraction;
    let steps = (ratio.ln() / limit.ln_1p() - 1e-9).ceil();
    let arm = |placed: &Placed<'_, Id>| {
        placed.moment / (placed.loading.mechanics.mass.value().kg() * STANDARD_GRAVITY)
    };
    let (arm_from, arm_to) = (arm(from), arm(to));
    (1..)
        .map(f64::from)
        .take_while(|index| *index < steps)
        .filter_map(|index| {
            let between = |low: f64, high: f64| low * (high / low).powf(index / steps);
            let moment = between(from.moment, to.moment);
            let mass = moment / (STANDARD_GRAVITY * between(arm_from, arm_to));
            // Both lie between two allowed values, so neither is ever refused.
            Some(NewLoading {
                static_moment: StaticMoment::from_nm(moment).ok()?,
                mass: Mass::from_kg(mass).ok()?,
            })
        })
        .collect()
}

/// Where plates go on a plate-loaded club: side by side from the seat towards the far end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sleeve {
    /// From the knob end to the face that the first plate rests on.
    pub seat: Length,
    /// How much thickness of plates goes on, with the collar in its place.
    pub room: Length,
}

/// A plate in the cupboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OwnedPlate {
    /// Of one.
    pub mass: Mass,
    /// Outer radius.
    pub radius: Length,
    /// Radius of the hole.
    pub bore_radius: Length,
    /// Along the club.
    pub thickness: Length,
}

/// More ways of loading than anybody reads, or than the search for the fewest should be asked to weigh.
pub const MOST_PLATE_LOADINGS: usize = 1024;

/// Plates cannot be tried out on this club.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlateLoadingError {
    /// The owned plates make more than [`MOST_PLATE_LOADINGS`] different loadings.
    #[error("these plates make more than {MOST_PLATE_LOADINGS} loadings; list fewer of them")]
    TooMany,
    /// A plate does not fit this club.
    #[error(transparent)]
    Measure(#[from] MeasureError),
}

/// Every different loading of a bare plate-loaded club from the owned plates, the bare club first. Plates go on
/// heaviest first, from the seat out; plates that are alike count as one choice; what is longer than the sleeve's room
/// is left out.
///
/// # Errors
/// [`PlateLoadingError`] when there are too many loadings to weigh, or a plate is impossible on this club.
pub fn plate_loadings(
    bare: &ClubMeasure,
    sleeve: Sleeve,
    owned: &[OwnedPlate],
) -> Result<Vec<ClubMeasure>, PlateLoadingError> {
    let mut owned = owned.to_vec();
    owned.sort_by_key(|plate| {
        std::cmp::Reverse((plate.mass, plate.radius, plate.bore_radius, plate.thickness))
    });
    let mut choices: Vec<Vec<OwnedPlate>> = vec![Vec::new()];
    for alike in owned.chunk_by(|a, b| a == b) {
        let mut grown = Vec::new();
        for choice in &choices {
            let used: f64 = choice.iter().map(|plate| plate.thickness.m()).sum();
            for count in 0..=alike.len() {
                let added: f64 = alike[..count].iter().map(|plate| plate.thickness.m()).sum();
                if used + added > sleeve.room.m() + 1e-9 {
                    break;
                }
                grown.push([choice.as_slice(), &alike[..count]].concat());
            }
            if grown.len() > MOST_PLATE_LOADINGS {
                return Err(PlateLoadingError::TooMany);
            }
        }
        choices = grown;
    }
    choices
        .iter()
        .map(|choice| load(bare, sleeve, choice))
        .collect()
}

/// The bare club with these plates on its sleeve, the first at the seat.
fn load(
    bare: &ClubMeasure,
    sleeve: Sleeve,
    plates: &[OwnedPlate],
) -> Result<ClubMeasure, PlateLoadingError> {
    let mut face = sleeve.seat.m();
    let mut loaded = Vec::with_capacity(plates.len());
    for (index, plate) in plates.iter().enumerate() {
        let offset =
            Length::from_m(face + plate.thickness.m() / 2.0).map_err(|refused| MeasureError {
                field: format!("plates[{index}].offset_mm"),
                refusal: refused.into(),
            })?;
        loaded.push(Plate {
            mass: plate.mass,
            offset,
            radius: plate.radius,
            bore_radius: plate.bore_radius,
            thickness: plate.thickness,
        });
        face += plate.thickness.m();
    }
    Ok(bare.with_plates(loaded)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Inertia, Measured};

    fn measure(mass: f64, balance: f64) -> ClubMeasure {
        serde_json::from_str(&format!(
            r#"{{"mass_kg":{mass},"length_mm":900,"balance_mm":{balance},"grip_mm":50}}"#
        ))
        .unwrap()
    }

    /// Clubs that all balance 400 mm from the grip: the moment goes as the mass.
    fn loadings(masses: &[f64]) -> Vec<Loading<u32>> {
        let loading = |mass: &f64| Loading {
            id: (mass * 1000.0).round() as u32,
            mechanics: *measure(*mass, 450.0).mechanics(),
        };
        masses.iter().map(loading).collect()
    }

    #[test]
    fn a_rack_is_sorted_by_moment_not_by_mass() {
        let short_heavy = Loading {
            id: "short",
            mechanics: *measure(10.0, 250.0).mechanics(),
        };
        let long_light = Loading {
            id: "long",
            mechanics: *measure(6.0, 650.0).mechanics(),
        };
        let unknown: ClubMeasure =
            serde_json::from_str(r#"{"mass_kg":8,"length_mm":600}"#).unwrap();
        let unknown = Loading {
            id: "unknown",
            mechanics: *unknown.mechanics(),
        };
        let rack = sorted(vec![long_light, unknown, short_heavy]);
        let order: Vec<_> = rack.by_moment.iter().map(|loading| loading.id).collect();
        assert_eq!(order, ["short", "long"]);
        assert_eq!(rack.unplaced[0].id, "unknown");
    }

    // By hand: 4 → 5 → 9 kg with a limit of a third. 5 → 9 is 80 %; one club between needs both ratios at √1.8 = 1.342,
    // over 4/3; two need 1.8^(1/3) = 1.216.
    #[test]
    fn new_loadings_stand_evenly_and_are_the_fewest() {
        let rack = sorted(loadings(&[9.0, 4.0, 5.0]));
        let found = gaps(&rack, &[], 1.0 / 3.0);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].from, found[0].to), (5000, 9000));
        assert!((found[0].step.fraction - 0.8).abs() < 1e-12);
        let Closing::New(new) = &found[0].closed_by else {
            panic!("no plates are owned")
        };
        let masses: Vec<f64> = new.iter().map(|loading| loading.mass.kg()).collect();
        assert_eq!(masses.len(), 2);
        assert!(
            (masses[0] - 5.0 * 1.8f64.powf(1.0 / 3.0)).abs() < 1e-9,
            "{masses:?}"
        );
        assert!(
            (masses[1] - 5.0 * 1.8f64.powf(2.0 / 3.0)).abs() < 1e-9,
            "{masses:?}"
        );
        let moment = new[0].static_moment.nm();
        assert!((moment - masses[0] * STANDARD_GRAVITY * 0.4).abs() < 1e-9);
    }

    #[test]
    fn a_step_of_exactly_the_limit_is_no_gap() {
        let rack = sorted(loadings(&[4.0, 5.0, 6.25]));
        assert_eq!(gaps(&rack, &[], 0.25), Vec::new());
        assert_eq!(gaps(&rack, &[], 0.249).len(), 2);
        // 4 → 6.25 is two steps of exactly a quarter.
        let found = gaps(&sorted(loadings(&[4.0, 6.25])), &[], 0.25);
        assert!(matches!(&found[0].closed_by, Closing::New(new) if new.len() == 1));
    }

    #[test]
    fn strange_limits_end_all_the_same() {
        let rack = sorted(loadings(&[1.0, 90.0]));
        for limit in [f64::NAN, -1.0, 0.0, 1e-12] {
            let found = gaps(&rack, &[], limit);
            // ln 90 / ln 1.01 = 452.2 steps of 1 %.
            assert!(matches!(&found[0].closed_by, Closing::New(new) if new.len() == 452));
        }
        assert_eq!(gaps(&rack, &[], f64::INFINITY), Vec::new());
        assert_eq!(gaps::<u32>(&sorted(Vec::new()), &[], 0.33), Vec::new());
    }

    /// The fewest candidates that leave no step over the limit, by trying every subset: slow and plain.
    fn fewest_by_trying(
        rack: &[Loading<u32>],
        candidates: &[Loading<u32>],
        limit: f64,
    ) -> Option<u32> {
        (0u32..1 << candidates.len())
            .filter(|subset| {
                let chosen = (0..candidates.len())
                    .filter(|index| subset >> index & 1 == 1)
                    .map(|i| candidates[i].clone());
                let whole = sorted(rack.iter().cloned().chain(chosen).collect());
                gaps(&whole, &[], limit).is_empty()
            })
            .map(u32::count_ones)
            .min()
    }

    #[test]
    fn owned_plates_close_with_the_fewest_as_trying_every_subset_finds() {
        // Racks and candidates from a fixed sequence; balance points differ so that order by mass is not order by moment.
        let mut state = 7u64;
        let mut draw = |low: f64, high: f64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            low + (high - low) * f64::from((state >> 40) as u32) / f64::from(1u32 << 24)
        };
        let (mut closed, mut open, mut some, mut inertia_decides) = (0, 0, 0, 0);
        for _ in 0..60 {
            let mut id = 0;
            let mut draw_loadings = |count: usize, draw: &mut dyn FnMut(f64, f64) -> f64| {
                (0..count)
                    .map(|_| {
                        id += 1;
                        // Some with an inertia, from a swing test; some without.
                        let (mass, balance) = (draw(3.0, 14.0), draw(350.0, 600.0));
                        let gyration = draw(0.05, 0.2);
                        let arm: f64 = balance / 1000.0;
                        let period = std::f64::consts::TAU
                            * ((gyration * gyration + arm * arm) / (STANDARD_GRAVITY * arm)).sqrt();
                        let text = if id % 3 == 0 {
                            format!(r#"{{"mass_kg":{mass},"length_mm":900,"balance_mm":{balance},"grip_mm":50}}"#)
                        } else {
                            format!(
                                r#"{{"mass_kg":{mass},"length_mm":900,"balance_mm":{balance},"grip_mm":50,"period_s":{period},"pivot_mm":0}}"#
                            )
                        };
                        let club: ClubMeasure = serde_json::from_str(&text).unwrap();
                        Loading { id, mechanics: *club.mechanics() }
                    })
                    .collect::<Vec<_>>()
            };
            let rack = draw_loadings(3, &mut draw);
            let candidates = draw_loadings(8, &mut draw);
            let whole = sorted(rack.clone());
            let found = gaps(&whole, &candidates, 0.4);
            let mechanics = |id: u32| {
                let all = rack.iter().chain(&candidates);
                let one = all.clone().find(|loading| loading.id == id);
                one.unwrap().clone()
            };
            for gap in &found {
                let pair = [mechanics(gap.from), mechanics(gap.to)];
                let by_inertia = step_size(
                    &Mechanics {
                        inertia_grip: None,
                        ..pair[0].mechanics
                    },
                    &pair[1].mechanics,
                );
                inertia_decides += u32::from(gap.step.fraction > by_inertia.fraction + 1e-9);
                let expected = fewest_by_trying(&pair, &candidates, 0.4);
                let Closing::Owned(ids) = &gap.closed_by else {
                    assert_eq!(expected, None, "{gap:?}");
                    continue;
                };
                assert_eq!(Some(ids.len() as u32), expected, "{gap:?}");
                // And they do close it, in the order in which they are given.
                let path = ids.iter().copied().chain([gap.to]);
                let mut at = gap.from;
                for next in path {
                    let step = step_size(&mechanics(at).mechanics, &mechanics(next).mechanics);
                    assert!(!step.is_over(0.4), "{at} {next} {step:?}");
                    at = next;
                }
            }
            let by_owned = found
                .iter()
                .filter(|gap| matches!(gap.closed_by, Closing::Owned(_)))
                .count();
            match (by_owned, found.len()) {
                (_, 0) => {}
                (owned, all) if owned == all => closed += 1,
                (0, _) => open += 1,
                _ => some += 1,
            }
        }
        // The sequence holds every kind, so that no answer is tested on nothing: all gaps closed, none, some, and steps
        // that the inertia decides.
        assert!(closed >= 8, "{closed} closed");
        assert!(open >= 5, "{open} open");
        assert!(some >= 5, "{some} closed in part");
        assert!(inertia_decides >= 8, "{inertia_decides} by inertia");
    }

    /// A loading of any moment and inertia, as if measured.
    fn of(moment: f64, inertia: Option<f64>) -> Mechanics {
        let club: ClubMeasure =
            serde_json::from_str(r#"{"mass_kg":5,"length_mm":900,"balance_mm":450,"grip_mm":50}"#)
                .unwrap();
        let exact = |value| Measured::new(value, 0.0).unwrap();
        Mechanics {
            static_moment: Some(exact(StaticMoment::from_nm(moment).unwrap())),
            inertia_grip: inertia
                .map(|inertia| Measured::new(Inertia::from_kgm2(inertia).unwrap(), 0.0).unwrap()),
            ..*club.mechanics()
        }
    }

    /// The fewest loadings between two that leave no step over the limit, by trying a fine grid of moments, and of
    /// inertias where both ends have one: what can be reached in one more step, again and again.
    fn fewest_on_a_grid(from: &Mechanics, to: &Mechanics, limit: f64) -> usize {
        const FINE: usize = 24;
        let between =
            |low: f64, high: f64, at: usize| low * (high / low).powf(at as f64 / FINE as f64);
        let moment = |it: &Mechanics| it.static_moment.unwrap().value().nm();
        let inertia = |it: &Mechanics| it.inertia_grip.map(|inertia| inertia.value().kgm2());
        let ends = inertia(from).zip(inertia(to));
        let inertias = if ends.is_some() { FINE } else { 0 };
        let grid: Vec<Vec<Mechanics>> = (0..=FINE)
            .map(|at| {
                (0..=inertias)
                    .map(|along| {
                        of(
                            between(moment(from), moment(to), at),
                            ends.map(|(low, high)| between(low, high, along)),
                        )
                    })
                    .collect()
            })
            .collect();
        let mut reached = vec![vec![false; inertias + 1]; FINE + 1];
        reached[0][0] = true;
        for steps in 1.. {
            let before = reached.clone();
            for (at, row) in reached.iter_mut().enumerate() {
                for (along, cell) in row.iter_mut().enumerate() {
                    *cell |= before.iter().enumerate().any(|(lower, marks)| {
                        marks.iter().enumerate().any(|(under, mark)| {
                            *mark
                                && !step_size(&grid[lower][under], &grid[at][along])
                                    .is_over(limit + 1e-9)
                        })
                    });
                }
            }
            if reached[FINE][inertias] {
                return steps - 1;
            }
        }
        unreachable!("every step over 1 % leads on")
    }

    // Of any mass: 24 grid steps of equal ratio between the ends, so that two, three, four, six, eight or twelve equal
    // steps are on it and brute force can do no worse than the closed form.
    #[test]
    fn new_loadings_are_as_few_as_trying_a_fine_grid_finds() {
        let (mut counts, mut inertia_decides) = (std::collections::BTreeSet::new(), 0);
        for (ratio, inertia_ratio) in [
            (1.3, None),
            (1.36, None),
            (1.7, None),
            (1.8, None),
            (2.3, None),
            (2.45, None),
            (3.0, None),
            (1.5, Some(1.2)),
            (1.1, Some(1.7)),
            (1.2, Some(2.3)),
            (1.9, Some(3.0)),
            (1.4, Some(0.8)),
        ] {
            let from = of(20.0, inertia_ratio.map(|_| 0.8));
            let to = of(20.0 * ratio, inertia_ratio.map(|ratio| 0.8 * ratio));
            let loadings = [(1u32, from), (2, to)].map(|(id, mechanics)| Loading { id, mechanics });
            let found = gaps(&sorted(loadings.to_vec()), &[], 0.33);
            let expected = fewest_on_a_grid(&from, &to, 0.33);
            let Some(gap) = found.first() else {
                assert_eq!(expected, 0, "{ratio} {inertia_ratio:?}");
                continue;
            };
            let Closing::New(new) = &gap.closed_by else {
                panic!("no plates are owned")
            };
            assert_eq!(new.len(), expected, "{ratio} {inertia_ratio:?}");
            counts.insert(new.len());
            inertia_decides += u32::from(inertia_ratio.is_some_and(|inertia| inertia > ratio));
            // With them in the rack no step of moment is over the limit.
            let moments = new.iter().map(|loading| loading.static_moment.nm());
            let mut at = 20.0;
            for moment in moments.chain([20.0 * ratio]) {
                assert!(moment / at <= 1.33 + 1e-9, "{at} {moment}");
                at = moment;
            }
        }
        assert_eq!(counts.into_iter().collect::<Vec<_>>(), [1, 2, 3]);
        assert!(inertia_decides >= 3);
    }

    #[test]
    fn plates_go_on_heaviest_first_and_alike_ones_count_once() {
        let bare = measure(4.0, 400.0);
        let mm = |value: f64| Length::from_mm(value).unwrap();
        let plate = |mass: f64, thickness: f64| OwnedPlate {
            mass: Mass::from_kg(mass).unwrap(),
            radius: mm(90.0),
            bore_radius: mm(15.0),
            thickness: mm(thickness),
        };
        let owned = [
            plate(1.25, 15.0),
            plate(2.5, 20.0),
            plate(2.5, 20.0),
            plate(5.0, 30.0),
        ];
        let roomy = Sleeve {
            seat: mm(700.0),
            room: mm(100.0),
        };
        // Two ways for the 1.25, three for the pair of 2.5, two for the 5: all fit in 85 mm.
        let all = plate_loadings(&bare, roomy, &owned).unwrap();
        assert_eq!(all.len(), 12);
        assert!(all[0].plates().is_empty());
        let fullest = all.iter().max_by_key(|club| club.plates().len()).unwrap();
        let offsets: Vec<f64> = fullest
            .plates()
            .iter()
            .map(|plate| plate.offset.mm().round())
            .collect();
        assert_eq!(offsets, [715.0, 740.0, 760.0, 778.0]);
        // In 40 mm go nothing, one 1.25, one or two 2.5, 1.25 and 2.5, the 5: what is longer is left out.
        let tight = Sleeve {
            seat: mm(700.0),
            room: mm(40.0),
        };
        assert_eq!(plate_loadings(&bare, tight, &owned).unwrap().len(), 6);

        let many: Vec<_> = (1..=11).map(|n| plate(f64::from(n) / 4.0, 1.0)).collect();
        assert_eq!(
            plate_loadings(&bare, roomy, &many),
            Err(PlateLoadingError::TooMany)
        );
        let most = plate_loadings(&bare, roomy, &many[..10]).unwrap();
        assert_eq!(most.len(), MOST_PLATE_LOADINGS);
        let past_the_end = Sleeve {
            seat: mm(2990.0),
            room: mm(100.0),
        };
        assert!(matches!(
            plate_loadings(&bare, past_the_end, &owned),
            Err(PlateLoadingError::Measure(_))
        ));
    }
}
