//! Where athletes stand in the rack: at the club that each last worked, in one movement held one way. A
//! coach sees their own athletes, an athlete nobody but themselves, and everybody else no people at all.

use std::collections::HashMap;

use leverbook_domain::id::{AthleteId, LoadingId, MovementId};
use leverbook_domain::training::Hands;
use leverbook_store::athletes::Athlete;
use leverbook_store::people::Role;
use leverbook_store::rack::Movement;
use leverbook_store::{GymTx, StoreError, blocks, flags, log, rack};
use time::Duration;

use super::Asked;
use crate::chart::day_label;
use crate::coach::words;
use crate::form::Form;
use crate::parts::Choice;
use crate::visit::Visit;

/// Who has not worked a movement for longer stands nowhere.
const WITHIN: Duration = Duration::days(365);

/// Who stands where, and what there is to choose.
pub(super) struct Standing {
    pub(super) form: Form,
    pub(super) movements: Vec<Choice>,
    pub(super) hands: Vec<Choice>,
    /// Names at each loading.
    at: HashMap<LoadingId, Vec<Stander>>,
    /// How many have done no such work within a year.
    pub(super) nowhere: usize,
}

struct Stander {
    name: String,
    last_on: String,
}

impl Standing {
    /// For whom the visitor may see; `None` where that is nobody.
    pub(super) async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        athlete: Option<&Athlete>,
        asked: &Asked,
    ) -> Result<Option<Self>, StoreError> {
        let coach = visit.roles.any(&[Role::Coach]);
        let mut people: Vec<(AthleteId, String)> = if coach {
            let roster = blocks::assignable(tx).await?;
            roster
                .into_iter()
                .map(|one| (one.athlete, one.name))
                .collect()
        } else {
            let own = athlete.filter(|athlete| athlete.person == Some(visit.account));
            own.map(|athlete| (athlete.id, athlete.name.to_string()))
                .into_iter()
                .collect()
        };
        if let Some(athlete) = athlete {
            people.retain(|(id, _)| *id == athlete.id);
        }
        if people.is_empty() {
            return Ok(None);
        }
        let ids: Vec<AthleteId> = people.iter().map(|(id, _)| *id).collect();
        let movements: Vec<Movement> = rack::movements(tx)
            .await?
            .into_iter()
            .filter(|movement| movement.retired_at.is_none())
            .collect();
        let Some((movement, hands)) = chosen(tx, &ids, &movements, asked).await? else {
            return Ok(None);
        };
        let since = visit.today.saturating_sub(WITHIN);
        let last = log::last_worked(tx, &ids, movement, hands, since).await?;
        let mut at: HashMap<LoadingId, Vec<Stander>> = HashMap::new();
        let mut nowhere = 0;
        for (id, name) in people {
            match last.get(&id) {
                Some((loading, on)) => at.entry(*loading).or_default().push(Stander {
                    name,
                    last_on: day_label(*on),
                }),
                None => nowhere += 1,
            }
        }
        Ok(Some(Self {
            form: Form::with([
                ("movement", movement.to_string()),
                ("hands", hands.word().to_owned()),
            ]),
            movements: movements
                .iter()
                .map(|one| Choice::new(one.id.to_string(), one.details.name.as_str()))
                .collect(),
            hands: Hands::ALL
                .into_iter()
                .map(|hands| Choice::new(hands.word(), words::hands(hands)))
                .collect(),
            at,
            nowhere,
        }))
    }

    /// Who stands at a loading.
    pub(super) fn at(&self, loading: LoadingId) -> Vec<String> {
        let here = self.at.get(&loading).into_iter().flatten();
        here.map(|stander| stander.name.clone()).collect()
    }

    /// Who stands at none of these: "Ida Marsh, last with Oak 6 on Sat 21 November".
    pub(super) fn elsewhere(
        &self,
        shown: &[LoadingId],
        name: impl Fn(LoadingId) -> String,
    ) -> Vec<String> {
        let mut lines: Vec<String> = self
            .at
            .iter()
            .filter(|(loading, _)| !shown.contains(loading))
            .flat_map(|(loading, standers)| {
                let club = name(*loading);
                standers
                    .iter()
                    .map(move |one| format!("{}, last with {club} on {}", one.name, one.last_on))
            })
            .collect();
        lines.sort();
        lines
    }
}

/// The movement and hands asked for, else those that most of these athletes are at.
async fn chosen(
    tx: &mut GymTx,
    athletes: &[AthleteId],
    movements: &[Movement],
    asked: &Asked,
) -> Result<Option<(MovementId, Hands)>, StoreError> {
    let movement = asked.movement.as_deref().and_then(|text| text.parse().ok());
    let hands = asked.hands.as_deref().and_then(Hands::from_word);
    if let Some(pair) = movement.zip(hands) {
        let known = movements.iter().any(|one| one.id == pair.0);
        if known {
            return Ok(Some(pair));
        }
    }
    if let Some(usual) = flags::usual_work(tx, athletes).await?
        && movements.iter().any(|one| one.id == usual.0)
    {
        return Ok(Some(usual));
    }
    Ok(movements.first().map(|first| (first.id, Hands::Two)))
}
