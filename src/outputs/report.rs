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

/// The files as they are placed beside sidecars and table. The report is worked out at most once, and not at all where its
/// files stand as they should.
pub(super) fn plan<'a>(
    shoot: &'a Shoot,
    job: &'a Job<'_>,
    once: &'a OnceLock<Report>,
) -> impl Iterator<Item = Planned<'a>> {
    FILES.iter().map(move |(name, make)| Planned {
        make: Box::new(move |_| {
            let report = once.get_or_init(|| report(shoot, job.form, job.stamp));
            make(report).map(Into::into).map_err(io::Error::other)
        }),
        ..own(name, &job.sources.into, &[])
    })
}
