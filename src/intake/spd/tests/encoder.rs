//! Makes images of what is known of modules: the standards' tables as data.

use crate::intake::spd::SpdImage;
use crate::module::{
    Ddr5Bin, DeviceWidth, Ecc, FormFactor, Generation, Label, ModuleKind, SpeedBin, Stack, TemperatureRange,
};
use crate::unit::Voltage;

/// Where a number lies in an image: a byte, its highest and its lowest bit.
type Bits = (usize, u8, u8);

/// Where facts lie, by generation.
///
/// Sources: JESD21-C 4.1.2.L-6 (DDR4), JESD400-5C (DDR5), public decoders (DDR3).
struct Layout {
    length: usize,
    /// Byte 0: how long the image is, and how much of it is used.
    size: u8,
    key: u8,
    kind: Bits,
    density: Bits,
    ranks: Bits,
    width: Bits,
    primary: Bits,
    check: Bits,
    sub_channels: Option<Bits>,
    height: Bits,
    card_extension: Option<Bits>,
    card_half: Option<Bits>,
    card_revision: Bits,
    card: Bits,
    /// Coarse and fine bytes of the clock period, tAA, tRCD and tRP; of DDR5 the low byte, twice.
    times: [(usize, usize); 4],
    /// First byte of the CAS mask, CL of its lowest bit, step.
    cas: (usize, u8, u8),
    making: [usize; 3],
    part: (usize, usize),
    checksums: &'static [(usize, usize, usize)],
}

const DDR3: Layout = Layout {
    length: 256,
    size: 0x12,
    key: 0x0b,
    kind: (3, 3, 0),
    density: (4, 3, 0),
    ranks: (7, 5, 3),
    width: (7, 2, 0),
    primary: (8, 2, 0),
    check: (8, 4, 3),
    sub_channels: None,
    height: (60, 4, 0),
    card_extension: Some((60, 7, 5)),
    card_half: Some((62, 7, 7)),
    card_revision: (62, 6, 5),
    card: (62, 4, 0),
    times: [(12, 34), (16, 35), (18, 36), (20, 37)],
    cas: (14, 4, 1),
    making: [117, 120, 122],
    part: (128, 18),
    checksums: &[(0, 125, 126)],
};

const DDR4: Layout = Layout {
    length: 512,
    size: 0x23,
    key: 0x0c,
    kind: (3, 3, 0),
    density: (4, 3, 0),
    ranks: (12, 5, 3),
    width: (12, 2, 0),
    primary: (13, 2, 0),
    check: (13, 4, 3),
    sub_channels: None,
    height: (128, 4, 0),
    card_extension: Some((128, 7, 5)),
    card_half: Some((130, 7, 7)),
    card_revision: (130, 6, 5),
    card: (130, 4, 0),
    times: [(18, 125), (24, 123), (25, 122), (26, 121)],
    cas: (20, 7, 1),
    making: [320, 323, 325],
    part: (329, 20),
    checksums: &[(0, 125, 126), (128, 253, 254)],
};

const DDR5: Layout = Layout {
    length: 1024,
    size: 0x30,
    key: 0x12,
    kind: (3, 3, 0),
    density: (4, 4, 0),
    ranks: (234, 5, 3),
    width: (6, 7, 5),
    primary: (235, 2, 0),
    check: (235, 4, 3),
    sub_channels: Some((235, 7, 5)),
    height: (230, 4, 0),
    card_extension: None,
    card_half: None,
    card_revision: (232, 7, 5),
    card: (232, 4, 0),
    times: [(20, 20), (30, 30), (32, 32), (34, 34)],
    cas: (24, 20, 2),
    making: [512, 515, 517],
    part: (521, 30),
    checksums: &[(0, 509, 510)],
};

fn layout(generation: Generation) -> &'static Layout {
    match generation {
        Generation::Ddr3 => &DDR3,
        Generation::Ddr4 => &DDR4,
        Generation::Ddr5 => &DDR5,
    }
}

/// Clock periods as SPD stores them, in picoseconds: JESD21-C 4.1.2.L-6 table 42, JESD400-5C table 72; DDR3 from images, 938 from memory.
pub(crate) const DDR3_CLOCKS: [(u32, u32); 6] =
    [(800, 2500), (1066, 1875), (1333, 1500), (1600, 1250), (1866, 1071), (2133, 938)];
pub(crate) const DDR4_CLOCKS: [(u32, u32); 7] =
    [(1600, 1250), (1866, 1071), (2133, 937), (2400, 833), (2666, 750), (2933, 682), (3200, 625)];

/// Rate, clock period, then of AN, B, BN and C: tAA of single dies, tRCD = tRP, tAA of stacks. Picoseconds. JESD400-5C tables 72 to 77 and 82 to 86.
#[rustfmt::skip]
pub(crate) const DDR5_TIMES: [(u32, u32, [u32; 4], [u32; 4], [u32; 4]); 16] = [
    (3200, 625, [15000, 16250, 16250, 17500], [15000, 16250, 16250, 17500], [16250, 18750, 18750, 20000]),
    (3600, 555, [14444, 16250, 16666, 17500], [14444, 16250, 16666, 17500], [16666, 18750, 18888, 20000]),
    (4000, 500, [14000, 16000, 16000, 17500], [14000, 16000, 16000, 17500], [16000, 18750, 19000, 20000]),
    (4400, 454, [14545, 16000, 16363, 17500], [14545, 16000, 16363, 17500], [16363, 18750, 19090, 20000]),
    (4800, 416, [14166, 16000, 16666, 17500], [14166, 16000, 16666, 17500], [16666, 18750, 19166, 20000]),
    (5200, 384, [14615, 16000, 16153, 17500], [14615, 16000, 16153, 17500], [16153, 18750, 19230, 20000]),
    (5600, 357, [14285, 16000, 16428, 17500], [14285, 16000, 16428, 17500], [16428, 18571, 18571, 20000]),
    (6000, 333, [14000, 16000, 16000, 17500], [14000, 16000, 16000, 17500], [16000, 18571, 18666, 20000]),
    (6400, 312, [14375, 16000, 16250, 17500], [14375, 16000, 16250, 17500], [16250, 18571, 18750, 20000]),
    (6800, 294, [14117, 16000, 16470, 17500], [14117, 16000, 16470, 17500], [16470, 18571, 18823, 20000]),
    (7200, 277, [14444, 16000, 16111, 17500], [14444, 16000, 16111, 17500], [16111, 18571, 18888, 20000]),
    (7600, 263, [14210, 16000, 16315, 17500], [14210, 16000, 16315, 17500], [16315, 18571, 18947, 20000]),
    (8000, 250, [14000, 16000, 16000, 17500], [14000, 16000, 16000, 17500], [16000, 18500, 18500, 20000]),
    (8400, 238, [14285, 16000, 16190, 17500], [14285, 16000, 16190, 17500], [16190, 18500, 18571, 20000]),
    (8800, 227, [14090, 16000, 16363, 17500], [14090, 16000, 16363, 17500], [16363, 18500, 18636, 20000]),
    (9200, 217, [14347, 16000, 16086, 17500], [14347, 16000, 16086, 17500], [16087, 18500, 18695, 20000]),
];

/// Density codes, in megabits.
const DENSITIES: [u32; 10] = [256, 512, 1024, 2048, 4096, 8192, 16_384, 32_768, 12_288, 24_576];
const DDR5_DENSITIES: [u32; 9] = [0, 4096, 8192, 12_288, 16_384, 24_576, 32_768, 49_152, 65_536];

/// Codes of byte 3.
const KINDS: [(Generation, ModuleKind, FormFactor, u8); 17] = {
    use FormFactor::{Dimm, MiniDimm, SoDimm};
    use Generation::{Ddr3, Ddr4, Ddr5};
    use ModuleKind::{ClockedUnbuffered, LoadReduced, Registered, Unbuffered};
    [
        (Ddr3, Registered, Dimm, 1),
        (Ddr3, Unbuffered, Dimm, 2),
        (Ddr3, Unbuffered, SoDimm, 3),
        (Ddr3, LoadReduced, Dimm, 11),
        (Ddr4, Registered, Dimm, 1),
        (Ddr4, Unbuffered, Dimm, 2),
        (Ddr4, Unbuffered, SoDimm, 3),
        (Ddr4, LoadReduced, Dimm, 4),
        (Ddr4, Registered, MiniDimm, 5),
        (Ddr4, Unbuffered, MiniDimm, 6),
        (Ddr4, Registered, SoDimm, 8),
        (Ddr5, Registered, Dimm, 1),
        (Ddr5, Unbuffered, Dimm, 2),
        (Ddr5, Unbuffered, SoDimm, 3),
        (Ddr5, LoadReduced, Dimm, 4),
        (Ddr5, ClockedUnbuffered, Dimm, 5),
        (Ddr5, ClockedUnbuffered, SoDimm, 6),
    ]
};

/// Byte 6 of DDR4, and bits 7 to 5 of byte 4 of DDR5.
const STACKS: [(Stack, Option<u8>, Option<u8>); 7] = [
    (Stack::Single, Some(0x00), Some(0)),
    (Stack::DualDie, Some(0x91), None),
    (Stack::QuadDie, Some(0xb1), None),
    (Stack::Stacked2, Some(0x92), Some(2)),
    (Stack::Stacked4, Some(0xb2), Some(3)),
    (Stack::Stacked8, Some(0xf2), Some(4)),
    (Stack::Stacked16, None, Some(5)),
];

const RANGES: [TemperatureRange; 9] = {
    use TemperatureRange::{A1t, A2t, A3t, Et, It, Nt, Rt, St, Xt};
    [A1t, A2t, A3t, It, St, Et, Rt, Nt, Xt]
};

/// The letters of raw cards.
const ALPHABET: &str = "ABCDEFGHJKLMNPRTUVWY";

/// All raw cards of DDR4 in order: A to Y, AA to AY, BA to BY, CA, CB.
pub(crate) fn cards() -> Vec<String> {
    let letters = || ALPHABET.chars();
    let pairs = "ABC".chars().flat_map(|first| letters().map(move |second| format!("{first}{second}")));
    letters().map(String::from).chain(pairs).take(62).collect()
}

pub(crate) fn set(image: &mut [u8], (at, high, low): Bits, value: u8) {
    let width = high - low + 1;
    assert!(width == 8 || value < 1 << width, "{value} at byte {at}");
    let mask = u8::try_from((1_u16 << width) - 1).unwrap() << low;
    image[at] = image[at] & !mask | value << low;
}

/// The checksum bit by bit.
pub(crate) fn slow_crc(bytes: &[u8]) -> u16 {
    let mut crc = 0_u16;
    for &byte in bytes {
        crc ^= u16::from(byte) << 8;
        for _ in 0..8 {
            crc = if crc & 0x8000 == 0 { crc << 1 } else { crc << 1 ^ 0x1021 };
        }
    }
    crc
}

/// Puts the right checksums in.
pub(crate) fn seal(mut image: Vec<u8>) -> Vec<u8> {
    let layout = layout(match image[2] {
        0x0b => Generation::Ddr3,
        0x12 => Generation::Ddr5,
        _ => Generation::Ddr4,
    });
    for &(first, last, at) in layout.checksums {
        if at + 1 < image.len() {
            let crc = slow_crc(&image[first..=last]);
            image[at..at + 2].copy_from_slice(&crc.to_le_bytes());
        }
    }
    image
}

/// An image of a generation with nothing in it.
pub(crate) fn empty(generation: Generation) -> Vec<u8> {
    let layout = layout(generation);
    let mut image = vec![0; layout.length];
    image[2] = layout.key;
    image
}

/// An image of a generation with these bytes, sealed and read.
pub(crate) fn image(generation: Generation, bytes: &[(usize, u8)]) -> SpdImage {
    let mut image = empty(generation);
    bytes.iter().for_each(|&(at, byte)| image[at] = byte);
    SpdImage::read(&seal(image)).unwrap()
}

/// A time, of which DDR3 and DDR4 store multiples of 125 ps and what is to be added to them.
pub(crate) fn set_time(image: &mut [u8], generation: Generation, time: usize, picoseconds: u32) {
    let (coarse_at, fine_at) = layout(generation).times[time];
    if generation == Generation::Ddr5 {
        image[coarse_at..coarse_at + 2].copy_from_slice(&u16::try_from(picoseconds).unwrap().to_le_bytes());
        return;
    }
    let coarse = picoseconds.div_ceil(125);
    let below = u8::try_from(coarse * 125 - picoseconds).unwrap();
    image[coarse_at] = u8::try_from(coarse).unwrap();
    image[fine_at] = below.wrapping_neg();
}

pub(crate) fn set_cas(image: &mut [u8], generation: Generation, cas: u8) {
    let (at, first, step) = layout(generation).cas;
    let bit = (cas - first) / step;
    image[at + usize::from(bit / 8)] |= 1 << (bit % 8);
}

/// Clock period, tAA, tRCD, tRP in picoseconds, and the CAS latency.
fn times(label: &Label) -> ([u32; 4], u8) {
    let name = label.data_rate().name_mts();
    let stacked = label.organization().stack.is_stacked();
    let clocks = label.latencies().unwrap_or_else(|| match label.speed_bin() {
        // two bins each: JESD79-4-1B tables 24 and 25
        SpeedBin::Ddr4(bin) if name == 2133 && bin.letters() == "P" => (18, 15, 15),
        SpeedBin::Ddr4(bin) if name == 2400 && bin.letters() == "U" => (20, 18, 18),
        _ => panic!("{label} has no known latencies"),
    });
    if let SpeedBin::Ddr5(bin) = label.speed_bin() {
        let (_, clock, single, trcd, high) = DDR5_TIMES.into_iter().find(|row| row.0 == name).unwrap();
        let column = Ddr5Bin::ALL.iter().position(|&other| other == bin).unwrap();
        let taa = if stacked { high[column] } else { single[column] };
        return ([clock, taa, trcd[column], trcd[column]], clocks.0);
    }
    let clocks_of: &[(u32, u32)] = if label.generation() == Generation::Ddr3 { &DDR3_CLOCKS } else { &DDR4_CLOCKS };
    let (_, clock) = clocks_of.iter().copied().find(|row| row.0 == name).unwrap();
    let time = |clocks: u8| clock * u32::from(clocks);
    ([clock, time(clocks.0), time(clocks.1), time(clocks.2)], clocks.0)
}

/// What the maker writes.
pub(crate) struct Making {
    pub(crate) maker: [u8; 2],
    pub(crate) week: [u8; 2],
    pub(crate) serial: [u8; 4],
    pub(crate) part: &'static str,
}

pub(crate) const MAKING: Making =
    Making { maker: [0x80, 0x04], week: [0x25, 0x36], serial: [0x33, 0x43, 0x6b, 0xce], part: "GW-16-2R4 K7" };

fn densities(generation: Generation) -> &'static [u32] {
    if generation == Generation::Ddr5 { &DDR5_DENSITIES } else { &DENSITIES }
}

/// Whether images of the label's generation know its dies.
pub(crate) fn can_encode(label: &Label) -> bool {
    label.die_density().is_some_and(|density| densities(label.generation()).contains(&density.mbit()))
}

/// The image of a module with this label, whose height is 32 mm at most.
pub(crate) fn encode(label: &Label) -> Vec<u8> {
    let (generation, module, organization) = (label.generation(), label.module(), label.organization());
    let layout = layout(generation);
    let mut image = empty(generation);
    image[0] = layout.size;
    let spd = label.spd_revision();
    image[1] = spd.major << 4 | spd.minor;
    if label.variant().is_some() && generation == Generation::Ddr4 {
        image[2] = 0x0e;
    }
    let form = module.form_factor().unwrap();
    let ecc = module.ecc().unwrap_or(Ecc::None);
    let kind = match (generation, form, ecc) {
        // unbuffered small-outline modules with check bits have codes of their own before DDR5
        (Generation::Ddr3, FormFactor::SoDimm, Ecc::Ecc) => 8,
        (Generation::Ddr4, FormFactor::SoDimm, Ecc::Ecc) if module.kind() == ModuleKind::Unbuffered => 9,
        _ => KINDS.into_iter().find(|&(g, k, f, _)| (g, k, f) == (generation, module.kind(), form)).unwrap().3,
    };
    set(&mut image, layout.kind, kind);
    let mbit = module.die_density().unwrap().mbit();
    set(&mut image, layout.density, code_of(densities(generation), &mbit));
    let ranks = match organization.package_ranks {
        8 if generation == Generation::Ddr3 => 4,
        ranks => ranks - 1,
    };
    set(&mut image, layout.ranks, ranks);
    set(&mut image, layout.width, code_of(DeviceWidth::ALL, &organization.width));
    let (_, ddr4, ddr5) = STACKS.into_iter().find(|row| row.0 == organization.stack).unwrap();
    match generation {
        Generation::Ddr3 => {
            let voltages = module.voltages().unwrap();
            let operable = |voltage, bit| if voltages.contains(voltage) { bit } else { 0 };
            image[6] = operable(Voltage::V1_35, 2) | operable(Voltage::V1_25, 4);
            // 1 ps and 125 ps
            image[9..12].copy_from_slice(&[0x11, 1, 8]);
        }
        Generation::Ddr4 => (image[6], image[11]) = (ddr4.unwrap(), 0x03),
        Generation::Ddr5 => set(&mut image, (4, 7, 5), ddr5.unwrap()),
    }
    set(&mut image, layout.primary, if generation == Generation::Ddr5 { 2 } else { 3 });
    layout.sub_channels.into_iter().for_each(|sub_channels| set(&mut image, sub_channels, 1));
    let check = match ecc {
        Ecc::None => 0,
        Ecc::Ecc | Ecc::Ec4 => 1,
        Ecc::Ec8 => 2,
    };
    set(&mut image, layout.check, check);
    let (picoseconds, cas) = times(label);
    for (time, picoseconds) in picoseconds.into_iter().enumerate() {
        set_time(&mut image, generation, time, picoseconds);
    }
    set_cas(&mut image, generation, cas);
    set(&mut image, layout.height, 17);
    set_card(&mut image, layout, &label.raw_card().to_string());
    if let (Some(own), Some(range)) = (label.module_spd_revision(), label.temperature_range()) {
        image[192] = own.major << 4 | own.minor;
        set(&mut image, (233, 7, 4), code_of(&RANGES, &range));
    }
    write_making(&mut image, generation, &MAKING);
    seal(image)
}

fn code_of<T: PartialEq>(all: &[T], value: &T) -> u8 {
    u8::try_from(all.iter().position(|other| other == value).unwrap()).unwrap()
}

fn set_card(image: &mut [u8], layout: &Layout, card: &str) {
    if card == "ZZZ" {
        return set(image, layout.card, 31);
    }
    let (letters, revision) = card.split_at(card.len() - 1);
    let (code, revision) = (code_of(&cards(), &letters.to_owned()), revision.parse::<u8>().unwrap());
    match (layout.card_half, layout.card_extension) {
        (Some(half), Some(extension)) => {
            set(image, half, u8::from(code > 30));
            set(image, layout.card, if code > 30 { code - 31 } else { code });
            set(image, extension, revision.saturating_sub(3));
            set(image, layout.card_revision, revision.min(3));
        }
        _ => {
            set(image, layout.card, code);
            set(image, layout.card_revision, revision);
        }
    }
}

pub(crate) fn write_making(image: &mut [u8], generation: Generation, making: &Making) {
    let Layout { making: [maker, week, serial], part: (part, length), .. } = *layout(generation);
    image[maker..maker + 2].copy_from_slice(&making.maker);
    image[maker + 2] = 0x02;
    image[week..week + 2].copy_from_slice(&making.week);
    image[serial..serial + 4].copy_from_slice(&making.serial);
    image[part..part + length].fill(b' ');
    image[part..part + making.part.len()].copy_from_slice(making.part.as_bytes());
}
