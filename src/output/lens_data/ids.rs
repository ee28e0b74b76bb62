//! Identifiers that are the same whenever the same thing is named (UUID version 5, RFC 9562, 5.5).

use uuid::{Uuid, uuid};

/// Namespace of lensmend's identifiers, drawn once.
const NAMESPACE: Uuid = uuid!("6f1c7e0a-5d4b-4a53-9f0e-3c1b8a7d2e94");

/// The identifier of what `parts` name; a part never runs into the next.
pub(super) fn of(parts: &[&str]) -> Uuid {
    let mut name = Vec::new();
    for part in parts {
        name.extend(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        name.extend(part.bytes());
    }
    Uuid::new_v5(&NAMESPACE, &name)
}

/// The same as the name of a resource: `urn:uuid:` and lower-case digits.
pub(super) fn urn(parts: &[&str]) -> String {
    of(parts).urn().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_parts_name_the_same_thing() {
        assert_eq!(urn(&["a", "b"]), urn(&["a", "b"]));
        assert_ne!(urn(&["ab", ""]), urn(&["a", "b"]));
        assert_eq!(of(&["a"]).get_version_num(), 5);
    }
}
