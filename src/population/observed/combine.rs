//! What several sources say of one module together.

use std::collections::{BTreeMap, BTreeSet};

use crate::module::MemoryModule;
use crate::population::observed::locator;
use crate::population::{About, Disagreement, ModuleFact, Report, Said, SeenModule};
use crate::unit::Name;

/// What one report says of a module.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Witness<'r> {
    pub(crate) report: &'r Report,
    pub(crate) module: &'r SeenModule,
}

/// What witnesses say together.
#[derive(Debug, Clone, Default)]
pub(crate) struct Combined {
    pub(crate) seen: SeenModule,
    pub(crate) said_by: BTreeMap<ModuleFact, Name>,
    pub(crate) disagreements: Vec<Disagreement>,
    pub(crate) is_held_back: bool,
}

/// The facts that tell what a module is; the others only name it.
pub(crate) fn is_of_itself(fact: ModuleFact) -> bool {
    !matches!(
        fact,
        ModuleFact::Maker | ModuleFact::PartNumber | ModuleFact::Serial | ModuleFact::Height | ModuleFact::RankNumber
    )
}

/// A serial number as it is compared: without 0x, case and leading zeros, of the 18 characters of the standard's
/// two-dimensional code the last eight (JESD21-C 4.19.4). `None` for one that names nothing: zeros alone, or the four
/// bytes of an SPD that were never written, eight times F.
pub(crate) fn serial(text: &str) -> Option<String> {
    let text = text.trim();
    let bare = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X")).unwrap_or(text);
    let is_hexadecimal = bare.bytes().all(|byte| byte.is_ascii_hexdigit());
    let last = match (bare.len(), is_hexadecimal) {
        (18, true) => bare.get(10..).unwrap_or(bare),
        _ => bare,
    };
    let last = last.trim_start_matches('0');
    (!last.is_empty() && !last.eq_ignore_ascii_case("FFFFFFFF")).then(|| last.to_ascii_uppercase())
}

macro_rules! take_fact {
    ($fact:expr, $to:expr, $from:expr) => {
        match $fact {
            ModuleFact::Device => $to.device = $from.device,
            ModuleFact::Generation => $to.generation = $from.generation,
            ModuleFact::Kind => $to.kind = $from.kind,
            ModuleFact::Capacity => {
                $to.capacity_mib = $from.capacity_mib;
                $to.capacity_at_least_mib = $from.capacity_at_least_mib;
            }
            ModuleFact::FormFactor => $to.form_factor = $from.form_factor,
            ModuleFact::Height => $to.height_um = $from.height_um,
            ModuleFact::Ecc => $to.ecc = $from.ecc,
            ModuleFact::PackageRanks => $to.package_ranks = $from.package_ranks,
            ModuleFact::RankNumber => $to.rank_number = $from.rank_number,
            ModuleFact::Stack => $to.stack = $from.stack,
            ModuleFact::Width => $to.width = $from.width,
            ModuleFact::DieDensity => $to.die_density_mbit = $from.die_density_mbit,
            ModuleFact::Grade => $to.grade_mts = $from.grade_mts,
            ModuleFact::Voltages => $to.voltages_mv.clone_from(&$from.voltages_mv),
            ModuleFact::Maker => {
                $to.maker.clone_from(&$from.maker);
                $to.maker_id = $from.maker_id;
            }
            ModuleFact::PartNumber => $to.part_number.clone_from(&$from.part_number),
            ModuleFact::Serial => $to.serial.clone_from(&$from.serial),
        }
    };
}

impl SeenModule {
    /// Takes a fact over from another.
    pub(crate) fn take(&mut self, fact: ModuleFact, from: &Self) {
        take_fact!(fact, self, from);
        if from.inferred.contains(&fact) {
            self.inferred.insert(fact);
        } else {
            self.inferred.remove(&fact);
        }
    }

    /// Whether a fact is known.
    pub(crate) fn has(&self, fact: ModuleFact) -> bool {
        match fact {
            ModuleFact::Device => self.device.is_some(),
            ModuleFact::Generation => self.generation.is_some(),
            ModuleFact::Kind => self.kind.is_some(),
            ModuleFact::Capacity => self.capacity_mib.is_some() || self.capacity_at_least_mib.is_some(),
            ModuleFact::FormFactor => self.form_factor.is_some(),
            ModuleFact::Height => self.height_um.is_some(),
            ModuleFact::Ecc => self.ecc.is_some(),
            ModuleFact::PackageRanks => self.package_ranks.is_some(),
            ModuleFact::RankNumber => self.rank_number.is_some(),
            ModuleFact::Stack => self.stack.is_some(),
            ModuleFact::Width => self.width.is_some(),
            ModuleFact::DieDensity => self.die_density_mbit.is_some(),
            ModuleFact::Grade => self.grade_mts.is_some(),
            ModuleFact::Voltages => self.voltages_mv.is_some(),
            ModuleFact::Maker => self.maker.is_some() || self.maker_id.is_some(),
            ModuleFact::PartNumber => self.part_number.is_some(),
            ModuleFact::Serial => self.serial.is_some(),
        }
    }

    /// Whether two say unlike things of a fact.
    pub(crate) fn contradicts(&self, other: &Self, fact: ModuleFact) -> bool {
        fn unlike<T: PartialEq>(one: &Option<T>, other: &Option<T>) -> bool {
            one.is_some() && other.is_some() && one != other
        }
        let unlike_texts = |one: &Option<Name>, other: &Option<Name>| {
            let told = one.as_ref().zip(other.as_ref()).filter(|(one, other)| one != other);
            told.is_some_and(|(one, other)| locator::folded(one.as_str()) != locator::folded(other.as_str()))
        };
        match fact {
            ModuleFact::Device => unlike(&self.device, &other.device),
            ModuleFact::Generation => unlike(&self.generation, &other.generation),
            ModuleFact::Kind => unlike(&self.kind, &other.kind),
            ModuleFact::Capacity => {
                // "at least" contradicts only what is less
                let least = |one: &Self, other: &Self| {
                    one.capacity_at_least_mib.zip(other.capacity_mib).is_some_and(|(least, size)| size < least)
                };
                unlike(&self.capacity_mib, &other.capacity_mib) || least(self, other) || least(other, self)
            }
            ModuleFact::FormFactor => unlike(&self.form_factor, &other.form_factor),
            ModuleFact::Height => unlike(&self.height_um, &other.height_um),
            ModuleFact::Ecc => unlike(&self.ecc, &other.ecc),
            ModuleFact::PackageRanks => unlike(&self.package_ranks, &other.package_ranks),
            ModuleFact::RankNumber => unlike(&self.rank_number, &other.rank_number),
            ModuleFact::Stack => unlike(&self.stack, &other.stack),
            ModuleFact::Width => unlike(&self.width, &other.width),
            ModuleFact::DieDensity => unlike(&self.die_density_mbit, &other.die_density_mbit),
            ModuleFact::Grade => unlike(&self.grade_mts, &other.grade_mts),
            ModuleFact::Voltages => unlike(&self.voltages_mv, &other.voltages_mv),
            ModuleFact::Maker => match (self.maker_id, other.maker_id) {
                (Some(one), Some(other)) => one != other,
                (None, None) => unlike_texts(&self.maker, &other.maker),
                // a name and a number cannot be compared
                _ => false,
            },
            ModuleFact::PartNumber => unlike_texts(&self.part_number, &other.part_number),
            ModuleFact::Serial => {
                let told = self.serial.as_ref().zip(other.serial.as_ref());
                told.is_some_and(|(one, other)| serial(one.as_str()) != serial(other.as_str()))
            }
        }
    }

    /// Whether two contradict each other in anything that a module is.
    pub(crate) fn is_unlike(&self, other: &Self) -> bool {
        ModuleFact::ALL.into_iter().any(|fact| fact != ModuleFact::Serial && self.contradicts(other, fact))
    }

    /// Whether a capacity formula can hold for it.
    fn is_possible(&self) -> bool {
        let (Some(generation), Some(capacity)) = (self.generation, self.capacity_mib) else { return true };
        // a kind does not matter to the formula
        let kind = self.kind.unwrap_or(crate::module::ModuleKind::Registered);
        let built = MemoryModule::builder(generation, kind, capacity)
            .package_ranks(self.package_ranks)
            .stack(self.stack)
            .width(self.width)
            .die_density(self.die_density_mbit)
            .build();
        built.is_ok()
    }
}

impl Combined {
    /// What witnesses say together. `slot` is where the module sits, for disagreements.
    pub(crate) fn of(witnesses: &[Witness<'_>], slot: &Name) -> Self {
        let mut combined = Self::default();
        match witnesses {
            // who is alone is believed, unless he contradicts himself
            [only] if !only.module.contradicts(only.module, ModuleFact::Capacity) => combined.believe(only),
            _ => ModuleFact::ALL.into_iter().for_each(|fact| combined.settle_fact(fact, witnesses, slot)),
        }
        combined.hold_rank_number(witnesses, slot);
        combined.hold_to_formula(witnesses, slot);
        combined
    }

    fn believe(&mut self, only: &Witness<'_>) {
        let known = ModuleFact::ALL.into_iter().filter(|&fact| only.module.has(fact));
        known.clone().for_each(|fact| self.seen.take(fact, only.module));
        self.said_by = known.map(|fact| (fact, only.report.name.clone())).collect();
    }

    fn settle_fact(&mut self, fact: ModuleFact, witnesses: &[Witness<'_>], slot: &Name) {
        let mut said: Vec<&Witness<'_>> = witnesses.iter().filter(|witness| witness.module.has(fact)).collect();
        // what is stated goes before what is inferred; witnesses come by trust
        said.sort_by_key(|witness| witness.module.inferred.contains(&fact));
        let Some(first) = said.first().copied() else { return };
        let is_unlike = |one: &Witness<'_>, other: &Witness<'_>| one.module.contradicts(other.module, fact);
        let is_inferred = |witness: &Witness<'_>| witness.module.inferred.contains(&fact);
        let is_as_good = |other: &Witness<'_>| {
            let newer = first.report.date.as_ref().zip(other.report.date.as_ref());
            other.report.medium == first.report.medium
                && is_inferred(other) == is_inferred(first)
                && !newer.is_some_and(|(first, other)| first.is_later_than(other))
        };
        let is_open = said.iter().any(|other| is_unlike(first, other) && is_as_good(other));
        // a size says more than a least size
        let winner =
            said.iter().find(|one| fact == ModuleFact::Capacity && one.module.capacity_mib.is_some()).unwrap_or(&first);
        if !is_open {
            self.seen.take(fact, winner.module);
            self.said_by.insert(fact, winner.report.name.clone());
        }
        if said.iter().any(|other| is_unlike(first, other)) {
            let firm: Vec<&&Witness<'_>> = said.iter().filter(|witness| witness.report.medium.is_firm()).collect();
            let holds = is_of_itself(fact) && firm.iter().any(|one| firm.iter().any(|other| is_unlike(one, other)));
            self.is_held_back |= holds;
            let value = |witness: &&Witness<'_>| Said {
                report: witness.report.name.clone(),
                medium: witness.report.medium,
                value: Name::lossy(&witness.module.text(fact).unwrap_or_default()),
            };
            self.disagreements.push(Disagreement {
                slot: slot.clone(),
                about: About::Fact(fact),
                taken: (!is_open).then(|| Name::lossy(&winner.module.text(fact).unwrap_or_default())),
                said: said.iter().map(value).collect(),
                is_note: !holds && !is_open,
            });
        }
    }

    /// Drops a number of ranks that is neither of what better sources count.
    fn hold_rank_number(&mut self, witnesses: &[Witness<'_>], slot: &Name) {
        let (Some(number), Some(ranks)) = (self.seen.rank_number, self.seen.package_ranks) else { return };
        let stacked = self.seen.stack.map(|stack| u32::from(ranks) * stack.height());
        if number == ranks || stacked.is_none_or(|stacked| stacked == u32::from(number)) {
            return;
        }
        let said = |fact: ModuleFact, value: u8| {
            let report = self.said_by.get(&fact).cloned().unwrap_or_else(|| Name::lossy("?"));
            let of = witnesses.iter().find(|witness| witness.report.name == report);
            let medium = of.map_or(crate::population::Medium::Machine, |witness| witness.report.medium);
            Said { report, medium, value: Name::lossy(&value.to_string()) }
        };
        self.disagreements.push(Disagreement {
            slot: slot.clone(),
            about: About::Fact(ModuleFact::RankNumber),
            said: vec![said(ModuleFact::PackageRanks, ranks), said(ModuleFact::RankNumber, number)],
            taken: Some(Name::lossy(&ranks.to_string())),
            is_note: true,
        });
        self.seen.rank_number = None;
        self.said_by.remove(&ModuleFact::RankNumber);
    }

    /// Drops the least trusted of facts that no module has together.
    fn hold_to_formula(&mut self, witnesses: &[Witness<'_>], slot: &Name) {
        const OF_FORMULA: [ModuleFact; 5] = [
            ModuleFact::DieDensity,
            ModuleFact::Stack,
            ModuleFact::Width,
            ModuleFact::PackageRanks,
            ModuleFact::Capacity,
        ];
        let mut left: BTreeSet<ModuleFact> = OF_FORMULA.into_iter().collect();
        while !self.seen.is_possible() {
            let trust = |fact: &ModuleFact| {
                let by = self.said_by.get(fact);
                let place = witnesses.iter().position(|witness| Some(&witness.report.name) == by);
                (self.seen.inferred.contains(fact), place)
            };
            let known = OF_FORMULA.into_iter().filter(|fact| left.contains(fact) && self.said_by.contains_key(fact));
            // of those that are as little trusted the first of the list
            let Some(least) = known.rev().max_by_key(trust) else { return };
            let told = Said {
                report: self.said_by.remove(&least).unwrap_or_else(|| Name::lossy("")),
                medium: crate::population::Medium::Machine,
                value: Name::lossy(&self.seen.text(least).unwrap_or_default()),
            };
            let medium = witnesses.iter().find(|witness| witness.report.name == told.report);
            let told = Said { medium: medium.map_or(told.medium, |witness| witness.report.medium), ..told };
            self.seen.take(least, &SeenModule::new());
            self.disagreements.push(Disagreement {
                slot: slot.clone(),
                about: About::CapacityFormula(least),
                said: vec![told],
                taken: None,
                is_note: false,
            });
            left.remove(&least);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::module::{DeviceWidth, Generation, ModuleKind, Stack};
    use crate::population::Medium;
    use crate::testing::name;
    use crate::unit::{Capacity, Density};

    #[test]
    fn serial_numbers_are_compared_by_what_they_number() {
        assert_eq!(serial("0x0033436bce"), Some("33436BCE".to_owned()));
        // JESD21-C 4.19.4: maker, place, year, week, serial number
        assert_eq!(serial("80CE02253633436BCE"), Some("33436BCE".to_owned()));
        for nothing in ["", "0", "00000000", "0x0", "000000000000000000", "ffffffff", "80CE022536FFFFFFFF"] {
            assert_eq!(serial(nothing), None, "{nothing}");
        }
    }

    fn seen() -> SeenModule {
        SeenModule::new().generation(Generation::Ddr4).kind(ModuleKind::Registered).capacity(Capacity::from_gib(32))
    }

    fn report(called: &str, medium: Medium, date: Option<&str>) -> Report {
        Report::new(name(called), medium).date(date.map(|date| date.parse().unwrap()))
    }

    fn combined(said: &[(&Report, &SeenModule)]) -> Combined {
        let witnesses: Vec<Witness<'_>> = said.iter().map(|(report, module)| Witness { report, module }).collect();
        Combined::of(&witnesses, &name("A1"))
    }

    #[test]
    fn better_sources_win_and_equals_stay_open() {
        let (spd, label, machine) = (
            report("spd", Medium::Spd, None),
            report("label", Medium::Label, None),
            report("dump", Medium::Machine, None),
        );
        let wide = seen().width(DeviceWidth::X8);
        let narrow = seen().width(DeviceWidth::X4);
        let won = combined(&[(&spd, &wide), (&machine, &narrow)]);
        assert_eq!((won.seen.width, won.is_held_back), (Some(DeviceWidth::X8), false));
        assert!(won.disagreements[0].is_note);
        let held = combined(&[(&spd, &wide), (&label, &narrow)]);
        assert!(held.is_held_back && held.seen.width == Some(DeviceWidth::X8));
        let (older, newer) =
            (report("old", Medium::Machine, Some("2026-01-01")), report("new", Medium::Machine, Some("2026-02-01")));
        assert_eq!(combined(&[(&newer, &wide), (&older, &narrow)]).seen.width, Some(DeviceWidth::X8));
        let open = combined(&[(&machine, &wide), (&newer, &narrow)]);
        assert_eq!((open.seen.width, open.disagreements[0].taken.clone()), (None, None));
        // what is inferred gives way to what is stated
        let inferred = seen().width(DeviceWidth::X4).inferred([ModuleFact::Width]);
        assert_eq!(combined(&[(&spd, &inferred), (&machine, &wide)]).seen.width, Some(DeviceWidth::X8));
        // "at least" gives way to a size that it allows
        let least = SeenModule::new().capacity_at_least(Capacity::from_gib(32));
        let told = combined(&[(&machine, &least), (&report("rows", Medium::Rows, None), &seen())]);
        assert_eq!((told.seen.capacity_mib, told.disagreements.len()), (Some(Capacity::from_gib(32)), 0));
    }

    #[test]
    fn what_no_module_has_is_dropped_by_trust() {
        let (spd, rows) = (report("spd", Medium::Spd, None), report("rows", Medium::Rows, None));
        let known = seen().package_ranks(2).stack(Stack::Single).width(DeviceWidth::X4);
        let dies = SeenModule::new().die_density(Density::from_gbit(16));
        let held = combined(&[(&spd, &known), (&rows, &dies)]);
        assert_eq!((held.seen.die_density_mbit, held.seen.package_ranks), (None, Some(2)));
        assert_eq!(held.disagreements[0].about, About::CapacityFormula(ModuleFact::DieDensity));
        assert_eq!(held.disagreements[0].said[0].report, *"rows");
    }
}
