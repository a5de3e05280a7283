//! Sheets: what a writer writes is read back by a parser of its form, cells equal after the escape that is documented, also of hostile texts.

use proptest::prelude::*;
use pulldown_cmark::{Event, Options, Parser, Tag, TagEnd};
use slotwright::module::{Generation, ModuleKind};
use slotwright::platform::{BoardPattern, ChannelLabels, PlatformDescription};
use slotwright::population::Occupant;
use slotwright::processor::ProcessorDescription;
use slotwright::sheet::{Block, Cell, Column, ColumnSort, Formulas, Section, Sheet, Table, map_picture};
use slotwright::stated::Basis;
use slotwright::unit::Cost;
use slotwright::{Capacity, DataRate, Label, Machine, MemoryModule, Name, Platform, Population, reference};

/// The escape that every writer documents: control characters and those that turn the direction, by number.
fn visible(text: &str) -> String {
    let hidden = |letter: char| {
        let number = u32::from(letter);
        letter.is_control()
            || [0x200e, 0x200f, 0x061c, 0xfeff].contains(&number)
            || (0x2028..=0x202e).contains(&number)
            || (0x2066..=0x2069).contains(&number)
    };
    text.chars()
        .map(|letter| if hidden(letter) { format!("\\u{{{:x}}}", u32::from(letter)) } else { letter.to_string() })
        .collect()
}

fn hostile() -> impl Strategy<Value = String> {
    prop_oneof![
        any::<String>(),
        prop::sample::select(vec![
            "",
            " ",
            "a|b",
            "|",
            "\\",
            "\\|",
            "`code`",
            "*bold*",
            "_x_",
            "[a](b)",
            "<b>&amp;</b>",
            "<script>",
            "&#39;",
            "# head",
            "- item",
            "+ 1",
            "1. one",
            "12) x",
            "=1+1",
            "@cmd",
            "-2",
            "'",
            "\"",
            "a\"b",
            "a,b;c",
            "line\nline",
            "cr\r\nlf",
            "tab\there",
            "\u{0}",
            "\u{7}",
            "\u{202e}abc",
            "שלום",
            "مرحبا",
            "日本",
            "🔥",
            "\u{fffe}",
            "\u{feff}",
            "~~a~~",
            "http://x.example",
            "![i](u)",
            "$x$",
            "^a^",
            "---",
            "===",
            ":-:",
            "a  b",
            "&copy;",
            "<!-- c -->",
            "]]>",
            "{{x}}",
        ])
        .prop_map(str::to_owned),
        "[ -~]{0,200}",
    ]
}

fn cell() -> impl Strategy<Value = Cell> {
    prop_oneof![
        6 => hostile().prop_map(Cell::Text),
        1 => Just(Cell::Empty),
        1 => Just(Cell::Box),
        1 => any::<u64>().prop_map(Cell::Count),
        1 => any::<u64>().prop_map(Cell::Step),
        1 => (0_u32..5_000).prop_map(|gib| Cell::Size(Capacity::from_gib(gib))),
        1 => Just(Cell::Rate(DataRate::DDR4_2666)),
        1 => any::<i64>().prop_map(|minor| Cell::Money(Cost::new(minor, "EUR".parse().unwrap()))),
    ]
}

fn table() -> impl Strategy<Value = Table> {
    let sorts = vec![
        ColumnSort::Text,
        ColumnSort::Count,
        ColumnSort::Size,
        ColumnSort::Rate,
        ColumnSort::Money,
        ColumnSort::Box,
    ];
    (1_usize..5).prop_flat_map(move |columns| {
        let heads = prop::collection::vec((hostile(), prop::sample::select(sorts.clone())), columns);
        let rows = prop::collection::vec(prop::collection::vec(cell(), columns), 1..6);
        (heads, rows).prop_map(|(heads, rows)| {
            let mut table = Table::new(heads.into_iter().map(|(heading, sort)| Column::new(heading, sort)));
            rows.into_iter().for_each(|row| table.row(row));
            table
        })
    })
}

fn sheet() -> impl Strategy<Value = Sheet> {
    (hostile(), hostile(), prop::collection::vec(hostile(), 4), table()).prop_map(|(title, heading, texts, table)| {
        let [line, word, item, check] = texts.try_into().unwrap();
        Sheet::new(title).section(
            Section::new(heading)
                .line(line.clone())
                .entry(word, line)
                .items([item.clone()])
                .checks([check.clone()])
                .blanks([item, check])
                .table(table),
        )
    })
}

fn texts_of(table: &Table) -> Vec<Vec<String>> {
    let head = table.columns.iter().map(|column| visible(&column.heading)).collect();
    let rows = table.rows.iter().map(|row| row.iter().map(|cell| visible(&cell.to_string())).collect());
    core::iter::once(head).chain(rows).collect()
}

/// The cells of the tables of a Markdown text, by a parser of its own; blanks at the ends of cells are none of it.
fn cells_of_markdown(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut cell) = (Vec::new(), None::<String>);
    for event in Parser::new_ext(text, Options::ENABLE_TABLES) {
        match event {
            Event::Start(Tag::TableHead | Tag::TableRow) => rows.push(Vec::new()),
            Event::Start(Tag::TableCell) => cell = Some(String::new()),
            Event::End(TagEnd::TableCell) => rows.last_mut().unwrap().push(cell.take().unwrap()),
            Event::Text(text) => cell.iter_mut().for_each(|cell| cell.push_str(&text)),
            other => assert!(cell.is_none(), "markup in a cell: {other:?}"),
        }
    }
    rows
}

proptest! {
    #[test]
    fn law_csv_reads_back(table in table()) {
        for formulas in [Formulas::AsTheyAre, Formulas::Defused] {
            let text = table.to_csv(formulas);
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
            let read: Vec<Vec<String>> = reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
            prop_assert_eq!(read.len(), table.rows.len() + 1);
            let defused = |text: &str| match formulas {
                Formulas::Defused => text.strip_prefix('\'').unwrap_or(text).to_owned(),
                _ => text.to_owned(),
            };
            for (cells, read) in table.rows.iter().zip(&read[1..]) {
                let mut fields = read.iter();
                for (cell, column) in cells.iter().zip(&table.columns) {
                    let field = fields.next().unwrap();
                    let currency = if column.sort == ColumnSort::Money { fields.next() } else { None };
                    match (cell, column.sort) {
                        (Cell::Text(text), _) => prop_assert_eq!(&defused(field), &visible(text)),
                        (Cell::Empty | Cell::Box, _) => prop_assert_eq!(field, ""),
                        (Cell::Count(count) | Cell::Step(count), _) => prop_assert_eq!(field, &count.to_string()),
                        (Cell::Size(size), ColumnSort::Size) => prop_assert_eq!(field, &size.mib().to_string()),
                        (Cell::Rate(rate), ColumnSort::Rate) => prop_assert_eq!(field, &rate.name_mts().to_string()),
                        (Cell::Money(money), ColumnSort::Money) => {
                            prop_assert_eq!(field, &money.amount_minor().to_string());
                            prop_assert_eq!(currency.unwrap(), "EUR");
                        }
                        (other, _) => prop_assert_eq!(&defused(field), &other.to_string()),
                    }
                    if formulas == Formulas::Defused && !matches!(cell, Cell::Count(_) | Cell::Step(_) | Cell::Money(_)) {
                        prop_assert!(!field.starts_with(['=', '+', '-', '@']), "{}", field);
                    }
                }
                prop_assert!(fields.next().is_none());
            }
        }
    }

    #[test]
    fn law_html_reads_back(sheet in sheet()) {
        let html = sheet.to_html();
        let document = roxmltree::Document::parse(&html).unwrap();
        let text_of = |node: roxmltree::Node<'_, '_>| node.descendants().filter(roxmltree::Node::is_text).map(|part| part.text().unwrap_or("")).collect::<String>();
        let rows: Vec<Vec<String>> = document
            .descendants()
            .filter(|node| node.has_tag_name("tr"))
            .map(|row| row.children().filter(roxmltree::Node::is_element).map(text_of).collect())
            .collect();
        // XML has no such characters
        let of_xml = |rows: Vec<Vec<String>>| -> Vec<Vec<String>> {
            let numbered = |text: String| text.replace('\u{fffe}', "\\u{fffe}").replace('\u{ffff}', "\\u{ffff}");
            rows.into_iter().map(|row| row.into_iter().map(numbered).collect()).collect()
        };
        let (_, table) = sheet.tables().next().unwrap();
        prop_assert_eq!(rows, of_xml(texts_of(table)));
        let title = document.descendants().find(|node| node.has_tag_name("h1")).unwrap();
        prop_assert_eq!(vec![vec![text_of(title)]], of_xml(vec![vec![visible(&sheet.title)]]));
        prop_assert_eq!(document.descendants().filter(|node| node.has_tag_name("li")).count(), 2);
        // a whole page is the same between a head and an end, and one style of our own
        let page = sheet.to_html_document();
        let options = roxmltree::ParsingOptions { allow_dtd: true, ..roxmltree::ParsingOptions::default() };
        let whole = roxmltree::Document::parse_with_options(&page, options).unwrap();
        prop_assert!(page.contains(&html));
        prop_assert_eq!(whole.descendants().filter(|node| node.has_tag_name("style")).count(), 1);
        prop_assert!(!whole.descendants().any(|node| node.has_tag_name("link") || node.has_attribute("src") || node.has_attribute("href")));
        prop_assert!(!document.descendants().any(|node| node.has_tag_name("script") || node.has_tag_name("b") && !node.parent().unwrap().has_tag_name("p")));
    }

    #[test]
    fn law_markdown_reads_back(sheet in sheet()) {
        let (_, table) = sheet.tables().next().unwrap();
        let trimmed: Vec<Vec<String>> = texts_of(table).into_iter().map(|row| row.into_iter().map(|cell| cell.trim().to_owned()).collect()).collect();
        prop_assert_eq!(cells_of_markdown(&sheet.to_markdown()), trimmed);
    }

    #[test]
    fn law_no_line_of_a_text_is_longer_than_the_page(sheet in sheet(), width in 24_usize..140) {
        let text = sheet.to_text(width);
        for line in text.lines() {
            prop_assert!(line.chars().count() <= width, "{line:?}");
        }
        // every letter of every text is there
        let letters = |text: &str| text.chars().filter(|letter| letter.is_alphanumeric()).count();
        let mut wanted = letters(&visible(&sheet.title));
        for block in sheet.sections.iter().flat_map(|section| &section.blocks) {
            wanted += match block {
                Block::Line(text) | Block::Item(text) | Block::Check(text) => letters(&visible(text)),
                _ => 0,
            };
        }
        prop_assert!(letters(&text) >= wanted);
    }

    #[test]
    fn law_pictures_are_xml_and_no_text_leaves_its_place(sockets in 1_usize..5, channels in 1_u8..5, slots in 1_u8..4, names in prop::collection::vec(hostile(), 6)) {
        let machine = grid(sockets, channels, slots);
        let module = module();
        let mut before = Population::new();
        let mut after = Population::new();
        for (at, slot) in machine.platform().slots().iter().enumerate() {
            let label = slot.label().clone();
            if at % 3 != 0 {
                before.put(label.clone(), Occupant::module(module.clone()));
            }
            if at % 4 != 0 {
                after.put(label, Occupant::module(named(&module, &names[at % 6])));
            }
        }
        checked(&map_picture(&names[0], &names[1], &machine, &before, &after));
    }
}

fn named(module: &MemoryModule, name: &str) -> MemoryModule {
    module.to_builder().maker(Name::lossy(name)).build().unwrap()
}

fn module() -> MemoryModule {
    "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>().unwrap().to_module()
}

fn grid(sockets: usize, channels: u8, slots: u8) -> Machine {
    let labels = (1..=sockets).map(|socket| Name::lossy(&socket.to_string()));
    let pattern = BoardPattern::new(
        labels,
        ChannelLabels::LettersStartingAgain(channels),
        slots,
        "{socket}-{channel}{number}".parse().unwrap(),
    );
    let platform = PlatformDescription::patterned(Name::lossy("grid"), Generation::Ddr4, pattern).build().unwrap();
    with_processors(platform)
}

fn with_processors(platform: Platform) -> Machine {
    let named = platform.description().processors.first().map(|processor| processor.name().clone());
    let kinds = [ModuleKind::Registered];
    let any =
        ProcessorDescription::new(Name::lossy("any"), Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    let any = any.build().unwrap();
    let sockets: Vec<Name> = platform.sockets().iter().map(|socket| socket.label.clone()).collect();
    let mut machine = Machine::builder(platform);
    for socket in sockets {
        machine = match &named {
            Some(name) => machine.processor_named(socket.as_str(), name.as_str()),
            None => machine.processor(socket.as_str(), any.clone()),
        };
    }
    machine.build().unwrap()
}

/// A picture is XML; its texts stay within it and do not overlap, by the widths that they are held to.
fn checked(svg: &str) {
    let document = roxmltree::Document::parse(svg).unwrap();
    let number = |node: roxmltree::Node<'_, '_>, name: &str| node.attribute(name).unwrap().parse::<u32>().unwrap();
    let (width, height) = (number(document.root_element(), "width"), number(document.root_element(), "height"));
    let texts: Vec<_> = document.descendants().filter(|node| node.has_tag_name("text")).collect();
    let boxes: Vec<(u32, u32, u32, u32)> = texts
        .iter()
        .map(|&text| {
            let (x, y, size) = (number(text, "x"), number(text, "y"), number(text, "font-size"));
            (x, y - size, x + number(text, "textLength"), y)
        })
        .collect();
    for (at, one) in boxes.iter().enumerate() {
        assert!(one.2 <= width && one.3 <= height, "{one:?} leaves {width} x {height}");
        for other in &boxes[..at] {
            let apart = one.2 <= other.0 || other.2 <= one.0 || one.3 <= other.1 || other.3 <= one.1;
            assert!(apart, "{one:?} and {other:?} overlap");
        }
    }
}

#[test]
fn pictures_hold_from_4_to_96_slots() {
    for (sockets, channels, slots) in [(1, 2, 2), (2, 4, 3), (2, 12, 2), (4, 6, 2), (8, 6, 2), (4, 12, 2)] {
        let machine = grid(sockets, channels, slots);
        let svg = map_picture("A machine of a grid", "", &machine, &Population::new(), &Population::new());
        checked(&svg);
        assert_eq!(svg.matches(">empty<").count(), sockets * usize::from(channels) * usize::from(slots));
    }
    for (name, platform) in reference::all() {
        let machine = with_processors(platform());
        checked(&map_picture(name, "serial 77", &machine, &Population::new(), &Population::new()));
    }
}
