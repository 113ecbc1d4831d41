//! The look keeps its promises: contrast in both schemes, one place for colours, few bytes.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

fn css_dir() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../static/css")
}

fn css(name: &str) -> String {
    fs::read_to_string(css_dir().join(name)).expect("the style sheet is there")
}

type Tokens = BTreeMap<String, String>;

/// The colours of one `:root { … }` block.
fn colours(block: &str) -> Tokens {
    block
        .split(';')
        .filter_map(|line| line.rsplit_once(':'))
        .filter_map(|(name, value)| {
            let name = name.rsplit_once("--")?.1.trim().to_owned();
            let value = value.trim();
            (value.len() == 7 && value.starts_with('#')).then(|| (name, value.to_owned()))
        })
        .collect()
}

/// Each scheme's colours: light, dark, print.
fn schemes() -> [(&'static str, Tokens); 3] {
    let tokens = css("tokens.css");
    let blocks: Vec<&str> = tokens
        .split(":root {")
        .skip(1)
        .map(|block| block.split('}').next().expect("a block closes"))
        .collect();
    let [light, dark, print] = blocks[..] else {
        panic!("light, dark and print: {}", blocks.len())
    };
    [
        ("light", colours(light)),
        ("dark", colours(dark)),
        ("print", colours(print)),
    ]
}

/// Relative luminance: W3C, WCAG 2.2, definition of "relative luminance".
fn luminance(colour: &str) -> f64 {
    let channel = |from: usize| {
        let value = u8::from_str_radix(&colour[from..from + 2], 16).expect("two hex digits");
        let share = f64::from(value) / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
}

/// W3C, WCAG 2.2, definition of "contrast ratio".
fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// Values printed by the W3C or recomputed from its formula.
#[test]
fn contrast_is_computed_as_the_w3c_does() {
    for (one, other, ratio) in [
        ("#ffffff", "#000000", 21.0),
        ("#767676", "#ffffff", 4.54222),
        ("#777777", "#ffffff", 4.47809),
        ("#ff0000", "#ffffff", 3.99848),
        ("#e5e5e5", "#6221ea", 5.69944),
        ("#1a1a1a", "#f5f5f0", 15.9139),
    ] {
        let found = contrast(one, other);
        assert!(
            (found - ratio).abs() < 1e-4,
            "{one} on {other}: {found}, not {ratio}"
        );
    }
}

/// WCAG 2.2, 1.4.3: 4.5 to 1 for text of any size, on every ground it is set on.
#[test]
fn text_stands_out_from_every_ground_it_is_set_on() {
    let pairs: &[(&str, &[&str])] = &[
        (
            "ink",
            &[
                "paper",
                "sheet",
                "accent-wash",
                "stop-wash",
                "look-wash",
                "note-wash",
                "good-wash",
            ],
        ),
        (
            "ink-soft",
            &[
                "paper",
                "sheet",
                "accent-wash",
                "stop-wash",
                "look-wash",
                "note-wash",
                "good-wash",
            ],
        ),
        (
            "accent",
            &[
                "paper",
                "sheet",
                "accent-wash",
                "stop-wash",
                "look-wash",
                "note-wash",
                "good-wash",
            ],
        ),
        (
            "accent-strong",
            &[
                "paper",
                "sheet",
                "accent-wash",
                "stop-wash",
                "look-wash",
                "note-wash",
            ],
        ),
        ("on-accent", &["accent", "accent-strong"]),
        ("stop", &["paper", "sheet", "stop-wash", "accent-wash"]),
        ("on-stop", &["stop"]),
        ("on-side", &["left", "right"]),
        ("paper", &["ink"]),
        (
            "look",
            &["paper", "sheet", "look-wash", "note-wash", "stop-wash"],
        ),
        ("note", &["paper", "sheet", "note-wash"]),
        ("good", &["paper", "sheet", "good-wash"]),
    ];
    for (scheme, tokens) in schemes() {
        for (text, grounds) in pairs {
            for ground in *grounds {
                let ratio = contrast(&tokens[*text], &tokens[*ground]);
                assert!(
                    ratio >= 4.5,
                    "{scheme}: {text} on {ground} is {ratio:.3} to 1"
                );
            }
        }
    }
}

/// WCAG 2.2, 1.4.11: 3 to 1 for the edges of controls, focus rings and what a chart is read by.
#[test]
fn edges_and_marks_stand_out() {
    let pairs: &[(&str, &[&str])] = &[
        ("edge", &["paper", "sheet", "accent-wash", "note-wash"]),
        ("accent", &["paper", "sheet", "accent-wash"]),
        ("stop", &["paper", "sheet", "stop-wash"]),
        ("look", &["paper", "sheet", "look-wash"]),
        ("note", &["paper", "note-wash"]),
        ("ink", &["paper", "sheet"]),
        ("left", &["paper", "sheet"]),
        ("right", &["paper", "sheet"]),
    ];
    for (scheme, tokens) in schemes() {
        for (mark, grounds) in pairs {
            for ground in *grounds {
                let ratio = contrast(&tokens[*mark], &tokens[*ground]);
                assert!(
                    ratio >= 3.0,
                    "{scheme}: {mark} on {ground} is {ratio:.3} to 1"
                );
            }
        }
    }
}

#[test]
fn every_scheme_sets_the_same_colours_and_only_tokens_set_any() {
    let [(_, light), (_, dark), (_, print)] = schemes();
    assert!(light.len() > 15, "colours were found: {light:?}");
    assert!(light.keys().eq(dark.keys()), "dark lacks or adds a colour");
    assert!(
        light.keys().eq(print.keys()),
        "print lacks or adds a colour"
    );
    for entry in fs::read_dir(css_dir()).expect("static/css is there") {
        let path = entry.expect("an entry").path();
        if path.file_name().is_some_and(|name| name == "tokens.css") {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a style sheet");
        for word in ["#", "rgb(", "hsl(", "oklch("] {
            let found = text.lines().find(|line| {
                line.split_once(':')
                    .is_some_and(|(_, value)| value.contains(word))
            });
            assert_eq!(found, None, "{} names a colour of its own", path.display());
        }
        for used in text.split("var(--").skip(1) {
            let name = used.split([')', ',']).next().expect("a name");
            assert!(
                css("tokens.css").contains(&format!("--{name}:")),
                "{} uses --{name}, which is no token",
                path.display()
            );
        }
    }
}

/// An athlete's page may weigh 60 KB cold in all; the style sheets that one page takes, those of the
/// frame and one of its own, at most half, unpacked.
#[test]
fn style_sheets_are_small() {
    let of_the_frame = [
        "tokens.css",
        "page.css",
        "parts.css",
        "charts.css",
        "phone.css",
    ];
    let (mut frame, mut own) = (0, 0);
    for entry in fs::read_dir(css_dir()).expect("static/css is there") {
        let entry = entry.expect("an entry");
        let bytes = entry.metadata().expect("its size").len();
        if of_the_frame.iter().any(|name| entry.file_name() == *name) {
            frame += bytes;
        } else {
            own = bytes.max(own);
        }
    }
    assert!(frame > 0 && own > 0, "the style sheets were found");
    assert!(frame + own <= 30_000, "{frame} and {own} bytes");
}
