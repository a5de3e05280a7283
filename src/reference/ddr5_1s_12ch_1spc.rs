//! DDR5, one socket of twelve channels of one slot.

use std::sync::LazyLock;

use crate::module::{Ecc, Generation, ModuleKind};
use crate::platform::{CountRow, PairBan, Platform, PlatformDescription, WorkedRow};
use crate::processor::{MixProperty, ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{Regular, check_bits, densities, one_of, processor, rates, rows, worked};
use crate::stated::{Basis, Demand, Scope, Stated};
use crate::unit::DataRate;

/// A one-socket DDR5 board of 12 slots, "A1" to "L1" at processor "1"; each channel is a controller of its
/// own.
///
/// Its processor "plain": registered modules, 4800 MT/s whatever their ranks, dies of 16 or of 24 Gb, but not of both.
/// The board takes one device width, and quad-rank modules neither with single-rank nor with dual-rank ones. The numbers
/// of modules are advised. All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr5_1s_12ch_1spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board =
        Regular { sockets: 1, controllers: 12, channels: 12, slots: 1.into(), order: "A G C I B H E K D J F L" };
    let mut platform = board.describe("ddr5-1s-12ch-1spc", Generation::Ddr5);
    platform.processors = vec![Processor::of_checked(plain())];
    platform.count_rows = vec![CountRow::per_socket([1, 2, 4, 6, 8, 10, 12], Demand::Advised, Basis::Assumed)];
    platform.mix_limits = vec![one_of(MixProperty::Width, Scope::Machine)];
    platform.pair_bans = [1, 2].map(never_with_quad_rank).to_vec();
    platform.worked_rows = worked_rows();
    platform
}

/// Single-rank with dual-rank modules only: SR655 V3 guide p. 40.
fn never_with_quad_rank(package_ranks: u8) -> Stated<PairBan> {
    let of = |package_ranks| ModulePattern { package_ranks: Some(package_ranks), ..ModulePattern::default() };
    Stated::assumed(PairBan { first: of(4), second: of(package_ranks), within: Scope::Socket })
}

/// Die densities that never meet: SR630 V3 guide p. 68.
fn plain() -> ProcessorDescription {
    let mut described = processor("plain", Generation::Ddr5, &[ModuleKind::Registered], DataRate::DDR5_4800);
    let table = [(ModulePattern::kind(ModuleKind::Registered), &[4800][..])];
    described.rate_table = Some(rates(Generation::Ddr5, &table));
    described.die_densities_mbit = densities(&[16, 24]);
    described.mix_limits = vec![one_of(MixProperty::DieDensity, Scope::Socket)];
    described.ecc = check_bits(&[Ecc::Ec4, Ecc::Ec8]);
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let one = [("1", "plain")];
    let (of_64, of_96) = ("64GB 2Rx4 PC5-4800B-RA0-1010-XT", "96GB 2Rx4 PC5-5600B-RA0-1010-XT");
    rows([
        worked("1 module", &one).modules(of_64, 1, "A1").rate(DataRate::DDR5_4800).gib(64),
        worked("2 modules", &one).modules(of_64, 2, "A1 G1").gib(128),
        worked("4 modules", &one).modules(of_64, 4, "A1 C1 G1 I1").gib(256),
        worked("6 modules", &one).modules(of_64, 6, "A1 B1 C1 G1 H1 I1").gib(384),
        worked("8 modules", &one).modules(of_64, 8, "A1 B1 C1 E1 G1 H1 I1 K1").gib(512),
        worked("12 modules", &one).modules(of_64, 12, "").rate(DataRate::DDR5_4800).gib(768),
        worked("12 modules of grade 5600", &one).modules(of_96, 12, "").rate(DataRate::DDR5_4800).gib(1152),
        worked("12 stacked", &one)
            .modules("256GB 2S4Rx4 PC5-4800B-RA0-1010-XT", 12, "")
            .rate(DataRate::DDR5_4800)
            .gib(3072),
        worked("72-bit and 80-bit", &one)
            .modules("32GB 1Rx4 PC5-4800B-RC0-1010-XT", 6, "")
            .modules("32GB 1Rx4 PC5-4800B-PF0-1010-XT", 6, "")
            .refused_by("ecc-mix"),
        worked("16 Gb and 24 Gb dies", &one).modules(of_64, 6, "").modules(of_96, 6, "").refused_by("density-mix"),
        worked("x4 and x8", &one)
            .modules(of_64, 6, "")
            .modules("32GB 2Rx8 PC5-4800B-RE0-1010-XT", 6, "")
            .refused_by("width-mix"),
        worked("single-rank and dual-rank", &one)
            .modules(of_64, 6, "")
            .modules("32GB 1Rx4 PC5-4800B-RC0-1010-XT", 6, "")
            .gib(576),
        worked("dual-rank and quad-rank", &one)
            .modules(of_64, 6, "")
            .modules("128GB 4Rx4 PC5-4800B-RF0-1010-XT", 6, "")
            .refused_by("pair-ban"),
        worked("DDR4", &one).modules("32GB 2Rx4 PC4-2400T-RB2-11", 6, "").refused_by("generation"),
    ])
}
