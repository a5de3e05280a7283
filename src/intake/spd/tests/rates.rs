//! Clock periods and latencies of the standards' tables.

use crate::intake::spd::SpdImage;
use crate::intake::spd::tests::encoder::{DDR3_CLOCKS, DDR4_CLOCKS, DDR5_TIMES, empty, image, seal, set_cas, set_time};
use crate::module::{Ddr5Bin, DeviceWidth, Generation, Organization, SpeedBin, Stack};
use crate::unit::DataRate;

fn grade(bytes: &[(usize, u8)], generation: Generation) -> Option<DataRate> {
    image(generation, bytes).grade()
}

// The bytes of JESD21-C 4.1.2.L-6 table 42 and of JESD400-5C table 72; 938 ps of a real module; DDR3 from images, 2133 from memory.
#[test]
fn stored_clock_periods() {
    let ddr3 = |coarse, fine| grade(&[(9, 0x11), (10, 1), (11, 8), (12, coarse), (34, fine)], Generation::Ddr3);
    let rows = [(20, 0), (15, 0), (12, 0), (10, 0), (9, 0xca), (8, 0xc2)];
    for (rate, (coarse, fine)) in DataRate::DDR3.into_iter().zip(rows) {
        assert_eq!(ddr3(coarse, fine), Some(rate));
    }
    let ddr4 = |coarse, fine| grade(&[(18, coarse), (125, fine)], Generation::Ddr4);
    let rows = [(0x0a, 0), (9, 0xca), (8, 0xc1), (7, 0xd6), (6, 0), (6, 0xbc), (5, 0)];
    for (&rate, (coarse, fine)) in DataRate::DDR4[1..].iter().zip(rows) {
        assert_eq!(ddr4(coarse, fine), Some(rate));
    }
    assert_eq!(ddr4(8, 0xc2), Some(DataRate::DDR4_2133));
    #[rustfmt::skip]
    let rows = [0x0271, 0x022b, 0x01f4, 0x01c6, 0x01a0, 0x0180, 0x0165, 0x014d, 0x0138, 0x0126, 0x0115, 0x0107, 0x00fa, 0x00ee, 0x00e3, 0x00d9];
    for (rate, stored) in DataRate::DDR5.into_iter().zip(rows) {
        let [low, high] = u16::to_le_bytes(stored);
        assert_eq!(grade(&[(20, low), (21, high)], Generation::Ddr5), Some(rate));
    }
}

// Below half a picosecond: it was once divided by.
#[test]
fn a_clock_period_that_rounds_to_nothing() {
    let image =
        image(Generation::Ddr3, &[(9, 0x72), (10, 1), (11, 0xff), (12, 1), (34, 0xff), (16, 8), (18, 8), (20, 8)]);
    assert_eq!((image.grade(), image.timings()), (None, None));
    assert!(image.remarks().iter().any(|remark| remark.at == "byte 12"), "{:?}", image.remarks());
}

#[test]
fn every_standard_rate_is_read_back() {
    let ddr5: Vec<(u32, u32)> = DDR5_TIMES.iter().map(|row| (row.0, row.1)).collect();
    let tables: [(Generation, &[(u32, u32)]); 3] =
        [(Generation::Ddr3, &DDR3_CLOCKS), (Generation::Ddr4, &DDR4_CLOCKS), (Generation::Ddr5, &ddr5)];
    for (generation, clocks) in tables {
        for &(name, clock) in clocks {
            let mut image = empty(generation);
            image[9..12].copy_from_slice(&[0x11, 1, 8]);
            set_time(&mut image, generation, 0, clock);
            let image = SpdImage::read(&seal(image)).unwrap();
            assert_eq!(image.grade().map(DataRate::name_mts), Some(name));
            assert!(generation.rates().contains(&image.grade().unwrap()));
        }
    }
}

/// Clocks of DDR4 times at these clock periods.
fn cas_at(taa: u32, clock: u32) -> u8 {
    let mut image = empty(Generation::Ddr4);
    [clock, taa, taa, taa]
        .into_iter()
        .enumerate()
        .for_each(|(time, ps)| set_time(&mut image, Generation::Ddr4, time, ps));
    (7..37).for_each(|cas| set_cas(&mut image, Generation::Ddr4, cas));
    SpdImage::read(&seal(image)).unwrap().timings().unwrap().clocks.0
}

// JESD21-C 4.1.2.L-6 table 40; the other row from a real module.
#[test]
fn ddr4_clocks() {
    for (clock, clocks) in [(750, 20), (833, 18), (937, 16), (1071, 14), (1250, 12)] {
        assert_eq!(cas_at(15_000, clock), clocks, "{clock} ps");
    }
    for (clock, clocks) in [(625, 22), (682, 21), (750, 19), (833, 17), (937, 15), (938, 15), (1071, 13), (1250, 11)] {
        assert_eq!(cas_at(13_750, clock), clocks, "{clock} ps");
    }
}

// JESD400-5C table 37, which is of tWR.
#[test]
fn ddr5_clocks() {
    for (clock, clocks) in [(625, 48), (555, 54), (500, 60), (454, 66), (416, 72)] {
        let mut image = empty(Generation::Ddr5);
        let times = [clock, 15_000, 30_000, 30_000];
        times.into_iter().enumerate().for_each(|(time, ps)| set_time(&mut image, Generation::Ddr5, time, ps));
        set_cas(&mut image, Generation::Ddr5, 98);
        let timings = SpdImage::read(&seal(image)).unwrap().timings().unwrap();
        assert_eq!(timings.clocks, (98, clocks, clocks), "{clock} ps");
        assert_eq!(
            (timings.clock_ps, timings.taa_ps, timings.trcd_ps, timings.trp_ps),
            (clock, 15_000, 30_000, 30_000)
        );
    }
}

// JESD400-5C tables 72 to 77 and 82 to 86: every bin of every rate.
#[test]
fn ddr5_bins() {
    for (name, clock, single, trcd, high) in DDR5_TIMES {
        let rate = DataRate::from_mts(name).unwrap();
        for (column, &bin) in Ddr5Bin::ALL.iter().enumerate() {
            for (taa, stack) in [(single[column], Stack::Single), (high[column], Stack::Stacked4)] {
                let mut image = empty(Generation::Ddr5);
                let times = [clock, taa, trcd[column], trcd[column]];
                times.into_iter().enumerate().for_each(|(time, ps)| set_time(&mut image, Generation::Ddr5, time, ps));
                (20..99).step_by(2).for_each(|cas| set_cas(&mut image, Generation::Ddr5, cas));
                let timings = SpdImage::read(&seal(image)).unwrap().timings().unwrap();
                let organization = Organization::new(1, stack, DeviceWidth::X4);
                assert_eq!(
                    Some(timings.clocks),
                    SpeedBin::Ddr5(bin).latencies(rate, organization),
                    "{name} {bin:?} {stack}"
                );
            }
        }
    }
}

// JESD21-C 4.1.2.L-6 and JESD400-5C: the examples of their CAS masks.
#[test]
fn cas_masks() {
    let latencies = |generation, bytes: &[(usize, u8)]| image(generation, bytes).cas_latencies().collect::<Vec<_>>();
    assert_eq!(latencies(Generation::Ddr4, &[(20, 0xb4), (21, 0x05)]), [9, 11, 12, 14, 15, 17]);
    assert_eq!(latencies(Generation::Ddr4, &[(21, 0x78), (22, 0x01), (23, 0x80)]), [34, 35, 36, 37, 39]);
    assert_eq!(latencies(Generation::Ddr4, &[(23, 0x60)]), [36]);
    assert_eq!(latencies(Generation::Ddr4, &[(23, 0xe0)]), [52]);
    assert_eq!(latencies(Generation::Ddr5, &[(24, 0x7a), (25, 0x05)]), [22, 26, 28, 30, 32, 36, 40]);
    assert_eq!(latencies(Generation::Ddr5, &[(28, 0x80)]), [98]);
    assert_eq!(latencies(Generation::Ddr3, &[(14, 0x01), (15, 0xc0)]), [4, 18]);
}

// 2.5 ps as the fine unit of DDR3: -22 of them are 55 ps.
#[test]
fn the_fine_unit_of_ddr3_varies() {
    let bytes = [(9, 0x52), (10, 1), (11, 8), (12, 9), (34, 22_u8.wrapping_neg())];
    assert_eq!(grade(&bytes, Generation::Ddr3), Some(DataRate::DDR3_1866));
    // without divisor there are no times
    for at in [9, 11] {
        let mut none = bytes;
        none.iter_mut().filter(|(place, _)| *place == at).for_each(|(_, byte)| *byte &= 0xf0 * u8::from(at == 9));
        let image = image(Generation::Ddr3, &none);
        assert_eq!((image.grade(), image.timings()), (None, None));
        assert!(image.remarks().iter().any(|remark| remark.to_string().starts_with(&format!("byte {at}: time base"))));
    }
}

#[test]
fn a_rate_without_name_is_kept() {
    let ddr4 = image(Generation::Ddr4, &[(18, 4), (20, 0xff), (24, 100), (25, 100), (26, 100)]);
    assert_eq!(ddr4.grade(), Some(DataRate::from_mts(4000).unwrap()));
    let remarks: Vec<String> = ddr4.remarks().iter().map(ToString::to_string).collect();
    assert!(
        remarks.contains(&"byte 18: standard rate: a clock period of 500 ps is not known".to_owned()),
        "{remarks:?}"
    );
    // too long for any memory
    let slow = image(Generation::Ddr5, &[(20, 0xff), (21, 0xff)]);
    assert_eq!(slow.grade(), None);
    assert_eq!(image(Generation::Ddr5, &[]).grade(), None);
}
