//! Ready-made platforms, with processors, to try things on and to start a description from.
//!
//! Vendor-neutral and illustrative: they show what boards of a class are like. No board is just like
//! one of them: a board's manual wins. What has no published source is assumed, and says so.
//!
//! Names say the generation, the sockets, the channels for each socket and the slots for each channel.
//! Sockets are "1" and "2". Channels go by letters, on from one socket to the next; slots by the letter of
//! their channel and a number from 1 at the far end. Slots of the first position are marked light, of the
//! second mid, of the third dark.

mod build;
mod ddr3_1s_3ch_3spc;
mod ddr3_1s_uneven;
mod ddr3_2s_4ch_3spc;
mod ddr4_1s_2ch_2spc_unbuffered;
mod ddr4_2s_4ch_2spc;
mod ddr4_2s_4ch_3spc;
mod ddr4_2s_6ch_2spc;
mod ddr4_2s_8ch_2spc;
mod ddr5_1s_12ch_1spc;
mod ddr5_2s_8ch_2spc;

pub use ddr3_1s_3ch_3spc::ddr3_1s_3ch_3spc;
pub use ddr3_1s_uneven::ddr3_1s_uneven;
pub use ddr3_2s_4ch_3spc::ddr3_2s_4ch_3spc;
pub use ddr4_1s_2ch_2spc_unbuffered::ddr4_1s_2ch_2spc_unbuffered;
pub use ddr4_2s_4ch_2spc::ddr4_2s_4ch_2spc;
pub use ddr4_2s_4ch_3spc::ddr4_2s_4ch_3spc;
pub use ddr4_2s_6ch_2spc::ddr4_2s_6ch_2spc;
pub use ddr4_2s_8ch_2spc::ddr4_2s_8ch_2spc;
pub use ddr5_1s_12ch_1spc::ddr5_1s_12ch_1spc;
pub use ddr5_2s_8ch_2spc::ddr5_2s_8ch_2spc;

use crate::platform::Platform;

/// A reference platform: its name and what makes it.
pub type Entry = (&'static str, fn() -> Platform);

const ALL: [Entry; 10] = [
    ("ddr3-1s-3ch-3spc", ddr3_1s_3ch_3spc),
    ("ddr3-1s-uneven", ddr3_1s_uneven),
    ("ddr3-2s-4ch-3spc", ddr3_2s_4ch_3spc),
    ("ddr4-1s-2ch-2spc-unbuffered", ddr4_1s_2ch_2spc_unbuffered),
    ("ddr4-2s-4ch-2spc", ddr4_2s_4ch_2spc),
    ("ddr4-2s-4ch-3spc", ddr4_2s_4ch_3spc),
    ("ddr4-2s-6ch-2spc", ddr4_2s_6ch_2spc),
    ("ddr4-2s-8ch-2spc", ddr4_2s_8ch_2spc),
    ("ddr5-1s-12ch-1spc", ddr5_1s_12ch_1spc),
    ("ddr5-2s-8ch-2spc", ddr5_2s_8ch_2spc),
];

/// All reference platforms, by name. Each is built once, however often it is asked for.
#[must_use]
pub fn all() -> &'static [Entry] {
    &ALL
}

/// The reference platform of this name.
///
/// ```
/// use slotwright::reference;
///
/// let platform = reference::by_name("ddr4-2s-4ch-3spc");
/// assert_eq!(platform, Some(reference::ddr4_2s_4ch_3spc()));
/// assert_eq!(reference::by_name("ddr4-9s"), None);
/// ```
#[must_use]
pub fn by_name(name: &str) -> Option<Platform> {
    all().iter().find(|(known, _)| *known == name).map(|(_, platform)| platform())
}

#[cfg(test)]
mod tests;
