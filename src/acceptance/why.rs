//! Why it is not as planned: over what was planned, and over what was there before.

use crate::acceptance::compare::Judge;
use crate::acceptance::figures::Figured;
use crate::acceptance::first::plain_group;
use crate::acceptance::next::NextStep;
use crate::acceptance::pieces::Piece;
use crate::acceptance::scene::Scene;
use crate::acceptance::search::Least;
use crate::acceptance::solve::{Solved, solve};
use crate::acceptance::state::{Fault, SettingFault, State};
use crate::acceptance::tell::Teller;
use crate::acceptance::{Cause, CauseGroup, Causes, Explanation, FaultSort, TimeCheck, WorkFault};
use crate::figure::{DomainRate, RateLimit};
use crate::stated::Basis;
use crate::unit::{Capacity, Name};

impl<'a> Judge<'_, 'a> {
    /// Why it is not as planned, and the state of the slots by the first explanation.
    pub(crate) fn causes(&self, time: &TimeCheck, firmware: Option<Name>, missing: &[Name]) -> (Causes, State) {
        let (request, seen, machine) = (self.request, self.scene.seen, self.scene.machine);
        let before = self.before;
        let mut budget = self.planner.budget(request.nodes);
        let scene = Scene::new(machine, self.scene.pieces, seen).with_before(before).prepared();
        let solved = solve(&scene, request.system_reserve_mib, &mut budget);
        let first = |solved: &Solved| -> Vec<Fault> {
            let setting = |fault: &Fault| matches!(fault, Fault::Setting(SettingFault::Total(_) | SettingFault::Rate));
            let found = solved.groups.iter().filter_map(|group| group.found.first()).flatten();
            found.filter(|fault| !setting(fault)).cloned().collect()
        };
        let most = request.alternatives.max(1);
        let mut groups = Vec::new();
        let mut state = scene.state(&first(&solved));
        let assumed = assumed(&scene, request.system_reserve_mib, &state);
        let teller = Teller { scene: &scene, before, firmware: firmware.clone(), assumed: assumed.clone() };
        let mut stopped = solved.stopped();
        let scene_before =
            before.filter(|_| time.is_as_before).map(|pieces| Scene::new(machine, pieces, seen).prepared());
        let solved_before = scene_before.as_ref().map(|scene| solve(scene, request.system_reserve_mib, &mut budget));
        match (&scene_before, &solved_before) {
            (Some(other), Some(as_before)) if as_before.size() < solved.size() => {
                // nothing but what was there before, and what that does not explain
                stopped = stopped.or(as_before.stopped());
                groups.push(as_before_group());
                if as_before.size() + 1 == solved.size() {
                    let both = self.either(&teller, &solved, other, as_before, firmware, most);
                    groups = vec![both];
                } else {
                    let teller = Teller { scene: other, before: None, firmware, assumed };
                    groups.extend(told(&teller, as_before, most));
                    state = other.state(&first(as_before));
                }
            }
            _ => groups.extend(told(&teller, &solved, most)),
        }
        for socket in missing.iter().filter(|socket| !self.has_planned(socket)) {
            let fault = WorkFault::NoProcessor { socket: socket.clone() };
            groups.push(plain_group(fault, FaultSort::ProcessorOrRiser, Vec::new()));
        }
        let faults_at_least = groups.iter().map(|group| group.faults_at_least).sum();
        (Causes { faults_at_least, groups, stopped }, state)
    }

    /// Explanations over what was planned, and those by which all is as before, where both take as many faults: one group of all.
    fn either(
        &self,
        teller: &Teller<'_, 'a>,
        solved: &Solved,
        other: &Scene<'a>,
        as_before: &Solved,
        firmware: Option<Name>,
        most: usize,
    ) -> CauseGroup {
        let is_proved = solved.stopped().is_none() && as_before.stopped().is_none();
        let (found, further) = solved.products(most);
        let mut group = teller.group(solved.size(), is_proved, found, further, most);
        let (found, further) = as_before.products(most);
        let teller = Teller { scene: other, before: None, firmware, assumed: teller.assumed.clone() };
        let told = teller.group(as_before.size(), is_proved, found, further, most);
        let first = as_before_group();
        let stale = first.alternatives.iter().flat_map(|explanation| &explanation.causes);
        let stale: Vec<Cause> = stale.cloned().collect();
        let mut alternatives = told.alternatives;
        for explanation in &mut alternatives {
            explanation.causes.splice(0..0, stale.iter().cloned());
        }
        alternatives.append(&mut group.alternatives);
        let key = |explanation: &Explanation| {
            let mut sorts: Vec<FaultSort> =
                explanation.causes.iter().filter_map(|cause| FaultSort::most_frequent(&cause.may_be)).collect();
            sorts.sort();
            sorts
        };
        alternatives.sort_by_cached_key(key);
        let cut = alternatives.len().saturating_sub(most);
        alternatives.truncate(most);
        let sorts =
            |next: &NextStep| next.outcomes.iter().flat_map(|outcome| outcome.means.clone()).collect::<Vec<_>>();
        let mut all = sorts(&group.next);
        all.extend(sorts(&told.next));
        all.extend(sorts(&first.next));
        group.next = NextStep::among(&all, group.next.slots.clone());
        let cut = u64::try_from(cut).unwrap_or(u64::MAX);
        group.further = group.further.saturating_add(told.further).saturating_add(cut);
        group.alternatives = alternatives;
        group
    }

    fn has_planned(&self, socket: &Name) -> bool {
        let platform = self.scene.machine.platform();
        let is_there = |(at, piece): (usize, &Option<Piece<'_>>)| {
            let slot = platform.slots().get(at);
            piece.is_some() && slot.is_some_and(|slot| platform.socket(slot.socket).label == *socket)
        };
        self.scene.pieces.iter().enumerate().any(is_there)
    }
}

/// The limits that give the rates of a state and that the description of the board assumes, each once.
fn assumed(scene: &Scene<'_>, reserve: Option<Capacity>, state: &State) -> Vec<RateLimit> {
    let sums = Figured::new(scene, reserve).sums(scene.machine, scene, state);
    let mut limits: Vec<RateLimit> = Vec::new();
    for limit in sums.rate.domains.iter().flat_map(DomainRate::binding) {
        let is_known = limits.iter().any(|own| (&own.cause, own.rate_mts) == (&limit.cause, limit.rate_mts));
        if limit.basis == Some(Basis::Assumed) && !is_known {
            limits.push(limit.clone());
        }
    }
    limits
}

/// The group of a report that shows what was there before.
fn as_before_group() -> CauseGroup {
    let sorts = [FaultSort::ReportAtFault, FaultSort::NotDone];
    let next = NextStep::among(&sorts, Vec::new());
    let cause = Cause {
        fault: WorkFault::AsBefore,
        may_be: sorts.to_vec(),
        speaks_for: Vec::new(),
        speaks_against: Vec::new(),
        next: next.clone(),
    };
    let alternatives = vec![Explanation { causes: vec![cause] }];
    CauseGroup { faults_at_least: 1, is_proved: true, alternatives, further: 0, next }
}

/// The groups of what is solved, as they are told.
fn told(teller: &Teller<'_, '_>, solved: &Solved, most: usize) -> Vec<CauseGroup> {
    let group = |least: &Least| {
        let found: Vec<Vec<Fault>> = least.found.iter().cloned().collect();
        teller.group(least.size, least.stopped.is_none(), found, 0, most)
    };
    solved.groups.iter().map(group).collect()
}
