//! How the work went: density against the clock, set ladders, and the newest sessions.

use leverbook_domain::density::{DensityStanding, Slope};
use leverbook_domain::id::{LoadingId, MovementId};
use leverbook_domain::progress::{self, Point, Series};
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::rules::{self, Names, Rule};
use leverbook_domain::story::answers;
use leverbook_domain::text::capitalised;
use leverbook_domain::training::{Bout, Hands, Pain};
use leverbook_domain::units::Seconds;
use leverbook_store::flags::KeptFlag;
use leverbook_store::log::Logged;
use time::Date;

use super::{Book, happened};
use crate::chart::{self, Joined, Level, LineChart, Lines, Over, Reading, Table, Word, day_label};
use crate::evidence::ahead;
use crate::visit::Visit;

/// One movement and way of holding, against the clock or in straight sets.
pub(super) struct Work {
    /// What the coach asks of it.
    pub(super) question: String,
    pub(super) answer: String,
    pub(super) chart: LineChart,
    /// When the goal would be reached, and what is missing before a stall can be told, by rule.
    pub(super) ahead: Vec<(&'static str, String)>,
    /// Where each club stands.
    pub(super) clubs: Table,
    /// How the figures come about, by rule.
    pub(super) rules: &'static [(&'static str, &'static str)],
}

/// A kind of work over all its clubs.
#[derive(Clone, Copy, PartialEq)]
struct Kind {
    movement: MovementId,
    hands: Hands,
    seconds: Option<Seconds>,
}

const DENSITY_RULES: &[(&str, &str)] = &[
    (
        "T2",
        "density: 60 × reps ÷ seconds of work, both sides together",
    ),
    (
        "T3",
        "the goal: the block’s, else a multiple of the median of the first sessions",
    ),
    (
        "T5",
        "trend: the Theil–Sen line through the newest eight sessions with one club, and its 90 % interval",
    ),
];

const LADDER_RULES: &[(&str, &str)] = &[
    ("V1", "a set counts once both sides have done it"),
    ("V2", "reps stay, sets are added toward the block’s target"),
    ("V4", "after a step the ladder starts again"),
];

/// Every kind of work of these days, the one done last first.
pub(super) fn work(book: &Book) -> Vec<Work> {
    let series = progress::series(&book.history, book.window.today);
    let mut kinds: Vec<(Date, Kind)> = Vec::new();
    for one in &series {
        let Some(last) = one.points.last().filter(|last| book.window.holds(last.on)) else {
            continue;
        };
        let kind = Kind::of(one);
        match kinds.iter_mut().find(|(_, known)| *known == kind) {
            Some((day, _)) => *day = (*day).max(last.on),
            None => kinds.push((last.on, kind)),
        }
    }
    kinds.sort_by(|(one, _), (other, _)| other.cmp(one));
    kinds
        .iter()
        .enumerate()
        .filter_map(|(place, (_, kind))| {
            let of_kind: Vec<&Series> = series
                .iter()
                .filter(|one| Kind::of(one) == *kind)
                .filter(|one| one.points.iter().any(|point| book.window.holds(point.on)))
                .collect();
            kind.work(book, &of_kind, place)
        })
        .collect()
}

impl Kind {
    fn of(series: &Series) -> Self {
        Self {
            movement: series.key.movement,
            hands: series.key.hands,
            seconds: series.key.seconds,
        }
    }

    fn work(self, book: &Book, clubs: &[&Series], place: usize) -> Option<Work> {
        let newest = clubs
            .iter()
            .copied()
            .max_by_key(|one| one.points.last().map(|point| point.on))?;
        let last = newest.points.last()?;
        let lines: Vec<chart::Series> = clubs.iter().map(|one| self.line(book, one)).collect();
        let about = self.about(book);
        let answer = self.answer(book, clubs, newest);
        let chart = Lines {
            id: &format!("work-{place}"),
            description: self.gist(book, newest),
            title: self.title(&about),
            series: &lines,
            joined: match self.seconds {
                Some(_) => Joined::Straight,
                None => Joined::Steps,
            },
            goal: None,
            from_nought: self.seconds.is_none(),
        }
        .draw_with(&Over {
            until: happened::axis_end(book, last.on),
            levels: self.levels(book, clubs, newest),
            trends: clubs
                .iter()
                .filter_map(|one| self.trend(one, book))
                .collect(),
            words: self.begun(book, &lines),
            gaps: happened::gaps(book),
            lanes: happened::lanes(book, |kept| self.is_about(kept)),
            beside: Vec::new(),
        })?;
        Some(Work {
            question: match (self.seconds, self.hands) {
                (Some(_), _) => format!("{about}: is the count still climbing?"),
                (None, Hands::Fingertip) => {
                    format!("{about}: have there been enough sessions?")
                }
                (None, Hands::One | Hands::Two) => format!("{about}: does the ladder climb?"),
            },
            answer,
            chart,
            ahead: self.ahead(book, newest),
            clubs: self.table(book, clubs, about),
            rules: match self.seconds {
                Some(_) => DENSITY_RULES,
                None => LADDER_RULES,
            },
        })
    }

    /// Movement, hands, and the interval of work against the clock.
    fn about(self, book: &Book) -> String {
        let name = capitalised(book.names.movement(self.movement));
        let hands = hands_words(self.hands);
        match self.seconds {
            Some(seconds) => format!("{name}, {hands}, sets of {} s", seconds.get()),
            None => format!("{name}, {hands}"),
        }
    }

    fn title(self, about: &str) -> String {
        match self.seconds {
            Some(_) => format!("{about}: reps a minute by session, both sides together"),
            None => format!("{about}: sets on each side by session"),
        }
    }

    fn answer(self, book: &Book, clubs: &[&Series], newest: &Series) -> String {
        let policy = &book.policy;
        let answer = match (self.seconds, self.hands) {
            (Some(_), _) => self
                .standing(book, newest)
                .map(answers::is_the_count_climbing),
            (None, Hands::Fingertip) => {
                let sessions = clubs.iter().map(|one| one.points.len()).sum();
                Some(answers::have_there_been_enough_fingertip_sessions(
                    sessions, policy,
                ))
            }
            (None, Hands::One | Hands::Two) => {
                let target = progress::target(&book.history, newest.key, book.window.today);
                answers::is_the_ladder_climbing(&newest.points, target, policy)
            }
        };
        let club = book.names.club(newest.key.loading);
        answer.map_or_else(
            || self.gist(book, newest),
            |answer| format!("Last worked with {club}. {answer}"),
        )
    }

    /// What each club was to reach, for as long as it was worked; of the newest club with its figure.
    fn levels(self, book: &Book, clubs: &[&Series], newest: &Series) -> Vec<Level> {
        clubs
            .iter()
            .filter_map(|one| {
                let (first, last) = (one.points.first()?, one.points.last()?);
                let value = self.goal(book, one.key.loading, last.on)?;
                let is_newest = one.key == newest.key;
                let word = if self.seconds.is_some() {
                    "goal"
                } else {
                    "target"
                };
                Some(Level {
                    from: first.on,
                    until: if is_newest {
                        happened::axis_end(book, last.on).unwrap_or(last.on)
                    } else {
                        last.on
                    },
                    value,
                    label: if is_newest {
                        format!("{word} {}", self.number(value))
                    } else {
                        String::new()
                    },
                })
            })
            .collect()
    }

    /// Where each club was taken up.
    fn begun(self, book: &Book, lines: &[chart::Series]) -> Vec<Word> {
        let mut words: Vec<Word> = lines
            .iter()
            .filter_map(|line| {
                Some(Word {
                    day: line.readings.first()?.day,
                    label: line.name.clone(),
                    wide: false,
                    said: String::new(),
                })
            })
            .filter(|word| book.window.holds(word.day))
            .collect();
        words.sort_by_key(|word| word.day);
        words
    }

    /// Reps a minute to one decimal, sets as they are.
    fn number(self, value: f64) -> String {
        match self.seconds {
            Some(_) => format!("{value:.1}"),
            None => format!("{value:.0}"),
        }
    }

    fn value(self, bout: &Bout) -> Option<f64> {
        match self.seconds {
            Some(_) => bout.density().map(|density| density.rpm()),
            None => Some(f64::from(bout.sets_each_side())),
        }
    }

    fn goal(self, book: &Book, loading: LoadingId, on: Date) -> Option<f64> {
        match self.seconds {
            Some(seconds) => rules::goal_density(
                &book.history,
                &book.policy,
                (self.movement, self.hands, loading, seconds),
                on,
            ),
            None => {
                let key = progress::WorkKey {
                    movement: self.movement,
                    hands: self.hands,
                    loading,
                    seconds: None,
                };
                progress::target(&book.history, key, on).map(f64::from)
            }
        }
    }

    fn line(self, book: &Book, series: &Series) -> chart::Series {
        let readings = series
            .points
            .iter()
            .filter(|point| book.window.holds(point.on))
            .filter_map(|point| {
                let value = self.value(&point.bout)?;
                let said = match self.seconds {
                    Some(_) => self.number(value),
                    None => format!(
                        "{value:.0} × {}{}",
                        point.bout.reps,
                        if point.bout.missed_reps() {
                            ", reps missed"
                        } else {
                            ""
                        }
                    ),
                };
                Some(Reading {
                    day: point.on,
                    value,
                    said,
                })
            })
            .collect();
        chart::Series {
            name: book.names.club(series.key.loading).to_owned(),
            readings,
        }
    }

    fn trend(self, series: &Series, book: &Book) -> Option<chart::Trend> {
        let trend = self
            .seconds
            .and_then(|_| progress::trend(&book.policy, &series.points))?;
        (trend.from < trend.until && book.window.holds(trend.from)).then_some(chart::Trend {
            from: trend.from,
            until: trend.until,
            ends: trend.rpm,
            within: trend.within,
        })
    }

    /// Whether a flag is about this work.
    fn is_about(self, kept: &KeptFlag) -> bool {
        let (flag, subject) = (&kept.flag, &kept.flag.subject);
        !matches!(flag.rule, Rule::B1 | Rule::B2 | Rule::L3 | Rule::L4)
            && subject.movement == Some(self.movement)
            && subject.hands == Some(self.hands)
            && subject
                .seconds
                .is_none_or(|seconds| self.seconds.is_some_and(|own| own.get() == seconds))
    }

    fn gist(self, book: &Book, newest: &Series) -> String {
        let club = book.names.club(newest.key.loading);
        let last = newest.points.last();
        let value = last.and_then(|point| self.value(&point.bout));
        let (Some(last), Some(value)) = (last, value) else {
            return String::new();
        };
        let value = self.number(value);
        let goal = self
            .goal(book, newest.key.loading, last.on)
            .map_or_else(String::new, |goal| format!(", goal {}", self.number(goal)));
        let trend = progress::slope(&book.policy, &newest.points)
            .filter(|_| self.seconds.is_some())
            .map_or_else(String::new, |slope| {
                format!(" Trend {}.", slope_words(&slope))
            });
        format!(
            "{value} with {club} on {}{goal}.{trend}",
            day_label(last.on)
        )
    }

    /// What the count of the newest club leads to.
    fn ahead(self, book: &Book, newest: &Series) -> Vec<(&'static str, String)> {
        let standing = self.standing(book, newest);
        standing.map_or_else(Vec::new, |standing| ahead(standing, &book.names))
    }

    /// Where the count stands with a club.
    fn standing<'a>(self, book: &'a Book, series: &Series) -> Option<&'a DensityStanding> {
        book.densities.iter().find(|standing| {
            (standing.movement, standing.loading) == (self.movement, series.key.loading)
                && (self.hands, self.seconds) == (Hands::Two, Some(standing.seconds))
        })
    }

    fn table(self, book: &Book, clubs: &[&Series], caption: String) -> Table {
        let head = match self.seconds {
            Some(_) => [
                "Club",
                "Sessions",
                "Worked",
                "Last",
                "Best",
                "Goal",
                "Trend a week",
            ]
            .as_slice(),
            None => ["Club", "Sessions", "Worked", "Last", "Most sets", "Target"].as_slice(),
        };
        let rows = clubs.iter().rev().filter_map(|series| {
            let (first, last) = (series.points.first()?, series.points.last()?);
            let best = series
                .points
                .iter()
                .filter_map(|point| self.value(&point.bout))
                .max_by(f64::total_cmp)?;
            let goal = self.goal(book, series.key.loading, last.on);
            let mut row = vec![
                book.names.club(series.key.loading).to_owned(),
                series.points.len().to_string(),
                format!("{} to {}", day_label(first.on), day_label(last.on)),
                self.last(last)?,
                self.number(best),
                goal.map_or_else(|| "–".to_owned(), |goal| self.number(goal)),
            ];
            if self.seconds.is_some() {
                let slope = progress::slope(&book.policy, &series.points);
                row.push(slope.map_or_else(|| "–".to_owned(), |slope| slope_words(&slope)));
            }
            Some(row)
        });
        Table {
            rows: rows.collect(),
            caption,
            head: head.iter().map(|word| (*word).to_owned()).collect(),
        }
    }

    fn last(self, point: &Point) -> Option<String> {
        let value = self.number(self.value(&point.bout)?);
        Some(match self.seconds {
            Some(_) => value,
            None => format!("{value} sets of {}", point.bout.reps),
        })
    }
}

/// "+0.4 (+0.1 to +0.7)".
fn slope_words(slope: &Slope) -> String {
    let within = match (slope.low, slope.high) {
        (Some(low), Some(high)) => format!(" (90 % interval {low:+.2} to {high:+.2})"),
        _ => " (too few sessions for an interval)".to_owned(),
    };
    format!("{:+.2}{within}", slope.rpm_per_week)
}

/// One of the newest sessions.
pub(super) struct SessionLine {
    pub(super) href: String,
    pub(super) day: String,
    pub(super) work: Vec<String>,
    /// Effort, minutes, pain.
    pub(super) felt: String,
    pub(super) note: String,
}

/// The newest sessions with what the athlete wrote.
pub(super) fn newest(visit: &Visit, book: &Book) -> Vec<SessionLine> {
    book.newest
        .iter()
        .map(|logged| SessionLine {
            href: visit.to(&format!(
                "athletes/{}/log/{}",
                book.athlete.id, logged.session
            )),
            day: day_label(logged.done.on),
            work: book
                .history
                .sessions()
                .iter()
                .find(|session| session.id == logged.session)
                .map(|session| session.bouts())
                .unwrap_or_default()
                .iter()
                .map(|bout| bout_words(book, bout))
                .collect(),
            felt: felt(logged),
            note: logged.done.note.as_str().to_owned(),
        })
        .collect()
}

fn bout_words(book: &Book, bout: &Bout) -> String {
    let what = format!(
        "{}, {}, {}",
        capitalised(book.names.movement(bout.movement)),
        hands_words(bout.hands),
        book.names.club(bout.loading)
    );
    let sets = match bout.seconds {
        Some(seconds) => format!("{} × {} s", bout.sets_each_side(), seconds.get()),
        None => format!("{} × {}", bout.sets_each_side(), bout.reps),
    };
    let missed = if bout.seconds.is_none() && bout.missed_reps() {
        ", reps missed"
    } else {
        ""
    };
    format!(
        "{what}: {sets} a side, {} left, {} right{missed}",
        bout.left.reps, bout.right.reps
    )
}

fn felt(logged: &Logged) -> String {
    let done = &logged.done;
    let effort = done
        .effort
        .map(|effort| format!("effort {}", effort.rating()));
    let minutes = done.minutes.map(|minutes| format!("{} min", minutes.get()));
    let pain = done.pain.iter().map(pain_words);
    effort
        .into_iter()
        .chain(minutes)
        .chain(pain)
        .collect::<Vec<_>>()
        .join("; ")
}

/// "pain 3, left elbow".
pub(super) fn pain_words(pain: &Pain) -> String {
    match &pain.place {
        Some(place) => format!("pain {}, {}", pain.score.get(), place.as_str()),
        None => format!("pain {}", pain.score.get()),
    }
}
