//! The resources of a document.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use crate::intake::redfish::number;
use crate::intake::redfish::property::Resource;
use crate::intake::redfish::resources::Sort;
use crate::intake::remarks::Remarks;
use crate::population::Remark;

/// How deep resources are looked for.
pub(crate) const DEEPEST: usize = 64;

/// What a document has, each resource once.
#[derive(Debug, Default)]
pub(crate) struct Found<'d> {
    pub(crate) memory: Vec<Resource<'d>>,
    pub(crate) processors: Vec<Resource<'d>>,
    pub(crate) systems: Vec<Resource<'d>>,
    /// Whether a collection of Memory is there, and all members of each.
    pub(crate) is_complete: bool,
    has_collection: bool,
}

/// The way down to an object.
#[derive(Clone, Copy)]
struct Way<'w> {
    up: Option<&'w Way<'w>>,
    step: Step<'w>,
    depth: usize,
}

#[derive(Clone, Copy)]
enum Step<'w> {
    Top,
    Key(&'w str),
    Place(usize),
}

impl<'w> Way<'w> {
    const fn down(&'w self, step: Step<'w>) -> Self {
        Self { up: Some(self), step, depth: self.depth + 1 }
    }

    /// `Members[3]`; of long keys the beginning.
    fn text(&self) -> String {
        let above = self.up.map(Self::text).unwrap_or_default();
        match self.step {
            Step::Top => above,
            Step::Key(key) => {
                let key: String = key.chars().take(30).collect();
                if above.is_empty() { key } else { format!("{above}.{key}") }
            }
            Step::Place(place) => format!("{above}[{place}]"),
        }
    }

    /// A key that is an address.
    fn address(&self) -> Option<&'w str> {
        match self.step {
            Step::Key(key) if key.starts_with('/') => Some(key),
            _ => None,
        }
    }
}

/// While the document is walked through.
#[derive(Default)]
struct Search<'d> {
    sorts: [Vec<Resource<'d>>; 3],
    /// Where an address is among them.
    known: BTreeMap<String, (usize, usize)>,
    collections: Vec<(Sort, Resource<'d>)>,
    too_deep: u64,
}

impl<'d> Found<'d> {
    pub(crate) fn search(document: &'d Value, remarks: &mut Remarks) -> Self {
        let mut search = Search::default();
        search.walk(document, &Way { up: None, step: Step::Top, depth: 0 }, remarks);
        if search.too_deep > 0 {
            let why = format!("they are more than {DEEPEST} levels deep");
            remarks.add(|| Remark::unread("the document", &format!("{} of its parts", search.too_deep), &why));
        }
        let Search { sorts: [memory, processors, systems], known, collections, .. } = search;
        let mut found = Self { memory, processors, systems, ..Self::default() };
        let mut complete = BTreeSet::new();
        for (sort, collection) in &collections {
            found.has_collection = true;
            let is_complete = is_complete(collection, &known, remarks);
            if *sort == Sort::MemoryCollection {
                complete.insert(is_complete);
            }
        }
        found.is_complete = !complete.is_empty() && !complete.contains(&false);
        found
    }

    pub(crate) fn is_empty(&self) -> bool {
        let resources = [&self.memory, &self.processors, &self.systems];
        !self.has_collection && resources.iter().all(|resources| resources.is_empty())
    }
}

impl<'d> Search<'d> {
    fn walk(&mut self, value: &'d Value, way: &Way<'_>, remarks: &mut Remarks) {
        let is_branch = value.is_object() || value.is_array();
        if is_branch && way.depth > DEEPEST {
            self.too_deep = self.too_deep.saturating_add(1);
            return;
        }
        match value {
            Value::Array(values) => {
                for (place, value) in values.iter().enumerate() {
                    self.walk(value, &way.down(Step::Place(place)), remarks);
                }
            }
            Value::Object(object) => {
                self.take(object, way, remarks);
                // what makers add may look like anything
                for (key, value) in object.iter().filter(|(key, _)| *key != "Oem") {
                    self.walk(value, &way.down(Step::Key(key)), remarks);
                }
            }
            _ => {}
        }
    }

    fn take(&mut self, object: &'d Map<String, Value>, way: &Way<'_>, remarks: &mut Remarks) {
        let address = object.get("@odata.id").and_then(Value::as_str).or_else(|| way.address());
        let Some(sort) = Sort::of(object, address) else { return };
        let id = address.map_or_else(|| way.text(), str::to_owned);
        let resource = Resource { object, id: if id.is_empty() { "the document".to_owned() } else { id } };
        let kind = match sort {
            Sort::Memory => 0,
            Sort::Processor => 1,
            Sort::System => 2,
            Sort::MemoryCollection | Sort::OtherCollection => return self.collections.push((sort, resource)),
        };
        let [memory, processors, systems] = &mut self.sorts;
        let resources = match kind {
            0 => memory,
            1 => processors,
            _ => systems,
        };
        let Some(address) = address else { return resources.push(resource) };
        match self.known.get(address) {
            Some(&(other_kind, place)) if other_kind == kind => {
                if let Some(known) = resources.get_mut(place).filter(|known| known.object != object) {
                    let (found, with) = ("one of its forms", "another; that with more properties is read");
                    remarks.add(|| Remark::contradiction(address, "resource", found, with));
                    if known.object.len() < object.len() {
                        *known = resource;
                    }
                }
            }
            _ => {
                self.known.insert(address.to_owned(), (kind, resources.len()));
                resources.push(resource);
            }
        }
    }
}

/// Whether all members of a collection are in the document.
fn is_complete(collection: &Resource<'_>, known: &BTreeMap<String, (usize, usize)>, remarks: &mut Remarks) -> bool {
    let members = collection.object.get("Members").and_then(Value::as_array).map_or(&[][..], Vec::as_slice);
    let is_link = |member: &&Value| member.as_object().is_none_or(|member| member.len() <= 1);
    let is_there = |member: &&Value| {
        member.get("@odata.id").and_then(Value::as_str).is_some_and(|address| known.contains_key(address))
    };
    let missing = members.iter().filter(is_link).filter(|member| !is_there(member)).count();
    let mut is_complete = true;
    let mut say = |property: &str, what: &str, why: &str| {
        is_complete = false;
        remarks.add(|| Remark::unread(&collection.at(&[property]), what, why));
    };
    if missing > 0 {
        say("Members", &format!("a number of {missing} members"), "there are links to them alone");
    }
    if collection.value(&["Members@odata.nextLink"]).is_some() {
        say("Members@odata.nextLink", "a further page", "it is not in the document");
    }
    let count = collection.value(&["Members@odata.count"]).and_then(number::whole);
    let listed = u64::try_from(members.len()).unwrap_or(u64::MAX);
    if let Some(count) = count.filter(|&count| count != listed) {
        say("Members@odata.count", &format!("the difference to {count} members"), &format!("{listed} are listed"));
    }
    is_complete
}
