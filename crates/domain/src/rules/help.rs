//! Every rule in our own words, for the page that explains them: what it says, where it comes from,
//! the gym's own numbers, and when its flag ends.

use crate::policy::{Policy, Threshold};
use crate::rules::Rule;

/// One rule, explained.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleText {
    /// Its id, as everywhere.
    pub id: &'static str,
    /// A few words.
    pub title: &'static str,
    /// The rule.
    pub sentence: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// The numbers it uses, as this policy has them: what, and how much.
    pub thresholds: Vec<(&'static str, String)>,
    /// When its flag ends by itself; `None` for what raises no flag.
    pub ends: Option<&'static str>,
}

/// The families of rules, in order: letter and name.
pub const FAMILIES: [(char, &str); 8] = [
    ('M', "Mechanics of a lever"),
    ('T', "Two hands, against the clock"),
    ('O', "Opening one-hand work"),
    ('V', "One hand, strength by volume"),
    ('B', "Both sides"),
    ('W', "Weight jumps"),
    ('L', "Load, effort and pain"),
    ('A', "Attendance"),
];

const PRACTICE: &str = "Common practice of the trade, no published source.";
const STEP_ENDS: &str = "Once the step is taken back or another follows, the next step is earned on the \
    new club, enough sessions running went well on it, or that way of swinging is left.";
const CLUB_ENDS: &str =
    "Once a bigger club is worked, other clubs took its place, or the club is left.";

macro_rules! or_as_a_club_ends {
    ($own:literal) => {
        concat!(
            $own,
            " In any case once a bigger club is worked, other clubs took its place, or the club is left."
        )
    };
}

/// The rule with this flag.
pub fn rule_text(rule: Rule, policy: &Policy) -> RuleText {
    help(policy)
        .into_iter()
        .find(|text| text.id == rule.id())
        .expect("every rule is explained; a test says so")
}

/// Every rule, by family, in the order of their ids.
pub fn help(policy: &Policy) -> Vec<RuleText> {
    let text = |id, title, sentence, source, ends| RuleText {
        id,
        title,
        sentence,
        source,
        thresholds: thresholds(id, policy),
        ends,
    };
    vec![
        text(
            "M1",
            "Static moment",
            "What it takes to hold a club level: mass times gravity times the distance from the grip to the \
             balance point.",
            "Mechanics; standard gravity 9.80665 m/s² (CGPM 1901).",
            None,
        ),
        text(
            "M2",
            "Moment of inertia",
            "What it takes to swing a club: about the grip, from a swing test or from the club's shape. \
             Without either it is unknown, and nothing is guessed.",
            "Mechanics: physical pendulum and parallel axes, in any handbook.",
            None,
        ),
        text(
            "M3",
            "How far off",
            "Every measured number has a ±; static moment and inertia carry what follows from it.",
            "Propagation of uncertainty, in any handbook.",
            None,
        ),
        text(
            "M4",
            "Step size",
            "How much more one club asks than another: the larger of the steps in static moment and in \
             inertia. Without a balance point it is judged by mass only, and a note says so.",
            PRACTICE,
            Some(STEP_ENDS),
        ),
        text(
            "M5",
            "Gaps in the rack",
            "Neighbouring clubs whose step is over the limit, and what would close each gap.",
            PRACTICE,
            None,
        ),
        text(
            "T1",
            "Work for time",
            "Sets are intervals. The club and the interval stay, the count has to climb.",
            PRACTICE,
            None,
        ),
        text(
            "T2",
            "Density",
            "Reps a minute of work: all reps of a session's interval sets over the time they took, at one \
             movement, way of holding, club and interval.",
            "Definition.",
            None,
        ),
        text(
            "T3",
            "Goal",
            "The density to reach with a club: the coach's, else a multiple of the median of the first \
             sessions with it.",
            PRACTICE,
            None,
        ),
        text(
            "T4",
            "Step earned, two hands",
            "Both sides at or over the goal in sessions running, without great effort or pain. What was not \
             reported does not stand in the way.",
            "Two in a row is the shape of the 2-for-2 rule for adding load (NSCA, Essentials of Strength \
             Training and Conditioning, from memory); that it is taken of density is common practice.",
            Some(CLUB_ENDS),
        ),
        text(
            "T5",
            "Stalled",
            "The count has stopped climbing and the goal is not reached, as far as this athlete's own log \
             can tell it from day-to-day noise.",
            "Ours; how often it is right and wrong was measured on simulated athletes.",
            Some(
                "With a new best, at the goal, once it climbs again for two sessions, or as T4 ends. Not raised again within \
             four sessions.",
            ),
        ),
        text(
            "T6",
            "Falling",
            "The last two sessions lie further under the recent level than this athlete's own day-to-day \
             noise explains.",
            "Ours.",
            Some("Back at the old level, after six sessions on the new one, or as T4 ends."),
        ),
        text(
            "O1",
            "The gate to one-hand work",
            "Enough two-hand clubs finished and enough months of regular two-hand work come before \
             fingertip and one-hand work, and no stop flag stands: until its pain is over, even where a coach \
             closed or quieted it. The coach may open the gate early, with a \
             reason that stays on record. Clubs count in the movement itself where it was trained with two \
             hands.",
            "Common practice, 12 to 24 months; no published source.",
            Some("When the gate opens, or that work is left."),
        ),
        text(
            "O2",
            "Return to light",
            "The first fingertip club and the first one-hand club ask no more than the lightest of the \
             finished ones, by static moment; with none finished, than the lightest club worked with two \
             hands. W5 asks the coach to look at the same thing.",
            PRACTICE,
            Some(
                "With a session that keeps to it, once a step is earned there, enough sessions running went \
                  well, or that way of swinging is left.",
            ),
        ),
        text(
            "O3",
            "Fingertips first",
            "Sets with the fingertips of the other hand come before free one-hand sets.",
            "The order is common practice, the number is ours.",
            Some("Once they were done, or one-hand work is left."),
        ),
        text(
            "V1",
            "Few reps, few sets",
            "Straight sets of few reps on each side, then change hands; the first one-hand session has no \
             more sets than a ladder begins with.",
            PRACTICE,
            Some(or_as_a_club_ends!(
                "With the next session in bounds; too many first sets also once enough sessions went well."
            )),
        ),
        text(
            "V2",
            "Sets, not reps",
            "A ladder adds sets slowly and leaves the reps alone: more reps is another intensity.",
            PRACTICE,
            Some(or_as_a_club_ends!(
                "With the next session that keeps to it."
            )),
        ),
        text(
            "V3",
            "Step earned, one hand",
            "The ladder's target done in full on both sides in sessions running, without great effort or \
             pain.",
            "Two in a row is the shape of the 2-for-2 rule for adding load (NSCA, Essentials of Strength \
             Training and Conditioning, from memory).",
            Some(CLUB_ENDS),
        ),
        text(
            "V4",
            "A step starts again",
            "After a step the ladder starts again with few sets. W4 asks the coach to look at the same thing.",
            PRACTICE,
            Some("With a session of that few sets, or as every flag about a step ends (W1)."),
        ),
        text(
            "V5",
            "Not after a hard one",
            "After a missed rep, great effort or pain, the next session adds no sets.",
            PRACTICE,
            Some(or_as_a_club_ends!("With the next session that adds none.")),
        ),
        text(
            "V6",
            "A week that holds",
            "Every few weeks the ladder holds its sets, or cuts them for a light week.",
            PRACTICE,
            Some(or_as_a_club_ends!("With the next session that adds none.")),
        ),
        text(
            "B1",
            "Equal sides",
            "Equal reps on each side, in every session.",
            PRACTICE,
            Some("With the next session whose sides are equal, or when the movement is left."),
        ),
        text(
            "B2",
            "A side favoured",
            "The difference between the sides over weeks, as a share of their mean, is over the limit.",
            "Index: Robinson et al., J Manipulative Physiol Ther 1987;10:172. 10 % is an arbitrary, widely \
             used cut-off: Herzog et al., Med Sci Sports Exerc 1989;21(1):110-114.",
            Some("When the index is back under the limit."),
        ),
        text(
            "W1",
            "Step too big",
            "The step to a new club is over the limit. Published guidance for adding load is 2 to 10 %, \
             which fixed clubs cannot reach: hence the light start after a step (V4, T3).",
            "The limit is common practice and the coach's own number. 2 to 10 %: Ratamess et al., ACSM \
             position stand, Med Sci Sports Exerc 2009;41(3):687-708.",
            Some(STEP_ENDS),
        ),
        text(
            "W2",
            "Step skipped",
            "A club with a smaller step stood in the rack, and could be used.",
            PRACTICE,
            Some(STEP_ENDS),
        ),
        text(
            "W3",
            "Step not earned",
            "Neither T4 nor V3 ever held on the old club.",
            PRACTICE,
            Some(STEP_ENDS),
        ),
        text(
            "W4",
            "Volume kept",
            "A ladder kept its sets across a step, against V4.",
            PRACTICE,
            Some("As V4."),
        ),
        text(
            "W5",
            "Heavy restart",
            "Fingertip or one-hand work began with too heavy a club, against O2.",
            PRACTICE,
            Some("As O2."),
        ),
        text(
            "L1",
            "Load",
            "A session's load is its effort times its minutes. A week has a sum, a monotony (mean over \
             sample SD of its seven days) and a strain (sum times monotony). Shown as context.",
            "Foster et al., J Strength Cond Res 2001;15(1):109-115; Foster, Med Sci Sports Exerc \
             1998;30(7):1164-1168.",
            None,
        ),
        text(
            "L2",
            "Load spike",
            "The week's load is well over the weighted mean of the weeks before it. Such ratios are disputed \
             as predictors of injury.",
            "Weighted mean: Williams et al., Br J Sports Med 2017;51:209-210. Caution: Impellizzeri et al., \
             Int J Sports Physiol Perform 2020 (both from memory).",
            Some("At the end of the week after."),
        ),
        text(
            "L3",
            "Effort climbing",
            "Great effort in two sessions running, at work that did not change.",
            PRACTICE,
            Some("With the next session of less effort, or when the work changes or is left."),
        ),
        text(
            "L4",
            "Pain",
            "Strong pain once stops the work; milder pain at one place in several sessions running is for the \
             coach to look at. When work is stopped, what is planned in the movement waits until a coach closes or \
             quiets the flag, or it ends; to have seen it is not enough. This is no medical advice: whoever \
             has pain stops, and sees a licensed clinician.",
            "0 to 10 numeric rating; bands of such scales disagree, 4 to 6 is moderate in that of the \
             Canadian Physiotherapy Association's pain science division.",
            Some(
                "After enough sessions of the movement running without pain there; a stop only after as many of \
                 which it was said that nothing hurt.",
            ),
        ),
        text(
            "L5",
            "What has to be said",
            "Effort and pain are asked after every session, and may be left unsaid, but where a rule waits \
             for the answer. Pain has to be said while a pain flag stands and after a session with pain; effort \
             while it climbs, after a very hard session, and while a heavier club is earned. A coach who logs for \
             somebody may leave both unsaid: an answer that was made up would be worse than none.",
            "Ours: a stop ends only with sessions that said that nothing hurt, and silence would let a step pass.",
            None,
        ),
        text(
            "A1",
            "Twice in every week",
            "Too few sessions in each of the last two whole weeks while a block runs, or a long time without \
             any. Excused days do not count. Who comes back after a gap begins with fewer sets, after a very long one \
             with one club lighter, and adds one set a week.",
            "WHO guidelines on physical activity and sedentary behaviour, 2020: muscle strengthening on two \
             or more days a week (from memory).",
            Some("When a week is full again, or with the next session after a gap."),
        ),
    ]
}

/// The numbers that a rule uses, those of its own family first.
fn thresholds(rule: &str, policy: &Policy) -> Vec<(&'static str, String)> {
    let mut used: Vec<&Threshold> = Threshold::ALL
        .iter()
        .filter(|threshold| threshold.rules.contains(&rule))
        .collect();
    used.sort_by_key(|threshold| !rule.starts_with(threshold.family()));
    used.into_iter()
        .map(|threshold| (threshold.words, threshold.unit.words(threshold.of(policy))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rule_is_explained_once_and_in_order() {
        let all = help(&Policy::default());
        for rule in Rule::ALL {
            let found = all.iter().filter(|text| text.id == rule.id()).count();
            assert_eq!(found, 1, "{rule:?}");
            assert_eq!(rule_text(*rule, &Policy::default()).id, rule.id());
        }
        let order: Vec<usize> = all
            .iter()
            .map(|text| {
                let family = |(letter, _): &(char, &str)| text.id.starts_with(*letter);
                FAMILIES.iter().position(family).expect("a family")
            })
            .collect();
        assert!(order.is_sorted());
    }

    #[test]
    fn what_is_shown_is_the_gyms_own_policy() {
        let policy = Policy {
            step_percent: 25.0,
            ..Policy::default()
        };
        let text = rule_text(Rule::W1, &policy);
        assert_eq!(text.thresholds[0], ("Largest step", "25 %".to_owned()));
        assert!(text.source.contains("ACSM"));
    }

    #[test]
    fn every_threshold_is_shown_where_its_row_says() {
        for threshold in Threshold::ALL {
            let shipped = help(&Policy::default());
            for rule in threshold.rules {
                let text = shipped.iter().find(|text| text.id == *rule);
                let shown = &text
                    .unwrap_or_else(|| panic!("{rule} is no rule"))
                    .thresholds;
                let value = threshold.unit.words(threshold.shipped());
                assert!(
                    shown.contains(&(threshold.words, value)),
                    "{rule}: {shown:?}"
                );
            }
        }
    }

    /// The store's tests say that seeing a stop flag does not release the work; here no text says
    /// otherwise.
    #[test]
    fn looking_is_not_said_to_release_the_work() {
        for text in help(&Policy::default()) {
            assert!(!text.sentence.contains("has looked"), "{}", text.id);
        }
        let pain = rule_text(Rule::L4, &Policy::default());
        assert!(
            pain.sentence.contains("closes or quiets"),
            "{}",
            pain.sentence
        );
    }

    #[test]
    fn texts_are_whole_sentences() {
        for text in help(&Policy::default()) {
            for part in [text.sentence, text.source].into_iter().chain(text.ends) {
                assert!(part.ends_with(['.']), "{}: {part}", text.id);
                assert!(!part.contains("  "), "{}: {part}", text.id);
            }
        }
    }
}
