//! Laws of what reports leave open.

use std::collections::BTreeSet;

use itertools::Itertools;
use proptest::prelude::*;
use slotwright::finding::{Finding, Place, Severity, Verdict};
use slotwright::module::MemoryModule;
use slotwright::open::OpenAssessment;
use slotwright::population::{
    Fitted, Medium, Observed, Occupant, PlaceState, Population, Report, SeenModule, SeenPlace,
};
use slotwright::unit::{Capacity, Name};
use slotwright::{Label, Machine, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, reference};

use crate::boards::{self, Source, bytes, config, name};
use crate::reports::{report, some};

/// Facts of a module as a report may tell them: each may be hidden.
fn seen(source: &mut Source<'_>, module: &MemoryModule, hides_all: bool) -> SeenModule {
    let mut seen = SeenModule::of(module);
    let mut hides = || source.once_in(2);
    if hides() {
        seen.width = None;
    }
    if hides() {
        seen.die_density_mbit = None;
    }
    if hides() {
        seen.stack = None;
    }
    if hides() {
        seen.package_ranks = None;
        if hides() {
            let stacked = module.stacked_ranks().and_then(|ranks| u8::try_from(ranks).ok());
            seen.rank_number = if hides() { stacked } else { module.package_ranks() };
        }
    }
    if hides() {
        seen.kind = None;
    }
    if hides_all {
        for hidden in 0..5 {
            if hides() {
                match hidden {
                    0 => seen.grade_mts = None,
                    1 => seen.ecc = None,
                    2 => seen.voltages_mv = None,
                    3 => seen.form_factor = None,
                    _ => seen.height_um = None,
                }
            }
        }
    }
    seen
}

/// A machine, what it holds, and a report that hides some of that.
fn hidden(source: &mut Source<'_>, hides_all: bool) -> (Machine, Population, Report) {
    let machine = boards::machine(source, 4);
    let generation = machine.platform().generation();
    let sorts: Vec<MemoryModule> =
        boards::sorts(source, generation, 2).into_iter().filter(|module| module.organization().is_some()).collect();
    let population = match sorts.is_empty() {
        true => Population::new(),
        false => boards::fitted(source, &boards::live(&machine), &sorts, 2),
    };
    // who is known, and what is wrong with it, is no matter here
    let bare =
        population.modules().map(|(slot, fitted)| (slot.clone(), Occupant::Module(Fitted::new(fitted.module.clone()))));
    let population = Population::try_from_iter(bare).unwrap();
    let mut report = report(machine.platform(), &population);
    let told: Vec<SeenModule> = sorts.iter().map(|module| seen(source, module, hides_all)).collect();
    for place in &mut report.places {
        let slot = place.locator.clone().unwrap();
        if let Some(Occupant::Module(fitted)) = population.get(slot.as_str()) {
            let at = sorts.iter().position(|sort| *sort == fitted.module).unwrap();
            // of one part, so that they are one unknown
            place.module = Some(told[at].clone().part_number(name(&format!("PART-{at}"))));
        }
    }
    (machine, population, report)
}

type Key = (Name, Severity, Vec<Place>);

fn violated<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> BTreeSet<Key> {
    let findings = findings.into_iter().filter(|finding| finding.verdict == Verdict::Violated);
    findings.map(|finding| (finding.code.clone(), finding.severity, finding.places.clone())).collect()
}

fn codes<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> BTreeSet<Name> {
    findings.into_iter().map(|finding| finding.code.clone()).collect()
}

/// Parts and makers that a report adds are no facts of what is judged.
fn nameless(population: &Population, parts: bool) -> Population {
    let slots = population.modules().map(|(slot, fitted)| {
        let mut module = fitted.module.to_builder();
        if parts {
            module = module.part_number(None).maker(None);
        }
        (slot.clone(), Occupant::module(module.build().unwrap()))
    });
    Population::try_from_iter(slots).unwrap()
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn law_of_a_known_machine_every_finding_is_true_and_each_true_one_is_in_some_reading(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, population, mut report) = hidden(&mut source, false);
        // what is judged is the same with part numbers and without
        for place in &mut report.places {
            if let Some(module) = &mut place.module {
                module.part_number = None;
            }
        }
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let sited = Observed::from(report).on(machine.platform()).unwrap();
        let truth = nameless(&population, false);
        let known = planner.assess_in_use(&truth).unwrap();
        let Ok(open) = planner.assess_open(&sited) else {
            // more readings than are judged, of a kind that is open
            return Ok(());
        };
        let is_true = violated(&known.findings);
        let every = violated(&open.every);
        prop_assert!(every.is_subset(&is_true), "{open}\n---\n{known}");
        let possible: BTreeSet<Key> = if open.is_exact {
            let some = violated(open.some.iter().map(|some| &some.finding));
            every.union(&some).cloned().collect()
        } else {
            // of what cannot be judged the code is said, at any place
            let may = codes(open.some.iter().map(|some| &some.finding));
            is_true.iter().filter(|(code, ..)| may.contains(code)).cloned().chain(every).collect()
        };
        prop_assert!(is_true.is_subset(&possible), "{open}\n---\n{known}");
        if open.is_exact {
            let (least, most) = open.usable_mib;
            let usable = known.figures.usable.total_mib;
            prop_assert!(least <= usable && usable <= most, "{sited}\n---\n{open}\n---\n{known}");
            for domain in &known.figures.running_rate.domains {
                prop_assert!(open.rates_mts.contains(&domain.rate_mts), "{open}\n---\n{known}");
            }
        }
    }

    #[test]
    fn law_readings_that_fit_the_budget_equal_enumeration(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let (machine, _, report) = hidden(&mut source, true);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let sited = planner.narrow(&Observed::from(report).on(machine.platform()).unwrap());
        let Ok(open) = planner.assess_open(&sited) else { return Ok(()) };
        prop_assume!(open.is_exact);
        // every way to read all modules, by a product of its own
        let ways = sited.modules.iter().map(|module| module.readings.clone()).multi_cartesian_product();
        let mut all: Vec<BTreeSet<Key>> = Vec::new();
        let mut ways: Vec<Vec<MemoryModule>> = ways.collect();
        if sited.modules.is_empty() {
            ways = vec![Vec::new()];
        }
        for way in &ways {
            let mut population = Population::new();
            for (module, reading) in sited.modules.iter().zip(way) {
                for slot in &module.slots {
                    population = population.with(slot.clone(), reading.clone());
                }
            }
            all.push(violated(&planner.assess_in_use(&population).unwrap().findings));
        }
        let shared = |key: &Key| all.iter().all(|one| one.contains(key));
        let union: BTreeSet<Key> = all.iter().flatten().cloned().collect();
        let (every, some): (BTreeSet<Key>, BTreeSet<Key>) = union.into_iter().partition(|key| shared(key));
        // a rule may say two things of one place, one of them in every reading
        let found: BTreeSet<Key> = violated(open.some.iter().map(|some| &some.finding));
        prop_assert_eq!(found.difference(&every).cloned().collect::<BTreeSet<Key>>(), some);
        prop_assert_eq!(violated(&open.every), every);
        prop_assert_eq!(open.readings, ways.len() as u64);
    }

    #[test]
    fn law_a_permutation_of_places_changes_nothing(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, _, report) = hidden(&mut source, true);
        let mut mixed = report.clone();
        source.shuffle(&mut mixed.places);
        let sited = |report: Report| Observed::from(report).on(machine.platform()).unwrap();
        prop_assert_eq!(sited(report), sited(mixed));
    }

    #[test]
    fn law_all_orders_of_three_sources_merge_alike(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let (machine, _, dump) = hidden(&mut source, true);
        let slots = machine.platform().slots().iter().map(|slot| slot.label().clone()).collect::<Vec<_>>();
        let mut reports = vec![dump.start(source.pick(&[None, Some(name("today"))]))];
        for called in ["one", "two"] {
            let medium = source.pick(&[Medium::Spd, Medium::Label, Medium::Machine, Medium::Rows]);
            let module = boards::any_module(&mut source, machine.platform().generation());
            let state = source.pick(&[PlaceState::Unknown, PlaceState::InUse, PlaceState::Absent]);
            let place = SeenPlace::new(name("1"), state)
                .locator(source.pick(&slots))
                .module(seen(&mut source, &module, true).serial(source.pick(&[None, Some(name("77AB")), Some(name("0")) ])));
            let start = source.pick(&[None, Some(name("today"))]);
            let date = source.pick(&[None, Some("2026-01-01"), Some("2026-02-01")]);
            reports.push(Report::new(name(called), medium).place(place).start(start).date(date.map(|date| date.parse().unwrap())));
        }
        let mut all = Vec::new();
        for order in reports.iter().cloned().permutations(3) {
            let [first, second, third] = order.try_into().unwrap();
            // taken at once, and one after another
            let merged = Observed::merge([Observed::from(first.clone()), second.clone().into(), third.clone().into()]).unwrap();
            let pair = Observed::merge([first.into(), second.into()]).unwrap();
            prop_assert_eq!(&merged, &Observed::merge([third.into(), pair]).unwrap());
            let document = serde_json::to_string(&merged).unwrap();
            prop_assert_eq!(&merged, &serde_json::from_str::<Observed>(&document).unwrap());
            all.push(merged.on(machine.platform()).map(|sited| (sited.to_string(), sited)));
        }
        prop_assert!(all.windows(2).all(|pair| pair[0] == pair[1]), "{:?}", all);
    }

    #[test]
    fn documents_of_what_is_sited_read_back(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let (machine, _, report) = hidden(&mut source, true);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let sited = planner.narrow(&Observed::from(report).on(machine.platform()).unwrap());
        let document = serde_json::to_string(&sited).unwrap();
        prop_assert_eq!(&sited, &serde_json::from_str(&document).unwrap());
        if let Ok(open) = planner.assess_open(&sited) {
            let document = serde_json::to_string(&open).unwrap();
            prop_assert_eq!(&open, &serde_json::from_str::<OpenAssessment>(&document).unwrap());
        }
    }
}

/// Two processors of four channels of three slots, and what eight modules a report leaves open.
fn commonest(part: &str) -> (Machine, Report, Population) {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()
        .unwrap();
    let module = part.parse::<Label>().unwrap().to_module();
    let population = some(&machine, &module, "A1 B1 C1 D1 E1 F1 G1 H1");
    let mut report = report(machine.platform(), &population);
    for place in report.places.iter_mut().filter(|place| place.state == PlaceState::InUse) {
        let seen = place.module.as_mut().unwrap();
        seen.rank_number = seen.package_ranks.take();
        (seen.kind, seen.width, seen.stack) = (None, None, None);
        (seen.die_density_mbit, seen.voltages_mv) = (None, None);
        seen.part_number = Some(name("GW-16-2R4"));
    }
    (machine, report, population)
}

// what a table of firmware mostly leaves out: the buffering bit, the width, the density
#[test]
fn the_commonest_report_is_settled_by_at_most_five_questions() {
    for label in ["16GB 2Rx4 PC4-2400T-RA1-11", "16GB 2Rx8 PC4-2400T-RE1-11"] {
        let (machine, report, population) = commonest(label);
        let truth = label.parse::<Label>().unwrap().to_module();
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let lot = |id: &str, label: &str, price: u64| {
            let module = label.parse::<Label>().unwrap().to_module();
            Offer::new(name(id), module, Price::new(price, "EUR".parse().unwrap()), 40)
        };
        let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offers([
            lot("four", "16GB 2Rx4 PC4-2400T-RA1-11", 2_500),
            lot("eight", "16GB 2Rx8 PC4-2400T-RE1-11", 2_300),
            lot("large", "32GB 2Rx4 PC4-2400T-RB2-11", 5_200),
        ]);
        let known = planner.plan(&request.clone().present(population)).unwrap();
        let mut sited = planner.narrow(&Observed::from(report).on(machine.platform()).unwrap());
        let mut asked = Vec::new();
        loop {
            let questions = planner.questions(&sited, &request).unwrap();
            assert!(questions.questions.len() <= 5);
            let Some(first) = questions.questions.first() else { break };
            let known = SeenModule::of(&truth);
            let slotwright::population::OpenMatter::Fact(fact) = first.about else { panic!() };
            let right = Name::lossy(&known.text(fact).unwrap());
            let answer = first.answers.iter().find(|answer| answer.text == right).expect("the truth is an answer");
            asked.push(fact.to_string());
            sited = planner.narrow(&sited.settle([answer.answer.clone()]).unwrap());
        }
        assert!(asked.len() <= 5, "{asked:?}");
        assert_eq!(asked[0], "kind");
        let planned = planner.plan(&request.present(sited.present().unwrap())).unwrap();
        let (Outcome::Optimal(known), Outcome::Optimal(planned)) = (known, planned) else { panic!("{asked:?}") };
        assert_eq!((known.cost.total, known.lines.len()), (planned.cost.total, planned.lines.len()), "{asked:?}");
        assert_eq!(known.handlings, planned.handlings);
    }
}
