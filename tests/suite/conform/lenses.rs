//! The optics core against traced lenses with thin, thick and glass attachments, and against two libraries' angles of view.

use lensmend::estimate::Estimate;
use lensmend::optics::attachment::{f_number, focal_length, pupil_offset};
use lensmend::optics::focus::{depth, hyperfocal, pupil_diameter};
use lensmend::optics::view::angle;
use lensmend::units::{FNumber, Factor, Meters, Millimeters, Offset, Unit};
use serde_json::Value as Json;

use super::Judges;
use crate::workshop::lensmend;

fn number(json: &Json, key: &str) -> f64 {
    json[key].as_f64().unwrap_or_else(|| panic!("no number {key} in {json}"))
}

fn exact<U: Unit>(number: f64) -> Estimate<U> {
    Estimate::exact(U::of(number).unwrap())
}

fn mm(json: &Json, key: &str) -> Estimate<Millimeters> {
    exact(number(json, key))
}

fn offset(json: &Json, key: &str) -> Estimate<Offset> {
    exact(number(json, key))
}

fn list<'a>(json: &'a Json, key: &str) -> &'a [Json] {
    json[key].as_array().unwrap()
}

fn near(got: f64, want: f64, tolerance: f64, what: &Json) {
    assert!((got - want).abs() <= tolerance, "got {got}, want {want} in {what}");
}

/// How exact tracing and printing are, relative.
const TRACED: f64 = 1e-9;

#[test]
fn traced_lenses_agree() {
    let Some(judges) = Judges::called() else { return };
    let said = judges.values("optics_values.py");
    assert!(number(&said, "held") > 1000.0, "the judge has held itself against too little");
    attachments(list(&said, "lenses"));
    focus(list(&said, "focus"));
    for view in list(&said, "views") {
        for by in ["usd", "opencv"] {
            for (side, want) in ["width", "height"].iter().zip(list(view, by)) {
                let got = angle(mm(view, side), mm(view, "focal")).unwrap();
                near(got.value.get(), want.as_f64().unwrap(), 1e-5, view);
            }
        }
    }
}

fn attachments(lenses: &[Json]) {
    let mut kinds = Vec::new();
    for lens in lenses {
        let bare = &lens["bare"];
        for behind in list(lens, "behind") {
            kinds.push(behind["kind"].as_str().unwrap());
            let m: Estimate<Factor> = exact(number(behind, "m"));
            let f = focal_length(mm(bare, "focal"), m).unwrap();
            let n = f_number(exact(number(bare, "stop")), m).unwrap();
            let e = pupil_offset(offset(bare, "pupilToImage"), offset(behind, "shift")).unwrap();
            let [focal, stop, place] = [f.value.get(), n.value.get(), e.value.get()];
            near(focal, number(behind, "focal"), TRACED * focal, behind);
            near(stop, number(behind, "stop"), TRACED * stop, behind);
            near(place, number(behind, "pupilToImage"), TRACED * focal, behind);
            let pupil = pupil_diameter(f, n).unwrap().value.get();
            near(pupil, number(bare, "diameter"), TRACED * pupil, behind);
            near(pupil, number(behind, "diameter"), TRACED * pupil, behind);
        }
    }
    for kind in ["thin", "thick", "glass"] {
        assert!(kinds.contains(&kind), "no {kind} attachment was traced");
    }
}

/// Depth of field in the entrance-pupil form is what cones of rays through the whole pupil give, bare and behind.
fn focus(focus: &[Json]) {
    for said in focus {
        let m: Estimate<Factor> = exact(number(said, "m"));
        let (bare, behind) = (&said["bare"], &said["behind"]);
        let p = focal_length(mm(bare, "pinhole"), m).unwrap().value.get();
        near(p, number(behind, "pinhole"), TRACED * p, said);
        let stop: Estimate<FNumber> = exact(number(said, "stop"));
        let pupil = pupil_diameter(mm(said, "focal"), stop).unwrap();
        let u: Estimate<Meters> = exact(number(said, "distance") / 1000.0);
        for side in [bare, behind] {
            let hyperfocal = hyperfocal(pupil, mm(side, "pinhole"), mm(side, "circle")).unwrap();
            let depth = depth(hyperfocal, u).unwrap();
            let [near_limit, far_limit] = [depth.near.value.get(), depth.far.value.get()];
            let metres = |key| number(side, key) / 1000.0;
            let h = hyperfocal.value.get();
            near(h, metres("hyperfocal"), 1e-7 * h, said);
            near(near_limit, metres("near"), 1e-7 * u.value.get(), said);
            if side["far"].is_null() {
                assert!(far_limit.is_infinite(), "{said}");
            } else {
                near(far_limit, metres("far"), 1e-7 * far_limit, said);
            }
        }
    }
}

/// The built program, asked in words, gives what the rays gave.
#[test]
fn the_program_says_what_the_rays_do() {
    let Some(judges) = Judges::called() else { return };
    let said = judges.values("optics_values.py");
    let mut compared = 0;
    for lens in list(&said, "lenses") {
        for behind in list(lens, "behind") {
            let (m, bare) = (number(behind, "m"), &lens["bare"]);
            let option = if m < 1.0 { "--reducer" } else { "--extender" };
            let [focal, pupil] = ["focal", "pupilToImage"].map(|key| number(bare, key).to_string());
            let [m, shift] = [m, number(behind, "shift")].map(|number| number.to_string());
            let output = lensmend(&[
                "optics", "--json", "--lens", &focal, option, &m, "--pupil", &pupil, "--shift",
                &shift,
            ]);
            // Lenses beyond what is believed of focal lengths and shifts are refused, and none of these is.
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
            let told: Json = serde_json::from_slice(&output.stdout).unwrap();
            let fields = &told["sides"][1]["fields"];
            let value = |field: &str| number(&fields[field], "value");
            near(value("focalLength"), number(behind, "focal"), 1e-6, behind);
            near(value("pupilOffset"), number(behind, "pupilToImage"), 1e-6, behind);
            compared += 1;
        }
    }
    assert!(compared > 20, "only {compared} lenses were compared");
    for view in list(&said, "views") {
        let [focal, width, height] =
            ["focal", "width", "height"].map(|key| number(view, key).to_string());
        let sensor = format!("{width}x{height}");
        let output = lensmend(&["optics", "--json", "--lens", &focal, "--sensor", &sensor]);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let told: Json = serde_json::from_slice(&output.stdout).unwrap();
        let fields = &told["sides"][0]["fields"];
        for (at, field) in ["angleHorizontal", "angleVertical"].iter().enumerate() {
            let value = number(&fields[*field], "value");
            near(value, list(view, "usd")[at].as_f64().unwrap(), 1e-5, view);
        }
    }
}
