//! The columns of lens notes, and the words of the trade for them.

use super::columns::{Columns, Layout};
use super::length::Unit;

/// What a column tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Column {
    Clip,
    Roll,
    Camera,
    From,
    Time,
    Mode,
    Lens,
    Focal,
    Stop,
    Attachment,
    Secured,
    Focus,
    Slate,
    Take,
    Circled,
    Filter,
    Density,
    Iso,
    Shutter,
    WhiteBalance,
    Height,
    Tilt,
    Operator,
    Assistant,
    SecondAssistant,
    Unit,
    Day,
    Remarks,
}

impl Columns for Column {
    const ALIASES: &'static [(Self, &'static [&'static str])] = ALIASES;

    /// What the media recorded stands in a prefilled sheet beside what is to be noted; read as notes it would agree
    /// with itself.
    fn is_aside(heading: &str) -> bool {
        heading.starts_with("recorded")
    }

    fn suffice(has: &dyn Fn(Self) -> bool) -> bool {
        // A row that says when it holds needs no name: the clip that ran then is meant.
        has(Self::Clip) || has(Self::Roll) || has(Self::From) || has(Self::Time)
    }

    fn takes_unit(self, unit: Unit) -> bool {
        match self {
            Self::Focus | Self::Height => true,
            Self::Focal => matches!(unit, Unit::Millimeter | Unit::Centimeter),
            _ => false,
        }
    }

    fn is_stop(self) -> bool {
        self == Self::Stop
    }

    fn dash_answers(self) -> bool {
        matches!(self, Self::Attachment | Self::Secured | Self::Circled)
    }

    fn takes_dates(self) -> bool {
        matches!(self, Self::From | Self::Time | Self::Remarks)
    }

    fn is_measured(self) -> bool {
        matches!(
            self,
            Self::Focal | Self::Stop | Self::Focus | Self::Shutter | Self::Height | Self::Tilt
        )
    }

    fn takes_row(self) -> bool {
        self == Self::Clip
    }
}

/// The trade's words for each column; case, spaces and signs do not count. The first is the one to recommend.
const ALIASES: &[(Column, &[&str])] = &[
    (
        Column::Clip,
        &["clip", "clip name", "clips", "file", "file name", "clip no", "clip nr", "clip number"],
    ),
    (
        Column::Roll,
        &[
            "roll",
            "reel",
            "card",
            "mag",
            "cam roll",
            "camera roll",
            "magazine",
            "roll no",
            "reel no",
        ],
    ),
    (Column::Camera, &["camera", "cam"]),
    (
        Column::From,
        &[
            "from",
            "timecode",
            "tc",
            "start",
            "tc in",
            "from tc",
            "start tc",
            "tc start",
            "timecode in",
            "start timecode",
            "from timecode",
        ],
    ),
    (Column::Time, &["time", "time of day", "clock", "clock time"]),
    (Column::Mode, &["mode", "recording mode", "rec mode"]),
    (Column::Lens, &["lens", "lens name", "lens id", "lens serial"]),
    (Column::Focal, &["focal", "focal length", "mm", "zoom", "lens mm", "fl"]),
    (
        Column::Stop,
        &[
            "stop",
            "iris",
            "aperture",
            "t-stop",
            "f-stop",
            "f-number",
            "t-number",
            "lens stop",
            "stop/iris",
        ],
    ),
    (
        Column::Attachment,
        &[
            "attachment",
            "reducer",
            "adapter",
            "adaptor",
            "extender",
            "focal reducer",
            "lens adapter",
            "lens adaptor",
            "reducer/adapter",
            "adapter/reducer",
        ],
    ),
    (
        Column::Secured,
        &[
            "secured",
            "adapter secured",
            "reducer secured",
            "attachment secured",
            "locked",
            "adapter locked",
            "reducer locked",
            "attachment locked",
        ],
    ),
    (Column::Focus, &["focus", "distance", "focus distance", "dist", "focus dist", "focus mark"]),
    (Column::Slate, &["slate", "scene", "scene/slate", "slate no"]),
    (Column::Take, &["take", "take no"]),
    (Column::Circled, &["circled", "circle", "good", "print", "circle take", "circled take"]),
    (Column::Filter, &["filter", "filters", "filtration"]),
    (Column::Density, &["nd", "nd filter", "nd stops", "neutral density"]),
    (
        Column::Iso,
        &[
            "iso",
            "ei",
            "asa",
            "iso/ei",
            "ei/iso",
            "iso/asa",
            "asa/iso",
            "exposure index",
            "sensitivity",
        ],
    ),
    (Column::Shutter, &["shutter", "shutter angle", "shutter speed", "exposure time"]),
    (
        Column::WhiteBalance,
        &[
            "white balance",
            "wb",
            "colour temperature",
            "color temperature",
            "colour temp",
            "color temp",
            "kelvin",
        ],
    ),
    (
        Column::Height,
        &[
            "height",
            "lens height",
            "camera height",
            "cam height",
            "height of lens",
            "lens ht",
            "ht",
        ],
    ),
    (Column::Tilt, &["tilt", "tilt angle", "lens tilt", "camera tilt", "cam tilt"]),
    (Column::Operator, &["operator", "camera operator", "cam operator", "cam op"]),
    (
        Column::Assistant,
        &[
            "assistant",
            "assistants",
            "camera assistant",
            "cam assistant",
            "first assistant",
            "1st assistant",
            "1st ac",
            "focus puller",
        ],
    ),
    (
        Column::SecondAssistant,
        &["second assistant", "2nd assistant", "2nd ac", "loader", "clapper loader"],
    ),
    (Column::Unit, &["unit", "shooting unit"]),
    (Column::Day, &["day", "shooting day", "shoot day", "day of shooting", "day no"]),
    (Column::Remarks, &["remarks", "remark", "notes", "comments", "comment", "note", "lens notes"]),
];

impl Layout<Column> {
    /// True where the rows say something of a lens.
    pub(super) fn tells_lens(&self) -> bool {
        self.has(|column| {
            matches!(
                column,
                Column::Lens | Column::Focal | Column::Stop | Column::Attachment | Column::Focus
            )
        })
    }
}
