//! What to listen for: the words of each item, with the weight of each word.

use std::collections::HashMap;

use breakdown::{Breakdown, ItemId, ItemKind, KeyPoint, KeyPointKind, content_words};
use quantity::{Stated, Unit, find};

use super::lexicon::Lexicon;
use super::opposite;

/// Every item of a breakdown as words to listen for.
pub(super) struct Profile {
    pub(super) items: Vec<ItemProfile>,
    /// Every word of the items, with what may stand for it.
    pub(super) lexicon: Lexicon,
    synonyms: Vec<(Vec<String>, String)>,
    /// Places in `synonyms` by their first word, in order.
    synonyms_from: HashMap<String, Vec<usize>>,
}

pub(super) struct ItemProfile {
    pub(super) id: ItemId,
    pub(super) kind: ItemKind,
    pub(super) safety: bool,
    /// The key point's label; none for steps and reasons.
    pub(super) label: Option<String>,
    /// Words with their weight, and whether the item says "not" about them.
    pub(super) words: Vec<ItemWord>,
    /// Weight a full telling would have: that of the few words that tell most, so that a long text need not be
    /// recited.
    pub(super) full_weight: f64,
    pub(super) quantities: Vec<ItemQuantity>,
    /// Words that stand together behind its "not": "give back".
    pub(super) never: Vec<(usize, usize)>,
    /// Words the item names one after the other with "then" between.
    pub(super) sequence: Vec<usize>,
    /// What it names behind "before": not to come first.
    pub(super) not_first: Option<usize>,
    /// Phrases that say its opposite, each behind the words of the item that it turns round.
    pub(super) turned_by: Vec<(Vec<String>, Vec<String>)>,
}

/// A number of a key point.
pub(super) struct ItemQuantity {
    pub(super) stated: Stated,
    /// Its number stands in the words of the key point too, or it is the only one: a telling without it is partial.
    pub(super) required: bool,
    /// Its unit is none the program knows ("150 mmHg"): only a number without a known unit can be it.
    pub(super) bare: bool,
    /// It says when something is to be done ("below 4 mmol treat at once"): another number is another time to act.
    pub(super) exact: bool,
    /// It stands in a condition ("if there is less than 10 mL"): a learner who says another number speaks of something else.
    pub(super) condition: bool,
}

pub(super) struct ItemWord {
    /// Place in the vocabulary.
    pub(super) word: usize,
    pub(super) weight: f64,
    pub(super) negated: bool,
    /// What its "not" is about above all: the first word behind it, or one of the label.
    pub(super) key: bool,
    /// It is so common that it tells little.
    pub(super) common: bool,
    /// It stands in what the item asks first, not in a condition or a detail behind a semicolon.
    pub(super) heart: bool,
    /// It stands in the label.
    pub(super) hearted: bool,
    /// The item's own form of a word that goes under another name: "hub" where the unit says the same of "cap".
    pub(super) own_form: bool,
}

/// Words so common that they tell little of what is talked about.
const COMMON: &[&str] = &[
    "put", "take", "use", "keep", "mak", "giv", "one", "again", "time", "first", "see", "need", "thing",
    "good", "new", "old", "way", "look", "want", "start", "next", "other", "each", "every", "both", "side",
    "mor", "most", "over", "hav", "com", "wher", "how", "onc", "last", "back", "many", "much", "next",
    "even", "stay", "onto", "through", "draw", "fill", "blood", "right",
];
/// What is left of their weight.
const COMMON_WEIGHT: f64 = 0.55;
/// Weight of a word of the key point's label against another of its words.
const HEART: f64 = 1.5;
/// What a word of the item is worth where the learner uses another of the unit's names for it than the item does.
const OTHER_FORM: f64 = 0.5;
/// Words of an item that a full telling has; the rest is how one learner puts it.
const TELLING_WORDS: usize = 4;
/// Content words after "not" that it is about.
const NOT_REACHES: usize = 3;

impl Profile {
    pub(super) fn of(breakdown: &Breakdown) -> Profile {
        let synonyms = synonyms(&breakdown.synonyms);
        let items = breakdown.items();
        let texts: Vec<Vec<Marked>> = items
            .iter()
            .map(|item| {
                let reasons = item.key_point.map(|point| point.reasons.join(" "));
                // The label is the author's own name for the heart of the key point.
                let label =
                    item.key_point.and_then(|point| point.label.as_deref()).unwrap_or("").replace('-', " ");
                let text = match item.id.kind() {
                    ItemKind::Step => item.text.to_owned(),
                    ItemKind::KeyPoint => {
                        format!("{label}, {}, {}", item.text, named_by_quantities(item.key_point))
                    }
                    ItemKind::Reason => reasons.unwrap_or_default(),
                };
                // What is negated ends with its clause: "not the pad, and change the finger".
                let text = nothing_first(&without_limits(&without_quantities(&text))).replace(" and ", ", ");
                let clauses = text.split([',', ';', ':', '.']);
                clauses
                    .flat_map(|clause| {
                        let words = content_words(clause);
                        let mut marked = with_negation(merge(&words, &synonyms));
                        let own = own_forms(&words, &marked, &synonyms);
                        for (own, name) in own {
                            let under = marked
                                .iter_mut()
                                .filter(|marked| marked.word == name && !words.contains(&name));
                            under.for_each(|marked| marked.by_other_form = true);
                            marked.push(own);
                        }
                        marked
                    })
                    .collect()
            })
            .collect();
        let mut n_items: HashMap<&str, u32> = HashMap::new();
        for words in &texts {
            let mut unique: Vec<&str> = words.iter().map(|marked| marked.word.as_str()).collect();
            unique.sort_unstable();
            unique.dedup();
            for word in unique {
                *n_items.entry(word).or_default() += 1;
            }
        }
        let mut vocabulary: Vec<(String, f64)> = n_items
            .iter()
            .map(|(word, n)| {
                let common = if COMMON.contains(word) { COMMON_WEIGHT } else { 1.0 };
                ((*word).to_owned(), common * (1.0 / f64::from(*n)).sqrt())
            })
            .collect();
        vocabulary.sort_by(|left, right| left.0.cmp(&right.0));
        let number: HashMap<String, usize> =
            vocabulary.iter().enumerate().map(|(at, (word, _))| (word.clone(), at)).collect();
        let profiles = items.iter().zip(&texts).map(|(item, words)| {
            let point = item.key_point;
            let is_point = item.id.kind() == ItemKind::KeyPoint;
            let label = point.filter(|_| is_point).and_then(|point| point.label.clone());
            let hearts = merge(&content_words(label.as_deref().unwrap_or("")), &synonyms);
            let before_semicolon = item.text.split(';').next().unwrap_or("");
            let in_heart = merge(&content_words(before_semicolon), &synonyms);
            let mut item_words: Vec<ItemWord> = Vec::new();
            for Marked { word, negated, first, own_form, by_other_form } in words {
                let Some(&place) = number.get(word) else { continue };
                if item_words.iter().any(|known| known.word == place) {
                    continue;
                }
                let weight = vocabulary[place].1
                    * if hearts.contains(word) { HEART } else { 1.0 }
                    * if *by_other_form { OTHER_FORM } else { 1.0 };
                let hearted = hearts.contains(word);
                let heart = in_heart.contains(word) || hearted;
                let common = COMMON.contains(&word.as_str());
                let key = *negated && (*first || hearts.contains(word));
                item_words.push(ItemWord {
                    word: place,
                    weight,
                    negated: *negated,
                    key,
                    common,
                    heart,
                    hearted,
                    own_form: *own_form,
                });
            }
            let quantities = point.filter(|_| is_point).map_or(Vec::new(), quantities);
            let once = item_words.iter().filter(|word| !word.own_form);
            let mut weights: Vec<f64> = once.map(|word| word.weight).collect();
            weights.extend(quantities.first().map(|_| QUANTITY_WEIGHT));
            weights.sort_by(|left, right| right.total_cmp(left));
            let in_sequence = if is_point { sequence(item.text, &synonyms) } else { Vec::new() };
            let never = words.windows(2).filter(|pair| pair.iter().all(|marked| marked.negated));
            let never =
                never.filter_map(|pair| Some((*number.get(&pair[0].word)?, *number.get(&pair[1].word)?)));
            ItemProfile {
                id: item.id,
                never: if is_point { never.collect() } else { Vec::new() },
                sequence: in_sequence.iter().filter_map(|word| number.get(word).copied()).collect(),
                kind: item.id.kind(),
                not_first: not_first(item.text, &synonyms)
                    .filter(|_| is_point)
                    .and_then(|word| number.get(&word).copied()),
                turned_by: if is_point { opposite::turned_by(item.text) } else { Vec::new() },
                safety: point.is_some_and(|point| point.kind == KeyPointKind::Safety),
                label,
                full_weight: weights.iter().take(TELLING_WORDS).sum(),
                words: item_words,
                quantities,
            }
        });
        let items = profiles.collect();
        let words: Vec<String> = vocabulary.iter().map(|(word, _)| word.clone()).collect();
        let mut synonyms_from: HashMap<String, Vec<usize>> = HashMap::new();
        for (at, (form, _)) in synonyms.iter().enumerate() {
            if let Some(first) = form.first() {
                synonyms_from.entry(first.clone()).or_default().push(at);
            }
        }
        Profile { items, lexicon: Lexicon::of(&words), synonyms, synonyms_from }
    }

    /// Place of a stem in the vocabulary.
    pub(super) fn place(&self, stem: &str) -> Option<usize> {
        self.lexicon.place(stem)
    }

    /// Place of the key point with this label.
    pub(super) fn labelled(&self, label: &str) -> Option<usize> {
        self.items.iter().position(|item| item.label.as_deref() == Some(label))
    }

    /// Longest run of words at the start of `words` that the unit uses for one thing, with the name it goes under.
    pub(super) fn synonym<'a>(&'a self, words: &[&str]) -> Option<(usize, &'a str)> {
        let starts = |form: &[String]| {
            form.len() <= words.len() && form.iter().zip(words).all(|(one, two)| one == two)
        };
        let from = self.synonyms_from.get(*words.first()?)?;
        let mut forms = from.iter().map(|at| &self.synonyms[*at]);
        forms.find(|(form, _)| starts(form)).map(|(form, name)| (form.len(), name.as_str()))
    }
}

/// Weight of a quantity that fits: it tells more than any word.
pub(super) const QUANTITY_WEIGHT: f64 = 1.5;

/// The quantities of a key point, those in its words marked as required; numbers of a unit the program does not know
/// stand last.
fn quantities(point: &KeyPoint) -> Vec<ItemQuantity> {
    let in_words = find(&point.text);
    // What stands behind a semicolon is a condition or a detail.
    let in_heart = find(point.text.split(';').next().unwrap_or(""));
    let named = |stated: &Stated| {
        let mut same = in_heart.iter().filter(|found| found.unit == Some(stated.unit));
        same.any(|found| found.stated(stated.unit).is_ok_and(|said| stated.agrees(&said)))
    };
    let only_behind = |stated: &Stated| {
        let mut all = in_words.iter().filter(|found| found.unit == Some(stated.unit));
        let said = |found: &quantity::Found| found.stated(stated.unit).is_ok_and(|said| stated.agrees(&said));
        all.any(said) && !named(stated)
    };
    let only = point.quantities.len() == 1;
    let mut quantities: Vec<ItemQuantity> = point
        .quantities
        .iter()
        .map(|stated| ItemQuantity {
            stated: stated.clone(),
            // A learner who names both identifiers need not say "two".
            required: stated.unit != Unit::Count && (only || named(stated)) && !only_behind(stated),
            bare: false,
            exact: false,
            condition: only_behind(stated),
        })
        .collect();
    for found in in_words.iter().filter(|found| found.unit.is_none()) {
        if let Ok(mut stated) = Stated::new(found.low, found.high, Unit::Count, None) {
            let unit =
                point.text.get(found.end..).and_then(|rest| rest.split_whitespace().next()).unwrap_or("");
            stated.what = Some(unit.trim_matches(|letter: char| !letter.is_alphanumeric()).to_owned());
            let exact = found.start == 0;
            quantities.push(ItemQuantity { stated, required: false, bare: true, exact, condition: false });
        }
    }
    quantities.extend(fraction(&point.text));
    quantities
}

/// "No wider than half of the tube": a share that no unit is named for.
fn fraction(text: &str) -> Option<ItemQuantity> {
    let at = text.find("half of ").or_else(|| text.find("half the "))?;
    let before: Vec<&str> = text.get(..at)?.split_whitespace().rev().take(2).collect();
    let at_most = before.iter().any(|word| matches!(*word, "than" | "most" | "maximum" | "to"));
    let mut stated = Stated::new((!at_most).then_some(0.5), Some(0.5), Unit::Count, None).ok()?;
    stated.what = Some("of it".to_owned());
    Some(ItemQuantity { stated, required: false, bare: true, exact: false, condition: false })
}

/// What the quantities of a key point are of: "skin contact".
fn named_by_quantities(point: Option<&KeyPoint>) -> String {
    let quantities = point.into_iter().flat_map(|point| &point.quantities);
    let named =
        quantities.filter(|stated| stated.unit != Unit::Count).filter_map(|stated| stated.what.as_deref());
    named.collect::<Vec<_>>().join(", ")
}

/// What an item names one after the other, with "then" or "before" between: the first word that carries meaning of each part.
fn sequence(text: &str, synonyms: &[(Vec<String>, String)]) -> Vec<String> {
    let heart = text.split(';').next().unwrap_or("");
    let with_then = heart.contains(", then ");
    let heart = heart.replace(", before ", ", then ");
    let mut parts: Vec<&str> =
        if with_then { heart.split(", then ").collect() } else { heart.split(" before ").collect() };
    if !with_then {
        parts = parts.iter().flat_map(|part| part.split(", then ")).collect();
        // "Stop and draw back before you suck" names more than one thing first.
        if content_words(parts.first().unwrap_or(&"")).len() > 2 {
            return Vec::new();
        }
    }
    if parts.len() < 2 {
        return Vec::new();
    }
    parts.iter().filter_map(|part| merge(&content_words(part), synonyms).into_iter().next()).collect()
}

/// The first word behind "before" in what an item asks: what must not come first.
fn not_first(text: &str, synonyms: &[(Vec<String>, String)]) -> Option<String> {
    let heart = text.split([';', ',']).find(|part| part.contains(" before "))?;
    let behind = heart.split(" before ").nth(1)?;
    merge(&content_words(behind), synonyms).into_iter().find(|word| !COMMON.contains(&word.as_str()))
}

/// A text with its quantities cut out; they are held against each other as numbers.
fn without_quantities(text: &str) -> String {
    let mut rest = String::new();
    let mut from = 0;
    for found in find(text).into_iter().filter(|found| found.unit.is_some()) {
        rest.push_str(&text[from..found.start]);
        rest.push(' ');
        // What a plain count counts is a word to listen for: "identifiers".
        rest.push_str(found.counted.unwrap_or(""));
        from = found.end;
    }
    rest + &text[from..]
}

/// A text in which "no wider than" is "wider than": a limit and no negation.
fn without_limits(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let is_limit = |at: usize| {
        matches!(words[at].to_lowercase().as_str(), "no" | "not" | "never")
            && words.get(at + 2).is_some_and(|word| word.eq_ignore_ascii_case("than"))
    };
    let kept = (0..words.len()).filter(|at| !is_limit(*at)).map(|at| words[at]);
    kept.collect::<Vec<_>>().join(" ")
}

/// A text in which "touch nothing" is "not touch".
fn nothing_first(text: &str) -> String {
    let mut words: Vec<&str> = text.split_whitespace().collect();
    for at in 1..words.len() {
        if words[at].eq_ignore_ascii_case("nothing") {
            words.swap(at - 1, at);
        }
    }
    words.join(" ")
}

/// A word of an item, and what a "not" before it is to it.
struct Marked {
    word: String,
    negated: bool,
    /// The first behind the "not" that is more than a common word.
    first: bool,
    own_form: bool,
    /// It stands for a word that the item has in another form, which is marked as well.
    by_other_form: bool,
}

/// Marks the words that a "not" is about, and drops the "not".
fn with_negation(words: Vec<String>) -> Vec<Marked> {
    let (mut reach, mut is_first) = (0, false);
    let mut marked = Vec::new();
    for word in words {
        if word == "not" {
            (reach, is_first) = (NOT_REACHES, true);
        } else {
            let first = reach > 0 && is_first && !COMMON.contains(&word.as_str());
            is_first &= !first;
            marked.push(Marked { word, negated: reach > 0, first, own_form: false, by_other_form: false });
            reach = reach.saturating_sub(1);
        }
    }
    marked
}

/// The words that go under another name, as the item has them: it is told a little more by its own.
fn own_forms(
    words: &[String],
    marked: &[Marked],
    synonyms: &[(Vec<String>, String)],
) -> Vec<(Marked, String)> {
    let forms = synonyms.iter().filter_map(|(form, name)| match form.as_slice() {
        [form] if form != name && words.contains(form) => Some((form, name)),
        _ => None,
    });
    let under = |name: &String| marked.iter().find(|marked| marked.word == *name);
    let own = forms.filter_map(|(form, name)| {
        let under = under(name)?;
        let own = Marked {
            word: form.clone(),
            negated: under.negated,
            first: false,
            own_form: true,
            by_other_form: false,
        };
        Some((own, name.clone()))
    });
    own.collect()
}

/// Word lists that mean one thing, longest first, with the one name they go under.
fn synonyms(groups: &[Vec<String>]) -> Vec<(Vec<String>, String)> {
    let mut table = Vec::new();
    for group in groups {
        let forms: Vec<Vec<String>> =
            group.iter().map(|form| content_words(form)).filter(|form| !form.is_empty()).collect();
        let Some(name) = forms.first().map(|form| form.join(" ")) else { continue };
        table.extend(forms.into_iter().map(|form| (form, name.clone())));
    }
    table.sort_by_key(|(form, _)| std::cmp::Reverse(form.len()));
    table
}

fn merge(words: &[String], synonyms: &[(Vec<String>, String)]) -> Vec<String> {
    let mut merged = Vec::new();
    let mut at = 0;
    while at < words.len() {
        match synonyms.iter().find(|(form, _)| words[at..].starts_with(form)) {
            Some((form, name)) => {
                merged.push(name.clone());
                at += form.len();
            }
            None => {
                merged.push(words[at].clone());
                at += 1;
            }
        }
    }
    merged
}
