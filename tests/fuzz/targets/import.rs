#![no_main]

#[path = "../tried.rs"]
mod tried;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| tried::import(bytes));
