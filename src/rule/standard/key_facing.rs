use crate::finding::Place;
use crate::platform::KeyFacing;
use crate::population::SocketLoad;
use crate::rule::{Detail, Form, Report};

/// A slot may lie the other way round than most of the board: turn the module before it goes in. One
/// note for each processor.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let turned = || {
        load.modules().filter(|site| site.is_live() && site.slot().description().key_facing == Some(KeyFacing::Turned))
    };
    if turned().next().is_some() {
        report.violation(|| Detail::at_all(turned().map(|site| Place::slot(site.machine.platform(), site.slot))));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{self, said};

    #[test]
    fn slots_turned_round() {
        let mut board = testing::board();
        testing::slots_mut(&mut board).for_each(|slot| slot.key_facing = Some(KeyFacing::Usual));
        let usual = testing::machine(board.clone(), testing::processor());
        assert!(said(&usual, &testing::clean_population(&usual)).is_empty());

        for slot in testing::slots_mut(&mut board).filter(|slot| slot.label.as_str().starts_with('2')) {
            slot.key_facing = Some(KeyFacing::Turned);
        }
        let machine = testing::machine(board, testing::processor());
        let population = testing::clean_population(&machine);
        assert_eq!(testing::codes(&machine, &population), ["key-facing"]);
        let found = testing::findings(&machine, &population);
        assert_eq!(
            found.iter().map(ToString::to_string).collect::<Vec<_>>(),
            ["note key-facing: the key of the slot is turned: turn the module round (slots 2A1, 2B1, 2C1, 2D1)"]
        );
        // empty slots need no care
        let first = testing::population(&[("1A1", &testing::plain())]);
        assert!(!testing::codes(&machine, &first).contains(&"key-facing".to_owned()));
    }
}
