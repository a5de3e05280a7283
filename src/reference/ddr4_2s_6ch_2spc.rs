//! DDR4, two sockets of six channels of two slots.

use std::sync::LazyLock;

use crate::module::{Generation, ModuleKind};
use crate::platform::{Mode, Platform, PlatformDescription, Redundancy, WorkedRow};
use crate::processor::{
    CapacityCap, InterleaveSet, InterleaveSets, ModulePattern, PermittedSet, Processor, ProcessorDescription,
};
use crate::reference::build::{
    Regular, counted_ranks_at_most, densities, groups, joined, mode, processor, rates, rows, worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::{Capacity, DataRate, Name};

/// A two-socket DDR4 board of 24 slots, "A1" to "F2" at processor "1" and "G1" to "L2" at processor "2";
/// two controllers of three channels each.
///
/// Its processors: "earlier", 2666 MT/s, dies of 4 and 8 Gb, 768 GB; "later", 2933 MT/s, dies up to 16 Gb,
/// 1 TB; "later-large", the same without that cap. The rates are from memory. All interleave over channels of one
/// controller, or over as many of each. Its modes: "mirrored" joins the three channels of each controller; "spare-rank",
/// "two-spare-ranks" and "quarter-mirrored". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr4_2s_6ch_2spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 2, channels: 6, slots: 2.into(), order: "A D B E C F" };
    let mut platform = board.describe("ddr4-2s-6ch-2spc", Generation::Ddr4);
    let earlier = with("earlier", DataRate::DDR4_2666, &[2666, 2666], &[4, 8], Some(768));
    let later = with("later", DataRate::DDR4_2933, &[2933, 2666], &[4, 8, 16], Some(1024));
    let large = with("later-large", DataRate::DDR4_2933, &[2933, 2666], &[4, 8, 16], None);
    platform.accepted_processors = Some(Stated::assumed(["earlier", "later", "later-large"].map(Name::lossy).to_vec()));
    platform.processors = [earlier, later, large].map(Processor::of_checked).to_vec();
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.modes = modes(&platform);
    platform.worked_rows = worked_rows();
    platform
}

/// Mirrors over three channels: RX4770 M6 manual p. 240.
fn modes(board: &PlatformDescription) -> Vec<Mode> {
    vec![
        joined(mode("mirrored", Redundancy::Mirrored), groups(board, 3, 3)),
        mode("spare-rank", Redundancy::RankSparing { spare_ranks: 1 }),
        mode("two-spare-ranks", Redundancy::RankSparing { spare_ranks: 2 }),
        mode("quarter-mirrored", Redundancy::PartlyMirrored { mirrored_per_mille: 250 }),
    ]
}

/// Addresses go to one controller or by turns to both, and there over some of its channels: so a set takes channels of
/// one controller, or as many of each. Common practice, no source.
fn interleave() -> InterleaveSets {
    const OF_ONE: [&str; 8] = ["", "A", "B", "C", "AB", "AC", "BC", "ABC"];
    const OF_OTHER: [&str; 8] = ["", "D", "E", "F", "DE", "DF", "EF", "DEF"];
    let names = |letters: &str| letters.chars().map(|letter| Name::lossy(&letter.to_string())).collect::<Vec<_>>();
    let each = OF_ONE.iter().flat_map(|one| OF_OTHER.iter().map(move |other| (one, other)));
    let fitting = each.filter(|(one, other)| one.is_empty() || other.is_empty() || one.len() == other.len());
    let sets = fitting.map(|(one, other)| format!("{one}{other}")).filter(|set| set.len() > 1);
    let permitted = sets.map(|set| PermittedSet::of(InterleaveSet::Channels(names(&set))));
    InterleaveSets { channels: names("ABCDEF"), permitted: permitted.collect() }
}

fn with(
    name: &str,
    max_rate: DataRate,
    by_load: &'static [u32],
    gbit: &[u32],
    cap_gib: Option<u32>,
) -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut described = processor(name, Generation::Ddr4, &kinds, max_rate);
    let table = kinds.map(|kind| (ModulePattern::kind(kind), by_load));
    described.rate_table = Some(rates(Generation::Ddr4, &table));
    described.die_densities_mbit = densities(gbit);
    described.rank_limits = counted_ranks_at_most(8);
    described.interleave = Some(Stated::assumed(interleave()));
    described.capacity_cap = cap_gib
        .map(|gib| Stated::assumed(CapacityCap { capacity_mib: Capacity::from_gib(gib), counts_other_devices: true }));
    described
}

/// Common practice, no source. The even capacities are those of twelve or twenty-four equal modules.
fn worked_rows() -> Vec<WorkedRow> {
    let earlier = [("1", "earlier"), ("2", "earlier")];
    let later = [("1", "later"), ("2", "later")];
    let large = [("1", "later-large"), ("2", "later-large")];
    let first = "A1 B1 C1 D1 E1 F1 G1 H1 I1 J1 K1 L1";
    let (of_8, of_16) = ("8GB 1Rx8 PC4-2933Y-RD1-12", "16GB 2Rx8 PC4-2933Y-RE1-12");
    let (of_32, of_64) = ("32GB 2Rx4 PC4-2933Y-RB2-12", "64GB 2Rx4 PC4-2933Y-RA2-12");
    rows([
        worked("12 x 8 GB", &later).modules(of_8, 12, first).rate(DataRate::DDR4_2933).gib(96),
        worked("12 x 16 GB", &later).modules(of_16, 12, first).rate(DataRate::DDR4_2933).gib(192),
        worked("12 x 32 GB", &later).modules(of_32, 12, first).rate(DataRate::DDR4_2933).gib(384),
        worked("24 x 32 GB", &later).modules(of_32, 24, "").rate(DataRate::DDR4_2666).gib(768),
        worked("8 x 32 GB", &later).modules(of_32, 8, "A1 B1 D1 E1 G1 H1 J1 K1").gib(256),
        worked("24 x 32 GB, earlier", &earlier).modules(of_32, 24, "").rate(DataRate::DDR4_2666).gib(768),
        worked("24 x 64 GB", &large).modules(of_64, 24, "").rate(DataRate::DDR4_2666).gib(1536),
        worked("24 x 64 GB under 1 TB", &later).modules(of_64, 24, ""),
        worked("24 x 128 GB under 1 TB", &later)
            .modules("128GB 2S2Rx4 PC4-2933Y-RB1-12", 24, "")
            .refused_by("socket-capacity"),
        worked("24 x 16 GB with a spare rank", &later).mode("spare-rank").modules(of_16, 24, "").gib(384).usable(288),
        worked("24 x 16 GB with two spare ranks", &later)
            .mode("two-spare-ranks")
            .modules(of_16, 24, "")
            .gib(384)
            .usable(192),
        worked("12 x 32 GB mirrored", &later).mode("mirrored").modules(of_32, 12, first).gib(384).usable(192),
        worked("6 x 32 GB mirrored", &later)
            .mode("mirrored")
            .modules(of_32, 6, "A1 B1 C1 G1 H1 I1")
            .gib(192)
            .usable(96),
        worked("8 x 32 GB mirrored", &later).mode("mirrored").modules(of_32, 8, "").refused_by("mode-unmet"),
        worked("12 x 32 GB, a quarter mirrored", &later)
            .mode("quarter-mirrored")
            .modules(of_32, 12, first)
            .gib(384)
            .usable(288),
        worked("16 Gb dies, earlier", &earlier).modules(of_64, 12, "").refused_by("die-density"),
    ])
}
