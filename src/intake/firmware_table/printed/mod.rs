//! Tables as text, as dmidecode prints them, and as they look after they were pasted into a mail.

mod fields;
mod lines;
mod reader;
mod record;
mod values;

pub(crate) use reader::{begins_print, reports_of_text};
