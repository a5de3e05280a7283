//! A layer uses only what stands above it in `src/lib.rs`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The modules of the crate root, in order, without those that only tests have.
fn layers(lib: &str) -> Vec<String> {
    let mut for_tests = false;
    let mut layers = Vec::new();
    for line in lib.lines().map(str::trim) {
        if line == "#[cfg(test)]" {
            for_tests = true;
            continue;
        }
        let name =
            line.strip_prefix("pub ").unwrap_or(line).strip_prefix("mod ").and_then(|rest| rest.strip_suffix(';'));
        if let Some(name) = name.filter(|_| !for_tests) {
            layers.push(name.to_owned());
        }
        for_tests = false;
    }
    layers
}

/// The code of a file without comments, texts and what only tests compile.
fn code(source: &str) -> String {
    let source = source.find("#[cfg(test)]\nmod tests").map_or(source, |end| &source[..end]);
    let mut code = String::new();
    let (mut in_text, mut in_comment) = (false, false);
    let mut letters = source.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '\n' => {
                in_comment = false;
                code.push(letter);
            }
            _ if in_comment => {}
            // the next letter is escaped, in a text or as a letter
            '\\' => drop(letters.next()),
            '"' => {
                // a quotation mark between single ones is a letter
                let is_letter = !in_text && code.ends_with('\'') && letters.peek() == Some(&'\'');
                in_text ^= !is_letter;
            }
            '/' if !in_text && letters.peek() == Some(&'/') => in_comment = true,
            _ if !in_text => code.push(letter),
            _ => {}
        }
    }
    code
}

/// Every name that follows `crate::`, singly or as the first of a group.
fn roots_used(code: &str) -> Vec<String> {
    let name = |text: &str| text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut used = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = code[at + "crate::".len()..].trim_start();
        if let Some(group) = rest.strip_prefix('{') {
            let mut depth = 0usize;
            let mut item = String::new();
            for letter in group.chars() {
                match letter {
                    '{' => depth += 1,
                    '}' if depth == 0 => break,
                    '}' => depth -= 1,
                    ',' if depth == 0 => used.push(name(std::mem::take(&mut item).trim())),
                    _ if depth == 0 => item.push(letter),
                    _ => {}
                }
            }
            used.push(name(item.trim()));
        } else {
            used.push(name(rest));
        }
    }
    used.retain(|name| !name.is_empty());
    used
}

/// What a file of a layer uses and should not.
fn faults(layers: &[String], layer: &str, source: &str) -> Vec<String> {
    let place = layers.iter().position(|known| known == layer).expect("a file of a layer");
    let code = code(source);
    let mut faults: Vec<String> = roots_used(&code)
        .into_iter()
        .filter_map(|used| match layers.iter().position(|known| *known == used) {
            Some(other) if other <= place => None,
            Some(_) => Some(format!("{layer} uses {used}, which stands below it")),
            None => Some(format!("{layer} uses crate::{used}, which is no layer")),
        })
        .collect();
    if code.contains("crate as ") || code.contains("crate::*") {
        faults.push(format!("{layer} takes the crate root as a whole"));
    }
    if code.contains("super::") {
        faults.push(format!("{layer} uses a super:: path; write crate:: paths"));
    }
    faults
}

/// Every Rust file below a folder, or the file itself.
fn files(path: &Path) -> Vec<PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let mut found: Vec<PathBuf> = fs::read_dir(path)
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()))
        .flat_map(|entry| files(&entry.unwrap().path()))
        .filter(|file| file.extension().is_some_and(|ending| ending == "rs"))
        .collect();
    found.sort();
    found
}

/// Files that only tests compile: those that a `#[cfg(test)]` stands before in their folder's `mod.rs`.
fn only_tests(file: &Path) -> bool {
    file.ancestors().take_while(|path| !path.ends_with("src")).any(|path| {
        let declared =
            path.parent().and_then(|folder| fs::read_to_string(folder.join("mod.rs")).ok()).unwrap_or_default();
        let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
        declared.contains(&format!("#[cfg(test)]\nmod {stem};"))
    })
}

#[test]
fn a_layer_uses_only_what_stands_above_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let layers = layers(&fs::read_to_string(src.join("lib.rs")).unwrap());
    assert!(layers.len() > 10, "{layers:?}");
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for layer in &layers {
        let folder = src.join(layer);
        let file = src.join(format!("{layer}.rs"));
        for file in files(if folder.is_dir() { &folder } else { &file }) {
            if only_tests(&file) {
                continue;
            }
            let faults = faults(&layers, layer, &fs::read_to_string(&file).unwrap());
            if !faults.is_empty() {
                found.insert(file.display().to_string(), faults);
            }
        }
    }
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn the_checker_sees_upward_uses() {
    let layers = layers("pub mod unit;\n\nmod search;\n\npub mod module;\n#[cfg(test)]\nmod testing;\n");
    assert_eq!(layers, ["unit", "search", "module"]);
    let faults = |layer, source| faults(&layers, layer, source).len();
    assert_eq!(faults("module", "use crate::unit::{Capacity, Name};\nuse crate::module::Label;"), 0);
    assert_eq!(faults("unit", "use crate::module::Label;"), 1);
    assert_eq!(faults("unit", "use crate::{module::{Label, Stack}, unit::Name};"), 1);
    assert_eq!(faults("unit", "fn f(x: &crate::module::Label) {}"), 1);
    assert_eq!(faults("search", "impl crate::module::Label { fn upward(&self) {} }"), 1);
    assert_eq!(faults("unit", "use super::super::module::Label;"), 1);
    assert_eq!(faults("module", "use crate::Label;"), 1, "names of the root are not for the library itself");
    assert_eq!(faults("unit", "// crate::module is a comment\nlet text = \"crate::module\";"), 0);
    assert_eq!(faults("unit", "#[cfg(test)]\nmod tests {\n use crate::module::Label;\n}"), 0);
    assert_eq!(
        faults("unit", "let quote = '\"'; let x = crate::module::Label;"),
        1,
        "a quote as a letter opens no text"
    );
    assert_eq!(faults("unit", "let text = \"one\n crate::module \";"), 0, "a text may go on over lines");
    assert_eq!(faults("unit", "use crate::{\n    module::{Label, Stack},\n    unit::Name,\n};"), 1);
    assert_eq!(faults("module", "pub use crate::search::{Space, StateSet};\nuse crate::unit::{self, Name};"), 0);
    assert_eq!(faults("unit", "use crate as root;"), 1, "the crate root under another name hides a layer");
    assert_eq!(faults("unit", "use crate::*;"), 1, "a glob of the crate root hides a layer");
}
