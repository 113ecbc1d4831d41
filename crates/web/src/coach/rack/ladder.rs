//! The rack as a ladder, to scale: each loading a rung at its static moment with its ±, the steps between
//! neighbours, what would close the wide ones, and who stands where.
//!
//! Down, everything is in pixels; across too, so that letters keep their size on a phone. A rung is
//! where its moment is; labels that would touch are moved apart, and a line leads to each.

use leverbook_domain::id::ClubId;

use crate::chart::Table;

/// Room over the ladder, px: two lines of names.
const ABOVE: f64 = 56.0;

/// Room under it, px.
const BELOW: f64 = 20.0;

/// Least height of the scale, px.
const SHORTEST: f64 = 280.0;

/// From the middle of one label to the next, px: more than a line of text is high.
const APART: f64 = 22.0;

/// Most labels on the scale.
const TICKS: f64 = 8.0;

/// Letters that fit a label beside the ladder, on a phone of 360 px.
const LABEL: usize = 26;

/// Letters of a name where its moment stands behind it.
const NAME: usize = 19;

/// Letters that fit a line of names, on the same phone.
const LINE: usize = 42;

/// Loadings to add in one gap that are each drawn; of more, only the number is told.
const DRAWN: usize = 3;

/// A loading in its place.
pub(super) struct Rung {
    pub(super) club: ClubId,
    pub(super) name: String,
    /// Static moment and its ±, in the unit shown.
    pub(super) moment: f64,
    pub(super) plus_minus: f64,
    /// Who stands here.
    pub(super) people: Vec<String>,
}

/// What lies between a rung and the next one up.
pub(super) struct Between {
    /// "+25 %".
    pub(super) step: String,
    /// Over the gym's limit.
    pub(super) over: bool,
    /// What would close it: the static moment, and what to add.
    pub(super) missing: Vec<(f64, String)>,
}

/// The ladder, ready for `coach/ladder.html`. All places are px.
pub(super) struct Ladder {
    pub(super) height: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    pub(super) unit: &'static str,
    pub(super) about: String,
    pub(super) ticks: Vec<Tick>,
    pub(super) rungs: Vec<RungDrawn>,
    pub(super) steps: Vec<StepDrawn>,
    pub(super) missing: Vec<MissingDrawn>,
    pub(super) with_people: bool,
    pub(super) table: Table,
}

pub(super) struct Tick {
    pub(super) y: f64,
    pub(super) label: String,
}

pub(super) struct RungDrawn {
    pub(super) club: ClubId,
    pub(super) y: f64,
    /// The ends of the whisker.
    pub(super) most: f64,
    pub(super) least: f64,
    pub(super) label_y: f64,
    pub(super) label: String,
    pub(super) moment: String,
    pub(super) people: usize,
    /// "3 at Iron 12: …", for a screen reader.
    pub(super) said: String,
    /// The same, in lines over the ladder.
    pub(super) lines: Vec<(f64, String)>,
}

pub(super) struct StepDrawn {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) label_y: f64,
    pub(super) label: String,
    pub(super) over: bool,
}

pub(super) struct MissingDrawn {
    pub(super) y: f64,
    pub(super) label_y: f64,
    pub(super) label: String,
}

/// What a label is of.
#[derive(Clone, Copy)]
enum Of {
    Rung(usize),
    Step(usize),
    Missing(usize, usize),
}

/// Draws a ladder of rungs in order of moment, with what lies between each and the next. Nothing where
/// there is no rung.
pub(super) fn drawn(
    rungs: &[Rung],
    between: &[Between],
    with_people: bool,
    unit: &'static str,
) -> Option<Ladder> {
    let (first, last) = (rungs.first()?, rungs.last()?);
    let (low, high, every) = scale(
        first.moment - first.plus_minus,
        last.moment + last.plus_minus,
    );
    let labels = rungs.len() + between.len() + missing_labels(between);
    let tall = SHORTEST.max(labels.saturating_sub(1) as f64 * APART);
    let (top, bottom) = (ABOVE, ABOVE + tall);
    let y = |moment: f64| round(bottom - (moment - low) / (high - low) * tall);

    let mut wanted: Vec<(f64, Of)> = Vec::with_capacity(labels);
    wanted.extend(
        (0..)
            .zip(rungs)
            .map(|(at, rung)| (y(rung.moment), Of::Rung(at))),
    );
    for (at, (pair, between)) in rungs.windows(2).zip(between).enumerate() {
        let middle = f64::midpoint(y(pair[0].moment), y(pair[1].moment));
        wanted.push((middle, Of::Step(at)));
        wanted.extend(
            labelled(between)
                .iter()
                .enumerate()
                .map(|(nth, (moment, _))| (y(*moment), Of::Missing(at, nth))),
        );
    }
    wanted.sort_by(|a, b| a.0.total_cmp(&b.0).then(order(b.1).cmp(&order(a.1))));
    let places: Vec<f64> = wanted.iter().map(|(y, _)| *y).collect();
    let placed = spread(&places, APART, top, bottom);

    let mut ladder = Ladder {
        height: bottom + BELOW,
        top,
        bottom,
        unit,
        about: about(rungs, between, unit),
        ticks: ticks(low, high, every)
            .map(|(moment, label)| Tick {
                y: y(moment),
                label,
            })
            .collect(),
        rungs: Vec::with_capacity(rungs.len()),
        steps: Vec::with_capacity(between.len()),
        missing: Vec::new(),
        with_people,
        table: table(rungs, unit),
    };
    for ((_, of), label_y) in wanted.iter().zip(placed) {
        let label_y = round(label_y);
        match *of {
            Of::Rung(at) => {
                let rung = &rungs[at];
                let said = said(rung);
                ladder.rungs.push(RungDrawn {
                    club: rung.club,
                    y: y(rung.moment),
                    most: y(rung.moment + rung.plus_minus),
                    least: y(rung.moment - rung.plus_minus),
                    label_y,
                    label: cut(&rung.name, NAME),
                    moment: format!("{:.1}", rung.moment),
                    people: rung.people.len(),
                    lines: lines(&said),
                    said,
                });
            }
            Of::Step(at) => ladder.steps.push(StepDrawn {
                from: y(rungs[at].moment),
                to: y(rungs[at + 1].moment),
                label_y,
                label: between[at].step.clone(),
                over: between[at].over,
            }),
            Of::Missing(at, nth) => {
                let found = labelled(&between[at]);
                ladder.missing.push(MissingDrawn {
                    y: y(found[nth].0),
                    label_y,
                    label: cut(&found[nth].1, LABEL),
                });
            }
        }
    }
    Some(ladder)
}

/// Of labels at one place: the rung under the step under what is missing, as on the ladder.
const fn order(of: Of) -> (usize, usize, usize) {
    match of {
        Of::Rung(at) => (at, 0, 0),
        Of::Step(at) => (at, 1, 0),
        Of::Missing(at, nth) => (at, 2, nth),
    }
}

fn missing_labels(between: &[Between]) -> usize {
    between.iter().map(|between| labelled(between).len()).sum()
}

/// What is told of the loadings that would close a gap: each, or of many their number, in the middle.
fn labelled(between: &Between) -> Vec<(f64, String)> {
    let many = between.missing.len();
    if many <= DRAWN {
        let add = |(moment, words): &(f64, String)| (*moment, format!("add {words}"));
        return between.missing.iter().map(add).collect();
    }
    vec![(between.missing[many / 2].0, format!("add {many} loadings"))]
}

/// The ends of a scale over these moments, and the distance of its ticks: 1, 2 or 5 times a power of ten.
fn scale(least: f64, most: f64) -> (f64, f64, f64) {
    let width = (most - least).max(0.1 * most).max(0.1);
    let rough = width / TICKS;
    let power = 10f64.powf(rough.log10().floor());
    let every = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|times| times * power)
        .find(|every| *every >= rough)
        .unwrap_or(10.0 * power);
    let low = (least / every).floor().max(0.0) * every;
    let high = ((most / every).ceil() * every).max(low + every);
    (low, high, every)
}

fn ticks(low: f64, high: f64, every: f64) -> impl Iterator<Item = (f64, String)> {
    let decimals = if every < 1.0 { 1 } else { 0 };
    let count = ((high - low) / every).round() as u32;
    (0..=count).map(move |nth| {
        let at = low + f64::from(nth) * every;
        (at, format!("{at:.decimals$}"))
    })
}

/// Moves labels as little as possible (least squares) so that each is `apart` from the next and all lie
/// from `first` to `last`, where they fit: isotonic regression by pooling neighbours. `wanted` is in
/// order.
fn spread(wanted: &[f64], apart: f64, first: f64, last: f64) -> Vec<f64> {
    let offset = |index: usize| index as f64 * apart;
    // Each pool: the sum of its places and how many they are.
    let mut pools: Vec<(f64, usize)> = Vec::with_capacity(wanted.len());
    for (index, place) in wanted.iter().enumerate() {
        let mut pool = (place - offset(index), 1);
        while let Some(before) = pools.pop() {
            let mean = |pool: (f64, usize)| pool.0 / pool.1 as f64;
            if mean(before) <= mean(pool) {
                pools.push(before);
                break;
            }
            pool = (before.0 + pool.0, before.1 + pool.1);
        }
        pools.push(pool);
    }
    let most = (last - offset(wanted.len().saturating_sub(1))).max(first);
    pools
        .into_iter()
        .flat_map(|(sum, count)| {
            std::iter::repeat_n((sum / count as f64).clamp(first, most), count)
        })
        .enumerate()
        .map(|(index, place)| place + offset(index))
        .collect()
}

/// The gist, for somebody who cannot see it.
fn about(rungs: &[Rung], between: &[Between], unit: &str) -> String {
    let wide = between.iter().filter(|between| between.over).count();
    let wide = match wide {
        0 => "no step over the limit".to_owned(),
        1 => "1 step over the limit".to_owned(),
        wide => format!("{wide} steps over the limit"),
    };
    match rungs {
        [only] => format!("{} alone, at {:.1} {unit}.", only.name, only.moment),
        [first, .., last] => format!(
            "{} loadings from {} at {:.1} to {} at {:.1} {unit}; {wide}.",
            rungs.len(),
            first.name,
            first.moment,
            last.name,
            last.moment
        ),
        [] => String::new(),
    }
}

fn said(rung: &Rung) -> String {
    let many = rung.people.len();
    format!("{many} at {}: {}", rung.name, rung.people.join(", "))
}

/// Who stands where, from the heaviest lever down as drawn.
fn table(rungs: &[Rung], unit: &str) -> Table {
    Table {
        caption: "Who stands where".to_owned(),
        head: vec![
            "Club".to_owned(),
            format!("Static moment, {unit}"),
            "Athletes".to_owned(),
        ],
        rows: rungs
            .iter()
            .rev()
            .map(|rung| {
                let people = if rung.people.is_empty() {
                    "nobody".to_owned()
                } else {
                    rung.people.join(", ")
                };
                vec![rung.name.clone(), format!("{:.1}", rung.moment), people]
            })
            .collect(),
    }
}

/// How wide a letter is, as half-width letters: those of most scripts are one, those that East Asian
/// scripts and emoji use are two.
const fn letters(c: char) -> usize {
    match c {
        '\u{1100}'..='\u{11ff}' | '\u{2e80}'..='\u{d7ff}' | '\u{f900}'..='\u{faff}' => 2,
        '\u{fe30}'..='\u{fe6f}' | '\u{ff00}'..='\u{ffef}' | '\u{10000}'.. => 2,
        'M' | 'W' | '@' | '%' | 'm' | 'w' => 2,
        _ => 1,
    }
}

/// The text, cut so that it fits so many letters; the table behind has the whole.
fn cut(text: &str, most: usize) -> String {
    let wide = |text: &str| text.chars().map(letters).sum::<usize>();
    if wide(text) <= most {
        return text.to_owned();
    }
    let mut kept = String::new();
    let mut used = 1;
    for c in text.chars() {
        used += letters(c);
        if used > most {
            break;
        }
        kept.push(c);
    }
    format!("{}…", kept.trim_end())
}

/// A sentence in the two lines over the ladder, each with its place.
fn lines(text: &str) -> Vec<(f64, String)> {
    const PLACES: [f64; 2] = [14.0, 32.0];
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let full = lines.len() == PLACES.len();
        let line = lines.last_mut().expect("a line");
        let wide: usize = line.chars().chain(word.chars()).map(letters).sum();
        if line.is_empty() || full || wide < LINE {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        } else {
            lines.push(word.to_owned());
        }
    }
    PLACES
        .into_iter()
        .zip(lines)
        .map(|(y, line)| (y, cut(&line, LINE)))
        .collect()
}

fn round(px: f64) -> f64 {
    (px * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;

    fn rung(name: &str, moment: f64, people: &[&str]) -> Rung {
        Rung {
            club: ClubId(Uuid::from_u128(1)),
            name: name.to_owned(),
            moment,
            plus_minus: 0.5,
            people: people.iter().map(|name| (*name).to_owned()).collect(),
        }
    }

    fn step(step: &str, over: bool, missing: &[(f64, &str)]) -> Between {
        Between {
            step: step.to_owned(),
            over,
            missing: missing
                .iter()
                .map(|(moment, words)| (*moment, (*words).to_owned()))
                .collect(),
        }
    }

    fn labels(ladder: &Ladder) -> Vec<f64> {
        let mut all: Vec<f64> = ladder
            .rungs
            .iter()
            .map(|rung| rung.label_y)
            .chain(ladder.steps.iter().map(|step| step.label_y))
            .chain(ladder.missing.iter().map(|missing| missing.label_y))
            .collect();
        all.sort_by(f64::total_cmp);
        all
    }

    // By hand: distances on a linear scale are in the ratio of the differences of moment: 10 to 20 is half of
    // 20 to 40.
    #[test]
    fn rungs_stand_to_scale_and_heavier_is_higher() {
        let rungs = [
            rung("A", 10.0, &[]),
            rung("B", 20.0, &[]),
            rung("C", 40.0, &[]),
        ];
        let between = [
            step("+100 %", true, &[(14.0, "a club")]),
            step("+100 %", true, &[]),
        ];
        let ladder = drawn(&rungs, &between, false, "N·m").expect("rungs");
        let y: Vec<f64> = ["A", "B", "C"]
            .map(|name| {
                ladder
                    .rungs
                    .iter()
                    .find(|rung| rung.label == name)
                    .expect(name)
                    .y
            })
            .to_vec();
        assert!(y[0] > y[1] && y[1] > y[2], "{y:?}");
        assert!(((y[1] - y[2]) / (y[0] - y[1]) - 2.0).abs() < 0.01, "{y:?}");
        // The ± is on the same scale: ± 0.5 is a twentieth of 10.
        let first = ladder
            .rungs
            .iter()
            .find(|rung| rung.label == "A")
            .expect("A");
        assert!(((first.least - first.most) / (y[0] - y[1]) - 0.1).abs() < 0.01);
        // So is what is missing, and so are the ticks.
        assert!(((y[0] - ladder.missing[0].y) / (y[0] - y[1]) - 0.4).abs() < 0.01);
        for tick in &ladder.ticks {
            let moment: f64 = tick.label.parse().expect("a number");
            let expected = y[0] - (moment - 10.0) * (y[0] - y[1]) / 10.0;
            assert!((tick.y - expected).abs() < 0.2, "{}", tick.label);
        }
        assert!(ladder.about.contains("2 steps over the limit"));
        assert_eq!(ladder.table.rows[0], ["C", "40.0", "nobody"]);
    }

    #[test]
    fn many_that_are_missing_are_told_by_their_number() {
        let rungs = [rung("A", 10.0, &[]), rung("B", 20.0, &[])];
        let few: Vec<(f64, &str)> = (1..=4).map(|nth| (10.0 + f64::from(nth), "one")).collect();
        let ladder = drawn(&rungs, &[step("+100 %", true, &few)], false, "N·m").expect("rungs");
        assert_eq!(ladder.missing.len(), 1);
        assert_eq!(ladder.missing[0].label, "add 4 loadings");
        assert!(drawn(&[], &[], false, "N·m").is_none());
        assert!(drawn(&rungs[..1], &[], false, "N·m").is_some());
    }

    #[test]
    fn names_are_cut_to_what_fits_and_told_whole_besides() {
        assert_eq!(cut("Iron 12", NAME), "Iron 12");
        assert_eq!(
            cut("A very long story of a club", NAME),
            "A very long story…"
        );
        assert_eq!(cut("棍棒棍棒棍棒棍棒棍棒棍棒", NAME), "棍棒棍棒棍棒棍棒棍…");
        let crowd = rung("Iron 12", 10.0, &["Anneliese Quarrylane"; 9]);
        let told = lines(&said(&crowd));
        assert_eq!(told.len(), 2);
        assert!(told[1].1.ends_with('…'));
        assert!(said(&crowd).starts_with("9 at Iron 12: Anneliese"));
    }

    #[test]
    fn labels_that_do_not_touch_stay_where_they_belong() {
        assert_eq!(
            spread(&[10.0, 50.0, 90.0], 20.0, 0.0, 100.0),
            [10.0, 50.0, 90.0]
        );
        // Two at one place part by the same amount.
        assert_eq!(spread(&[50.0, 50.0], 20.0, 0.0, 100.0), [40.0, 60.0]);
        assert_eq!(spread(&[95.0, 99.0], 20.0, 0.0, 100.0), [80.0, 100.0]);
        assert_eq!(spread(&[], 20.0, 0.0, 100.0), Vec::<f64>::new());
    }

    /// Racks of every size: evenly spread, all in a heap, two heaps, each twice as heavy as the last.
    #[test]
    fn labels_never_overlap_and_stay_on_the_ladder() {
        let spacings: [fn(f64) -> f64; 4] = [
            |nth| 10.0 + nth,
            |nth| 50.0 + nth / 1000.0,
            |nth| if nth < 8.0 { 5.0 } else { 250.0 },
            |nth| 0.5 * 1.3f64.powf(nth),
        ];
        for count in 1..40_u32 {
            for spacing in spacings {
                for missing in 0..6 {
                    let rungs: Vec<Rung> = (0..count)
                        .map(|nth| rung("A club", spacing(f64::from(nth)), &["Ida"]))
                        .collect();
                    let between: Vec<Between> = rungs
                        .windows(2)
                        .map(|pair| {
                            let middle = f64::midpoint(pair[0].moment, pair[1].moment);
                            step("+9 %", missing > 0, &vec![(middle, "a club"); missing])
                        })
                        .collect();
                    let ladder = drawn(&rungs, &between, true, "N·m").expect("rungs");
                    let labels = labels(&ladder);
                    let at = format!("{count} rungs, {missing} missing: {labels:?}");
                    let touching = |pair: &[f64]| pair[1] - pair[0] < APART - 0.11;
                    assert!(!labels.windows(2).any(touching), "{at}");
                    assert!(labels[0] >= ladder.top - 0.1, "{at}");
                    assert!(labels[labels.len() - 1] <= ladder.bottom + 0.1, "{at}");
                    for rung in &ladder.rungs {
                        let on_ladder = (ladder.top..=ladder.bottom).contains(&rung.y);
                        assert!(on_ladder, "{at}");
                    }
                }
            }
        }
    }
}
