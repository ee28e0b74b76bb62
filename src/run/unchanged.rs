//! The fingerprint of everything that an annotated shoot is made from. If two runs have the same, they come to the same.
//!
//! Whatever else comes to bear on outputs must be taken in here, or a change of it would go unnoticed.

use std::path::{Component, Path};

use crate::annotation::Input;
use crate::cli::{Annotate, DateForm, Decimal, Form, Paper, Trusted};
use crate::dump::{Clip, Dump, Part, Row};
use crate::finding::Finding;
use crate::fingerprint::Fingerprint;

/// Takes in which files there are, and what clips they make.
pub(super) fn dump(print: &mut Fingerprint, dump: &Dump) {
    // Where the dump lies says nothing: outputs name files by their places inside it. Strays come to bear on the record alone,
    // and sidecars of this very run may still be among them.
    let Dump { root: _, clips, strays: _ } = dump;
    print.each(clips, |print, Clip { name, roll, short, parts, copies }| {
        print.text(name).text(short).maybe(roll.as_deref(), |print, roll| {
            print.text(roll);
        });
        print.each(parts, part).each(copies, |print, copy| {
            print.each(copy, part);
        });
    });
}

fn part(print: &mut Fingerprint, part: &Part) {
    let Part { path: file, number, size, row } = part;
    path(print, file);
    print.number(*size).maybe(*number, |print, number| {
        print.number(number.into());
    });
    print.maybe(row.as_ref(), |print, Row { stem, last, numbers, files, pictures }| {
        path(print, stem);
        path(print, last);
        print.number(numbers.0).number(numbers.1).number(*files).number((*pictures).into());
    });
}

fn path(print: &mut Fingerprint, path: &Path) {
    // Parts one by one, so that the same files give the same on every platform.
    let parts: Vec<_> = path.components().map(Component::as_os_str).collect();
    print.each(&parts, |print, part| {
        print.bytes(part.as_encoded_bytes());
    });
}

/// Takes in what was asked for, and of which program.
pub(super) fn asked(print: &mut Fingerprint, request: &Annotate, columns: &str, tool: &str) {
    // Taken apart, so that a new switch does not compile until it has its place. What names files to read is known by what
    // was read, and what only asks how to tell of the run has no part in it.
    let Annotate {
        folder: _,
        kit: _,
        notes: _,
        clip_list: _,
        dump: _,
        into: _,
        // What came of it is among the findings.
        verify: _,
        append_history: _,
        per_frame,
        beside,
        dry_run: _,
        lens_data,
        // What was edited is made again in any case.
        replace_edited: _,
        sheet,
        trust,
        reducer,
        extender,
        clock,
        columns: _,
        form,
        date: _,
        json: _,
    } = request;
    for flag in [*per_frame, *beside] {
        print.number(flag.into());
    }
    print.number(match trust {
        None => 0,
        Some(Trusted::Notes) => 1,
        Some(Trusted::Media) => 2,
    });
    for text in [sheet, lens_data, reducer, extender] {
        print.maybe(text.as_deref(), |print, text| {
            print.text(text);
        });
    }
    print.each(clock, |print, clock| {
        print.text(clock);
    });
    // What the headings say is known by what was read.
    let Form { paper, date_form, decimal, headings: _ } = form;
    let form = [
        paper.map(|paper| u64::from(paper == Paper::Letter)),
        date_form.map(|form| match form {
            DateForm::Iso => 0,
            DateForm::DayFirst => 1,
            DateForm::MonthFirst => 2,
            DateForm::Words => 3,
        }),
        decimal.map(|decimal| u64::from(decimal == Decimal::Comma)),
    ];
    // What is usual and what was asked for as it is usual are one.
    for choice in form {
        print.number(choice.unwrap_or(0));
    }
    print.text(columns).text(tool);
}

/// Takes in which texts were read.
pub(super) fn texts(print: &mut Fingerprint, inputs: &[Input]) {
    print.each(inputs, |print, Input { role, file, sha256, size }| {
        print.text(role).text(file).text(sha256).number(*size);
    });
}

/// Takes in what was found on the way: a file that could not be read has no other trace.
pub(super) fn found(print: &mut Fingerprint, findings: &[Finding]) {
    print.each(findings, |print, finding| {
        print.finding(finding);
    });
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use clap::Parser as _;

    use super::*;
    use crate::cli::{Cli, Command};
    use crate::finding::Code;

    fn of(flags: &[&str], columns: &str, tool: &str) -> String {
        let words = ["lensmend", "annotate", "day"].iter().chain(flags);
        let Command::Annotate(request) = Cli::parse_from(words).command else { panic!() };
        let mut print = Fingerprint::default();
        asked(&mut print, &request, columns, tool);
        print.end()
    }

    #[test]
    fn switches_columns_and_version_count_and_what_is_only_told_does_not() {
        let usual = of(&[], "clip", "lensmend 1.0.0");
        let prints = [
            of(&["--per-frame"], "clip", "lensmend 1.0.0"),
            of(&["--beside"], "clip", "lensmend 1.0.0"),
            of(&["--trust", "notes"], "clip", "lensmend 1.0.0"),
            of(&["--paper", "letter"], "clip", "lensmend 1.0.0"),
            of(&["--date-form", "words"], "clip", "lensmend 1.0.0"),
            of(&["--decimal", "comma"], "clip", "lensmend 1.0.0"),
            of(&[], "clip,roll", "lensmend 1.0.0"),
            of(&[], "clip", "lensmend 1.0.1"),
            usual.clone(),
        ];
        assert_eq!(prints.iter().collect::<BTreeSet<_>>().len(), prints.len());
        assert_eq!(of(&["--paper", "a4", "--decimal", "point"], "clip", "lensmend 1.0.0"), usual);
        assert_eq!(of(&["--json", "--dry-run"], "clip", "lensmend 1.0.0"), usual);
    }

    #[test]
    fn every_member_of_a_clip_counts() {
        let part = Part { path: "A/a.mov".into(), number: None, size: 1, row: None };
        let row = Row {
            stem: "A/a.dng".into(),
            last: "A/a2.dng".into(),
            numbers: (1, 2),
            files: 2,
            pictures: true,
        };
        let clip = Clip {
            name: "a".into(),
            roll: None,
            short: "a".into(),
            parts: vec![part.clone()],
            copies: Vec::new(),
        };
        let with = |part: Part| Clip { parts: vec![part], ..clip.clone() };
        let clips = [
            clip.clone(),
            Clip { name: "b".into(), ..clip.clone() },
            Clip { roll: Some(String::new()), ..clip.clone() },
            Clip { short: "b".into(), ..clip.clone() },
            Clip { copies: vec![vec![part.clone()]], ..clip.clone() },
            with(Part { path: "A/b.mov".into(), ..part.clone() }),
            with(Part { number: Some(1), ..part.clone() }),
            with(Part { size: 2, ..part.clone() }),
            with(Part { row: Some(row.clone()), ..part.clone() }),
            with(Part {
                row: Some(Row { last: "A/a3.dng".into(), ..row.clone() }),
                ..part.clone()
            }),
            with(Part { row: Some(Row { stem: "A/b.dng".into(), ..row.clone() }), ..part.clone() }),
            with(Part { row: Some(Row { numbers: (1, 3), ..row.clone() }), ..part.clone() }),
            with(Part { row: Some(Row { files: 1, ..row.clone() }), ..part.clone() }),
            with(Part { row: Some(Row { pictures: false, ..row }), ..part }),
        ];
        let print = |clip: &Clip| {
            let mut print = Fingerprint::default();
            let of = Dump { root: "d".into(), clips: vec![clip.clone()], strays: Vec::new() };
            dump(&mut print, &of);
            print.end()
        };
        assert_eq!(clips.iter().map(print).collect::<BTreeSet<_>>().len(), clips.len());
    }

    #[test]
    fn texts_and_findings_count() {
        let input = Input { role: "kit", file: "kit.toml".into(), sha256: "0".into(), size: 1 };
        let finding = Finding::new(Code::DumpUnreadable, "cannot be read");
        let other = Input { sha256: "1".into(), ..input.clone() };
        let runs = [
            (vec![], vec![]),
            (vec![input], vec![]),
            (vec![other], vec![]),
            (vec![], vec![finding.clone()]),
            (vec![], vec![finding.hint("look")]),
        ];
        let print = |(inputs, findings): &(Vec<Input>, Vec<Finding>)| {
            let mut print = Fingerprint::default();
            texts(&mut print, inputs);
            found(&mut print, findings);
            print.end()
        };
        assert_eq!(runs.iter().map(print).collect::<BTreeSet<_>>().len(), runs.len());
    }
}
