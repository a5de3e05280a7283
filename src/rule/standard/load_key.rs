//! What makes the loads of two channels, or of two processors, the same.

use crate::finding::FactValue;
use crate::module::{MemoryModule, Stack};
use crate::population::{ChannelLoad, SocketLoad};

/// A channel's modules from the far end, empty slots left out: capacity, ranks, height of stack and width.
/// Grade, maker and part number are no matter.
///
/// Facts that are not known are compared as such: modules of equal facts are interchangeable, and channels
/// that hold equal modules are alike whatever else there is to know of them.
pub(super) fn channel(load: &ChannelLoad<'_>) -> FactValue {
    let mut runs: Vec<(FactValue, usize)> = Vec::new();
    for site in load.modules() {
        let module = module(site.module);
        match runs.last_mut() {
            Some((last, count)) if *last == module => *count += 1,
            _ => runs.push((module, 1)),
        }
    }
    let run = |(module, count)| if count == 1 { module } else { FactValue::times(count, module) };
    one_or_list(runs.into_iter().map(run))
}

/// How many channels of each load a processor has, whichever they are.
pub(super) fn socket(load: &SocketLoad<'_>) -> FactValue {
    let mut channels: Vec<_> = load.channels().filter(|load| !load.is_empty()).map(|load| channel(&load)).collect();
    channels.sort();
    let groups = channels.chunk_by(|a, b| a == b);
    one_or_list(groups.filter_map(|group| Some(FactValue::times(group.len(), group.first()?.clone()))))
}

/// Stacks are told apart by their height alone.
fn module(module: &MemoryModule) -> FactValue {
    FactValue::ModuleLoad {
        capacity_mib: module.capacity(),
        package_ranks: module.package_ranks(),
        stack_height: module.stack().map(Stack::height),
        width: module.width(),
    }
}

fn one_or_list(values: impl Iterator<Item = FactValue>) -> FactValue {
    let mut values: Vec<_> = values.collect();
    match values.pop() {
        Some(one) if values.is_empty() => one,
        last => FactValue::list(values.into_iter().chain(last)),
    }
}

#[cfg(test)]
mod tests {
    use crate::population::Layout;
    use crate::rule::standard::load_key;
    use crate::testing::{by_socket, clean, lacking, module, plain, population};

    #[test]
    fn keys_read_like_a_load() {
        let (small, bare) =
            (module("16GB 1Rx4 PC4-2400T-RC2-11"), lacking(&plain(), &["stack", "package_ranks", "width"]));
        let stacked = module("64GB 2S2Rx4 PC4-2400T-RB2-11");
        let machine = clean();
        let population = population(&[
            ("1A1", &plain()),
            ("1A2", &plain()),
            ("1A3", &small),
            ("1B1", &small),
            ("1C1", &small),
            ("1D1", &bare),
            ("2A1", &stacked),
            ("2A3", &stacked),
        ]);
        let layout = Layout::new(&machine, &population).unwrap();
        let channels: Vec<_> = layout.channels().map(|load| load_key::channel(&load).to_string()).collect();
        assert_eq!(channels[..2], ["(2 x 32 GB 2Rx4), 16 GB 1Rx4", "16 GB 1Rx4"]);
        assert_eq!(channels[3..5], ["32 GB ?S?R?", "2 x 64 GB 2S2Rx4"]);
        let sockets: Vec<_> = layout.sockets().map(|load| load_key::socket(&load).to_string()).collect();
        assert_eq!(sockets[1], "1 x (2 x 64 GB 2S2Rx4)");
        assert_eq!(sockets[0], "(2 x 16 GB 1Rx4), (1 x 32 GB ?S?R?), (1 x ((2 x 32 GB 2Rx4), 16 GB 1Rx4))");
    }

    #[test]
    fn which_channel_is_no_matter_and_which_position_is() {
        let (small, machine) = (module("16GB 1Rx4 PC4-2400T-RC2-11"), clean());
        let keys = |population| {
            let layout = Layout::new(&machine, &population).unwrap();
            layout.sockets().map(|load| load_key::socket(&load)).collect::<Vec<_>>()
        };
        let plain = &plain();
        let shifted = keys(population(&[("1A1", plain), ("1B1", &small), ("2C1", &small), ("2D1", plain)]));
        assert_eq!(shifted[0], shifted[1]);
        let turned = keys(by_socket(&machine, &[plain, &small], &[&small, plain]));
        assert_ne!(turned[0], turned[1]);
        // two modules in one channel are not one in each of two
        let packed = keys(population(&[("1A1", plain), ("1A2", plain), ("2A1", plain), ("2B1", plain)]));
        assert_ne!(packed[0], packed[1]);
    }
}
