//! Whether a population follows a layout that the board's manual prints.

use crate::machine::PrintedLayout;
use crate::platform::{SlotId, SocketId};
use crate::population::{Content, Layout};
use crate::stated::Basis;

impl PrintedLayout {
    /// Whether a layout is as it says.
    pub(crate) fn is_followed(&self, layout: &Layout<'_>) -> bool {
        let platform = layout.machine().platform();
        let slots = self.sockets.iter().flat_map(|&socket| &platform.socket(socket).slots);
        let is_filled = |slot: &SlotId| layout.machine().is_live(*slot) && layout.get(*slot).module().is_some();
        let filled = slots.filter(|slot| is_filled(slot)).count();
        let holds = |slot: SlotId, suits: &dyn Fn(&crate::module::MemoryModule) -> bool| match layout.get(slot) {
            Content::Module(module) => suits(module),
            Content::Empty | Content::Faulty(..) | Content::Other(_) | Content::Blank => false,
        };
        filled == self.slots.len()
            && self.slots.iter().all(|(slot, wanted)| holds(*slot, &|module| wanted.suits(module)))
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
