//! A club drawn to scale as a lever, from what the rack knows of it.
//!
//! All pictures of a rack share one scale, so that two clubs look as long beside each other as they
//! are. What nobody has measured is said to be unknown: it is left out of the drawing, or dotted, and
//! never guessed.

use std::fmt::Write as _;

use leverbook_domain::club::{BareClub, ClubMeasure, Plate, Segment};
use leverbook_domain::units::{Length, UnitSystem};

/// Where a rack has no length at all, a scale still needs an end, mm.
const USUAL_LONGEST: f64 = 1000.0;

/// The area of a disc stands for a mass: its radius for one kilogram, mm.
const RADIUS_OF_A_KILOGRAM: f64 = 15.0;

/// The scale that the pictures of one rack share. One unit of a drawing is one millimetre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    /// The far end of the longest club, mm from the knob; `None` where no length is known.
    longest: Option<f64>,
    units: UnitSystem,
}

/// A picture, ready for `parts/club_picture.html`. Places are in millimetres from the knob and, down,
/// from the middle of the club.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct ClubPicture {
    /// What it is, with its figures: "Oak 6: 6 kg, 620 mm, balance 405 mm from the knob".
    pub(crate) words: String,
    /// The gist of the drawing.
    pub(crate) about: String,
    /// Of the drawing with its margins.
    pub(crate) width: f64,
    pub(crate) height: f64,
    /// Where the knob is, across, and the middle of the club, down.
    pub(crate) knob: f64,
    pub(crate) middle: f64,
    /// One hundredth of the width: what signs and letters are measured by.
    pub(crate) sign: f64,
    /// Where the ruler is, down, from the middle of the club.
    pub(crate) ruler: f64,
    pub(crate) ticks: Vec<RulerTick>,
    /// The far end of the ruler.
    pub(crate) ruler_end: f64,
    /// The length of the longest club of the rack.
    pub(crate) longest: f64,
    /// The far end of a plain rod; `None` where a shape is drawn, or nothing is known of its length.
    pub(crate) rod: Option<f64>,
    /// From where on nobody knows how far the club goes.
    pub(crate) unknown_from: Option<f64>,
    /// The outline of a built shape, as path data.
    pub(crate) outline: String,
    pub(crate) plates: Vec<DrawnPlate>,
    /// The middle of the hands.
    pub(crate) grip: Option<f64>,
    pub(crate) weight: Option<Weight>,
}

/// A mark on the ruler.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RulerTick {
    pub(crate) at: f64,
    /// Empty at marks between those that are numbered.
    pub(crate) label: String,
}

/// A plate, seen from the side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct DrawnPlate {
    pub(crate) from: f64,
    pub(crate) thickness: f64,
    pub(crate) radius: f64,
}

/// The mass, hung where the club balances.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Weight {
    pub(crate) at: f64,
    /// Its middle, down.
    pub(crate) down: f64,
    pub(crate) radius: f64,
}

impl Scale {
    /// The scale on which every one of these clubs fits.
    pub(crate) fn over<'a>(
        clubs: impl IntoIterator<Item = &'a ClubMeasure>,
        units: UnitSystem,
    ) -> Self {
        let longest = clubs
            .into_iter()
            .filter(|club| club.mechanics().length.is_some())
            .filter_map(far_end)
            .max_by(f64::total_cmp);
        Self { longest, units }
    }

    /// Every hundred millimetres, or five inches; every fifth one, or second one, is numbered.
    fn ticks(self, end: f64) -> Vec<RulerTick> {
        let (step, numbered) = self.step();
        let count = (end / step).round() as u32;
        (0..=count)
            .map(|place| {
                let at = f64::from(place) * step;
                let label = Length::from_mm(at)
                    .ok()
                    .filter(|_| place % numbered == 0)
                    .map_or_else(String::new, |length| self.units.format_length(length));
                RulerTick { at, label }
            })
            .collect()
    }

    /// The distance between two marks, mm, and which of them are numbered.
    const fn step(self) -> (f64, u32) {
        match self.units {
            UnitSystem::Kilogram => (100.0, 5),
            UnitSystem::Pound => (127.0, 2),
        }
    }

    /// Draws a club. One that is longer than the scale makes its own picture's ruler longer.
    pub(crate) fn draw(self, name: &str, club: &ClubMeasure) -> ClubPicture {
        let known = far_end(club);
        let longest = self
            .longest
            .unwrap_or(USUAL_LONGEST)
            .max(known.unwrap_or(0.0));
        let (step, _) = self.step();
        let ruler_end = (longest / step).ceil() * step;
        let sign = ruler_end / 90.0;
        let length = club.mechanics().length.map(|length| length.value().mm());
        let half = half_width(club).max(sign);
        let middle = 13.0 * sign + half;
        let weight = weight(club, half + 4.0 * sign);
        let below = weight.map_or(half, |weight| weight.down + weight.radius);
        let shape = outline(club.bare());
        ClubPicture {
            words: format!("{name}: {}", words(club, self.units)),
            about: self.about(club),
            width: round(ruler_end + 10.0 * sign),
            height: round(middle + below + sign),
            knob: round(5.0 * sign),
            middle: round(middle),
            sign: round(sign),
            ruler: round(6.0 * sign - middle),
            ticks: self.ticks(ruler_end),
            ruler_end,
            longest,
            rod: length.or(known).filter(|_| shape.is_empty()),
            unknown_from: match length {
                Some(_) => None,
                None => Some(known.unwrap_or(0.0)),
            },
            outline: shape,
            plates: club.plates().iter().map(DrawnPlate::of).collect(),
            grip: club.grip().map(Length::mm),
            weight,
        }
    }

    fn about(self, club: &ClubMeasure) -> String {
        let length = club.mechanics().length.map(|length| length.value().mm());
        let mut about = match (length, self.longest) {
            (Some(length), Some(longest)) if length < longest => format!(
                "Drawn to scale: {:.0} % as long as the longest club here.",
                100.0 * length / longest
            ),
            (Some(_), _) => "Drawn to scale: the longest club here.".to_owned(),
            (None, _) => "How far it goes is not drawn: nobody has measured its length.".to_owned(),
        };
        about.push_str(match (club.mechanics().balance, club.grip()) {
            (Some(_), _) => " Its mass hangs where it balances.",
            (None, _) => " Its mass is not drawn: nobody has balanced it yet.",
        });
        if let Some(grip) = club.grip() {
            let grip = self.units.format_length(grip);
            write!(about, " The hands are {grip} from the knob.")
                .expect("writing to a string cannot fail");
        }
        about
    }
}

impl DrawnPlate {
    fn of(plate: &Plate) -> Self {
        Self {
            from: round(plate.offset.mm() - plate.thickness.mm() / 2.0),
            thickness: round(plate.thickness.mm()),
            radius: round(plate.radius.mm()),
        }
    }
}

/// What is known of a club, and what is not.
fn words(club: &ClubMeasure, units: UnitSystem) -> String {
    let mechanics = club.mechanics();
    let mass = units.format_mass(mechanics.mass.value());
    let length = mechanics.length.map_or_else(
        || "length unknown".to_owned(),
        |length| units.format_length(length.value()),
    );
    let balance = mechanics.balance.map_or_else(
        || "balance point unknown".to_owned(),
        |at| format!("balance {} from the knob", units.format_length(at.value())),
    );
    let plates = match club.plates().len() {
        0 => String::new(),
        1 => ", one plate".to_owned(),
        many => format!(", {many} plates"),
    };
    format!("{mass}{plates}, {length}, {balance}")
}

/// The farthest point from the knob that anything is known of, mm.
fn far_end(club: &ClubMeasure) -> Option<f64> {
    let mechanics = club.mechanics();
    let plates = club
        .plates()
        .iter()
        .map(|plate| plate.offset.mm() + plate.thickness.mm() / 2.0);
    [mechanics.length, mechanics.balance]
        .into_iter()
        .flatten()
        .map(|known| known.value().mm())
        .chain(club.grip().map(Length::mm))
        .chain(plates)
        .max_by(f64::total_cmp)
}

/// How far the drawing goes up and down from its middle, mm; 0 of a plain rod.
fn half_width(club: &ClubMeasure) -> f64 {
    let pieces: &[Segment] = match club.bare() {
        BareClub::Shape(pieces) => pieces,
        BareClub::Weighed { .. } => &[],
    };
    pieces
        .iter()
        .flat_map(|piece| [piece.start_radius.mm(), piece.end_radius.mm()])
        .chain(club.plates().iter().map(|plate| plate.radius.mm()))
        .fold(0.0, f64::max)
}

fn weight(club: &ClubMeasure, below: f64) -> Option<Weight> {
    let at = club.mechanics().balance?.value().mm();
    let radius = RADIUS_OF_A_KILOGRAM * club.mechanics().mass.value().kg().sqrt();
    Some(Weight {
        at: round(at),
        down: round(below + radius),
        radius: round(radius),
    })
}

/// The outline of a built shape: along its upper side to the far end and back along the lower one.
fn outline(bare: &BareClub) -> String {
    let BareClub::Shape(pieces) = bare else {
        return String::new();
    };
    let mut at = 0.0;
    let mut upper: Vec<(f64, f64)> = Vec::new();
    for piece in pieces {
        upper.push((at, piece.start_radius.mm()));
        at += piece.length.mm();
        upper.push((at, piece.end_radius.mm()));
    }
    let lower: Vec<(f64, f64)> = upper.iter().rev().map(|(x, y)| (*x, -y)).collect();
    let mut path = String::new();
    for (place, (x, y)) in upper.into_iter().chain(lower).enumerate() {
        let to = if place == 0 { 'M' } else { 'L' };
        write!(path, "{to}{} {}", round(x), round(-y)).expect("writing to a string cannot fail");
    }
    path + "z"
}

/// A tenth of a millimetre is finer than any screen draws.
fn round(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn club(fields: serde_json::Value) -> ClubMeasure {
        serde_json::from_value(fields).expect("a possible club")
    }

    fn lever(length: f64) -> ClubMeasure {
        club(serde_json::json!({
            "mass_kg": 6.0, "length_mm": length, "balance_mm": length * 0.6, "grip_mm": 60.0,
        }))
    }

    const KILOGRAM: UnitSystem = UnitSystem::Kilogram;

    // By hand: lengths of 400 and 600 mm are as 2 to 3, whatever else is in the rack.
    #[test]
    fn two_clubs_are_drawn_as_long_beside_each_other_as_they_are() {
        let (short, long) = (lever(400.0), lever(600.0));
        for third in [620.0, 1180.0] {
            let scale = Scale::over([&short, &long, &lever(third)], KILOGRAM);
            let pictures = [&short, &long].map(|club| scale.draw("A", club));
            assert_eq!(pictures[0].width, pictures[1].width, "one scale");
            let [a, b] = pictures.map(|picture| picture.rod.expect("a rod") / picture.width);
            assert!((a / b - 400.0 / 600.0).abs() < 1e-9, "{a} {b}");
        }
    }

    // By hand: one unit is one millimetre, from the knob on.
    #[test]
    fn a_unit_of_the_drawing_is_a_millimetre() {
        let oak = lever(720.0);
        let picture = Scale::over([&oak, &lever(950.0)], KILOGRAM).draw("Oak 6", &oak);
        assert_eq!(picture.rod, Some(720.0));
        assert_eq!(picture.grip, Some(60.0));
        assert_eq!(picture.weight.map(|weight| weight.at), Some(432.0));
        assert_eq!((picture.longest, picture.ruler_end), (950.0, 1000.0));
        let marks: Vec<f64> = picture.ticks.iter().map(|tick| tick.at).collect();
        assert_eq!(marks.len(), 11);
        assert_eq!(marks[7], 700.0);
        let numbered: Vec<&str> = picture
            .ticks
            .iter()
            .map(|tick| tick.label.as_str())
            .filter(|label| !label.is_empty())
            .collect();
        assert_eq!(numbered, ["0 mm", "500 mm", "1000 mm"]);
        assert_eq!(
            picture.words,
            "Oak 6: 6 kg, 720 mm, balance 432 mm from the knob"
        );
        assert!(picture.about.contains("76 % as long"), "{}", picture.about);
    }

    // Areas of circles: four times the mass has twice the radius.
    #[test]
    fn the_area_of_the_disc_stands_for_the_mass() {
        let of = |mass: f64| {
            let club = club(serde_json::json!({
                "mass_kg": mass, "length_mm": 700.0, "balance_mm": 400.0,
            }));
            let picture = Scale::over([&club], KILOGRAM).draw("A", &club);
            picture.weight.expect("a disc").radius
        };
        assert!((of(8.0) / of(2.0) - 2.0).abs() < 0.01);
        assert_eq!(of(4.0), 30.0);
    }

    #[test]
    fn what_is_unknown_is_said_and_not_drawn() {
        let weighed = club(serde_json::json!({"mass_kg": 8.0}));
        let known = lever(640.0);
        let scale = Scale::over([&weighed, &known], KILOGRAM);
        let picture = scale.draw("Elm 8", &weighed);
        assert_eq!(
            picture.words,
            "Elm 8: 8 kg, length unknown, balance point unknown"
        );
        assert_eq!(
            (picture.rod, picture.weight, picture.grip),
            (None, None, None)
        );
        assert_eq!(picture.unknown_from, Some(0.0));
        assert_eq!(picture.width, scale.draw("B", &known).width, "one scale");
        assert!(picture.about.contains("nobody has measured its length"));

        // The balance point alone: the rod goes as far as is known, and no farther.
        let balanced = club(serde_json::json!({"mass_kg": 8.0, "balance_mm": 410.0}));
        let picture = scale.draw("Elm 8", &balanced);
        assert_eq!(
            (picture.rod, picture.unknown_from),
            (Some(410.0), Some(410.0))
        );
        // A balance point is no length: it must not set the scale of others.
        assert_eq!(Scale::over([&balanced], KILOGRAM).longest, None);
    }

    // By hand: a handle of 300 × 30 mm, then a head of 200 mm from 40 to 100 mm across.
    #[test]
    fn a_built_shape_and_its_plates_are_drawn_as_they_are() {
        let shaped = club(serde_json::json!({
            "segments": [
                {"length_mm": 300.0, "start_radius_mm": 15.0, "end_radius_mm": 15.0, "density_kg_m3": 700.0},
                {"length_mm": 200.0, "start_radius_mm": 20.0, "end_radius_mm": 50.0, "density_kg_m3": 7200.0},
            ],
            "plates": [{"mass_kg": 1.25, "offset_mm": 480.0, "radius_mm": 80.0, "bore_radius_mm": 26.0, "thickness_mm": 20.0}],
        }));
        let picture = Scale::over([&shaped], KILOGRAM).draw("Bar", &shaped);
        assert_eq!(
            picture.outline,
            "M0 -15L300 -15L300 -20L500 -50L500 50L300 20L300 15L0 15z"
        );
        assert_eq!(picture.rod, None);
        let plate = DrawnPlate {
            from: 470.0,
            thickness: 20.0,
            radius: 80.0,
        };
        assert_eq!(picture.plates, [plate]);
        assert!(
            picture.words.contains("one plate, 500 mm"),
            "{}",
            picture.words
        );
        assert_eq!(
            picture.about,
            "Drawn to scale: the longest club here. Its mass hangs where it balances."
        );
    }

    // 25.4 mm an inch (NIST SP 811, App. B.8): 24 in are 609.6 mm.
    #[test]
    fn the_ruler_is_in_the_readers_units() {
        let club = lever(609.6);
        let picture = Scale::over([&club], UnitSystem::Pound).draw("A", &club);
        assert_eq!(picture.rod, Some(609.6));
        assert_eq!(picture.ruler_end, 635.0);
        let labels: Vec<&str> = picture
            .ticks
            .iter()
            .map(|tick| tick.label.as_str())
            .collect();
        assert_eq!(labels, ["0 in", "", "10 in", "", "20 in", ""]);
        assert!(picture.words.contains("24 in"), "{}", picture.words);
    }
}
