//! Effort, pain and load.

use leverbook_domain::rules::load_weeks;
use leverbook_domain::stats::week_load;

use super::Book;
use super::work::pain_words;
use crate::chart::{self, Joined, LineChart, Lines, Reading, Table, day_label};

/// How it felt, and how much it was.
pub(super) struct Body {
    pub(super) felt: Option<LineChart>,
    pub(super) load: Option<LineChart>,
    /// Every report of pain over 0, newest first: day and words.
    pub(super) pain: Vec<(String, String)>,
}

pub(super) fn body(book: &Book) -> Body {
    Body {
        felt: felt(book),
        load: load(book),
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
    .draw()
}

fn load(book: &Book) -> Option<LineChart> {
    let weeks: Vec<_> = load_weeks(&book.history, &book.policy, book.window.today)
        .into_iter()
        .filter(|week| book.window.holds(week.monday))
        .collect();
    let readings = weeks
        .iter()
        .map(|week| Reading {
            day: week.monday,
            value: week.sum(),
            said: format!("{:.0}", week.sum()),
        })
        .collect();
    let mut chart = Lines {
        id: "load",
        title: "Load by week: effort × minutes, summed".to_owned(),
        description: "Weeks run from Monday; the running week is not over.".to_owned(),
        series: &[chart::Series {
            name: "load".to_owned(),
            readings,
        }],
        joined: Joined::Steps,
        goal: None,
        from_nought: true,
    }
    .draw()?;
    chart.table = Table {
        caption: chart.title.clone(),
        head: ["Week from", "Load", "Monotony", "Strain", "Remark"]
            .map(str::to_owned)
            .into(),
        rows: weeks
            .iter()
            .rev()
            .map(|week| {
                let figures = week_load(&week.daily);
                let or_dash = |value: Option<f64>, decimals: usize| {
                    value.map_or_else(|| "–".to_owned(), |value| format!("{value:.decimals$}"))
                };
                let remarks: Vec<&str> = [
                    week.incomplete.then_some("effort missing"),
                    week.minutes_estimated.then_some("minutes estimated"),
                ]
                .into_iter()
                .flatten()
                .collect();
                vec![
                    day_label(week.monday),
                    format!("{:.0}", figures.sum),
                    or_dash(figures.monotony, 2),
                    or_dash(figures.strain, 0),
                    remarks.join(", "),
                ]
            })
            .collect(),
    };
    Some(chart)
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
