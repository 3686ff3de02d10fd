//! The text of a breakdown file, written in one way only.

use std::fmt::Write;

use crate::model::{Breakdown, ChangeKind, KeyPoint, KeyPointKind};

/// Writes a breakdown as the text of its file. Reading it back gives the same breakdown, but for line numbers.
///
/// Texts must be one line each, as every breakdown that was read has them; a line end inside one becomes a space.
pub fn write(breakdown: &Breakdown) -> String {
    let mut lines = Lines::default();
    lines.put("", "job", &breakdown.job);
    lines.put("", "code", &breakdown.code.0);
    if breakdown.version.0 > 0 {
        lines.put("", "version", &breakdown.version.to_string());
    }
    if let Some(date) = breakdown.effective {
        lines.put("", "effective", &date.to_string());
    }
    lines.put("", "author", breakdown.author.as_deref().unwrap_or(""));
    lines.put("", "approved by", breakdown.approved_by.as_deref().unwrap_or(""));
    if let Some(change) = &breakdown.change {
        let keyword = match change.kind {
            ChangeKind::Major => "change (major)",
            ChangeKind::Minor => "change (minor)",
        };
        lines.put("", keyword, &change.what);
    }
    lines.gap();
    for caution in &breakdown.cautions {
        lines.put("", "caution", caution);
    }
    lines.gap();
    for supply in &breakdown.supplies {
        match supply.count {
            Some(count) => lines.put("", "supply", &format!("{count} x {}", supply.name)),
            None => lines.put("", "supply", &supply.name),
        }
    }
    lines.gap();
    for group in &breakdown.synonyms {
        lines.put("", "words", &group.join(" = "));
    }
    for step in &breakdown.steps {
        lines.gap();
        lines.put("", "step", &step.name);
        for point in &step.key_points {
            lines.point(point);
        }
    }
    lines.gap();
    for order in &breakdown.orders {
        lines.put("", "order", &format!("{} before {}", order.first, order.then));
    }
    lines.text
}

#[derive(Default)]
struct Lines {
    text: String,
    gap: bool,
}

impl Lines {
    /// A blank line before the next entry.
    fn gap(&mut self) {
        self.gap = !self.text.is_empty();
    }

    fn put(&mut self, indent: &str, keyword: &str, text: &str) {
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        if text.is_empty() {
            return;
        }
        if std::mem::take(&mut self.gap) {
            self.text.push('\n');
        }
        // Writing to a string cannot fail.
        let _ = writeln!(self.text, "{indent}{keyword}: {text}");
    }

    fn point(&mut self, point: &KeyPoint) {
        let keyword = match point.kind {
            KeyPointKind::Safety => "safety point",
            KeyPointKind::MakesOrBreaks => "key point",
            KeyPointKind::Knack => "knack",
        };
        match &point.label {
            Some(label) => self.put("  ", &format!("{keyword} [{label}]"), &point.text),
            None => self.put("  ", keyword, &point.text),
        }
        for reason in &point.reasons {
            self.put("    ", "reason", reason);
        }
        for quantity in &point.quantities {
            self.put("    ", "quantity", &quantity.to_string());
        }
    }
}
