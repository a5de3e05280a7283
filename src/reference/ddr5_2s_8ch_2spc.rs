//! DDR5, two sockets of eight channels of two slots.

use std::sync::LazyLock;

use std::collections::BTreeSet;

use crate::module::{Ecc, Generation, ModuleKind};
use crate::platform::{
    CountRow, Mode, Platform, PlatformDescription, RankPair, RanksMeet, Redundancy, SameRankCount, WorkedRow,
};
use crate::processor::{MixProperty, ModulePattern, Processor, ProcessorDescription, RankCounting, RankLimit};
use crate::reference::build::{
    Regular, check_bits, densities, groups, joined, mode, one_of, processor, rates, rows, rows_by_turn, worked,
};
use crate::stated::{Basis, Demand, Scope, Stated};
use crate::unit::{DataRate, Name};

/// A two-socket DDR5 board of 32 slots, "A1" to "H2" at processor "1" and "I1" to "P2" at processor "2";
/// four controllers of two channels each.
///
/// Its processors: "plain", 4800 MT/s at one module a channel and 4400 at two; "capped", 4400 MT/s at both.
/// They take 72-bit and 80-bit modules, but not together, one device width in a machine, and one number of ranks at a
/// processor, but that single-rank and dual-rank modules fill all its slots together. The numbers of modules, and the
/// slots for them, are advised. Its modes, for 80-bit modules: "mirrored" joins the two channels of each controller and
/// takes 8 or 16 modules a processor; "spare-rank". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr5_2s_8ch_2spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 4, channels: 8, slots: 2.into(), order: "A E C G B F D H" };
    let mut platform = board.describe("ddr5-2s-8ch-2spc", Generation::Ddr5);
    let plain = with("plain", DataRate::DDR5_4800);
    let capped = with("capped", DataRate::DDR5_4400);
    platform.processors = [plain, capped].map(Processor::of_checked).to_vec();
    platform.processors_alike = Some(Stated::assumed(Demand::Required));
    platform.mix_limits =
        [MixProperty::Ecc, MixProperty::Width].map(|property| one_of(property, Scope::Machine)).to_vec();
    platform.same_rank_count = Some(Stated::assumed(SameRankCount {
        except: vec![RankPair { first: 1, second: 2, when: RanksMeet::WhenFull }],
    }));
    platform.count_rows = count_rows();
    platform.modes = modes(&platform);
    platform.fill_rows = rows_by_turn(&platform, &[2, 4, 8, 12, 16, 24, 32]);
    platform.blanks = Some(Stated::assumed(Demand::Advised));
    platform.worked_rows = worked_rows();
    platform
}

/// The numbers in the mirrored mode: SR650 V2 guide p. 268.
fn count_rows() -> Vec<CountRow> {
    let mirrored = CountRow::per_socket([8, 16], Demand::Required, Basis::Assumed);
    vec![
        CountRow::per_socket([1, 2, 4, 6, 8, 12, 16], Demand::Advised, Basis::Assumed),
        CountRow { mode: Some(Name::lossy("mirrored")), ..mirrored },
    ]
}

/// 72-bit modules in the independent mode only: SR630 V3 guide p. 68.
fn modes(board: &PlatformDescription) -> Vec<Mode> {
    let modes = [
        joined(mode("mirrored", Redundancy::Mirrored), groups(board, 2, 2)),
        mode("spare-rank", Redundancy::RankSparing { spare_ranks: 1 }),
    ];
    modes.map(|mode| Mode { ecc: Some(BTreeSet::from([Ecc::Ec8])), ..mode }).to_vec()
}

fn with(name: &str, max_rate: DataRate) -> ProcessorDescription {
    let mut described = processor(name, Generation::Ddr5, &[ModuleKind::Registered], max_rate);
    let table = [(ModulePattern::kind(ModuleKind::Registered), &[4800, 4400][..])];
    described.rate_table = Some(rates(Generation::Ddr5, &table));
    described.die_densities_mbit = densities(&[16]);
    described.ecc = check_bits(&[Ecc::Ec4, Ecc::Ec8]);
    // two chip selects of each sub-channel for each slot
    let ranks = RankLimit { counting: RankCounting::Package, at_most: 4, exempt: Vec::new() };
    described.rank_limits = vec![Stated::assumed(ranks)];
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let plain = [("1", "plain"), ("2", "plain")];
    let capped = [("1", "capped"), ("2", "capped")];
    let first = "A1 B1 C1 D1 E1 F1 G1 H1 I1 J1 K1 L1 M1 N1 O1 P1";
    let twelve = format!("{first} A2 C2 E2 G2 I2 K2 M2 O2");
    let (of_64, of_256) = ("64GB 2Rx4 PC5-4800B-RA0-1010-XT", "256GB 2S4Rx4 PC5-4800B-RA0-1010-XT");
    let (wide, narrow) = ("32GB 1Rx4 PC5-4800B-RC0-1010-XT", "32GB 1Rx4 PC5-4800B-PF0-1010-XT");
    rows([
        worked("8 x 64 GB", &plain).modules(of_64, 8, "A1 E1 C1 G1 I1 M1 K1 O1").rate(DataRate::DDR5_4800).gib(512),
        worked("16 x 64 GB", &plain).modules(of_64, 16, first).rate(DataRate::DDR5_4800).gib(1024),
        worked("24 x 64 GB", &plain).modules(of_64, 24, &twelve).rate(DataRate::DDR5_4400).gib(1536),
        worked("32 x 64 GB", &plain).modules(of_64, 32, "").rate(DataRate::DDR5_4400).gib(2048),
        worked("16 x 64 GB, capped", &capped).modules(of_64, 16, first).rate(DataRate::DDR5_4400),
        worked("32 x 64 GB, capped", &capped).modules(of_64, 32, "").rate(DataRate::DDR5_4400),
        worked("32 x 256 GB stacked", &plain).modules(of_256, 32, "").rate(DataRate::DDR5_4400).gib(8192),
        worked("72-bit", &plain).modules(narrow, 16, first).rate(DataRate::DDR5_4800).gib(512),
        worked("72-bit and 80-bit", &plain).modules(wide, 8, "").modules(narrow, 8, "").refused_by("ecc-mix"),
        worked("x4 and x8", &plain)
            .modules(wide, 8, "")
            .modules("16GB 1Rx8 PC5-4800B-RD0-1010-XT", 8, "")
            .refused_by("width-mix"),
        worked("single-rank and dual-rank, full", &plain).modules(of_64, 16, "").modules(wide, 16, "").gib(1536),
        worked("single-rank and dual-rank", &[("1", "plain")])
            .modules(of_64, 1, "")
            .modules(wide, 1, "")
            .refused_by("same-rank-count"),
        worked("16 mirrored", &plain).mode("mirrored").modules(of_64, 16, first).gib(1024).usable(512),
        worked("32 mirrored", &plain).mode("mirrored").modules(of_64, 32, "").gib(2048).usable(1024),
        worked("20 mirrored", &plain).mode("mirrored").modules(of_64, 20, "").refused_by("listed-counts"),
        worked("72-bit mirrored", &plain).mode("mirrored").modules(narrow, 16, "").refused_by("correction-cover"),
        worked("32 with a spare rank", &plain).mode("spare-rank").modules(of_64, 32, "").gib(2048).usable(1536),
        worked("1 single-rank with a spare rank", &[("1", "plain")])
            .mode("spare-rank")
            .modules(wide, 1, "")
            .refused_by("spare-rank"),
        worked("72-bit with a spare rank", &plain)
            .mode("spare-rank")
            .modules(narrow, 32, "")
            .refused_by("correction-cover"),
        worked("unbuffered", &plain).modules("16GB 1Rx8 PC5-4800B-ED0-1010-XT", 16, "").refused_by("kind-accepted"),
    ])
}
