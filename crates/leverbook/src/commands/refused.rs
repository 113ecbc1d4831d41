use std::fmt;

/// What was given cannot be used as it is: files with problems, one a line. Ends the program with 2.
#[derive(Debug)]
pub(crate) struct Refused(pub(crate) Vec<String>);

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.join("\n"))
    }
}

impl std::error::Error for Refused {}
