//! What is drawn over the lines of a chart: levels to reach, trends, words at the top, times without training, and what
//! happened, in lanes under the axis. Labels give way where they would touch: first on a phone, then everywhere; the
//! sign stays, and the table has the words.

use time::Date;

use super::axis::{Days, Scale};
use super::lines::Series;
use super::{FIELD_HEIGHT, round};

/// The field's width, px, on the narrowest phone and on the narrowest screen that is no phone.
const PHONE: f64 = 264.0;
const DESK: f64 = 544.0;

/// How wide a letter of a label is, px; as wide as a figure is in Chromium.
const LETTER: f64 = 8.0;

/// How wide the paper around a sign's label is, both sides together, px; story.css draws it.
const LABEL_EDGE: f64 = 3.0;

/// How wide a sign is, px.
const SIGN: f64 = 14.0;

/// Height of a line of words at the top, px, and how many there may be.
const WORD_LINE: f64 = 15.0;
const WORD_LINES: usize = 3;

/// Height of the labels under the axis and of a lane below them, px.
const AXIS_LABELS: f64 = 28.0;
const LANE: f64 = 22.0;

/// Room for labels over the signs of a lane, px.
const LANE_LABELS: f64 = 15.0;

/// A straight trend over part of a chart, with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Its level on both days.
    pub ends: (f64, f64),
    /// The levels of the two lines that bound the interval.
    pub within: Option<[(f64, f64); 2]>,
}

/// A level to reach over some days.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// How high.
    pub value: f64,
    /// What stands at it; may be empty.
    pub label: String,
}

/// A word at the top of the field, over the day that it is about.
#[derive(Debug, Clone, PartialEq)]
pub struct Word {
    /// When.
    pub day: Date,
    /// A few letters.
    pub label: String,
    /// Whether it has the sign of a step over the limit.
    pub wide: bool,
    /// What the table says of it; empty where the lines say it already.
    pub said: String,
}

/// Days in a row on which nothing was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap {
    /// The first of them.
    pub first: Date,
    /// The last.
    pub last: Date,
    /// How long, in a few words.
    pub label: String,
    /// What the table says of it.
    pub said: String,
}

/// The sign of something that happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sign {
    /// A flag of severity `stop` was raised.
    Stop,
    /// A flag of severity `look` was raised.
    Look,
    /// A flag of severity `note` was raised.
    Note,
    /// A flag is over.
    Ended,
    /// The proposal was accepted.
    Accepted,
    /// The work was held.
    Held,
    /// Something else was decided.
    Changed,
    /// A flag was put away by a coach, or opened again.
    PutAway,
    /// One-hand work was opened early.
    Opened,
}

impl Sign {
    /// In class names and in the template.
    #[must_use]
    pub const fn class(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Look => "look",
            Self::Note => "note",
            Self::Ended => "ended",
            Self::Accepted => "accepted",
            Self::Held => "held",
            Self::Changed => "changed",
            Self::PutAway => "put-away",
            Self::Opened => "opened",
        }
    }

    /// In the key.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Stop => "stop flag raised",
            Self::Look => "look flag raised",
            Self::Note => "note raised",
            Self::Ended => "flag over",
            Self::Accepted => "as proposed",
            Self::Held => "held",
            Self::Changed => "something else decided",
            Self::PutAway => "coach quieted, closed or reopened a flag",
            Self::Opened => "one-hand work opened early",
        }
    }
}

/// Something that happened on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Happening {
    /// When.
    pub day: Date,
    /// Its sign.
    pub sign: Sign,
    /// A few letters: a rule's id; may be empty.
    pub label: String,
    /// What the table says of it.
    pub said: String,
}

/// What happened of one kind, in order of day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lane {
    /// A short word before the lane, and the head of its column.
    pub name: &'static str,
    /// What happened.
    pub happenings: Vec<Happening>,
}

/// What can be drawn over the lines. What lies outside the days of the chart is left out.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Over {
    /// How far the axis goes, where that is beyond the last reading.
    pub until: Option<Date>,
    /// Levels to reach.
    pub levels: Vec<Level>,
    /// Trends.
    pub trends: Vec<Trend>,
    /// Words at the top, in order of day.
    pub words: Vec<Word>,
    /// Times without training.
    pub gaps: Vec<Gap>,
    /// What happened.
    pub lanes: Vec<Lane>,
    /// What stands in the table alone.
    pub beside: Vec<Series>,
}

/// A trend as drawn: path data like [`super::Line::path`].
#[derive(Debug, Clone, PartialEq)]
pub struct TrendPath {
    /// The line.
    pub line: String,
    /// The area between the bounds; empty without an interval.
    pub within: String,
}

/// A level as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelAt {
    /// Where it begins and ends, percent of the width.
    pub x: (f64, f64),
    /// Pixels from the top of the field.
    pub y: f64,
    /// What stands at it.
    pub label: String,
    /// Whether the label ends where the level does, instead of beginning with it.
    pub ends: bool,
}

/// A word as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct WordAt {
    /// Percent of the width.
    pub x: f64,
    /// Pixels from the top of the field, upward.
    pub y: f64,
    /// What it says; empty where there is no room.
    pub label: String,
    /// Whether it ends at its day, instead of beginning there.
    pub ends: bool,
    /// Whether it has the sign of a step over the limit.
    pub wide: bool,
    /// Whether the label is left out where the screen is narrow.
    pub extra: bool,
}

/// A gap as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct GapAt {
    /// Percent of the width.
    pub x: f64,
    /// Percent of the width.
    pub width: f64,
    /// Its middle.
    pub middle: f64,
    /// What it is.
    pub said: String,
    /// What stands in it; empty where there is no room.
    pub label: String,
    /// Whether the label is left out where the screen is narrow.
    pub extra: bool,
}

/// A sign as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct SignAt {
    /// Percent of the width.
    pub x: f64,
    /// The sign in class names.
    pub sign: &'static str,
    /// What stands beside it; empty where there is no room.
    pub label: String,
    /// Whether the label is left out where the screen is narrow.
    pub extra: bool,
    /// What it is.
    pub said: String,
}

/// A lane as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct LaneAt {
    /// Its word.
    pub name: &'static str,
    /// Its middle, pixels from the top of the field.
    pub y: f64,
    /// What happened.
    pub signs: Vec<SignAt>,
}

/// What is drawn over the lines.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drawn {
    /// Room above the field, px.
    pub head: f64,
    /// Height of all, px.
    pub height: f64,
    /// Levels to reach.
    pub levels: Vec<LevelAt>,
    /// Trends.
    pub trends: Vec<TrendPath>,
    /// Words at the top.
    pub words: Vec<WordAt>,
    /// Times without training.
    pub gaps: Vec<GapAt>,
    /// What happened.
    pub lanes: Vec<LaneAt>,
    /// What the signs mean: those that occur, in class names, and their words.
    pub key: Vec<(&'static str, &'static str)>,
}

impl Over {
    /// What of it lies in these days.
    pub(super) fn within(&self, days: Days) -> Self {
        let clamp = |day: Date| day.clamp(days.first, days.last);
        let reaches = |first: Date, last: Date| first <= days.last && last >= days.first;
        Self {
            until: self.until,
            levels: self
                .levels
                .iter()
                .filter(|level| reaches(level.from, level.until))
                .map(|level| Level {
                    from: clamp(level.from),
                    until: clamp(level.until),
                    ..level.clone()
                })
                .collect(),
            trends: self
                .trends
                .iter()
                .filter(|trend| days.holds(trend.from) && days.holds(trend.until))
                .copied()
                .collect(),
            words: self
                .words
                .iter()
                .filter(|word| days.holds(word.day))
                .cloned()
                .collect(),
            gaps: self
                .gaps
                .iter()
                .filter(|gap| reaches(gap.first, gap.last))
                .map(|gap| Gap {
                    first: clamp(gap.first),
                    last: clamp(gap.last),
                    ..gap.clone()
                })
                .collect(),
            lanes: self
                .lanes
                .iter()
                .map(|lane| Lane {
                    name: lane.name,
                    happenings: lane
                        .happenings
                        .iter()
                        .filter(|happening| days.holds(happening.day))
                        .cloned()
                        .collect(),
                })
                .filter(|lane| !lane.happenings.is_empty())
                .collect(),
            beside: self.beside.clone(),
        }
    }

    /// The levels that the axis must reach.
    pub(super) fn values(&self) -> impl Iterator<Item = f64> {
        let trends = self.trends.iter().flat_map(|trend| {
            let ends = std::iter::once(trend.ends).chain(trend.within.into_iter().flatten());
            ends.flat_map(|(start, end)| [start, end])
        });
        self.levels.iter().map(|level| level.value).chain(trends)
    }

    /// Columns of the table, each with its head and what it says on which day; those without a word are left out.
    pub(super) fn columns(&self) -> Vec<(&'static str, Vec<(Date, String)>)> {
        let words = self.words.iter().map(|word| (word.day, word.said.clone()));
        let gaps = self.gaps.iter().map(|gap| (gap.first, gap.said.clone()));
        let lanes = self.lanes.iter().map(|lane| {
            let happenings = lane.happenings.iter();
            let told = happenings.map(|happening| (happening.day, happening.said.clone()));
            (lane.name, told.collect())
        });
        std::iter::once(("Step", words.collect::<Vec<_>>()))
            .chain(lanes)
            .chain(std::iter::once(("No training", gaps.collect())))
            .map(|(head, told)| {
                let told = told.into_iter().filter(|(_, said)| !said.is_empty());
                (head, told.collect::<Vec<_>>())
            })
            .filter(|(_, told)| !told.is_empty())
            .collect()
    }

    pub(super) fn draw(&self, days: Days, scale: Scale) -> Drawn {
        let words = words(&self.words, days);
        let highest = words.iter().map(|word| -word.y).fold(0.0, f64::max);
        let head = if words.is_empty() {
            WORD_LINE / 2.0
        } else {
            highest + WORD_LINE
        };
        let mut below = FIELD_HEIGHT + AXIS_LABELS;
        let mut lanes = Vec::new();
        for lane in &self.lanes {
            if lane.happenings.iter().any(|one| !one.label.is_empty()) {
                below += LANE_LABELS;
            }
            lanes.push(LaneAt {
                name: lane.name,
                y: below + LANE / 2.0,
                signs: signs(lane, days),
            });
            below += LANE;
        }
        let mut key: Vec<Sign> = self
            .lanes
            .iter()
            .flat_map(|lane| lane.happenings.iter().map(|happening| happening.sign))
            .collect();
        key.sort_unstable();
        key.dedup();
        Drawn {
            head,
            height: head + below,
            levels: self
                .levels
                .iter()
                .map(|level| level.draw(days, scale))
                .collect(),
            trends: self
                .trends
                .iter()
                .map(|trend| trend.draw(days, scale))
                .collect(),
            words,
            gaps: self.gaps.iter().map(|gap| gap.draw(days)).collect(),
            lanes,
            key: key
                .into_iter()
                .map(|sign| (sign.class(), sign.words()))
                .collect(),
        }
    }
}

impl Level {
    fn draw(&self, days: Days, scale: Scale) -> LevelAt {
        let x = (days.percent(self.from), days.percent(self.until));
        LevelAt {
            x,
            y: scale.pixels(self.value),
            // A count begins below its goal: there the label has room.
            ends: x.0 + percent(width(&self.label), PHONE) > 105.0,
            label: self.label.clone(),
        }
    }
}

impl Trend {
    fn draw(self, days: Days, scale: Scale) -> TrendPath {
        let [x0, x1] = [self.from, self.until].map(|day| round(days.percent(day) * 10.0));
        let y = |level| scale.pixels(level);
        TrendPath {
            line: format!("M{x0} {}L{x1} {}", y(self.ends.0), y(self.ends.1)),
            within: self.within.map_or_else(String::new, |[one, other]| {
                format!(
                    "M{x0} {}L{x1} {}V{}L{x0} {}z",
                    y(one.0),
                    y(one.1),
                    y(other.1),
                    y(other.0)
                )
            }),
        }
    }
}

impl Gap {
    fn draw(&self, days: Days) -> GapAt {
        let (x, end) = (days.percent(self.first), days.percent(self.last));
        let wide = end - x;
        let needed = width(&self.label);
        GapAt {
            x,
            // A day alone is seen too.
            width: round(wide.max(0.5)),
            middle: round(f64::midpoint(x, end)),
            said: self.said.clone(),
            label: if percent(needed, DESK) <= wide {
                self.label.clone()
            } else {
                String::new()
            },
            extra: percent(needed, PHONE) > wide,
        }
    }
}

/// How wide a label is, px.
fn width(label: &str) -> f64 {
    label.chars().count() as f64 * LETTER
}

fn percent(px: f64, field: f64) -> f64 {
    px / field * 100.0
}

/// Lays words out above the field, each on the lowest line on which it touches no other, on a phone too if it can.
fn words(words: &[Word], days: Days) -> Vec<WordAt> {
    /// Where the words on each line end.
    struct Lines([f64; WORD_LINES]);
    impl Lines {
        fn free_at(&self, start: f64) -> impl Iterator<Item = usize> {
            (0..WORD_LINES).filter(move |line| self.0[*line] <= start)
        }
    }
    let mut on_phone = Lines([f64::NEG_INFINITY; WORD_LINES]);
    let mut on_desk = Lines([f64::NEG_INFINITY; WORD_LINES]);
    words
        .iter()
        .map(|word| {
            let x = days.percent(word.day);
            let wide = width(&word.label) + if word.wide { SIGN } else { 0.0 } + LETTER;
            let [phone, desk] = [PHONE, DESK].map(|field| percent(wide, field));
            let ends = x + phone > 105.0;
            let span = |wide: f64| if ends { (x - wide, x) } else { (x, x + wide) };
            let free_on_desk: Vec<usize> = on_desk.free_at(span(desk).0).collect();
            let on_both = on_phone
                .free_at(span(phone).0)
                .find(|line| free_on_desk.contains(line));
            let line = on_both.or(free_on_desk.first().copied());
            if let Some(line) = line {
                on_desk.0[line] = span(desk).1;
                if on_both.is_some() {
                    on_phone.0[line] = span(phone).1;
                }
            }
            WordAt {
                x,
                y: -6.0 - line.unwrap_or(0) as f64 * WORD_LINE,
                label: line.map_or_else(String::new, |_| word.label.clone()),
                ends,
                wide: word.wide,
                extra: on_both.is_none(),
            }
        })
        .collect()
}

/// What happened on one day stands under one sign, the gravest. Its label stands over it, unless it would touch the one
/// before.
fn signs(lane: &Lane, days: Days) -> Vec<SignAt> {
    let (mut phone_ends, mut desk_ends) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    lane.happenings
        .chunk_by(|one, other| one.day == other.day)
        .map(|here| {
            let x = days.percent(here[0].day);
            let mut labels: Vec<&str> = here.iter().map(|one| one.label.as_str()).collect();
            labels.retain(|label| !label.is_empty());
            labels.sort_unstable();
            labels.dedup();
            let label = labels.join(" ");
            let half = |field: f64| percent((width(&label) + LABEL_EDGE) / 2.0, field);
            let on_desk = x - half(DESK) >= desk_ends;
            let on_phone = on_desk && x - half(PHONE) >= phone_ends;
            if on_desk && !label.is_empty() {
                desk_ends = x + half(DESK);
                if on_phone {
                    phone_ends = x + half(PHONE);
                }
            }
            let sign = here.iter().map(|one| one.sign).min();
            let said: Vec<&str> = here.iter().map(|one| one.said.as_str()).collect();
            SignAt {
                x,
                sign: sign.map_or("", Sign::class),
                extra: !on_phone,
                label: if on_desk { label } else { String::new() },
                said: said.join(", "),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use time::Duration;
    use time::macros::date;

    use super::super::{Joined, LineChart, Lines, Reading};
    use super::*;

    /// Day 0 of the charts here; the last is day 100, so that a day is a percent.
    const FIRST: Date = date!(2026 - 06 - 01);

    fn day(number: i64) -> Date {
        FIRST + Duration::days(number)
    }

    fn drawn(over: &Over) -> LineChart {
        let readings = [(0, 20.0), (50, 26.0), (100, 30.0)].map(|(number, value)| Reading {
            day: day(number),
            value,
            said: format!("{value:.1}"),
        });
        Lines {
            id: "density",
            title: "Density".to_owned(),
            description: String::new(),
            series: &[Series {
                name: "Oak 6".to_owned(),
                readings: readings.into(),
            }],
            joined: Joined::Straight,
            goal: None,
            from_nought: false,
        }
        .draw_with(over)
        .expect("has readings")
    }

    fn happening(number: i64, sign: Sign, label: &str, said: &str) -> Happening {
        Happening {
            day: day(number),
            sign,
            label: label.to_owned(),
            said: said.to_owned(),
        }
    }

    fn flags(happenings: Vec<Happening>) -> Over {
        Over {
            lanes: vec![Lane {
                name: "Flags",
                happenings,
            }],
            ..Over::default()
        }
    }

    // Whatever is drawn is reached: a row for each day, at the day's place, with its words.
    #[test]
    fn all_that_happened_has_a_row_at_its_day() {
        let mut over = flags(vec![
            happening(-3, Sign::Note, "B1", "before the axis"),
            happening(50, Sign::Look, "T5", "T5 raised"),
            happening(70, Sign::Ended, "", "T5 over"),
            happening(101, Sign::Note, "B1", "after the axis"),
        ]);
        over.gaps = vec![Gap {
            first: day(-20),
            last: day(10),
            label: "away".to_owned(),
            said: "away for 31 days".to_owned(),
        }];
        over.words = vec![Word {
            day: day(30),
            label: "+41 %".to_owned(),
            wide: true,
            said: "Oak 4 to Oak 6".to_owned(),
        }];
        let chart = drawn(&over);
        assert_eq!(
            chart.table.head,
            ["Day", "Oak 6", "Step", "Flags", "No training"]
        );
        let told: Vec<(f64, String)> = chart
            .stops
            .iter()
            .copied()
            .zip(chart.table.rows.iter().map(|row| row[1..].join("|")))
            .collect();
        assert_eq!(
            told,
            [
                (100.0, "30.0|–|–|–".to_owned()),
                (70.0, "–|–|T5 over|–".to_owned()),
                (50.0, "26.0|–|T5 raised|–".to_owned()),
                (30.0, "–|Oak 4 to Oak 6|–|–".to_owned()),
                (0.0, "20.0|–|–|away for 31 days".to_owned()),
            ]
        );
        assert_eq!(
            chart.over.key,
            [("look", "look flag raised"), ("ended", "flag over")]
        );
    }

    // By hand: "B1 L4" is 40 px wide, "T5" 16, each with 3 px of paper. They need 31 px between their middles: from day 20
    // to 23 there are 7.9 of 264 and 16.3 of 544; to day 26, 15.8 and 32.6; to day 31, 29.0 and 59.8; to day 32, 31.7.
    #[test]
    fn one_day_has_one_sign_the_gravest_with_all_labels() {
        let read = |second| {
            let over = flags(vec![
                happening(20, Sign::Note, "B1", "B1 raised"),
                happening(20, Sign::Stop, "L4", "L4 raised"),
                happening(second, Sign::Look, "T5", "T5 raised"),
                happening(50, Sign::Ended, "", "T5 over"),
            ]);
            let signs = drawn(&over).over.lanes[0].signs.clone();
            assert_eq!(signs[0].said, "B1 raised, L4 raised");
            let read = signs.into_iter();
            read.map(|sign| (sign.x, sign.sign, sign.label, sign.extra))
                .collect::<Vec<_>>()
        };
        let first = (20.0, "stop", "B1 L4".to_owned(), false);
        let last = (50.0, "ended", String::new(), false);
        assert_eq!(
            read(23),
            [
                first.clone(),
                (23.0, "look", String::new(), true),
                last.clone()
            ]
        );
        assert_eq!(
            read(26),
            [
                first.clone(),
                (26.0, "look", "T5".to_owned(), true),
                last.clone()
            ]
        );
        assert_eq!(
            read(31),
            [
                first.clone(),
                (31.0, "look", "T5".to_owned(), true),
                last.clone()
            ]
        );
        assert_eq!(
            read(32),
            [first, (32.0, "look", "T5".to_owned(), false), last]
        );
    }

    #[test]
    fn words_keep_clear_of_each_other_and_of_the_edge() {
        let word = |number, label: &str, wide| Word {
            day: day(number),
            label: label.to_owned(),
            wide,
            said: String::new(),
        };
        let over = Over {
            words: vec![
                word(0, "Oak 4", false),
                word(10, "Oak 6", false),
                word(12, "Elm 8", false),
                word(13, "Ash 9", false),
                word(14, "Bar 12", false),
                word(97, "Stone 14", true),
            ],
            ..Over::default()
        };
        let chart = drawn(&over);
        let words = &chart.over.words;
        for field in [PHONE, DESK] {
            let spans: Vec<(f64, f64, f64)> = words
                .iter()
                .filter(|word| field == DESK || !word.extra)
                .filter(|word| !word.label.is_empty())
                .map(|word| {
                    let wide = percent(
                        width(&word.label) + if word.wide { SIGN } else { 0.0 },
                        field,
                    );
                    if word.ends {
                        (word.y, word.x - wide, word.x)
                    } else {
                        (word.y, word.x, word.x + wide)
                    }
                })
                .collect();
            for (place, one) in spans.iter().enumerate() {
                assert!(one.1 >= 0.0 && one.2 <= 106.0, "{field}: {one:?}");
                for other in &spans[place + 1..] {
                    let apart = one.0 != other.0 || one.2 <= other.1 || other.2 <= one.1;
                    assert!(apart, "{field}: {one:?} {other:?}");
                }
            }
        }
        assert_eq!(words[0].label, "Oak 4");
        assert!(words[5].ends && !words[0].ends);
        assert!(chart.over.head > -words[2].y, "the highest has room");
    }

    // By hand: the axis goes from 20 to 30, so that a unit is 19 of the 190 px; a day is 10 of the 1000 across.
    #[test]
    fn a_trend_a_level_and_a_gap_stand_at_their_days_and_values() {
        let over = Over {
            levels: vec![Level {
                from: day(-10),
                until: day(60),
                value: 28.0,
                label: "goal 28".to_owned(),
            }],
            trends: vec![Trend {
                from: day(20),
                until: day(80),
                ends: (22.0, 28.0),
                within: Some([(24.0, 26.0), (21.0, 29.0)]),
            }],
            gaps: vec![Gap {
                first: day(60),
                last: day(90),
                label: "away for 31 days".to_owned(),
                said: String::new(),
            }],
            ..Over::default()
        };
        let Drawn {
            levels,
            trends,
            gaps,
            ..
        } = drawn(&over).over;
        assert_eq!((levels[0].x, levels[0].y), ((0.0, 60.0), 38.0));
        assert_eq!(trends[0].line, "M200 152L800 38");
        assert_eq!(trends[0].within, "M200 114L800 76V19L200 171z");
        assert_eq!(
            (gaps[0].x, gaps[0].width, gaps[0].middle),
            (60.0, 30.0, 75.0)
        );
        assert!(
            !gaps[0].label.is_empty() && gaps[0].extra,
            "128 px: of 163, not of 79"
        );
    }

    #[test]
    fn the_axis_goes_on_to_the_day_asked_for() {
        let over = Over {
            until: Some(day(200)),
            ..Over::default()
        };
        assert_eq!(drawn(&over).lines[0].points[2].x, 50.0);
        assert_eq!(drawn(&over).stops, [50.0, 25.0, 0.0]);
    }
}
