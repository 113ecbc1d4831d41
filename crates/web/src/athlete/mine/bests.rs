//! Personal bests: one's own, beside nobody else's.

use std::collections::BTreeMap;

use leverbook_domain::rules::Names;
use leverbook_domain::training::History;
use leverbook_domain::units::{Density, reps_a_set};
use time::Date;

use crate::athlete::catalogue::Catalogue;
use crate::athlete::log_form::hands_word;
use crate::chart::day_label;

/// The best of one movement, hands and club.
pub(super) struct Best {
    pub(super) what: String,
    pub(super) best: String,
    pub(super) day: String,
}

/// The best density at each key, and the most sets of each straight work, newest first.
pub(super) fn bests(history: &History, catalogue: &Catalogue) -> Vec<Best> {
    let mut densest: BTreeMap<_, (Density, Date)> = BTreeMap::new();
    let mut longest: BTreeMap<_, (u16, Date)> = BTreeMap::new();
    for session in history.sessions() {
        for bout in session.bouts() {
            let what = (bout.movement, bout.hands, bout.loading);
            if let (Some(seconds), Some(density)) = (bout.seconds, bout.density()) {
                let best = densest
                    .entry((what, seconds))
                    .or_insert((density, session.on));
                if density > best.0 {
                    *best = (density, session.on);
                }
            } else if bout.seconds.is_none() {
                let sets = bout.sets_each_side();
                let best = longest
                    .entry((what, bout.reps))
                    .or_insert((sets, session.on));
                if sets > best.0 {
                    *best = (sets, session.on);
                }
            }
        }
    }
    let words = |(movement, hands, loading)| {
        format!(
            "{}, {}, {}",
            catalogue.movement(movement),
            catalogue.club(loading),
            hands_word(hands)
        )
    };
    let dense = densest.into_iter().map(|((what, seconds), (density, on))| {
        let best = format!(
            "{:.1} reps a set of {} seconds",
            reps_a_set(density.rpm(), seconds),
            seconds.get()
        );
        (on, words(what), best)
    });
    let long = longest.into_iter().map(|((what, reps), (sets, on))| {
        let best = format!("{sets} sets of {reps} on each side");
        (on, words(what), best)
    });
    let mut all: Vec<(Date, String, String)> = dense.chain(long).collect();
    all.sort_by(|a, b| b.cmp(a));
    all.into_iter()
        .map(|(on, what, best)| Best {
            what,
            best,
            day: day_label(on),
        })
        .collect()
}
