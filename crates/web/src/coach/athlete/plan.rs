//! What comes next and what was decided: proposals, weekly decisions, notes, blocks.

use leverbook_domain::next_step::NextStep;
use leverbook_domain::rules::Names;
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::text::capitalised;
use leverbook_store::review::Verdict;

use super::Book;
use crate::chart::day_label;
use crate::coach::review::{from_words, step_words, told};
use crate::coach::words;
use crate::visit::Visit;

/// What the rules propose.
pub(super) struct Proposal {
    pub(super) sentence: String,
    pub(super) reasons: Vec<(&'static str, String)>,
    pub(super) against: Vec<(&'static str, String)>,
    pub(super) would_change: Vec<String>,
    pub(super) as_of: String,
    pub(super) policy: String,
}

pub(super) fn proposals(book: &Book) -> Vec<Proposal> {
    let Some(assessment) = &book.assessment else {
        return Vec::new();
    };
    assessment
        .steps
        .iter()
        .map(|proposal| Proposal {
            sentence: proposal_words(book, proposal),
            reasons: told(&proposal.reasons),
            against: told(&proposal.against),
            would_change: proposal.would_change.clone(),
            as_of: day_label(assessment.as_of),
            policy: book.policy_words(assessment.policy, assessment.exceptions),
        })
        .collect()
}

fn proposal_words(book: &Book, proposal: &NextStep) -> String {
    let club = proposal.loading.map(|loading| book.names.club(loading));
    format!(
        "{}, {}: {}{}",
        capitalised(book.names.movement(proposal.movement)),
        hands_words(proposal.hands),
        step_words(proposal.step, club),
        from_words(proposal)
    )
}

/// A decision of a weekly review.
pub(super) struct Decided {
    pub(super) week: String,
    pub(super) href: String,
    pub(super) sentence: String,
    pub(super) reason: String,
    pub(super) by: String,
    pub(super) day: String,
}

pub(super) fn decisions(book: &Book) -> Vec<Decided> {
    book.decisions
        .iter()
        .filter(|(week, _)| week.sunday() >= book.window.from)
        .map(|(week, decision)| Decided {
            week: week.to_string(),
            href: format!("review?week={week}"),
            sentence: capitalised(&verdict_words(book, &decision.verdict)),
            reason: decision.reason.clone(),
            by: decision.by.clone(),
            day: day_label(decision.at.date()),
        })
        .collect()
}

/// What was decided, inside a sentence.
pub(super) fn verdict_words(book: &Book, verdict: &Verdict) -> String {
    match verdict {
        Verdict::Accept => "as proposed".to_owned(),
        Verdict::Hold => "held, nothing for now".to_owned(),
        Verdict::Change(instead) => {
            let club = instead.loading.map(|loading| book.names.club(loading));
            format!("instead: {}", step_words(instead.step, club))
        }
    }
}

/// A block in a line.
pub(super) struct BlockLine {
    pub(super) href: String,
    pub(super) what: String,
    pub(super) work: String,
    pub(super) days: String,
    pub(super) state: &'static str,
    pub(super) ended_because: String,
}

pub(super) fn blocks(visit: &Visit, book: &Book) -> Vec<BlockLine> {
    book.blocks
        .iter()
        .filter(|block| block.until() >= book.window.from)
        .map(|block| {
            let until = block.until();
            BlockLine {
                href: visit.to(&format!("blocks/{}", block.block)),
                what: format!(
                    "{}, {}, {}",
                    capitalised(&block.movement_name),
                    hands_words(block.hands),
                    block.club_name
                ),
                work: words::scheme(&block.scheme),
                days: format!("{} to {}", day_label(block.starts_on), day_label(until)),
                state: if block.ended.is_some() {
                    "ended early"
                } else if until < book.window.today {
                    "over"
                } else if block.starts_on > book.window.today {
                    "to come"
                } else {
                    "running"
                },
                ended_because: block
                    .ended
                    .as_ref()
                    .map(|(_, why)| why.clone())
                    .unwrap_or_default(),
            }
        })
        .collect()
}
