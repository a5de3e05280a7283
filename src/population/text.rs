//! Changes of populations as text.

use core::fmt;

use crate::module::Telling;
use crate::population::{Change, Occupant};

/// Changes of a population as text, a line each.
///
/// ```
/// use slotwright::module::Label;
/// use slotwright::population::{Changes, Population};
///
/// let small = "16GB 1Rx4 PC4-2400T-RC1-11".parse::<Label>()?.to_module();
/// let large = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let before = Population::new().with("A1".parse()?, small);
/// let after = Population::new().with("B1".parse()?, large);
/// assert_eq!(
///     Changes(&before.changes_to(&after)).to_string(),
///     "A1: take out 16GB 1Rx4 DDR4-2400 registered\nB1: put in 32GB 2Rx4 DDR4-2400 registered"
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Changes<'c>(pub &'c [Change]);

/// What must be said of the modules of some changes.
fn telling(changes: &[Change]) -> Telling {
    let held = changes.iter().flat_map(|change| [&change.before, &change.after]).flatten();
    Telling::among(held.filter_map(|occupant| match occupant {
        Occupant::Module(fitted) => Some(&fitted.module),
        Occupant::OtherDevice(_) | Occupant::Blank => None,
    }))
}

/// Which module it is, where that is known.
fn which(occupant: &Occupant) -> String {
    match occupant {
        Occupant::Module(fitted) => fitted
            .individual
            .as_ref()
            .map_or_else(|| " of no known number".to_owned(), |one| format!(" no. {}", one.id)),
        Occupant::OtherDevice(_) | Occupant::Blank => String::new(),
    }
}

fn line(f: &mut fmt::Formatter<'_>, change: &Change, telling: &Telling) -> fmt::Result {
    let Change { slot, before, after } = change;
    match (before, after) {
        (None, None) => write!(f, "{slot}: stays empty"),
        (None, Some(new)) => write!(f, "{slot}: put in {}", new.text(telling)),
        (Some(old), None) => write!(f, "{slot}: take out {}", old.text(telling)),
        (Some(old), Some(new)) => {
            let [old_text, new_text] = [old, new].map(|held| held.text(telling));
            if old_text == new_text && which(old) == which(new) {
                write!(f, "{slot}: {old_text}{} stays, with another record", which(old))
            } else if old_text == new_text {
                write!(f, "{slot}: replace {old_text}{} by one{}", which(old), which(new))
            } else {
                write!(f, "{slot}: replace {old_text} by {new_text}")
            }
        }
    }
}

/// "A1: put in 32GB 2Rx4 DDR4-2400 registered".
impl fmt::Display for Change {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        line(f, self, &telling(std::slice::from_ref(self)))
    }
}

impl fmt::Display for Changes<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() {
            return f.write_str("nothing changes");
        }
        let telling = telling(self.0);
        for (index, change) in self.0.iter().enumerate() {
            f.write_str(if index == 0 { "" } else { "\n" })?;
            line(f, change, &telling)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::module::{Individual, Voltages};
    use crate::population::{Fitted, Population};
    use crate::testing::{module, name, plain, population};
    use crate::unit::Voltage;

    #[test]
    fn each_change_is_a_line_that_tells_its_modules_apart() {
        let (plain, small) = (plain(), module("16GB 1Rx4 PC4-2400T-RC1-11"));
        let low = plain.to_builder().voltages(Voltages::only(Voltage::V1_35)).build().unwrap();
        let before = population(&[("1A1", &plain), ("1B1", &plain), ("1C1", &plain)]);
        let after = population(&[("1A1", &low), ("1B1", &small), ("1D1", &plain)]);
        let text = Changes(&before.changes_to(&after)).to_string();
        let plain = "32GB 2Rx4 DDR4-2400 registered";
        let expected = [
            format!("1A1: replace {plain} (1.2 V) by {plain} (1.35 V)"),
            format!("1B1: replace {plain} (1.2 V) by 16GB 1Rx4 DDR4-2400 registered"),
            format!("1C1: take out {plain} (1.2 V)"),
            format!("1D1: put in {plain} (1.2 V)"),
        ];
        assert_eq!(text, expected.join("\n"));
        assert_eq!(Changes(&[]).to_string(), "nothing changes");
    }

    #[test]
    fn modules_that_are_the_same_but_for_their_number_show_it() {
        let numbered = |id: Option<&str>, record: Option<&str>| {
            let test_record = record.map(name);
            let individual = id.map(|id| Individual { id: name(id), condition: None, test_record });
            let mut population = Population::new();
            population.put(name("1A1"), Occupant::Module(Fitted { individual, ..Fitted::new(plain()) }));
            population
        };
        let change = |id, record| {
            let changes = numbered(Some("S-1"), None).changes_to(&numbered(id, record));
            changes.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
        };
        let module = "1A1: replace 32GB 2Rx4 DDR4-2400 registered no. S-1";
        assert_eq!(change(None, None), format!("{module} by one of no known number"));
        assert_eq!(change(Some("S-2"), None), format!("{module} by one no. S-2"));
        let stays = "1A1: 32GB 2Rx4 DDR4-2400 registered no. S-1 stays, with another record";
        assert_eq!(change(Some("S-1"), Some("bench 4")), stays);
    }
}
