use proptest::prelude::*;

use crate::intake::firmware_table::tests::encoder::{DEVICE, DEVICE_LENGTHS, Form, Structure, array, device, end};
use crate::intake::firmware_table::tests::printer::Dialect;
use crate::intake::firmware_table::tests::{read, text_name};
use crate::intake::{smbios, smbios_text};
use crate::module::ModuleKind;
use crate::population::{PlaceState, Report, SeenPlace};
use crate::unit::{Capacity, DataRate};

/// A device whose fields mostly say something, and sometimes nonsense.
fn any_device(handle: u16) -> impl Strategy<Value = Structure> {
    let length = prop::sample::select(DEVICE_LENGTHS.to_vec());
    let pick = |values: &[u64]| prop::sample::select(values.to_vec());
    let texts =
        ["A1", "Not Specified", "DIMM 0", "GW-16-2R4  ", "80CE", "NO DIMM", "0x47572D31", "00000000", "Made Up Memory"];
    let text = move || prop::option::of(prop::sample::select(texts.to_vec()));
    (
        (length, text(), text(), text(), text(), text()),
        pick(&[0, 0x7fff, 0xffff, 4096, 16_384, 0x8400]),
        pick(&[0, 65_536, 129_408, 98_304, 1 << 20]),
        (pick(&[0, 64, 72, 80, 0xffff]), pick(&[0, 64, 72])),
        (pick(&[1, 2, 5, 9, 0x0d, 0x0f, 0x12]), pick(&[0, 1, 2, 3, 0x13, 0x18, 0x1a, 0x1f, 0x22, 0x25, 0x40])),
        pick(&[0, 0x80, 0x2080, 0x4080, 0x8080, 0xa080, 0x1080, 4]),
        (pick(&[0, 1333, 1600, 2133, 2400, 2600, 4800, 50, 0xffff]), pick(&[0, 1333, 2400, 1066, 5600, 0xffff])),
        (pick(&[0, 1, 2, 4, 15]), pick(&[0, 3, 1200, 1350, 1500]), pick(&[0, 1100, 1200, 1500])),
        (pick(&[0, 2, 3, 4, 7, 8]), pick(&[0, 0xce80, 0x9801]), pick(&[0, 0xb380]), pick(&[0, 8800])),
    )
        .prop_map(move |(texts, size, extended, widths, codes, detail, rates, more, late)| {
            let (length, locator, bank, maker, serial, part) = texts;
            let mut one = device(handle, 0x1000, length).with("size", size).with("extended size", extended);
            one = one.with("total", widths.0).with("data", widths.1).with("form", codes.0).with("type", codes.1);
            one = one.with("detail", detail).with("speed", rates.0).with("running", rates.1).with("rank", more.0);
            one = one.with("least mv", more.1).with("most mv", more.2).with("running mv", more.1);
            one = one.with("technology", late.0).with("maker id", late.1).with("rcd id", late.2);
            one = one.with("extended speed", late.3).with("extended running", late.3);
            for (field, text) in
                [("locator", locator), ("bank", bank), ("maker", maker), ("serial", serial), ("part", part)]
            {
                if let Some(text) = text {
                    one = one.say(field, text);
                }
            }
            one
        })
}

pub(super) fn any_devices() -> impl Strategy<Value = Vec<Structure>> {
    (1..6_u16).prop_flat_map(|count| (0..count).map(|index| any_device(0x1100 + index)).collect::<Vec<_>>())
}

fn with_array(devices: &[Structure]) -> Vec<Structure> {
    let mut all = vec![array(0x1000, devices.len())];
    all.extend_from_slice(devices);
    all.push(end());
    all
}

fn sorted(report: &Report) -> Vec<&SeenPlace> {
    let mut places: Vec<&SeenPlace> = report.places.iter().collect();
    places.sort();
    places
}

/// What a dialect of before 3.1 leaves of the facts of a place.
fn as_an_old_tool_tells(mut place: SeenPlace) -> SeenPlace {
    if let Some(module) = place.module.as_mut() {
        module.kind = module.kind.filter(|&kind| kind != ModuleKind::Registered);
    }
    place
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_form_gives_the_same_places(devices in any_devices()) {
        let all = with_array(&devices);
        let bare = read(&all);
        for form in Form::ALL {
            let report = smbios::read(text_name("dump"), &form.wrap(&all)).unwrap();
            prop_assert_eq!(&report.places, &bare.places);
            prop_assert_eq!(report.remarks.len(), bare.remarks.len());
        }
    }

    #[test]
    fn the_order_of_structures_does_not_matter(devices in any_devices(), seed in any::<u64>()) {
        let mut all = with_array(&devices);
        all.pop();
        let report = read(&all);
        let middle = usize::try_from(seed % 97).unwrap() % all.len();
        all.rotate_left(middle);
        if seed % 2 == 0 {
            all.reverse();
        }
        let other = read(&all);
        prop_assert_eq!(sorted(&other), sorted(&report));
        prop_assert_eq!(other.remarks.len(), report.remarks.len());
    }

    #[test]
    fn bytes_and_text_of_one_table_say_the_same(devices in any_devices()) {
        let all = with_array(&devices);
        for dialect in Dialect::all() {
            let print = dialect.print(&all);
            let printed = smbios_text::read(text_name("mail"), &print).unwrap().remove(0);
            // a part number beside "no module" is not printed from 3.4 on
            let left: Vec<Structure> = all.iter().map(|one| dialect.leaves(one)).collect();
            let bytes = read(&left);
            let is_old = dialect.version < (3, 1);
            for (printed, told) in printed.places.iter().zip(&bytes.places) {
                let told = if is_old { as_an_old_tool_tells(told.clone()) } else { told.clone() };
                if told.state == PlaceState::Failed && dialect.version >= (3, 4) {
                    prop_assert_eq!(printed.state, PlaceState::Absent);
                    continue;
                }
                prop_assert_eq!(printed, &told, "{:?}\n{}", dialect, print);
            }
            prop_assert_eq!(printed.places.len(), bytes.places.len());
        }
    }

    #[test]
    fn what_is_written_is_read(gib in prop::sample::select(vec![1_u32, 4, 8, 16, 31, 32, 48, 64, 256]), ranks in 1..=8_u8, length in prop::sample::select(DEVICE_LENGTHS.to_vec()), rate in prop::sample::select(DataRate::DDR4.to_vec())) {
        let mib = u64::from(gib) * 1024;
        let one = device(0x1100, 0x1000, length).with("type", 0x1a).with("detail", 0x2080).with("rank", u64::from(ranks));
        let one = one.with("size", mib.min(0x7fff)).with("extended size", mib).with("speed", u64::from(rate.name_mts())).say("locator", "A1").say("part", "GW-1");
        let has = |name: &str| {
            let (_, at, width) = DEVICE.iter().find(|(field, ..)| *field == name).unwrap();
            at + width.max(&1) <= length
        };
        let report = read(&with_array(&[one]));
        let module = report.places[0].module.as_ref().unwrap();
        let is_told = gib < 32 || has("extended size");
        prop_assert_eq!(module.capacity_mib, is_told.then_some(Capacity::from_gib(gib)));
        prop_assert_eq!(module.capacity_at_least_mib, (!is_told).then_some(Capacity::from_gib(32)));
        prop_assert_eq!(module.rank_number, has("rank").then_some(ranks));
        prop_assert_eq!(module.grade_mts, has("speed").then_some(rate));
        prop_assert_eq!(module.part_number.clone(), has("part").then(|| text_name("GW-1")));
        prop_assert_eq!(module.kind, Some(ModuleKind::Registered));
    }
}
