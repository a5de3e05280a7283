//! Modules with all sorts of facts, and with facts missing.

use serde_json::Value;
use slotwright::module::{
    DeviceWidth, Ecc, FormFactor, Generation, MemoryModule, ModuleKind, Organization, Stack, Voltages,
};
use slotwright::unit::{DataRate, Density, Height, Name, Power, Voltage};

use crate::boards::{Source, name};

#[derive(Debug, Clone)]
struct Facts {
    generation: Generation,
    kind: ModuleKind,
    form_factor: FormFactor,
    height: Option<Height>,
    ecc: Ecc,
    organization: Organization,
    density: Density,
    grade: DataRate,
    voltages: Voltages,
    class: Option<Name>,
    power: Option<Power>,
    part_number: Option<Name>,
    maker: Option<Name>,
    missing: Vec<&'static str>,
}

fn grades(generation: Generation) -> [DataRate; 3] {
    match generation {
        Generation::Ddr3 => [DataRate::DDR3_1600, DataRate::DDR3_1333, DataRate::DDR3_1866],
        Generation::Ddr4 => [DataRate::DDR4_2400, DataRate::DDR4_2133, DataRate::DDR4_2666],
        _ => [DataRate::DDR5_4800, DataRate::DDR5_4400, DataRate::DDR5_5600],
    }
}

fn densities(generation: Generation) -> [Density; 3] {
    let gbit = match generation {
        Generation::Ddr3 => [4, 2, 8],
        Generation::Ddr4 => [8, 4, 16],
        _ => [16, 24, 32],
    };
    gbit.map(Density::from_gbit)
}

/// The voltages that a module may state: the generation's own first.
pub fn voltages(generation: Generation) -> [Voltages; 3] {
    let of = |voltages: &[Voltage]| Voltages::new(voltages.iter().copied()).unwrap();
    let own = generation.voltage();
    match generation {
        Generation::Ddr3 => [of(&[Voltage::V1_35, own]), of(&[own]), of(&[Voltage::V1_25, Voltage::V1_35])],
        _ => [of(&[own]), of(&[own, Voltage::from_mv(own.mv() - 50)]), of(&[Voltage::from_mv(own.mv() - 50)])],
    }
}

impl Facts {
    fn plain(generation: Generation) -> Self {
        Self {
            generation,
            kind: ModuleKind::Registered,
            form_factor: FormFactor::Dimm,
            height: None,
            ecc: if generation == Generation::Ddr5 { Ecc::Ec8 } else { Ecc::Ecc },
            organization: Organization::new(2, Stack::Single, DeviceWidth::X4),
            density: densities(generation)[0],
            grade: grades(generation)[0],
            voltages: voltages(generation)[0].clone(),
            class: None,
            power: None,
            part_number: None,
            maker: None,
            missing: Vec::new(),
        }
    }

    /// Changes one fact.
    fn change(&mut self, source: &mut Source<'_>) {
        let ddr5 = self.generation == Generation::Ddr5;
        match source.below(22) {
            0 => self.density = source.pick(&densities(self.generation)[1..]),
            1 | 20 => self.organization.package_ranks = source.pick(&[1, 4]),
            2 => self.grade = source.pick(&grades(self.generation)[1..]),
            3 => self.organization.width = source.pick(&[DeviceWidth::X8, DeviceWidth::X16]),
            4 | 17 | 18 => {
                let stacks = [Stack::Stacked2, Stack::Stacked4, Stack::Stacked8, Stack::Stacked16];
                let older = [Stack::Stacked2, Stack::DualDie, Stack::Stacked4, Stack::QuadDie];
                self.organization.stack = source.pick(if ddr5 { &stacks } else { &older });
            }
            5 => {
                let others = [
                    ModuleKind::LoadReduced,
                    ModuleKind::Unbuffered,
                    ModuleKind::ClockedUnbuffered,
                    ModuleKind::MultiplexedRank,
                ];
                self.kind = source.pick(&others);
            }
            6 => self.voltages = source.pick(&voltages(self.generation)[1..]),
            7 => self.ecc = source.pick(if ddr5 { &[Ecc::Ec4, Ecc::None] } else { &[Ecc::None, Ecc::None] }),
            8 | 19 => {
                let other = if self.class == Some(name("class-a")) { "class-b" } else { "class-a" };
                self.class = Some(name(other));
            }
            9 => self.part_number = Some(name(source.pick(&["part-a", "part-b"]))),
            10 => self.maker = Some(name(source.pick(&["maker-b", "maker-a"]))),
            11 => self.power = Some(source.pick(&[Power::from_mw(4000), Power::from_mw(7000)])),
            12 => self.height = Some(source.pick(&[Height::from_um(31_250), Height::from_um(18_750)])),
            13 if source.once_in(3) => self.form_factor = source.pick(&[FormFactor::SoDimm, FormFactor::MiniDimm]),
            13 | 14 => {
                let facts = ["package_ranks", "width", "grade_mts", "voltages_mv", "ecc", "stack", "form_factor"];
                self.missing.push(source.pick(&facts));
            }
            15 | 16 => {
                self.density = source.pick(&densities(self.generation)[1..]);
                self.organization.width = DeviceWidth::X8;
            }
            _ => self.missing.extend(["package_ranks", "stack", "width", "die_density_mbit"]),
        }
    }

    fn module(&self) -> MemoryModule {
        let Self {
            generation,
            kind,
            form_factor,
            height,
            ecc,
            organization,
            density,
            grade,
            voltages,
            class,
            power,
            part_number,
            maker,
            missing,
        } = self.clone();
        let builder = MemoryModule::builder(generation, kind, organization.capacity(density))
            .form_factor(form_factor)
            .height(height)
            .ecc(ecc)
            .organization(organization)
            .grade(grade)
            .voltages(voltages)
            .class(class)
            .power(power)
            .part_number(part_number)
            .maker(maker);
        let mut facts = serde_json::to_value(builder.build().unwrap()).unwrap();
        if let Value::Object(facts) = &mut facts {
            facts.retain(|fact, _| !missing.contains(&fact.as_str()));
        }
        serde_json::from_value(facts).unwrap()
    }
}

/// Different modules, the later ones like the first but for a fact or two.
pub fn sorts(source: &mut Source<'_>, generation: Generation, most: usize) -> Vec<MemoryModule> {
    let mut first = Facts::plain(generation);
    for _ in 0..source.pick(&[0, 1, 0, 2]) {
        first.change(source);
    }
    if source.once_in(3) {
        first.class = Some(name("class-a"));
    }
    if source.once_in(4) {
        first.maker = Some(name("maker-a"));
    }
    if source.once_in(4) {
        first.power = Some(Power::from_mw(5000));
    }
    let mut sorts = vec![first.module()];
    for _ in 1..=source.below(most) {
        let mut other = first.clone();
        for _ in 0..source.pick(&[1, 2, 1, 3]) {
            other.change(source);
        }
        let other = other.module();
        if !sorts.contains(&other) {
            sorts.push(other);
        }
    }
    sorts
}
