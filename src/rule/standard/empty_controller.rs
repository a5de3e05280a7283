use crate::figure::filled_socket;
use crate::finding::Remedy;
use crate::population::SocketLoad;
use crate::rule::{Detail, Form, Report};

/// A memory controller of which no channel has memory. Worth saying where a processor has several.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let Some(filled) = filled_socket(load).filter(|filled| !filled.is_empty()) else { return };
    let empty = filled.empty_controllers(load.machine());
    if !empty.is_empty() {
        report.violation(|| Detail::at_all(empty.clone()).remedy(Remedy::AddModules));
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Place;
    use crate::platform::ControllerDescription;
    use crate::population::Population;
    use crate::testing::{self, all_findings, board, name, plain, population, processor};

    #[test]
    fn a_controller_of_two_without_memory() {
        let mut board = board();
        for socket in &mut board.sockets {
            let mut channels = socket.controllers.remove(0).channels;
            let second = channels.split_off(2);
            socket.controllers = vec![
                ControllerDescription { label: name("0"), channels },
                ControllerDescription { label: name("1"), channels: second },
            ];
        }
        let machine = testing::machine(board, processor());
        let plain = plain();
        let halves = population(&[("1A1", &plain), ("1B1", &plain), ("2A1", &plain), ("2C1", &plain)]);
        let places = |population: &Population| -> Vec<Vec<Place>> {
            let findings = all_findings(&machine, population);
            findings.iter().filter(|f| f.code == "empty-controller").map(|f| f.places.clone()).collect()
        };
        assert_eq!(places(&halves), [vec![Place::Controller { socket: name("1"), controller: name("1") }]]);
        assert_eq!(places(&testing::clean_population(&machine)), [] as [Vec<Place>; 0]);
    }
}
