//! The form of one collection. It works without JavaScript and keeps what was typed.

use breakdown::Breakdown;
use desk::{AskedFor, Refused};
use maud::{Markup, html};

/// The fields as they were sent.
pub(super) struct Asked {
    fields: Vec<(String, String)>,
}

impl Asked {
    pub(super) fn new(fields: Vec<(String, String)>) -> Asked {
        Asked { fields }
    }

    /// Whether the form was sent at all.
    pub(super) fn is_asked(&self) -> bool {
        !self.fields.is_empty()
    }

    /// A field, trimmed; empty where it was not sent.
    pub(super) fn text(&self, name: &str) -> &str {
        self.fields.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value.trim())
    }

    /// Whether a box was ticked.
    pub(super) fn has(&self, name: &str, value: &str) -> bool {
        self.fields.iter().any(|(field, sent)| field == name && sent == value)
    }

    /// A box as it stands in the form: a vein is ticked before anything was sent.
    fn ticked(&self, name: &str, value: &str) -> bool {
        if self.is_asked() { self.has(name, value) } else { (name, value) == ("access", "vein") }
    }
}

/// The anchor of the field that a refusal is about.
pub(super) fn field(about: AskedFor) -> &'static str {
    match about {
        AskedFor::Who | AskedFor::Policy => "who",
        AskedFor::Weight | AskedFor::DayLimit => "weight",
        AskedFor::Height | AskedFor::HeightOrSex => "height",
        AskedFor::AgeMonths => "age",
        AskedFor::Haemoglobin => "haemoglobin",
        AskedFor::TakenToday => "taken",
        AskedFor::Sets => "sets-ordered",
        AskedFor::Access => "access",
        AskedFor::Lumens => "lumens",
        AskedFor::LineSuspected => "suspected",
        AskedFor::Bottles => "bottles",
        AskedFor::Antibiotic => "antibiotic",
        AskedFor::DrawTime => "draw-time",
    }
}

/// Choices of one field: value and words.
type Choices = &'static [(&'static str, &'static str)];

pub(super) fn form(asked: &Asked, refused: Option<&Refused>, jobs: &[Breakdown]) -> Markup {
    let wrong = refused.map(|refused| field(refused.about));
    let text = |id: &'static str, name: &'static str, words: &str, mode: &str| {
        html! {
            p.field {
                label for=(id) { (words) }
                input #(id) name=(name) inputmode=(mode) autocomplete="off" maxlength="20" value=(asked.text(name))
                    aria-invalid=[(wrong == Some(id)).then_some("true")];
            }
        }
    };
    let choice = |id: &'static str, words: &str, choices: Choices| {
        html! {
            p.field {
                label for=(id) { (words) }
                select #(id) name=(id) aria-invalid=[(wrong == Some(id)).then_some("true")] {
                    @for (value, words) in choices {
                        option value=(value) selected[asked.text(id) == *value] { (words) }
                    }
                }
            }
        }
    };
    let boxes = |id: &'static str, words: &str, choices: Choices| {
        html! {
            fieldset.boxes #(id) {
                legend { (words) }
                @for (value, words) in choices {
                    label { input type="checkbox" name=(id) value=(value) checked[asked.ticked(id, value)]; " " (words) }
                }
            }
        }
    };
    let read_twice = refused.is_some_and(|refused| refused.weight_again) || asked.has("weight-read", "twice");
    html! {
        form.ask method="get" action="/draw/plan" {
            fieldset {
                legend { "Patient" }
                div.fields.four.even {
                    (choice("who", "Adult or child", &[("", "choose"), ("adult", "adult, 18 years or older"), ("child", "child")]))
                    (text("weight", "weight", "Weight, kg", "decimal"))
                    (text("taken", "taken", "Blood taken in 24 h, mL", "decimal"))
                    (text("haemoglobin", "haemoglobin", "Haemoglobin, g/L", "decimal"))
                    (text("height", "height", "Height of an adult, cm", "decimal"))
                    (choice("sex", "Sex of an adult", &[("", "not known"), ("female", "female"), ("male", "male")]))
                    (text("age", "age", "Age of a child, months", "numeric"))
                    (text("sets-ordered", "sets", "Sets, if ordered otherwise", "numeric"))
                }
                @if read_twice {
                    p.boxes {
                        label {
                            input type="checkbox" name="weight-read" value="twice" checked[asked.has("weight-read", "twice")];
                            " I have read the weight twice, and where its point stands"
                        }
                    }
                }
            }
            fieldset {
                legend { "Access" }
                (boxes("access", "Blood can be had from", &[
                    ("vein", "a vein"), ("central-line", "a central line"), ("arterial-line", "an arterial line"),
                    ("new-cannula", "a cannula just placed"),
                ]))
                div.fields.four.even {
                    (text("lumens", "lumens", "Lumens of the central line", "numeric"))
                    (choice("suspected", "Line infection suspected", &[("", "no"), ("yes", "yes: pair the sets")]))
                    (choice("method", "At a vein with", &[("winged-set", "a winged set"), ("syringe", "a syringe")]))
                }
                (boxes("bottles", "Bottles at hand, if you want them checked", &[
                    ("adult", "adult: aerobic and anaerobic"), ("paediatric", "paediatric"),
                ]))
            }
            fieldset {
                legend { "Time" }
                div.fields.four.even {
                    (text("draw-time", "time", "Draw at; empty for now", "text"))
                    (choice("antibiotic", "First dose of antibiotic", &[
                        ("", "not known"), ("none", "none given, none due"), ("given", "given at"), ("due", "due at"),
                    ]))
                    (text("antibiotic-time", "antibiotic-time", "Dose given or due at, such as 14:05", "text"))
                }
            }
            @if !jobs.is_empty() {
                fieldset.boxes #job {
                    legend { "Breakdowns it is carried out by, for the shortest time" }
                    @for job in jobs {
                        label { input type="checkbox" name="job" value=(job.code) checked[asked.has("job", &job.code.0)]; " " bdi { (job.job) } }
                    }
                }
            }
            p.actions { button type="submit" { "Plan" } }
        }
    }
}
