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
    use crate::population::Layout;
    use crate::rule::standard::load_key::of;
    use crate::rule::{ModuleFact, even, unlike_channels};
    use crate::testing::{clean, lacking, module, plain, population};

    #[test]
    fn keys_read_like_a_load() {
        let (small, bare) =
            (module("16GB 1Rx4 PC4-2400T-RC2-11"), lacking(&plain(), &["stack", "package_ranks", "width"]));
        let stacked = module("64GB 2S2Rx4 PC4-2400T-RB2-11");
        let machine = clean();
        let population = population(&[
            ("1A1", &plain()),
            ("1A2", &small),
            ("1A3", &plain()),
            ("1B1", &small),
            ("1D1", &bare),
            ("2A1", &stacked),
            ("2A3", &stacked),
        ]);
        let layout = Layout::new(&machine, &population).unwrap();
        let fact: ModuleFact = Box::new(of);
        let units = layout.sockets().flat_map(|load| load.units());
        let keys: Vec<String> = units.map(|unit| unlike_channels::key(&even::held(&fact, &unit)).to_string()).collect();
        assert_eq!(keys[..2], ["16 GB 1Rx4, (2 x 32 GB 2Rx4)", "16 GB 1Rx4"]);
        assert_eq!(keys[3..5], ["32 GB ?S?R?", "2 x 64 GB 2S2Rx4"]);
    }
}
