//! The columns of a sheet: those of the lens notes, and what the media recorded beside them.

/// A column. Its heading is one that the notes reader knows; those of recorded values it passes over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Column {
    /// Roll.
    Roll,
    /// Clip.
    Clip,
    /// Timecode from which a row holds.
    From,
    /// Timecode of the first frame, recorded.
    RecordedStart,
    /// Running time, recorded.
    RecordedDuration,
    /// Slate.
    Slate,
    /// Take.
    Take,
    /// Circled take.
    Circled,
    /// Recording mode.
    Mode,
    /// Lens.
    Lens,
    /// Focal length on the barrel.
    Focal,
    /// Stop on the ring.
    Stop,
    /// What stood between lens and camera.
    Attachment,
    /// Focus distance; its bare numbers are in this unit.
    Focus(Option<&'static str>),
    /// Filters.
    Filter,
    /// Remarks.
    Remarks,
    /// Lens, recorded.
    RecordedLens,
    /// Focal length, recorded.
    RecordedFocal,
    /// Stop, recorded.
    RecordedStop,
    /// Focus distance, recorded.
    RecordedFocus,
}

impl Column {
    /// The columns of a sheet: `recorded` ones only where a dump gave them, `modes` only where there is a choice.
    pub(super) fn chosen(recorded: bool, modes: bool, unit: Option<&'static str>) -> Vec<Self> {
        let all = [
            Self::Roll,
            Self::Clip,
            Self::From,
            Self::RecordedStart,
            Self::RecordedDuration,
            Self::Slate,
            Self::Take,
            Self::Circled,
            Self::Mode,
            Self::Lens,
            Self::Focal,
            Self::Stop,
            Self::Attachment,
            Self::Focus(unit),
            Self::Filter,
            Self::Remarks,
            Self::RecordedLens,
            Self::RecordedFocal,
            Self::RecordedStop,
            Self::RecordedFocus,
        ];
        let wanted =
            |column: &Self| (recorded || !column.is_recorded()) && (modes || *column != Self::Mode);
        all.into_iter().filter(wanted).collect()
    }

    /// What stands above it.
    pub fn heading(self) -> String {
        let heading = match self {
            Self::Roll => "Roll",
            Self::Clip => "Clip",
            Self::From => "From",
            Self::RecordedStart => "Recorded start",
            Self::RecordedDuration => "Recorded duration",
            Self::Slate => "Slate",
            Self::Take => "Take",
            Self::Circled => "Circled",
            Self::Mode => "Mode",
            Self::Lens => "Lens",
            Self::Focal => "Focal mm",
            Self::Stop => "Stop",
            Self::Attachment => "Attachment",
            Self::Focus(None) => "Focus",
            Self::Focus(Some(unit)) => return format!("Focus {unit}"),
            Self::Filter => "Filter",
            Self::Remarks => "Remarks",
            Self::RecordedLens => "Recorded lens",
            Self::RecordedFocal => "Recorded focal",
            Self::RecordedStop => "Recorded stop",
            Self::RecordedFocus => "Recorded focus",
        };
        heading.to_owned()
    }

    /// True where the media says it: nothing to fill in, and no note.
    pub fn is_recorded(self) -> bool {
        matches!(
            self,
            Self::RecordedStart
                | Self::RecordedDuration
                | Self::RecordedLens
                | Self::RecordedFocal
                | Self::RecordedStop
                | Self::RecordedFocus
        )
    }

    /// What to write below it, in a few words; `None` where the heading says it all.
    pub fn advice(self) -> Option<&'static str> {
        Some(match self {
            Self::Clip => "the clip as the camera calls it: C007, or C003-C009 for several",
            Self::From => {
                "only for a change inside a clip: one more row for the clip, with the timecode where it begins"
            }
            Self::Circled => "x for a circled take",
            Self::Mode => "id of a recording mode of the kit",
            Self::Lens => "name, serial number or focal length of a lens of the kit",
            Self::Focal => "millimetres on the barrel; of a prime it may be left out",
            Self::Stop => "as on the ring: 2.8, T2.8 1/2, WO",
            Self::Attachment => "reducer, adapter or extender of the kit; none for a bare camera",
            Self::Focus(None) => "from the sensor-plane mark, with the unit: 2.4 m, 6'3\", inf",
            Self::Focus(Some(_)) => {
                "from the sensor-plane mark; another unit is written behind the number"
            }
            Self::Filter => "as noted: ND 0.6",
            _ => return None,
        })
    }
}
