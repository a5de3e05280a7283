//! Single cases in which search and book have differed, or could: plain and by name.

use slotwright::module::{FormFactor, Generation, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ChannelGroup, ControllerDescription, DomainScheme, Domains, FillRow, Identical, Mode,
    PlatformDescription, Redundancy, SlotDescription, SocketDescription,
};
use slotwright::population::Population;
use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
use slotwright::purchase::{Offer, Outcome, PlanRequest, Present};
use slotwright::rule::{RuleBook, RuleSettings, SeveritySetting};
use slotwright::stated::{Basis, Demand, Stated};
use slotwright::unit::{Capacity, DataRate, Height};
use slotwright::{Machine, Planner, Severity};

use crate::boards::{module, name};
use crate::one_truth::case::{Case, SETTINGS};
use crate::one_truth::law::{Law, accepting, arranging, check, pinning, planning};
use crate::purchase_oracle::euros;

const SMALL: &str = "16GB 2Rx4 PC4-2400T-RA1-11";
const LARGE: &str = "32GB 2Rx4 PC4-2133P-RA1-11";

/// A board of sockets "1", "2" with channels "A", "B" of so many slots.
fn board(sockets: &[&[u8]]) -> PlatformDescription {
    let mut turn = 0;
    let mut described = Vec::new();
    for (socket, channels) in (1..).zip(sockets) {
        let mut channel = |(letter, &slots): (&str, &u8)| {
            ChannelDescription::new(
                name(letter),
                (0..slots).map(|position| {
                    turn += 1;
                    SlotDescription::new(name(&format!("{socket}{letter}{}", position + 1)), position, turn)
                }),
            )
        };
        let channels: Vec<_> = ["A", "B"].into_iter().zip(*channels).map(&mut channel).collect();
        let controllers = vec![ControllerDescription::new(name("0"), channels)];
        described.push(SocketDescription::new(name(&socket.to_string()), controllers));
    }
    PlatformDescription::new(name("board"), Generation::Ddr4, described)
}

fn processor() -> ProcessorDescription {
    let kinds = [ModuleKind::Registered];
    ProcessorDescription::new(name("proc"), Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet)
}

fn machine(board: PlatformDescription, processor: ProcessorDescription) -> Machine {
    let labels: Vec<String> = board.sockets.iter().map(|socket| socket.label.to_string()).collect();
    let processor = processor.build().unwrap();
    let described = Machine::builder(board.build().unwrap());
    labels.iter().fold(described, |machine, label| machine.processor(label, processor.clone())).build().unwrap()
}

/// A machine in which channels A and B of the first processor mirror each other.
fn mirrored(basis: Basis) -> Machine {
    let mut board = board(&[&[1, 1]]);
    let mut mode = Mode::new(name("mirror"), Redundancy::Mirrored, basis);
    mode.groups = vec![ChannelGroup::new(name("1"), [name("A"), name("B")])];
    mode.identical = Identical::Capacity;
    board.modes = vec![mode];
    board.default_settings.mode = Some(name("mirror"));
    machine(board, processor())
}

/// A machine whose rate table bars the larger module.
fn barred(basis: Basis) -> Machine {
    let mut processor = processor();
    let large = ModulePattern::default().capacity(Capacity::from_gib(32));
    let any = ModulePattern::default();
    let rates = [Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133)];
    processor.rate_table = Some(RateTable::new(basis).by_load(&any, &rates).by_load(&large, &[None, None]));
    machine(board(&[&[1, 1]]), processor)
}

/// Plans a population that is pinned, with nothing else to be had and nothing asked.
fn plan_pinned(machine: &Machine, fitted: &[(&str, &str)], refuse_from: Severity) -> (Outcome, Option<Severity>) {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let fitted = fitted.iter().map(|&(slot, label)| (name(slot), module(label)));
    let population = fitted.fold(Population::new(), |population, (slot, module)| population.with(slot, module));
    let mut request = PlanRequest::new().present(population.clone()).refuse_from(refuse_from);
    request.present.pinned = population.modules().map(|(slot, _)| slot.clone()).collect();
    let findings = planner.assess(&population).unwrap().findings;
    (planner.plan(&request).unwrap(), findings.iter().map(|finding| finding.severity).max())
}

#[test]
fn a_mirror_of_a_makers_list_warns_and_is_planned() {
    let (outcome, worst) =
        plan_pinned(&mirrored(Basis::MakersList), &[("1A1", SMALL), ("1B1", LARGE)], Severity::Error);
    assert_eq!(worst, Some(Severity::Warning));
    assert!(matches!(outcome, Outcome::Optimal(_)), "{outcome}");
}

#[test]
fn a_rate_cell_of_a_makers_list_warns_and_is_planned() {
    let (outcome, worst) = plan_pinned(&barred(Basis::MakersList), &[("1A1", LARGE), ("1B1", LARGE)], Severity::Error);
    assert_eq!(worst, Some(Severity::Warning));
    assert!(matches!(outcome, Outcome::Optimal(_)), "{outcome}");
}

// A label says nothing of height, and what runs fits its slot.
#[test]
fn a_module_of_unknown_height_stays_in_its_low_slot() {
    let mut board = board(&[&[1]]);
    board.sockets[0].controllers[0].channels[0].slots[0].height_limit_um = Some(Height::from_um(20_000));
    let (outcome, worst) = plan_pinned(&machine(board, processor()), &[("1A1", SMALL)], Severity::Warning);
    assert_eq!(worst, Some(Severity::Warning));
    assert!(matches!(outcome, Outcome::Optimal(_)), "{outcome}");
}

// That it runs in a slot of one form says nothing of a slot of another.
#[test]
fn a_module_of_unknown_form_moves_among_slots_of_one_form() {
    let plan = |form: FormFactor| {
        let mut board = board(&[&[1, 1]]);
        board.sockets[0].controllers[0].channels[1].slots[0].form_factor = form;
        let (machine, rules) = (machine(board, processor()), RuleBook::standard());
        let unknown = module(SMALL).to_builder().form_factor(None).build().unwrap();
        let present = Present::new(Population::new().with(name("1A1"), unknown)).keep_empty([name("1A1")]);
        let request = PlanRequest::new().present(present).usable_at_least(Capacity::from_gib(16));
        Planner::new(&machine, &rules).plan(&request).unwrap()
    };
    let moved = plan(FormFactor::Dimm);
    assert!(moved.optimal().is_some_and(|plan| plan.population.get("1B1").is_some()), "{moved}");
    let refused = plan(FormFactor::SoDimm);
    assert!(matches!(refused, Outcome::Infeasible(_)), "{refused}");
}

/// Holds all laws on a machine with both modules at hand, with a rule as it is and as settings may make it, on a basis
/// that makes errors and one that makes warnings.
fn search_and_book_agree(code: &str, machine: impl Fn(Basis, Demand) -> Machine) {
    let laws: [(&str, Law); 4] =
        [("arranging", arranging), ("planning", planning), ("pinning", pinning), ("accepting", accepting)];
    let mut differences = Vec::new();
    for basis in [Basis::BoardManual, Basis::MakersList] {
        for demand in [Demand::Required, Demand::Advised] {
            let machine = machine(basis, demand);
            for setting in SETTINGS.map(Some).into_iter().chain([None]) {
                let mut request = PlanRequest::new();
                for (id, label, price) in [("small", SMALL, 1), ("large", LARGE, 3)] {
                    request = request.offer(Offer::new(name(id), module(label), euros(price), 3));
                }
                // what makes a warning or a note anyway is not asked about
                let severities = ["uneven-interleave", "channels-alike", "sockets-alike", "socket-minimum"];
                let severities = severities.into_iter().filter(|&other| other != code);
                let mut settings = RuleSettings::default();
                settings.severities.extend(severities.map(|other| (name(other), SeveritySetting::Off)));
                settings.severities.extend(setting.map(|setting| (name(code), setting)));
                let case = Case { machine: machine.clone().into(), settings, request };
                for (law_name, law) in laws {
                    if let Err(difference) = check(&case, law) {
                        let setting = setting.map_or("as it is".to_owned(), |setting| format!("set to {setting:?}"));
                        let (sort, text) = (difference.sort, difference.text);
                        differences.push(format!("{law_name}, {basis}, {demand:?}, {setting}: {sort}\n{text}"));
                    }
                }
            }
        }
    }
    assert!(differences.is_empty(), "{code}: {} differences\n{}", differences.len(), differences.join("\n\n"));
}

#[test]
fn search_and_book_agree_on_channels_alike() {
    search_and_book_agree("channels-alike", |basis, demand| {
        let mut board = board(&[&[1, 1]]);
        board.channels_alike = Some(Stated::new(demand, basis));
        machine(board, processor())
    });
}

#[test]
fn search_and_book_agree_on_sockets_alike() {
    search_and_book_agree("sockets-alike", |basis, demand| {
        let mut board = board(&[&[1, 1], &[1]]);
        board.sockets_alike = Some(Stated::new(demand, basis));
        machine(board, processor())
    });
}

#[test]
fn search_and_book_agree_on_fill_row() {
    search_and_book_agree("fill-row", |basis, demand| {
        let mut board = board(&[&[2, 1]]);
        board.fill_rows =
            vec![FillRow::new([name("1B1")], demand, basis), FillRow::new([name("1A1"), name("1B1")], demand, basis)];
        machine(board, processor())
    });
}

#[test]
fn search_and_book_agree_on_rows_of_two_sizes() {
    search_and_book_agree("fill-row", |basis, demand| {
        let mut board = board(&[&[2, 1]]);
        let rows = [FillRow::of_two_sizes([name("1B1")], [name("1A1")], demand, basis)];
        board.fill_rows = rows.into_iter().chain([FillRow::new([name("1A1"), name("1A2")], demand, basis)]).collect();
        machine(board, processor())
    });
}

#[test]
fn search_and_book_agree_on_mode_unmet() {
    search_and_book_agree("mode-unmet", |basis, _| mirrored(basis));
}

#[test]
fn search_and_book_agree_on_rate_not_allowed() {
    search_and_book_agree("rate-not-allowed", |basis, _| barred(basis));
}

#[test]
fn search_and_book_agree_on_empty_domain() {
    search_and_book_agree("empty-domain", |basis, _| {
        let mut board = board(&[&[2, 1]]);
        let group = |channel: &str| ChannelGroup::new(name("1"), [name(channel)]);
        let domains = Domains::Groups { groups: vec![group("A"), group("B")], needs_memory_in_each: true };
        let scheme = DomainScheme::new(name("halves"), domains, basis);
        board.domain_schemes = vec![scheme];
        board.default_settings.domain_scheme = Some(name("halves"));
        machine(board, processor())
    });
}

#[test]
fn search_and_book_agree_on_uneven_interleave() {
    search_and_book_agree("uneven-interleave", |_, _| machine(board(&[&[2, 1]]), processor()));
}

/// Holds a law on a document.
fn hold(text: &str, law: Law) {
    let case: Case = serde_json::from_str(text).unwrap();
    if let Err(difference) = check(&case, law) {
        panic!("{}\n{}", difference.sort, difference.text);
    }
}

// One processor counts a rank more than the other.
#[test]
fn spare_ranks_of_unlike_processors_stop_no_search() {
    hold(include_str!("cases/spare_ranks_of_unlike_processors.json"), arranging);
    hold(include_str!("cases/spare_ranks_with_domains.json"), arranging);
    hold(include_str!("cases/spare_ranks_with_a_pin.json"), pinning);
}

// A lone module of a channel counts a rank more than two of them.
#[test]
fn ranks_counted_by_load_stop_no_search() {
    hold(include_str!("cases/spare_ranks_of_a_load.json"), planning);
}

// Each processor at its own rate, some of them without memory.
#[test]
fn rates_by_processor_stop_no_search() {
    hold(include_str!("cases/rate_per_socket_with_a_cap.json"), planning);
    hold(include_str!("cases/rate_per_socket_with_missing_facts.json"), planning);
    hold(include_str!("cases/rate_per_socket_with_one_rank_count.json"), arranging);
}

// Two parts of which the same fact is not known are one class to the search, and not to be judged by the book.
#[test]
fn what_cannot_be_judged_between_two_parts_is_refused() {
    hold(include_str!("cases/check_bits_of_two_parts.json"), pinning);
    hold(include_str!("cases/stacks_of_two_parts.json"), pinning);
}

// The processor's kinds are those of a maker's list, so that a module of another kind is a warning; two kinds are not.
#[test]
fn kinds_do_not_mix_where_a_makers_list_has_one() {
    hold(include_str!("cases/kinds_of_a_makers_list.json"), planning);
}

// What a mode of a maker's list asks for is a warning, also where it decides how much is usable.
#[test]
fn a_mode_of_a_makers_list_decides_what_is_usable_all_the_same() {
    hold(include_str!("cases/mirror_that_accepts_more.json"), accepting);
    hold(include_str!("cases/mirror_without_slots.json"), pinning);
}

// A module in a slot of another form, where that rule is off, mixes or does not mix with the others: one or the other.
#[test]
fn a_module_in_a_slot_of_another_form_counts_alike() {
    hold(include_str!("cases/form_factor_off.json"), arranging);
}

// Of a module that runs its form is taken to be the slot's.
#[test]
fn the_form_of_a_module_that_runs_is_no_question() {
    hold(include_str!("cases/form_factor_of_a_pin.json"), pinning);
}

// The mode leaves one channel; a module in the other does not run, and what is not known of it is not taken to be accepted.
#[test]
fn a_module_in_a_slot_that_is_not_live_is_no_evidence() {
    hold(include_str!("cases/a_slot_that_is_not_live_proves_nothing.json"), planning);
}

// Controllers that hold unlike modules are uneven, which refuses nothing that was so before.
#[test]
fn controllers_that_were_unlike_before_refuse_nothing() {
    hold(include_str!("cases/controllers_that_were_unlike_before.json"), pinning);
}
