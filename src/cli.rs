//! The command line, checked and turned into a request. Does no work.

mod check;
mod kit;
mod measure;
mod optics;
mod reading;
mod report;
mod sheet;
mod stamp;
mod turnover;

use std::path::PathBuf;

pub use check::Check;
pub use kit::KitCheck;
pub use measure::Measure;
pub use optics::Optics;
pub use reading::{Reading, Telling};
pub use report::{DateForm, Decimal, Form, Paper, Report};
pub use sheet::{FocusUnit, Sheet};
pub use stamp::Stamp;
pub use turnover::Turnover;

use clap::{Parser, Subcommand, ValueEnum};

/// Tells post what lens a picture was really taken with.
#[derive(Debug, Parser)]
#[command(
    version,
    about = "Tells post what lens a picture was really taken with",
    long_about = "Tells post what lens a picture was really taken with.\n\n\
        Put the dump of the day's cards, the lens notes (CSV or a workbook) and kit.toml in one folder, and run\n\
        `lensmend annotate FOLDER`. It works out what every clip was shot with behind its focal reducer,\n\
        adapter or extender, and writes sidecars, a lens table and a run record. It never touches the clips.",
    after_help = "Exit code: 0 all clear; 1 done, but something needs a person; 2 the request could not be carried out and nothing was written; 130 interrupted (Ctrl-C).",
    arg_required_else_help = true,
    max_term_width = 100
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// List the clips of a dump and what each says of itself
    #[command(
        long_about = "List the clips of a dump: raster, rate, frames, timecode, camera, and the lens data each carries.\n\
        Files that are no clips are listed with the reason. Reads headers only and writes nothing."
    )]
    Scan(Scan),
    /// Blank lens notes to fill in, for the clips of a dump or for the day to come
    #[command(
        long_about = "Blank lens notes: a row for each clip of the dump, with what the media recorded beside it, or empty rows \
        for the day to come with the names of the kit.\n\n\
        Prints CSV. With --into it writes a file: .csv, .xlsx with drop-down lists, or .html, a page to print and fill in by \
        hand. Notes that somebody has filled in are never written over. Filled in, the file is read by `annotate`; what \
        nobody filled in says nothing.",
        after_help = "Example: lensmend sheet day-03 --into day-03/notes.xlsx\n\
        Example: lensmend sheet day-03 --blank --rolls A004,B002 --into clipboard.html\n\
        Example: lensmend sheet day-03 > day-03/notes.csv\n\
        Exit code: 0 done; 1 done, but something needs a person, such as a clip that cannot be read; 2 there is no sheet."
    )]
    Sheet(Sheet),
    /// Work out every clip's lens data and write sidecars, lens table and run record
    #[command(
        long_about = "Work out what every clip was really shot with, and write it down.\n\n\
        In FOLDER it looks for kit.toml, for lens notes (every CSV, .xlsx and .ods whose headings name clips and lenses), and for \
        the dump (the folder `dump`, else FOLDER itself). It says what it used.\n\n\
        Sidecars go into OUT/sidecars, a tree that mirrors the dump. OUT/lens-table.csv has one row a clip or piece, \
        OUT/report.html and report.csv are the camera report. OUT/run.json records the run. A second run with nothing new writes nothing.",
        after_help = "Example: lensmend annotate day-03\n\
        Example: lensmend annotate day-03 --dry-run\n\
        Example: lensmend annotate day-03 --columns \"file=File Name,focal-length=Focal\""
    )]
    Annotate(Annotate),
    /// The camera report at wrap: every clip by day and roll, to read, to print and to sign
    #[command(
        long_about = "The camera report at wrap: every clip by day and roll with slate, take, timecode, lens, stop, attachment, \
        focus, filter and remarks, with totals, the lenses used, and what needs a person.\n\n\
        FOLDER is that of `annotate`, which writes the same report into its own output folder. OUT gets report.html (a page to \
        read, sort and print), report.pdf, report.csv, and the record report.json. A second run with nothing new writes nothing.",
        after_help = "Example: lensmend report day-03 --into reports/day-03\n\
        Example: lensmend report day-03 --into reports/day-03 --paper letter --date-form month-first\n\
        Example: lensmend report --headings-template > headings.toml\n\
        Exit code: 0 all clear; 1 done, but something needs a person; 2 nothing was written."
    )]
    Report(Box<Report>),
    /// Check that sidecars, table and lens data still agree with media, notes and kit
    #[command(
        long_about = "Check that what `annotate` wrote still agrees with media, notes and kit. Writes nothing.\n\n\
        It works everything out anew, with the options of the last run, and holds it against what stands: each file agrees, \
        is stale (and it says what changed), was edited by hand, is an orphan, or is missing.",
        after_help = "Example: lensmend check day-03\n\
        Example: lensmend check day-03 --into outputs/day-03 --json\n\
        Example: lensmend check day-03 -- --trust notes\n\
        Exit code: 0 all agree; 1 something does not; 2 it could not be checked; 130 interrupted (Ctrl-C)."
    )]
    Check(Check),
    /// Turn a cut over to VFX: every shot with its frames, handles, camera and lens data
    #[command(
        long_about = "Turn a cut over to VFX: which frames of which clip each event uses, with handles, and what they were \
        taken with, plate included.\n\n\
        CUT is an EDL of the 3600 form or an OpenTimelineIO file. FOLDER is that of `annotate`: kit.toml, lens notes, dump. \
        OUT gets turnover.csv, turnover.html, the cut again with the lens data (.otio, .edl), a camera a shot (USD, \
        OpenTrackIO) in OUT/shots, and the record turnover.json. A second run with nothing new writes nothing.",
        after_help = "Example: lensmend turnover day-03 --cut reel-2.edl --into turnover/reel-2\n\
        Example: lensmend turnover day-03 --cut reel-2.otio --into turnover/reel-2 --handles 16 --plate scope\n\
        Exit code: 0 all clear; 1 done, but something needs a person; 2 nothing was written."
    )]
    Turnover(Box<Turnover>),
    /// Copy OpenEXR plates with the lens data of their frames in the header
    #[command(
        long_about = "Copy OpenEXR plates with the lens data of their frames in the header: attributes of OpenEXR 3.2, \
        timecode included. Pixels are copied as they are, never unpacked.\n\n\
        Plates are called after the shots of a cut (--cut, as `turnover` names them) or after clips, with the number of the \
        frame at the end: 001-A003C001.1001.exr.",
        after_help = "Example: lensmend stamp day-03 --plates plates --into plates-stamped --cut reel-2.edl\n\
        Exit code: 0 all clear; 1 done, but something needs a person; 2 nothing was written."
    )]
    Stamp(Box<Stamp>),
    /// One set-up: what the lens becomes behind a reducer, what stop, what it sees, what is sharp
    #[command(
        long_about = "One set-up in numbers: the lens bare, behind its attachment, and bare on a sensor as much larger as \
        the attachment makes the picture smaller, which sees the same.\n\n\
        Everything can be said in words, or by the names of the kit. Nothing is guessed: what was not given is left out.",
        after_help = "Example: lensmend optics --lens 50 --stop f/1.4 --reducer 0.71 --sensor 26.2x13.8 --focus 2.4m\n\
        Example: lensmend optics --kit day-03/kit.toml --lens \"Sorrel 50\" --stop f/2 --attachment corbel-071 --camera A --mode uhd\n\
        Example: lensmend optics --lens 85 --reducer 0.71 --sensor 26.2x13.8 --stops f/2,f/2.8,f/4 --focuses 2m,3m,5m\n\
        Exit code: 0 done; 1 done, but something needs a person, such as a lens that does not fit; 2 it cannot be answered as asked."
    )]
    Optics(Box<Optics>),
    /// Check a kit: what fits on what, what it covers, and what each lens becomes
    #[command(
        long_about = "Check a kit on prep day: every lens on every camera, bare and with each attachment.\n\n\
        It says whether they fit, what the image circle covers of each recording mode, the effective focal length and \
        the widest stop, and what calls for care. Writes nothing, except with --new.",
        after_help = "Example: lensmend kit day-03\n\
        Example: lensmend kit day-03 --camera A --lens 50\n\
        Example: lensmend kit --new kit.toml\n\
        Example: lensmend kit --schema > kit.schema.json\n\
        Exit code: 0 all clear; 1 something needs a person before the shoot; 2 the kit cannot be used."
    )]
    Kit(KitCheck),
    /// Work out real magnifications, focal lengths and pupil places from shots of a chart
    #[command(
        long_about = "Work out from shots of a chart what a lens and an attachment really do: pinhole focal length, \
        place of the entrance pupil, magnification, each with its uncertainty, and the kit lines to paste.\n\n\
        CHART.csv has one row a shot, below the headings Lens, Attachment, Focus (m), Tape (m), Chart width (mm), Span px \
        (docs/measure.md has others; a length may also say its unit in its cell: 1.5 m). \
        Shoot the chart at two distances or more, without and with the attachment, the focus ring kept still. \
        Writes nothing but the picture that is asked for.",
        after_help = "Example: lensmend measure chart.csv --kit kit.toml --camera A --mode uhd\n\
        Example: lensmend measure chart.csv --pitch 4.4 --chart-width 500mm --pixel-error 0.5\n\n\
        Exit code: 0 all clear; 1 something needs a person, and kit lines may stand behind comment signs; \
        2 nothing was measured."
    )]
    Measure(Measure),
}

/// `scan DUMP`.
#[derive(Debug, clap::Args)]
pub struct Scan {
    /// The folder the cards were copied to
    pub dump: PathBuf,
    /// Kit file whose clip-name patterns to use
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Read lens data frame by frame where a clip carries it, not only that of its first frame
    #[arg(long)]
    pub per_frame: bool,
    /// Print JSON instead of a table
    #[arg(long)]
    pub json: bool,
}

/// `annotate FOLDER`.
#[derive(Debug, clap::Args)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a switch of its own on the command line"
)]
pub struct Annotate {
    /// Folder with kit.toml, lens notes and the dump
    pub folder: PathBuf,
    /// Kit file, if not FOLDER/kit.toml; with --reducer or --extender none is needed
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Lens notes (CSV, .xlsx or .ods), if not every one of FOLDER that looks like notes; may be given several times
    #[arg(long, value_name = "FILE")]
    pub notes: Vec<PathBuf>,
    /// Sheet of the notes, where a workbook (.xlsx, .ods) has several; else the first that looks like notes
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
    /// Clip list (CSV of another program), if not every CSV of FOLDER that looks like one; may be given several times
    #[arg(long, value_name = "FILE")]
    pub clip_list: Vec<PathBuf>,
    /// The dump, if not FOLDER/dump or FOLDER itself
    #[arg(long, value_name = "DIR")]
    pub dump: Option<PathBuf>,
    /// Output folder, if not FOLDER/lensmend, or beside the sealed folder that this would lie in
    #[arg(long, value_name = "OUT")]
    pub into: Option<PathBuf>,
    /// Read lens data frame by frame where a clip carries it, and cut the clip where it changes
    #[arg(long)]
    pub per_frame: bool,
    /// Write sidecars beside the clips instead of into OUT/sidecars
    #[arg(long)]
    pub beside: bool,
    /// Replace properties of sidecars that somebody changed since, or that another program wrote differently
    #[arg(long)]
    pub replace_edited: bool,
    /// Verify that every clip file is whole before annotating: held against sealed histories (ASC MHL) and hash lists in the dump
    #[arg(long)]
    pub verify: bool,
    /// With --beside in a sealed dump: add a generation with records of the new sidecars to its history (ASC MHL)
    #[arg(long, requires = "beside")]
    pub append_history: bool,
    /// Say what would be written, and write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// The reducer that was on wherever neither notes nor media say otherwise: its magnification, or a reducer of the kit.
    /// Says too that the cameras recorded the values of the bare lenses
    #[arg(long, value_name = "MAGNIFICATION", conflicts_with = "extender")]
    pub reducer: Option<String>,
    /// The extender that was on, likewise
    #[arg(long, value_name = "MAGNIFICATION")]
    pub extender: Option<String>,
    /// How far a camera's clock was off, as A=+00:01:30 for one that was fast; for notes with times of day, a camera each
    #[arg(long, value_name = "CAMERA=OFFSET", allow_hyphen_values = true)]
    pub clock: Vec<String>,
    /// Lens data for VFX into OUT/lens-data, in these formats: opentrackio, usd, exr, fdl, or all (docs/lens-data.md)
    #[arg(long, value_name = "LIST")]
    pub lens_data: Option<String>,
    /// Whom to believe where media and notes contradict each other; without it such a field is left out
    #[arg(long, value_name = "WHOM")]
    pub trust: Option<Trusted>,
    /// Columns of the lens table: ids parted by commas, each with an optional =Heading (docs/fields.md)
    #[arg(long, value_name = "LIST")]
    pub columns: Option<String>,
    /// How the camera report is written
    #[command(flatten)]
    pub form: Form,
    /// Date to write into the outputs.
    #[arg(
        long,
        value_name = "DATE",
        help = "Date to write into the outputs, as 2026-11-14T18:30:00Z; SOURCE_DATE_EPOCH does the same"
    )]
    pub date: Option<String>,
    /// Print the run record as JSON instead of the summary
    #[arg(long)]
    pub json: bool,
}

/// Values of `--trust`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Trusted {
    /// The lens notes
    Notes,
    /// What the cameras recorded
    Media,
}
