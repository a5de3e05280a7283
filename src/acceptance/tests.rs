use crate::acceptance::{AcceptanceCheck, AcceptanceRequest, CauseGroup, FaultSort, NextStep, Shown, Step, WorkFault};
use crate::assess::{Planner, StopReason};
use crate::machine::Machine;
use crate::module::Individual;
use crate::population::{Fitted, Observed, Occupant, Population, Report};
use crate::rule::RuleBook;
use crate::testing::{clean, module, name, plain, population};

fn report(machine: &Machine, planned: &Population, faults: &[WorkFault]) -> Report {
    Planner::new(machine, &RuleBook::standard()).expected_report(planned, None, faults).unwrap()
}

fn check(machine: &Machine, planned: &Population, report: Report) -> AcceptanceCheck {
    let request = AcceptanceRequest::new(planned.clone(), Observed::from(report));
    Planner::new(machine, &RuleBook::standard()).acceptance(&request).unwrap()
}

fn words(group: &CauseGroup) -> Vec<String> {
    group
        .alternatives
        .iter()
        .map(|own| own.causes.iter().map(|c| c.fault.to_string()).collect::<Vec<_>>().join(" + "))
        .collect()
}

#[test]
fn faults_far_from_each_other_are_groups_of_their_own() {
    let machine = clean();
    let other = module("16GB 1Rx4 PC4-2400T-RC2-11");
    let planned = population(&[("1A1", &plain()), ("1B1", &other), ("2A1", &plain()), ("2B1", &plain())]);
    let faults = [
        WorkFault::Swapped { first: name("1A1"), second: name("1B1") },
        WorkFault::WrongSlot { from: name("2B1"), to: name("2B2") },
    ];
    let check = check(&machine, &planned, report(&machine, &planned, &faults));
    let causes = check.causes.unwrap();
    assert_eq!(causes.faults_at_least, 2);
    assert_eq!(causes.groups.iter().map(|group| group.faults_at_least).sum::<usize>(), 2);
    let all: Vec<String> = causes.groups.iter().flat_map(words).collect();
    assert!(all.iter().any(|own| own.contains("the modules of slots 1A1 and 1B1 are swapped")), "{all:?}");
    assert!(all.iter().any(|own| own.contains("the module planned for slot 2B1 sits in 2B2")), "{all:?}");
}

#[test]
fn what_is_not_listed_is_counted() {
    let machine = clean();
    let planned = population(&[("1A1", &plain()), ("1B1", &plain()), ("2A1", &plain())]);
    let seen = population(&[("1A1", &plain()), ("1C1", &plain()), ("2A1", &plain())]);
    let request = AcceptanceRequest::new(planned, Observed::from(report(&machine, &seen, &[]))).alternatives(1);
    let check = Planner::new(&machine, &RuleBook::standard()).acceptance(&request).unwrap();
    let group = &check.causes.unwrap().groups[0];
    assert_eq!((group.alternatives.len(), group.further), (1, 0));
    assert_eq!(words(group), ["the module planned for slot 1B1 sits in 1C1"]);
}

#[test]
fn a_search_that_is_stopped_says_at_least_how_many_and_names_what_it_has() {
    let machine = clean();
    let slots = ["1A1", "1B1", "1C1", "1D1", "2A1", "2B1", "2C1", "2D1"];
    let small = module("16GB 1Rx4 PC4-2400T-RC2-11");
    let planned: Population = slots.iter().map(|slot| (name(slot), Occupant::module(plain()))).collect();
    let seen: Population = slots.iter().map(|slot| (name(slot), Occupant::module(small.clone()))).collect();
    let request = AcceptanceRequest::new(planned, Observed::from(report(&machine, &seen, &[])));
    let asked = |nodes: u64| {
        let check = Planner::new(&machine, &RuleBook::standard()).acceptance(&request.clone().nodes(nodes)).unwrap();
        check.causes.unwrap()
    };
    let stopped = asked(6);
    assert_eq!(stopped.stopped, Some(StopReason::NodesUsedUp { nodes: 6 }));
    assert!((1..=8).contains(&stopped.faults_at_least));
    assert!(stopped.groups.iter().any(|group| !group.is_proved && group.alternatives.len() == 1));
    let watch = |_: crate::search::Progress| std::ops::ControlFlow::Break(());
    let cancelled = Planner::new(&machine, &RuleBook::standard()).watched(&watch).acceptance(&request).unwrap();
    assert_eq!(cancelled.causes.unwrap().stopped, Some(StopReason::Cancelled));
    let whole = asked(100_000);
    assert_eq!((whole.stopped, whole.faults_at_least), (None, 8));
}

#[test]
fn serial_numbers_tell_alike_modules_apart() {
    let machine = clean();
    let fitted = |id: &str| Occupant::Module(Fitted::new(plain()).individual(Individual::new(name(id))));
    let slots = |ids: [&str; 3]| -> Population {
        ["1A1", "1B1", "1C1"].iter().zip(ids).map(|(slot, id)| (name(slot), fitted(id))).collect()
    };
    let planned = slots(["11", "12", "13"]);
    let rotated = check(&machine, &planned, report(&machine, &slots(["13", "11", "12"]), &[]));
    assert_eq!(
        words(&rotated.causes.unwrap().groups[0]),
        ["the modules of slots 1A1, 1B1, 1C1 each sit in the slot of the next"]
    );
    let other = check(&machine, &planned, report(&machine, &slots(["11", "12", "99"]), &[]));
    let group = &other.causes.unwrap().groups[0];
    assert_eq!(group.alternatives[0].causes[0].may_be, [FaultSort::WrongPart]);
}

#[test]
fn the_next_step_is_the_least_effort_that_tells_apart() {
    let next = |sorts: &[FaultSort]| NextStep::among(sorts, Vec::new());
    assert_eq!(next(&[FaultSort::ReportAtFault, FaultSort::Dead]).step, Step::NewReport);
    assert_eq!(next(&[FaultSort::Dead, FaultSort::LeftOut]).step, Step::Look);
    assert_eq!(next(&[FaultSort::Dead, FaultSort::ChannelDead]).step, Step::KnownGood);
    assert_eq!(next(&[FaultSort::SlotDamaged, FaultSort::ChannelDead]).step, Step::Look);
    let both = next(&[FaultSort::ChannelDead, FaultSort::ProcessorOrRiser]);
    assert!(both.is_remedy && both.step == Step::QualifiedHands);
    let look = next(&[FaultSort::NotSeated, FaultSort::LeftOut]);
    let of = |shows: Shown| look.outcomes.iter().find(|outcome| outcome.shows == shows).unwrap().means.clone();
    assert_eq!((of(Shown::SlotEmpty), of(Shown::InPlace)), (vec![FaultSort::LeftOut], vec![FaultSort::NotSeated]));
}

#[test]
fn every_step_ends_in_what_mends_it() {
    fn ends(next: &NextStep, left: usize) {
        assert!(left > 0, "{next}");
        for outcome in &next.outcomes {
            match next.following(outcome) {
                Some(then) => {
                    assert!(outcome.remedy.is_none() && then.step != next.step);
                    ends(&then, left - 1);
                }
                // what the firmware took out of use may be the part or the slot: those qualified for it look
                None => assert!(outcome.remedy.is_some() || outcome.means.contains(&FaultSort::OutOfUse), "{next}"),
            }
        }
    }
    for one in FaultSort::ALL {
        for other in FaultSort::ALL {
            for third in FaultSort::ALL {
                ends(&NextStep::among(&[one, other, third], Vec::new()), Step::TESTS.len() + 1);
            }
        }
    }
}
