//! Makes a case small: whatever of its document can be left out is left out, as long as it fails in the same way.

use serde_json::Value;

use crate::one_truth::asked::Difference;
use crate::one_truth::case::Case;
use crate::one_truth::law::{Law, check};

/// The most attempts: built for release, a case is made as small as it gets.
const ATTEMPTS: usize = if cfg!(debug_assertions) { 300 } else { 5000 };

/// Facts that a module keeps.
const FACTS: [&str; 8] =
    ["die_density_mbit", "ecc", "form_factor", "grade_mts", "package_ranks", "stack", "voltages_mv", "width"];

/// What every module states, and nothing else does together.
const MODULE: [&str; 3] = ["generation", "kind", "capacity_mib"];

/// A position in a document: keys and indexes.
type Path = Vec<usize>;

fn children(value: &Value) -> usize {
    match value {
        Value::Array(items) => items.len(),
        Value::Object(fields) => fields.len(),
        _ => 0,
    }
}

fn child(value: &mut Value, index: usize) -> Option<&mut Value> {
    match value {
        Value::Array(items) => items.get_mut(index),
        Value::Object(fields) => fields.iter_mut().nth(index).map(|(_, value)| value),
        _ => None,
    }
}

/// Every position, the outer ones first.
fn positions(value: &Value) -> Vec<Path> {
    fn walk(value: &Value, at: &mut Path, depth: usize, found: &mut Vec<Path>) {
        if depth == 0 {
            found.push(at.clone());
            return;
        }
        let inner: Vec<&Value> = match value {
            Value::Array(items) => items.iter().collect(),
            Value::Object(fields) => fields.values().collect(),
            _ => Vec::new(),
        };
        for (index, value) in inner.into_iter().enumerate() {
            at.push(index);
            walk(value, at, depth - 1, found);
            at.pop();
        }
    }
    let mut found = Vec::new();
    for depth in 1..12 {
        walk(value, &mut Vec::new(), depth, &mut found);
    }
    // the machine, which stands first, comes last: the fewer modules there are, the sooner the rest is tried
    found.sort_by_key(|path| path.first() == Some(&0));
    found
}

/// The document with something less at a position.
fn smaller(document: &Value, path: &[usize]) -> Vec<Value> {
    let Some((&last, outer)) = path.split_last() else { return Vec::new() };
    let mut without = document.clone();
    let mut at = Some(&mut without);
    for &index in outer {
        at = at.and_then(|value| child(value, index));
    }
    let Some(parent) = at.filter(|parent| last < children(parent)) else { return Vec::new() };
    let number = match parent {
        Value::Object(fields) if fields.contains_key("stock") => child(parent, last).and_then(|value| value.as_u64()),
        _ => None,
    };
    match parent {
        Value::Array(items) => drop(items.remove(last)),
        Value::Object(fields) => {
            let key = fields.keys().nth(last).cloned();
            // a fact less of a module is a finding more
            let is_module = MODULE.iter().all(|&fact| fields.contains_key(fact));
            let key = key.filter(|key| !(is_module && FACTS.contains(&key.as_str())));
            key.into_iter().for_each(|key| drop(fields.remove(&key)));
        }
        _ => {}
    }
    let mut candidates = vec![without];
    for less in number.into_iter().flat_map(|number| [0, 1, number / 2].into_iter().filter(move |less| *less < number))
    {
        let mut with_less = document.clone();
        let mut at = Some(&mut with_less);
        for &index in path {
            at = at.and_then(|value| child(value, index));
        }
        if let Some(value) = at {
            *value = less.into();
            candidates.push(with_less);
        }
    }
    candidates
}

/// The smallest case that differs in the same way, with how it differs.
pub fn smallest(case: &Case, law: Law, difference: &Difference) -> (Case, Difference) {
    let mut best = (case.clone(), difference.clone());
    let mut attempts = 0;
    loop {
        let before = attempts;
        let mut document = serde_json::to_value(&best.0).unwrap();
        let (mut index, mut shrunk) = (0, false);
        let mut paths = positions(&document);
        while index < paths.len() && attempts < ATTEMPTS {
            let found = smaller(&document, &paths[index]).into_iter().find_map(|candidate| {
                let case: Case = serde_json::from_value(candidate).ok()?;
                attempts += 1;
                let other = check(&case, law).err().filter(|other| other.sort == difference.sort)?;
                (serde_json::to_value(&case).unwrap() != document).then_some((case, other))
            });
            if let Some(found) = found {
                best = found;
                document = serde_json::to_value(&best.0).unwrap();
                paths = positions(&document);
                shrunk = true;
            } else {
                index += 1;
            }
        }
        if !shrunk || attempts >= ATTEMPTS || attempts == before {
            return best;
        }
    }
}

/// What to print of a case that fails.
pub fn told(case: &Case, law: Law, difference: &Difference) -> String {
    let (case, difference) = smallest(case, law, difference);
    let json = |value: Value| value.to_string();
    let [machine, settings, request] = [
        serde_json::to_value(&case.machine).unwrap(),
        serde_json::to_value(&case.settings).unwrap(),
        serde_json::to_value(&case.request).unwrap(),
    ]
    .map(json);
    let Difference { sort, text } = difference;
    format!("{sort}\n{text}\nmachine {machine}\nsettings {settings}\nrequest {request}")
}
