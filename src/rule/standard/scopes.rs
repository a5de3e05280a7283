//! The modules of a layout that could work in their slots, scope by scope.

use crate::population::{Layout, ModuleSite};
use crate::rule::standard::site;
use crate::stated::Scope;

/// Visits what each channel, each processor, or the machine holds; slots of absent processors are left out.
pub(super) fn each<'a>(layout: &'a Layout<'a>, within: Scope, mut visit: impl FnMut(&[ModuleSite<'a>])) {
    let judged = |site: &ModuleSite<'_>| site::judged_by(site).is_some();
    match within {
        Scope::Channel => layout.channels().for_each(|load| visit(&load.modules().filter(judged).collect::<Vec<_>>())),
        Scope::Socket => layout.sockets().for_each(|load| visit(&load.modules().filter(judged).collect::<Vec<_>>())),
        Scope::Machine => {
            visit(&layout.sockets().flat_map(|load| load.modules()).filter(judged).collect::<Vec<_>>());
        }
    }
}
