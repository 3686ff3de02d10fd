//! Reading a laboratory's words into an identity.

use super::nomenclature::Nomenclature;
use super::words::{folded, key, words};
use super::{Identified, Identity, Matching, Species, Unresolved};

/// Words that may follow a genus without being an epithet.
const NOT_AN_EPITHET: [&str; 24] = [
    "species",
    "sp",
    "spp",
    "group",
    "grp",
    "complex",
    "subsp",
    "ssp",
    "subspecies",
    "subs",
    "type",
    "beta",
    "alpha",
    "gamma",
    "hemolytic",
    "nonhemolytic",
    "unspecified",
    "other",
    "unknown",
    "coag",
    "coagulase",
    "bottle",
    "positive",
    "negative",
];

impl Nomenclature {
    /// Reads the organism out of a laboratory's words.
    ///
    /// Case, punctuation, British and American spelling, inverted forms, abbreviated genera, words such as "sp."
    /// and qualifiers such as "presumptive identification" do not matter. Nothing is guessed: an abbreviation that
    /// fits two organisms, a name that says what it is not, and an unknown name stay unresolved.
    ///
    /// ```
    /// use culture::Nomenclature;
    /// let names = Nomenclature::built_in();
    /// for written in ["S. epidermidis", "STAPH. EPIDERMIDIS", "Staph epi", "Epidermidis, Staphylococcus"] {
    ///     assert_eq!(names.identify(written).identity.to_string(), "Staphylococcus epidermidis");
    /// }
    /// assert_eq!(
    ///     names.identify("STAPHYLOCOCCUS, COAGULASE NEGATIVE").identity.to_string(),
    ///     "Staphylococcus, coagulase negative"
    /// );
    /// ```
    pub fn identify(&self, reported: &str) -> Identified {
        let all = words(reported);
        if all.is_empty() {
            return Identified {
                identity: Identity::Unresolved(Unresolved::Empty),
                doubtful: false,
                misspelt: false,
            };
        }
        let outside: Vec<String> =
            all.iter().filter(|word| !word.bracketed).map(|word| folded(&word.text)).collect();
        let with_brackets: Vec<String> = all.iter().map(|word| folded(&word.text)).collect();
        let first = self.read(outside);
        if precision(&first.identity) == 3 || all.iter().all(|word| !word.bracketed) {
            return first;
        }
        // What stands in brackets is a synonym or a closer name; it is used where the rest says less.
        let second = self.read(with_brackets);
        if precision(&second.identity) > precision(&first.identity) { second } else { first }
    }

    fn read(&self, mut words: Vec<String>) -> Identified {
        if let Some(identity) = self.phrases.get(&key(&words)) {
            return Identified { identity: identity.clone(), doubtful: false, misspelt: false };
        }
        let doubtful = remove_phrases(&mut words, &self.doubtful);
        remove_phrases(&mut words, &self.ignored);
        words.retain(|word| !word.chars().all(|character| character.is_ascii_digit()));
        let identity = self.read_bare(&words);
        if self.settles(&identity) {
            return Identified { identity, doubtful, misspelt: false };
        }
        match self.put_right(&words).map(|right| self.read_bare(&right)) {
            Some(right) if !matches!(right, Identity::Unresolved(_)) => {
                Identified { identity: right, doubtful, misspelt: true }
            }
            _ => Identified { identity, doubtful, misspelt: false },
        }
    }

    /// Whether a reading leaves nothing to be put right: a known species, a group, or a reason other than not knowing.
    fn settles(&self, identity: &Identity) -> bool {
        match identity {
            Identity::Species(species) => {
                let known = self.epithets.get(&species.genus);
                known.is_some_and(|known| known.contains_key(&folded(&species.species)))
            }
            Identity::Genus(_) | Identity::Unresolved(Unresolved::Unknown) => false,
            Identity::Group(_) | Identity::Unresolved(_) => true,
        }
    }

    pub(super) fn genera_starting<'n>(&'n self, start: &'n str) -> impl Iterator<Item = &'n str> {
        self.genus_by_start
            .range(start.to_owned()..)
            .take_while(move |(folded, _)| folded.starts_with(start))
            .map(|(_, genus)| genus.as_str())
    }

    fn read_bare(&self, words: &[String]) -> Identity {
        if words.is_empty() {
            return Identity::Unresolved(Unresolved::Unknown);
        }
        if let Some(identity) = self.phrases.get(&key(words)) {
            return identity.clone();
        }
        // "Aspergillus sp. not fumigatus": what follows "not" is no part of the name; a name that starts so has none.
        let words = match words.iter().position(|word| matches!(word.as_str(), "not" | "no" | "without")) {
            Some(0) => return Identity::Unresolved(Unresolved::Negated),
            Some(place) => &words[..place],
            None => words,
        };
        let genera = self.genera_in(words);
        let identity = match genera.as_slice() {
            [] => self.read_abbreviated(words),
            [(place, genus), rest @ ..] if rest.iter().all(|(_, other)| other == genus) => {
                self.read_with_genus(words, *place, genus)
            }
            _ => return Identity::Unresolved(Unresolved::SeveralNames),
        };
        if self.names_another(words, &identity) {
            Identity::Unresolved(Unresolved::SeveralNames)
        } else {
            identity
        }
    }

    /// Whether the words name an organism besides the one that was read: "S. epidermidis and E. coli", "CoNS, E. coli".
    fn names_another(&self, words: &[String], read: &Identity) -> bool {
        let differs = |other: &Identity| {
            !matches!(other, Identity::Unresolved(_))
                && self.agreement(read, other, Matching::Genus).is_none()
        };
        if matches!(read, Identity::Unresolved(_)) {
            return false;
        }
        let by_phrase = words.iter().filter_map(|word| self.phrases.get(word)).any(differs);
        let by_pair = words
            .windows(2)
            .map(|pair| self.abbreviated_at(pair, usize::MAX))
            .filter(|fitting| !fitting.is_empty())
            .any(|fitting| fitting.into_iter().all(|species| differs(&Identity::Species(species))));
        by_phrase || by_pair
    }

    /// Every place where a genus is named. "Bacillus" after "gram negative" is a shape, not a genus.
    fn genera_in(&self, words: &[String]) -> Vec<(usize, String)> {
        let shape =
            words.iter().any(|word| matches!(word.as_str(), "gram" | "fast" | "enteric" | "coliform"));
        words
            .iter()
            .enumerate()
            .filter(|(_, word)| !(shape && matches!(word.as_str(), "bacillus" | "bacilli")))
            .filter_map(|(place, word)| self.genus_by_word.get(word).map(|genus| (place, genus.clone())))
            .collect()
    }

    fn read_with_genus(&self, words: &[String], place: usize, genus: &str) -> Identity {
        let after = &words[place + 1..];
        if let Some((species, rest)) = self.species_at(genus, after) {
            return Identity::Species(finish_species(genus, species, rest));
        }
        if let Some(species) = words[..place].last().and_then(|word| self.known_epithet(genus, word, 4)) {
            return Identity::Species(finish_species(genus, species, after));
        }
        self.group_by_words(words, genus).unwrap_or_else(|| Identity::Genus(genus.to_owned()))
    }

    /// The epithet that follows a genus, and what follows the epithet.
    fn species_at<'w>(&self, genus: &str, after: &'w [String]) -> Option<(String, &'w [String])> {
        let (first, rest) = after.split_first()?;
        if let Some(known) = self.known_epithet(genus, first, 3) {
            return Some((known, rest));
        }
        let like_an_epithet = first.len() >= 5
            && first.chars().all(char::is_alphabetic)
            && !NOT_AN_EPITHET.contains(&first.as_str())
            && !self.appearance.contains(first)
            && first != "viridans";
        like_an_epithet.then(|| (first.clone(), rest))
    }

    /// A known epithet of the genus, whole or cut short so that only one fits.
    fn known_epithet(&self, genus: &str, word: &str, shortest: usize) -> Option<String> {
        let known = self.epithets.get(genus)?;
        if let Some(whole) = known.get(word) {
            return Some(whole.clone());
        }
        if word.len() < shortest || NOT_AN_EPITHET.contains(&word) {
            return None;
        }
        let mut fitting = known.iter().filter(|(epithet, _)| epithet.starts_with(word));
        match (fitting.next(), fitting.next()) {
            (Some((_, only)), None) => Some(only.clone()),
            _ => None,
        }
    }

    /// "coag neg", "viridans", "group B": words that make a group of a genus.
    fn group_by_words(&self, words: &[String], genus: &str) -> Option<Identity> {
        let has = |wanted: &[&str]| words.iter().any(|word| wanted.contains(&word.as_str()));
        let group = |name: &str| Some(Identity::Group(name.to_owned()));
        match genus {
            "Staphylococcus" if has(&["coag", "coagulase"]) => {
                match (has(&["neg", "negative", "-"]), has(&["pos", "positive", "+"])) {
                    (true, false) => group("Staphylococcus, coagulase negative"),
                    (false, true) => group("Staphylococcus, coagulase positive"),
                    _ => None,
                }
            }
            "Streptococcus" => {
                let letter = words
                    .windows(2)
                    .find(|pair| matches!(pair[0].as_str(), "group" | "grp" | "gp"))
                    .map(|pair| pair[1].as_str());
                match letter {
                    Some("a") => group("Streptococcus, group A"),
                    Some("b") => group("Streptococcus, group B"),
                    Some("c") => group("Streptococcus, group C"),
                    Some("f") => group("Streptococcus, group F"),
                    Some("g") => group("Streptococcus, group G"),
                    _ if has(&["viridans", "alpha"]) => group("Viridans group streptococci"),
                    _ => None,
                }
            }
            _ => None,
        }
    }

    /// "E. coli", "Ps aeruginosa": a genus cut to its first letters before a known epithet.
    fn read_abbreviated(&self, words: &[String]) -> Identity {
        for (place, pair) in words.windows(2).enumerate() {
            let fitting = self.abbreviated_at(pair, 4);
            // "C. difficile" fits two genera that are two names of one organism: that is no ambiguity.
            match fitting.as_slice() {
                [] => {}
                [first, rest @ ..]
                    if rest.iter().all(|other| self.compared(other) == self.compared(first)) =>
                {
                    let species = first.species.clone();
                    return Identity::Species(finish_species(&first.genus, species, &words[place + 2..]));
                }
                _ => return Identity::Unresolved(Unresolved::Ambiguous),
            }
        }
        if words.iter().all(|word| self.appearance.contains(word)) {
            return Identity::Unresolved(Unresolved::AppearanceOnly);
        }
        Identity::Unresolved(Unresolved::Unknown)
    }

    /// Every species that a cut genus and an epithet fit; the epithet may itself be cut to `shortest` letters.
    fn abbreviated_at(&self, pair: &[String], shortest: usize) -> Vec<Species> {
        let [start, epithet] = pair else { return Vec::new() };
        if start.len() > 5 || epithet.len() < 3 || !start.chars().all(char::is_alphabetic) {
            return Vec::new();
        }
        self.genera_starting(start)
            .filter_map(|genus| {
                let species = self.known_epithet(genus, epithet, shortest)?;
                Some(finish_species(genus, species, &[]))
            })
            .collect()
    }
}

/// Adds the subspecies and the words "group" or "complex" that follow an epithet.
fn finish_species(genus: &str, species: String, rest: &[String]) -> Species {
    let as_group = rest.iter().any(|word| matches!(word.as_str(), "group" | "grp" | "complex"));
    let announced = |word: &String| matches!(word.as_str(), "subsp" | "ssp" | "subspecies" | "subs");
    let bare = |word: &String| {
        word.len() >= 5 && word.chars().all(char::is_alphabetic) && !NOT_AN_EPITHET.contains(&word.as_str())
    };
    let subspecies = match rest {
        [first, second, ..] if announced(first) => Some(second.clone()),
        [first, ..] if bare(first) => Some(first.clone()),
        _ => None,
    };
    Species { genus: genus.to_owned(), species, subspecies, as_group }
}

/// Takes out every listed phrase; true when one was there.
fn remove_phrases(words: &mut Vec<String>, phrases: &[Vec<String>]) -> bool {
    let mut found = false;
    for phrase in phrases.iter().filter(|phrase| !phrase.is_empty()) {
        while let Some(place) = words.windows(phrase.len()).position(|window| window == phrase.as_slice()) {
            words.drain(place..place + phrase.len());
            found = true;
        }
    }
    found
}

/// How much a reading says: 3 a species or group, 2 a genus, 1 less.
fn precision(identity: &Identity) -> u8 {
    match identity {
        Identity::Species(_) | Identity::Group(_) => 3,
        Identity::Genus(_) => 2,
        Identity::Unresolved(_) => 1,
    }
}
