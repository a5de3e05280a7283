use serde::{Deserialize, Serialize};

use crate::finding::Place;
use crate::population::Layout;
use crate::unit::{Capacity, Name};

/// How much memory is fitted: everything in a slot, also where it cannot be used. Other devices and faulty modules do not
/// count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FittedCapacity {
    /// Every module.
    pub total_mib: Capacity,
    /// How many they are.
    pub modules: u64,
    /// The slots that hold a module and are not live: of absent processors, or taken away by an option, mode or setting.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_live: Vec<Place>,
}

/// How much memory is installed. Other devices are counted by themselves.
///
/// Modules in slots that are not live do not count.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct InstalledCapacity {
    /// Modules in live slots, all together.
    pub total_mib: Capacity,
    /// The same by processor present.
    pub sockets: Vec<SocketCapacity>,
    /// Other devices.
    pub other_devices_mib: Capacity,
}

/// The memory at one processor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SocketCapacity {
    /// The socket's label.
    pub socket: Name,
    /// Its modules together.
    pub capacity_mib: Capacity,
    /// How many they are.
    pub modules: u64,
}

impl FittedCapacity {
    /// The fitted capacity of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        let mut fitted = Self { total_mib: Capacity::ZERO, modules: 0, not_live: Vec::new() };
        for site in layout.modules() {
            fitted.total_mib = fitted.total_mib + site.module.capacity();
            fitted.modules += 1;
            if !site.is_live() {
                fitted.not_live.push(Place::slot(layout.machine().platform(), site.slot));
            }
        }
        fitted
    }
}

impl InstalledCapacity {
    /// How many modules there are in live slots.
    #[must_use]
    pub fn modules(&self) -> u64 {
        self.sockets.iter().map(|socket| socket.modules).sum()
    }

    /// The installed capacity of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        let machine = layout.machine();
        let sockets: Vec<_> = layout
            .sockets()
            .map(|load| {
                let mut socket = SocketCapacity {
                    socket: machine.platform().socket(load.id()).label.clone(),
                    capacity_mib: Capacity::ZERO,
                    modules: 0,
                };
                for site in load.modules().filter(|site| machine.is_live(site.slot)) {
                    socket.capacity_mib = socket.capacity_mib + site.module.capacity();
                    socket.modules += 1;
                }
                socket
            })
            .collect();
        Self {
            total_mib: sockets.iter().map(|socket| socket.capacity_mib).sum(),
            sockets,
            other_devices_mib: layout.other_devices().map(|(_, device)| device.capacity_mib).sum(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::population::Layout;
    use crate::testing::{clean, plain, population};

    #[test]
    fn modules_are_counted_by_processor() {
        let (machine, plain) = (clean(), plain());
        let population = population(&[("1A1", &plain), ("1B1", &plain), ("2C3", &plain)]);
        let installed = InstalledCapacity::of(&Layout::new(&machine, &population).unwrap());
        let by_socket: Vec<(u64, u64)> =
            installed.sockets.iter().map(|socket| (socket.modules, socket.capacity_mib.mib())).collect();
        assert_eq!(by_socket, [(2, 65_536), (1, 32_768)]);
        assert_eq!(installed.modules(), 3);
    }
}
