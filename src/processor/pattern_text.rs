//! Patterns of modules as text.

use core::fmt;

use crate::processor::{ModulePattern, Span};

/// "registered 2-rank modules", "stacked load-reduced modules of 64 GB or more"; "modules" where nothing is named.
impl fmt::Display for ModulePattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (capacities, ranks) = (self.capacities(), self.rank_counts());
        if let Some(capacity) = capacities.filter(|span| span.is_single()) {
            write!(f, "{} ", capacity.least)?;
        }
        if let Some(height) = self.stack_height.filter(|&height| height > 1) {
            write!(f, "{height}-high stacked ")?;
        }
        if let Some(kind) = self.kind {
            write!(f, "{kind} ")?;
        }
        if let Some(ranks) = ranks.filter(|span| span.is_single()) {
            write!(f, "{}-rank ", ranks.least)?;
        }
        if let Some(width) = self.width {
            write!(f, "{width} ")?;
        }
        if let Some(density) = self.die_density_mbit {
            write!(f, "{density}-die ")?;
        }
        if let Some(grade) = self.grade_mts {
            write!(f, "grade-{} ", grade.name_mts())?;
        }
        f.write_str("modules")?;
        let more = self.qualifiers();
        if more.is_empty() { Ok(()) } else { write!(f, " {}", more.join(", ")) }
    }
}

impl ModulePattern {
    /// What stands behind the word for modules.
    fn qualifiers(&self) -> Vec<String> {
        let mut texts = Vec::new();
        if let Some(span) = self.capacities().filter(|span| !span.is_single()) {
            let bounds =
                (self.capacity_mib.or(self.capacity_at_least_mib), self.capacity_mib.or(self.capacity_at_most_mib));
            texts.push(match bounds {
                (Some(_), None) => format!("of {} or more", span.least),
                (None, _) => format!("of at most {}", span.most),
                _ => format!("of {} to {}", span.least, span.most),
            });
        }
        if let Some(Span { least, most }) = self.rank_counts().filter(|span| !span.is_single()) {
            texts.push(match (least, most) {
                (least, 8) => format!("with {least} ranks or more"),
                (1, most) => format!("with {most} ranks or fewer"),
                _ => format!("with {least} to {most} ranks"),
            });
        }
        texts.extend(self.voltage_mv.map(|voltage| format!("that may run at {voltage}")));
        texts.extend(self.ecc.map(|ecc| format!("with {ecc}")));
        texts.extend(self.class.as_ref().map(|class| format!("of class {class}")));
        texts.extend(self.without_class.then(|| "without a class".to_owned()));
        texts.extend(self.maker.as_ref().map(|maker| format!("by {maker}")));
        texts.extend(self.part_number.as_ref().map(|part| format!("with part number {part}")));
        texts
    }
}
