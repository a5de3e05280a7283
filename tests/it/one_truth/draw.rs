//! Choices of which every description is made.

use slotwright::module::{Generation, MemoryModule};
use slotwright::processor::ModulePattern;
use slotwright::stated::{Basis, Demand, Scope, Source as Text, Stated};
use slotwright::unit::DataRate;

use crate::boards::{Source, name};

pub const BASES: [Basis; 5] =
    [Basis::BoardManual, Basis::MakersList, Basis::DataSheet, Basis::Measured, Basis::Assumed];

/// Draws the parts of a description, plainest first.
#[derive(Debug)]
pub struct Draw<'s, 'b> {
    pub source: &'s mut Source<'b>,
    /// A limit that may be absent is there once in so many.
    pub one_in: usize,
    pub generation: Generation,
    /// The modules that limits may speak of.
    pub sorts: Vec<MemoryModule>,
}

impl Draw<'_, '_> {
    pub fn below(&mut self, end: usize) -> usize {
        self.source.below(end)
    }

    pub fn once_in(&mut self, n: usize) -> bool {
        self.source.once_in(n)
    }

    pub fn pick<T: Clone>(&mut self, among: &[T]) -> T {
        self.source.pick(among)
    }

    /// Something that may be absent.
    pub fn maybe<T>(&mut self, draw: impl FnOnce(&mut Self) -> T) -> Option<T> {
        let one_in = self.one_in;
        self.once_in(one_in).then(|| draw(self))
    }

    /// The same, a limit on a basis.
    pub fn limit<T>(&mut self, draw: impl FnOnce(&mut Self) -> T) -> Option<Stated<T>> {
        let one_in = self.one_in;
        self.once_in(one_in).then(|| {
            let value = draw(self);
            self.stated(value)
        })
    }

    /// A limit that may be absent, twice as often there.
    pub fn frequent<T>(&mut self, draw: impl FnOnce(&mut Self) -> T) -> Option<Stated<T>> {
        let half = self.one_in.div_ceil(2);
        self.once_in(half).then(|| {
            let value = draw(self);
            self.stated(value)
        })
    }

    /// A list of limits: mostly none, now and then two.
    pub fn limits<T>(&mut self, draw: impl Fn(&mut Self) -> T) -> Vec<Stated<T>> {
        let mut limits: Vec<_> = self.frequent(&draw).into_iter().collect();
        if !limits.is_empty() && self.once_in(4) {
            let value = draw(self);
            limits.push(self.stated(value));
        }
        limits
    }

    /// Some of a list, at least one.
    pub fn some<T: Clone>(&mut self, among: &[T]) -> Vec<T> {
        let first = self.below(among.len());
        let others = among.iter().enumerate();
        others.filter(|&(index, _)| index == first || self.once_in(2)).map(|(_, value)| value.clone()).collect()
    }

    pub fn basis(&mut self) -> Basis {
        self.pick(&BASES)
    }

    pub fn text(&mut self) -> Option<Text> {
        self.once_in(9).then(|| Text::new(name("manual")).date(self.once_in(2).then(|| name("2020-02"))))
    }

    pub fn stated<T>(&mut self, value: T) -> Stated<T> {
        let mut stated = Stated::new(value, self.basis());
        stated.source = self.text();
        stated
    }

    pub fn demand(&mut self) -> Demand {
        self.pick(&[Demand::Required, Demand::Advised])
    }

    pub fn scope(&mut self) -> Scope {
        self.pick(&[Scope::Socket, Scope::Channel, Scope::Machine])
    }

    /// One of the sorts.
    pub fn sort(&mut self) -> MemoryModule {
        let sort = self.below(self.sorts.len());
        self.sorts[sort].clone()
    }

    /// A rate that a processor could run at; in the middle of the generation, now and then none of the standard ones.
    pub fn rate(&mut self) -> DataRate {
        if self.once_in(16) {
            let odd = match self.generation {
                Generation::Ddr3 => 1450,
                Generation::Ddr4 => 2250,
                _ => 4600,
            };
            return DataRate::from_mts(odd).unwrap();
        }
        let rates = match self.generation {
            Generation::Ddr3 => [DataRate::DDR3_1600, DataRate::DDR3_1333, DataRate::DDR3_1066, DataRate::DDR3_1866],
            Generation::Ddr4 => [DataRate::DDR4_2400, DataRate::DDR4_2133, DataRate::DDR4_1866, DataRate::DDR4_2666],
            _ => [DataRate::DDR5_4800, DataRate::DDR5_4400, DataRate::DDR5_4000, DataRate::DDR5_5600],
        };
        self.pick(&rates)
    }

    /// Modules like one of the sorts in a fact or two, or any.
    pub fn pattern(&mut self) -> ModulePattern {
        let sort = self.sort();
        let facts = 1 + usize::from(self.once_in(3));
        let mut pattern = ModulePattern::default();
        for _ in 0..facts {
            match self.below(18) {
                0 => pattern.kind = Some(sort.kind()),
                1 | 2 => pattern.package_ranks = sort.package_ranks().or(Some(2)),
                3 | 4 => pattern.capacity_mib = Some(sort.capacity()),
                5 => pattern.width = sort.width(),
                6 => pattern.stack_height = sort.stack().map(slotwright::module::Stack::height),
                7 => pattern.die_density_mbit = sort.die_density(),
                8 => pattern.grade_mts = sort.grade(),
                9 => pattern.class = sort.class().cloned().or(Some(name("class-a"))),
                10 => pattern.voltage_mv = Some(self.generation.voltage()),
                11 => pattern.ecc = sort.ecc(),
                12..=14 => self.range(&sort, &mut pattern),
                15 => pattern.without_class = true,
                16 => pattern.maker = sort.maker().cloned().or(Some(name("maker-a"))),
                _ => pattern.part_number = sort.part_number().cloned().or(Some(name("part-a"))),
            }
        }
        if pattern.problems(self.generation).is_empty() { pattern } else { ModulePattern::default() }
    }

    /// Asks for a range around a sort, or one that ends below it.
    fn range(&mut self, sort: &MemoryModule, pattern: &mut ModulePattern) {
        let ranks = sort.package_ranks().unwrap_or(2);
        match self.below(4) {
            0 => pattern.capacity_at_least_mib = Some(sort.capacity()),
            1 => pattern.capacity_at_most_mib = Some(sort.capacity()),
            2 => pattern.package_ranks_at_least = Some(ranks),
            _ => pattern.package_ranks_at_most = Some(ranks),
        }
    }
}
