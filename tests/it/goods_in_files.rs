//! What the example of goods in says of files as they come.

#[path = "../../examples/goods_in.rs"]
#[allow(dead_code)]
mod example;

use std::path::{Path, PathBuf};

use example::Files;
use expect_test::expect_file;

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")
}

/// Where the files of a test are written.
fn place(test: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("goods-in-{test}"))
}

fn written(test: &str, name: &str, bytes: &[u8]) -> PathBuf {
    std::fs::create_dir_all(place(test)).unwrap();
    let file = place(test).join(name);
    std::fs::write(&file, bytes).unwrap();
    file
}

/// What is said of an order of these lines, these pieces and these images; the files are named without their place.
fn came(test: &str, order: &str, pieces: &[u8], images: &[(&str, &[u8])]) -> Result<(String, bool), String> {
    let image = |&(piece, bytes): &(&str, &[u8])| (piece.to_owned(), written(test, &format!("{piece}.bin"), bytes));
    let files = Files {
        order: Some(written(test, "order.csv", format!("id, label, quantity\n{order}").as_bytes())),
        pieces: written(test, "pieces.txt", pieces),
        images: images.iter().map(image).collect(),
        is_sheet: false,
    };
    let plain = |text: String| text.replace(&format!("{}/", place(test).display()), "");
    files.page().map(|(page, is_all_right)| (plain(page), is_all_right)).map_err(plain)
}

#[test]
fn what_came_in_of_the_demo() {
    let mut files = Files::demo(&data());
    let (page, is_all_right) = files.page().unwrap();
    expect_file!["golden/goods_in.txt"].assert_eq(&page);
    assert!(!is_all_right);
    // as a record
    files.is_sheet = true;
    let (sheet, is_all_right) = files.page().unwrap();
    expect_file!["golden/goods_in_record.txt"].assert_eq(&sheet);
    assert!(!is_all_right && sheet.lines().all(|line| line.chars().count() <= 100));
    // without an order
    files.is_sheet = false;
    files.order = None;
    expect_file!["golden/goods_in_bins.txt"].assert_eq(&files.page().unwrap().0);
    // as ordered
    let (page, is_all_right) =
        came("demo", "A, 32GB 2Rx4 PC4-2400T-RB2-11, 1\n", b"1 32GB 2Rx4 PC4-2400T-RB2-11\n", &[]).unwrap();
    assert!(is_all_right, "{page}");
}

#[test]
fn orders_and_pieces_as_they_are_sent() {
    let piece = b"P1 32GB 2Rx4 PC4-2400T-RB2-11\n";
    let came = |order: &str, pieces: &[u8]| came("sent", order, pieces, &[]);
    let at = |order: &str, pieces: &[u8]| came(order, pieces).unwrap_err();
    // no lines
    assert_eq!(at("", piece), "order.csv: no lines below the headings; --bins sorts pieces without an order");
    for quantity in ["0", "x", "-1", "1000001", "99999999999", "99999999999999999999999"] {
        assert_eq!(
            at(&format!("A, 32GB 2Rx4 PC4-2400T-RB2-11, {quantity}\n"), piece),
            format!("order.csv:2: quantity {quantity:?} is no whole number from 1 to 1000000")
        );
    }
    // a label without its tail
    let (page, is_all_right) = came("A, 32GB 2Rx4 PC4-2400T-R, 1\n", piece).unwrap();
    assert!(is_all_right && page.starts_with("label of line A: 32GB 2Rx4 PC4-2400T-R\n"), "{page}");
    assert!(at("A, 32GB ZRx4 PC4-2400T-RB2-11, 1\n", piece).starts_with("order.csv:2: label "));
    // a byte-order mark, and any line ends
    for ends in ["\n", "\r\n", "\r"] {
        let order = "\u{feff}id,label,quantity\nA,32GB 2Rx4 PC4-2400T-RB2-11,2\n\nB,32GB 1Rx4 PC4-2400T-RC2-11,x\n";
        let pieces = "\u{feff}P1 32GB 2Rx4 PC4-2400T-RB2-11\nP2 32GB 2Rx4 PC4-2400T-RB2-11\n".replace('\n', ends);
        let files = |order: &str| Files {
            order: Some(written("sent", "sent.csv", order.replace('\n', ends).as_bytes())),
            pieces: written("sent", "sent.txt", pieces.as_bytes()),
            images: Vec::new(),
            is_sheet: false,
        };
        let error = files(order).page().unwrap_err();
        assert!(error.contains("sent.csv:4: quantity \"x\""), "{error}");
        assert!(files(&order[..order.find("\n\n").unwrap()]).page().unwrap().1);
    }
    // a piece that is there twice
    assert_eq!(
        at("A, 32GB 2Rx4 PC4-2400T-RB2-11, 1\n", b"P1 x\n\n# no\nP1 y\n").replace("pieces.txt", "P"),
        "P:4: the piece P1 is given twice, first at P:1; a line is one piece"
    );
    // a byte that is no text spoils one label, and a number that cannot be read is told with its place
    let line = "A, 32GB 2Rx4 PC4-2400T-RB2-11, 2\n";
    let (page, _) = came(line, b"P1 32GB 2R\xd74 PC4-2400T-RB2-11\nP2 32GB 2Rx4 PC4-2400T-RB2-11\n").unwrap();
    assert!(page.contains("pieces.txt:1: it has a byte that is not UTF-8"), "{page}");
    assert!(page.contains("\n  P1: not known, may be for A: nothing of it was read (no SPD was read)\n"), "{page}");
    assert!(page.contains("\n  P2: right for A (label only; no SPD was read)\n"), "{page}");
    assert!(at(line, b"P1 x\nP\xff y\n").starts_with("pieces.txt:2: piece "));
    assert!(at("A, 32GB 2R\u{fffd}4 PC4, 2\n", piece).starts_with("order.csv:2: label "));
    let latin =
        Files { order: Some(written("sent", "latin.csv", b"id,label,quantity\rA,x\xd7,1\r")), ..Files::demo(&data()) };
    assert!(latin.page().unwrap_err().ends_with("latin.csv:2: byte 0xd7 is not UTF-8"));
    // nothing steers the terminal
    let hostile = b"P1 \x1b[2J\x1b]0;x\x07 \xc2\x9b2J \xe2\x80\xae\n";
    let (page, _) = came(line, hostile).unwrap();
    assert!(page.contains("\\u{1b}[2J\\u{1b}]0;x\\u{7} \\u{9b}2J \\u{202e}"), "{page:?}");
    assert!(!page.contains(|letter: char| letter.is_control() && letter != '\n'), "{page:?}");
    for order in
        ["\u{1b}[2J, 32GB 2Rx4 PC4-2400T-RB2-11, 1\n", "A, \u{1b}[2J, 1\n", "A, 32GB 2Rx4 PC4-2400T-RB2-11, \u{1b}\n"]
    {
        let error = came(order, piece).unwrap_err();
        assert!(!error.contains(char::is_control), "{error:?}");
    }
}

/// Each image is judged by itself: what is none leaves its piece to its label.
#[test]
fn images_that_are_damaged_or_none() {
    let sound = std::fs::read(data().join("spd-16gb.bin")).unwrap();
    let with = |changes: &[(usize, u8)]| {
        let mut bytes = sound.clone();
        changes.iter().for_each(|&(at, byte)| bytes[at] = byte);
        bytes
    };
    let unnumbered = |byte| with(&[325, 326, 327, 328].map(|at| (at, byte)));
    let images: [(&str, Vec<u8>); 11] = [
        ("P01", with(&[(4, sound[4] ^ 1)])),
        ("P02", Vec::new()),
        ("P03", vec![0xff; 512]),
        ("P04", b"00000000  23 12 0c 01 84 19 00 08  00 00 00 03 01 0b 80 00  |#...............|\n".repeat(32)),
        ("P05", unnumbered(0)),
        ("P06", unnumbered(0xff)),
        ("P07", sound[..128].to_vec()),
        ("P08", sound[..320].to_vec()),
        ("P09", with(&[(328, 9)])[..384].to_vec()),
        ("P10", [with(&[(328, 10)]), vec![0]].concat()),
        ("P11", with(&[(328, 11)])),
    ];
    let label = "16GB 2Rx4 PC4-2400T-RA1-11";
    let pieces: String = images.iter().map(|(piece, _)| format!("{piece} {label}\n")).collect();
    let given: Vec<(&str, &[u8])> = images.iter().map(|(piece, bytes)| (*piece, bytes.as_slice())).collect();
    let (page, is_all_right) = came("images", &format!("L16, {label}, 11\n"), pieces.as_bytes(), &given).unwrap();
    expect_file!["golden/goods_in_images.txt"].assert_eq(&page);
    assert!(!is_all_right);
    // of one damaged image all that came is right by its label, and yet not all right
    let one = format!("P01 {label}\n");
    let (page, is_all_right) = came("images", &format!("L16, {label}, 1\n"), one.as_bytes(), &given[..1]).unwrap();
    assert!(page.contains("P01: right for L16 (label only; its SPD is damaged)") && !is_all_right, "{page}");
}

#[test]
fn what_is_asked_of_goods_in() {
    let given = |words: &str| {
        let words: Vec<String> = words.split_whitespace().map(str::to_owned).collect();
        Files::given(&words, &data())
    };
    assert!(given("--help").unwrap().is_none() && given("O P --help").unwrap().is_none());
    let files = given("--sheet O P P1=a P2=b").unwrap().unwrap();
    assert_eq!((files.is_sheet, files.order, files.images.len()), (true, Some("O".into()), 2));
    assert!(given("").unwrap().unwrap().order.is_some() && given("--sheet").unwrap().unwrap().is_sheet);
    assert!(given("--bins").unwrap().unwrap().order.is_none());
    assert_eq!(given("--bins P P1=a").unwrap().unwrap().pieces, PathBuf::from("P"));
    for wrong in ["O", "O P image", "--bin P", "--bins --sheet P"] {
        assert!(given(wrong).is_err(), "{wrong}");
    }
    assert_eq!(given("O P P1=a P1=b").err().unwrap(), "the piece P1 has two images: a and b");
}
