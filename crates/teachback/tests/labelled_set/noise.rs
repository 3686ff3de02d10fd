//! Words made wrong the way a recogniser makes them wrong, from a fixed seed.
//!
//! What sounds alike here was listed by hand from common English homophones and near homophones (common practice, no
//! source). The reader does not know this list.

use std::collections::BTreeSet;
use std::sync::LazyLock;

/// What a recogniser writes for a word or two.
const SOUNDS_LIKE: &[(&str, &[&str])] = &[
    ("eight", &["ate", "aid"]),
    ("two", &["to", "too"]),
    ("four", &["for", "fore"]),
    ("ten", &["tin", "then"]),
    ("six", &["sicks"]),
    ("one", &["won"]),
    ("three", &["free", "tree"]),
    ("thirty", &["dirty", "thirsty"]),
    ("fifteen", &["fifty", "fifth teen"]),
    ("sixteen", &["sixty"]),
    ("twenty", &["plenty", "twin tea"]),
    ("five", &["fife", "hive"]),
    ("mils", &["mills", "meals", "miles"]),
    ("mil", &["mill", "meal"]),
    ("seconds", &["sacks", "second", "sec ants"]),
    ("minute", &["minuet"]),
    ("minutes", &["minuets", "minute"]),
    ("hours", &["ours", "our"]),
    ("sets", &["sits", "sex"]),
    ("set", &["sat"]),
    ("vein", &["vain", "van"]),
    ("needle", &["kneel", "noodle"]),
    ("chlorhexidine", &["clor hex a dean", "chlorine", "core hexadine"]),
    ("aerobic", &["a robic", "arrow bick"]),
    ("anaerobic", &["an aerobic", "anna robic"]),
    ("tourniquet", &["turn a key", "tourniquets", "turn it"]),
    ("cannula", &["canula", "can you la"]),
    ("lumen", &["loomin", "human"]),
    ("flush", &["flesh"]),
    ("hub", &["hob", "hab"]),
    ("sterile", &["stale", "stare ill"]),
    ("saline", &["sailing"]),
    ("clamp", &["lamp", "clam"]),
    ("bottle", &["bottom", "battle"]),
    ("bottles", &["battles", "bottle"]),
    ("label", &["table", "labour"]),
    ("labels", &["tables", "label"]),
    ("vacuum", &["back room", "vacume"]),
    ("plunger", &["plumber"]),
    ("scrub", &["scrap", "rub"]),
    ("dry", &["try", "drive"]),
    ("skin", &["skim", "kin"]),
    ("wipe", &["white", "why"]),
    ("tops", &["taps", "top"]),
    ("site", &["sight", "side"]),
    ("blood", &["bled", "flood"]),
    ("alcohol", &["alcohole", "all call"]),
    ("iodine", &["i a dine"]),
    ("catheter", &["catheters", "cath eater"]),
    ("carina", &["karina", "corina"]),
    ("suction", &["section", "auction"]),
    ("oxygen", &["oxy gen", "ox again"]),
    ("cuff", &["cough", "cup"]),
    ("lancet", &["lancer", "lance it"]),
    ("strip", &["trip", "stripe"]),
    ("glucose", &["glue coats"]),
    ("gauze", &["gores", "cause"]),
    ("gloves", &["loves", "glove"]),
    ("mask", &["task", "masque"]),
    ("peel", &["peal", "feel"]),
    ("pus", &["puss", "plus"]),
    ("wristband", &["rest band", "wrist ban"]),
    ("because", &["cause", "becuz"]),
    ("syringe", &["syrinx", "so ring"]),
    ("connector", &["collector", "connect her"]),
];

/// Everyday words a recogniser falls back to.
const EVERYDAY: &str = "about above across actually again air almost along already always another around away back bad ball band \
base bath bean bear beat bed been bell best better big bill bit black block blow board boat body book both bottom box boy bread break \
bring brown burn bus buy call came can car care carry case cat chair chance change check city class clear close cloth cold come cook \
cool corn cost could count cover cross cup cut dark date day deal deep dinner dog door down draw dream dress drink drive drop each ear \
early east easy eat edge eight end enough even ever every eye face fact fair fall far farm fast father feel few field fill final find \
fine fire first fish fit floor fly food foot form found free fresh friend front full game garden gate gave get girl give glad glass \
gold good grass great green ground group grow hair half hand happy hard hat have head hear heart heat help here high hill hold hole \
home hope horse hot hour house idea inch iron just keep key kind king know lady lake land large last late laugh law lead learn leave \
left leg less letter life light like line list live long look lost lot love low made mail main make man many map mark may mean meat \
meet mile milk mind miss money moon more most move much music name near neck need new next nice night noise north nose note now off \
oil old once only open other over own page pair paper park part pass past path pay peace pen people pick picture piece place plan plant \
play please point pool poor post pound press price pull put queen quick rain raise ran rather reach read ready real red rest ride right \
ring road rock roll roof room round row rule run safe said sail salt same sand save say school sea seat second see seem sell send \
serve seven shape sharp ship shoe shop short show side sign silver sing sit size skill sleep slow small smell smile snow soft some song \
soon sort sound south space speak spring stand star start state stay step still stone stop store story street strong such sugar suit \
summer sun sure sweet table take talk tall teach team tell test than thank that them then there thing think third this those thought \
time tire today told took top touch town track trade train tree trip true try turn under use very view visit voice wait walk wall want \
warm wash watch water wave way wear week well went west wheel when where while white who whole why wide wild will wind window wing \
winter wish with wood word work world would write wrong yard year yes yet young";

static POOL: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let unique: BTreeSet<&str> = EVERYDAY.split_whitespace().collect();
    unique.into_iter().collect()
});
const PUT_IN: &[&str] =
    &["um", "uh", "like", "you know", "so", "the", "and", "a", "er", "just", "okay", "well"];

/// Makes words wrong.
pub struct Noise {
    share: f64,
    state: u64,
}

impl Noise {
    /// The same share, seed and name always give the same words.
    pub fn new(share: f64, seed: u64, name: &str) -> Noise {
        let mut state = seed ^ 0x9e37_79b9_7f4a_7c15;
        for byte in name.bytes() {
            state = (state ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
        }
        Noise { share, state }
    }

    /// A line without capitals and punctuation, with its share of wrong words.
    pub fn apply(&mut self, text: &str) -> Vec<String> {
        let lower = text.to_lowercase();
        let words: Vec<&str> =
            lower.split_whitespace().map(|word| word.trim_matches([',', '.', '?', ':'])).collect();
        let mut written: Vec<String> = Vec::new();
        let mut joins = false;
        for word in words {
            if joins {
                joins = false;
                if let Some(last) = written.last_mut() {
                    last.push_str(word);
                    continue;
                }
            }
            if self.unit() >= self.share {
                written.push(word.to_owned());
                continue;
            }
            let alike = SOUNDS_LIKE.iter().find(|(from, _)| *from == word);
            let kind = self.unit();
            match alike {
                Some((_, alike)) if kind < 0.7 => {
                    let at = self.below(alike.len());
                    written.extend(alike[at].split(' ').map(str::to_owned));
                }
                _ if kind < 0.2 => {}
                _ if kind < 0.3 => {
                    written.push(word.to_owned());
                    let at = self.below(PUT_IN.len());
                    written.extend(PUT_IN[at].split(' ').map(str::to_owned));
                }
                _ if kind < 0.4 && word.chars().count() >= 6 && word.is_ascii() => {
                    let (one, two) = word.split_at(word.len() / 2);
                    written.extend([one.to_owned(), two.to_owned()]);
                }
                _ if kind < 0.5 => {
                    written.push(word.to_owned());
                    joins = true;
                }
                _ => written.push(self.near(word)),
            }
        }
        written
    }

    /// One of the three everyday words that are written most like it.
    fn near(&mut self, word: &str) -> String {
        let mut near: Vec<(usize, &str)> = POOL
            .iter()
            .filter(|other| **other != word)
            .map(|other| (quantity::spelling::distance(word, other), *other))
            .collect();
        near.sort_unstable();
        let at = self.below(3);
        near[at].1.to_owned()
    }

    /// Splitmix64 of Steele, Lea and Flood (2014).
    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }
}
