//! W1, W2: which club in reach a step would go to.

use super::History;
use crate::club::{StepBasis, StepSize, step_size};
use crate::id::LoadingId;
use crate::policy::Policy;

/// The club that a step from another one would go to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NextClub {
    /// This one, and how much more it asks.
    Within(LoadingId, StepSize),
    /// The smallest step leads to this one, but it is over the limit (W1).
    TooFar(LoadingId, StepSize),
    /// No usable club is a step up.
    None,
}

impl History {
    /// M4: a change to a club with a greater lever demand: the step from one club to another, where it leads up
    /// by enough to be one (2 %, the low end of the 2 to 10 % by which loads are published to go up, ACSM 2009).
    /// `None` too where nothing is known of one of the two.
    pub fn step_up(&self, policy: &Policy, from: LoadingId, to: LoadingId) -> Option<StepSize> {
        let size = step_size(&self.club(from)?.mechanics, &self.club(to)?.mechanics);
        let least = policy.step_percent_min / 100.0;
        let is_step = size.fraction.is_finite() && size.leads_up() && size.fraction >= least;
        is_step.then_some(size)
    }

    /// W1, W2: the usable club with the smallest step up that is within the limit. A step by mass only is
    /// taken where no measured one is within it.
    pub fn next_club(&self, policy: &Policy, from: LoadingId) -> NextClub {
        let limit = policy.step_percent / 100.0;
        let smallest = |by_mass: bool| {
            self.clubs
                .iter()
                .filter(|club| club.usable)
                .filter_map(|club| Some((club.loading, self.step_up(policy, from, club.loading)?)))
                .filter(|(_, size)| (size.basis == StepBasis::MassOnly) == by_mass)
                .min_by(|a, b| a.1.fraction.total_cmp(&b.1.fraction).then(a.0.cmp(&b.0)))
        };
        let (measured, by_mass) = (smallest(false), smallest(true));
        let within = [measured, by_mass]
            .into_iter()
            .flatten()
            .find(|(_, size)| !size.is_over(limit));
        match (within, measured.or(by_mass)) {
            (Some((club, size)), _) => NextClub::Within(club, size),
            (None, Some((club, size))) => NextClub::TooFar(club, size),
            (None, None) => NextClub::None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::club::ClubMeasure;
    use crate::scenario::{club, history, of_mass};
    use crate::training::AvailableClub;

    /// A club of which only the mass is known.
    fn weighed_only(number: u128, mass_kg: f64) -> AvailableClub {
        let json = format!(r#"{{"mass_kg":{mass_kg}}}"#);
        let measure: ClubMeasure = serde_json::from_str(&json).unwrap();
        AvailableClub {
            mechanics: *measure.mechanics(),
            ..of_mass(number, mass_kg)
        }
    }

    fn from_first(clubs: Vec<AvailableClub>) -> NextClub {
        history(Vec::new(), clubs).next_club(&Policy::default(), club(1))
    }

    fn step(next: NextClub) -> (u128, &'static str, i64) {
        let (loading, size, word) = match next {
            NextClub::Within(loading, size) => (loading, size, "within"),
            NextClub::TooFar(loading, size) => (loading, size, "too far"),
            NextClub::None => return (0, "none", 0),
        };
        let number = (1..9).find(|number| club(*number) == loading).unwrap();
        (number, word, (1000.0 * size.fraction).round() as i64)
    }

    // Common practice, no source: the smallest usable step, at most a third (W1), at least 2 % (M4). By hand.
    #[test]
    fn the_smallest_usable_step_within_the_limit() {
        let gone = |number, kg| AvailableClub {
            usable: false,
            ..of_mass(number, kg)
        };
        let cases = [
            (vec![of_mass(1, 20.0)], (0, "none", 0)),
            (
                vec![of_mass(1, 20.0), of_mass(2, 26.0), of_mass(3, 24.0)],
                (3, "within", 200),
            ),
            // A third is 33 % in the policy: 26.6 is at the limit, 26.7 over it.
            (vec![of_mass(1, 20.0), of_mass(2, 26.6)], (2, "within", 330)),
            (
                vec![of_mass(1, 20.0), of_mass(2, 26.7)],
                (2, "too far", 335),
            ),
            // Under 2 % is no step, nor is a lighter club, nor one that cannot be picked up.
            (
                vec![of_mass(1, 20.0), of_mass(2, 20.3), of_mass(3, 10.0)],
                (0, "none", 0),
            ),
            (vec![of_mass(1, 20.0), of_mass(2, 20.5)], (2, "within", 25)),
            (
                vec![of_mass(1, 20.0), gone(2, 22.0), of_mass(3, 25.0)],
                (3, "within", 250),
            ),
        ];
        for (clubs, expected) in cases {
            let said = format!("{clubs:?}");
            assert_eq!(step(from_first(clubs)), expected, "{said}");
        }
    }

    // Common practice, no source: however small a step may be, it leads up. By hand.
    #[test]
    fn a_club_is_no_step_from_itself() {
        let any = Policy {
            step_percent_min: 0.0,
            ..Policy::default()
        };
        let next = |clubs| history(Vec::new(), clubs).next_club(&any, club(1));
        let twin = || vec![of_mass(1, 20.0), of_mass(2, 20.0)];
        assert_eq!(step(next(twin())), (0, "none", 0));
        let bigger = [twin(), vec![of_mass(3, 20.2)]].concat();
        assert_eq!(step(next(bigger)), (3, "within", 10));
        let twins = history(Vec::new(), twin());
        assert_eq!(twins.step_up(&any, club(1), club(1)), None);
    }

    // A measured step is trusted before one that is judged by mass only, as long as it is within the limit.
    #[test]
    fn by_mass_only_where_nothing_measured_is_near_enough() {
        let measured = of_mass(1, 20.0);
        let light = weighed_only(2, 22.0);
        let near = [measured.clone(), light.clone(), of_mass(3, 25.0)];
        assert_eq!(step(from_first(near.to_vec())), (3, "within", 250));
        let far = [measured.clone(), light, of_mass(3, 40.0)];
        assert_eq!(step(from_first(far.to_vec())), (2, "within", 100));
        let both_far = [measured, weighed_only(2, 40.0), of_mass(3, 40.0)];
        assert_eq!(step(from_first(both_far.to_vec())), (3, "too far", 1000));
    }
}
