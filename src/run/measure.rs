//! `measure`: chart shots become focal lengths, pupil places and magnifications.

use anyhow::{Context, Result, anyhow, bail};

use crate::cli::Measure;
use crate::dump::walk::read_input;
use crate::finding::nearest;
use crate::folder::LARGEST_INPUT;
use crate::inputs;
use crate::kit::{Kit, Mode};
use crate::measure::report::Report;
use crate::measure::series::{self, settings_without_bare};
use crate::measure::shots::{self, Usual};
use crate::measure::solve::Setup;
use crate::measure::typed::{chart_width, pixel_pitch};
use crate::measure::{Errors, Native};
use crate::notes::length::Unit;
use crate::output::calm::calm;
use crate::output::{Stamp, findings, measure, measure_json, residuals};
use crate::units::{Millimeters, Offset};

use super::drawing::draw;
use super::{Look, Outcome, broken, code, refuse};

pub(super) fn measure(request: &Measure, stamp: &Stamp, look: Look) -> Result<Outcome> {
    let mut found = Vec::new();
    let (mut kit, mut files) = (None, Vec::new());
    if let Some(path) = &request.kit {
        let read = inputs::read_kit(path, &path.display().to_string())?;
        if broken(&read.findings) {
            let words = "The kit does not hold together; nothing was measured.";
            return refuse(&read.findings, words, request.json, stamp, look);
        }
        (kit, found, files) = (Some(read.value), read.findings, read.inputs);
    }
    let mode = kit.as_ref().map(|kit| mode(kit, request)).transpose()?.flatten();
    let usual = usual(request, kit.as_ref(), mode)?;
    let native = native(request)?;
    let errors = errors(request)?;
    let name = request.chart.display().to_string();
    let bytes = read_input(&request.chart, LARGEST_INPUT)
        .with_context(|| format!("cannot read the chart shots {name}"))?;
    files.push(inputs::input("chart", &name, &bytes));
    let shots = shots::parse(&name, &bytes, &usual);
    found.extend(shots.findings);
    if shots.value.is_empty() {
        let words = "No row of the file is a chart shot; nothing was measured.";
        return refuse(&found, words, request.json, stamp, look);
    }
    let (series, strangers) = series::sort(shots.value, kit.as_ref());
    found.extend(strangers);
    let several = series
        .iter()
        .any(|other| series.first().is_some_and(|first| first.lens_key() != other.lens_key()));
    if several && (native.is_some() || request.pupil.is_some()) {
        bail!(
            "--native and --pupil speak of one lens at one mark, and {name} has several: give each a file of its own"
        );
    }
    let pupil = request.pupil.map(|pupil| {
        Offset::new(pupil)
            .with_context(|| format!("--pupil {pupil}: give millimetres, such as 40.8"))
    });
    let raster_width = mode.map(|mode| mode.raster.width());
    let setup = Setup { errors, raster_width, native, pupil: pupil.transpose()? };
    let (mut report, said) = Report::make(series, setup);
    found.extend(said);
    if let Some(kit) = &kit {
        found.extend(report.hold_against(kit));
    }
    let mut talk = Vec::new();
    if report.is_empty() {
        talk.push("No series could be worked out; nothing was measured.".to_owned());
    } else if native.is_some() && settings_without_bare(report.series.iter().map(|(it, _)| it)) == 0
    {
        talk.push(
            "--native was not used: every series behind an attachment has one of the bare lens."
                .to_owned(),
        );
    }
    if let Some(target) = &request.picture {
        let drawn = measure::residuals(&report);
        if drawn.is_empty() {
            talk.push("Drew nothing: there are no residuals.".to_owned());
        } else {
            draw(target, &residuals::plot(&drawn))?;
            talk.push(format!("Drew {}.", calm(&target.display().to_string())));
        }
    }
    let result = if request.json {
        measure_json::write(&report, &files, &found, stamp)?
    } else {
        let text = findings::text(&found, look.colour, look.width);
        (text + &measure::text(&report, look.width)).into_bytes()
    };
    let code = if report.is_empty() { 2 } else { code(&found) };
    Ok(Outcome { result, talk, code })
}

/// The recording mode, where the request and the kit tell which.
fn mode<'k>(kit: &'k Kit, request: &Measure) -> Result<Option<&'k Mode>> {
    let camera = match &request.camera {
        Some(id) => {
            let named = kit.cameras.iter().find(|camera| camera.id.eq_ignore_ascii_case(id));
            let known = kit.cameras.iter().map(|camera| camera.id.as_str());
            named.ok_or_else(|| unknown("camera", id, known))?
        }
        None => match (kit.cameras.as_slice(), &request.mode) {
            ([only], _) => only,
            (_, None) => return Ok(None),
            (_, Some(_)) => {
                bail!("the kit has several cameras: say with --camera whose mode is meant")
            }
        },
    };
    match (&request.mode, camera.modes.as_slice()) {
        (Some(id), modes) => {
            let named = modes.iter().find(|mode| mode.id.eq_ignore_ascii_case(id));
            let known = modes.iter().map(|mode| mode.id.as_str());
            Ok(Some(named.ok_or_else(|| unknown("mode", id, known))?))
        }
        (None, [only]) => Ok(Some(only)),
        (None, _) => Ok(None),
    }
}

fn unknown<'k>(
    what: &str,
    id: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) -> anyhow::Error {
    let all: Vec<&str> = known.clone().collect();
    match nearest(id, known) {
        Some(near) => anyhow!("the kit has no {what} {id}; did you mean {near}?"),
        None => anyhow!("the kit has no {what} {id}; it has {}", all.join(", ")),
    }
}

/// What holds for rows that do not say it. A recorded pixel is as wide as the recorded area over the raster.
fn usual(request: &Measure, kit: Option<&Kit>, mode: Option<&Mode>) -> Result<Usual> {
    let mut high = None;
    let pitch = match &request.pitch {
        Some(text) => Some(pixel_pitch(text).with_context(|| {
            format!(
                "--pitch {text}: give the pitch of the recorded pixels in micrometres, such as 4.4"
            )
        })?),
        None => mode.and_then(|mode| {
            let (back, raster) = (&mode.back, &mode.raster);
            high = Millimeters::new(back.height.get() / f64::from(raster.height()));
            Millimeters::new(back.width.get() / f64::from(raster.width()))
        }),
    };
    let width = request.chart_width.as_ref().map(|text| {
        chart_width(text, Some(Unit::Millimeter))
            .map_err(|wrong| anyhow!("--chart-width {text} {}: {}", wrong.what, wrong.hint))
    });
    let no_pitch = pitch.is_none().then(|| missing(request, kit));
    Ok(Usual { width: width.transpose()?, pitch, pitch_high: high, no_pitch })
}

/// What is missing for want of which the pitch of the pixels is not known.
fn missing(request: &Measure, kit: Option<&Kit>) -> String {
    let or = "or give --pitch, or add a column Pixel pitch um";
    let list = |ids: Vec<&str>| {
        let more = if ids.len() > 12 { ", ..." } else { "" };
        format!("{}{more}", ids.into_iter().take(12).collect::<Vec<_>>().join(", "))
    };
    let Some(kit) = kit else {
        return "give --kit, --camera and --mode, or --pitch, or add a column Pixel pitch um"
            .to_owned();
    };
    let asked = request.camera.as_ref();
    let named = asked.and_then(|id| kit.cameras.iter().find(|it| it.id.eq_ignore_ascii_case(id)));
    let only = match kit.cameras.as_slice() {
        [only] => Some(only),
        _ => None,
    };
    match named.or(only) {
        Some(camera) if camera.modes.is_empty() => {
            format!("camera {} has no recording mode in the kit: add one, {or}", camera.id)
        }
        Some(camera) => {
            let modes = list(camera.modes.iter().map(|mode| mode.id.as_str()).collect());
            format!("camera {} has several recording modes: give --mode ({modes}), {or}", camera.id)
        }
        None if kit.cameras.is_empty() => format!("the kit has no camera: add it, {or}"),
        None => {
            let ids = list(kit.cameras.iter().map(|camera| camera.id.as_str()).collect());
            format!("the kit has several cameras: give --camera ({ids}) and --mode, {or}")
        }
    }
}

fn native(request: &Measure) -> Result<Option<Native>> {
    let Some(native) = request.native else { return Ok(None) };
    let value =
        Millimeters::new(native).filter(|_| (1.0..=5000.0).contains(&native)).with_context(
            || format!("--native {native}: give the focal length of the lens alone in millimetres"),
        )?;
    let uncertainty = request.native_uncertainty.with_context(|| {
        "--native needs --native-uncertainty MM: how well is that focal length known? 3.7 % of it, if it is only the mark"
    })?;
    if !(0.0..=native / 2.0).contains(&uncertainty) {
        bail!("--native-uncertainty {uncertainty}: give millimetres, such as 0.02");
    }
    Ok(Some(Native { value, uncertainty }))
}

fn errors(request: &Measure) -> Result<Errors> {
    let (pixels, tape) = (request.pixel_error, request.tape_error);
    if !(0.001..=1000.0).contains(&pixels) {
        bail!(
            "--pixel-error {pixels}: give how well a span is known in pixels, from 0.001 to 1000"
        );
    }
    if !(0.0..=1000.0).contains(&tape) {
        bail!("--tape-error {tape}: give how well the tape is read in millimetres, from 0 to 1000");
    }
    Ok(Errors { pixels, tape })
}
