use std::fmt;

/// What somebody signs in as. One person may have several.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// Unit-based trainer: plans, hears, watches, signs, and sees everybody's figures.
    Trainer,
    /// Watches and marks draws of learners; sees own figures only.
    Preceptor,
    /// Draws or learns to draw; sees own figures only.
    Learner,
    /// Reads the unit's results and reports; sees nobody's figures.
    ResultsReader,
    /// Makes and ends accounts; sees nobody's figures.
    Administrator,
}

impl Role {
    /// Every role, in the order of this page's documentation.
    pub const ALL: [Role; 5] =
        [Role::Trainer, Role::Preceptor, Role::Learner, Role::ResultsReader, Role::Administrator];

    /// The word for it, as it stands in files and on pages.
    pub fn word(self) -> &'static str {
        match self {
            Role::Trainer => "trainer",
            Role::Preceptor => "preceptor",
            Role::Learner => "learner",
            Role::ResultsReader => "results reader",
            Role::Administrator => "administrator",
        }
    }

    /// Reads the word; a hyphen or an underscore may stand for the space.
    pub fn from_word(word: &str) -> Option<Role> {
        let word = word.trim().to_lowercase().replace(['-', '_'], " ");
        Role::ALL.into_iter().find(|role| role.word() == word)
    }

    /// True where the role is about somebody who stands in the record book.
    pub fn needs_person(self) -> bool {
        matches!(self, Role::Trainer | Role::Preceptor | Role::Learner)
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_read_back() {
        for role in Role::ALL {
            assert_eq!(Role::from_word(role.word()), Some(role));
            assert_eq!(Role::from_word(&role.word().to_uppercase().replace(' ', "-")), Some(role));
        }
        assert_eq!(Role::from_word("surgeon"), None);
        assert_eq!(Role::from_word(""), None);
    }
}
