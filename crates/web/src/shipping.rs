//! What a script or stylesheet is as shipped: without the comments and indents, which are for whoever reads the
//! source and as much again on a bad line. Also part of the build script.

use std::fs;
use std::path::Path;

/// The text without indents and without lines that are only comment. What stands behind code on its
/// line stays. A template literal must have neither: a test compares what both texts say.
fn as_shipped(name: &str, text: &str) -> String {
    let is_script = name.ends_with(".js");
    if !is_script && !name.ends_with(".css") {
        return text.to_owned();
    }
    let mut shipped = String::with_capacity(text.len());
    let mut in_comment = false;
    for line in text.lines() {
        let start = line.trim_start();
        // "/*!" begins a licence, which every copy has to carry.
        let begins = start.starts_with("/*") && !start.starts_with("/*!");
        let is_comment = in_comment || begins || is_script && start.starts_with("//");
        if in_comment || begins {
            in_comment = !line.trim_end().ends_with("*/");
        }
        if !is_comment {
            shipped.push_str(start);
            shipped.push('\n');
        }
    }
    shipped
}

/// Copies a folder, as it is shipped.
///
/// # Panics
/// If a file cannot be read or written: there is nothing to ship then.
pub fn ship(from: &Path, to: &Path) {
    // A file that is gone from the source must not stay.
    if to.exists() {
        fs::remove_dir_all(to).expect("the copy can be made anew");
    }
    fs::create_dir_all(to).expect("a folder for the copy");
    for entry in fs::read_dir(from).expect("the static files") {
        let from = entry.expect("a static file").path();
        let to = to.join(from.file_name().expect("a file has a name"));
        if from.is_dir() {
            ship(&from, &to);
            continue;
        }
        let content = fs::read(&from).expect("a static file");
        let shipped = match std::str::from_utf8(&content) {
            Ok(text) => as_shipped(&from.to_string_lossy(), text).into_bytes(),
            Err(_) => content,
        };
        fs::write(&to, shipped).expect("the copy");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // By hand.
    #[test]
    fn only_lines_of_comment_and_indents_go() {
        let script =
            "// a\nlet a = 1; // b\n\n  /** c */\n  /*\n   * d\n   */\n  let b = `\n# e`;\n";
        assert_eq!(
            as_shipped("x.js", script),
            "let a = 1; // b\n\nlet b = `\n# e`;\n"
        );
        let sheet = "/* a\n b */\nh1 { color: red; } /* c */\n//\n";
        assert_eq!(
            as_shipped("x.css", sheet),
            "h1 { color: red; } /* c */\n//\n"
        );
        let licensed = "/*! Some licence */\nlet a = 1;\n";
        assert_eq!(as_shipped("x.js", licensed), licensed);
        assert_eq!(as_shipped("x.svg", "// a\n"), "// a\n");
    }
}
