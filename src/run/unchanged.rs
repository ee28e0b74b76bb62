//! The fingerprint of everything that an annotated shoot is made from. If two runs have the same, they come to the same.
//!
//! Whatever else comes to bear on outputs must be taken in here, or a change of it would go unnoticed.

use std::path::Path;

use crate::annotation::{Input, Shoot};
use crate::cli::{Annotate, Trusted};
use crate::dump::{Clip, Dump, Part, Row, Stray};
use crate::fingerprint::Fingerprint;

/// Takes in which files there are, and what clips they make.
pub(super) fn dump(print: &mut Fingerprint, dump: &Dump) {
    // Where the dump lies says nothing; outputs name files by their places inside it.
    let Dump { root: _, clips, strays } = dump;
    print.each(clips, |print, Clip { name, roll, short, parts, copies }| {
        print.text(name).text(short).maybe(roll.as_deref(), |print, roll| {
            print.text(roll);
        });
        print.each(parts, part).each(copies, |print, copy| {
            print.each(copy, part);
        });
    });
    print.each(strays, |print, Stray { path: stray, reason }| {
        path(print, stray);
        print.text(reason);
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
    let parts: Vec<_> = path.components().map(|part| part.as_os_str()).collect();
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
        per_frame,
        beside,
        dry_run: _,
        trust,
        columns: _,
        date: _,
        json: _,
    } = request;
    let trusts = matches!(trust, Some(Trusted::Notes));
    for flag in [*per_frame, *beside, trusts] {
        print.number(flag.into());
    }
    print.text(columns).text(tool);
}

/// Takes in which texts were read, and everything that was found so far: a file that could not be read has no other trace.
pub(super) fn read(print: &mut Fingerprint, shoot: &Shoot) {
    print.each(&shoot.inputs, |print, Input { role, file, sha256, size }| {
        print.text(role).text(file).text(sha256).number(*size);
    });
    print.each(&shoot.findings, |print, finding| {
        print.text(&format!("{finding:?}"));
    });
}
