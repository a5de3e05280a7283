//! The latencies of speed bins against the times and tables of the standards.

use crate::module::{Ddr4Bin, Ddr5Bin, DeviceWidth, Organization, RawCard, SpeedBin, Stack};
use crate::unit::DataRate;

const SINGLE: Organization = Organization { package_ranks: 2, stack: Stack::Single, width: DeviceWidth::X4 };
const DUAL: Organization = Organization { package_ranks: 2, stack: Stack::DualDie, width: DeviceWidth::X8 };
const STACKED: Organization = Organization { package_ranks: 2, stack: Stack::Stacked4, width: DeviceWidth::X4 };

// JESD21-C 4.19.4, page 2.
#[test]
fn ddr4_letters_mean_one_latency_at_every_rate() {
    let table = [
        ("J", 10),
        ("K", 11),
        ("L", 12),
        ("M", 13),
        ("N", 14),
        ("P", 15),
        ("R", 16),
        ("T", 17),
        ("U", 18),
        ("V", 19),
        ("W", 20),
        ("Y", 21),
        ("AA", 22),
        ("AC", 24),
    ];
    assert_eq!(Ddr4Bin::ALL.len(), table.len());
    for (letters, clocks) in table {
        let bin = SpeedBin::Ddr4(Ddr4Bin::from_letters(letters).unwrap());
        assert_eq!(bin.to_string(), letters);
        for rate in DataRate::DDR4 {
            for organization in [SINGLE, DUAL] {
                assert_eq!(bin.latencies(rate, organization), Some((clocks, clocks, clocks)));
            }
        }
    }
    for letters in ["I", "O", "Q", "S", "X", "Z", "AB", "", "j"] {
        assert_eq!(Ddr4Bin::from_letters(letters), None);
    }
}

// JESD79-4-1B tables 22 to 28; two bins of one letter give no answer.
#[test]
fn ddr4_stacks_have_their_own_table() {
    type Bin = (u32, &'static str, &'static [(u8, u8, u8)]);
    #[rustfmt::skip]
    let bins: [Bin; 21] = [
        (1600, "J", &[(12, 11, 10)]),
        (1600, "K", &[(13, 12, 11)]),
        (1600, "L", &[(14, 13, 12)]),
        (1866, "L", &[(14, 13, 12)]),
        (1866, "M", &[(15, 14, 13)]),
        (1866, "N", &[(16, 15, 14)]),
        (2133, "P", &[(17, 15, 15), (18, 15, 15)]),
        (2133, "R", &[(20, 16, 16)]),
        (2400, "P", &[(18, 16, 15)]),
        (2400, "T", &[(19, 17, 17)]),
        (2400, "U", &[(20, 18, 18), (22, 18, 18)]),
        (2666, "T", &[(20, 17, 17)]),
        (2666, "V", &[(22, 19, 19)]),
        (2666, "W", &[(24, 20, 20)]),
        (2933, "W", &[(23, 20, 20)]),
        (2933, "Y", &[(24, 21, 21)]),
        (2933, "AA", &[(25, 22, 22)]),
        (3200, "W", &[(24, 20, 20)]),
        (3200, "AA", &[(26, 22, 22)]),
        (3200, "AC", &[(28, 24, 24)]),
        (2133, "N", &[]),
    ];
    let mut known = 0;
    for rate in DataRate::DDR4 {
        for &bin in Ddr4Bin::ALL {
            let listed = bins.iter().find(|(mts, letters, _)| *mts == rate.name_mts() && *letters == bin.letters());
            let expected = match listed {
                Some((_, _, [only])) => Some(*only),
                _ => None,
            };
            known += u32::from(expected.is_some());
            assert_eq!(SpeedBin::Ddr4(bin).latencies(rate, STACKED), expected, "{rate} {bin:?}");
            let x8 = Organization { width: DeviceWidth::X8, ..STACKED };
            assert_eq!(SpeedBin::Ddr4(bin).latencies(rate, x8), None);
        }
    }
    assert_eq!(known, 18);
}

/// JESD400-5C section 8.1.20: a time in whole clocks.
fn clocks(time_ps: u32, period_ps: u32) -> u8 {
    u8::try_from((time_ps * 997 / period_ps + 1000) / 1000).unwrap()
}

// JESD400-5C tables 73 to 77 and 82 to 86: tAA of single dies, tRCD, tAA of stacks, in ps, for AN, B, BN, C.
#[test]
fn ddr5_latencies_follow_from_the_times_of_the_standard() {
    #[rustfmt::skip]
    let rows: [(u32, u32, [u32; 4], [u32; 4]); 16] = [
        (3200, 625, [15000, 16250, 16250, 17500], [16250, 18750, 18750, 20000]),
        (3600, 555, [14444, 16250, 16666, 17500], [16666, 18750, 18888, 20000]),
        (4000, 500, [14000, 16000, 16000, 17500], [16000, 18750, 19000, 20000]),
        (4400, 454, [14545, 16000, 16363, 17500], [16363, 18750, 19090, 20000]),
        (4800, 416, [14166, 16000, 16666, 17500], [16666, 18750, 19166, 20000]),
        (5200, 384, [14615, 16000, 16153, 17500], [16153, 18750, 19230, 20000]),
        (5600, 357, [14285, 16000, 16428, 17500], [16428, 18571, 18571, 20000]),
        (6000, 333, [14000, 16000, 16000, 17500], [16000, 18571, 18666, 20000]),
        (6400, 312, [14375, 16000, 16250, 17500], [16250, 18571, 18750, 20000]),
        (6800, 294, [14117, 16000, 16470, 17500], [16470, 18571, 18823, 20000]),
        (7200, 277, [14444, 16000, 16111, 17500], [16111, 18571, 18888, 20000]),
        (7600, 263, [14210, 16000, 16315, 17500], [16315, 18571, 18947, 20000]),
        (8000, 250, [14000, 16000, 16000, 17500], [16000, 18500, 18500, 20000]),
        (8400, 238, [14285, 16000, 16190, 17500], [16190, 18500, 18571, 20000]),
        (8800, 227, [14090, 16000, 16363, 17500], [16363, 18500, 18636, 20000]),
        (9200, 217, [14347, 16000, 16086, 17500], [16087, 18500, 18695, 20000]),
    ];
    let bins = [("AN", Ddr5Bin::An), ("B", Ddr5Bin::B), ("BN", Ddr5Bin::Bn), ("C", Ddr5Bin::C)];
    let even = |clocks: u8| clocks + clocks % 2;
    for (mts, period, times, stacked_times) in rows {
        let rate = DataRate::from_mts(mts).unwrap();
        for (index, (letters, bin)) in bins.into_iter().enumerate() {
            assert_eq!(bin.letters(), letters);
            // tAA and tRCD of single dies are the same times.
            let trcd = clocks(times[index], period);
            let single = (even(trcd), trcd, trcd);
            let stacked = (even(clocks(stacked_times[index], period)), trcd, trcd);
            assert_eq!(SpeedBin::Ddr5(bin).latencies(rate, SINGLE), Some(single), "{mts}{letters}");
            assert_eq!(SpeedBin::Ddr5(bin).latencies(rate, STACKED), Some(stacked), "{mts}{letters} stacked");
        }
    }
}

// A public data sheet gives 5600B as 46-45-45; 4800B is 40-39-39 since CL of DDR5 is even.
#[test]
fn ddr5_bins_of_servers() {
    for (rate, latencies) in
        [(DataRate::DDR5_4800, (40, 39, 39)), (DataRate::DDR5_5600, (46, 45, 45)), (DataRate::DDR5_6400, (52, 52, 52))]
    {
        assert_eq!(SpeedBin::Ddr5(Ddr5Bin::B).latencies(rate, SINGLE), Some(latencies));
    }
    assert_eq!(SpeedBin::Ddr5(Ddr5Bin::B).latencies(DataRate::DDR4_2400, SINGLE), None);
}

// Public timing tables: the bins D to N of DDR3. N at 2133 is from memory.
#[test]
fn ddr3_bins() {
    for (rate, bins) in [
        (DataRate::DDR3_800, &[5, 6][..]),
        (DataRate::DDR3_1066, &[6, 7, 8]),
        (DataRate::DDR3_1333, &[8, 9]),
        (DataRate::DDR3_1600, &[9, 10, 11]),
        (DataRate::DDR3_1866, &[11, 12, 13]),
        (DataRate::DDR3_2133, &[12, 13, 14]),
    ] {
        for clocks in 4..=18 {
            let latencies = SpeedBin::CasLatency { clocks, padded: false }.latencies(rate, SINGLE);
            assert_eq!(latencies, bins.contains(&clocks).then_some((clocks, clocks, clocks)), "{rate} CL {clocks}");
        }
    }
}

// JESD21-C 4.1.2.L-6 tables 97 to 106: codes 0 to 30 and, with bit 7, 0 to 30 again; JESD400-5C table 99.
#[test]
fn raw_cards_are_counted_as_the_standard_does() {
    let first = "A B C D E F G H J K L M N P R T U V W Y AA AB AC AD AE AF AG AH AJ AK AL";
    let second = "AM AN AP AR AT AU AV AW AY BA BB BC BD BE BF BG BH BJ BK BL BM BN BP BR BT BU BV BW BY CA CB";
    let listed: Vec<&str> = first.split(' ').chain(second.split(' ')).collect();
    assert_eq!(listed.len(), 62);
    for (code, letters) in (0..).zip(listed.iter().copied()) {
        assert_eq!(RawCard::code(letters, false), Some(code), "{letters}");
        assert_eq!(RawCard::code(letters, true), (code < 30).then_some(code), "{letters}");
        assert_eq!(RawCard::new(code, b'3').unwrap().to_string(), format!("{letters}3"));
    }
    for letters in ["", "I", "O", "Q", "S", "X", "Z", "AI", "CC", "ZA", "AAA", "a", "\u{e9}"] {
        assert_eq!(RawCard::code(letters, false), None, "{letters}");
    }
    let no_design = RawCard::new(RawCard::code("ZZ", true).unwrap(), b'Z').unwrap();
    assert!(RawCard::new(61, b'0').unwrap() < no_design);
}
