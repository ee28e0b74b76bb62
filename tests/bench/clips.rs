//! One clip of every kind of container, made at the start of the benchmark: by an encoder where it writes the kind, else by
//! the builders of the tests. Two of them are a hundred gigabytes long and mostly a hole.

use std::fs::{self, File, OpenOptions};
use std::io::{Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context as _, Result, bail};

use crate::frames::{LITTLE, attributes, dng, exif_segment, exr, jpeg, taken, tiff};
use crate::klv::{Mxf, label};

/// Bytes of the long ones.
const LONG: u64 = 100_000_000_000;
/// Bytes of a frame or still: the picture behind its header is a hole.
const PICTURE: u64 = 50_000_000;

/// What a clip may cost to read.
#[derive(Clone, Copy)]
pub(crate) enum May {
    /// Fewer bytes than this.
    Read(usize),
    /// Nothing was promised.
    Anything,
}

/// A clip: what it is, where it lies, what it may cost.
pub(crate) struct Clip {
    pub(crate) what: &'static str,
    pub(crate) file: PathBuf,
    pub(crate) may: May,
}

const MOVIE: May = May::Read(128 << 10);
const MXF: May = May::Read(256 << 10);

/// Words for the encoder.
type Words<'a> = &'a [&'a str];

/// Makes all of them below `folder`, each in a folder of its own. Without an encoder some are left out, and that is said.
pub(crate) fn make(folder: &Path) -> Result<(Vec<Clip>, Vec<String>)> {
    let (mut clips, mut missing) = (Vec::new(), Vec::new());
    let intra = &["-c:v", "dnxhd", "-profile:v", "dnxhr_lb", "-pix_fmt", "yuv422p"][..];
    let inter = &["-c:v", "mpeg4"][..];
    let encoded: [(&str, &str, Words<'_>, Words<'_>, May); 6] = [
        ("MOV, moov last", "a.mov", intra, &[], MOVIE),
        ("MOV, moov first", "a.mov", intra, &["-movflags", "+faststart"], MOVIE),
        ("MP4", "a.mp4", inter, &[], MOVIE),
        (
            "MP4, fragments of a second",
            "a.mp4",
            inter,
            &["-movflags", "+frag_keyframe+empty_moov", "-g", "24"],
            MOVIE,
        ),
        ("MXF OP1a", "a.mxf", intra, &[], MXF),
        ("MXF OP-Atom", "a.mxf", intra, &["-f", "mxf_opatom"], MXF),
    ];
    for (at, (what, name, coding, more, may)) in encoded.into_iter().enumerate() {
        let file = place(folder, at, name)?;
        match encode(&file, coding, more) {
            Ok(()) => clips.push(Clip { what, file, may }),
            Err(error) => missing.push(format!("{what}: {error:#}")),
        }
    }
    // 01:02:03:04 (SMPTE ST 331, 8.5: frames, seconds, minutes, hours as binary-coded decimals).
    let timecode = [4, 3, 2, 1, 0, 0, 0, 0];
    let pictures: [(&'static str, &str, Vec<u8>); 3] = [
        ("DNG", "A001C001_000001.dng", dng(LITTLE, timecode, taken())),
        ("OpenEXR", "A001C001_000001.exr", exr(&[attributes()])),
        ("JPEG", "A001C001_000001.jpg", jpeg(&[exif_segment(&tiff(LITTLE, &[taken()]))])),
    ];
    for (at, (what, name, bytes)) in pictures.into_iter().enumerate() {
        let file = place(folder, 10 + at, name)?;
        fs::write(&file, bytes)?;
        OpenOptions::new().write(true).open(&file)?.set_len(PICTURE)?;
        clips.push(Clip { what, file, may: May::Anything });
    }
    if let Some(short) = clips.iter().find(|clip| clip.what == "MOV, moov last") {
        let file = place(folder, 20, "a.mov")?;
        long_movie(&short.file, &file)?;
        clips.push(Clip { what: "MOV of 100 GB, a hole", file, may: MOVIE });
    }
    let file = place(folder, 21, "a.mxf")?;
    long_mxf(&file)?;
    clips.push(Clip { what: "MXF of 100 GB, a hole", file, may: MXF });
    Ok((clips, missing))
}

fn place(folder: &Path, at: usize, name: &str) -> Result<PathBuf> {
    let folder = folder.join(at.to_string());
    fs::create_dir_all(&folder)?;
    Ok(folder.join(name))
}

/// A minute of picture with timecode.
fn encode(file: &Path, coding: &[&str], more: &[&str]) -> Result<()> {
    let run = Command::new("ffmpeg")
        .args(["-v", "error", "-nostdin", "-f", "lavfi", "-i", "testsrc=s=320x240:r=24"])
        .args(["-frames:v", "1440", "-timecode", "10:00:00:00", "-fflags", "+bitexact"])
        .args(coding)
        .args(more)
        .arg(file)
        .output()
        .context("ffmpeg is not installed")?;
    if !run.status.success() {
        bail!("{}", String::from_utf8_lossy(&run.stderr).trim());
    }
    Ok(())
}

/// The same movie with a hole between its essence and its `moov`: only the size of `mdat` grows, and no sample moves.
fn long_movie(short: &Path, long: &Path) -> Result<()> {
    let bytes = fs::read(short)?;
    let at = |kind: &[u8]| {
        bytes.windows(4).position(|part| part == kind).and_then(|at| at.checked_sub(4))
    };
    let head = at(b"mdat").context("no mdat")?;
    // The encoder leaves eight bytes in front of `mdat`, so that a 64-bit size fits (ISO/IEC 14496-12, 4.2).
    let (wide, moov) = (head.checked_sub(8).context("no room")?, at(b"moov").context("no moov")?);
    if !matches!(bytes.get(wide + 4..head), Some(b"wide" | b"free")) || moov < head {
        bail!("the encoder wrote another shape of movie");
    }
    let tail = bytes.get(moov..).unwrap_or_default();
    let end = LONG - u64::try_from(tail.len())?;
    let mut file = File::create(long)?;
    file.write_all(bytes.get(..wide).unwrap_or_default())?;
    file.write_all(&1_u32.to_be_bytes())?;
    file.write_all(b"mdat")?;
    file.write_all(&(end - u64::try_from(wide)?).to_be_bytes())?;
    file.write_all(bytes.get(head + 8..moov).unwrap_or_default())?;
    file.seek(SeekFrom::Start(end))?;
    file.write_all(tail)?;
    Ok(())
}

/// A recording whose header is open and whose footer, at the end, is found by the random index pack alone: the dearest kind.
fn long_mxf(long: &Path) -> Result<()> {
    let whole = Mxf { status: 1, early_rate: Some((30, 1)), footer_told: false, ..Mxf::default() };
    let mut bytes = whole.bytes();
    let footer = label("060E2B34 02050101 0D010201 01040400");
    let last = bytes.windows(16).position(|part| part == footer).context("no footer")?;
    let mut tail = bytes.split_off(last);
    let place = LONG - u64::try_from(tail.len())?;
    // One more element of essence fills the gap (SMPTE ST 336, a length of eight bytes); the index pack gives the footer
    // its new place.
    let key = label("060E2B34 01020101 0D010301 15010500");
    let gap = place - u64::try_from(last + key.len() + 9)?;
    let entry = tail.len() - 12;
    tail.get_mut(entry..entry + 8).context("no index")?.copy_from_slice(&place.to_be_bytes());
    let mut file = File::create(long)?;
    file.write_all(&[&bytes[..], &key, &[0x88], &gap.to_be_bytes()].concat())?;
    file.seek(SeekFrom::Start(place))?;
    file.write_all(&tail)?;
    Ok(())
}
