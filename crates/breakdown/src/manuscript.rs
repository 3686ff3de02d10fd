//! A breakdown while somebody writes it: every text as it stands, right or wrong.

use crate::fault::{Fault, FaultKind, Place};
use crate::keyword::Keyword;
use crate::model::{Breakdown, ChangeKind, KeyPoint, KeyPointKind};
use crate::read::{Parsed, parse};

/// A key point as it is typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PointText {
    /// Why it is a key point.
    pub kind: KeyPointKind,
    /// Name used by order pairs; empty for none.
    pub label: String,
    /// How it is done.
    pub text: String,
    /// One reason each.
    pub reasons: Vec<String>,
    /// One quantity each.
    pub quantities: Vec<String>,
}

/// An important step as it is typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct StepText {
    /// What happens.
    pub name: String,
    /// Its key points.
    pub points: Vec<PointText>,
}

/// A breakdown as it is typed. Its text is that of a breakdown file, so it is read and checked by the same rules.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Manuscript {
    /// Name of the job.
    pub job: String,
    /// Short name.
    pub code: String,
    /// Version; empty for none.
    pub version: String,
    /// Day from which it is in force; empty for none.
    pub effective: String,
    /// Who wrote it.
    pub author: String,
    /// Who approved it.
    pub approved_by: String,
    /// Major or minor, once it is chosen.
    pub change_kind: Option<ChangeKind>,
    /// What changed.
    pub change: String,
    /// One caution each.
    pub cautions: Vec<String>,
    /// One supply each, with its count: "2 x winged set".
    pub supplies: Vec<String>,
    /// One group each: "clean = scrub".
    pub words: Vec<String>,
    /// Steps.
    pub steps: Vec<StepText>,
    /// One order each: "dry before puncture".
    pub orders: Vec<String>,
}

/// Where in a manuscript a finding belongs. Steps and key points are counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    /// The whole job.
    Whole,
    /// Its name.
    Job,
    /// Its short name.
    Code,
    /// Its version.
    Version,
    /// The day from which it is in force.
    Effective,
    /// Who wrote it.
    Author,
    /// Who approved it.
    ApprovedBy,
    /// What changed.
    Change,
    /// Cautions.
    Cautions,
    /// Supplies.
    Supplies,
    /// Words for one thing.
    Words,
    /// A step's name.
    Step(usize),
    /// A key point with its reasons and quantities.
    Point(usize, usize),
    /// Orders that bind.
    Orders,
}

impl Manuscript {
    /// A breakdown as somebody would have typed it.
    pub fn of(breakdown: &Breakdown) -> Manuscript {
        Manuscript {
            job: breakdown.job.clone(),
            code: breakdown.code.0.clone(),
            version: if breakdown.version.0 > 0 { breakdown.version.to_string() } else { String::new() },
            effective: breakdown.effective.map_or(String::new(), |date| date.to_string()),
            author: breakdown.author.clone().unwrap_or_default(),
            approved_by: breakdown.approved_by.clone().unwrap_or_default(),
            change_kind: breakdown.change.as_ref().map(|change| change.kind),
            change: breakdown.change.as_ref().map_or(String::new(), |change| change.what.clone()),
            cautions: breakdown.cautions.clone(),
            supplies: breakdown
                .supplies
                .iter()
                .map(|supply| match supply.count {
                    Some(count) => format!("{count} x {}", supply.name),
                    None => supply.name.clone(),
                })
                .collect(),
            words: breakdown.synonyms.iter().map(|group| group.join(" = ")).collect(),
            steps: breakdown
                .steps
                .iter()
                .map(|step| StepText {
                    name: step.name.clone(),
                    points: step.key_points.iter().map(PointText::of).collect(),
                })
                .collect(),
            orders: breakdown
                .orders
                .iter()
                .map(|pair| format!("{} before {}", pair.first, pair.then))
                .collect(),
        }
    }

    /// The text of the breakdown file. Line ends within a text become spaces; steps and key points with nothing in them
    /// are left out.
    pub fn text(&self) -> String {
        self.lines().text
    }

    /// Reads and checks it as a file would be, each finding with the field it belongs to.
    pub fn read(&self) -> (Parsed, Vec<(Field, Fault)>) {
        let lines = self.lines();
        let parsed = parse(&lines.text);
        let findings = parsed.faults.iter().map(|fault| (lines.field(fault), fault.clone())).collect();
        (parsed, findings)
    }

    fn lines(&self) -> Lines {
        let mut lines = Lines::default();
        lines.put(Field::Job, "", "job", &self.job);
        lines.put(Field::Code, "", "code", &self.code);
        lines.put(Field::Version, "", "version", &self.version);
        lines.put(Field::Effective, "", "effective", &self.effective);
        lines.put(Field::Author, "", "author", &self.author);
        lines.put(Field::ApprovedBy, "", "approved by", &self.approved_by);
        let change = match self.change_kind {
            Some(ChangeKind::Major) => "change (major)",
            Some(ChangeKind::Minor) => "change (minor)",
            None => "change",
        };
        lines.put(Field::Change, "", change, &self.change);
        lines.list(Field::Cautions, "caution", &self.cautions);
        lines.list(Field::Supplies, "supply", &self.supplies);
        lines.list(Field::Words, "words", &self.words);
        for (number, step) in (1..).zip(&self.steps).filter(|(_, step)| !step.is_empty()) {
            lines.gap();
            lines.must(Field::Step(number), "", "step", &step.name);
            for (point_number, point) in (1..).zip(&step.points).filter(|(_, point)| !point.is_empty()) {
                lines.point(Field::Point(number, point_number), point);
            }
        }
        lines.list(Field::Orders, "order", &self.orders);
        lines
    }
}

impl StepText {
    /// True when nothing is typed in it.
    pub fn is_empty(&self) -> bool {
        self.name.trim().is_empty() && self.points.iter().all(PointText::is_empty)
    }
}

impl PointText {
    /// A key point nobody has typed anything in.
    pub fn blank() -> PointText {
        PointText {
            kind: KeyPointKind::MakesOrBreaks,
            label: String::new(),
            text: String::new(),
            reasons: Vec::new(),
            quantities: Vec::new(),
        }
    }

    /// True when nothing is typed in it.
    pub fn is_empty(&self) -> bool {
        let nothing = |texts: &[String]| texts.iter().all(|text| text.trim().is_empty());
        self.label.trim().is_empty()
            && self.text.trim().is_empty()
            && nothing(&self.reasons)
            && nothing(&self.quantities)
    }

    fn of(point: &KeyPoint) -> PointText {
        PointText {
            kind: point.kind,
            label: point.label.clone().unwrap_or_default(),
            text: point.text.clone(),
            reasons: point.reasons.clone(),
            quantities: point.quantities.iter().map(ToString::to_string).collect(),
        }
    }
}

/// The lines of a file, each with the field it came from.
#[derive(Default)]
struct Lines {
    text: String,
    fields: Vec<Field>,
    gap: bool,
}

impl Lines {
    /// A blank line before the next entry.
    fn gap(&mut self) {
        self.gap = !self.text.is_empty();
    }

    fn list(&mut self, field: Field, keyword: &str, texts: &[String]) {
        self.gap();
        texts.iter().for_each(|text| self.put(field, "", keyword, text));
    }

    /// One line; none where the text is empty.
    fn put(&mut self, field: Field, indent: &str, keyword: &str, text: &str) {
        if !text.trim().is_empty() {
            self.must(field, indent, keyword, text);
        }
    }

    /// One line, even where the text is empty: reading it then says that it is.
    fn must(&mut self, field: Field, indent: &str, keyword: &str, text: &str) {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if std::mem::take(&mut self.gap) {
            self.text.push('\n');
            self.fields.push(Field::Whole);
        }
        let line = format!("{indent}{keyword}: {text}");
        self.text.push_str(line.trim_end());
        self.text.push('\n');
        self.fields.push(field);
    }

    fn point(&mut self, field: Field, point: &PointText) {
        let keyword = match point.kind {
            KeyPointKind::Safety => "safety point",
            KeyPointKind::MakesOrBreaks => "key point",
            KeyPointKind::Knack => "knack",
        };
        // Signs that would end the label early are shown as a wrong label instead.
        let label = point.label.trim().replace(['[', ']', ':'], "?");
        match label.is_empty() {
            true => self.must(field, "  ", keyword, &point.text),
            false => self.must(field, "  ", &format!("{keyword} [{label}]"), &point.text),
        }
        point.reasons.iter().for_each(|reason| self.put(field, "    ", "reason", reason));
        point.quantities.iter().for_each(|quantity| self.put(field, "    ", "quantity", quantity));
    }

    fn field(&self, fault: &Fault) -> Field {
        if let FaultKind::Missing { keyword } | FaultKind::NotYetGiven { keyword } = &fault.kind {
            return match keyword {
                Keyword::Job => Field::Job,
                Keyword::Code => Field::Code,
                Keyword::Version => Field::Version,
                Keyword::Effective => Field::Effective,
                Keyword::Author => Field::Author,
                Keyword::ApprovedBy => Field::ApprovedBy,
                _ => Field::Change,
            };
        }
        let Place { line, .. } = fault.place;
        line.checked_sub(1).and_then(|at| self.fields.get(at)).copied().unwrap_or(Field::Whole)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(text: &str, reason: &str, quantity: &str) -> PointText {
        PointText {
            text: text.to_owned(),
            reasons: vec![reason.to_owned()],
            quantities: vec![quantity.to_owned()],
            ..PointText::blank()
        }
    }

    #[test]
    fn findings_name_their_field() {
        let manuscript = Manuscript {
            job: "Draw".to_owned(),
            code: "Bad Code".to_owned(),
            version: "1".to_owned(),
            steps: vec![
                StepText {
                    name: "Clean the skin".to_owned(),
                    points: vec![point("Rub it", "killing needs contact", "skin contact 30")],
                },
                StepText::default(),
                StepText {
                    name: String::new(),
                    points: vec![PointText::blank(), point("Let it dry", "let it dry", "")],
                },
            ],
            orders: vec!["dry before puncture".to_owned()],
            ..Manuscript::default()
        };
        let (parsed, findings) = manuscript.read();
        assert!(!parsed.is_sound());
        let has = |field: Field, name: &str| {
            assert!(
                findings.iter().any(|(at, fault)| *at == field && fault.name() == name),
                "{name} at {field:?} in {findings:?}"
            );
        };
        has(Field::Code, "bad-code");
        has(Field::Point(1, 1), "quantity-without-unit");
        has(Field::Step(3), "no-text");
        has(Field::Point(3, 2), "reason-repeats");
        has(Field::Orders, "unknown-label");
        has(Field::Author, "not-yet-given");
        has(Field::Whole, "no-safety-point");
    }

    #[test]
    fn a_text_cannot_pass_for_another_line() {
        let manuscript = Manuscript {
            job: "Draw\nstep: taken over".to_owned(),
            code: "draw".to_owned(),
            version: "1".to_owned(),
            steps: vec![StepText {
                name: "Clean\r\n  key point: slipped in".to_owned(),
                points: vec![PointText { label: "a]: b".to_owned(), ..point("Rub it", "", "") }],
            }],
            ..Manuscript::default()
        };
        let (parsed, findings) = manuscript.read();
        let breakdown = parsed.breakdown.unwrap();
        assert_eq!(breakdown.job, "Draw step: taken over");
        assert_eq!((breakdown.steps.len(), breakdown.steps[0].key_points.len()), (1, 1));
        assert!(findings.iter().any(|(at, fault)| *at == Field::Point(1, 1) && fault.name() == "bad-label"));
    }
}
