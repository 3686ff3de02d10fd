//! What a set is called, and the clause of the rule that says so.

use std::fmt;

use crate::rules::RuleSet;

/// What a set is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Growth judged to come from skin or surroundings.
    Contaminated,
    /// Growth judged to come from the patient's blood.
    TruePositive,
    /// No growth.
    Negative,
    /// The rule cannot tell; a person must decide.
    Undetermined,
    /// A result that may still change the verdict is not in yet.
    Provisional,
    /// Not a set the rule is about.
    Excluded,
}

impl Verdict {
    /// The word used in files: "true-positive".
    pub fn id(self) -> &'static str {
        match self {
            Verdict::Contaminated => "contaminated",
            Verdict::TruePositive => "true-positive",
            Verdict::Negative => "negative",
            Verdict::Undetermined => "undetermined",
            Verdict::Provisional => "provisional",
            Verdict::Excluded => "excluded",
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Verdict::TruePositive => "true positive",
            other => other.id(),
        })
    }
}

/// The clause of the rule that gave a verdict. The order here is the order in which clauses are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Clause {
    /// Contaminated: a commensal in one set of a series, not in the others.
    CommensalInOneSet,
    /// Contaminated: a commensal in a set that stands alone, where the rule counts those.
    SingleSetCounted,
    /// True positive: an organism that is on no commensal list.
    RecognisedOrganism,
    /// True positive: a recognised organism beside a commensal in the same set.
    MixedGrowth,
    /// True positive: the same commensal in another set of the window.
    CommensalMatched,
    /// Negative.
    NoGrowth,
    /// Undetermined: a commensal in a set that stands alone.
    CommensalSingleSet,
    /// Undetermined: an organism that no table settles.
    OrganismForAPerson,
    /// Undetermined: another set of the window grew something that may be the same organism.
    OtherSetNotIdentified,
    /// Undetermined: mixed growth, where the rule leaves that to a person.
    MixedGrowthForAPerson,
    /// Undetermined: different commensals in a series, where the rule leaves that to a person.
    DifferentCommensals,
    /// Undetermined: only paediatric bottles and no age, under a rule that is not for every age.
    PaediatricBottleWithoutAge,
    /// Provisional: the set itself is open.
    NotClosed,
    /// Provisional: another set of the window is open.
    OtherSetNotClosed,
    /// Provisional: the window is not over, so another set may still be taken.
    WindowNotOver,
    /// Excluded: cancelled or rejected by the laboratory.
    Cancelled,
    /// Excluded: the patient's age is outside the ages the rule is for.
    OutsideAge,
    /// Excluded: no age is given, and the rule is for young patients only.
    AgeNotKnown,
    /// Excluded: a specimen the rule is not about.
    ExcludedSpecimen,
    /// Excluded: collected after the as-of date.
    AfterAsOf,
}

impl Clause {
    /// Every clause, in the order of listing.
    pub const ALL: [Clause; 20] = [
        Clause::CommensalInOneSet,
        Clause::SingleSetCounted,
        Clause::RecognisedOrganism,
        Clause::MixedGrowth,
        Clause::CommensalMatched,
        Clause::NoGrowth,
        Clause::CommensalSingleSet,
        Clause::OrganismForAPerson,
        Clause::OtherSetNotIdentified,
        Clause::MixedGrowthForAPerson,
        Clause::DifferentCommensals,
        Clause::PaediatricBottleWithoutAge,
        Clause::NotClosed,
        Clause::OtherSetNotClosed,
        Clause::WindowNotOver,
        Clause::Cancelled,
        Clause::OutsideAge,
        Clause::AgeNotKnown,
        Clause::ExcludedSpecimen,
        Clause::AfterAsOf,
    ];

    /// The verdict this clause gives.
    pub fn verdict(self) -> Verdict {
        match self {
            Clause::CommensalInOneSet | Clause::SingleSetCounted => Verdict::Contaminated,
            Clause::RecognisedOrganism | Clause::MixedGrowth | Clause::CommensalMatched => {
                Verdict::TruePositive
            }
            Clause::NoGrowth => Verdict::Negative,
            Clause::CommensalSingleSet
            | Clause::OrganismForAPerson
            | Clause::OtherSetNotIdentified
            | Clause::MixedGrowthForAPerson
            | Clause::DifferentCommensals
            | Clause::PaediatricBottleWithoutAge => Verdict::Undetermined,
            Clause::NotClosed | Clause::OtherSetNotClosed | Clause::WindowNotOver => Verdict::Provisional,
            Clause::Cancelled
            | Clause::OutsideAge
            | Clause::AgeNotKnown
            | Clause::ExcludedSpecimen
            | Clause::AfterAsOf => Verdict::Excluded,
        }
    }

    /// Stable name for files and stored verdicts.
    pub fn id(self) -> &'static str {
        match self {
            Clause::CommensalInOneSet => "commensal-in-one-set",
            Clause::SingleSetCounted => "single-set-counted",
            Clause::RecognisedOrganism => "recognised-organism",
            Clause::MixedGrowth => "mixed-growth",
            Clause::CommensalMatched => "commensal-matched",
            Clause::NoGrowth => "no-growth",
            Clause::CommensalSingleSet => "commensal-single-set",
            Clause::OrganismForAPerson => "organism-for-a-person",
            Clause::OtherSetNotIdentified => "other-set-not-identified",
            Clause::MixedGrowthForAPerson => "mixed-growth-for-a-person",
            Clause::DifferentCommensals => "different-commensals",
            Clause::PaediatricBottleWithoutAge => "paediatric-bottle-without-age",
            Clause::NotClosed => "not-closed",
            Clause::OtherSetNotClosed => "other-set-not-closed",
            Clause::WindowNotOver => "window-not-over",
            Clause::Cancelled => "cancelled",
            Clause::OutsideAge => "outside-age",
            Clause::AgeNotKnown => "age-not-known",
            Clause::ExcludedSpecimen => "excluded-specimen",
            Clause::AfterAsOf => "after-as-of",
        }
    }

    /// The clause with this stable name.
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|clause| clause.id() == id)
    }

    /// The clause in one plain sentence, with the numbers of the rule set.
    pub fn sentence(self, rules: &RuleSet) -> String {
        let window = rules.window;
        let minimum = rules.minimum_sets;
        match self {
            Clause::CommensalInOneSet => format!(
                "A skin commensal grew in this set and in no other of {minimum} or more sets within {window}."
            ),
            Clause::SingleSetCounted => {
                "A skin commensal grew in a set that stands alone; this rule counts that as contaminated.".to_owned()
            }
            Clause::RecognisedOrganism => "An organism grew that is on no commensal list.".to_owned(),
            Clause::MixedGrowth => {
                "An organism that is on no commensal list grew beside a skin commensal in the same set.".to_owned()
            }
            Clause::CommensalMatched => format!(
                "The same skin commensal grew in another set within {window}: a probable infection, for review by infection prevention."
            ),
            Clause::NoGrowth => "No growth was reported.".to_owned(),
            Clause::CommensalSingleSet => format!(
                "A skin commensal grew, and fewer than {minimum} sets lie within {window}: one set cannot tell; a person must decide."
            ),
            Clause::OrganismForAPerson => {
                "An organism grew that the tables do not settle; a person must decide.".to_owned()
            }
            Clause::OtherSetNotIdentified => format!(
                "A skin commensal grew, and another set within {window} grew something that may be the same; a person must decide."
            ),
            Clause::MixedGrowthForAPerson => {
                "A recognised organism and a skin commensal grew in the same set; this rule leaves that to a person.".to_owned()
            }
            Clause::DifferentCommensals => format!(
                "Different skin commensals grew in sets within {window}; this rule leaves that to a person."
            ),
            Clause::PaediatricBottleWithoutAge => {
                "Only paediatric bottles and no age are given, and this rule is not for every age; a person must decide.".to_owned()
            }
            Clause::NotClosed => format!(
                "The report is not final and the set is less than {} days old.", rules.days_to_close
            ),
            Clause::OtherSetNotClosed => format!(
                "A skin commensal grew, and another set within {window} is not closed yet."
            ),
            Clause::WindowNotOver => format!(
                "A skin commensal grew in a set that stands alone, and another set may still be taken within {window}."
            ),
            Clause::Cancelled => "The laboratory cancelled or rejected the specimen.".to_owned(),
            Clause::OutsideAge => {
                format!("The patient's age is outside the ages this rule is for: {}.", rules.ages())
            }
            Clause::AgeNotKnown => {
                format!("No age is given, and this rule is only for patients of {}.", rules.ages())
            }
            Clause::ExcludedSpecimen => {
                "The rule is not about this kind of specimen: blood taken after death, another fluid or quality control.".to_owned()
            }
            Clause::AfterAsOf => "The set was collected after the as-of date.".to_owned(),
        }
    }
}

/// Something about a set that a reader of its verdict should know.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Flag {
    /// The laboratory marked a name as doubtful.
    DoubtfulName,
    /// The organism is listed as commensal though it may well be a pathogen.
    OftenAPathogen,
    /// A recognised organism and a commensal grew together.
    MixedGrowth,
    /// Two names agree only because one stops at genus or group.
    MatchedAtGenus,
    /// A set from a line and one from a vein disagree.
    LineAndVeinDisagree,
    /// The collection time is later than the receipt time; the receipt time was used.
    CollectedAfterReceived,
    /// Only the day of collection is known.
    DayOnly,
    /// No age is given; the patient was taken to be in the rule's age range.
    AgeUnknown,
    /// Closed by its age: the report is still marked preliminary.
    ClosedByAge,
    /// A paediatric bottle under a rule for adults.
    PaediatricBottle,
    /// A name was misspelt and read as the only known name near it.
    MisspeltName,
}

impl Flag {
    /// Every flag.
    pub const ALL: [Flag; 11] = [
        Flag::DoubtfulName,
        Flag::OftenAPathogen,
        Flag::MixedGrowth,
        Flag::MatchedAtGenus,
        Flag::LineAndVeinDisagree,
        Flag::CollectedAfterReceived,
        Flag::DayOnly,
        Flag::AgeUnknown,
        Flag::ClosedByAge,
        Flag::PaediatricBottle,
        Flag::MisspeltName,
    ];

    /// Stable name for files.
    pub fn id(self) -> &'static str {
        match self {
            Flag::DoubtfulName => "doubtful-name",
            Flag::OftenAPathogen => "often-a-pathogen",
            Flag::MixedGrowth => "mixed-growth",
            Flag::MatchedAtGenus => "matched-at-genus",
            Flag::LineAndVeinDisagree => "line-and-vein-disagree",
            Flag::CollectedAfterReceived => "collected-after-received",
            Flag::DayOnly => "day-only",
            Flag::AgeUnknown => "age-unknown",
            Flag::ClosedByAge => "closed-by-age",
            Flag::PaediatricBottle => "paediatric-bottle",
            Flag::MisspeltName => "misspelt-name",
        }
    }

    /// What the flag says, in one plain sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            Flag::DoubtfulName => "The laboratory marked the name of an organism as doubtful.",
            Flag::OftenAPathogen => {
                "The organism is listed as a commensal, and laboratories may well call it a pathogen."
            }
            Flag::MixedGrowth => "A recognised organism and a skin commensal grew in the same set.",
            Flag::MatchedAtGenus => "The two names agree only because one of them stops at genus or group.",
            Flag::LineAndVeinDisagree => "A set from a line and a set from a vein disagree.",
            Flag::CollectedAfterReceived => {
                "The collection time is later than the receipt time; the receipt time was used."
            }
            Flag::DayOnly => "Only the day of collection is known.",
            Flag::AgeUnknown => "No age is given; the patient was taken to be of the ages the rule is for.",
            Flag::ClosedByAge => {
                "The report is still marked preliminary; the set counts as closed by its age."
            }
            Flag::PaediatricBottle => "A paediatric bottle was used.",
            Flag::MisspeltName => {
                "The name of an organism is misspelt; it was read as the only known name near it."
            }
        }
    }
}

/// A set of flags.
#[derive(Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Flags(u16);

impl Flags {
    /// Adds a flag.
    pub fn insert(&mut self, flag: Flag) {
        self.0 |= 1 << flag as u16;
    }

    /// Adds a flag when the condition holds.
    pub fn insert_if(&mut self, condition: bool, flag: Flag) {
        if condition {
            self.insert(flag);
        }
    }

    /// Whether there is none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether the flag is there.
    pub fn contains(self, flag: Flag) -> bool {
        self.0 & (1 << flag as u16) != 0
    }

    /// The flags that are there, in the order of [`Flag::ALL`].
    pub fn iter(self) -> impl Iterator<Item = Flag> {
        Flag::ALL.into_iter().filter(move |flag| self.contains(*flag))
    }
}

impl fmt::Debug for Flags {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self.iter()).finish()
    }
}
