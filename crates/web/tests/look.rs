//! The look keeps its promises: contrast in both schemes, one place for colours and sizes, few bytes, every part on
//! the page of parts.

use std::collections::{BTreeMap, BTreeSet};
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

/// What a length of each of these is, only tokens say: type, distance, line, corner, layer, motion. How wide or
/// high a thing may be, and where a layout turns, is its own; 0, shares and what goes by the letter beside it are free.
const SIZED: [&str; 11] = [
    "font",
    "margin",
    "padding",
    "gap",
    "border",
    "outline",
    "box-shadow",
    "text-decoration",
    "z-index",
    "transition",
    "animation",
];

/// The declarations of a style sheet that give a size of their own where a token belongs.
fn own_sizes(text: &str) -> Vec<&str> {
    let is_sized = |property: &str| {
        SIZED.iter().any(|sized| {
            let longer = property.strip_prefix(sized);
            longer.is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
        }) || property.ends_with("-gap")
    };
    let is_size = |word: &str| {
        let digits = word.trim_start_matches(['-', '.']);
        let unit =
            digits.trim_start_matches(|letter: char| letter.is_ascii_digit() || letter == '.');
        unit.len() < digits.len() && ["px", "rem", "pt", "ms", "s", "vw", "vh"].contains(&unit)
    };
    text.split([';', '{', '}'])
        .filter(|declaration| {
            let Some((property, value)) = declaration.split_once(':') else {
                return false;
            };
            let property = property.trim();
            let mut words = value.split([' ', ',', '(', ')', '/', '\n']);
            let layer = || value.trim().parse::<i32>().is_ok();
            is_sized(property) && (words.any(is_size) || property == "z-index" && layer())
        })
        .map(str::trim)
        .collect()
}

#[test]
fn only_tokens_set_sizes() {
    // By hand.
    let wrong =
        "a { margin: 0 -4px; color: red; z-index: 3; row-gap: .5rem; transition: color 120ms; }";
    assert_eq!(own_sizes(wrong).len(), 4, "{:?}", own_sizes(wrong));
    let right = "a { padding: 0 var(--s1) 2% 1em; width: 3rem; border: var(--hair) solid var(--rule); font-weight: 600;                  margin: calc(-1 * var(--s1)); z-index: var(--top); } @media (max-width: 40rem) { b { top: 0 } }";
    assert_eq!(own_sizes(right), [""; 0]);
    for entry in fs::read_dir(css_dir()).expect("static/css is there") {
        let path = entry.expect("an entry").path();
        if path.file_name().is_some_and(|name| name == "tokens.css") {
            continue;
        }
        let text = fs::read_to_string(&path).expect("a style sheet");
        assert_eq!(
            own_sizes(&text),
            [""; 0],
            "{} gives sizes of its own: take one of tokens.css",
            path.display()
        );
    }
}

fn template(name: &str) -> String {
    let templates = css_dir().join("../../templates");
    fs::read_to_string(templates.join(name)).expect("the template is there")
}

/// A macro: the file that it is in, and its name.
type Part = (String, String);

/// The macros that a piece of a template calls. `home` is the file it is in, whose own macros need no prefix.
fn calls(text: &str, home: &str, whole: &str) -> Vec<Part> {
    let files: BTreeMap<&str, &str> = whole
        .split("{% import \"")
        .skip(1)
        .filter_map(|import| import.split(" %}").next()?.split_once("\" as "))
        .map(|(file, name)| (name, file))
        .collect();
    text.split("{% call ")
        .skip(1)
        .filter_map(|call| call.split_once('(').map(|(name, _)| name))
        .filter_map(|name| match name.split_once("::") {
            Some((file, name)) => Some(((*files.get(file)?).to_owned(), name.to_owned())),
            None => Some((home.to_owned(), name.to_owned())),
        })
        .collect()
}

/// A part that is not on the page is looked at by no test and in no picture.
#[test]
fn every_part_is_on_the_page_of_parts() {
    let mut parts: BTreeMap<Part, Vec<Part>> = BTreeMap::new();
    let folder = css_dir().join("../../templates/parts");
    for entry in fs::read_dir(folder).expect("templates/parts is there") {
        let name = entry.expect("an entry").file_name();
        let file = format!("parts/{}", name.to_string_lossy());
        let text = template(&file);
        for part in text.split("{% macro ").skip(1) {
            let (name, rest) = part.split_once('(').expect("a macro's name");
            let body = rest.split("{% endmacro %}").next().expect("its end");
            parts.insert((file.clone(), name.to_owned()), calls(body, &file, &text));
        }
    }
    assert!(parts.len() > 30, "the parts were found: {}", parts.len());
    let page = template("sample_parts.html");
    let mut shown = BTreeSet::new();
    let mut to_follow = calls(&page, "sample_parts.html", &page);
    while let Some(part) = to_follow.pop() {
        if shown.insert(part.clone()) {
            to_follow.extend(parts.get(&part).cloned().unwrap_or_default());
        }
    }
    let missing: Vec<&Part> = parts.keys().filter(|part| !shown.contains(*part)).collect();
    assert!(
        missing.is_empty(),
        "not on templates/sample_parts.html: {missing:?}"
    );
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
