mod any_bytes;
mod demo;
mod encoder;
mod labels;
mod making;
mod organization;
mod rates;
mod traps;
