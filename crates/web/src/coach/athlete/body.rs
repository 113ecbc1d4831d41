//! Effort, pain and load.

use leverbook_domain::review::Week;
use leverbook_domain::rules::{LoadWeek, Rule, load_weeks};
use leverbook_domain::stats::week_load;
use leverbook_domain::story::answers;

use super::work::pain_words;
use super::{Book, happened};
use crate::chart::{self, Joined, LineChart, Lines, Over, Reading, Series, day_label};

/// How it felt, and how much it was.
pub(super) struct Body {
    /// How hard it felt, in a sentence.
    pub(super) felt_words: String,
    pub(super) felt: Option<LineChart>,
    /// How much each week was, in a sentence.
    pub(super) load_words: String,
    pub(super) load: Option<LineChart>,
    /// Every report of pain over 0, newest first: day and words.
    pub(super) pain: Vec<(String, String)>,
}

pub(super) fn body(book: &Book) -> Body {
    let sessions = book.history.sessions_until(book.window.today);
    let shown = sessions.partition_point(|session| session.on < book.window.from);
    let weeks: Vec<LoadWeek> = load_weeks(&book.history, &book.policy, book.window.today)
        .into_iter()
        .filter(|week| book.window.holds(week.monday))
        .collect();
    Body {
        felt_words: answers::how_hard_did_it_feel(&sessions[shown..]),
        felt: felt(book),
        load_words: answers::how_much_was_each_week(&weeks, book.window.today),
        load: load(book, &weeks),
        pain: pain(book),
    }
}

fn felt(book: &Book) -> Option<LineChart> {
    let sessions = || {
        let all = book.history.sessions().iter();
        all.filter(|session| book.window.holds(session.on))
    };
    let effort = sessions()
        .filter_map(|session| {
            let value = session.effort?.rating();
            Some(Reading {
                day: session.on,
                value,
                said: value.to_string(),
            })
        })
        .collect();
    let pain: Vec<Reading> = sessions()
        .filter_map(|session| {
            let value = session.worst_pain()?;
            Some(Reading {
                day: session.on,
                value: value.into(),
                said: value.to_string(),
            })
        })
        .collect();
    let mut series = vec![chart::Series {
        name: "effort".to_owned(),
        readings: effort,
    }];
    if pain.iter().any(|reading| reading.value > 0.0) {
        series.push(chart::Series {
            name: "worst pain".to_owned(),
            readings: pain,
        });
    }
    Lines {
        id: "felt",
        title: "Effort and pain by session, 0 to 10".to_owned(),
        description: "Effort on the CR10 scale, pain as the athlete reported it.".to_owned(),
        series: &series,
        joined: Joined::Straight,
        goal: None,
        from_nought: true,
    }
    .draw_with(&Over {
        until: Some(book.window.today),
        gaps: happened::gaps(book),
        lanes: happened::lanes(book, |kept| matches!(kept.flag.rule, Rule::L3 | Rule::L4)),
        ..Over::default()
    })
}

fn load(book: &Book, weeks: &[LoadWeek]) -> Option<LineChart> {
    let series = |name: &str, said: &dyn Fn(&LoadWeek) -> Option<String>| Series {
        name: name.to_owned(),
        readings: weeks
            .iter()
            .filter_map(|week| {
                Some(Reading {
                    day: week.monday,
                    // Of a week that is not over the sum so far is told, and not drawn: it would look like a fall.
                    value: if Week::of(week.monday).sunday() < book.window.today {
                        week.sum()
                    } else {
                        f64::NAN
                    },
                    said: said(week)?,
                })
            })
            .collect(),
    };
    Lines {
        id: "load",
        title: "Load by week from Monday: effort × minutes, summed".to_owned(),
        description: "Whole weeks; what the running one comes to so far stands in the table."
            .to_owned(),
        series: &[series("Load", &|week| Some(format!("{:.0}", week.sum())))],
        joined: Joined::Steps,
        goal: None,
        from_nought: true,
    }
    .draw_with(&Over {
        until: Some(book.window.today),
        gaps: happened::gaps(book),
        lanes: happened::lanes(book, |kept| matches!(kept.flag.rule, Rule::L2 | Rule::A1)),
        beside: vec![
            series("Monotony", &|week| {
                Some(format!("{:.2}", week_load(&week.daily).monotony?))
            }),
            series("Strain", &|week| {
                Some(format!("{:.0}", week_load(&week.daily).strain?))
            }),
            series("Remark", &remark),
        ],
        ..Over::default()
    })
}

fn remark(week: &LoadWeek) -> Option<String> {
    let remarks: Vec<&str> = [
        week.incomplete.then_some("effort missing"),
        week.minutes_estimated.then_some("minutes estimated"),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!remarks.is_empty()).then(|| remarks.join(", "))
}

fn pain(book: &Book) -> Vec<(String, String)> {
    book.history
        .sessions()
        .iter()
        .rev()
        .filter(|session| book.window.holds(session.on))
        .flat_map(|session| session.pain.iter().map(move |pain| (session.on, pain)))
        .filter(|(_, pain)| pain.score.get() > 0)
        .map(|(on, pain)| (day_label(on), pain_words(pain)))
        .collect()
}
