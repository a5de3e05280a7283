//! Whether a population follows a layout that the board's manual prints.

use crate::machine::PrintedLayout;
use crate::module::MemoryModule;
use crate::platform::{SlotId, SocketId, TwoSizes};
use crate::population::{Content, Layout};
use crate::stated::Basis;

impl PrintedLayout {
    /// Whether a layout is as it says.
    pub(crate) fn is_followed(&self, layout: &Layout<'_>) -> bool {
        let platform = layout.machine().platform();
        let slots = self.sockets.iter().flat_map(|&socket| &platform.socket(socket).slots);
        let live = slots.filter(|&&slot| layout.machine().is_live(slot));
        let filled: Vec<&MemoryModule> = live.filter_map(|&slot| layout.get(slot).module()).collect();
        let sizes = TwoSizes::of(filled.iter().copied());
        let holds = |slot: SlotId, suits: &dyn Fn(&MemoryModule) -> bool| match layout.get(slot) {
            Content::Module(module) => suits(module),
            Content::Empty | Content::Faulty(..) | Content::Other(_) | Content::Blank => false,
        };
        filled.len() == self.slots.len()
            && (sizes.is_some() || !self.marks_sizes)
            && self.slots.iter().all(|(slot, wanted)| holds(*slot, &|module| wanted.suits(module, sizes)))
    }

    /// Whether it speaks of all these processors, and outranks what rests on a basis.
    pub(crate) fn outranks(&self, sockets: &[SocketId], basis: Basis) -> bool {
        sockets.iter().all(|socket| self.sockets.contains(socket))
            && (self.basis != Basis::Assumed || basis == Basis::Assumed)
    }
}

/// The printed layout that a population follows at these processors, if one outranks what rests on a basis.
pub(crate) fn followed<'m>(layout: &Layout<'m>, sockets: &[SocketId], basis: Basis) -> Option<&'m PrintedLayout> {
    let printed = layout.machine().printed().iter();
    printed.filter(|printed| printed.outranks(sockets, basis)).find(|printed| printed.is_followed(layout))
}
