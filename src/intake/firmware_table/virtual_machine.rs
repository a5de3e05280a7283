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
    let is_end = |letter: Option<char>| !letter.is_some_and(char::is_alphanumeric);
    let is_sign =
        |rest: &str| SIGNS.iter().any(|sign| rest.strip_prefix(sign).is_some_and(|after| is_end(after.chars().next())));
    let mut before = None;
    lower.char_indices().any(|(at, letter)| {
        let begins = is_end(before.replace(letter));
        begins && lower.get(at..).is_some_and(is_sign)
    })
}
