//! The study's printed tables.

use std::fmt::Write as _;

use crate::athlete::Goal;
use crate::measure::{Figures, measure};
use crate::rules::{ORACLE, Rule, SCAN};
use crate::scenarios::{Named, countings, events, grid, published};

/// What is compared, and with which chance.
#[derive(Debug, Clone, Copy)]
pub struct Study {
    /// Of the simulated athletes; none of them was used to set a constant as long as it is not [`TUNED_WITH`].
    pub seed: u64,
    /// Athletes for each row of the published comparison; a quarter of them for each of the other settings.
    pub athletes: u64,
}

/// The seeds with which the constants of the judgement, and the bars of the rules that know the noise, were set. The
/// study's own default and its tests use others.
pub const TUNED_WITH: [u64; 4] = [1, 2, 3, 4];

/// The seed of the published figures.
pub const HELD_OUT: u64 = 20_261_125;

/// What was published of the rules beside ours: rule, then false alarms and plateaus seen with independent noise, and
/// the same with AR(1) 0.3 where they were.
const PUBLISHED: [(Rule, &str, &str); 5] = [
    (Rule::NoNewBest(4), "62 / 90", ""),
    (Rule::NoNewBest(6), "17 / 49", ""),
    (
        Rule::TrendTest {
            window: 8,
            p_over: 0.3,
        },
        "43 / 92",
        "",
    ),
    (SCAN, "9 / 77", "12 / 71"),
    (ORACLE, "7 / 87", "6 / 73"),
];

/// A naive rule that dominates ours at a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct Beaten {
    /// The setting's name.
    pub setting: String,
    /// The naive rule.
    pub by: Rule,
}

/// The naive rules that have no more false alarms than ours at a setting, and see more plateaus: of all athletes, or as
/// their first alarm.
#[must_use]
pub fn beaten_at((name, setting): &Named, study: Study) -> Vec<Beaten> {
    let naive = Rule::of_thumb();
    let rules: Vec<Rule> = [Rule::Judgement].into_iter().chain(naive).collect();
    let figures = measure(setting, &rules, study.seed, study.athletes);
    let ours = &figures[0];
    let beats = |rival: &Figures| {
        rival.false_alarms() <= ours.false_alarms()
            && (rival.seen() > ours.seen() || rival.seen_first() > ours.seen_first())
    };
    rules
        .iter()
        .zip(&figures)
        .skip(1)
        .filter(|(_, figures)| beats(figures))
        .map(|(rule, _)| Beaten {
            setting: name.clone(),
            by: *rule,
        })
        .collect()
}

impl Study {
    /// All tables.
    #[must_use]
    pub fn tables(self) -> String {
        let mut text = String::new();
        self.write(&mut text).expect("text can be written");
        text
    }

    fn fewer(self) -> Self {
        Self {
            athletes: self.athletes.div_ceil(4),
            ..self
        }
    }

    fn write(self, text: &mut String) -> std::fmt::Result {
        writeln!(
            text,
            "Stall rules on {} simulated athletes a row, seed {} (the constants were set with seeds {TUNED_WITH:?}).\n\
             false: alarmed in 8 weeks of real growth (two more than until the plateau, if that is later).\n\
             seen: called stalled within 4 weeks after growth ended; of all, and of those never called so before.\n\
             delay: median weeks to the first alarm of the latter. Standard error of 5 % ± {:.1}, of 80 % ± {:.1}.",
            self.athletes,
            self.seed,
            100.0 * (0.05 * 0.95 / self.athletes as f64).sqrt(),
            100.0 * (0.8 * 0.2 / self.athletes as f64).sqrt(),
        )?;
        let mut rules = vec![Rule::Judgement, Rule::Flag(Goal::Default), SCAN, ORACLE];
        rules.extend(Rule::of_thumb());
        for (index, (name, setting)) in published().iter().enumerate() {
            heading(text, name, "published")?;
            let figures = measure(setting, &rules, self.seed, self.athletes);
            for (rule, figures) in rules.iter().zip(&figures) {
                let known = PUBLISHED.iter().find(|(known, ..)| known == rule);
                let known = known.map_or("", |(_, first, second)| [*first, *second][index]);
                row(text, &rule.name(), figures, known)?;
            }
        }
        let few = self.fewer();
        heading(
            text,
            &format!("T5, {} athletes a row", few.athletes),
            "beaten by",
        )?;
        for named in grid() {
            let figures = measure(&named.1, &[Rule::Judgement], few.seed, few.athletes);
            let beaten = beaten_at(&named, few);
            let by: Vec<String> = beaten.iter().map(|beaten| beaten.by.name()).collect();
            let by = if by.is_empty() {
                "none".to_owned()
            } else {
                by.join("; ")
            };
            row(text, &named.0, &figures[0], &by)?;
        }
        for (name, setting) in countings() {
            let figures = measure(&setting, &[Rule::Judgement], few.seed, few.athletes);
            row(text, &name, &figures[0], "")?;
        }
        heading(text, "T5 by all the rules; after four weeks there is", "")?;
        for (name, setting) in events() {
            let figures = measure(
                &setting,
                &[Rule::Flag(Goal::Default)],
                few.seed,
                few.athletes,
            );
            row(text, &name, &figures[0], "")?;
        }
        Ok(())
    }
}

fn heading(text: &mut String, name: &str, last: &str) -> std::fmt::Result {
    writeln!(
        text,
        "\n{name:46} {:>7} {:>7} {:>9} {:>7}  {last}",
        "false", "seen", "unalarmed", "delay"
    )
}

fn row(text: &mut String, name: &str, figures: &Figures, last: &str) -> std::fmt::Result {
    let delay = figures.median_delay();
    let delay = delay.map_or("> 4".to_owned(), |weeks| format!("{weeks:.1}"));
    let line = format!(
        "{name:46} {:>6.1}% {:>6.1}% {:>8.1}% {delay:>7}  {last}",
        100.0 * figures.false_alarms(),
        100.0 * figures.seen(),
        100.0 * figures.seen_of_unalarmed(),
    );
    writeln!(text, "{}", line.trim_end())
}
