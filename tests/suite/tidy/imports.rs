//! Who may import whom. Data flows one way through the program, and this table is that way; `DEVELOPERS.md` draws it.

use super::source::{code_of, files};

/// Modules that everyone may use. Among themselves they use only each other.
const VOCABULARY: &[&str] = &[
    "units",
    "ratio",
    "timecode",
    "estimate",
    "sourced",
    "track",
    "finding",
    "number",
    "naming",
    "read_at",
    "stops",
    "fields",
    "fingerprint",
    "watch",
];

/// Stands for every module of the vocabulary.
const WORDS: &str = "vocabulary";
/// Stands for every module.
const ALL: &str = "all";

/// What each module may use besides itself; a longer path allows only what is below it.
const TABLE: &[(&str, &[&str])] = &[
    ("main", &["cli", "terminal"]),
    ("terminal", &["cli", "run", "output", WORDS]),
    ("cli", &[]),
    ("run", &[ALL]),
    ("folder", &["dump::walk", "lists", "notes", "seal::managed"]),
    ("inputs", &["annotation", "dump", "folder", "kit", "lists", "notes", "recorded", WORDS]),
    ("dump", &[WORDS]),
    ("seal", &["dump", WORDS]),
    ("header", &[WORDS]),
    ("recorded", &["header", WORDS]),
    ("notes", &[WORDS]),
    ("lists", &["notes", WORDS]),
    ("kit", &["optics", WORDS]),
    ("cut", &[WORDS]),
    ("optics", &["estimate", "units"]),
    ("measure", &["notes", "kit", "optics::attachment", "optics::pinhole", WORDS]),
    ("annotation", &["recorded", WORDS]),
    ("sheet", &["annotation", "kit", "notes", WORDS]),
    ("train", &["kit", "optics", "annotation", WORDS]),
    ("prep", &["kit", "optics", "train", WORDS]),
    (
        "reconcile",
        &["dump", "recorded", "lists", "notes", "kit", "optics", "train", "annotation", WORDS],
    ),
    ("turnover", &["annotation", "cut", "kit::Plate", WORDS]),
    ("comparison", &["annotation", WORDS]),
    (
        "ask",
        &["cli", "kit", "notes::distance", "optics", "train", "annotation", "comparison", WORDS],
    ),
    (
        "output",
        &[
            "annotation",
            "comparison",
            "cut",
            "measure",
            "prep",
            "recorded",
            "sheet",
            "turnover",
            WORDS,
        ],
    ),
    ("place", &["dump::walk::read_input", "dump::walk::UNFINISHED", WORDS]),
    ("outputs", &["annotation", "dump::walk", "folder", "output", "place", "seal", WORDS]),
];

#[test]
fn modules_use_only_what_lies_upstream() {
    let mut broken = Vec::new();
    let mut count = 0;
    for (path, source) in files() {
        let (found, looked_at) = check(&path, &source);
        broken.extend(found);
        count += looked_at;
    }
    assert!(count > 100, "only {count} imports found: the checker has gone blind");
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// What in a file breaks the table, and how many paths were looked at.
fn check(path: &str, source: &str) -> (Vec<String>, usize) {
    let place = place_of(path);
    let own = place.first().map_or("lib", String::as_str);
    let paths = paths(&place, source);
    let allowed: Option<&[&str]> = if VOCABULARY.contains(&own) {
        Some(&[WORDS])
    } else {
        TABLE.iter().find(|(module, _)| *module == own).map(|(_, allowed)| *allowed)
    };
    let Some(allowed) = allowed else {
        let unknown = (own != "lib").then(|| {
            format!(
                "{path}:1: module `{own}` has no row in the table of tests/suite/tidy/imports.rs"
            )
        });
        return (unknown.into_iter().collect(), paths.len());
    };
    let broken = paths
        .iter()
        .filter(|(_, used)| used.first().is_some_and(|first| first != own))
        .filter(|(_, used)| {
            !allowed.iter().any(|allowed| match *allowed {
                ALL => true,
                WORDS => used.first().is_some_and(|first| VOCABULARY.contains(&first.as_str())),
                allowed => allowed
                    .split("::")
                    .enumerate()
                    .all(|(at, part)| used.get(at).is_some_and(|used| used == part)),
            })
        });
    let broken = broken.map(|(line, used)| {
        let used = used.join("::");
        let list = if allowed.is_empty() { "nothing".to_owned() } else { allowed.join(", ") };
        format!(
            "{path}:{line}: `{own}` may not use `{used}`, only {list} (tests/suite/tidy/imports.rs)"
        )
    });
    (broken.collect(), paths.len())
}

/// The module that a file is, as the parts of its path; empty for `lib.rs`.
fn place_of(path: &str) -> Vec<String> {
    let inner = path.trim_start_matches("src/").trim_end_matches(".rs");
    let mut parts: Vec<String> = inner.split('/').map(str::to_owned).collect();
    if parts.last().is_some_and(|last| last == "mod" || (last == "lib" && parts.len() == 1)) {
        parts.pop();
    }
    parts
}

/// A piece of source.
#[derive(Clone, Debug, PartialEq)]
enum Token {
    Word(String),
    Path,
    Sign(char),
}

/// Every path into the crate that a file names, with its line: `use crate::a::{b, c}` is two, `super` is followed.
fn paths(place: &[String], source: &str) -> Vec<(usize, Vec<String>)> {
    let tokens = tokens(&code_of(source));
    let token = |at: usize| tokens.get(at).map(|(_, token)| token);
    let mut found = Vec::new();
    // Modules written inside the file, with the depth of braces at which each ends.
    let mut inner: Vec<(String, usize)> = Vec::new();
    let mut depth = 0;
    let mut at = 0;
    while let Some((_, now)) = tokens.get(at) {
        match now {
            Token::Sign('{') => depth += 1,
            Token::Sign('}') => {
                depth -= 1;
                inner.retain(|(_, ends)| *ends < depth + 1);
            }
            Token::Word(word) if word == "mod" => {
                if let (Some(Token::Word(name)), Some(Token::Sign('{'))) =
                    (token(at + 1), token(at + 2))
                {
                    inner.push((name.clone(), depth + 1));
                }
            }
            Token::Word(word)
                if ["crate", "super", "lensmend"].contains(&word.as_str())
                    && token(at + 1) == Some(&Token::Path)
                    && (at == 0 || token(at - 1) != Some(&Token::Path)) =>
            {
                let mut start = Vec::new();
                let mut after = at + 2;
                if word == "super" {
                    start = place.to_vec();
                    start.extend(inner.iter().map(|(name, _)| name.clone()));
                    start.pop();
                    while token(after) == Some(&Token::Word("super".to_owned()))
                        && token(after + 1) == Some(&Token::Path)
                    {
                        start.pop();
                        after += 2;
                    }
                }
                branches(&tokens, &mut after, &start, &mut found);
                at = after;
                continue;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Reads what follows a `::` and collects every path of it; `at` ends behind it.
fn branches(
    tokens: &[(usize, Token)],
    at: &mut usize,
    start: &[String],
    found: &mut Vec<(usize, Vec<String>)>,
) {
    let mut path = start.to_vec();
    loop {
        match tokens.get(*at) {
            Some((_, Token::Sign('{'))) => {
                *at += 1;
                while let Some((_, token)) = tokens.get(*at) {
                    match token {
                        Token::Sign('}') => {
                            *at += 1;
                            return;
                        }
                        Token::Sign(',') => *at += 1,
                        _ => branches(tokens, at, &path, found),
                    }
                }
                return;
            }
            Some((line, Token::Word(word))) => {
                if word != "self" {
                    path.push(word.clone());
                }
                *at += 1;
                if let Some((_, Token::Path)) = tokens.get(*at) {
                    *at += 1;
                    continue;
                }
                found.push((*line, path));
                // `as` another name is no part of the path.
                if tokens.get(*at).is_some_and(|(_, token)| *token == Token::Word("as".to_owned()))
                {
                    *at += 2;
                }
                return;
            }
            // A glob, or the `<` of type arguments: the path so far is what is used.
            Some((line, Token::Sign(_))) => {
                found.push((*line, path));
                *at += 1;
                return;
            }
            Some((_, Token::Path)) => *at += 1,
            None => return,
        }
    }
}

fn tokens(code: &str) -> Vec<(usize, Token)> {
    let mut tokens = Vec::new();
    for (line, text) in code.lines().enumerate() {
        let mut rest = text.trim_start();
        while let Some(first) = rest.chars().next() {
            let length =
                rest.find(|c: char| !(c.is_alphanumeric() || c == '_')).unwrap_or(rest.len());
            let (token, length) = if length > 0 {
                (Token::Word(rest[..length].to_owned()), length)
            } else if rest.starts_with("::") {
                (Token::Path, 2)
            } else {
                (Token::Sign(first), first.len_utf8())
            };
            tokens.push((line + 1, token));
            rest = rest[length..].trim_start();
        }
    }
    tokens
}

#[test]
fn the_checker_reads_paths_as_the_compiler_does() {
    let source = "use crate::{a::{self, b as c}, d};\nuse super::rows::{Row, of_file};\nfn f() { crate::number::short(1.0, 2); }\n\
        // crate::comment\nlet text = \"crate::text\";\npub(crate) fn g(x: super::super::kit::Kit) {}\n\
        mod tests {\n use super::*;\n use super::super::values;\n}\nlet v = crate::e::collect::<T>();";
    let found: Vec<(usize, String)> = paths(&place_of("src/output/xmp.rs"), source)
        .into_iter()
        .map(|(line, path)| (line, path.join("::")))
        .collect();
    let expected = [
        (1, "a"),
        (1, "a::b"),
        (1, "d"),
        (2, "output::rows::Row"),
        (2, "output::rows::of_file"),
        (3, "number::short"),
        (6, "kit::Kit"),
        (8, "output::xmp"),
        (9, "output::values"),
        (11, "e::collect"),
    ];
    assert_eq!(found, expected.map(|(line, path)| (line, path.to_owned())));
}

#[test]
fn the_checker_sees_a_breach_and_names_file_and_line() {
    let breach = |path: &str, source: &str| check(path, source).0;
    let found = breach(
        "src/output/xmp.rs",
        "use crate::fields::Field;\n\nuse crate::optics::view::angle;\n",
    );
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        found[0].starts_with("src/output/xmp.rs:3: `output` may not use `optics::view::angle`"),
        "{found:?}"
    );
    assert_eq!(breach("src/place.rs", "use crate::dump::walk::{read_input, list};").len(), 1);
    assert_eq!(breach("src/units.rs", "fn f() { crate::kit::parse(); }").len(), 1);
    assert_eq!(breach("src/optics/view.rs", "use super::super::finding::Finding;").len(), 1);
    assert_eq!(breach("src/cli.rs", "use crate::output;").len(), 1);
    assert_eq!(breach("src/brand_new.rs", "").len(), 1);
    assert_eq!(breach("src/run.rs", "use crate::kit;\nuse crate::output::xmp;"), [""; 0]);
    assert_eq!(breach("src/main.rs", "lensmend::terminal::start(&cli)"), [""; 0]);
    assert_eq!(breach("src/main.rs", "lensmend::run::run()").len(), 1);
}
