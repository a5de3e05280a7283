//! Where readers of such images go wrong.

use crate::intake::spd::block::crc;
use crate::intake::spd::tests::encoder::{empty, encode, image, seal, slow_crc};
use crate::intake::spd::{SpdError, SpdImage};
use crate::module::{FormFactor, Generation, Label, ModuleKind, Stack, Voltages};
use crate::population::{DeviceSort, Remarked};
use crate::unit::{Capacity, DataRate, Voltage};

// The check value of this checksum.
#[test]
fn checksum() {
    assert_eq!(crc(b"123456789"), 0x31c3);
    assert_eq!(slow_crc(b"123456789"), 0x31c3);
    let bytes: Vec<u8> = (0..=255).cycle().take(510).collect();
    for length in 0..=510 {
        assert_eq!(crc(&bytes[..length]), slow_crc(&bytes[..length]));
    }
}

#[test]
fn a_wrong_checksum_stops_nothing() {
    let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap();
    let mut bytes = encode(&label);
    bytes[130] ^= 1;
    let image = SpdImage::read(&bytes).unwrap();
    assert!(!image.is_sound());
    let blocks: Vec<_> = image.blocks().iter().map(|block| (block.first, block.last, block.is_sound())).collect();
    assert_eq!(blocks, [(0, 125, true), (128, 253, false)]);
    assert!(image.blocks()[1].covers(128) && !image.blocks()[1].covers(254));
    assert_eq!(image.capacity(), Some(Capacity::from_gib(32)));
    assert_eq!(image.label().unwrap().to_string(), "32GB 2Rx4 PC4-2400T-RA2-11");
    let remarks = image.remarks();
    assert_eq!(remarks[0].at, "bytes 128 to 253");
    assert!(matches!(remarks[0].says, Remarked::Checksum { stored, computed, .. } if stored != computed));
}

// Annex K: byte 0 says how far the checksum of DDR3 goes.
#[test]
fn the_checksum_of_ddr3_may_leave_out_the_serial_number() {
    for (byte, last) in [(0x12, 125), (0x92, 116)] {
        let mut bytes = empty(Generation::Ddr3);
        bytes[0] = byte;
        bytes[122] = 7;
        let crc = slow_crc(&bytes[..=last]);
        bytes[126..128].copy_from_slice(&crc.to_le_bytes());
        let image = SpdImage::read(&bytes).unwrap();
        assert_eq!((image.blocks()[0].last, image.is_sound()), (last, true));
    }
}

// A blank image passes every checksum.
#[test]
fn blank_images() {
    for byte in [0, 0xff] {
        for length in [3, 128, 256, 512, 1024] {
            assert_eq!(SpdImage::read(&vec![byte; length]), Err(SpdError::Blank { byte }));
        }
    }
    let mut bytes = vec![0; 512];
    bytes[0] = 0x23;
    assert_eq!(SpdImage::read(&bytes), Err(SpdError::UnknownKey { key: 0 }));
}

// JESD21-C 4.1.2.L-6 table 16, JESD400-5C table 20.
#[test]
fn other_generations() {
    for (key, name) in [
        (0x07, "DDR"),
        (0x08, "DDR2"),
        (0x0f, "LPDDR3"),
        (0x10, "LPDDR4"),
        (0x11, "LPDDR4X"),
        (0x13, "LPDDR5"),
        (0x14, "DDR5 NVDIMM-P"),
        (0x15, "LPDDR5X"),
    ] {
        let mut bytes = vec![0; 512];
        bytes[2] = key;
        assert_eq!(SpdImage::read(&bytes), Err(SpdError::OtherGeneration { key, name }));
    }
    let mut bytes = vec![0; 512];
    bytes[2] = 0x42;
    assert_eq!(SpdImage::read(&bytes), Err(SpdError::UnknownKey { key: 0x42 }));
}

#[test]
fn lengths() {
    for (generation, least, lengths) in [
        (Generation::Ddr3, 128, [128, 176, 256]),
        (Generation::Ddr4, 128, [256, 384, 512]),
        (Generation::Ddr5, 512, [512, 1024, 2048]),
    ] {
        let mut bytes = empty(generation);
        bytes.resize(2048, 0);
        for length in 0..=2048 {
            let read = SpdImage::read(&bytes[..length]);
            assert_eq!(read.is_ok(), length >= least, "{generation} {length}");
            assert!(lengths.iter().all(|&usual| usual != length) || read.is_ok());
        }
    }
    let error = SpdImage::read(&empty(Generation::Ddr5)[..511]).unwrap_err();
    assert_eq!(error, SpdError::TooShort { found: 511, needed: 512 });
    assert_eq!(SpdImage::read(&[]), Err(SpdError::TooShort { found: 0, needed: 128 }));
}

// The first page of DDR4 has all but the manufacturing data.
#[test]
fn a_first_page_alone() {
    let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap();
    let page = SpdImage::read(&encode(&label)[..256]).unwrap();
    assert_eq!(page.label(), Some(label.clone()));
    assert!(page.is_sound() && page.blocks().len() == 2);
    assert_eq!((page.part_number(), page.serial(), page.maker_id(), page.made()), (None, None, None, None));
    assert_eq!(page.remarks()[0].to_string(), "byte 256: the input ends after 256 of 512 bytes");
    let half = SpdImage::read(&encode(&label)[..128]).unwrap();
    assert_eq!(half.capacity(), Some(Capacity::from_gib(32)));
    assert_eq!((half.raw_card(), half.height(), half.label(), half.blocks().len()), (None, None, None, 1));
}

// Dies count only in single-load stacks.
#[test]
fn dual_die_packages_do_not_multiply() {
    let image = image(Generation::Ddr4, &[(4, 0x86), (6, 0x91), (12, 0x18), (13, 0x0b)]);
    assert_eq!(image.stack(), Some(Stack::DualDie));
    assert_eq!(image.capacity(), Some(Capacity::from_gib(128)));
}

// Codes 8 and 9 of byte 3 are the other way round in DDR3 and DDR4; load-reduced is 11 and 4.
#[test]
fn kinds() {
    use FormFactor::{Dimm, MiniDimm, Other, SoDimm};
    use ModuleKind::{
        ClockedUnbuffered, CompressionAttached, LoadReduced, MultiplexedRank, Registered, Soldered, Unbuffered,
    };
    let none = None;
    let ddr3 = [
        none,
        Some((Registered, Dimm)),
        Some((Unbuffered, Dimm)),
        Some((Unbuffered, SoDimm)),
        Some((Unbuffered, Other)),
        Some((Registered, MiniDimm)),
        Some((Unbuffered, MiniDimm)),
        Some((ClockedUnbuffered, MiniDimm)),
        Some((Unbuffered, SoDimm)),
        Some((Registered, SoDimm)),
        Some((ClockedUnbuffered, SoDimm)),
        Some((LoadReduced, Dimm)),
        Some((Unbuffered, SoDimm)),
        Some((Unbuffered, SoDimm)),
        none,
        none,
    ];
    let ddr4 = [
        none,
        Some((Registered, Dimm)),
        Some((Unbuffered, Dimm)),
        Some((Unbuffered, SoDimm)),
        Some((LoadReduced, Dimm)),
        Some((Registered, MiniDimm)),
        Some((Unbuffered, MiniDimm)),
        none,
        Some((Registered, SoDimm)),
        Some((Unbuffered, SoDimm)),
        none,
        none,
        Some((Unbuffered, SoDimm)),
        Some((Unbuffered, SoDimm)),
        none,
        none,
    ];
    let ddr5 = [
        none,
        Some((Registered, Dimm)),
        Some((Unbuffered, Dimm)),
        Some((Unbuffered, SoDimm)),
        Some((LoadReduced, Dimm)),
        Some((ClockedUnbuffered, Dimm)),
        Some((ClockedUnbuffered, SoDimm)),
        Some((MultiplexedRank, Dimm)),
        Some((CompressionAttached, Other)),
        none,
        none,
        Some((Soldered, Other)),
        none,
        none,
        none,
        none,
    ];
    for (generation, sorts) in [(Generation::Ddr3, ddr3), (Generation::Ddr4, ddr4), (Generation::Ddr5, ddr5)] {
        for (code, sort) in (0_u8..).zip(sorts) {
            let image = image(generation, &[(3, code)]);
            assert_eq!(image.kind().zip(image.form_factor()), sort, "{generation} {code}");
            let remark = format!("byte 3: kind: {code:#04x} is not known");
            assert_eq!(image.remarks().iter().any(|said| said.to_string() == remark), sort.is_none());
        }
    }
}

#[test]
fn modules_with_storage() {
    for (generation, byte, device) in [
        (Generation::Ddr4, 0x91, DeviceSort::Hybrid),
        (Generation::Ddr4, 0xa1, DeviceSort::Persistent),
        (Generation::Ddr4, 0xb1, DeviceSort::Hybrid),
        (Generation::Ddr5, 0x91, DeviceSort::Hybrid),
        (Generation::Ddr5, 0xa1, DeviceSort::Persistent),
    ] {
        let image = image(generation, &[(3, byte)]);
        assert_eq!((image.device(), image.module().device), (Some(device), Some(device)));
        assert_eq!(image.kind(), Some(ModuleKind::Registered));
        let remark = "byte 3: what is beside the memory is not read: the module is no plain memory";
        assert!(image.remarks().iter().any(|said| said.to_string() == remark));
    }
    // a third block
    let image = image(Generation::Ddr4, &[(3, 0x91), (300, 1)]);
    let blocks = image.blocks();
    assert_eq!((blocks.len(), blocks[2].first, blocks[2].is_sound()), (3, 256, false));
    // storage without the mark of it, and a mark without known storage
    for (generation, byte) in [(Generation::Ddr4, 0x11), (Generation::Ddr4, 0xf1), (Generation::Ddr3, 0x81)] {
        let image = crate::intake::spd::tests::encoder::image(generation, &[(3, byte)]);
        let remark = format!("byte 3: sort of device: {byte:#04x} is not known");
        assert!(image.remarks().iter().any(|said| said.to_string() == remark), "{byte:#x}");
    }
}

// Bit 0 of byte 6 of DDR3 means "not".
#[test]
fn voltages() {
    let (v1_25, v1_35, v1_5) = (Voltage::V1_25, Voltage::V1_35, Voltage::V1_5);
    for (byte, voltages) in
        [(0x00, &[v1_5][..]), (0x02, &[v1_35, v1_5]), (0x06, &[v1_25, v1_35, v1_5]), (0x03, &[v1_35]), (0x01, &[])]
    {
        let image = image(Generation::Ddr3, &[(6, byte)]);
        assert_eq!(image.voltages(), Voltages::new(voltages.iter().copied()), "{byte:#x}");
        assert_eq!(image.remarks().iter().any(|remark| remark.at == "byte 6"), voltages.is_empty());
    }
    assert_eq!(image(Generation::Ddr4, &[(11, 0x03)]).voltages(), Some(Voltages::only(Voltage::V1_2)));
    assert_eq!(image(Generation::Ddr4, &[(11, 0x00)]).voltages(), None);
    assert_eq!(image(Generation::Ddr5, &[]).voltages(), Some(Voltages::only(Voltage::V1_1)));
    assert_eq!(image(Generation::Ddr5, &[(16, 0x10)]).voltages(), None);
}

// DDR5: the clocks of tAA made even; 4800B is 40-39-39.
#[test]
fn the_cas_latency_of_ddr5_is_even() {
    let label: Label = "64GB 2Rx4 PC5-4800B-RA0-1010-XT".parse().unwrap();
    let mut bytes = encode(&label);
    let image = SpdImage::read(&bytes).unwrap();
    assert_eq!(image.timings().unwrap().clocks, (40, 39, 39));
    // a latency that the module does not support
    bytes[24..29].copy_from_slice(&[1, 0, 0, 0, 0]);
    let image = SpdImage::read(&seal(bytes)).unwrap();
    assert_eq!((image.timings(), image.label()), (None, None));
    assert_eq!(image.grade(), Some(DataRate::DDR5_4800));
    let remark = "byte 30: CAS latency: 0x27 is left out: the module supports none as high";
    assert!(image.remarks().iter().any(|said| said.to_string() == remark));
}

// Programs that run such images above their rate keep theirs in the user area.
#[test]
fn the_user_area_has_no_weight() {
    let label: Label = "64GB 2Rx4 PC5-4800B-RA0-1010-XT".parse().unwrap();
    let mut bytes = encode(&label);
    let before = SpdImage::read(&bytes).unwrap();
    bytes[640..].fill(0x5a);
    assert_eq!(SpdImage::read(&bytes).unwrap(), before);
}

#[test]
fn ddr4e_counts_as_ddr4() {
    let label: Label = "32GB 2DRx8 PC4E-2400U-UZZZ-11".parse().unwrap();
    let image = SpdImage::read(&encode(&label)).unwrap();
    assert_eq!((image.generation(), image.is_ddr4e()), (Generation::Ddr4, true));
}

// Every length but that of the device is said, with what is not in the image for it.
#[test]
fn unusual_lengths_are_said() {
    let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap();
    let mut bytes = encode(&label);
    bytes.resize(2048, 0);
    let said = |length: usize| -> Vec<String> {
        let image = SpdImage::read(&bytes[..length]).unwrap();
        image
            .remarks()
            .iter()
            .map(ToString::to_string)
            .filter(|text| text.contains("image") || text.contains("input"))
            .collect()
    };
    assert_eq!(
        said(128),
        [
            "byte 128: the input ends after 128 of 512 bytes",
            "byte 128: what lies behind (height and raw card, the second checksum, maker and serial number, part number) \
             is not read: the image ends before it",
        ]
    );
    assert!(said(256)[1].contains("what lies behind (maker and serial number, part number) is not read"));
    assert!(said(320)[1].contains("what lies behind (maker and serial number, part number) is not read"));
    assert!(said(340)[1].contains("what lies behind (part number) is not read"));
    for length in [384, 511] {
        assert_eq!(said(length), [format!("byte {length}: the input ends after {length} of 512 bytes")]);
    }
    assert!(said(512).is_empty());
    for length in [513, 1024] {
        assert_eq!(
            said(length),
            [format!(
                "byte 512: what follows byte 511 is not read: the image has {length} bytes, and an SPD of DDR4 has 512"
            )]
        );
    }
    let of = |generation: Generation, length: usize| {
        let mut bytes = empty(generation);
        bytes.resize(2100, 0);
        let remarks = SpdImage::read(&bytes[..length]).unwrap().remarks();
        remarks
            .iter()
            .filter(|remark| remark.to_string().contains(" bytes, and ") || remark.to_string().contains("input ends"))
            .count()
    };
    for (generation, whole, unusual) in
        [(Generation::Ddr3, vec![256], [128, 176, 257]), (Generation::Ddr5, vec![1024, 2048], [512, 1025, 2049])]
    {
        assert!(whole.iter().all(|&length| of(generation, length) == 0), "{generation}");
        assert!(unusual.iter().all(|&length| of(generation, length) == 1), "{generation}");
    }
}

// A damaged image is no source; the sound one is.
#[test]
fn what_fails_its_checksum_is_no_source() {
    let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap();
    let mut bytes = encode(&label);
    let image = SpdImage::read(&bytes).unwrap();
    assert_eq!(image.sound_module(), Ok(image.module()));
    bytes[4] ^= 1;
    assert_eq!(SpdImage::read(&bytes).unwrap().sound_module(), Err(crate::goods_in::SpdFault::Damaged));
}
