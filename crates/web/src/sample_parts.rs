//! The page of all parts of `templates/parts`, in all their states. It is for whoever changes one: the tests
//! render it, look at it with axe and photograph it. Everything on it is made up here, and nothing of the gym is.

use askama::Template;
use leverbook_domain::club::ClubMeasure;
use leverbook_domain::story::DayKind;
use leverbook_domain::units::UnitSystem;
use time::macros::date;
use time::{Date, Duration, Weekday};

use crate::ahead::{self, Ahead};
use crate::chart::{
    self, CalendarChart, Gap, Happening, Joined, Lane, Level, LineChart, Lines, Over, Reading,
    Series, SideChart, Sides, Sign, Trend, Word, day_label,
};
use crate::club_picture::{ClubPicture, Scale};
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::parts::{Choice, Room};
use crate::visit::Visit;

/// The day on which the samples are.
const TODAY: Date = date!(2026 - 11 - 25);

/// Names as people have them: short, long without a space, from right to left, with an apostrophe.
const NAMES: [&str; 6] = [
    "Ida Marsh",
    "Wolfeschlegelsteinhausenbergerdorff-Featherstonehaugh",
    "לאה בן־שחר",
    "Seán Ó Dálaigh d’Arquien de la Grange-aux-Merciers",
    "ليلى عبد الرحمن",
    "吳 美玲",
];

#[derive(Template)]
#[template(path = "sample_parts.html")]
pub(crate) struct SamplePartsPage {
    frame: Frame,
    rooms: Vec<Room>,
    /// As a form is first seen.
    empty: Form,
    /// As it comes back.
    wrong: Form,
    choices: Vec<Choice>,
    rows: Vec<Row>,
    lines: Vec<LineChart>,
    story: Option<LineChart>,
    sides: Vec<SideChart>,
    calendar: Option<CalendarChart>,
    clubs: Vec<(String, ClubPicture)>,
    ahead: Vec<Ahead>,
}

/// A row of the long table.
struct Row {
    number: usize,
    name: &'static str,
    severity: &'static str,
    day: String,
    reps: usize,
}

/// `GET /g/{gym}/parts`.
pub(crate) async fn show(visit: Visit) -> Page<SamplePartsPage> {
    let value = [
        ("name", NAMES[2]),
        ("mass", "6.25"),
        ("starts_on", "2026-11-30"),
        ("note", "Quiet elbows.\nLook at the wall."),
        ("hands", "two"),
        ("weekday", "3"),
        ("weekday", "6"),
        ("loadable", "yes"),
    ];
    let mut errors = FieldErrors::new();
    for (name, sentence) in [
        ("name", "write a name of at most 120 characters"),
        ("mass", "write a number between 0.5 and 60"),
        ("balance", "write a number, such as 410"),
        ("starts_on", "choose a day from today on"),
        ("note", "keep it to 400 characters"),
        ("club", "choose a club that is in use"),
        ("hands", "choose how the club is held"),
        ("loadable", "say whether plates go on it"),
    ] {
        errors.add(name, sentence);
    }
    Page(SamplePartsPage {
        rooms: ["Week", "Roster", "Rack", "Rules"]
            .into_iter()
            .enumerate()
            .map(|(place, word)| Room {
                href: "#navigation".to_owned(),
                word,
                here: place == 1,
                new: if place == 2 { 3 } else { 0 },
            })
            .collect(),
        empty: Form::with([("hands", "one"), ("weekday", "3")]),
        wrong: Form::wrong(value, errors),
        choices: [
            ("two", "Two hands"),
            ("fingertip", "Fingertips of the other hand"),
            ("one", "One hand"),
        ]
        .map(|(value, word)| Choice::new(value, word))
        .into(),
        rows: rows(),
        story: counts(),
        lines: [interrupted(), ladder(), single()]
            .into_iter()
            .flatten()
            .collect(),
        sides: both_sides().into_iter().collect(),
        calendar: days(),
        clubs: clubs(),
        ahead: ways(),
        frame: visit.frame("Parts", Nav::Nowhere),
    })
}

fn rows() -> Vec<Row> {
    let severities = ["stop", "look", "note", ""];
    (0..50)
        .map(|place| Row {
            number: place + 1,
            name: NAMES[place % NAMES.len()],
            severity: severities[place % severities.len()],
            day: day_label(TODAY - Duration::days(place as i64)),
            reps: 1 + place * place * 7,
        })
        .collect()
}

/// Reps a minute, twice a week but for the weeks that are left out.
fn readings(weeks: impl Iterator<Item = i64>, from: f64, by: f64) -> Vec<Reading> {
    weeks
        .flat_map(|week| [week * 7, week * 7 + 3])
        .map(|days| {
            let value = from + by * days as f64 + f64::from(days as i32 % 5) * 0.4;
            Reading {
                day: date!(2026 - 08 - 03) + Duration::days(days),
                value,
                said: format!("{value:.1}"),
            }
        })
        .collect()
}

fn series(name: &str, readings: Vec<Reading>) -> Series {
    Series {
        name: name.to_owned(),
        readings,
    }
}

/// Four lines, a goal, a trend with its interval, a time without training, every sign of what happened.
fn counts() -> Option<LineChart> {
    let day = |days| date!(2026 - 08 - 03) + Duration::days(days);
    let happened = |days, sign, label: &str, said: &str| Happening {
        day: day(days),
        sign,
        label: label.to_owned(),
        said: said.to_owned(),
    };
    let over = Over {
        until: Some(TODAY),
        levels: vec![Level {
            from: day(0),
            until: TODAY,
            value: 33.0,
            label: "goal 33".to_owned(),
        }],
        trends: vec![Trend {
            from: day(28),
            until: day(73),
            ends: (27.0, 31.5),
            within: Some([(26.0, 30.0), (28.0, 33.0)]),
        }],
        words: [
            (0, "Oak 4", false),
            (14, "Oak 6", false),
            (28, "+41 % wide", true),
        ]
        .map(|(days, label, wide)| Word {
            day: day(days),
            label: label.to_owned(),
            wide,
            said: String::new(),
        })
        .into(),
        gaps: vec![Gap {
            first: day(80),
            last: day(100),
            label: "away for 21 days".to_owned(),
            said: "away for 21 days: illness".to_owned(),
        }],
        lanes: vec![
            Lane {
                name: "Flags",
                happenings: vec![
                    happened(20, Sign::Note, "B1", "B1 raised, note"),
                    happened(38, Sign::Look, "T5", "T5 raised, look"),
                    happened(41, Sign::Stop, "L4", "L4 raised, stop"),
                    happened(55, Sign::Ended, "", "L4 over"),
                ],
            },
            Lane {
                name: "Coach",
                happenings: vec![
                    happened(7, Sign::Accepted, "", "as proposed"),
                    happened(14, Sign::Held, "", "held"),
                    happened(40, Sign::Changed, "", "instead: hold"),
                    happened(42, Sign::PutAway, "", "L4 closed"),
                    happened(60, Sign::Opened, "", "one-hand work opened early"),
                ],
            },
        ],
        beside: Vec::new(),
    };
    Lines {
        id: "counts",
        title: "Reps a minute by club, with all that can be drawn over them".to_owned(),
        description: "Four clubs, each lower than the lighter one before it.".to_owned(),
        series: &[
            series("Oak 4", readings(0..11, 24.0, 0.11)),
            series("Oak 6", readings(2..11, 21.0, 0.10)),
            series("Elm 8", readings(4..11, 17.0, 0.09)),
            series("Bar with two plates", readings(6..11, 13.0, 0.08)),
        ],
        joined: Joined::Straight,
        goal: None,
        from_nought: false,
    }
    .draw_with(&over)
}

/// Two lines with weeks in which nothing was logged.
fn interrupted() -> Option<LineChart> {
    let weeks = || (0..3).chain(8..10).chain(14..16);
    Lines {
        id: "interrupted",
        title: "With gaps: weeks without a session".to_owned(),
        description: "Three runs of sessions with weeks between them.".to_owned(),
        series: &[
            series("left", readings(weeks(), 20.0, 0.05)),
            series("right", readings(weeks(), 20.4, 0.04)),
        ],
        joined: Joined::Straight,
        goal: None,
        from_nought: false,
    }
    .draw()
}

fn ladder() -> Option<LineChart> {
    let steps = [5.0, 6.0, 7.0, 7.0, 8.0, 9.0, 10.0, 5.0, 6.0];
    let sets = steps.iter().enumerate().map(|(week, sets)| Reading {
        day: date!(2026 - 08 - 03) + Duration::weeks(week as i64),
        value: *sets,
        said: sets.to_string(),
    });
    Lines {
        id: "ladder",
        title: "Sets on each side, as steps from nought".to_owned(),
        description: "Sets climb from five to ten, and begin again at five.".to_owned(),
        series: &[series("sets", sets.collect())],
        joined: Joined::Steps,
        goal: Some((10.0, "target 10".to_owned())),
        from_nought: true,
    }
    .draw()
}

fn single() -> Option<LineChart> {
    Lines {
        id: "single",
        title: "A single reading".to_owned(),
        description: "One session.".to_owned(),
        series: &[series("Oak 4", readings(0..1, 24.0, 0.0)[..1].to_vec())],
        joined: Joined::Straight,
        goal: None,
        from_nought: false,
    }
    .draw()
}

fn both_sides() -> Option<SideChart> {
    let row = |name: &str, left, right| Sides {
        name: name.to_owned(),
        left,
        right,
    };
    chart::sides(
        "sides",
        "Reps on each side".to_owned(),
        "Both alike in one movement, more on the right in another, one side only in a third."
            .to_owned(),
        "Reps",
        &[
            row("inside circle", 1240, 1240),
            row("pullover", 310, 355),
            row("mill", 0, 40),
        ],
    )
}

fn days() -> Option<CalendarChart> {
    chart::calendar(
        "days",
        "Days: done, planned, missed, excused, nothing".to_owned(),
        "Two days in most weeks, a week excused, one missed.".to_owned(),
        (TODAY - Duration::weeks(5), TODAY + Duration::weeks(1)),
        TODAY,
        |day| match (day.weekday(), (TODAY - day).whole_weeks()) {
            (Weekday::Monday | Weekday::Thursday, 3) => DayKind::Excused,
            (Weekday::Thursday, 2) => DayKind::Missed,
            (Weekday::Monday | Weekday::Thursday, _) if day < TODAY => DayKind::Done,
            (Weekday::Monday | Weekday::Thursday, _) => DayKind::Planned,
            _ => DayKind::Blank,
        },
    )
}

/// Measured in full, with plates and built from its shape, weighed only.
fn clubs() -> Vec<(String, ClubPicture)> {
    let clubs: Vec<(&str, ClubMeasure)> = [
        (
            "Oak 6",
            serde_json::json!({"mass_kg": 6.0, "length_mm": 720.0, "balance_mm": 432.0, "grip_mm": 60.0}),
        ),
        (
            "Bar with two plates, for those who have finished three clubs",
            serde_json::json!({
                "segments": [
                    {"length_mm": 500.0, "start_radius_mm": 15.0, "end_radius_mm": 15.0, "density_kg_m3": 700.0},
                    {"length_mm": 450.0, "start_radius_mm": 20.0, "end_radius_mm": 45.0, "density_kg_m3": 7200.0},
                ],
                "plates": [
                    {"mass_kg": 1.25, "offset_mm": 860.0, "radius_mm": 80.0, "bore_radius_mm": 46.0, "thickness_mm": 20.0},
                    {"mass_kg": 1.25, "offset_mm": 890.0, "radius_mm": 80.0, "bore_radius_mm": 46.0, "thickness_mm": 20.0},
                ],
                "grip_mm": 70.0,
            }),
        ),
        ("Elm 8", serde_json::json!({"mass_kg": 8.0})),
    ]
    .into_iter()
    .filter_map(|(name, fields)| Some((name, serde_json::from_value(fields).ok()?)))
    .collect();
    let scale = Scale::over(clubs.iter().map(|(_, club)| club), UnitSystem::Kilogram);
    clubs
        .iter()
        .enumerate()
        .map(|(place, (name, club))| (format!("club-{place}"), scale.draw(name, club)))
        .collect()
}

fn ways() -> Vec<Ahead> {
    let line = |what: &str, when: &str, rule| ahead::Line {
        what: what.to_owned(),
        when: when.to_owned(),
        is_now: false,
        rule,
    };
    vec![
        Ahead {
            about: "Inside circle, two hands, with Oak 6".to_owned(),
            lines: vec![
                line(
                    "the goal of 33 reps a minute",
                    "between 10 Jan and 4 Mar 2027",
                    "T4",
                ),
                line("one-hand work", "not before 1 Sep 2027", "O1"),
            ],
            halted: None,
            assumption: Some(
                "If the count goes on climbing as it did in the last eight sessions.".to_owned(),
            ),
            gist: Some("Two sessions a week, as now."),
        },
        Ahead {
            about: "Pullover, one hand, with Elm 8".to_owned(),
            lines: Vec::new(),
            halted: Some("No date: a stop flag stands".to_owned()),
            assumption: None,
            gist: None,
        },
    ]
}
