//! What the examples print, and that their input errors say where they are.

#[path = "../../examples/plan_machine/page.rs"]
mod page;
#[path = "../../examples/plan_machine/read.rs"]
mod read;

use expect_test::expect_file;

fn data(file: &str) -> String {
    format!("{}/examples/data/{file}", env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn the_page_of_the_demo() {
    let machine = read::machine(&data("machine.json")).unwrap();
    let request = read::request(&data("request.json"))
        .unwrap()
        .present(read::fitted(&data("fitted.txt")).unwrap())
        .offers(read::offers(&data("offers.txt")).unwrap())
        .shelf(read::shelf(&data("shelf.txt")).unwrap());
    expect_file!["golden/plan_machine.txt"].assert_eq(&page::of(&machine, &request).unwrap());
}

#[test]
fn a_file_that_cannot_be_read_is_named() {
    let error = read::offers(&data("no-such-file")).unwrap_err();
    assert!(error.contains("no-such-file"), "{error}");
    let error = read::offers(&data("fitted.txt")).unwrap_err();
    assert!(error.contains("fitted.txt:2: 1 columns; an offer has 7"), "{error}");
}
