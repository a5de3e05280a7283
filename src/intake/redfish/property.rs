//! Properties of a resource.

use serde_json::{Map, Value};

use crate::intake::redfish::number;
use crate::intake::remarks::Remarks;
use crate::population::Remark;
use crate::unit::Name;

/// A resource, with what it is called in remarks.
#[derive(Debug, Clone)]
pub(crate) struct Resource<'d> {
    pub(crate) object: &'d Map<String, Value>,
    /// Its `@odata.id`, else the key that looks like one, else where it stands in the document.
    pub(crate) id: String,
}

/// Texts that stand for nothing, in small letters and without what is no letter or digit.
const PLACEHOLDERS: [&str; 14] = [
    "",
    "empty",
    "na",
    "nil",
    "nodimm",
    "none",
    "notapplicable",
    "notavailable",
    "notpresent",
    "notspecified",
    "null",
    "tobefilledbyoem",
    "undefined",
    "unknown",
];

/// Small letters and digits of a text: so values of enumerations are compared, which controllers spell in many ways.
pub(crate) fn folded(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).map(|letter| letter.to_ascii_lowercase()).take(64).collect()
}

impl<'d> Resource<'d> {
    /// What stands at a path of properties; `null` counts as nothing.
    pub(crate) fn value(&self, path: &[&str]) -> Option<&'d Value> {
        let (last, objects) = path.split_last()?;
        let mut object = self.object;
        for name in objects {
            object = object.get(*name)?.as_object()?;
        }
        object.get(*last).filter(|value| !value.is_null())
    }

    /// Where a property is, in a remark.
    pub(crate) fn at(&self, path: &[&str]) -> String {
        format!("{}#/{}", self.id, path.join("/"))
    }

    /// A text of an enumeration, as it stands there.
    pub(crate) fn word(&self, path: &[&str], remarks: &mut Remarks) -> Option<&'d str> {
        let value = self.value(path)?;
        let text = value.as_str().map(str::trim);
        if text.is_none() {
            self.unread(path, value, "it is no text", remarks);
        }
        text.filter(|text| !text.is_empty())
    }

    /// A text that names something; placeholders are left out.
    pub(crate) fn name(&self, path: &[&str], remarks: &mut Remarks) -> Option<Name> {
        let text = self.word(path, remarks)?;
        let stands_for_nothing = PLACEHOLDERS.contains(&folded(text).as_str()) && text.is_ascii();
        (!stands_for_nothing).then(|| Name::lossy(text)).filter(|name| *name != "?")
    }

    /// A whole number.
    pub(crate) fn whole(&self, path: &[&str], remarks: &mut Remarks) -> Option<u64> {
        let value = self.value(path)?;
        let number = number::whole(value);
        if number.is_none() {
            self.unread(path, value, "it is no whole number, or one out of range", remarks);
        }
        number
    }

    /// Says that a value cannot be right.
    pub(crate) fn unread(&self, path: &[&str], value: &Value, why: &str, remarks: &mut Remarks) {
        let found = match value {
            Value::String(text) => text.chars().take(60).collect(),
            Value::Array(_) => "a list".to_owned(),
            Value::Object(_) => "an object".to_owned(),
            value => value.to_string(),
        };
        let field = path.last().copied().unwrap_or_default();
        remarks.add(|| Remark::unbelievable(&self.at(path), field, &found, why));
    }

    /// Says that a word of an enumeration is not known.
    pub(crate) fn unknown(&self, path: &[&str], word: &str, remarks: &mut Remarks) {
        let found: String = word.chars().take(60).collect();
        let field = path.last().copied().unwrap_or_default();
        remarks.add(|| Remark::unknown_code(&self.at(path), field, &found));
    }

    /// The address of the only link in a list.
    pub(crate) fn only_link(&self, path: &[&str]) -> Option<&'d str> {
        match self.value(path)? {
            Value::Array(links) => match links.as_slice() {
                [link] => link.get("@odata.id")?.as_str(),
                _ => None,
            },
            link => link.get("@odata.id")?.as_str(),
        }
    }
}
