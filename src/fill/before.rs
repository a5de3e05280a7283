//! What was there before: warnings on evenness that are carried already refuse nothing that leaves their processors alone.

use std::cell::OnceCell;

use crate::fill::RulesInForce;
use crate::finding::{Finding, Place, Severity};
use crate::platform::{Platform, SlotId, SocketId};
use crate::population::Layout;
use crate::rule::Rule;
use crate::unit::Name;

/// What is present, and what it carries.
pub(crate) struct Before<'a> {
    layout: Layout<'a>,
    findings: Vec<Finding>,
    /// Whether processors that must be alike are not.
    pub(crate) processors_differ: bool,
}

impl<'a> Before<'a> {
    /// What a layout carries under the rules in force; `None` where that is nothing that they would refuse.
    pub(crate) fn new(layout: Layout<'a>, in_force: &RulesInForce<'_>) -> Option<Self> {
        layout.modules().next()?;
        let differ = |rule: &&Rule| rule.tells_processors_apart() && !in_force.refusing(rule, &layout).is_empty();
        let processors_differ = in_force.on_evenness().any(|rule| differ(&rule));
        let carried = in_force.on_evenness().flat_map(|rule| in_force.refusing(rule, &layout));
        let findings: Vec<Finding> = carried.filter(is_warning).collect();
        (!findings.is_empty()).then_some(Self { layout, findings, processors_differ })
    }

    /// The processors that what is carried names.
    pub(crate) fn sockets(&self) -> Vec<SocketId> {
        let platform = self.layout.machine().platform();
        let mut sockets: Vec<SocketId> =
            self.findings.iter().flat_map(|finding| &finding.places).flat_map(|place| of(platform, place)).collect();
        sockets.sort_unstable();
        sockets.dedup();
        sockets
    }

    /// Whether a finding on a layout was so before, and no module of the processors that it names is touched.
    pub(crate) fn excuses(&self, finding: &Finding, layout: &Layout<'_>) -> bool {
        let platform = self.layout.machine().platform();
        let same = |known: &&Finding| known.code == finding.code && known.places == finding.places;
        let stays = |slot: SlotId| layout.get(slot).module() == self.layout.get(slot).module();
        // a processor without memory is left alone only where all are
        let is_untouched = |socket: SocketId| {
            let slots = &platform.socket(socket).slots;
            slots.iter().all(|&slot| stays(slot)) && slots.iter().any(|&slot| self.layout.get(slot).module().is_some())
        };
        let all_stay = || platform.slot_ids().all(stays);
        is_warning(finding)
            && self.findings.iter().any(|known| same(&known))
            && (all_stay() || finding.places.iter().flat_map(|place| of(platform, place)).all(is_untouched))
    }

    /// Whether all that a rule has against a layout was so before.
    pub(crate) fn excuses_all(&self, rule: &Rule, layout: &Layout<'_>, in_force: &RulesInForce<'_>) -> bool {
        rule.is_evenness() && in_force.refusing(rule, layout).iter().all(|finding| self.excuses(finding, layout))
    }
}

/// What is an error is never excused.
fn is_warning(finding: &Finding) -> bool {
    finding.severity < Severity::Error
}

/// The processors of a place: all for the machine.
fn of(platform: &Platform, place: &Place) -> Vec<SocketId> {
    let socket = |label: &Name| platform.socket_ids().filter(|&id| platform.socket(id).label == *label).collect();
    match place {
        Place::Machine | Place::Other(_) => platform.socket_ids().collect(),
        Place::Slot { slot } => {
            platform.slot_named(slot.as_str()).map(|id| platform.slot(id).socket).into_iter().collect()
        }
        Place::Socket { socket: label }
        | Place::Controller { socket: label, .. }
        | Place::Channel { socket: label, .. } => socket(label),
    }
}

impl RulesInForce<'_> {
    /// What a rule in force has against a layout that refuses it.
    pub(crate) fn refusing(&self, rule: &Rule, layout: &Layout<'_>) -> Vec<Finding> {
        let threshold = rule.threshold(self.threshold);
        let mut findings = rule.findings(self.rules, layout, &OnceCell::new());
        findings.retain(|finding| finding.severity >= threshold);
        findings
    }
}
