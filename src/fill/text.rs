//! Layouts as text.

use core::fmt;

use crate::assess::Assessment;
use crate::fill::{Arrangement, EvenOut, Evened, FillOrder, Legal};
use crate::finding::Severity;
use crate::unit::Name;

fn labels(slots: &[Name]) -> String {
    if slots.is_empty() { "none".to_owned() } else { slots.iter().map(Name::as_str).collect::<Vec<_>>().join(" ") }
}

/// The slots in order, and the rows that they follow.
impl fmt::Display for FillOrder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&labels(&self.slots))?;
        match self.rows.as_slice() {
            [] => f.write_str(", by turn"),
            rows => {
                let rows: Vec<String> = rows.iter().map(ToString::to_string).collect();
                write!(f, ", by {}", rows.join(" and "))
            }
        }
    }
}

/// Memory, rate, interleave, bandwidth and findings of a layout.
fn judged(f: &mut fmt::Formatter<'_>, assessment: &Assessment) -> fmt::Result {
    let figures = &assessment.figures;
    write!(f, "Memory: {}", figures.amounts())?;
    write!(f, "\nRunning rate: {}", figures.running_rate)?;
    write!(f, "\nInterleave: {}", figures.interleave)?;
    write!(f, "\nBandwidth, estimated: {}", figures.bandwidth)?;
    assessment.from_severity(Severity::Note).try_for_each(|finding| write!(f, "\n{finding}"))
}

/// Each usable slot with what it holds and why, then rate, bandwidth and findings.
impl fmt::Display for Legal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Slots, by turn:")?;
        let telling = self.population.telling();
        for used in &self.slots {
            match self.population.get(used.slot.as_str()) {
                Some(held) => writeln!(f, "  {:<6} {} ({})", used.slot, held.text(&telling), used.reason)?,
                None => writeln!(f, "  {:<6} empty ({})", used.slot, used.reason)?,
            }
        }
        writeln!(f, "Free slots: {}", labels(&self.free_slots))?;
        judged(f, &self.assessment)
    }
}

/// The arrangement, or why there is none.
impl fmt::Display for Arrangement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Best(legal) => legal.fmt(f),
            Self::Illegal(_) => match self.best() {
                Err(why) => why.fmt(f),
                Ok(legal) => legal.fmt(f),
            },
            Self::Stopped { schema: _, reason, best } => {
                write!(f, "Not proved: the search {reason}.")?;
                match best {
                    Some(legal) => write!(f, " The best arrangement so far:\n{legal}"),
                    None => f.write_str(" No arrangement was found."),
                }
            }
        }
    }
}

/// What is added or moved, and the bandwidth then.
impl fmt::Display for Evened {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let telling = self.population.telling();
        let added = self.added.iter().map(|(module, count)| format!("{count} x {} more", telling.text(module)));
        let mut parts: Vec<String> = added.collect();
        match self.moves {
            0 => {}
            1 => parts.push("1 module moved".to_owned()),
            moves => parts.push(format!("{moves} modules moved")),
        }
        if !self.taken_out.is_empty() {
            parts.push(format!("{} taken out", labels(&self.taken_out)));
        }
        write!(f, "{}: {}", parts.join(", "), self.bandwidth)
    }
}

/// Whether it is even, and what would make it so.
impl fmt::Display for EvenOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let even = if self.is_even { "Even" } else { "Uneven" };
        write!(f, "{even}, {}", self.bandwidth)?;
        if self.is_even {
            return Ok(());
        }
        for (way, found) in
            [("By adding", &self.adding), ("By moving", &self.moving), ("By taking out", &self.taking_out)]
        {
            match (found, self.stopped) {
                (Some(found), _) => write!(f, "\n{way}: {found}")?,
                (None, None) => write!(f, "\n{way}: nothing makes it even")?,
                (None, Some(reason)) => write!(f, "\n{way}: not known, the search {reason}")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use crate::assess::Planner;
    use crate::fill::ArrangeRequest;
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, plain, population, processor};

    #[test]
    fn layouts_read_as_lines() {
        let machine = machine(board_of(1, 2, 2), processor());
        let (plain, rules) = (plain(), RuleBook::standard());
        let planner = Planner::new(&machine, &rules);
        let best = planner.arrange([(plain.clone(), 2)]).unwrap();
        let many = planner.arrange([(plain.clone(), 5)]).unwrap();
        let request = ArrangeRequest::new().piece(plain.clone(), 2).nodes(0);
        let stopped = planner.arrange_with(&request).unwrap();
        let uneven = planner.even_out(&population(&[("1A1", &plain), ("1A2", &plain)])).unwrap();
        let even = planner.even_out(&population(&[("1A1", &plain), ("1B1", &plain)])).unwrap();
        let order = planner.fill_order(3).unwrap();
        let text = format!("{best}\n--\n{many}\n--\n{stopped}\n--\n{uneven}\n--\n{even}\n--\n{order}\n");
        expect![[r#"
            Slots, by turn:
              1A1    32GB 2Rx4 DDR4-2400 registered (round 1, turn 1 of 2)
              1B1    32GB 2Rx4 DDR4-2400 registered (round 1, turn 2 of 2)
              1A2    empty (not needed)
              1B2    empty (not needed)
            Free slots: 1A2 1B2
            Memory: 64 GB installed and usable
            Running rate: 2400 MT/s at 1.2 V. Binding, at most 2400 MT/s: the modules' grade (slots 1A1, 1B1); lifting it alone does not help. Binding, at most 2400 MT/s: the highest rate of processor proc (processor 1) [data sheet]; lifting it alone does not help.
            Interleave: processor 1: all 64 GB at 2 ways (channels A, B) [any set of channels, assumed]
            Bandwidth, estimated: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            --
            no legal arrangement: 1 module finds no slot
            --
            Not proved: the search used up its 0 nodes; allow it more, or ask for less at once. The best arrangement so far:
            Slots, by turn:
              1A1    32GB 2Rx4 DDR4-2400 registered (round 1, turn 1 of 2)
              1B1    32GB 2Rx4 DDR4-2400 registered (round 1, turn 2 of 2)
              1A2    empty (not needed)
              1B2    empty (not needed)
            Free slots: 1A2 1B2
            Memory: 64 GB installed and usable
            Running rate: 2400 MT/s at 1.2 V. Binding, at most 2400 MT/s: the modules' grade (slots 1A1, 1B1); lifting it alone does not help. Binding, at most 2400 MT/s: the highest rate of processor proc (processor 1) [data sheet]; lifting it alone does not help.
            Interleave: processor 1: all 64 GB at 2 ways (channels A, B) [any set of channels, assumed]
            Bandwidth, estimated: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            --
            Uneven, 19.2 GB/s, 50 % of the board's 38.4 GB/s; peak of the channels filled 19.2 GB/s
            By adding: 2 x 32GB 2Rx4 DDR4-2400 registered more: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            By moving: 1 module moved: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            By taking out: nothing makes it even
            --
            Even, 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            --
            1A1 1B1 1A2, by turn
        "#]].assert_eq(&text);
    }
}
