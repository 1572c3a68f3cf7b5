#![no_main]

use cupwright_tests::hostile;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| hostile::mend(bytes));
