use crate::intake::firmware_table::Table;
use crate::intake::firmware_table::said::name;
use crate::unit::Name;

/// What virtual machines report of themselves, in lower case: names of products, since that is what stands in reports.
const SIGNS: [&str; 18] = [
    "amazon ec2",
    "bhyve",
    "bochs",
    "domu",
    "google compute engine",
    "hyper-v",
    "hypervisor",
    "kvm",
    "openstack",
    "ovirt",
    "parallels",
    "qemu",
    "virtual machine",
    "virtual platform",
    "virtualbox",
    "vmware",
    "xen",
    "xenserver",
];

/// The text by which the machine is none of hardware.
pub(crate) fn virtual_machine(table: &Table<'_>) -> Option<Name> {
    let Table { product, maker, firmware_maker, firmware, .. } = table;
    let texts = [product, maker, firmware_maker, firmware].into_iter().filter_map(|said| said.text());
    texts.filter(|text| says_so(text)).map(name).next()
}

/// Whether one of the signs stands in a text, as words of their own.
fn says_so(text: &str) -> bool {
    // a longer one is no name of a machine
    let lower: String = text.chars().take(120).map(|letter| letter.to_ascii_lowercase()).collect();
    let is_sign = |sign: &&str| {
        lower.match_indices(*sign).any(|(at, sign)| {
            let before = lower.get(..at).and_then(|before| before.chars().next_back());
            let after = lower.get(at + sign.len()..).and_then(|after| after.chars().next());
            let is_end = |letter: Option<char>| !letter.is_some_and(char::is_alphanumeric);
            is_end(before) && is_end(after)
        })
    };
    SIGNS.iter().any(is_sign)
}
