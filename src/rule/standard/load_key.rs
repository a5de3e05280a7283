//! What of a module makes the loads of two channels, or of two processors, the same.

use crate::finding::FactValue;
use crate::module::{MemoryModule, Stack};

/// Its capacity, ranks, height of stack and width. Grade, maker and part number are no matter.
///
/// Facts that are not known are compared as such: modules of equal facts are interchangeable, and channels
/// that hold equal modules are alike whatever else there is to know of them.
///
/// Stacks are told apart by their height alone.
pub(super) fn of(module: &MemoryModule) -> FactValue {
    FactValue::ModuleLoad {
        capacity_mib: module.capacity(),
        package_ranks: module.package_ranks(),
        stack_height: module.stack().map(Stack::height),
        width: module.width(),
    }
}

#[cfg(test)]
mod tests {
    use crate::population::{ChannelLoad, Layout, SocketLoad};
    use crate::rule::standard::load_key::of;
    use crate::rule::{ModuleFact, load_key, processor_key};
    use crate::testing::{by_socket, clean, lacking, module, plain, population};

    fn channel(load: &ChannelLoad<'_>) -> String {
        load_key(&(Box::new(of) as ModuleFact), load).to_string()
    }

    fn socket(load: &SocketLoad<'_>) -> String {
        processor_key(&(Box::new(of) as ModuleFact), load).unwrap().to_string()
    }

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
        let channels: Vec<_> = layout.channels().map(|load| channel(&load)).collect();
        assert_eq!(channels[..2], ["(2 x 32 GB 2Rx4), 16 GB 1Rx4", "16 GB 1Rx4"]);
        assert_eq!(channels[3..5], ["32 GB ?S?R?", "2 x 64 GB 2S2Rx4"]);
        let sockets: Vec<_> = layout.sockets().map(|load| socket(&load)).collect();
        assert_eq!(sockets[1], "1 x (2 x 64 GB 2S2Rx4)");
        assert_eq!(sockets[0], "(2 x 16 GB 1Rx4), (1 x 32 GB ?S?R?), (1 x ((2 x 32 GB 2Rx4), 16 GB 1Rx4))");
    }

    #[test]
    fn which_channel_is_no_matter_and_which_position_is() {
        let (small, machine) = (module("16GB 1Rx4 PC4-2400T-RC2-11"), clean());
        let keys = |population| {
            let layout = Layout::new(&machine, &population).unwrap();
            layout.sockets().map(|load| socket(&load)).collect::<Vec<_>>()
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
