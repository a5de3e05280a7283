//! Laws of acceptance.

use proptest::prelude::*;
use slotwright::acceptance::{AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, FaultSort, NextStep, Shown, Step};
use slotwright::population::{
    Medium, Observed, PlaceState, Population, Report, SeenModule, SeenPlace, SeenProcessor, SeenTotal, TotalOf,
};
use slotwright::unit::{Capacity, DataRate};
use slotwright::{Machine, Planner, RuleBook};

use crate::boards::{self, Source, bytes, config, name};

/// A machine and what is planned for it.
fn planned(source: &mut Source<'_>) -> (Machine, Population) {
    let machine = boards::machine(source, 4);
    let sorts = boards::sorts(source, machine.platform().generation(), 2);
    let population = match sorts.is_empty() {
        true => Population::new(),
        false => boards::fitted(source, &boards::live(&machine), &sorts, 2),
    };
    (machine, population)
}

/// Any report on the board, with whatever modules, totals and processors.
fn any_report(source: &mut Source<'_>, machine: &Machine, planned: &Population) -> Report {
    let mut report = Planner::new(machine, &RuleBook::standard()).expected_report(planned, None, &[]).unwrap();
    let states = [PlaceState::InUse, PlaceState::Absent, PlaceState::NotInUse, PlaceState::Failed, PlaceState::Unknown];
    let seen: Vec<Option<SeenModule>> = report.places.iter().map(|place| place.module.clone()).collect();
    for place in &mut report.places {
        if source.once_in(3) {
            place.state = source.pick(&states);
        }
        if source.once_in(3) && !seen.is_empty() {
            place.module = source.pick(&seen);
        }
        if source.once_in(4) {
            place.module = place.module.take().map(|module| module.grade(None).kind(None).capacity(None));
        }
        if source.once_in(4) {
            place.running_rate_mts = source.pick(&[None, Some(DataRate::DDR4_1866), Some(DataRate::DDR4_2400)]);
        }
    }
    report.places.retain(|_| !source.once_in(9));
    if source.once_in(2) {
        let of = source.pick(&[TotalOf::Firmware, TotalOf::OperatingSystem, TotalOf::Domain(name("1"))]);
        report = report.totals([SeenTotal::new(of, Capacity::from_gib(u32::try_from(source.below(200)).unwrap()))]);
    }
    if source.once_in(6) {
        report = report.processor(SeenProcessor::new(name("2")).is_present(false));
    }
    if source.once_in(6) {
        report = report.place(SeenPlace::new(name("somewhere"), PlaceState::InUse));
    }
    report.is_incomplete = source.once_in(4);
    report
}

/// That a step tells the faults apart that it is to tell apart, or mends them all.
fn splits(next: &NextStep) {
    let means: Vec<FaultSort> = next.outcomes.iter().flat_map(|outcome| outcome.means.clone()).collect();
    if next.is_remedy {
        assert!(means.iter().all(|sort| sort.remedy() == next.step), "{next}");
    } else {
        // no outcome leaves everything open, or some fault may show otherwise
        let everything = |sort: &FaultSort| next.outcomes.iter().all(|outcome| outcome.means.contains(sort));
        assert!(next.outcomes.len() > 1 && !means.iter().all(everything), "{next}");
        for outcome in &next.outcomes {
            assert!(outcome.means.iter().all(|sort| sort.shows(next.step).contains(&outcome.shows)), "{next}");
        }
    }
}

fn all_split(check: &AcceptanceCheck) {
    for group in check.causes.iter().flat_map(|causes| &causes.groups) {
        splits(&group.next);
        let is_stopped = check.causes.as_ref().is_some_and(|causes| causes.stopped.is_some());
        assert!(is_stopped || !group.alternatives.is_empty(), "{check}");
        for cause in group.alternatives.iter().flat_map(|own| &own.causes) {
            splits(&cause.next);
            assert!(!cause.may_be.is_empty());
        }
    }
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_the_expected_report_of_what_is_planned_is_accepted_clean(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, population) = planned(&mut source);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let report = planner.expected_report(&population, None, &[]).unwrap();
        // what was there before changes nothing
        let before = source.once_in(2).then(Population::new);
        let request = AcceptanceRequest::new(population.clone(), Observed::from(report.clone())).before(before);
        if let Ok(check) = planner.acceptance(&request) {
            prop_assert!(check.is_accepted(), "{}\n{}", check, report);
            prop_assert!(check.causes.is_none());
        }
        // accepting a population against itself, by what is seen of it
        let sited = Observed::from(report).on(machine.platform());
        if let Some(seen) = sited.ok().and_then(|sited| sited.population().ok()) {
            let mut request = request;
            request.planned = seen;
            if let Ok(check) = planner.acceptance(&request) {
                prop_assert!(check.is_accepted(), "{}", check);
            }
        }
    }

    #[test]
    fn law_any_report_is_answered_and_every_next_step_splits_or_mends(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let (machine, population) = planned(&mut source);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let report = any_report(&mut source, &machine, &population);
        let before = source.once_in(2).then(|| planned(&mut source).1);
        let request = AcceptanceRequest::new(population, Observed::from(report)).before(before).nodes(3_000);
        if let Ok(check) = planner.acceptance(&request) {
            all_split(&check);
            prop_assert_eq!(check.causes.is_none(), check.verdict != AcceptanceVerdict::NotAsPlanned);
            prop_assert!(!check.to_string().is_empty());
            let text = serde_json::to_string(&check).unwrap();
            prop_assert_eq!(&serde_json::from_str::<AcceptanceCheck>(&text).unwrap(), &check);
            // the same again
            prop_assert_eq!(planner.acceptance(&request).unwrap(), check);
        }
    }
}

/// What each step would find if a fault were so, told by the things themselves.
fn truth(sort: FaultSort, step: Step) -> Option<Shown> {
    let is_in_place = !matches!(
        sort,
        FaultSort::LeftOut
            | FaultSort::WrongSlot
            | FaultSort::NotDone
            | FaultSort::WrongPart
            | FaultSort::NotPlanned
            | FaultSort::SlowGrade
    );
    let is_module = matches!(sort, FaultSort::Dead | FaultSort::SpdUnreadable | FaultSort::Refused);
    match step {
        Step::NewReport => Some(if sort == FaultSort::ReportAtFault { Shown::AsPlanned } else { Shown::SameAgain }),
        Step::Look if is_in_place => Some(Shown::InPlace),
        Step::Reseat => Some(if sort == FaultSort::NotSeated { Shown::AsPlanned } else { Shown::SameAgain }),
        Step::KnownGood if is_module => Some(Shown::AsPlanned),
        _ => None,
    }
}

#[test]
fn law_steps_show_what_is_so_and_tell_all_faults_apart_whose_remedies_differ() {
    for one in FaultSort::ALL {
        for step in Step::TESTS {
            assert!(!one.shows(step).is_empty());
            assert!(truth(one, step).is_none_or(|shown| one.shows(step).contains(&shown)), "{one}, {step}");
        }
        for other in FaultSort::ALL {
            let is_told = Step::TESTS.into_iter().any(|step| one.shows(step) != other.shows(step));
            assert!(is_told || one.remedy() == other.remedy(), "{one} and {other}");
        }
    }
    // the least effort comes first
    assert!(Step::TESTS.map(Step::effort).is_sorted());
}

#[test]
fn no_report_at_all_is_an_error() {
    let mut source = Source::new(&[]);
    let (machine, population) = planned(&mut source);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    assert!(planner.acceptance(&AcceptanceRequest::new(population.clone(), Observed::default())).is_err());
    let rows = Report::new(name("rows"), Medium::Rows);
    assert!(planner.acceptance(&AcceptanceRequest::new(population, Observed::from(rows))).is_err());
}
