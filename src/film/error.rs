//! Why a file is no film.

/// One sentence: the file, what is wrong, how to mend it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}: {fact}")]
pub struct FilmError {
    /// The file.
    pub file: String,
    /// What is wrong and how to mend it.
    pub fact: String,
}

impl FilmError {
    /// An error about a file.
    #[must_use]
    pub fn new(file: &str, fact: String) -> FilmError {
        FilmError {
            file: file.to_owned(),
            fact,
        }
    }
}
