//! What the documents say to type works, and where they point to is something.
#![allow(clippy::disallowed_methods, reason = "commands run in a folder of their own")]

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::workshop::{handed_in, inside, plant, root, sample, text, tree};

/// Stands in for cargo and an installed program: `cargo run` and `lensmend` are the program under test.
/// Everything else of cargo is passed over, because the program is built already.
const SHIM: &str = r#"
lensmend() { "$LENSMEND" "$@"; }
cargo() {
    [ "$1" = run ] || return 0
    while [ $# -gt 0 ] && [ "$1" != -- ]; do shift; done
    [ $# -eq 0 ] || shift
    lensmend "$@"
}
"#;

#[test]
fn commands_of_the_readme_run() {
    let Some(readme) = handed_in("README.md") else { return };
    let blocks: Vec<(usize, Vec<String>)> = blocks(&readme)
        .into_iter()
        .map(|(line, block)| (line, commands(&block)))
        .filter(|(_, commands)| commands.iter().any(|command| is_ours(command)))
        .collect();
    assert!(
        !blocks.is_empty(),
        "README.md has no ```sh block with `cargo run` or `lensmend`; show how to start"
    );
    // One folder for all of them, as a reader has it who types one after the other.
    let folder = tempfile::tempdir().unwrap();
    plant(&tree(&sample()), &folder.path().join("samples/saltmarsh-day"));
    for file in ["README.md", "DEVELOPERS.md"] {
        fs::write(folder.path().join(file), text(file).unwrap_or_default()).unwrap();
    }
    let mut broken = Vec::new();
    for (line, commands) in blocks {
        if let Err(why) = run(&commands, folder.path()) {
            broken.push(format!("README.md:{line}: {why}"));
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// Runs commands one after the other in one shell; each must end with 0 or 1 (done, but something needs a person).
fn run(commands: &[String], folder: &Path) -> Result<(), String> {
    let mut script = SHIM.to_owned();
    for command in commands {
        script.push_str(command);
        script
            .push_str("\nlast=$?; [ $last -le 1 ] || { echo \"ended with $last\" >&2; exit 9; }\n");
    }
    let run = Command::new("sh")
        .args(["-c", &script])
        .current_dir(folder)
        .env("LENSMEND", env!("CARGO_BIN_EXE_lensmend"))
        .output()
        .map_err(|error| format!("sh does not run: {error}"))?;
    if run.status.success() {
        return Ok(());
    }
    Err(format!("{commands:?}: {}", String::from_utf8_lossy(&run.stderr)))
}

fn is_ours(command: &str) -> bool {
    command.starts_with("cargo run") || command.split_whitespace().next() == Some("lensmend")
}

/// Fenced blocks marked `sh`, each with the line where it begins.
fn blocks(page: &str) -> Vec<(usize, String)> {
    let mut blocks = Vec::new();
    let mut open: Option<(usize, String, bool)> = None;
    for (number, line) in page.lines().enumerate() {
        let fence = line.trim_start();
        open = match open {
            None if fence.starts_with("```") => {
                Some((number + 1, String::new(), fence.trim_end() == "```sh"))
            }
            None => None,
            Some((start, block, shell)) if fence.starts_with("```") => {
                if shell {
                    blocks.push((start, block));
                }
                None
            }
            Some((start, block, shell)) => Some((start, block + line + "\n", shell)),
        };
    }
    blocks
}

/// The commands of a block: comments and prompts go, lines that end in a backslash are joined with the next.
fn commands(block: &str) -> Vec<String> {
    let joined = block.replace("\\\n", " ");
    let lines = joined.lines().map(str::trim).map(|line| line.strip_prefix("$ ").unwrap_or(line));
    lines.filter(|line| !line.is_empty() && !line.starts_with('#')).map(str::to_owned).collect()
}

#[test]
fn links_of_the_documents_lead_somewhere() {
    let mut pages: Vec<(String, String)> = ["README.md", "DEVELOPERS.md"]
        .into_iter()
        .filter_map(|path| Some((path.to_owned(), handed_in(path)?)))
        .collect();
    for (path, bytes) in tree(&root().join("docs")) {
        if Path::new(&path).extension().is_some_and(|end| end == "md") {
            pages.push((format!("docs/{path}"), String::from_utf8(bytes).unwrap()));
        }
    }
    let mut broken = Vec::new();
    for (path, page) in &pages {
        let folder = root().join(path).parent().unwrap().to_owned();
        for (line, link) in links(page) {
            let (file, part) = link.split_once('#').unwrap_or((&link, ""));
            let target = if file.is_empty() { root().join(path) } else { folder.join(file) };
            let Ok(target) = target.canonicalize() else {
                broken.push(format!("{path}:{line}: {link} is no file"));
                continue;
            };
            if !target.starts_with(root().canonicalize().unwrap()) {
                broken.push(format!("{path}:{line}: {link} leads out of the project"));
            } else if !part.is_empty() && target.is_file() {
                let there = fs::read_to_string(&target).unwrap();
                if !headings(&there).any(|heading| heading == part) {
                    let target = inside(&root().canonicalize().unwrap(), &target);
                    broken.push(format!("{path}:{line}: {target} has no heading #{part}"));
                }
            }
        }
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// Relative links of a page with their lines: inline, pictures and reference definitions, outside of code.
fn links(page: &str) -> Vec<(usize, String)> {
    let mut links = Vec::new();
    let mut fenced = false;
    for (number, line) in page.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
            continue;
        }
        if fenced {
            continue;
        }
        let prose: String = line.split('`').step_by(2).collect::<Vec<_>>().join("`");
        let inline = prose.split("](").skip(1).filter_map(|rest| rest.split([')', ' ']).next());
        let defined = line
            .strip_prefix('[')
            .and_then(|rest| rest.split_once("]: "))
            .map(|(_, link)| link.trim());
        for link in inline.chain(defined) {
            let outside =
                ["http://", "https://", "mailto:"].iter().any(|scheme| link.starts_with(scheme));
            if !outside && !link.is_empty() {
                links.push((number + 1, link.trim_matches(['<', '>']).to_owned()));
            }
        }
    }
    links
}

/// Headings as links name them: lower case, dashes for blanks, other signs dropped.
fn headings(page: &str) -> impl Iterator<Item = String> {
    page.lines().filter(|line| line.starts_with('#')).map(|line| {
        let words = line.trim_start_matches('#').trim().to_lowercase();
        let kept = words.chars().filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
        kept.map(|c| if c == ' ' { '-' } else { c }).collect()
    })
}

#[test]
fn blocks_commands_and_links_are_found() {
    let page = "# One, two\n```sh\n# a note\n$ lensmend scan \\\n  x\nls\n```\n```\nlensmend no\n```\n\
        [a](b.md#one) ![c](d.png) [e](https://f) `[g](h)`\n[i]: j.md\n";
    let blocks = blocks(page);
    assert_eq!(blocks.len(), 1);
    assert_eq!(commands(&blocks[0].1), ["lensmend scan    x", "ls"]);
    let links: Vec<String> = links(page).into_iter().map(|(_, link)| link).collect();
    assert_eq!(links, ["b.md#one", "d.png", "j.md"]);
    assert_eq!(headings(page).next().as_deref(), Some("one-two"));
}

#[test]
fn a_command_that_fails_is_a_failure_and_findings_are_none() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let run = |command: &str| run(&[command.to_owned()], folder);
    assert_eq!(run("cargo run --release -- --version"), Ok(()));
    assert_eq!(run("cargo build --release"), Ok(()));
    assert_eq!(run("false"), Ok(()));
    assert!(run("lensmend scan nowhere").is_err());
    assert!(run("cargo run -- annotate nowhere").is_err());
}

/// The excerpt that the README shows is what the program prints, line for line.
#[test]
fn the_readme_shows_what_the_sample_prints() {
    let readme = text("README.md").unwrap();
    let printed = text("samples/saltmarsh-day/expected/summary.txt").unwrap();
    let excerpt = readme.split("```text\n").nth(1).and_then(|rest| rest.split("```").next());
    let lines: Vec<&str> = excerpt.expect("the README has a ```text block").lines().collect();
    assert!(lines.len() > 3, "{lines:?}");
    for line in lines {
        assert!(printed.lines().any(|printed| printed == line), "not printed any more: {line}");
    }
}
