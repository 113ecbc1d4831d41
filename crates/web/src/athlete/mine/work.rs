//! The work in use now: the count of each session on both sides, or the ladder of sets.

use leverbook_domain::density::Slope;
use leverbook_domain::policy::Policy;
use leverbook_domain::progress::{self, Point, Series, WorkKey};
use leverbook_domain::rules::words::{hands_words, trend_for_athlete};
use leverbook_domain::rules::{self, Names};
use leverbook_domain::text::capitalised;
use leverbook_domain::training::{Bout, History, Side, SideWork};
use leverbook_domain::units::{Seconds, UnitSystem, reps_a_set};
use time::Date;

use crate::athlete::catalogue::Catalogue;
use crate::chart::{self, Joined, LineChart, Lines, Reading, Table, day_label};
use crate::club_picture::ClubPicture;

/// The sessions drawn, the newest: a screen shows no more as marks of their own.
const DRAWN: usize = 40;

/// One movement with the club in use.
pub(super) struct Work {
    /// Movement, hands and club.
    pub(super) about: String,
    /// For ids on the page.
    pub(super) id: String,
    pub(super) club: Option<ClubPicture>,
    /// How it goes, a sentence each.
    pub(super) words: Vec<String>,
    pub(super) chart: LineChart,
}

/// What of the log the page is about.
pub(super) struct Shown<'a> {
    pub(super) history: &'a History,
    pub(super) policy: &'a Policy,
    pub(super) catalogue: &'a Catalogue,
    pub(super) units: UnitSystem,
    pub(super) today: Date,
    /// A1: whether a gap has followed the last session.
    pub(super) after_gap: bool,
}

/// Every movement with the club worked last, the movement done last first.
pub(super) fn in_use(shown: &Shown) -> Vec<Work> {
    let all = progress::series(shown.history, shown.today);
    progress::latest(shown.history, shown.policy, shown.today)
        .iter()
        .enumerate()
        .filter_map(|(place, latest)| {
            let series = all.iter().find(|series| series.key == latest.key)?;
            Kind::of(series, &all, shown).work(place)
        })
        .collect()
}

/// The work with one club, and what the page is about.
struct Kind<'a> {
    series: &'a Series,
    /// Another club was worked before in the same movement and hands.
    after_another: bool,
    shown: &'a Shown<'a>,
}

impl<'a> Kind<'a> {
    fn of(series: &'a Series, all: &[Series], shown: &'a Shown<'a>) -> Self {
        let key = series.key;
        let begun = |series: &Series| series.points.first().map(|point| point.on);
        Self {
            series,
            after_another: all.iter().any(|other| {
                (other.key.movement, other.key.hands) == (key.movement, key.hands)
                    && other.key.loading != key.loading
                    && begun(other) < begun(series)
            }),
            shown,
        }
    }

    fn key(&self) -> WorkKey {
        self.series.key
    }

    fn club(&self) -> &str {
        self.shown.catalogue.club(self.key().loading)
    }

    fn work(&self, place: usize) -> Option<Work> {
        let last = self.series.points.last()?;
        let id = format!("work-{place}");
        let (words, chart) = match self.key().seconds {
            Some(seconds) => self.counts(&id, seconds, last)?,
            None => self.ladder(&id, last)?,
        };
        Some(Work {
            about: format!(
                "{}, {}, with {}",
                capitalised(self.shown.catalogue.movement(self.key().movement)),
                hands_words(self.key().hands),
                self.club()
            ),
            club: self
                .shown
                .catalogue
                .picture(self.key().loading, self.shown.units),
            words,
            chart,
            id,
        })
    }

    /// The newest sessions.
    fn drawn(&self) -> &'a [Point] {
        let points = &self.series.points;
        &points[points.len().saturating_sub(DRAWN)..]
    }

    /// How many sessions there are, and that not all are drawn.
    fn sessions(&self) -> String {
        let all = self.series.points.len();
        match (all, self.drawn().len()) {
            (1, _) => "One session".to_owned(),
            (all, drawn) if drawn < all => format!("The newest {drawn} of {all} sessions"),
            (all, _) => format!("{all} sessions"),
        }
    }

    /// T1: the count of a set must climb.
    fn counts(&self, id: &str, seconds: Seconds, last: &Point) -> Option<(Vec<String>, LineChart)> {
        let shown = self.shown;
        let key = self.key();
        let rpm = rules::goal_density(
            shown.history,
            shown.policy,
            (key.movement, key.hands, key.loading, seconds),
            shown.today,
        );
        let goal = rpm.map(|rpm| reps_a_set(rpm, seconds));
        let slope = progress::slope(shown.policy, &self.series.points);
        let words = self.count_words(seconds, last, goal, slope.as_ref());
        let series: Vec<chart::Series> = Side::BOTH
            .iter()
            .map(|side| self.counts_of(*side))
            .collect();
        let title = format!("Reps a set of {} seconds, left and right", seconds.get());
        let mut chart = Lines {
            id,
            title,
            description: format!(
                "{} with {}. {}",
                self.sessions(),
                self.club(),
                words.join(" ")
            ),
            series: &series,
            joined: Joined::Straight,
            goal: goal.map(|goal| (goal, format!("goal {goal:.1}"))),
            // With a goal the scale has something to measure by; without one it would magnify a rep.
            from_nought: goal.is_none(),
        }
        .draw()?;
        let [left, right] = Side::BOTH.map(|side| {
            let counts = self
                .drawn()
                .iter()
                .map(|point| a_set(point.bout.side(side)));
            counts.collect::<Vec<_>>()
        });
        if left == right {
            chart.alike = Some("both sides the same, every time");
        } else if left.iter().zip(&right).any(|(left, right)| left == right) {
            chart.alike = Some("both sides the same");
        }
        Some((words, chart))
    }

    fn counts_of(&self, side: Side) -> chart::Series {
        let readings = self.drawn().iter().filter_map(|point| {
            let value = a_set(point.bout.side(side))?;
            Some(Reading {
                day: point.on,
                value,
                said: format!("{value:.1}"),
            })
        });
        chart::Series {
            name: capitalised(side.word()),
            readings: readings.collect(),
        }
    }

    fn count_words(
        &self,
        seconds: Seconds,
        last: &Point,
        goal: Option<f64>,
        slope: Option<&Slope>,
    ) -> Vec<String> {
        let done = self.series.points.len();
        let [left, right] = Side::BOTH.map(|side| a_set(last.bout.side(side)));
        let said = |count: Option<f64>| {
            count.map_or_else(|| "–".to_owned(), |count| format!("{count:.1}"))
        };
        let counts = if left == right {
            format!("{} reps a set, both sides the same", said(left))
        } else {
            format!(
                "{} reps a set on the left and {} on the right",
                said(left),
                said(right)
            )
        };
        let mut words = vec![format!(
            "In your last session, on {}: {counts}.",
            day_label(last.on)
        )];
        let needed = self.shown.policy.goal_start_sessions;
        if self.after_another && done <= needed {
            words.push(format!(
                "{} is new: the count starts lower with another club, and that is as it should be.",
                capitalised(self.club())
            ));
        }
        words.push(match goal {
            Some(goal) => {
                let there = |count: Option<f64>| count.is_some_and(|count| count >= goal - 1e-9);
                let at = if there(left) && there(right) {
                    ", and both were there"
                } else {
                    ""
                };
                format!(
                    "The goal is {goal:.1} reps in {} seconds on average, on both sides{at}.",
                    seconds.get()
                )
            }
            None => format!(
                "The first {needed} sessions with a club set its goal; {done} of them {} done.",
                if done == 1 { "is" } else { "are" }
            ),
        });
        // After a gap the trend of before says nothing about now.
        if !self.shown.after_gap {
            words.push(trend_for_athlete(slope, seconds));
        }
        words
    }

    /// V1, V2: reps stay, sets are added.
    fn ladder(&self, id: &str, last: &Point) -> Option<(Vec<String>, LineChart)> {
        let key = self.key();
        let target = progress::target(self.shown.history, key, self.shown.today).map(u16::from);
        let words = self.ladder_words(last, target);
        let readings = self.drawn().iter().map(|point| {
            let sets = point.bout.sets_each_side();
            Reading {
                day: point.on,
                value: f64::from(sets),
                said: sets.to_string(),
            }
        });
        let series = [chart::Series {
            name: "Sets on each side".to_owned(),
            readings: readings.collect(),
        }];
        let mut chart = Lines {
            id,
            title: "Sets on each side".to_owned(),
            description: format!(
                "{} with {}. {}",
                self.sessions(),
                self.club(),
                words.join(" ")
            ),
            series: &series,
            joined: Joined::Steps,
            goal: target.map(|target| (f64::from(target), format!("target {target}"))),
            from_nought: true,
        }
        .draw()?;
        chart.table = self.ladder_table(&chart.title);
        Some((words, chart))
    }

    fn ladder_table(&self, caption: &str) -> Table {
        let row = |point: &Point| {
            vec![
                day_label(point.on),
                sets_words(&point.bout),
                point.bout.left.reps.to_string(),
                point.bout.right.reps.to_string(),
            ]
        };
        Table {
            caption: caption.to_owned(),
            head: ["Day", "Sets on each side", "Reps left", "Reps right"]
                .map(str::to_owned)
                .into(),
            rows: self.drawn().iter().rev().map(row).collect(),
        }
    }

    fn ladder_words(&self, last: &Point, target: Option<u16>) -> Vec<String> {
        let mut words = vec![format!(
            "In your last session, on {}: {} on each side.",
            day_label(last.on),
            sets_words(&last.bout)
        )];
        if self.after_another && self.series.points.len() <= 2 {
            words.push(format!(
                "{} is new: with another club the ladder begins again, and that is as it should be.",
                capitalised(self.club())
            ));
        }
        let sets = last.bout.sets_each_side();
        words.push(match target {
            Some(target) if sets >= target => {
                format!("The target of {target} sets is reached. Reps in a set stay as they are.")
            }
            Some(target) => format!(
                "The target is {target} sets. Sets are added little by little; reps in a set stay as they are."
            ),
            None => "Sets are added little by little; reps in a set stay as they are.".to_owned(),
        });
        words
    }
}

/// Reps in a set on average; `None` where the side did none.
fn a_set(side: &SideWork) -> Option<f64> {
    (side.sets > 0).then(|| f64::from(side.reps) / f64::from(side.sets))
}

/// "7 sets of 5".
fn sets_words(bout: &Bout) -> String {
    match bout.sets_each_side() {
        1 => format!("1 set of {}", bout.reps),
        sets => format!("{sets} sets of {}", bout.reps),
    }
}
