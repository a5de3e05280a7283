//! The public interface as a golden file: each change of it shows in a diff.
//!
//! The sources are read, not compiled: what a layer's `mod.rs` makes public, with fields, variants, signatures, derives and
//! implementations. Setters stand as their macro has them.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use expect_test::expect_file;
use quote::ToTokens;
use syn::{Attribute, Fields, ImplItem, Item, ItemImpl, Meta, TraitItem, Type, UseTree, Visibility};

/// Tokens as people write them.
fn text(tokens: impl ToTokens) -> String {
    let mut text = tokens.to_token_stream().to_string();
    for (from, to) in [
        (" :: ", "::"),
        (":: ", "::"),
        (" < ", "<"),
        ("< ", "<"),
        (" >", ">"),
        (" , ", ", "),
        (" ,", ","),
        ("& '", "&'"),
        ("& ", "&"),
        (" : ", ": "),
        (" ;", ";"),
        ("( ", "("),
        (" )", ")"),
        (" (", "("),
        ("[ ", "["),
        (" ]", "]"),
        ("->(", "-> ("),
        ("impl(", "impl ("),
        (" !", "!"),
        (" . ", "."),
        ("# [", "#["),
    ] {
        text = text.replace(from, to);
    }
    text.replace("= >", "=>").replace("- >", "->")
}

fn is_public(visibility: &Visibility) -> bool {
    matches!(visibility, Visibility::Public(_))
}

fn is_test(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg") && attribute.meta.to_token_stream().to_string().contains("test")
    })
}

/// What a user depends on: derives, `non_exhaustive`, features.
fn marks(attributes: &[Attribute]) -> String {
    let mut marks = String::new();
    for attribute in attributes {
        match &attribute.meta {
            Meta::Path(path) if path.is_ident("non_exhaustive") => marks += "#[non_exhaustive] ",
            Meta::List(list) if list.path.is_ident("derive") => {
                marks += &format!("#[derive({})] ", text(&list.tokens));
            }
            Meta::List(list) if list.path.is_ident("cfg") => marks += &format!("#[cfg({})] ", text(&list.tokens)),
            _ => {}
        }
    }
    marks
}

/// The names that a `use` makes.
fn names(tree: &UseTree, found: &mut BTreeSet<String>) {
    match tree {
        UseTree::Path(path) => names(&path.tree, found),
        UseTree::Name(name) => drop(found.insert(name.ident.to_string())),
        UseTree::Rename(rename) => drop(found.insert(rename.rename.to_string())),
        UseTree::Group(group) => group.items.iter().for_each(|tree| names(tree, found)),
        UseTree::Glob(_) => panic!("no glob is re-exported"),
    }
}

/// Every Rust file of a layer, with its items; those that only tests compile left out.
fn files(path: &Path) -> Vec<(PathBuf, Vec<Item>)> {
    if path.is_dir() {
        let mut entries: Vec<PathBuf> = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
        entries.sort();
        return entries.iter().flat_map(|path| files(path)).collect();
    }
    if path.extension().is_none_or(|ending| ending != "rs") {
        return Vec::new();
    }
    let file = syn::parse_file(&fs::read_to_string(path).unwrap()).unwrap();
    vec![(path.to_owned(), file.items.into_iter().filter(|item| !is_test(attributes(item))).collect())]
}

fn attributes(item: &Item) -> &[Attribute] {
    match item {
        Item::Const(item) => &item.attrs,
        Item::Enum(item) => &item.attrs,
        Item::Fn(item) => &item.attrs,
        Item::Impl(item) => &item.attrs,
        Item::Macro(item) => &item.attrs,
        Item::Mod(item) => &item.attrs,
        Item::Static(item) => &item.attrs,
        Item::Struct(item) => &item.attrs,
        Item::Trait(item) => &item.attrs,
        Item::Type(item) => &item.attrs,
        Item::Use(item) => &item.attrs,
        _ => &[],
    }
}

/// The public names of a layer: what its `mod.rs` uses or declares in public, by the module that they are in.
fn public_names(layer: &str, items: &[Item]) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    for item in items {
        let mut own = BTreeSet::new();
        match item {
            Item::Use(item) if is_public(&item.vis) => names(&item.tree, &mut own),
            Item::Const(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            Item::Enum(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            Item::Fn(item) if is_public(&item.vis) => drop(own.insert(item.sig.ident.to_string())),
            Item::Struct(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            Item::Trait(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            Item::Type(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            Item::Static(item) if is_public(&item.vis) => drop(own.insert(item.ident.to_string())),
            _ => {}
        }
        found.extend(own.into_iter().map(|name| (name, layer.to_owned())));
    }
    found
}

fn fields(of: &str, fields: &Fields, always: bool, lines: &mut Vec<String>) {
    for (index, field) in fields.iter().enumerate() {
        if always || is_public(&field.vis) {
            let name = field.ident.as_ref().map_or_else(|| index.to_string(), ToString::to_string);
            lines.push(format!("{of}.{name}: {}", text(&field.ty)));
        }
    }
}

/// The type of an implementation, by its name.
fn subject(item: &ItemImpl) -> Option<String> {
    let mut subject = &*item.self_ty;
    while let Type::Reference(reference) = subject {
        subject = &reference.elem;
    }
    match subject {
        Type::Path(path) => path.path.segments.last().map(|segment| segment.ident.to_string()),
        _ => None,
    }
}

/// The lines of an item of a layer, whose public names are `public`; what is implemented there may be for a type of any layer.
fn lines_of(
    item: &Item,
    (public, everywhere): (&BTreeMap<String, String>, &BTreeMap<String, String>),
    lines: &mut Vec<String>,
) {
    let path = |name: &dyn ToString| {
        let name = name.to_string();
        public.get(&name).map(|layer| format!("{layer}::{name}"))
    };
    match item {
        Item::Struct(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path}{} {}struct", text(&item.generics), marks(&item.attrs)));
            fields(&path, &item.fields, false, lines);
        }
        Item::Enum(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path}{} {}enum", text(&item.generics), marks(&item.attrs)));
            for variant in &item.variants {
                let variant_path = format!("{path}::{}", variant.ident);
                lines.push(format!("{variant_path} {}variant", marks(&variant.attrs)));
                fields(&variant_path, &variant.fields, true, lines);
            }
        }
        Item::Trait(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path} trait: {}", text(&item.supertraits)));
            for part in &item.items {
                if let TraitItem::Fn(method) = part {
                    lines.push(format!("{path}::{} {}", method.sig.ident, text(&method.sig)));
                }
            }
        }
        Item::Fn(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.sig.ident) else { return };
            lines.push(format!("{path} {}{}", marks(&item.attrs), text(&item.sig)));
        }
        Item::Const(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path} const: {}", text(&item.ty)));
        }
        Item::Static(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path} static: {}", text(&item.ty)));
        }
        Item::Type(item) if is_public(&item.vis) => {
            let Some(path) = path(&item.ident) else { return };
            lines.push(format!("{path}{} type = {}", text(&item.generics), text(&item.ty)));
        }
        Item::Mod(module) => {
            for item in module.content.iter().flat_map(|(_, items)| items) {
                lines_of(item, (public, everywhere), lines);
            }
        }
        Item::Impl(item) => {
            let path = subject(item).and_then(|name| everywhere.get(&name).map(|layer| format!("{layer}::{name}")));
            let Some(path) = path else { return };
            if let Some((_, implemented, _)) = &item.trait_ {
                let generics = text(&item.generics);
                lines.push(format!("{path} impl{generics} {} for {}", text(implemented), text(&item.self_ty)));
                return;
            }
            for part in &item.items {
                match part {
                    ImplItem::Fn(method) if is_public(&method.vis) && !is_test(&method.attrs) => {
                        lines.push(format!(
                            "{path}::{} {}{}",
                            method.sig.ident,
                            marks(&method.attrs),
                            text(&method.sig)
                        ));
                    }
                    ImplItem::Const(part) if is_public(&part.vis) => {
                        lines.push(format!("{path}::{} const: {}", part.ident, text(&part.ty)));
                    }
                    ImplItem::Macro(part) => {
                        let written = text(&part.mac.tokens);
                        let made = written.split(';').map(str::trim).filter(|made| !made.is_empty());
                        lines.extend(made.map(|made| {
                            // without its documentation
                            let made = made.rsplit_once("\"]").map_or(made, |(_, made)| made.trim());
                            format!("{path}::{}! {made}", text(&part.mac.path))
                        }));
                    }
                    _ => {}
                }
            }
        }
        _ => {}
    }
}

/// The interface of the crate, a line an item, sorted.
fn interface(src: &Path) -> Vec<String> {
    let root = syn::parse_file(&fs::read_to_string(src.join("lib.rs")).unwrap()).unwrap();
    let layers: Vec<String> = root
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Mod(item) if is_public(&item.vis) || item.ident == "search" => Some(item.ident.to_string()),
            _ => None,
        })
        .collect();
    let mut lines = Vec::new();
    for item in &root.items {
        if let Item::Use(item) = item {
            let mut own = BTreeSet::new();
            names(&item.tree, &mut own);
            lines.extend(
                own.into_iter()
                    .map(|name| format!("{name} of the root: {}", text(&item.tree).split("::").next().unwrap())),
            );
        }
    }
    let mut all = Vec::new();
    for layer in layers {
        let folder = src.join(&layer);
        let path = if folder.is_dir() { folder } else { src.join(format!("{layer}.rs")) };
        let files = files(&path);
        let mut public = BTreeMap::new();
        for (file, items) in &files {
            let folder = file.parent().unwrap();
            let is_root = file == &path || file == &path.join("mod.rs");
            // a public module in a file of its own
            let stem = file.file_stem().unwrap().to_string_lossy().into_owned();
            let declares = |declared: &Item| matches!(declared, Item::Mod(module) if is_public(&module.vis) && module.ident == stem);
            let root = files.iter().find(|(other, _)| *other == folder.join("mod.rs"));
            let is_declared = root.is_some_and(|(_, items)| items.iter().any(declares));
            if is_root {
                public.extend(public_names(&layer, items));
            } else if is_declared {
                public.extend(public_names(&format!("{layer}::{stem}"), items));
            }
        }
        all.push((public, files));
    }
    let everywhere: BTreeMap<String, String> = all.iter().flat_map(|(public, _)| public.clone()).collect();
    for (public, files) in &all {
        for item in files.iter().flat_map(|(_, items)| items) {
            lines_of(item, (public, &everywhere), &mut lines);
        }
    }
    lines.sort();
    lines
}

/// Whether a type's documentation has an example.
fn has_example(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| attribute.path().is_ident("doc") && text(attribute).contains("```"))
}

#[test]
fn every_export_of_the_root_has_an_example() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let root = syn::parse_file(&fs::read_to_string(src.join("lib.rs")).unwrap()).unwrap();
    let mut exported = BTreeSet::new();
    for item in &root.items {
        if let Item::Use(item) = item {
            names(&item.tree, &mut exported);
        }
    }
    assert!(exported.len() > 40, "{exported:?}");
    for (_, items) in files(&src) {
        for item in items {
            let (name, attributes) = match &item {
                Item::Struct(item) => (item.ident.to_string(), &item.attrs),
                Item::Enum(item) => (item.ident.to_string(), &item.attrs),
                _ => continue,
            };
            if has_example(attributes) {
                exported.remove(&name);
            }
        }
    }
    assert_eq!(exported, BTreeSet::new());
}

#[test]
fn the_public_interface_is_pinned() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let lines = interface(&src);
    assert!(lines.len() > 1_000, "{}", lines.len());
    expect_file!["golden/interface.txt"].assert_eq(&(lines.join("\n") + "\n"));
}
