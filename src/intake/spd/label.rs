//! The standard's label, derived from the content.

use crate::intake::spd::SpdImage;
use crate::module::{
    Ddr4Bin, Ddr5Bin, DeviceWidth, Generation, Label, LabelError, LabelField, ModuleType, Organization, SpdRevision,
    SpeedBin, Stack, Voltages,
};
use crate::unit::{Capacity, DataRate, Voltage};

/// Stacked bins of DDR4 that have two latencies under one letter, which a letter alone does not tell apart: JESD79-4-1B tables 24 and 25.
const TWICE: [(DataRate, Ddr4Bin, (u8, u8, u8)); 4] = [
    (DataRate::DDR4_2133, Ddr4Bin::P, (17, 15, 15)),
    (DataRate::DDR4_2133, Ddr4Bin::P, (18, 15, 15)),
    (DataRate::DDR4_2400, Ddr4Bin::U, (20, 18, 18)),
    (DataRate::DDR4_2400, Ddr4Bin::U, (22, 18, 18)),
];

impl SpdImage {
    /// The standard's label that the module should carry, where the image gives all of its parts; a pre-production mark and a maker's tail are not
    /// in the image. See [`label_problem`](Self::label_problem) where it does not.
    ///
    /// A CAS latency of DDR3 is printed with a leading zero. Where the bins B and BN of DDR5 are the same number of clocks, tRCD decides, and
    /// where that is the same too it is B, which servers' labels carry.
    #[must_use]
    pub fn label(&self) -> Option<Label> {
        self.label_read().ok()
    }

    /// The part of the standard's label that the image does not give, or gives as no label can carry it; `None` where there is a
    /// [`label`](Self::label).
    #[must_use]
    pub fn label_problem(&self) -> Option<LabelField> {
        self.label_read().err()
    }

    fn label_read(&self) -> Result<Label, LabelField> {
        self.label_text()?.parse().map_err(|error: LabelError| error.field())
    }

    fn label_text(&self) -> Result<String, LabelField> {
        if self.device().is_some() {
            return Err(LabelField::Generation);
        }
        let capacity = self.capacity().ok_or(LabelField::Capacity)?;
        let organization = self.label_organization(capacity)?;
        let rate = self.grade().filter(|rate| self.generation().rates().contains(rate)).ok_or(LabelField::DataRate)?;
        let size = match capacity.whole_gib() {
            Some(gib) => format!("{gib}GB"),
            None => format!("{}MB", capacity.mib()),
        };
        let variant = self.variant()?;
        let module_type = self.letter().ok_or(LabelField::ModuleType)?;
        let card = self.raw_card().ok_or(LabelField::RawCard)?;
        let digits = |revision: Option<SpdRevision>, field| match revision {
            Some(SpdRevision { major: major @ ..10, minor: minor @ ..10 }) => Ok(format!("{major}{minor}")),
            _ => Err(field),
        };
        let revision = digits(self.revision(), LabelField::SpdRevision)?;
        let bin = self.bin(rate, organization).ok_or(LabelField::SpeedBin)?;
        Ok(match self.generation() {
            Generation::Ddr3 => {
                let name = rate.bandwidth_name();
                format!("{size} {organization} PC3{variant}-{name}{module_type}-{bin}-{revision}-{card}")
            }
            Generation::Ddr4 => {
                let name = rate.name_mts();
                format!("{size} {organization} PC4{variant}-{name}{bin}-{module_type}{card}-{revision}")
            }
            Generation::Ddr5 => {
                let name = rate.name_mts();
                let own = digits(self.module_revision(), LabelField::ModuleSpdRevision)?;
                let range = self.temperature_range().ok_or(LabelField::TemperatureRange)?;
                format!("{size} {organization} PC5-{name}{bin}-{module_type}{card}-{revision}{own}-{range}")
            }
        })
    }

    /// The organization that gives the capacity by itself. Labels of DDR3 name no stacks.
    fn label_organization(&self, capacity: Capacity) -> Result<Organization, LabelField> {
        let package_ranks = self.package_ranks().ok_or(LabelField::Ranks)?;
        let width = self.width().ok_or(LabelField::Width)?;
        let stack = match self.generation() {
            Generation::Ddr3 => Stack::Single,
            Generation::Ddr4 | Generation::Ddr5 => self.stack().ok_or(LabelField::Stack)?,
        };
        let organization = Organization::new(package_ranks, stack, width);
        let die = self.die_density().ok_or(LabelField::Capacity)?;
        if organization.capacity(die) == capacity { Ok(organization) } else { Err(LabelField::Capacity) }
    }

    /// The letter behind `PC3` or `PC4`. One of DDR3 says that all higher voltages will do too.
    fn variant(&self) -> Result<&'static str, LabelField> {
        if self.generation() != Generation::Ddr3 {
            // labels of DDR4 and DDR5 say no voltage, for there is but one
            self.voltages().ok_or(LabelField::Variant)?;
            return Ok(if self.is_ddr4e() { "E" } else { "" });
        }
        let voltages: Vec<Voltage> = self.voltages().iter().flat_map(Voltages::iter).collect();
        match *voltages {
            [Voltage::V1_5] => Ok(""),
            [Voltage::V1_35, Voltage::V1_5] => Ok("L"),
            [Voltage::V1_25, Voltage::V1_35, Voltage::V1_5] => Ok("U"),
            _ => Err(LabelField::Variant),
        }
    }

    fn letter(&self) -> Option<ModuleType> {
        let (kind, form, ecc) = (self.kind()?, self.form_factor()?, self.ecc()?);
        let is_meant = |module_type: &ModuleType| {
            let is_of_bits = module_type.ecc().is_none_or(|bits| bits == ecc);
            module_type.kind() == kind && module_type.form_factor() == form && is_of_bits
        };
        b"RPLUESTCNWV".iter().filter_map(|&letter| ModuleType::new(self.generation(), letter)).find(is_meant)
    }

    fn bin(&self, rate: DataRate, organization: Organization) -> Option<SpeedBin> {
        let timings = self.timings()?;
        let clocks = timings.clocks;
        let is_meant = |bin: &SpeedBin| bin.latencies(rate, organization) == Some(clocks);
        match self.generation() {
            Generation::Ddr3 => Some(SpeedBin::CasLatency { clocks: clocks.0, padded: true }),
            Generation::Ddr4 => {
                let mut bins = Ddr4Bin::ALL.iter().copied();
                let twice =
                    TWICE.iter().find(|twice| organization.stack.is_stacked() && (twice.0, twice.2) == (rate, clocks));
                let twice = twice.filter(|_| organization.width == DeviceWidth::X4);
                let bin = twice.map(|&(_, bin, _)| bin);
                bin.or_else(|| bins.find(|&bin| is_meant(&SpeedBin::Ddr4(bin)))).map(SpeedBin::Ddr4)
            }
            Generation::Ddr5 => {
                let bin = Ddr5Bin::ALL.iter().copied().map(SpeedBin::Ddr5).find(is_meant)?;
                // JESD400-5C tables 73 to 77: the longest tRCD of B
                let longest = if rate < DataRate::DDR5_4000 { 16_250 } else { 16_000 };
                let slower = SpeedBin::Ddr5(Ddr5Bin::Bn);
                let is_slower = bin == SpeedBin::Ddr5(Ddr5Bin::B) && is_meant(&slower) && timings.trcd_ps > longest;
                Some(if is_slower { slower } else { bin })
            }
        }
    }
}
