//! M2b: mass, balance point and moment of inertia from the shape.
//!
//! A bare club is a stack of coaxial cylinders and frustums, each solid or with a straight bore; plates are rings about
//! the same axis. All moments of inertia are transverse: about a line at right angles to the club.

use std::f64::consts::PI;

use crate::units::{Length, Mass, MaterialDensity};

/// One piece of the stack, counted from the knob end on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Segment {
    /// Along the club, over 0.
    pub length: Length,
    /// At the face nearer the knob.
    pub start_radius: Length,
    /// At the face nearer the head; the same as the start for a cylinder.
    pub end_radius: Length,
    /// Of the hole along the axis, less than either radius; 0 when solid.
    pub bore_radius: Length,
    /// Of the material.
    pub density: MaterialDensity,
}

/// A plate on a plate-loaded club: a ring about the club's axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plate {
    /// Of the plate.
    pub mass: Mass,
    /// From the knob end to the **middle** of the plate's thickness.
    pub offset: Length,
    /// Outer radius.
    pub radius: Length,
    /// Radius of the hole, less than the outer one.
    pub bore_radius: Length,
    /// Along the club.
    pub thickness: Length,
}

/// A rigid piece on the club's axis, in kg, m and kg·m².
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lump {
    pub(super) mass: f64,
    /// Centre of mass from the knob end.
    pub(super) centre: f64,
    /// About its own centre of mass.
    pub(super) inertia: f64,
}

/// The numbers of a segment, which the propagation of ± may nudge past what the types allow.
#[derive(Debug, Clone, Copy)]
pub(super) struct SegmentNumbers {
    pub(super) length: f64,
    pub(super) start_radius: f64,
    pub(super) end_radius: f64,
    pub(super) bore_radius: f64,
    pub(super) density: f64,
}

impl From<Segment> for SegmentNumbers {
    fn from(segment: Segment) -> Self {
        Self {
            length: segment.length.m(),
            start_radius: segment.start_radius.m(),
            end_radius: segment.end_radius.m(),
            bore_radius: segment.bore_radius.m(),
            density: segment.density.kgm3(),
        }
    }
}

impl SegmentNumbers {
    /// The segment as a lump, when its nearer face is `start` metres from the knob end.
    ///
    /// With a and b the radii at the two faces, c the bore and x from the nearer face, by integrating discs:
    /// `∫dV = πL((a²+ab+b²)/3 − c²)`, `∫x dV = πL²((a²+2ab+3b²)/12 − c²/2)`,
    /// `∫x² dV = πL³((a²+3ab+6b²)/30 − c²/3)`, `∫r²/4 dV = πL((a⁴+a³b+a²b²+ab³+b⁴)/20 − c⁴/4)`.
    pub(super) fn lump(self, start: f64) -> Lump {
        let Self {
            length,
            start_radius: a,
            end_radius: b,
            bore_radius: c,
            density,
        } = self;
        let disc = density * PI * length;
        let mass = disc * ((a * a + a * b + b * b) / 3.0 - c * c);
        let first = disc * length * ((a * a + 2.0 * a * b + 3.0 * b * b) / 12.0 - c * c / 2.0);
        let second =
            disc * length * length * ((a * a + 3.0 * a * b + 6.0 * b * b) / 30.0 - c * c / 3.0);
        let (a2, b2) = (a * a, b * b);
        let across = disc
            * ((a2 * a2 + a2 * a * b + a2 * b2 + a * b * b2 + b2 * b2) / 20.0 - c.powi(4) / 4.0);
        let centre = first / mass;
        Lump {
            mass,
            centre: start + centre,
            inertia: second + across - mass * centre * centre,
        }
    }
}

/// The numbers of a plate, for the same reason.
#[derive(Debug, Clone, Copy)]
pub(super) struct PlateNumbers {
    pub(super) mass: f64,
    pub(super) offset: f64,
    pub(super) radius: f64,
    pub(super) bore_radius: f64,
    pub(super) thickness: f64,
}

impl From<Plate> for PlateNumbers {
    fn from(plate: Plate) -> Self {
        Self {
            mass: plate.mass.kg(),
            offset: plate.offset.m(),
            radius: plate.radius.m(),
            bore_radius: plate.bore_radius.m(),
            thickness: plate.thickness.m(),
        }
    }
}

impl PlateNumbers {
    /// A ring about its own centre, transverse: `m(3(R² + r²) + h²)/12`.
    pub(super) fn lump(self) -> Lump {
        let radii = self.radius.powi(2) + self.bore_radius.powi(2);
        Lump {
            mass: self.mass,
            centre: self.offset,
            inertia: self.mass * (3.0 * radii + self.thickness.powi(2)) / 12.0,
        }
    }
}

/// Joins lumps into one by the parallel-axis theorem. There is always at least one, and its mass is over 0.
///
/// One lump alone stays as it is: a club so light that its ± takes all its mass still balances where it did.
pub(super) fn join(lumps: &[Lump]) -> Lump {
    if let [alone] = lumps {
        return *alone;
    }
    let mass: f64 = lumps.iter().map(|lump| lump.mass).sum();
    let centre = lumps
        .iter()
        .map(|lump| lump.mass * lump.centre)
        .sum::<f64>()
        / mass;
    let inertia = lumps
        .iter()
        .map(|lump| lump.inertia + lump.mass * (lump.centre - centre).powi(2))
        .sum();
    Lump {
        mass,
        centre,
        inertia,
    }
}

/// Stacks segments from the knob end on.
pub(super) fn stack(segments: &[SegmentNumbers]) -> Lump {
    let mut start = 0.0;
    let lumps: Vec<Lump> = segments
        .iter()
        .map(|segment| {
            let lump = segment.lump(start);
            start += segment.length;
            lump
        })
        .collect();
    join(&lumps)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::STANDARD_GRAVITY;

    fn close(a: f64, b: f64, relative: f64) {
        assert!((a - b).abs() <= relative * b.abs(), "{a} is not {b}");
    }

    const fn segment(length: f64, start: f64, end: f64, bore: f64, density: f64) -> SegmentNumbers {
        SegmentNumbers {
            length,
            start_radius: start,
            end_radius: end,
            bore_radius: bore,
            density,
        }
    }

    // Solid cylinder, transverse, about its centre: m(3r² + h²)/12. Any mechanics handbook, e.g. OpenStax University
    // Physics vol. 1 ch. 10; from memory.
    #[test]
    fn a_solid_cylinder_is_the_handbook_one() {
        let lump = segment(0.8, 0.012, 0.012, 0.0, 7850.0).lump(0.1);
        close(lump.mass, 7850.0 * PI * 0.012 * 0.012 * 0.8, 1e-12);
        close(lump.centre, 0.5, 1e-12);
        close(
            lump.inertia,
            lump.mass * (3.0 * 0.012f64.powi(2) + 0.64) / 12.0,
            1e-12,
        );
    }

    // A tube about its centre: m(3(R² + r²) + h²)/12, the same ring as a plate.
    #[test]
    fn a_tube_is_a_thick_plate() {
        let tube = segment(0.05, 0.09, 0.09, 0.02, 7150.0).lump(0.5);
        let plate = PlateNumbers {
            mass: tube.mass,
            offset: 0.525,
            radius: 0.09,
            bore_radius: 0.02,
            thickness: 0.05,
        }
        .lump();
        close(tube.centre, plate.centre, 1e-12);
        close(tube.inertia, plate.inertia, 1e-11);
    }

    // The cone limit, checked by triple quadrature: centre of mass at 3L/4 from the apex, inertia about the apex
    // 3m(L² + R²/4)/5.
    #[test]
    fn a_cone_is_a_frustum_with_a_point() {
        let (length, radius) = (0.4, 0.06);
        let cone = segment(length, 0.0, radius, 0.0, 700.0).lump(0.0);
        close(cone.centre, 0.75 * length, 1e-12);
        let about_apex = cone.inertia + cone.mass * cone.centre.powi(2);
        close(
            about_apex,
            0.6 * cone.mass * (length.powi(2) + radius.powi(2) / 4.0),
            1e-12,
        );
    }

    // OpenStax University Physics vol. 1, "Calculating moments of inertia", example rod and solid sphere: the rod is
    // 2.0 kg and 0.5 m, the sphere 1.0 kg with radius 0.2 m; about the rod's end 0.673 and 0.223 kg·m² as printed,
    // 0.672667 and 0.222667 recomputed. The sphere enters as a lump of 2mR²/5.
    #[test]
    fn rod_and_sphere_join_as_in_the_textbook() {
        let rod = Lump {
            mass: 2.0,
            centre: 0.25,
            inertia: 2.0 * 0.25 / 12.0,
        };
        for (centre, expected) in [(0.7, 0.672_667), (0.2, 0.222_667)] {
            let sphere = Lump {
                mass: 1.0,
                centre,
                inertia: 0.4 * 0.04,
            };
            let both = join(&[rod, sphere]);
            close(
                both.inertia + both.mass * both.centre.powi(2),
                expected,
                2e-6,
            );
        }
    }

    // The same book: a 1.0 kg, 0.7 m rod about its centre, 0.041 kg·m² as printed; 500 kg disc of radius 2.0 m with a
    // 25 kg child at 1.0 m belongs to the long axis and has no counterpart here.
    #[test]
    fn a_thin_rod_about_its_centre() {
        let radius = 1e-5;
        let density = 1.0 / (PI * radius * radius * 0.7);
        let rod = segment(0.7, radius, radius, 0.0, density).lump(0.0);
        close(rod.mass, 1.0, 1e-12);
        close(rod.inertia, 0.040_833_3, 1e-6);
    }

    // Own triple numerical integration (scipy quad with Gauss-Legendre) of a steel rod and a wooden frustum club;
    // relative tolerance 5e-6.
    #[test]
    fn two_bodies_by_triple_integration() {
        let rod = stack(&[segment(1.0, 0.0125, 0.0125, 0.0, 7850.0)]);
        close(rod.mass, 3.853_36, 5e-6);
        close(rod.centre, 0.5, 5e-6);
        close(rod.inertia, 0.321_264, 5e-6);
        close(rod.mass * rod.centre * STANDARD_GRAVITY, 18.894_3, 5e-6);

        let club = stack(&[
            segment(0.15, 0.016, 0.016, 0.0, 630.0),
            segment(0.5, 0.016, 0.055, 0.0, 630.0),
        ]);
        close(club.mass, 1.448_58, 5e-6);
        close(club.centre, 0.461_767, 5e-6);
        close(club.inertia, 0.033_971_5, 5e-6);
        close(
            club.inertia + club.mass * club.centre.powi(2),
            0.342_851,
            5e-6,
        );
    }
}
