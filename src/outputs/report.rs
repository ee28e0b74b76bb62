//! The files of a camera report.

use std::io;
use std::sync::OnceLock;

use anyhow::Result;

use crate::annotation::Shoot;
use crate::folder::{REPORT_PAGE, REPORT_PRINT, REPORT_TABLE};
use crate::output::paper;
use crate::output::report::{Report, csv, html, report};
use crate::place::Planned;

use super::package::Item;
use super::{Job, own};

/// Name in the output folder, and what makes the bytes: the same report, the same bytes.
type File = (&'static str, fn(&Report) -> Result<Vec<u8>>);

/// Every file of a camera report.
const FILES: &[File] = &[
    (REPORT_PAGE, |report| Ok(html::write(report))),
    (REPORT_PRINT, paper::write),
    (REPORT_TABLE, csv::write),
];

/// What each is in a record.
pub(super) const ROLE: &str = "report";

/// How many there are.
pub(super) fn count() -> usize {
    FILES.len()
}

/// The files as those of a package.
pub fn items(report: &Report) -> Vec<Item<'_>> {
    let item = |(file, make): &File| {
        let (file, make) = ((*file).to_owned(), *make);
        Item { role: ROLE, file, make: Box::new(move || make(report).map_err(io::Error::other)) }
    };
    FILES.iter().map(item).collect()
}

/// What was made so far of a report and its files: each at most once, and not at all where the files stand as they should.
#[derive(Default)]
pub(super) struct Once {
    report: OnceLock<Report>,
    files: [OnceLock<Result<Vec<u8>, String>>; FILES.len()],
}

/// The files as they are placed beside sidecars and table.
pub(super) fn plan<'a>(
    shoot: &'a Shoot,
    job: &'a Job<'_>,
    once: &'a Once,
) -> impl Iterator<Item = Planned<'a>> {
    FILES.iter().zip(&once.files).map(move |((name, make), file)| Planned {
        make: Box::new(move |_| {
            let made = file.get_or_init(|| {
                // Not in parallel inside: a thread that waits for its parts could be given another file, which waits for it.
                let report = once.report.get_or_init(|| report(shoot, job.form, job.stamp));
                make(report).map_err(|error| error.to_string())
            });
            let made = made.as_deref().map_err(|why| io::Error::other(why.clone()))?;
            Ok(made.into())
        }),
        ..own(name, &job.sources.into, &[])
    })
}
