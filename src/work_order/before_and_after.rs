//! What comes before the steps and after them.

use crate::machine::Machine;
use crate::platform::{FirmwareNeed, Hands};
use crate::population::{Fault, Occupant, Population};
use crate::unit::Name;
use crate::work_order::assign::Assigned;
use crate::work_order::bench::errors;
use crate::work_order::write::comes;
use crate::work_order::{Caution, Check, Halt, HaltAt, OrderLine, WorkOrder, firmware};

/// What the texts of an order draw on.
pub(crate) struct Texts<'a> {
    hands: Option<&'a Hands>,
    firmware: Vec<&'a FirmwareNeed>,
    has_rows: bool,
    devices: Vec<Name>,
    target_errors: Vec<Name>,
}

impl<'a> Texts<'a> {
    pub(crate) fn new(machine: &'a Machine, assigned: &Assigned<'_>, order: &WorkOrder) -> Self {
        let mut codes: Vec<Name> = errors(&order.findings).cloned().collect();
        codes.dedup();
        Self {
            firmware: firmware::needs(machine, &comes(assigned)),
            target_errors: codes,
            devices: order
                .before
                .iter()
                .filter(|(_, occupant)| matches!(occupant, Occupant::OtherDevice(_)))
                .map(|(slot, _)| slot.clone())
                .collect(),
            ..Self::of(machine)
        }
    }

    /// Of the machine alone.
    pub(crate) fn of(machine: &'a Machine) -> Self {
        let description = machine.platform().description();
        Self {
            hands: description.hands.as_ref().map(|hands| &hands.value),
            firmware: Vec::new(),
            has_rows: !description.rows.is_empty(),
            devices: Vec::new(),
            target_errors: Vec::new(),
        }
    }

    fn lifted_out(&self) -> Vec<Name> {
        self.hands.map(|hands| hands.lifted_out.clone()).unwrap_or_default()
    }

    /// Until the lid comes off.
    pub(crate) fn before(&self, order: &WorkOrder, bags: Vec<Name>) -> Vec<OrderLine> {
        let mut lines = vec![OrderLine::Caution(Caution::WhoDecides)];
        let mut caution = |is_so: bool, caution: Caution| lines.extend(is_so.then_some(OrderLine::Caution(caution)));
        caution(!self.target_errors.is_empty(), Caution::TargetHasErrors { codes: self.target_errors.clone() });
        caution(!self.devices.is_empty(), Caution::DataOnDevices { slots: self.devices.clone() });
        caution(!self.firmware.is_empty(), Caution::FirmwareHasNoWayBack);
        caution(!self.has_rows, Caution::FindTheLabel);
        let machine = Check::Machine { identity: order.identity.clone(), place: order.place.clone() };
        let mut checks = vec![Check::WorkloadOff, machine];
        checks.extend(self.firmware.iter().map(|need| Check::Firmware {
            needed_by: need.needed_by.clone(),
            needed: need.version.clone(),
            found: order.identity.firmware.clone(),
        }));
        // without a module that works it does not start, and reports nothing
        checks.extend(can_start(&order.before).then_some(Check::ReportKept));
        let modules = order.supplies.iter().map(|supply| supply.count).sum();
        let blanks = order.blanks_to_bring;
        checks.extend((modules + blanks > 0).then_some(Check::PiecesAtHand { modules, blanks }));
        checks.extend((!bags.is_empty()).then_some(Check::BagsAtHand { slots: bags }));
        lines.push(OrderLine::Halt(Halt { at: HaltAt::BeforeLid, checks }));
        lines
    }
}

/// Whether there is a module with which a machine may start.
pub(crate) fn can_start(population: &Population) -> bool {
    population.modules().any(|(_, fitted)| fitted.fault != Some(Fault::Failed))
}

/// Shut down, switched off, power out, and the lid off.
pub(crate) fn opening(texts: &Texts<'_>, is_first: bool) -> Vec<OrderLine> {
    let waited = Check::Waited { seconds: texts.hands.and_then(|hands| hands.wait_before_lid_s) };
    let checks = [Check::ShutDown, Check::PowerOut, waited];
    let mut lines: Vec<OrderLine> = checks.map(OrderLine::Check).into();
    if is_first {
        lines.extend([Caution::Lifting, Caution::Static, Caution::HotParts].map(OrderLine::Caution));
    }
    lines.push(OrderLine::Check(Check::LiftedOut { what: texts.lifted_out() }));
    lines
}

/// Everything seated, the lid on, and the halt before power.
pub(crate) fn closing(texts: &Texts<'_>, halt: Option<HaltAt>) -> Vec<OrderLine> {
    let mut what = texts.lifted_out();
    what.reverse();
    let checks =
        vec![Check::Seated { latches: texts.hands.and_then(|hands| hands.latches) }, Check::LiftedBack { what }];
    match halt {
        Some(at) => vec![OrderLine::Halt(Halt { at, checks })],
        None => checks.into_iter().map(OrderLine::Check).collect(),
    }
}

/// Power, and how long that may take.
pub(crate) fn first_start(texts: &Texts<'_>) -> Vec<OrderLine> {
    let seconds = texts.hands.and_then(|hands| hands.first_start_s);
    let says = texts.hands.map(|hands| hands.first_start_says.clone()).unwrap_or_default();
    vec![OrderLine::Caution(Caution::FirstStart { seconds, says }), OrderLine::Check(Check::SwitchedOn)]
}
