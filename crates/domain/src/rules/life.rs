//! The life of a flag, for every family: how it is raised, stands and ends.
//!
//! A rule is asked about one session, or one day, after the other. The first that breaks it raises the
//! flag; while the next ones break it too, the flag stands and keeps the newest figures; the first that
//! does not ends it. A flag about a club ends with the club's time as well ([`super::club_use`]): there is
//! nothing left to do about it.

use time::Date;

use super::{Episode, Evidence, Flag, Rule, Severity, Subject};
use crate::id::{LoadingId, MovementId};
use crate::training::Hands;

/// One rule about one subject, from the first flag to the last.
#[derive(Debug)]
pub(super) struct Life {
    rule: Rule,
    severity: Severity,
    subject: Subject,
    standing: Option<(Date, Evidence)>,
    over: Vec<Episode>,
}

impl Life {
    pub(super) const fn new(rule: Rule, subject: Subject) -> Self {
        Self {
            rule,
            severity: rule.severity(),
            subject,
            standing: None,
            over: Vec::new(),
        }
    }

    /// With another severity than the rule's own.
    pub(super) const fn with_severity(mut self, severity: Severity) -> Self {
        self.severity = severity;
        self
    }

    /// The next flag is about this; one that stands keeps its subject.
    pub(super) fn turn_to(&mut self, subject: Subject) {
        if self.standing.is_none() {
            self.subject = subject;
        }
    }

    /// Takes in what a day shows: figures where the rule is broken, `None` where it is kept to.
    pub(super) fn shows(&mut self, on: Date, broken: Option<Evidence>) {
        match broken {
            Some(evidence) => self.raise(on, evidence),
            None => self.end(on),
        }
    }

    /// Raises the flag; one that stands already keeps its day and takes the newer figures.
    pub(super) fn raise(&mut self, on: Date, evidence: Evidence) {
        let since = self.since().unwrap_or(on);
        self.standing = Some((since, evidence));
    }

    /// Ends the flag, if it stands.
    pub(super) fn end(&mut self, on: Date) {
        self.write(Some(on));
    }

    /// Since when the flag stands.
    pub(super) fn since(&self) -> Option<Date> {
        self.standing.as_ref().map(|(since, _)| *since)
    }

    /// Every episode; what stands has no end.
    pub(super) fn episodes(mut self) -> Vec<Episode> {
        self.write(None);
        self.over
    }

    fn write(&mut self, until: Option<Date>) {
        if let Some((since, evidence)) = self.standing.take() {
            self.over.push(Episode {
                flag: Flag {
                    rule: self.rule,
                    severity: self.severity,
                    subject: self.subject.clone(),
                    since,
                    evidence,
                },
                until,
            });
        }
    }
}

/// One episode whose beginning, end and figures are known at once.
pub(super) fn episode(
    rule: Rule,
    subject: Subject,
    (since, until): (Date, Option<Date>),
    evidence: Evidence,
) -> Episode {
    Episode {
        flag: Flag {
            rule,
            severity: rule.severity(),
            subject,
            since,
            evidence,
        },
        until,
    }
}

/// A flag about a club, as a movement is swung with it.
pub(super) fn about_club(movement: MovementId, hands: Hands, loading: LoadingId) -> Subject {
    Subject {
        movement: Some(movement),
        hands: Some(hands),
        loading: Some(loading),
        seconds: None,
        place: None,
    }
}
