use std::collections::BTreeMap;

use crate::machine::Machine;
use crate::platform::{ChannelId, SocketId};
use crate::population::{SocketLoad, UnitLoad};
use crate::rule::standard::{load_key, mix_bounds};
use crate::rule::{Form, ModuleFact, Report, unlike_channels};
use crate::stated::Scope;
use crate::unit::Name;

/// The same load in the populated channels of one number in the controllers of a processor, where the board asks for it. In
/// a mode that joins channels the mode says what must be the same.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let Some(policy) = &machine.platform().description().controllers_alike else { return };
    if machine.mode_description().is_some_and(|mode| !mode.groups.is_empty()) {
        return;
    }
    let numbers = numbers(machine, load.id());
    let mut by_number: BTreeMap<usize, Vec<UnitLoad<'_>>> = BTreeMap::new();
    for unit in load.units().filter(|unit| !unit.is_empty()) {
        let number = unit.unit().channels.first().and_then(|channel| numbers.get(channel));
        number.into_iter().for_each(|&number| by_number.entry(number).or_default().push(unit));
    }
    let (bound, fact): (_, ModuleFact) = (mix_bounds::one(Scope::Socket, policy), Box::new(load_key::of));
    for units in by_number.into_values() {
        unlike_channels::hold_units(&bound, (units, &[load.id()]), &fact, report);
    }
}

/// The number of each channel in its controller, from 0.
fn numbers(machine: &Machine, socket: SocketId) -> BTreeMap<ChannelId, usize> {
    let mut next: BTreeMap<&Name, usize> = BTreeMap::new();
    let platform = machine.platform();
    let number = |&channel: &ChannelId| {
        let next = next.entry(&platform.channel(channel).controller).or_default();
        *next += 1;
        (channel, *next - 1)
    };
    platform.socket(socket).channels.iter().map(number).collect()
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::module::MemoryModule;
    use crate::platform::{ControllerDescription, PlatformDescription};
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{self, findings, module, name, plain, population};

    /// Channels A and B on one controller, C and D on another.
    fn machine(policy: Option<Stated<Demand>>) -> Machine {
        let mut board = PlatformDescription { controllers_alike: policy, ..testing::board() };
        for socket in &mut board.sockets {
            let mut first = socket.controllers.remove(0).channels;
            let second = first.split_off(2);
            socket.controllers = [("0", first), ("1", second)]
                .map(|(label, channels)| ControllerDescription { label: name(label), channels })
                .to_vec();
        }
        testing::machine(board, testing::processor())
    }

    fn said(policy: Option<Stated<Demand>>, fitted: &[(&str, &MemoryModule)]) -> Vec<String> {
        let mut found = findings(&machine(policy), &population(fitted));
        found.retain(|finding| finding.code == "controllers-alike");
        found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn channels_of_one_number_hold_the_same() {
        let required = || Some(Stated::new(Demand::Required, Basis::BoardManual));
        let (plain, small) = (plain(), module("16GB 2Rx8 PC4-2400T-RE2-11"));
        // A and C, B and D are of one number
        let alike = [("1A1", &plain), ("1B1", &small), ("1C1", &plain), ("1D1", &small)];
        assert_eq!(said(required(), &alike), [""; 0]);
        let crossed = [("1A1", &plain), ("1B1", &small), ("1C1", &small), ("1D1", &plain)];
        let found = said(required(), &crossed);
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|text| text.starts_with("error controllers-alike: ")), "{found:?}");
        assert_eq!(said(None, &crossed), [""; 0]);
        let advised = said(Some(Stated::new(Demand::Advised, Basis::BoardManual)), &crossed);
        assert!(advised.iter().all(|text| text.starts_with("warning")) && advised.len() == 2, "{advised:?}");
        // an empty channel is another rule's matter, and so is another processor
        assert_eq!(said(required(), &[("1A1", &plain), ("1D1", &small), ("2C1", &small)]), [""; 0]);
        // a second module on one side
        assert_eq!(said(required(), &[("1A1", &plain), ("1C1", &plain), ("1C2", &plain)]).len(), 1);
    }
}
