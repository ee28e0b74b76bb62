//! Any bytes as an OpenEXR plate to be copied with other attributes.
#![no_main]

use lensmend::output::lens_data::exr::{Attribute, Value};
use lensmend::output::stamp::{copy, plan};

/// Plates longer than this only repeat themselves.
const MOST: usize = 16 << 10;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let attributes = [Attribute { name: "focus", value: Value::Float(2.4) }];
    if bytes.len() <= MOST
        && let Ok(plan) = plan(&bytes, &attributes)
    {
        copy(&plan, &bytes, &mut std::io::sink()).expect("what was planned can be copied");
    }
});
