//! The modules of a layout, scope by scope.

use crate::figure::DomainRate;
use crate::population::{Layout, ModuleSite};
use crate::stated::Scope;

/// Visits what each channel, each processor, or the machine holds; slots of absent processors are left out.
pub(super) fn each<'a>(layout: &'a Layout<'a>, within: Scope, mut visit: impl FnMut(&[ModuleSite<'a>])) {
    match within {
        Scope::Channel => layout.channels().for_each(|load| visit(&load.modules().collect::<Vec<_>>())),
        Scope::Socket => layout.sockets().for_each(|load| visit(&load.modules().collect::<Vec<_>>())),
        Scope::Machine => visit(&layout.sockets().flat_map(|load| load.modules()).collect::<Vec<_>>()),
    }
}

/// The modules that run at one rate.
pub(super) fn domain<'a>(layout: &'a Layout<'a>, domain: &'a DomainRate) -> impl Iterator<Item = ModuleSite<'a>> {
    let machine = layout.machine();
    let sockets = layout.sockets().filter(|load| domain.sockets.contains(&machine.platform().socket(load.id()).label));
    sockets.flat_map(|load| load.modules()).filter(|site| machine.is_live(site.slot))
}
