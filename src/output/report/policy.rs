//! What a browser may do with the page: use the one style sheet and the one script that are in it, and nothing else.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest as _, Sha256};

/// A policy (W3C Content Security Policy Level 3, 2.3.1 and 6.7.2.5 on hashes) that allows exactly this style sheet and
/// this script: what a note smuggles in does not run, and the page asks nobody for anything.
pub(super) fn policy(style: &str, script: &str) -> String {
    format!(
        "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        hash(style),
        hash(script)
    )
}

fn hash(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The example of CSP Level 3, 8.1 gives the hash of `alert('Hello, world.');`; here from memory, and computed again
    /// by the browser in `tests/judges/report_page.py`, which runs the script only if the hash is right.
    #[test]
    fn a_hash_is_written_as_a_browser_expects_it() {
        let policy = policy("", "alert('Hello, world.');");
        assert!(
            policy.contains("'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"),
            "{policy}"
        );
        assert!(policy.starts_with("default-src 'none'; "));
    }
}
