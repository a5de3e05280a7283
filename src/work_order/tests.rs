use std::collections::BTreeMap;

use expect_test::expect;

use crate::assess::Planner;
use crate::machine::Machine;
use crate::module::{Individual, MemoryModule};
use crate::platform::{FirmwareNeed, Hands, KeyFacing, Latches, MappedOut, NeededBy, PlatformDescription};
use crate::population::{Fault, Fitted, MachineIdentity, Occupant, Population};
use crate::processor::ModulePattern;
use crate::purchase::{ModuleSource, PlanRequest, Present, ShelfItem};
use crate::rule::RuleBook;
use crate::stated::{Basis, Demand, Located, Stated};
use crate::testing::{board_of, clean, machine, module, name, other_device, plain, population, processor, slots_mut};
use crate::work_order::{
    Action, Check, FoundBad, HaltAt, OrderError, OrderLine, OrderRequest, PutDown, SimulationProblem, StopRule,
    TrialStart, WayBackError, WithoutError, WithoutNote, WithoutWay, WorkOrder,
};

fn small() -> MemoryModule {
    module("16GB 1Rx4 PC4-2400T-RC1-11")
}

/// A processor of two channels of two slots: 1A1, 1A2, 1B1, 1B2.
fn four() -> Machine {
    machine(board_of(1, 2, 2), processor())
}

fn order_on(machine: &Machine, request: &OrderRequest) -> Result<WorkOrder, OrderError> {
    Planner::new(machine, &RuleBook::standard()).work_order(request)
}

fn order(request: &OrderRequest) -> WorkOrder {
    order_on(&four(), request).unwrap()
}

fn sentences(order: &WorkOrder) -> Vec<String> {
    order.steps().map(ToString::to_string).collect()
}

/// What is wrong with a request on the machine of four slots: the place and the text.
fn problems(request: &OrderRequest) -> Vec<String> {
    match order_on(&four(), request) {
        Err(OrderError::Request { problems }) => {
            problems.iter().map(|problem| format!("{}: {problem}", problem.place())).collect()
        }
        other => panic!("{other:?}"),
    }
}

fn one(id: &str) -> Occupant {
    Occupant::Module(Fitted::new(plain()).individual(Individual::new(name(id))))
}

#[test]
fn a_whole_order_reads_from_first_to_last() {
    let mut board = board_of(1, 2, 2);
    let registered = ModulePattern::kind(crate::module::ModuleKind::Registered);
    let hands = Hands::new()
        .wait_before_lid(30)
        .first_start(660)
        .first_start_says([name("memory changed")])
        .lifted_out([name("air duct"), name("riser 2")])
        .latches(Latches::Two)
        .firmware([
            FirmwareNeed::new(NeededBy::Modules(registered), name("2.4")),
            FirmwareNeed::new(NeededBy::Processor(name("another")), name("3.0")),
        ]);
    board.hands = Some(Stated::new(hands, Basis::BoardManual));
    board.blanks = Some(Stated::new(Demand::Advised, Basis::BoardManual));
    for slot in slots_mut(&mut board) {
        slot.marking = Some(name(if slot.position == Some(0) { "white" } else { "black" }));
        slot.key_facing = Some(if slot.label.as_str().contains('B') { KeyFacing::Turned } else { KeyFacing::Usual });
    }
    let machine = machine(board, processor());
    let before = population(&[("1A1", &small()), ("1A2", &small())]);
    let after = population(&[("1A1", &plain()), ("1B1", &plain())]);
    let identity = MachineIdentity::new().product(name("Gale 24")).serial(name("77")).firmware(name("2.2"));
    let source = |slot: &str| (name(slot), ModuleSource::Shelf { id: name("bin 4") });
    let request = OrderRequest::new(before, after)
        .identity(identity)
        .place(name("rack 7"))
        .sources([source("1A1"), source("1B1")]);
    let order = order_on(&machine, &request).unwrap();
    expect![[r#"
        clean: 4 handlings
        To bring: 2 x 32GB 2Rx4 DDR4-2400 registered from shelf bin 4
        To bring: 1 blank
        ! The platform maker's manual, local rules and qualified people decide what is done.
        ! An update of the firmware has no way back: decide it before the halt.
        ! Slots are not listed as they lie on the board: find the printed label of each.
        HALT, before the lid comes off:
          [ ] The owner has said that the workload is off.
          [ ] It is the machine that is meant: Gale 24, serial 77, firmware 2.2, in rack 7.
          [ ] The firmware is 2.4 or later, for registered modules; 2.2 was found.
          [ ] A report of the machine as it is was made and kept.
          [ ] At hand: 2 modules and 1 blank.
          [ ] At hand: a bag labelled for each of 1A1, 1A2.
        [ ] It is shut down and switched off: no operating system runs.
        [ ] Every cord is out, or the sled is, and its lamp is dark.
        [ ] At least 30 seconds have passed since.
        ! The machine is heavy: lift and slide it as its manual says, not alone.
        ! Static electricity destroys modules: wear a strap, and keep them packed until needed.
        ! Modules and heat sinks stay hot after power is out: let them cool down.
        [ ] The lid is off, and lifted out, in this order: air duct, riser 2.
        ! Hold modules by their edges, touch no contacts, stack nothing, use no metal tool, never force one.
        1. 1A1 (white): take out 16GB 1Rx4 DDR4-2400 registered and put it in the bag of 1A1.
        2. 1A2 (black): take out 16GB 1Rx4 DDR4-2400 registered and put it in the bag of 1A2.
        HALT, all out:
          [ ] Out: 2 modules.
          [ ] Empty: 1A1, 1A2.
          [ ] Bagged one by one, labelled: 1A1, 1A2.
        3. 1A1 (white): put in 32GB 2Rx4 DDR4-2400 registered from shelf bin 4.
        4. 1B1 (white): put in 32GB 2Rx4 DDR4-2400 registered from shelf bin 4. The key is turned here: turn the module round.
        5. 1A2 (black): put in a blank.
        HALT, all in:
          [ ] In: 2 modules and 1 blank; modules in 1A1, 1B1.
        HALT, before power:
          [ ] Each module is flush along its row, and both latches are closed with a click.
          [ ] Back in, in this order: riser 2, air duct. The lid is on.
        ! The first start may take 11 minutes: do not cut the power. It may say, though nothing is wrong: memory changed.
        [ ] The cords are in, and it is switched on.
        HALT, after the start:
          [ ] The report of the machine is as expected.
          [ ] Everything that came out and was not fitted again is kept in its bag until the work is accepted.
        Expected after the start: 2 modules, 64 GB in all, 64 GB usable, running at 2400 MT/s, mode independent.
        Stop, photograph and ring on: another serial number than listed; a slot that is listed as empty and is not; another module than listed; no click, or a latch that does not close; damage; smoke or a smell (power off first); it does not start; beeps or a fault lamp; a report that differs."#]]
    .assert_eq(&order.to_string());
    expect![[r#"
        Way back, after the start: 4 handlings
        ! The platform maker's manual, local rules and qualified people decide what is done.
        [ ] It is shut down and switched off: no operating system runs.
        [ ] Every cord is out, or the sled is, and its lamp is dark.
        [ ] At least 30 seconds have passed since.
        ! The machine is heavy: lift and slide it as its manual says, not alone.
        ! Static electricity destroys modules: wear a strap, and keep them packed until needed.
        ! Modules and heat sinks stay hot after power is out: let them cool down.
        [ ] The lid is off, and lifted out, in this order: air duct, riser 2.
        ! Hold modules by their edges, touch no contacts, stack nothing, use no metal tool, never force one.
        1. 1A1 (white): take out 32GB 2Rx4 DDR4-2400 registered and put it back with what came from shelf bin 4.
        2. 1A2 (black): take out the blank.
        3. 1B1 (white): take out 32GB 2Rx4 DDR4-2400 registered and put it back with what came from shelf bin 4.
        4. 1A1 (white): put in 16GB 1Rx4 DDR4-2400 registered from the bag of 1A1.
        5. 1A2 (black): put in 16GB 1Rx4 DDR4-2400 registered from the bag of 1A2.
        [ ] Each module is flush along its row, and both latches are closed with a click.
        [ ] Back in, in this order: riser 2, air duct. The lid is on.
        ! The first start may take 11 minutes: do not cut the power. It may say, though nothing is wrong: memory changed.
        [ ] The cords are in, and it is switched on.
        [ ] The report of the machine is as the one that was kept, but for what stays out."#]]
    .assert_eq(&order.way_back(&HaltAt::Started).unwrap().to_string());
    expect![[r#"
        expected report (machine report): a machine that is not named
          processor 1: there
          1A1: in use, 32 GB 2Rx4 DDR4 registered, DIMM, ECC (72 bits), 8 Gb dies, rated 2400 MT/s, 1.2 V, runs at 2400 MT/s
          1A2: listed as empty
          1B1: in use, 32 GB 2Rx4 DDR4 registered, DIMM, ECC (72 bits), 8 Gb dies, rated 2400 MT/s, 1.2 V, runs at 2400 MT/s
          1B2: listed as empty
          2 places filled, 2 listed as empty"#]]
    .assert_eq(&order.expected.to_string());
}

#[test]
fn outs_follow_the_rows_of_the_board_and_ins_the_turns() {
    let mut board = board_of(2, 2, 1);
    let row = |labels: &[&str]| labels.iter().map(|label| name(label)).collect::<Vec<_>>();
    board.rows = vec![row(&["1B1", "1A1"]), row(&["2B1", "2A1"])];
    let machine = machine(board, processor());
    let (old, new) = (small(), plain());
    let all = |module: &MemoryModule| population(&["1A1", "1B1", "2A1", "2B1"].map(|slot| (slot, module)));
    let order = order_on(&machine, &OrderRequest::new(all(&old), all(&new))).unwrap();
    let slots: Vec<&str> = order.steps().map(|step| step.slot.as_str()).collect();
    assert_eq!(slots, ["1B1", "1A1", "2B1", "2A1", "1A1", "1B1", "2A1", "2B1"]);
    assert!(!order.to_string().contains("find the printed label"));
}

/// A machine without a module does not start: nobody kept a report of it, and the way back ends switched off.
#[test]
fn an_empty_machine_reports_nothing() {
    let order = order(&OrderRequest::new(Population::new(), population(&[("1A1", &plain())])));
    assert!(!order.to_string().contains("A report of the machine as it is"), "{order}");
    assert!(order.to_string().contains("Expected after the start: 1 module, 32 GB in all, 32 GB usable, running at "));
    for way in &order.ways_back {
        let text = way.to_string();
        assert!(text.ends_with("[ ] It stays switched off, with its cords out: it has no module to start with."));
        assert!(!text.contains("switched on") && !text.contains("The report"), "{text}");
    }
    // emptied, it is not switched on either; the way back ends with the report that was kept
    let order = self::order(&OrderRequest::new(population(&[("1A1", &plain())]), Population::new()));
    let text = order.to_string();
    assert!(!text.contains("switched on") && !text.contains("as expected") && !text.contains("Expected"), "{text}");
    assert!(text.contains("A report of the machine as it is") && text.contains("It stays switched off"), "{text}");
    assert!(order.way_back(&HaltAt::BeforePower).unwrap().to_string().contains("as the one that was kept"));
    assert!(order.simulate(&order.before).unwrap().is_empty());
}

#[test]
fn a_machine_without_a_serial_number_has_a_space_for_it() {
    let asked = |identity| OrderRequest::new(Population::new(), population(&[("1A1", &plain())])).identity(identity);
    let unnamed = order(&asked(MachineIdentity::new())).to_string();
    assert!(unnamed.contains("[ ] It is the machine that is meant; its serial number: ____________."), "{unnamed}");
    let alike = order(&asked(MachineIdentity::new().product(name("Gale 24")))).to_string();
    assert!(alike.contains("is meant: Gale 24; its serial number: ____________."), "{alike}");
    let one = order(&asked(MachineIdentity::new().serial(name("77")))).to_string();
    assert!(one.contains("is meant: serial 77.") && !one.contains("___"), "{one}");
}

#[test]
fn what_may_go_wrong_at_the_start_stops_the_work() {
    let order = order(&OrderRequest::new(Population::new(), population(&[("1A1", &plain())])));
    for rule in [StopRule::SmokeOrSmell, StopRule::DoesNotStart, StopRule::FaultSignal, StopRule::OtherReport] {
        assert!(order.stop_rules.contains(&rule), "{rule}");
    }
    assert!(!order.stop_rules.contains(&StopRule::OtherTrial));
    let request = OrderRequest::new(Population::new(), population(&[("1A1", &plain()), ("1B1", &plain())]));
    let tried = self::order(&request.trial_start(true));
    assert!(matches!(tried.trial, TrialStart::Made(_)) && tried.stop_rules.contains(&StopRule::OtherTrial));
}

#[test]
fn a_module_moves_to_the_nearest_slot_that_wants_one() {
    let machine = clean();
    let before = population(&[("1A2", &small()), ("2A2", &small())]);
    let after = population(&[("1B1", &small()), ("2B1", &small())]);
    let order = order_on(&machine, &OrderRequest::new(before, after)).unwrap();
    let ins: Vec<String> = sentences(&order).into_iter().filter(|text| text.contains("put in")).collect();
    assert_eq!(
        ins.iter().map(|text| text.split("from").last().unwrap()).collect::<Vec<_>>(),
        [" the bag of 1A2.", " the bag of 2A2."]
    );
    assert_eq!((order.handlings, order.supplies.len()), (4, 0));
}

#[test]
fn a_faulty_module_gives_way_to_an_equal_one() {
    let mut before = population(&[("1A1", &plain())]);
    before.put(name("1B1"), Occupant::Module(Fitted::new(plain()).fault(Fault::Failed)));
    let after = population(&[("1A1", &plain()), ("1B1", &plain())]);
    let order = order(&OrderRequest::new(before, after));
    assert_eq!((order.handlings, order.supplies[0].count), (2, 1));
    // the way back leaves it out, and says so
    let way = order.way_back(&HaltAt::AllIn).unwrap();
    assert_eq!(way.population, population(&[("1A1", &plain())]));
    assert_eq!(way.without.as_ref().map(|without| without.way), Some(WithoutWay::TakenOut));
    assert!(way.to_string().contains("not all goes back: taken out (1 handling; out of 1B1)"), "{way}");
}

#[test]
fn blanks_are_steps_and_no_handlings() {
    let mut before = population(&[("1A1", &plain()), ("1B1", &plain())]);
    before.put(name("1A2"), Occupant::Blank);
    let after = population(&[("1A1", &plain()), ("1A2", &plain())]);
    let request = OrderRequest::new(before.clone(), after).blanks(true);
    let order = order(&request);
    let texts = sentences(&order);
    assert_eq!(texts[0], "1A2: take out the blank.");
    assert!(texts[1].starts_with("1B1: take out "), "{texts:?}");
    assert_eq!(texts[3], "1B1: put in a blank.");
    assert_eq!((order.handlings, order.blanks_to_bring), (2, 0));
    // unless nobody asks for one
    let without = order_on(&four(), &request.clone().blanks(None)).unwrap();
    assert_eq!(without.steps().count(), 3);
    assert_eq!(without.after.get("1B1"), None);
    // and what is to be there may name one
    let mut asked = population(&[("1A1", &plain()), ("1B1", &plain())]);
    asked.put(name("1B2"), Occupant::Blank);
    let order = order_on(&four(), &OrderRequest::new(before, asked)).unwrap();
    assert_eq!(sentences(&order), ["1B2: put in a blank."]);
    assert_eq!((order.handlings, order.blanks_to_bring), (0, 1));
    assert!(order.to_string().contains("To bring: 1 blank"));
}

#[test]
fn steps_beside_another_device_say_that_it_holds_data() {
    let mut before = population(&[("1B1", &plain())]);
    before.put(name("1A1"), Occupant::OtherDevice(other_device()));
    let mut after = before.clone().with(name("1A2"), plain());
    let order = order(&OrderRequest::new(before.clone(), after.clone()));
    let texts = sentences(&order);
    assert!(texts[0].ends_with("The device in 1A1 of this channel holds data: mind it."), "{texts:?}");
    assert!(order.to_string().contains("What is in 1A1 holds data"));
    after.take("1A1");
    let expected =
        "after.slots[1A1]: in slot 1A1 another device comes, goes or changes; it stays as it is, for it holds data";
    assert_eq!(problems(&OrderRequest::new(before, after)), [expected]);
}

#[test]
fn named_individuals_are_meant() {
    let before: Population = [(name("1A1"), one("x1")), (name("1B1"), one("x2"))].into_iter().collect();
    let after: Population = [(name("1A1"), one("x2")), (name("1B1"), one("x3"))].into_iter().collect();
    let request = OrderRequest::new(before.clone(), after.clone());
    assert_eq!(order(&request).handlings, 0);
    let order = order(&request.clone().individuals(true));
    assert_eq!(order.handlings, 4);
    assert_eq!(order.after, after);
    assert_eq!(order.supplies[0].individual.as_ref().map(|one| one.id.as_str()), Some("x3"));
    assert!(sentences(&order)[0].contains("no. x1"));
    // twice the same
    let twice: Population = [(name("1A1"), one("x2")), (name("1B1"), one("x2"))].into_iter().collect();
    let text = "after.slots[1B1]: what is to be there has module no. x2 in both 1A1 and 1B1";
    assert_eq!(problems(&OrderRequest::new(before.clone(), twice).individuals(true)), [text]);
    // another module under that number
    let other = Occupant::Module(Fitted::new(small()).individual(Individual::new(name("x2"))));
    let other: Population = [(name("1A1"), other)].into_iter().collect();
    let found = problems(&OrderRequest::new(before, other).individuals(true));
    assert!(found[0].starts_with("before.slots[1B1]: slot 1A1 is to hold the 16GB"), "{found:?}");
}

#[test]
fn what_makes_no_sense_is_said_with_its_place() {
    let (there, wanted) = (population(&[("1A1", &small())]), population(&[("1A1", &plain())]));
    let request = OrderRequest::new(there.clone(), wanted.clone());
    let source = |slot: &str, source: ModuleSource| request.clone().sources([(name(slot), source)]);
    let moves = |slot: &str| ModuleSource::MovesFrom { slot: name(slot) };
    let slots = "its slots are 1A1, 1A2, 1B1, 1B2";
    let unknown = OrderRequest::new(population(&[("9", &plain())]), population(&[("8", &plain())]));
    assert_eq!(
        problems(&unknown),
        [
            format!("before.slots[9]: what is there names a slot 9, which the board does not have; {slots}"),
            format!("after.slots[8]: what is to be there names a slot 8, which the board does not have; {slots}"),
        ]
    );
    assert_eq!(
        problems(&source("1B1", ModuleSource::Stays)),
        ["sources[1B1]: a source is given for slot 1B1, which is to hold no module"]
    );
    assert_eq!(
        problems(&source("1A1", ModuleSource::Other(name("leased")))),
        [
            "sources[1A1]: the module of slot 1A1 comes from \"leased\", which is not known; it stays, moves, or is from shelf or offer"
        ]
    );
    let (text, other) = (plain().to_string(), small().to_string());
    assert_eq!(
        problems(&source("1A1", ModuleSource::Stays)),
        [format!("before.slots[1A1]: slot 1A1 is to hold the {text} of slot 1A1, and there is {other} in 1A1")]
    );
    assert_eq!(
        problems(&source("1A1", moves("1B2"))),
        [format!("before.slots[1B2]: slot 1A1 is to hold the {text} of slot 1B2, and there is nothing in 1B2")]
    );
    let twice = OrderRequest::new(wanted.clone(), population(&[("1A2", &plain()), ("1B1", &plain())]))
        .sources([(name("1A2"), moves("1A1")), (name("1B1"), moves("1A1"))]);
    assert_eq!(problems(&twice), ["sources[1B1]: the module of slot 1A1 is to go to both 1A2 and 1B1"]);
    let leaves = |slot: &str| request.clone().leaves(BTreeMap::from([(name(slot), small())]));
    assert!(order_on(&four(), &leaves("1A1")).is_ok());
    assert_eq!(
        problems(&leaves("1B1")),
        [
            format!("leaves[1A1]: from slot 1A1 there should leave nothing, and by what is there it is {other}"),
            format!("leaves[1B1]: from slot 1B1 there should leave {other}, and by what is there it is nothing"),
        ]
    );
    assert_eq!(
        problems(&request.clone().handlings(5)),
        ["handlings: 5 handlings are expected and it takes 2: the plan was made of something else"]
    );
    let mut faulty = Population::new();
    faulty.put(name("1A1"), Occupant::Module(Fitted::new(plain()).fault(Fault::Suspect)));
    assert_eq!(
        problems(&OrderRequest::new(there.clone(), faulty)),
        ["after.slots[1A1]: slot 1A1 is to get a module that is suspect"]
    );
    let closed = Machine::builder(board_of(1, 2, 2).build().unwrap())
        .processor("1", processor().build().unwrap())
        .closed_slot(name("1A1"), name("bent contacts"))
        .build()
        .unwrap();
    let refused = order_on(&closed, &request).unwrap_err().to_string();
    assert_eq!(refused, "no work order: slot 1A1 is to get a module and is closed: bent contacts");
}

#[test]
fn a_target_with_errors_says_so() {
    let order = order(&OrderRequest::new(Population::new(), population(&[("1A2", &plain())])));
    assert!(order.to_string().contains("the machine may not start afterwards: position-order"), "{order}");
    assert!(order.findings.iter().any(|finding| finding.code == *"position-order"));
}

/// A step is changed, and the order cannot be carried out any more.
#[test]
fn what_hands_cannot_do_is_no_order() {
    let mut before = population(&[("1A1", &small()), ("1A2", &plain())]);
    before.put(name("1B1"), Occupant::Blank);
    let after = population(&[("1A1", &plain()), ("1B1", &small())]);
    let sound = order(&OrderRequest::new(before.clone(), after).blanks(true));
    let texts = sentences(&sound);
    assert_eq!(texts.len(), 6, "{texts:?}");
    let with = |at: usize, action: Action| {
        let mut order = sound.clone();
        let mut steps = order.lines.iter_mut().filter_map(|line| match line {
            OrderLine::Step(step) => Some(step),
            _ => None,
        });
        steps.nth(at).unwrap().action = action;
        let error = order.simulate(&before).unwrap_err();
        (error.step, error.problem)
    };
    let bag = |slot: &str| PutDown::Bag { slot: name(slot) };
    let out = |module: MemoryModule, to: PutDown| Action::TakeOut { module: Fitted::new(module), to };
    let put = |module: MemoryModule, from: PutDown| Action::PutIn { module: Fitted::new(module), from };
    let holds = |module: MemoryModule| Box::new(Occupant::module(module));
    use SimulationProblem as P;
    // 0: 1A1 out, 1: 1A2 out, 2: blank of 1B1 out, 3: into 1A1, 4: into 1B1, 5: blank into 1A2
    assert_eq!(with(0, out(plain(), bag("1A1"))), (1, P::HoldsElse { holds: holds(small()) }));
    assert_eq!(with(0, out(small(), bag("1A2"))), (1, P::WrongPlace));
    assert_eq!(with(0, out(small(), PutDown::Supply { source: None })), (1, P::WrongPlace));
    assert_eq!(with(0, Action::TakeOutBlank), (1, P::HoldsElse { holds: holds(small()) }));
    assert_eq!(with(0, Action::PutInBlank), (1, P::SlotIsFull { holds: holds(small()) }));
    assert_eq!(with(0, put(small(), bag("1A1"))), (1, P::SlotIsFull { holds: holds(small()) }));
    assert_eq!(with(2, out(small(), bag("1B1"))), (3, P::HoldsElse { holds: Box::new(Occupant::Blank) }));
    assert_eq!(with(3, Action::TakeOutBlank), (4, P::SlotIsEmpty));
    assert_eq!(with(3, out(small(), bag("1A1"))), (4, P::SlotIsEmpty));
    assert_eq!(with(3, put(plain(), bag("1B1"))), (4, P::BagIsEmpty { bag: name("1B1") }));
    let else_in_it = P::BagHoldsElse { bag: name("1A1"), holds: holds(small()) };
    assert_eq!(with(3, put(plain(), bag("1A1"))), (4, else_in_it));
    assert_eq!(with(3, put(plain(), PutDown::Supply { source: None })), (4, P::SupplyUsedUp));
    assert_eq!(with(3, put(plain(), PutDown::Bad)), (4, P::FromBad));
    assert_eq!(with(3, put(plain(), PutDown::Other(name("drawer")))), (4, P::WrongPlace));
    assert_eq!(with(3, Action::Other(name("weld"))), (4, P::UnknownAction { action: name("weld") }));
    assert_eq!(with(4, Action::PutInBlank), (6, P::NoBlank));
    let other = order_on(&four(), &OrderRequest::new(Population::new(), Population::new())).unwrap();
    assert_eq!(other.simulate(&before).unwrap(), before);
    let error = sound.simulate(&Population::new()).unwrap_err();
    assert_eq!(error.to_string(), "step 1 at slot 1A1: it is empty, and something is to be taken out");
}

#[test]
fn a_bag_holds_one() {
    let before = population(&[("1A1", &small())]);
    let mut order = order(&OrderRequest::new(before.clone(), population(&[("1A2", &small())])));
    // out once more, though its bag was filled by magic in between
    let first = order.lines.iter().find(|line| line.step().is_some()).unwrap().clone();
    let mut state = order.state_at(&HaltAt::AllOut).unwrap().unwrap();
    state.slots = before;
    state.homes.insert(name("1A1"), PutDown::Bag { slot: name("1A1") });
    let error = state.carry_out([&first]).unwrap_err();
    assert_eq!(error.problem, SimulationProblem::BagIsFull { bag: name("1A1") });
    order.lines.clear();
    assert_eq!(order.state_at(&HaltAt::AllOut), Ok(None));
}

#[test]
fn there_is_a_way_back_only_from_where_hands_can_be() {
    let machine = four();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let before = population(&[("1A1", &small())]);
    let order = planner.work_order(&OrderRequest::new(before, population(&[("1A1", &plain())]))).unwrap();
    let back = |halt: HaltAt, bad: &[FoundBad]| planner.way_back(&order, &halt, bad).map_err(|error| error.to_string());
    assert_eq!(back(HaltAt::TrialDone, &[]), Err("the order has no such halt (after the trial start)".to_owned()));
    let in_bag = FoundBad::InBag { slot: name("1B1") };
    assert_eq!(back(HaltAt::AllOut, &[in_bag]), Err("there is no module in the bag of 1B1 at that point".to_owned()));
    let in_slot = FoundBad::InSlot { slot: name("1A1") };
    let nothing = back(HaltAt::AllOut, std::slice::from_ref(&in_slot));
    assert_eq!(nothing, Err("there is no module in slot 1A1 at that point".to_owned()));
    // what was brought is put by, and what was there goes back
    let way = back(HaltAt::AllIn, std::slice::from_ref(&in_slot)).unwrap();
    let texts: Vec<String> = way.steps().map(ToString::to_string).collect();
    assert!(texts[0].ends_with("put it in the bag for what is bad."), "{texts:?}");
    assert_eq!((way.population, way.without), (order.before.clone(), None));
    let other = machine_of_one();
    let error = Planner::new(&other, &rules).way_back(&order, &HaltAt::AllIn, &[]).unwrap_err();
    assert!(matches!(error, WayBackError::UnknownSlot { .. }));
}

/// A machine whose slots have other labels.
fn machine_of_one() -> Machine {
    let mut board = board_of(1, 1, 1);
    slots_mut(&mut board).for_each(|slot| slot.label = name("X"));
    machine(board, processor())
}

#[test]
fn a_trial_start_tries_one_of_each_new_part() {
    let machine = clean();
    let slots = ["1A1", "1B1", "1C1", "1D1", "2A1", "2B1", "2C1", "2D1"];
    let all = |module: &MemoryModule| population(&slots.map(|slot| (slot, module)));
    let request = OrderRequest::new(all(&small()), all(&plain())).trial_start(true);
    let order = order_on(&machine, &request).unwrap();
    let TrialStart::Made(trial) = &order.trial else { panic!("{:?}", order.trial) };
    // one is exchanged, all others are still there
    assert_eq!((trial.slots.as_slice(), trial.handlings, order.handlings), ([name("1A1")].as_slice(), 0, 16));
    assert_eq!(trial.population.modules().filter(|(_, fitted)| fitted.module == plain()).count(), 1);
    let halts: Vec<&HaltAt> = order.halts().map(|halt| &halt.at).collect();
    use HaltAt as H;
    assert_eq!(
        halts,
        [
            &H::BeforeLid,
            &H::TrialOut,
            &H::TrialIn,
            &H::BeforeTrialPower,
            &H::TrialDone,
            &H::AllOut,
            &H::AllIn,
            &H::BeforePower,
            &H::Started
        ]
    );
    let text = order.to_string();
    assert!(text.contains("a trial start with 1A1, 0 handlings more"), "{text}");
    assert!(text.contains("no operating system was started, and nothing was saved"));
    // a part that works in the machine already needs no trial
    let more = OrderRequest::new(population(&[("1A1", &plain())]), all(&plain())).trial_start(true);
    assert_eq!(order_on(&machine, &more).unwrap().trial, TrialStart::NothingNew);
}

#[test]
fn where_nothing_starts_with_one_piece_there_is_no_trial() {
    let mut board = board_of(1, 2, 1);
    board.channels_alike = Some(Stated::new(Demand::Required, Basis::BoardManual));
    board.even_counts = Some(Stated::new(Demand::Required, Basis::BoardManual));
    let machine = machine(board, processor());
    let after = population(&[("1A1", &plain()), ("1B1", &plain())]);
    let order = order_on(&machine, &OrderRequest::new(Population::new(), after).trial_start(true)).unwrap();
    assert_eq!(order.trial, TrialStart::NoneFound);
    assert!(order.to_string().contains("no trial start was found"));
    assert_eq!(order.handlings, 2);
}

#[test]
fn without_says_every_way_to_go_on() {
    let mapped = |mapped: Option<MappedOut>| {
        let board = PlatformDescription {
            hands: mapped.map(|mapped| Stated::new(Hands::new().mapped_out(mapped), Basis::BoardManual)),
            ..board_of(2, 4, 3)
        };
        machine(board, processor())
    };
    let rules = RuleBook::standard();
    let slots = ["A1", "B1", "C1", "D1", "A2", "B2", "C2", "D2"];
    let labels: Vec<String> = slots.iter().flat_map(|slot| [format!("1{slot}"), format!("2{slot}")]).collect();
    let module = plain();
    let held = population(&labels.iter().map(|label| (label.as_str(), &module)).collect::<Vec<_>>());
    let answer = |machine: &Machine, slots: &[&str]| {
        let slots: Vec<_> = slots.iter().map(|slot| name(slot)).collect();
        Planner::new(machine, &rules).without(&held, &slots)
    };
    let machine = mapped(Some(MappedOut::Channel));
    let found = answer(&machine, &["1A1"]).unwrap();
    expect![[r#"
        Without 1A1:
          left where it is, out of use (0 handlings; out of use 1A1, 1A2): 448 GB at 2400 MT/s; 1 error, 3 warnings
          taken out (1 handling; out of 1A1): 480 GB at 2400 MT/s; 1 error, 4 warnings
          taken out, another brought forward (3 handlings; out of 1A1; 1A2 to 1A1): 480 GB at 2400 MT/s; 0 errors, 3 warnings
          taken out with partners (6 handlings; out of 1A1, 1B2, 1C2, 1D2; 1A2 to 1A1): 384 GB at 2400 MT/s; 0 errors, 1 warning
          taken out with partners (10 handlings; out of 1A1, 1B2, 1C2, 1D2, 2A2, 2B2, 2C2, 2D2; 1A2 to 1A1): 256 GB at 2400 MT/s"#]]
    .assert_eq(&found.to_string());
    assert_eq!(answer(&mapped(None), &["1A1"]).unwrap().notes, [WithoutNote::MappedOutNotDescribed]);
    let none = answer(&mapped(Some(MappedOut::All)), &["1A1"]).unwrap();
    assert_eq!(none.notes, [WithoutNote::DoesNotStart]);
    assert!(none.ways[0].usable_mib.is_zero());
    let module = answer(&mapped(Some(MappedOut::Module)), &["1A1"]).unwrap();
    assert_eq!(module.ways[0].mapped_out, [name("1A1")]);
    let error = |slots: &[&str]| answer(&machine, slots).unwrap_err();
    assert!(matches!(error(&["9"]), WithoutError::UnknownSlot { .. }));
    assert_eq!(error(&["1A3"]).to_string(), "slot 1A3 holds no module that could fail");
    // with what may stand in
    let request = PlanRequest::new()
        .present(Present::new(held.clone()))
        .shelf([ShelfItem::new(name("bin 4"), plain(), 1), ShelfItem::new(name("bin 5"), small(), 1)]);
    let replaced = Planner::new(&machine, &rules).without_or_replaced(&request, &[name("1A1")]).unwrap();
    let ids: Vec<String> = replaced.stand_ins[0].stand_ins.iter().map(|found| found.source.to_string()).collect();
    assert_eq!(ids, ["shelf bin 4"]);
    assert!(replaced.to_string().ends_with("from shelf bin 4 may stand in"), "{replaced}");
}

/// The sentences that no order above has.
#[test]
fn every_check_has_its_sentence() {
    let texts = [
        Check::Waited { seconds: None },
        Check::Waited { seconds: Some(61) },
        Check::Waited { seconds: Some(120) },
        Check::Seated { latches: Some(Latches::One) },
        Check::Seated { latches: None },
        Check::Firmware { needed_by: NeededBy::Processor(name("later")), needed: name("3"), found: None },
        Check::Machine { identity: MachineIdentity::new(), place: None },
        Check::PiecesAtHand { modules: 1, blanks: 2 },
        Check::TrialShown { slots: vec![name("A1")] },
    ];
    expect![[r#"
        The time that the maker's manual asks for has passed since.
        At least 1 minute and 1 second have passed since.
        At least 2 minutes have passed since.
        Each module is flush along its row, and its latch is closed with a click.
        Each module is flush along its row, and every latch is closed with a click.
        The firmware is 3 or later, for processor later; which one there is was not said.
        It is the machine that is meant; its serial number: ____________.
        At hand: 1 module and 2 blanks.
        Set-up shows, as listed, what is in A1."#]]
    .assert_eq(&texts.map(|check| check.to_string()).join("\n"));
}

/// Undone in reverse order since a halt, steps give what was at that halt; and from after each there is a way back of its own.
#[test]
fn work_can_stop_after_any_step() {
    let machine = clean();
    let mut before = population(&[("1A1", &small()), ("1B1", &small()), ("2A1", &plain())]);
    before.put(name("1C1"), Occupant::Blank);
    let after = population(&[("1A1", &plain()), ("1A2", &small()), ("1C1", &plain()), ("2A1", &plain())]);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    for is_tried in [false, true] {
        let request = OrderRequest::new(before.clone(), after.clone()).blanks(true).trial_start(is_tried);
        let order = planner.work_order(&request).unwrap();
        let count = order.steps().count();
        assert!(count > 6, "{order}");
        for steps in 0..=count {
            let (halt, state) = order.state_after(steps).unwrap().unwrap();
            let way = planner.way_back_after(&order, steps, &[]).unwrap();
            assert_eq!((&way.from, way.steps_done, &way.population), (&halt, Some(steps), &before));
            assert_eq!(way.simulate(&state).unwrap(), before);
            assert!(way.lines.contains(&OrderLine::Check(Check::PowerOut)), "{way}");
            // the worded rule
            let at_halt = order.state_at(&halt).unwrap().unwrap();
            let until = order.lines.iter().position(|line| line.halt().is_some_and(|found| found.at == halt)).unwrap();
            let done = order.lines.iter().take(until).filter(|line| line.step().is_some()).count();
            let mut undone = state;
            for step in order.steps().take(steps).skip(done).collect::<Vec<_>>().into_iter().rev() {
                let mut step = step.clone();
                step.action = match step.action {
                    Action::TakeOut { module, to } => Action::PutIn { module, from: to },
                    Action::PutIn { module, from } => Action::TakeOut { module, to: from },
                    Action::TakeOutBlank => Action::PutInBlank,
                    Action::PutInBlank => Action::TakeOutBlank,
                    other => panic!("{other:?}"),
                };
                undone.carry_out([&OrderLine::Step(step)]).unwrap();
            }
            assert_eq!(undone, at_halt, "after {steps} steps");
        }
        let error = planner.way_back_after(&order, count + 1, &[]).unwrap_err().to_string();
        assert_eq!(error, format!("the order has {count} steps, and {} were said to be done", count + 1));
    }
}
