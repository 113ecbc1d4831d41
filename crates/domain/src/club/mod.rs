//! M · Mechanics of a lever: what one club, or one loading of a plate-loaded club, asks of the hands.
//!
//! [`ClubMeasure`] is what was measured, [`Mechanics`] what follows from it (M1, M2, M3), [`step_size`] how big the change
//! from one club to another is (M4), [`rack`] where the steps of a rack are too wide (M5), and [`care`] when a club is to be
//! inspected and whether it is out of use.

pub mod care;
mod measure;
mod mechanics;
pub mod rack;
mod shape;
mod step;
mod swing_test;

pub use measure::{
    BareClub, ClubFields, ClubMeasure, MeasureError, PlateFields, PlusMinus, Refusal, SegmentFields,
};
pub use mechanics::Mechanics;
pub use shape::{Plate, Segment};
pub use step::{StepBasis, StepSize, step_size};
pub use swing_test::{SwingTest, period_bounds};
