//! The movements that a new gym starts with. A gym edits its own catalogue; these are a first page.
//! Names are plain words of the trade; notes and faults are this project's own (common practice, no
//! source).

/// A movement as shipped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShippedMovement {
    /// What it is called.
    pub name: &'static str,
    /// What to say to somebody who learns it, a line each.
    pub cues: &'static str,
    /// What to look out for, a line each.
    pub faults: &'static str,
}

/// In the order that they are usually learnt.
pub const SHIPPED: [ShippedMovement; 7] = [
    ShippedMovement {
        name: "front swing",
        cues: "Stand just wider than the hips, club hanging between the legs.\n\
               Send it forward with the hips, arms long, to chest height.\n\
               Let it fall back by its own weight; fold at the hips, back flat.",
        faults: "Lifting with the arms instead of driving with the hips.\n\
                 Rounding the back at the bottom.\n\
                 Swinging higher than the grip can hold on to.",
    },
    ShippedMovement {
        name: "side swing",
        cues: "Club hangs at one side, both feet flat.\n\
               Swing it along the side of the body, elbow straight, shoulder down.\n\
               Turn the trunk with it; the knees stay over the feet.",
        faults: "Leaning away from the club.\n\
                 The knee on that side caving in.\n\
                 Letting it swing behind the line of the shoulder.",
    },
    ShippedMovement {
        name: "pullover",
        cues: "Hold the club upright before the chest, hands close to the breastbone.\n\
               Let the head of it sink behind one shoulder until it hangs down the back.\n\
               Ribs down, elbows high; pull it over the shoulder to the start.",
        faults: "Arching the lower back to make room.\n\
                 Elbows flaring wide, so that the club pulls at the shoulder.\n\
                 Throwing it forward past the start and catching it with the back.",
    },
    ShippedMovement {
        name: "inside circle",
        cues: "From upright before the chest the head falls inward, across the face of the body.\n\
               It passes behind the head, round the back, and comes home over the same shoulder.\n\
               Hands stay near the head; the club does the travelling.",
        faults: "Ducking the head out of the way instead of lifting the elbows.\n\
                 A flat circle that runs into the neck.\n\
                 Stopping short of upright between reps.",
    },
    ShippedMovement {
        name: "outside circle",
        cues: "From upright before the chest the head falls outward, over the shoulder of the working side.\n\
               Let it hang behind the back before it comes round past the other shoulder.\n\
               Breathe out as it comes home.",
        faults: "Rushing the hang, so that the arm pulls before the club is behind.\n\
                 The hip on the working side drifting out.\n\
                 A loose wrist at the catch.",
    },
    ShippedMovement {
        name: "mill",
        cues: "A pullover on one side and then the other, without a stop between.\n\
               Change sides as the club passes upright in front.\n\
               Same height and same hang on both sides.",
        faults: "One side shorter than the other.\n\
                 Speeding up until the hang behind the back is lost.\n\
                 Twisting the feet along with the trunk.",
    },
    ShippedMovement {
        name: "reverse mill",
        cues: "The mill backwards: the club comes forward under control and is sent back over the shoulder.\n\
               Start lighter than for the mill.\n\
               Eyes level, ribs down.",
        faults: "Dropping the club forward instead of lowering it.\n\
                 Gripping so hard that the elbows lock.\n\
                 Going on when the grip slips.",
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Guidance, MovementName};

    #[test]
    fn every_shipped_movement_may_be_written() {
        let mut names: Vec<_> = SHIPPED
            .iter()
            .map(|movement| MovementName::new(movement.name).map(|name| name.as_str().to_owned()))
            .collect::<Result<_, _>>()
            .expect("names can be written");
        for movement in SHIPPED {
            assert!(
                Guidance::new(movement.cues).is_ok_and(|text| text.as_str().lines().count() == 3)
            );
            assert!(
                Guidance::new(movement.faults).is_ok_and(|text| text.as_str().lines().count() == 3)
            );
        }
        names.sort();
        names.dedup();
        assert_eq!(names.len(), SHIPPED.len());
    }
}
