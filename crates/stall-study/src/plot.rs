//! The plot: false alarms against plateaus seen, and against delay.

use std::fmt::Write as _;

use crate::measure::{Figures, WATCHED_WEEKS, measure};
use crate::rules::Rule;
use crate::scenarios::published;
use crate::table::Study;

const WIDTH: f64 = 420.0;
const HEIGHT: f64 = 320.0;
const MARGIN: f64 = 56.0;

/// One line of the plot: a rule at several settings.
struct Family {
    name: &'static str,
    colour: &'static str,
    rules: Vec<Rule>,
}

fn families() -> Vec<Family> {
    let family = |name, colour, rules| Family {
        name,
        colour,
        rules,
    };
    vec![
        family(
            "no new best in 3 to 8",
            "#b35c00",
            (3..=8).map(Rule::NoNewBest).collect(),
        ),
        family(
            "trend test, last 8",
            "#5e3c99",
            [0.05, 0.1, 0.2, 0.3, 0.5]
                .map(|p_over| Rule::TrendTest { window: 8, p_over })
                .to_vec(),
        ),
        family(
            "slope, last 8",
            "#7a7a00",
            [-0.01, -0.005, 0.0, 0.005, 0.01]
                .map(|under| Rule::Slope { window: 8, under })
                .to_vec(),
        ),
        family(
            "slope, last 12",
            "#9a3b6b",
            [-0.005, 0.0, 0.0025, 0.005, 0.01]
                .map(|under| Rule::Slope { window: 12, under })
                .to_vec(),
        ),
        family(
            "scan, noise known",
            "#2c7a4b",
            [0.6, 0.9, 1.2, 1.6, 2.0, 3.0]
                .map(|over| Rule::Scan { over })
                .to_vec(),
        ),
        family(
            "oracle",
            "#555555",
            [1.5, 2.0, 2.5, 3.1, 4.0, 5.0]
                .map(|over| Rule::Oracle { over })
                .to_vec(),
        ),
        family("T5", "#c00020", vec![Rule::Judgement]),
    ]
}

/// The plot as SVG: a row for each setting of the published comparison; on the left false alarms against plateaus seen
/// within four weeks of all athletes, on the right against the median delay of those not alarmed before.
#[must_use]
pub fn plot(study: Study) -> String {
    let mut svg = String::new();
    draw(&mut svg, study).expect("text can be written");
    svg
}

fn draw(svg: &mut String, study: Study) -> std::fmt::Result {
    let (width, height) = (2.0 * WIDTH, 2.0 * HEIGHT + 30.0);
    writeln!(
        svg,
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="11">
<title>Stall rules: false alarms against plateaus seen and against delay</title>
<rect width="{width}" height="{height}" fill="#fff"/>"##
    )?;
    let families = families();
    let rules: Vec<Rule> = families
        .iter()
        .flat_map(|family| family.rules.clone())
        .collect();
    for (index, (name, setting)) in published().iter().enumerate() {
        let figures = measure(setting, &rules, study.seed, study.athletes.div_ceil(4));
        let top = HEIGHT * index as f64;
        axes(
            svg,
            (0.0, top),
            name,
            "plateaus seen within 4 weeks, %",
            ["0", "25", "50", "75", "100"],
        )?;
        axes(
            svg,
            (WIDTH, top),
            name,
            "median delay, weeks",
            ["0", "1", "2", "3", "4"],
        )?;
        let mut figures = figures.iter();
        for family in &families {
            let figures: Vec<&Figures> = figures.by_ref().take(family.rules.len()).collect();
            let seen: Vec<(f64, f64)> = figures
                .iter()
                .map(|figures| (figures.false_alarms(), figures.seen()))
                .collect();
            let delay: Vec<(f64, f64)> = figures
                .iter()
                .filter_map(|figures| {
                    let weeks = figures.median_delay()?;
                    Some((figures.false_alarms(), weeks / f64::from(WATCHED_WEEKS)))
                })
                .collect();
            line(svg, (0.0, top), family.colour, &seen)?;
            line(svg, (WIDTH, top), family.colour, &delay)?;
        }
    }
    for (index, family) in families.iter().enumerate() {
        let x = 16.0 + 118.0 * index as f64;
        let y = height - 12.0;
        let Family { name, colour, .. } = family;
        writeln!(
            svg,
            r#"<circle cx="{x}" cy="{}" r="4" fill="{colour}"/><text x="{}" y="{y}">{name}</text>"#,
            y - 4.0,
            x + 8.0
        )?;
    }
    svg.push_str("</svg>\n");
    Ok(())
}

/// Where a pair of shares lies on a panel.
fn place((left, top): (f64, f64), (x, y): (f64, f64)) -> (f64, f64) {
    (
        left + MARGIN + x * (WIDTH - 1.4 * MARGIN),
        top + HEIGHT - MARGIN - y * (HEIGHT - 1.6 * MARGIN),
    )
}

fn axes(
    svg: &mut String,
    panel: (f64, f64),
    setting: &str,
    upward: &str,
    marks: [&str; 5],
) -> std::fmt::Result {
    for (index, mark) in marks.into_iter().enumerate() {
        let share = index as f64 / 4.0;
        let (left, y) = place(panel, (0.0, share));
        let (right, _) = place(panel, (1.0, share));
        let (x, bottom) = place(panel, (share, 0.0));
        writeln!(
            svg,
            r##"<path d="M{left:.1} {y:.1}H{right:.1}" stroke="#ddd"/><text x="{:.1}" y="{:.1}" text-anchor="end">{mark}</text><text x="{x:.1}" y="{:.1}" text-anchor="middle">{}</text>"##,
            left - 6.0,
            y + 4.0,
            bottom + 16.0,
            25 * index
        )?;
    }
    let (middle, bottom) = place(panel, (0.5, 0.0));
    let (left, top) = place(panel, (0.0, 1.0));
    writeln!(
        svg,
        r#"<text x="{middle:.1}" y="{:.1}" text-anchor="middle">false alarms in 8 weeks of growth, %</text><text x="{:.1}" y="{:.1}">{upward}; {setting}</text>"#,
        bottom + 32.0,
        left - 30.0,
        top - 12.0
    )
}

fn line(
    svg: &mut String,
    panel: (f64, f64),
    colour: &str,
    shares: &[(f64, f64)],
) -> std::fmt::Result {
    let points: Vec<(f64, f64)> = shares.iter().map(|shares| place(panel, *shares)).collect();
    let corners: Vec<String> = points
        .iter()
        .map(|(x, y)| format!("{x:.1},{y:.1}"))
        .collect();
    let radius = if points.len() == 1 { 6 } else { 3 };
    writeln!(
        svg,
        r#"<polyline points="{}" fill="none" stroke="{colour}"/>"#,
        corners.join(" ")
    )?;
    for (x, y) in points {
        writeln!(
            svg,
            r#"<circle cx="{x:.1}" cy="{y:.1}" r="{radius}" fill="{colour}"/>"#
        )?;
    }
    Ok(())
}
