//! What a mail says.

use leverbook_domain::digest::Digest;
use leverbook_domain::id::{AccountId, GymId};
use uuid::Uuid;

/// A mail to one coach about one week.
pub(super) struct Letter {
    pub(super) digest: Digest,
    /// Where links start.
    pub(super) origin: String,
    pub(super) gym: GymId,
    pub(super) gym_name: String,
    pub(super) to_name: String,
    pub(super) to: String,
    pub(super) coach: AccountId,
    pub(super) stop_token: String,
}

impl Letter {
    /// The gym and the week, and nothing that was counted: subjects are shown where others look.
    pub(super) fn subject(&self) -> String {
        let week = self.digest.week;
        format!(
            "{}: week {} of {}",
            self.gym_name,
            week.number(),
            week.year()
        )
    }

    /// Where a click, or a mail program by itself, ends the mails.
    pub(super) fn stop_link(&self) -> String {
        format!("{}/week-mail/{}/{}", self.origin, self.gym, self.stop_token)
    }

    /// The same for every attempt, so that a mail that arrives twice is seen to be one.
    pub(super) fn id(&self) -> Uuid {
        let what = format!("{} {}", self.coach, self.digest.week);
        Uuid::new_v5(&self.gym.0, what.as_bytes())
    }

    pub(super) fn text(&self) -> String {
        let week = self.digest.week;
        format!(
            "Hello {},\n\nweek {} of {} at {}, by the book:\n\n{}\n\nThe review: {}/g/{}/review?week={week}\n\n\
             You asked for this mail on Monday mornings. To stop it: {}\n",
            self.to_name,
            week.number(),
            week.year(),
            self.gym_name,
            self.digest
                .lines()
                .iter()
                .map(|line| format!("- {line}"))
                .collect::<Vec<_>>()
                .join("\n"),
            self.origin,
            self.gym,
            self.stop_link(),
        )
    }
}
