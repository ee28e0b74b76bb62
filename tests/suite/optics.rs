//! The optics core against values the project did not make up. The source stands beside each table.

use lensmend::estimate::Estimate;
use lensmend::optics::attachment::{self, focal_length, light, pupil_offset, shift};
use lensmend::optics::focus::{Depth, depth, hyperfocal, pupil_diameter};
use lensmend::optics::view::{Area, FilmBack, angle, coverage, crop_by_diagonal, crop_by_width};
use lensmend::units::{FNumber, Factor, Meters, Millimeters, Offset, TNumber, Transmittance, Unit};
use proptest::prelude::*;

fn exact<U: Unit>(v: f64) -> Estimate<U> {
    Estimate::exact(U::of(v).unwrap())
}

fn mm(v: f64) -> Estimate<Millimeters> {
    exact(v)
}

fn f(v: f64) -> Estimate<FNumber> {
    exact(v)
}

fn factor(v: f64) -> Estimate<Factor> {
    exact(v)
}

fn tau(v: f64) -> Estimate<Transmittance> {
    exact(v)
}

fn number<U: Unit>(estimate: Option<Estimate<U>>) -> f64 {
    estimate.unwrap().value.number()
}

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want}");
}

/// Paraxial ray trace of published lens prescriptions with an ideal reducer, made with the `optiland` 0.6.3
/// library (double Gauss sample; Tessar and telephoto from M. Laikin, Lens Design, 4th ed., CRC 2007, pp. 63, 91).
/// Columns: native f, N, pupil to image; m; traced f', N', shift of the image, pupil to image.
#[test]
fn paraxial_traces_agree() {
    let traces = [
        (50.0, 2.0, 40.769946, 0.58, 29.0, 1.16, 10.5, 30.269946),
        (50.0, 2.0, 40.769946, 0.64, 32.0, 1.28, 9.0, 31.769946),
        (50.0, 2.0, 40.769946, 0.71, 35.5, 1.42, 7.25, 33.519946),
        (50.0, 2.0, 40.769946, 0.80, 40.0, 1.60, 5.0, 35.769946),
        (50.0, 4.5, 49.873956, 0.71, 35.5, 3.195, 8.7, 41.173956),
        (135.0, 5.6, 104.939393, 0.71, 95.85, 3.976, 8.7, 96.239393),
        (24.0, 2.8, 46.487234, 0.71, 17.04, 1.988, 6.583, 39.904234),
    ];
    for (f, n, e, m, f_behind, n_behind, s, e_behind) in traces {
        let m = factor(m);
        near(number(focal_length(mm(f), m)), f_behind, 1e-9, "f'");
        near(number(attachment::f_number(exact(n), m)), n_behind, 1e-9, "N'");
        near(number(pupil_offset(exact(e), exact(s))), e_behind, 1e-6, "e'");
    }
}

/// Thick glass reducer (doublet and singlet), two ray-tracing engines agreeing to 1e-6 (`optiland`, `rayoptics` 0.9.8):
/// the shift differs from a (1 - m), so it has to come from the kit.
#[test]
fn thick_reducers_move_the_sensor_by_their_own_amount() {
    for (m, traced_shift, pupil) in
        [(0.58, 7.601702, 33.168245), (0.71, 3.902699, 36.867247), (0.80, 1.354174, 39.415772)]
    {
        let thin = 28.0 * (1.0 - m);
        assert!((thin - traced_shift) > 1.0);
        let (lens, body) = (Millimeters::new(44.0).unwrap(), Millimeters::new(19.25).unwrap());
        let thickness: Estimate<Offset> = exact(44.0 - 19.25 - traced_shift);
        let s = shift(lens, body, thickness);
        near(number(s), traced_shift, 1e-9, "s");
        near(number(pupil_offset(exact(40.769946), s.unwrap())), pupil, 2e-6, "e'");
    }
}

/// T-stops: definition in ISO 517; numbers by arithmetic from it. T' = m T / sqrt(tau).
#[test]
fn t_numbers_lose_what_the_glass_takes() {
    for (t, m, glass, want) in [
        (1.5, 0.71, 1.0, 1.065),
        (1.5, 0.71, 0.95, 1.092667),
        (2.8, 0.64, 0.94, 1.848307),
        (1.5, 0.58, 0.95, 0.892601),
    ] {
        near(number(attachment::t_number(exact(t), factor(m), tau(glass))), want, 1e-6, "T'");
    }
    let t: Option<Estimate<TNumber>> = attachment::t_from_f(f(2.0), tau(0.75));
    near(number(t), 2.309401, 1e-6, "T of f/2 at 75 %");
    near(number(attachment::f_from_t(t.unwrap(), tau(0.75))), 2.0, 1e-12, "and back");
}

/// Gain in stops for lossless glass: arithmetic on the f-number series of ISO 517:2008.
#[test]
fn light_gain_in_stops() {
    for (m, want) in [
        (0.58, 1.571750),
        (0.64, 1.287712),
        (0.70, 1.029146),
        (0.71, 0.988218),
        (0.80, 0.643856),
        (1.4, -0.970854),
        (2.0, -2.0),
    ] {
        near(number(light(factor(m), tau(1.0))), want, 1e-6, "stops");
    }
    let dimmed = light(factor(0.71), tau(0.95));
    near(number(dimmed), 0.9142, 1e-4, "0.71 with 95 % glass");
    near(number(light(factor(1.0), tau(1.0))), 0.0, 0.0, "nothing there");
}

/// `usd-core` 26.11 `Gf.Camera.GetFieldOfView` and OpenCV 5.0 `calibrationMatrixValues`, which agree to 1e-5 degrees.
#[test]
fn angles_of_view_agree_with_two_libraries() {
    for (f, w, h, horizontal, vertical) in [
        (50.0, 36.0, 24.0, 39.597753, 26.991467),
        (35.5, 36.0, 24.0, 53.773868, 37.353403),
        (50.0, 27.0336, 14.256, 30.255034, 16.226834),
        (35.5, 27.0336, 14.256, 41.689156, 22.706758),
        (17.04, 24.892, 18.669, 72.288714, 57.427794),
    ] {
        near(number(angle(mm(w), mm(f))), horizontal, 1e-5, "horizontal");
        near(number(angle(mm(h), mm(f))), vertical, 1e-5, "vertical");
    }
}

/// ISO 1007 frame 36 x 24; Super 35 4-perf aperture 24.892 x 18.669; 26.2 mm wide sensor: common practice, no source.
#[test]
fn crops_by_width_and_by_diagonal_differ() {
    let back = |w, h| {
        let side = |v| Millimeters::new(v).unwrap();
        Area::exact(FilmBack { width: side(w), height: side(h) })
    };
    let super35 = back(24.892, 18.669);
    near(number(crop_by_width(super35)), 1.4462, 5e-5, "by width");
    near(number(crop_by_diagonal(super35)), 1.3905, 5e-5, "by diagonal");
    near(number(crop_by_width(back(26.2, 13.8))), 1.374046, 1e-6, "26.2 mm");
    near(number(back(36.0, 24.0).diagonal()), 43.2666, 5e-5, "43 mm circle");
    near(
        number(coverage(mm(43.3 * 0.71), super35.diagonal().unwrap())),
        0.98804,
        1e-5,
        "just misses the corners",
    );
    near(number(coverage(mm(31.1), super35.diagonal().unwrap())), 0.999518, 1e-5, "borderline");
}

/// US Army course SS0507, learning event 10: 2 in, f/8, c 0.002 in: hyperfocal 20.8 ft, near limit 10.4 ft.
/// US Navy NAVEDTRA 14209 Photography, conjugate foci: 155 mm f/2.8, H 554 ft, at 10 ft: 9.8 to 10.2 ft.
#[test]
fn printed_depth_of_field_examples() {
    let feet = |v: f64| exact::<Meters>(v * 0.3048);
    let d = pupil_diameter(mm(50.8), f(8.0)).unwrap();
    let h = hyperfocal(d, mm(50.8), mm(0.0508)).unwrap();
    near(h.value.get() / 0.3048, 20.8, 0.05, "H");
    let endless = depth(h, exact(f64::INFINITY)).unwrap();
    near(endless.near.value.get(), h.value.get(), 0.0, "near limit at infinity");
    let at_hyperfocal = depth(h, h).unwrap();
    near(at_hyperfocal.near.value.get() / 0.3048, 10.4, 0.05, "near");
    assert!(at_hyperfocal.far.value.get().is_infinite());
    let d = pupil_diameter(mm(155.0), f(2.8)).unwrap();
    let c = mm(d.value.get() * 155.0 / (554.0 * 304.8));
    let navy = depth(hyperfocal(d, mm(155.0), c).unwrap(), feet(10.0)).unwrap();
    near(navy.near.value.get() / 0.3048, 9.8, 0.05, "near");
    near(navy.far.value.get() / 0.3048, 10.2, 0.05, "far");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn a_plain_adapter_changes_nothing(f in 4.0..1200.0f64, n in 0.7..64.0f64) {
        let one = factor(1.0);
        prop_assert_eq!(focal_length(mm(f), one).unwrap(), mm(f));
        prop_assert_eq!(attachment::f_number(exact(n), one).unwrap(), exact(n));
    }

    #[test]
    fn there_and_back(f in 4.0..1200.0f64, m in 0.4..2.5f64) {
        let back = focal_length(focal_length(mm(f), factor(m)).unwrap(), factor(1.0 / m));
        prop_assert!((number(back) - f).abs() < 1e-9 * f);
    }

    /// Same ring, blur scaled with the picture: what is sharp in front of the lens does not change.
    #[test]
    fn depth_of_field_survives_the_attachment(
        focal in 10.0..200.0f64, n in 1.0..16.0f64, m in 0.5..2.0f64, c in 0.01..0.05f64, u in 0.5..50.0f64,
    ) {
        let limits = |scale: f64| {
            let d = pupil_diameter(mm(scale * focal), exact(scale * n)).unwrap();
            depth(hyperfocal(d, mm(scale * focal), mm(scale * c)).unwrap(), exact(u)).unwrap()
        };
        let (Depth { near: a, far: b }, Depth { near: c, far: d }) = (limits(1.0), limits(m));
        prop_assert!((a.value.get() - c.value.get()).abs() < 1e-9 * u);
        prop_assert!(b.value == d.value || (b.value.get() / d.value.get() - 1.0).abs() < 1e-6);
    }

    #[test]
    fn t_is_never_below_f(n in 0.7..32.0f64, lens in 0.01..=1.0f64, glass in 0.01..=1.0f64, m in 0.5..2.0f64) {
        let t = attachment::t_from_f(exact(n), tau(lens)).unwrap();
        let t_behind = number(attachment::t_number(t, factor(m), tau(glass)));
        let n_behind = number(attachment::f_number(exact(n), factor(m)));
        prop_assert!(t_behind >= n_behind * (1.0 - 1e-12));
    }
}
