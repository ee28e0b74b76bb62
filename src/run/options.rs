//! The options of a run as words of a command line, as the run record keeps them, and back.

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

use anyhow::{Result, anyhow, bail};
use clap::{Parser as _, ValueEnum};

use crate::cli::{Annotate, Cli, Command, Form, Trusted};
use crate::folder::Sources;

/// Options that name files, or ask only how to go about it: a change of them alone makes no output another one.
const NO_MATTER: &[&str] =
    &["--kit", "--notes", "--clip-list", "--dump", "--headings", "--verify", "--append-history"];

/// The words, one an option, in the order of the help.
pub(super) fn words(request: &Annotate, sources: &Sources) -> Vec<String> {
    // Taken apart, so that a new option does not compile until it has its place.
    let Annotate {
        folder: _,
        kit,
        notes,
        sheet,
        clip_list,
        dump,
        into: _,
        per_frame,
        beside,
        // Asked for once: what it replaced is lensmend's own from then on.
        replace_edited: _,
        verify,
        append_history,
        dry_run: _,
        reducer,
        extender,
        clock,
        lens_data,
        trust,
        columns,
        form,
        date: _,
        json: _,
    } = request;
    let trust = trust.map(|whom| match whom {
        Trusted::Notes => "notes".to_owned(),
        Trusted::Media => "media".to_owned(),
    });
    let names = |paths: &[PathBuf]| paths.iter().map(|path| sources.name(path)).collect();
    let Form { paper, date_form, decimal, headings } = form;
    let with_value: [(&str, Vec<String>); 15] = [
        ("kit", names(kit.as_slice())),
        ("notes", names(notes)),
        ("sheet", sheet.iter().cloned().collect()),
        ("clip-list", names(clip_list)),
        ("dump", names(dump.as_slice())),
        ("reducer", reducer.iter().cloned().collect()),
        ("extender", extender.iter().cloned().collect()),
        ("clock", clock.clone()),
        ("lens-data", lens_data.iter().cloned().collect()),
        ("trust", trust.into_iter().collect()),
        ("columns", columns.iter().cloned().collect()),
        ("paper", chosen(*paper)),
        ("date-form", chosen(*date_form)),
        ("decimal", chosen(*decimal)),
        ("headings", names(headings.as_slice())),
    ];
    let switches = [
        ("per-frame", *per_frame),
        ("beside", *beside),
        ("verify", *verify),
        ("append-history", *append_history),
    ];
    let with_value = with_value.into_iter().flat_map(|(name, values)| {
        values.into_iter().map(move |value| format!("--{name}={value}"))
    });
    let switches = switches.into_iter().filter(|(_, on)| *on).map(|(name, _)| format!("--{name}"));
    with_value.chain(switches).collect()
}

/// The word of a choice on the command line.
fn chosen(choice: Option<impl ValueEnum>) -> Vec<String> {
    let word = choice.and_then(|choice| choice.to_possible_value());
    word.iter().map(|word| word.get_name().to_owned()).collect()
}

/// Those of the words that make outputs what they are.
pub(super) fn that_matter(words: &[String]) -> Vec<&str> {
    let name = |word: &str| word.split('=').next().unwrap_or_default().to_owned();
    let matters = |word: &&String| !NO_MATTER.contains(&name(word).as_str());
    words.iter().filter(matters).map(String::as_str).collect()
}

/// The request that the words of a command line make. The error says what is wrong with them.
pub(super) fn typed(folder: &Path, words: &[String]) -> Result<Annotate> {
    let start = ["lensmend", "annotate"].map(OsString::from).into_iter();
    let all = start.chain(words.iter().map(OsString::from));
    let all = all.chain([OsStr::new("--").to_owned(), folder.as_os_str().to_owned()]);
    let cli = Cli::try_parse_from(all).map_err(|error| {
        let text = error.to_string();
        anyhow!("{}", text.lines().next().unwrap_or_default().trim_start_matches("error: "))
    })?;
    let Command::Annotate(request) = cli.command else {
        bail!("these are no options of `annotate`");
    };
    Ok(request)
}

/// The request that the words of a run record make: files are looked for in the folder first.
pub(super) fn recorded(folder: &Path, words: &[String]) -> Result<Annotate> {
    let mut request = typed(folder, words)?;
    let there = |path: &mut PathBuf| {
        let inside = folder.join(&*path);
        if inside.exists() {
            *path = inside;
        }
    };
    request.kit.iter_mut().for_each(there);
    request.dump.iter_mut().for_each(there);
    request.notes.iter_mut().for_each(there);
    request.clip_list.iter_mut().for_each(there);
    request.form.headings.iter_mut().for_each(there);
    Ok(request)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_read_back_to_the_same_request() {
        let typed_in = [
            "--kit=day/kits/b.toml",
            "--notes=day/a.csv",
            "--notes=elsewhere/b.csv",
            "--sheet=Day 3",
            "--clock=A=-00:01:30",
            "--lens-data=usd,fdl",
            "--trust=media",
            "--columns=clip,lens=Glass",
            "--paper=letter",
            "--date-form=day-first",
            "--decimal=comma",
            "--headings=day/de.toml",
            "--reducer=0.71",
            "--beside",
            "--verify",
            "--append-history",
            "--per-frame",
        ]
        .map(str::to_owned);
        let sources = Sources {
            folder: "day".into(),
            kit: None,
            notes: Vec::new(),
            lists: Vec::new(),
            passed_over: Vec::new(),
            dump: "day".into(),
            into: "out".into(),
        };
        let first = words(&typed(Path::new("day"), &typed_in).unwrap(), &sources);
        assert_eq!(first.len(), typed_in.len());
        assert!(first.contains(&"--kit=kits/b.toml".to_owned()), "{first:?}");
        let again = words(&recorded(Path::new("day"), &first).unwrap(), &sources);
        assert_eq!(again, first);
        let matter = that_matter(&first);
        assert_eq!(matter.len(), first.len() - 6, "{matter:?}");
        let once = typed(Path::new("day"), &["--replace-edited".to_owned()]).unwrap();
        assert!(once.replace_edited && words(&once, &sources).is_empty());
        assert!(typed(Path::new("day"), &["--nonsense".to_owned()]).is_err());
    }
}
