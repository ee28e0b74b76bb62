//! What cannot be meant is refused by the built program, in words that say what to write; and what is said where whole
//! edges are dark, a mount is too deep, or glass is said to do what no glass does.
#![allow(clippy::disallowed_methods, reason = "tests read and write files of their own")]

use std::fs;

use crate::workshop::lensmend;

const KIT: &str = "
[[mount]]
id = 'deep'
flange = 44
[[mount]]
id = 'shallow'
flange = 40
[[mount]]
id = 'short'
flange = 18
[[camera]]
id = 'A'
mount = 'deep'
[[camera.mode]]
id = 'full'
raster = '6000x4000'
width = 36
height = 24
[[camera]]
id = 'B'
mount = 'short'
[[camera.mode]]
id = 'full'
raster = '6000x4000'
width = 36
height = 24
[[lens]]
id = 'prime'
mount = 'deep'
focal = 50
f-max = 2
t-max = 2.2
image-circle = 30
[[lens]]
id = 'zoom'
mount = 'deep'
range = [24, 70]
f-max = 2.8
[[lens]]
id = 'other'
mount = 'shallow'
focal = 35
[[attachment]]
id = 'thick'
kind = 'reducer'
magnification = 0.71
lens-mount = 'deep'
body-mount = 'short'
thickness = 54.75
";

/// What the program prints, and that with what it complains of, each on one line.
fn said(command: &str, kit: &str, arguments: &[&str]) -> (i32, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("kit.toml");
    fs::write(&file, kit).unwrap();
    let file = file.to_string_lossy().into_owned();
    let mut all = vec![command];
    all.extend(if command == "kit" { vec![file.as_str()] } else { vec!["--kit", file.as_str()] });
    all.extend(arguments);
    let output = lensmend(&all);
    let text = |bytes: &[u8]| {
        let text = String::from_utf8(bytes.to_vec()).unwrap();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let (out, err) = (text(&output.stdout), text(&output.stderr));
    let both = format!("{out} {err}");
    (output.status.code().unwrap(), out, both)
}

#[test]
fn what_cannot_be_meant_is_refused() {
    for (arguments, words) in [
        (&["--lens", "zoom", "--focal", "85"][..], "--focal 85: zoom goes from 24 to 70 mm"),
        (&["--lens", "zoom", "--focal", "20"], "--focal 20: zoom goes from 24 to 70 mm"),
        (
            &["--lens", "prime", "--stop", "f/1.4"],
            "--stop f/1.4: prime opens to f/2; give the stop on the ring",
        ),
        (
            &["--lens", "zoom", "--focal", "50", "--stop", "f/2"],
            "--stop f/2: zoom opens to f/2.8 at 50 mm; give the stop on the ring",
        ),
        (&["--lens", "prime", "--stop", "T1.8"], "--stop T1.8: prime opens to T2.2"),
        (
            &["--lens", "zoom", "--focal", "50", "--stop", "T2.4"],
            "--stop T2.4: zoom opens to f/2.8, and no glass adds light",
        ),
        (&["--lens", "40", "--stop", "f/2", "--stop", "T1.8"], "is below f/2: no glass adds light"),
        (
            &["--lens", "50", "--reducer", "71"],
            "--reducer 71: a magnification is a factor; did you mean 0.71?",
        ),
        (
            &["--lens", "50000"],
            "--lens 50000: a focal length lies between 1 and 3000 mm; did you mean 50?",
        ),
        (&["--lens", "2in"], "--lens 2in: focal lengths are in millimetres; write 50.8"),
    ] {
        let (code, out, err) = said("optics", KIT, arguments);
        assert_eq!((code, out.as_str()), (2, ""), "{arguments:?}: {err}");
        assert!(err.contains(words), "{arguments:?}: {err}");
    }
}

#[test]
fn the_same_slips_in_a_kit() {
    for (was, slip, words) in [
        ("magnification = 0.71", "magnification = 71", "did you mean 0.71"),
        ("focal = 50\nf-max", "focal = 50000\nf-max", "50"),
        ("t-max = 2.2", "t-max = 1.8", "no glass adds light"),
    ] {
        assert!(KIT.contains(was));
        let (code, _, err) = said("kit", &KIT.replacen(was, slip, 1), &[]);
        assert_eq!(code, 2, "{slip}: {err}");
        assert!(err.contains(words), "{slip}: {err}");
    }
}

/// Geometry: a tube between lens and camera only takes the lens farther from the sensor.
#[test]
fn no_adapter_is_asked_for_where_none_can_help() {
    let (code, _, err) = said("optics", KIT, &["--lens", "other", "--camera", "A"]);
    assert_eq!(code, 1, "{err}");
    for words in [
        "the mount of the lens is 40 mm deep and that of the camera 44 mm",
        "no plain adapter can let the lens reach infinity on it",
        "do: ask for an adapter with glass of its own, have the lens remounted, or take another lens or camera",
    ] {
        assert!(err.contains(words), "{words}: {err}");
    }
    assert!(!err.contains("name the adapter"), "{err}");
    // On a camera with a shorter flange an adapter is what is missing.
    let (_, _, err) = said("optics", KIT, &["--lens", "other", "--camera", "B"]);
    assert!(err.contains("name the adapter") && !err.contains("no plain adapter"), "{err}");
    let (_, out, err) = said("kit", KIT, &[]);
    assert!(
        out.contains("to this camera, and no plain adapter can let it reach infinity there"),
        "{out}"
    );
    // The other camera could take it with an adapter.
    assert!(err.contains("bring an adapter or reducer for it"), "{err}");
    let alone = KIT.replace("id = 'B'\nmount = 'short'", "id = 'B'\nmount = 'deep'");
    let (_, _, err) = said("kit", &alone, &[]);
    assert!(err.contains("bring an adapter with glass of its own"), "{err}");
}

/// 44 - 18 - 54.75 = -28.75: thin glass of 0.71 shifts by 0 to 44 (1 - 0.71) = 12.76 mm (Gaussian optics).
#[test]
fn glass_that_shifts_as_no_glass_does_is_told() {
    for (command, arguments) in [
        ("kit", &[][..]),
        ("optics", &["--lens", "prime", "--camera", "B", "--attachment", "thick"]),
    ] {
        let (code, _, err) = said(command, KIT, arguments);
        assert_eq!(code, 1, "{err}");
        assert!(
            err.contains("shift the sensor plane by -28.75 mm, which glass of 0.71 cannot"),
            "{err}"
        );
        assert!(
            err.contains("measure the reducer from flange to flange again, and check flange"),
            "{err}"
        );
        let (_, _, err) = said(command, &KIT.replace("54.75", "18.75"), arguments);
        assert!(!err.contains("shift the sensor plane"), "{err}");
        let (_, _, err) = said(command, &KIT.replace("thickness = 54.75", "shift = 40"), arguments);
        assert!(err.contains("leave shift out"), "{err}");
    }
}

/// 30 mm behind 0.71 is 21.3 mm: (36 - 21.3) / 2 = 7.35 mm of the sides and (24 - 21.3) / 2 = 1.35 mm of top and bottom
/// are dark, 1225 and 225 px at 6 um; corners (43.2666 - 21.3) / 2 = 10.98 mm (arithmetic; frame of ISO 1007).
#[test]
fn whole_edges_that_are_dark_are_said() {
    let words = &["--lens", "prime", "--camera", "B", "--attachment", "thick"];
    let (_, out, _) = said("optics", KIT, words);
    assert!(
        out.contains(
            "Whole edges are dark by geometry, not only corners: the image circle of 21.3 mm ends 7.35 mm (1225 px) \
             inside the left and right edges, 1.35 mm (225 px) inside the top and bottom edges, and 10.98 mm (1831 px) \
             inside the corners."
        ),
        "{out}"
    );
    let (_, out, _) = said("kit", KIT, &[]);
    assert!(
        out.contains(
            "dark 10.98 mm, 1831 px sides 7.35 mm, 1225 px top and bottom 1.35 mm, 225 px"
        ),
        "{out}"
    );
    // Bare, top and bottom are lit: (30 - 24) / 2 mm are left over.
    let bare = &["--lens", "prime", "--camera", "A"];
    let (_, out, _) = said("optics", KIT, bare);
    assert!(
        out.contains("inside the left and right edges, and") && !out.contains("top and bottom"),
        "{out}"
    );
    // And where the circle is only smaller than the diagonal, only corners are.
    let (_, out, _) = said("optics", &KIT.replace("image-circle = 30", "image-circle = 40"), bare);
    assert!(out.contains("Corners are dark by geometry") && !out.contains("edges"), "{out}");
}

#[test]
fn a_column_without_a_unit_is_said_once() {
    let folder = tempfile::tempdir().unwrap();
    let sheet = folder.path().join("chart.csv");
    fs::write(
        &sheet,
        "Lens,Attachment,Focus,Tape,Chart width,Span px\n50,none,2 m,1.5,500,3700\n50,none,2 m,2,500,2700\n50,none,2 m,3 m,500 mm,1770\n",
    )
    .unwrap();
    let output = lensmend(&["measure", &sheet.to_string_lossy(), "--pitch", "4.4"]);
    let err = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
    assert_eq!(err.matches("says no unit").count(), 2, "{err}");
    assert!(err.contains("\"1.5\" under \"Tape\" says no unit; so do 2 cells in all"), "{err}");
    assert!(
        err.contains("\"500\" under \"Chart width\" says no unit; so do 2 cells in all"),
        "{err}"
    );
    let help = String::from_utf8(lensmend(&["measure", "--help"]).stdout).unwrap();
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    for heading in ["Focus (m)", "Tape (m)", "Chart width (mm)", "Span px"] {
        assert!(help.contains(heading), "{heading}: {help}");
    }
}
