//! A layer uses only what stands above it in `src/lib.rs`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use slotwright::rule::STANDARD_RULES;

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

/// The texts in quotation marks of what is compiled into the library: comments, and items that only tests compile, are
/// left out.
fn texts(source: &str) -> Vec<String> {
    let mut texts = Vec::new();
    let mut letters = source.chars().peekable();
    let mut before = ' ';
    while let Some(letter) = letters.next() {
        match letter {
            '/' if letters.peek() == Some(&'/') => {
                letters.by_ref().take_while(|&letter| letter != '\n').for_each(drop);
            }
            '\'' if letters.peek() == Some(&'"') => drop(letters.next()),
            'r' if !before.is_alphanumeric() && matches!(letters.peek(), Some('"' | '#')) => {
                let marks = std::iter::from_fn(|| letters.next_if_eq(&'#')).count();
                if letters.next_if_eq(&'"').is_some() {
                    let end = format!("\"{}", "#".repeat(marks));
                    let mut text = String::new();
                    while !text.ends_with(&end) {
                        text.push(letters.next().expect("an end of the text"));
                    }
                    texts.push(text[..text.len() - end.len()].to_owned());
                }
            }
            '"' => {
                let mut text = String::new();
                while let Some(letter) = letters.next().filter(|&letter| letter != '"') {
                    if letter == '\\' {
                        text.push(letter);
                        text.extend(letters.next());
                    } else {
                        text.push(letter);
                    }
                }
                texts.push(text);
            }
            _ => {}
        }
        before = letter;
    }
    texts
}

/// A file without the items that stand after `#[cfg(test)]`: up to the brace that closes them, or the semicolon.
fn without_tests(source: &str) -> String {
    let mut kept = String::new();
    let mut lines = source.lines();
    while let Some(line) = lines.next() {
        if line.trim() != "#[cfg(test)]" {
            kept.push_str(line);
            kept.push('\n');
            continue;
        }
        let indent = line.len() - line.trim_start().len();
        let ends = |line: &&str| {
            let depth = line.len() - line.trim_start().len();
            depth == indent && (line.ends_with(';') || line.ends_with('}') || line.ends_with("},"))
        };
        let _end = lines.by_ref().find(ends);
    }
    kept
}

/// The codes of standard rules that stand as a text in a file.
fn codes_in(source: &str) -> Vec<String> {
    let is_word = |letter: char| letter.is_ascii_alphanumeric() || letter == '-';
    let texts = texts(&without_tests(source));
    let known = |word: &&str| STANDARD_RULES.iter().any(|row| row.code == *word);
    // a code with a hyphen is one wherever it stands in a text; a word like "height" only where it stands alone
    let words = |text: &String| -> Vec<String> {
        let words = text.split(|letter| !is_word(letter));
        words.filter(known).filter(|word| word.contains('-') || word == text).map(str::to_owned).collect()
    };
    texts.iter().flat_map(words).collect()
}

/// Codes that are words of documents, too: what else they name there.
const WORDS_OF_THEIR_OWN: [(&str, &str, &str); 9] = [
    ("intake/rows/headings.rs", "generation", "a heading of a table"),
    ("intake/titles/claim.rs", "generation", "what a title speaks of"),
    ("module/label/error.rs", "generation", "the field of a label"),
    ("platform/gaps.rs", "blanks", "a field of a platform's description"),
    ("platform/problem.rs", "generation", "a field of a processor's description"),
    ("population/observed/seen_module.rs", "generation", "a fact of a module"),
    ("population/observed/seen_module.rs", "height", "a fact of a module"),
    ("processor/missing_fact.rs", "height", "a fact of a module that may be missing"),
    ("worked/loosen.rs", "blanks", "a field of a platform's description"),
];

#[test]
fn no_part_of_the_library_knows_a_standard_rule_by_its_code() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found: Vec<(String, String)> = Vec::new();
    for file in files(&src) {
        let place = file.strip_prefix(&src).unwrap().display().to_string();
        let is_exempt = place.starts_with("rule/standard/")
            || place == "rule/code.rs"
            || place.starts_with("reference/")
            || place == "testing.rs";
        if !is_exempt && !only_tests(&file) {
            let codes = codes_in(&fs::read_to_string(&file).unwrap());
            found.extend(codes.into_iter().map(|code| (place.clone(), code)));
        }
    }
    found.sort();
    let allowed = WORDS_OF_THEIR_OWN.map(|(place, word, _)| (place.to_owned(), word.to_owned()));
    assert_eq!(found, allowed);
}

#[test]
fn the_checker_sees_codes() {
    assert_eq!(codes_in("let code = \"kind-mix\";"), ["kind-mix"]);
    assert_eq!(codes_in("fn f() {}\nlet text = r#\"say \"fill-row\" here\"#;"), ["fill-row"]);
    assert_eq!(codes_in("match code { \"height\" => 1, \"blanks\" => 2 }"), ["height", "blanks"]);
    assert_eq!(codes_in("\"a height of 3\"; '\"'; \"kind-mixed\"; \"no kind-mix\""), ["kind-mix"]);
    assert_eq!(codes_in("/// `\"kind-mix\"` in words\n// \"kind-mix\"\nfn f() {}"), [""; 0]);
    assert_eq!(
        codes_in("#[cfg(test)]\nmod tests {\n    let x = \"kind-mix\";\n}\nlet y = \"fill-row\";"),
        ["fill-row"]
    );
    assert_eq!(codes_in("impl X {\n    #[cfg(test)]\n    fn f() {\n        \"kind-mix\"\n    }\n}"), [""; 0]);
    assert_eq!(codes_in("#[cfg(test)]\nmod tests;\nlet y = \"fill-row\";"), ["fill-row"]);
}
