//! What comes first: whether the report is of the machine, and later than the work.

use std::collections::BTreeSet;

use crate::acceptance::next::NextStep;
use crate::acceptance::pieces::{Piece, Seen, machine_reports, shows_before};
use crate::acceptance::{
    AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, Cause, CauseGroup, Causes, Explanation, FaultSort,
    MachineCheck, TimeCheck, Told, WorkDone, WorkFault,
};
use crate::population::{self, MachineIdentity, Report};
use crate::stated::Schema;
use crate::unit::Name;

/// Whether the reports are of the machine.
pub(crate) fn identity(request: &AcceptanceRequest) -> MachineCheck {
    let read = MachineIdentity::new().serial(request.serial_read.clone());
    let reports: Vec<&Report> = machine_reports(&request.observed).collect();
    let told = |of: fn(&MachineIdentity) -> Option<&Name>| {
        reports.iter().map(|report| &report.identity).chain([&read]).filter_map(move |identity| of(identity))
    };
    let compare = |expected: &Option<Name>, of: fn(&MachineIdentity) -> Option<&Name>| {
        let expected = expected.as_ref().map(|name| population::folded(name.as_str()));
        let Some(expected) = expected else { return Told::NotSaid };
        let told: Vec<bool> = told(of).map(|name| population::folded(name.as_str()) == expected).collect();
        match told.as_slice() {
            [] => Told::NotSaid,
            told if told.iter().all(|is_it| *is_it) => Told::Yes,
            _ => Told::No,
        }
    };
    let expected = request.serial.clone().or_else(|| request.serial_read.clone());
    let serial = compare(&expected, |identity| identity.serial.as_ref());
    let product = compare(&request.product, |identity| identity.product.as_ref());
    let is_it = match (serial, product) {
        (Told::No, _) | (_, Told::No) => Told::No,
        (Told::Yes, _) => Told::Yes,
        (Told::NotSaid, Told::Yes) if request.serial.is_none() => Told::Yes,
        (Told::NotSaid, _) => Told::NotSaid,
    };
    let mut reported = MachineIdentity::new();
    for report in &reports {
        let MachineIdentity { maker, product, serial, board, firmware } = &report.identity;
        reported.maker = reported.maker.or_else(|| maker.clone());
        reported.product = reported.product.or_else(|| product.clone());
        reported.serial = reported.serial.or_else(|| serial.clone());
        reported.board = reported.board.or_else(|| board.clone());
        reported.firmware = reported.firmware.or_else(|| firmware.clone());
    }
    MachineCheck {
        is_it,
        serial: request.serial.clone(),
        product: request.product.clone(),
        serial_read: request.serial_read.clone(),
        reported,
    }
}

/// Whether the newest report is later than the work.
pub(crate) fn time(
    request: &AcceptanceRequest,
    planned: &[Option<Piece<'_>>],
    before: Option<&[Option<Piece<'_>>]>,
    seen: &Seen<'_>,
) -> TimeCheck {
    let dates = machine_reports(&request.observed).filter_map(|report| report.date.as_ref());
    let newest = dates.max().cloned();
    let serial = |piece: &Piece<'_>| piece.serial.as_ref().map(|(_, serial)| serial.clone());
    let was: BTreeSet<String> = before.into_iter().flatten().flatten().filter_map(serial).collect();
    let came: BTreeSet<String> = match before {
        Some(_) => planned.iter().flatten().filter_map(serial).filter(|serial| !was.contains(serial)).collect(),
        None => BTreeSet::new(),
    };
    let read = seen.slots.iter().filter_map(|slot| slot.serial.as_ref());
    let came_in = read.into_iter().find(|(_, serial)| came.contains(serial)).map(|(name, _)| name.clone());
    let is_later = match (&request.work, &newest) {
        _ if came_in.is_some() => Told::Yes,
        (WorkDone::BeforeReport, _) => Told::Yes,
        (WorkDone::On(work), Some(date)) if date.is_later_than(work) => Told::Yes,
        (WorkDone::On(work), Some(date)) if work.is_later_than(date) => Told::No,
        (WorkDone::On(_) | WorkDone::Unknown, _) => Told::NotSaid,
    };
    let is_as_before = before.is_some_and(|before| is_as_before(planned, before, seen));
    TimeCheck { is_later, reported: newest, came_in, is_as_before }
}

/// The slots that were to change.
pub(crate) fn changed(planned: &[Option<Piece<'_>>], before: &[Option<Piece<'_>>]) -> Vec<usize> {
    let same = |one: &Option<Piece<'_>>, other: &Option<Piece<'_>>| match (one, other) {
        (Some(one), Some(other)) => one.facts == other.facts && one.serial == other.serial,
        (None, None) => true,
        _ => false,
    };
    (0..planned.len())
        .filter(|&at| !planned.get(at).zip(before.get(at)).is_none_or(|(one, other)| same(one, other)))
        .collect()
}

/// Whether every slot that was to change shows what was there before.
fn is_as_before<'p>(planned: &'p [Option<Piece<'p>>], before: &'p [Option<Piece<'p>>], seen: &Seen<'_>) -> bool {
    let changed = changed(planned, before);
    let piece = |pieces: &'p [Option<Piece<'p>>], at: usize| pieces.get(at).and_then(Option::as_ref);
    let shows =
        |&at: &usize| seen.slots.get(at).is_some_and(|seen| shows_before(piece(before, at), piece(planned, at), seen));
    !changed.is_empty() && changed.iter().all(shows)
}

/// Without a verdict, where a report is not of the machine, or older than the work.
pub(crate) fn withheld(platform: &Name, machine: &MachineCheck, time: &TimeCheck) -> Option<AcceptanceCheck> {
    let fault = match (machine.is_it, time.is_later) {
        (Told::No, _) => WorkFault::OtherMachine,
        (_, Told::No) => WorkFault::OldReport,
        _ => return None,
    };
    Some(AcceptanceCheck {
        schema: Schema,
        platform: platform.clone(),
        verdict: AcceptanceVerdict::Withheld,
        notes: Vec::new(),
        machine: machine.clone(),
        time: time.clone(),
        slots: Vec::new(),
        totals: Vec::new(),
        rates: Vec::new(),
        mode: None,
        missing_processors: Vec::new(),
        conditions: Vec::new(),
        causes: Some(Causes {
            faults_at_least: 1,
            groups: vec![plain_group(fault, FaultSort::ReportAtFault, Vec::new())],
            stopped: None,
        }),
    })
}

/// A group of one fault of one sort.
pub(crate) fn plain_group(fault: WorkFault, sort: FaultSort, slots: Vec<Name>) -> CauseGroup {
    let next = NextStep::among(&[sort], slots);
    let cause =
        Cause { fault, may_be: vec![sort], speaks_for: Vec::new(), speaks_against: Vec::new(), next: next.clone() };
    let alternatives = vec![Explanation { causes: vec![cause] }];
    CauseGroup { faults_at_least: 1, is_proved: true, alternatives, further: 0, next }
}
