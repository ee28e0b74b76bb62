//! The one table of what stands in a line of the report: heading, alignment, width on paper, and where on paper it stands.
//! `report.csv` has a column for each; a heading there is the one of the page.

use super::words::Word;

/// How a column is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words, from the left.
    Left,
    /// Numbers, to the right.
    Right,
    /// Signs and short marks.
    Middle,
}

/// Where on a page a value stands. In CSV everything is a column of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// Said by the section: the day, the roll.
    Section,
    /// In the head of the roll, once; beneath the lines that differ from most.
    Head,
    /// In a column of its own.
    Own,
    /// In small type beneath the value of the column before it.
    Under,
    /// As a ring around the take.
    Ring,
    /// In full width beneath the lines of the clip.
    Below,
}

/// Declares the table: variant, heading, alignment, weight of its width, where it stands.
macro_rules! columns {
    ($($variant:ident $align:ident $weight:literal $spot:ident;)*) => {
        /// What can stand in a line of the report.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Column {
            $(#[doc = concat!("`", stringify!($variant), "`, set ", stringify!($spot), ".")] $variant,)*
        }

        impl Column {
            /// Every column, in the order of the CSV and of the page.
            pub const ALL: &[Column] = &[$(Column::$variant,)*];

            /// Its heading.
            pub fn word(self) -> Word {
                match self { $(Column::$variant => Word::$variant,)* }
            }

            /// How it is set.
            pub fn align(self) -> Align {
                match self { $(Column::$variant => Align::$align,)* }
            }

            /// Its share of the width of a page: millimetres on an A4 sheet lying on its side. 0 for what has no column of its own.
            pub fn weight(self) -> u16 {
                match self { $(Column::$variant => $weight,)* }
            }

            /// Where it stands.
            pub fn spot(self) -> Spot {
                match self { $(Column::$variant => Spot::$spot,)* }
            }
        }
    };
}

columns! {
    Production Left 0 Section;
    Day Left 0 Section;
    Roll Left 0 Section;
    ShootingDay Left 0 Head;
    Unit Left 0 Head;
    Camera Left 0 Head;
    CameraModel Left 0 Head;
    CameraSerial Left 0 Head;
    Operator Left 0 Head;
    Assistants Left 0 Head;
    Media Left 0 Head;
    Mode Left 0 Head;
    Raster Left 0 Head;
    Rate Left 0 Head;
    Area Left 0 Head;
    Shutter Left 0 Head;
    Iso Left 0 Head;
    WhiteBalance Left 0 Head;
    Clip Left 29 Own;
    Files Left 0 Under;
    Slate Left 16 Own;
    Take Middle 12 Own;
    Circled Middle 0 Ring;
    Start Left 22 Own;
    End Left 0 Under;
    Duration Right 17 Own;
    Frames Right 0 Under;
    Lens Left 34 Own;
    Serial Left 0 Under;
    Attachment Left 30 Own;
    Magnification Left 0 Under;
    MarkedFocal Right 14 Own;
    Effective Right 17 Own;
    Doubt Right 0 Under;
    StopSet Right 14 Own;
    EffectiveT Right 17 Own;
    EffectiveF Right 0 Under;
    Focus Right 14 Own;
    Filter Left 20 Own;
    Density Left 0 Under;
    Height Right 14 Own;
    Tilt Right 0 Under;
    Verdict Left 26 Own;
    RecordedFocal Left 0 Under;
    Remarks Left 0 Below;
    Matters Left 0 Below;
}

/// Columns that a form has even where nobody filled them in.
const ALWAYS: &[Column] = &[
    Column::Clip,
    Column::Slate,
    Column::Take,
    Column::Start,
    Column::Duration,
    Column::Lens,
    Column::Attachment,
    Column::MarkedFocal,
    Column::Effective,
    Column::StopSet,
    Column::EffectiveT,
    Column::Verdict,
];

impl Column {
    /// True for a column that a form has even where nobody filled it in.
    pub fn always(self) -> bool {
        ALWAYS.contains(&self)
    }

    /// The columns that stand in small type beneath this one.
    pub fn beneath(self) -> impl Iterator<Item = Column> {
        let after = Self::ALL.iter().copied().skip_while(move |column| *column != self).skip(1);
        after
            .take_while(|column| matches!(column.spot(), Spot::Under | Spot::Ring))
            .filter(|column| column.spot() == Spot::Under)
    }

    /// Its place in [`Column::ALL`].
    pub fn index(self) -> usize {
        Self::ALL.iter().position(|column| *column == self).unwrap_or(0)
    }
}
