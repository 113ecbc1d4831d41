//! One club as a lever: what it takes to hold and to swing it, and how big a step to another is.

use serde::{Deserialize, Serialize};

use crate::units::{Inertia, Length, Mass, Measured, StaticMoment};

/// What is known of a loading. `None` is unknown: nothing is guessed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mechanics {
    /// Mass.
    pub mass: Measured<Mass>,
    /// Whole length.
    pub length: Measured<Length>,
    /// Balance point, from the knob end.
    pub balance: Option<Measured<Length>>,
    /// M1: static moment about the grip.
    pub static_moment: Option<Measured<StaticMoment>>,
    /// Moment of inertia about the centre of mass.
    pub inertia_cm: Option<Measured<Inertia>>,
    /// M2: moment of inertia about the grip.
    pub inertia_grip: Option<Measured<Inertia>>,
}

/// What a step was judged by (M4).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepBasis {
    /// Static moment only; the inertia of one of the two is unknown.
    Moment,
    /// The larger of static moment and inertia.
    MomentAndInertia,
    /// By mass only: a balance point is missing.
    MassOnly,
}

/// M4: how much greater the lever demand of one club is than another's.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StepSize {
    /// 0.25 is a quarter more; negative is a step down.
    pub fraction: f64,
    /// What it was judged by.
    pub basis: StepBasis,
}
