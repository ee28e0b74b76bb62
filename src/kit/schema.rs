//! The form of `kit.toml` as a JSON Schema (draft 2020-12), made from the table of keys, for editors that complete
//! and check TOML by such a schema.
//!
//! It holds every range, word and required key, and of the rules between keys those that a schema can say. That ids
//! are unique and lead somewhere, that lists are as long as each other and rise, and what hangs on flange depths,
//! only the reader tells.

use serde_json::{Map, Value, json};

use super::form::{Form, Heading, Key, MOST_NUMBERS, Range};
use super::keys::HEADINGS;

/// The schema as text, with a line feed at its end.
pub fn schema() -> String {
    let mut whole = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "https://lensmend.invalid/kit.schema.json",
        "title": "kit.toml",
        "description": "What the crew had with them. Lengths are millimetres unless a key says otherwise.",
        "type": "object",
    });
    if let Value::Object(members) = &mut whole {
        members.insert("properties".to_owned(), Value::Object(below("")));
        members.insert("additionalProperties".to_owned(), Value::Bool(false));
    }
    format!("{whole:#}\n")
}

/// The headings right below a path, each with its schema. Inner tables of a single key stand with that key.
fn below(path: &str) -> Map<String, Value> {
    let parts = HEADINGS.iter().map(|h| (h.path.rsplit_once('.').unwrap_or(("", h.path)), h));
    parts
        .filter(|((above, _), _)| *above == path)
        .map(|((_, name), h)| (name.to_owned(), of(h)))
        .collect()
}

fn of(heading: &Heading) -> Value {
    let mut members: Map<String, Value> =
        heading.keys.iter().map(|key| (key.name.to_owned(), of_key(heading, key))).collect();
    for (name, inner) in below(heading.path) {
        // `reports` is a word or such a table, which its key says already.
        members.entry(name).or_insert(inner);
    }
    let needed: Vec<&str> =
        heading.keys.iter().filter(|key| key.required).map(|key| key.name).collect();
    let mut entry =
        json!({ "type": "object", "properties": members, "additionalProperties": false });
    if let Value::Object(entry) = &mut entry {
        if !needed.is_empty() {
            entry.insert("required".to_owned(), json!(needed));
        }
        if let Some(rules) = between(heading.path) {
            entry.insert("allOf".to_owned(), rules);
        }
    }
    if !heading.many {
        return with_description(entry, heading.meaning.to_owned());
    }
    json!({ "description": heading.meaning, "type": "array", "items": entry })
}

fn of_key(heading: &Heading, key: &Key) -> Value {
    let left_out = match key.default {
        "" => String::new(),
        default => format!(" If left out: {default}."),
    };
    let words = format!("{}. {}.{left_out}", capital(key.meaning), capital(&key.form.words()));
    let form = match key.form {
        Form::Reports(words) => {
            let inner = HEADINGS.iter().find(|inner| {
                inner.path.strip_prefix(heading.path) == Some(&format!(".{}", key.name))
            });
            json!({ "anyOf": [{ "enum": words }, inner.map(of)] })
        }
        form => plain(form),
    };
    with_description(form, words)
}

/// The schema of a form, without words.
fn plain(form: Form) -> Value {
    let text = json!({ "type": "string", "pattern": "\\S" });
    // Digits are kept to nine, so that every number fits what the reader counts in.
    let side = "\\s*0*[1-9][0-9]{0,8}\\s*";
    match form {
        Form::Text | Form::Id(_) | Form::IdOrNone(_) => text,
        Form::Texts => json!({ "anyOf": [text, { "type": "array", "items": text }] }),
        Form::Word(words) | Form::Reports(words) => json!({ "enum": words }),
        Form::Flag => json!({ "type": "boolean" }),
        Form::Number(range) => number(range),
        Form::NumberBy(_, ranges) => {
            json!({ "anyOf": ranges.iter().map(|(_, range)| number(*range)).collect::<Vec<_>>() })
        }
        Form::Numbers(range) => {
            json!({ "type": "array", "items": number(range), "minItems": 1, "maxItems": MOST_NUMBERS })
        }
        Form::Pair(range) => pair(&number(range), &number(range)),
        Form::Ramp { focal, number: stop } => json!({ "anyOf": [number(stop), {
            "type": "array",
            "items": pair(&number(focal), &number(stop)),
            "minItems": 1,
            "maxItems": MOST_NUMBERS,
        }] }),
        Form::Raster(_) => {
            json!({ "type": "string", "pattern": format!("^{side}[xX\u{d7}]{side}$") })
        }
        Form::Corner(_) => {
            json!({ "type": "string", "pattern": "^\\s*[0-9]{1,9}\\s*[xX\u{d7}]\\s*[0-9]{1,9}\\s*$" })
        }
        Form::Date => {
            json!({ "type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" })
        }
        Form::Rate => {
            json!({ "type": "string", "pattern": "^\\s*[0-9]+(\\.[0-9]+|\\s*/\\s*[0-9]+)?\\s*$" })
        }
    }
}

fn number(range: Range) -> Value {
    let Range { low, high, .. } = range;
    if high.is_finite() {
        json!({ "type": "number", "minimum": low, "maximum": high })
    } else {
        json!({ "type": "number", "minimum": low })
    }
}

fn pair(first: &Value, second: &Value) -> Value {
    json!({ "type": "array", "prefixItems": [first, second], "items": false, "minItems": 2 })
}

/// The rules between keys that a schema can say.
fn between(path: &str) -> Option<Value> {
    let has = |keys: &[&str]| json!({ "required": keys });
    match path {
        "camera.mode" => Some(json!([{ "oneOf": [
            has(&["width", "height"]),
            { "required": ["pitch"], "not": { "anyOf": [has(&["width"]), has(&["height"])] } },
        ] }])),
        "lens" => Some(json!([
            { "oneOf": [{ "anyOf": [has(&["focal"]), has(&["measured-focal"])] }, has(&["range"])] },
            {
                "if": has(&["range"]),
                "then": { "properties": { "table": { "items": has(&["focal"]) } } },
                "else": { "properties": {
                    "table": { "maxItems": 1, "items": { "properties": { "focal": false } } },
                    "f-max": { "type": "number" },
                    "t-max": { "type": "number" },
                } },
            },
            { "not": { "properties": { "unit-focus": { "const": true } }, "required": ["unit-focus", "table"] } },
        ])),
        "attachment" => Some(Value::Array(by_kind())),
        _ => None,
    }
}

/// What a kind of attachment must say and may say, from the keys whose range hangs on the kind.
fn by_kind() -> Vec<Value> {
    let keys = HEADINGS.iter().filter(|h| h.path == "attachment").flat_map(|h| h.keys);
    let mut kinds: Vec<(&str, Map<String, Value>)> = Vec::new();
    for key in keys {
        let Form::NumberBy("kind", ranges) = key.form else { continue };
        for (kind, range) in ranges {
            let bounds = json!({ "minimum": range.low, "maximum": range.high });
            match kinds.iter_mut().find(|(known, _)| known == kind) {
                Some((_, members)) => {
                    members.insert(key.name.to_owned(), bounds);
                }
                None => kinds.push((kind, Map::from_iter([(key.name.to_owned(), bounds)]))),
            }
        }
    }
    let rule = |(kind, members): (&str, Map<String, Value>)| {
        let mut then = json!({ "properties": members });
        if let (Value::Object(then), true) = (&mut then, kind != "adapter") {
            let needed: Vec<Value> =
                members.keys().map(|name| json!({ "required": [name] })).collect();
            then.insert("anyOf".to_owned(), Value::Array(needed));
        }
        json!({
            "if": { "properties": { "kind": { "const": kind } }, "required": ["kind"] },
            "then": then,
        })
    };
    kinds.into_iter().map(rule).collect()
}

/// The schema with its words in front.
fn with_description(schema: Value, words: String) -> Value {
    let mut all = Map::from_iter([("description".to_owned(), Value::String(words))]);
    if let Value::Object(members) = schema {
        all.extend(members);
    }
    Value::Object(all)
}

/// With a capital where it begins with a letter of a word; a unit keeps its own.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().filter(|_| !words.starts_with("mm,"));
    match first {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => words.to_owned(),
    }
}
