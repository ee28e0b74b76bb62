//! A shoot of many clips, made from the media of the sample shoot: rolls of a hundred, a kit, and a note for every clip.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Sample media of camera A, which records behind a reducer.
const OF_A: &[&str] = &[
    "A003C001_1114_KV.mov",
    "A003C002_1114_KV.mov",
    "A003C003_1114_KV.mov",
    "A003C005_1114_KV.mov",
    "A003C009_1114_KV.mov",
];
/// Sample media of camera B.
const OF_B: &[&str] = &[
    "B001C001_1114_OM.mp4",
    "B001C002_1114_OM.mp4",
    "B001C003_1114_OM.mp4",
    "B001C005_1114_OM.mp4",
    "B001C008_1114_OM.mov",
];
/// Clips of a roll.
const ROLL: usize = 100;

/// Makes the shoot below `folder`; every other roll is one of camera B.
pub(crate) fn build(folder: &Path, clips: usize) -> io::Result<()> {
    let sample = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("samples/saltmarsh-day");
    let dump = folder.join("dump");
    let mut notes =
        String::from("Roll,Clip,Slate,Take,Lens,Stop,Reducer,Focus,Filter,Circled,Remarks\r\n");
    for at in 0..clips {
        let (roll, clip) = (at / ROLL, at % ROLL);
        let (camera, unit, media, source, attachment) = if roll.is_multiple_of(2) {
            ("A", "KV", OF_A, "A003", "0.71")
        } else {
            ("B", "OM", OF_B, "B001", "plain")
        };
        let Some(media) = media.get(clip % media.len()) else { continue };
        let extension = media.rsplit('.').next().unwrap_or("mov");
        let (roll, clip) = (format!("{camera}{:03}", roll / 2 + 1), format!("C{:03}", clip + 1));
        let target = dump.join(&roll);
        fs::create_dir_all(&target)?;
        let mut bytes = fs::read(sample.join("dump").join(source).join(media))?;
        made_at(&mut bytes, at);
        fs::write(target.join(format!("{roll}{clip}_1114_{unit}.{extension}")), bytes)?;
        let lens = ["Sorrel 35", "Sorrel 50", "Sorrel 85", "Umber 24"][at % 4];
        let stop = ["2", "2.8", "4", "T5.6"][at / 4 % 4];
        let (slate, take, focus) = (at / 7 + 1, at % 7 + 1, at % 90 + 10);
        let _ = write!(
            notes,
            "{roll},{clip},{slate},{take},{lens},{stop},{attachment},{}.{} m,ND 0.6,,\r\n",
            focus / 10,
            focus % 10,
        );
    }
    fs::write(folder.join("notes.csv"), notes)?;
    fs::copy(sample.join("kit.toml"), folder.join("kit.toml"))?;
    Ok(())
}

/// Gives a movie a creation time of its own (ISO/IEC 14496-12, 8.2.2): the same file twice would be one clip.
fn made_at(bytes: &mut [u8], at: usize) {
    let place = bytes.windows(4).position(|kind| kind == b"mvhd").map(|kind| kind + 10);
    let low = u16::try_from(at % 65_536).unwrap_or_default().to_be_bytes();
    if let Some(slot) = place.and_then(|place| bytes.get_mut(place..place + 2)) {
        slot.copy_from_slice(&low);
    }
}
