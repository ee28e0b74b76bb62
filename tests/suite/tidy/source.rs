//! Rust source as far as the rules need it: files, and code without comments and literals.

use std::path::Path;

use crate::workshop::{root, tree};

/// Every Rust file of `src`, by its path from the project's folder.
pub(super) fn files() -> Vec<(String, String)> {
    let files: Vec<_> = tree(&root().join("src"))
        .into_iter()
        .filter(|(path, _)| Path::new(path).extension().is_some_and(|end| end == "rs"))
        .map(|(path, bytes)| (format!("src/{path}"), String::from_utf8(bytes).unwrap()))
        .collect();
    assert!(files.len() > 30, "only {} files found in src", files.len());
    files
}

/// `source` with comments and the insides of literals blanked; lines stay where they are.
pub(super) fn code_of(source: &str) -> String {
    let letters: Vec<char> = source.chars().collect();
    let mut code = String::new();
    let mut at = 0;
    while at < letters.len() {
        let end = end_of_noise(&letters, at);
        for letter in &letters[at..end] {
            code.push(if *letter == '\n' { '\n' } else { ' ' });
        }
        if end == at {
            code.push(letters[at]);
            at += 1;
        } else {
            at = end;
        }
    }
    code
}

/// Where the comment or literal that begins at `at` ends; `at` if none does.
fn end_of_noise(letters: &[char], at: usize) -> usize {
    let rest = &letters[at..];
    let find = |from: usize, what: &[char]| {
        (at + from..letters.len())
            .find(|place| letters[*place..].starts_with(what))
            .map_or(letters.len(), |place| place + what.len())
    };
    let in_word = at > 0 && (letters[at - 1].is_alphanumeric() || letters[at - 1] == '_');
    match rest {
        ['/', '/', ..] => {
            letters[at..].iter().position(|c| *c == '\n').map_or(letters.len(), |n| at + n)
        }
        ['/', '*', ..] => find(2, &['*', '/']),
        ['"', ..] => end_of_text(letters, at + 1),
        ['r' | 'b', ..] if !in_word => {
            let lead = rest.iter().take_while(|c| ['r', 'b'].contains(c)).count();
            let hashes = rest[lead..].iter().take_while(|c| **c == '#').count();
            let raw = rest[..lead].contains(&'r');
            match rest.get(lead + hashes) {
                Some('"') if raw && lead <= 2 => {
                    let mut end = vec!['"'];
                    end.extend(std::iter::repeat_n('#', hashes));
                    find(lead + hashes + 1, &end)
                }
                _ => at,
            }
        }
        ['\'', '\\', _, ..] => find(3, &['\'']),
        ['\'', _, '\'', ..] => at + 3,
        _ => at,
    }
}

fn end_of_text(letters: &[char], mut at: usize) -> usize {
    while at < letters.len() {
        match letters[at] {
            '"' => return at + 1,
            '\\' => at += 2,
            _ => at += 1,
        }
    }
    letters.len()
}

#[test]
fn comments_and_literals_are_blanked_and_lines_kept() {
    let source = "a(); // crate::b\nlet c = \"crate::\\\"d\n\"; /* e\n*/ 'f'; '\\''; r#\"g\"#; b\"h\"; rb; <'i>";
    let code = code_of(source);
    assert_eq!(code.lines().count(), source.lines().count());
    let words: Vec<&str> = code.split_whitespace().collect();
    assert_eq!(words, ["a();", "let", "c", "=", ";", ";", ";", ";", "b", ";", "rb;", "<'i>"]);
}
