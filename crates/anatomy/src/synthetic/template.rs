//! Where the bone runs: the control points of an average man's right hemipelvis, and how another
//! shape moves them.
//!
//! The points are assumed: drawn by hand after the descriptions and proportions of anatomy books,
//! from no data set. Published numbers enter through [`Shape`], which pins the named places.

use nalgebra::{Point3, Vector3};

use super::Shape;
use super::spline::Warp;

/// The hip centre of the template, mm.
const HIP: [f64; 3] = [86.0, -53.0, -76.0];
const RADIUS: f64 = 26.0;

/// Iliac wing: outline as (x, y, z, swell), from the ASIS along the crest and back below.
pub(super) const WING_OUTLINE: &[[f64; 4]] = &[
    [117.0, -5.0, -4.0, 4.0],
    [126.0, -12.0, 15.0, 3.0],
    [135.0, -30.0, 34.0, 4.5],
    [139.0, -52.0, 47.0, 5.0],
    [135.0, -78.0, 56.5, 3.0],
    [122.0, -102.0, 59.0, 2.5],
    [97.0, -117.0, 54.0, 3.5],
    [70.0, -133.0, 43.0, 5.0],
    [46.0, -147.0, 25.0, 5.0],
    [42.0, -147.0, 10.0, 4.0],
    [44.0, -141.0, -8.0, 3.5],
    [50.0, -128.0, -19.0, 3.0],
    [58.0, -112.0, -21.0, 3.0],
    [65.0, -96.0, -27.0, 3.0],
    [68.0, -88.0, -40.0, 2.0],
    [71.0, -84.0, -60.0, 1.0],
    [76.0, -62.0, -74.0, 0.0],
    [84.0, -38.0, -64.0, 0.0],
    [95.0, -22.0, -46.0, 2.0],
    [99.0, -20.0, -31.0, 2.5],
    [106.0, -15.0, -18.0, 3.0],
];

/// Iliac wing: middle surface inside the outline, hollowed towards the pelvis, (x, y, z).
pub(super) const WING_FOSSA: &[[f64; 3]] = &[
    [124.0, -72.0, 26.0],
    [110.0, -70.0, 3.0],
    [118.0, -42.0, 5.0],
    [93.0, -102.0, 15.0],
    [92.0, -64.0, -30.0],
    [98.0, -40.0, -26.0],
];

/// Iliac wing: (x, y, z, half thickness as a share of the thinnest wing's half).
pub(super) const WING_KNOTS: &[[f64; 4]] = &[
    [121.0, -28.0, 10.0, 2.4],
    [128.0, -50.0, 26.0, 1.3],
    [124.0, -75.0, 30.0, 1.0],
    [111.0, -72.0, 6.0, 1.0],
    [112.0, -48.0, 2.0, 1.6],
    [107.0, -92.0, 28.0, 1.2],
    [90.0, -108.0, 22.0, 2.6],
    [96.0, -90.0, 2.0, 2.0],
    [68.0, -124.0, 18.0, 5.0],
    [64.0, -112.0, 0.0, 5.0],
    [56.0, -132.0, 8.0, 4.5],
    [72.0, -92.0, -22.0, 4.0],
    [90.0, -68.0, -26.0, 4.5],
    [96.0, -42.0, -28.0, 4.5],
    [104.0, -28.0, -14.0, 3.0],
    [74.0, -78.0, -48.0, 4.0],
    [82.0, -50.0, -60.0, 5.0],
];

/// Quadrilateral plate and posterior column: outline as (x, y, z, swell), on the middle surface.
pub(super) const QUAD_OUTLINE: &[[f64; 4]] = &[
    [67.0, -89.0, -30.0, 0.0],
    [68.0, -68.0, -28.0, 0.0],
    [64.0, -44.0, -48.0, 0.0],
    [58.0, -26.0, -64.0, 0.0],
    [54.0, -20.0, -76.0, 0.0],
    [56.0, -27.0, -90.0, 0.0],
    [60.0, -44.0, -101.0, 0.5],
    [64.0, -62.0, -112.0, 0.5],
    [66.0, -76.0, -124.0, 0.0],
    [67.0, -91.0, -119.0, 0.0],
    [61.0, -96.0, -106.0, 1.0],
    [52.0, -99.0, -93.0, 0.5],
    [59.0, -93.5, -76.0, 1.5],
    [64.0, -90.0, -58.0, 2.0],
    [66.5, -89.5, -43.0, 2.0],
];

/// Quadrilateral plate: inner surface as (x, y, z, half thickness in mm).
pub(super) const QUAD_KNOTS: &[[f64; 4]] = &[
    [63.0, -72.0, -34.0, 6.0],
    [59.0, -50.0, -50.0, 5.0],
    [53.0, -30.0, -66.0, 5.0],
    [55.0, -72.0, -62.0, 5.5],
    [51.0, -53.0, -76.0, 4.5],
    [51.5, -36.0, -82.0, 4.5],
    [52.5, -72.0, -88.0, 5.0],
    [52.0, -54.0, -96.0, 4.5],
    [54.5, -68.0, -108.0, 5.5],
    [58.0, -80.0, -118.0, 7.0],
    [55.0, -88.0, -72.0, 5.5],
    [47.0, -97.0, -93.0, 3.8],
    [51.0, -90.0, -98.0, 5.0],
    [60.0, -88.0, -45.0, 5.5],
];

/// Ischium and pubis round the obturator foramen: outline as (x, y, z, swell).
pub(super) const RING_OUTLINE: &[[f64; 4]] = &[
    [30.0, -7.0, -93.0, 0.0],
    [14.0, -6.0, -97.0, 0.0],
    [0.0, -8.0, -100.0, 0.0],
    [-1.0, -19.0, -118.0, 0.0],
    [3.0, -28.0, -131.0, 0.0],
    [13.0, -34.0, -139.0, 0.0],
    [27.0, -45.0, -149.0, 0.0],
    [43.0, -58.0, -156.0, 0.0],
    [58.0, -70.0, -158.0, 0.0],
    [69.0, -84.0, -150.0, 0.0],
    [74.0, -95.0, -133.0, 0.0],
    [74.0, -98.0, -116.0, 0.0],
    [73.0, -90.0, -100.0, 0.0],
    [76.0, -70.0, -92.0, 0.0],
    [72.0, -40.0, -82.0, 0.0],
    [58.0, -22.0, -78.0, 0.0],
    [44.0, -11.0, -85.0, 0.0],
];

/// The obturator foramen: (x, y, z).
pub(super) const FORAMEN: &[[f64; 3]] = &[
    [44.0, -24.0, -99.0],
    [55.0, -36.0, -101.0],
    [61.0, -51.0, -110.0],
    [60.0, -60.0, -123.0],
    [54.0, -61.0, -137.0],
    [43.0, -52.0, -144.0],
    [31.0, -39.0, -138.0],
    [26.0, -27.0, -124.0],
    [31.0, -21.0, -108.0],
];

/// Ischium and pubis: middle surface as (x, y, z, half thickness in mm).
pub(super) const RING_KNOTS: &[[f64; 4]] = &[
    [26.0, -10.0, -97.0, 6.5],
    [8.0, -15.0, -108.0, 7.5],
    [6.0, -24.0, -126.0, 6.5],
    [20.0, -20.0, -112.0, 5.0],
    [22.0, -37.0, -139.0, 4.0],
    [36.0, -50.0, -149.0, 4.5],
    [54.0, -66.0, -150.0, 8.0],
    [64.0, -80.0, -143.0, 11.0],
    [69.0, -84.0, -124.0, 12.0],
    [70.0, -80.0, -108.0, 10.0],
    [64.0, -55.0, -100.0, 6.0],
    [56.0, -28.0, -88.0, 6.5],
    [42.0, -17.0, -92.0, 6.0],
];

/// Swept tubes and balls: points (x, y, z, radius), and the width over which each merges.
pub(super) const TUBES: &[(&[[f64; 4]], f64)] = &[
    // ASIS, its foremost point in the anterior pelvic plane.
    (&[[118.5, -6.0, -2.0, 6.0], [113.0, -13.0, -9.0, 5.0]], 12.0),
    // AIIS.
    (
        &[[93.5, -23.0, -47.0, 6.5], [95.0, -30.0, -36.0, 7.0]],
        16.0,
    ),
    // PSIS and PIIS.
    (
        &[
            [45.0, -143.0, 23.0, 6.0],
            [45.0, -140.0, 12.0, 5.0],
            [48.0, -135.0, -3.0, 5.0],
        ],
        9.0,
    ),
    // Arcuate and pectineal line: from the sacroiliac joint along the brim to the pubic
    // tubercle, and the pubic crest from there to the symphysis.
    (
        &[
            [69.0, -92.0, -22.0, 7.0],
            [69.0, -70.0, -33.0, 7.0],
            [65.0, -48.0, -51.0, 7.0],
            [61.0, -30.0, -66.0, 7.5],
            [53.0, -19.0, -77.0, 6.0],
            [43.0, -13.0, -86.0, 4.5],
            [28.0, -5.0, -93.0, 4.5],
            [15.0, -7.5, -96.5, 4.5],
            [2.0, -11.0, -99.5, 5.0],
        ],
        15.0,
    ),
    // Iliopubic eminence.
    (&[[72.0, -24.0, -66.0, 7.0]], 14.0),
    // Supra-acetabular bulk .
    (
        &[[95.5, -53.0, -48.0, 12.0], [92.0, -56.0, -34.0, 7.0]],
        22.0,
    ),
    // Posterior column.
    (
        &[
            [72.0, -82.0, -38.0, 9.0],
            [72.0, -82.0, -62.0, 10.0],
            [71.0, -84.0, -90.0, 10.0],
            [70.0, -85.0, -112.0, 11.0],
        ],
        14.0,
    ),
    // Ischial tuberosity.
    (
        &[
            [71.0, -90.0, -118.0, 10.0],
            [70.0, -86.0, -136.0, 12.0],
            [60.0, -74.0, -148.0, 9.0],
        ],
        10.0,
    ),
    // Ischial spine.
    (&[[62.0, -90.0, -88.0, 6.0], [50.0, -99.0, -93.5, 2.2]], 8.0),
    // Anterior column, from the socket to the superior ramus.
    (
        &[
            [74.0, -32.0, -72.0, 9.0],
            [60.0, -24.0, -82.0, 7.5],
            [44.0, -15.0, -90.0, 6.0],
        ],
        10.0,
    ),
];

/// Just in front of the AIIS, (x, y, z).
pub(super) const BEFORE_AIIS: [f64; 3] = [96.5, -17.5, -48.0];

/// The symphyseal face lies this far from the midline, mm.
pub(super) const SYMPHYSIS_X: f64 = 2.2;

/// How far the pins of the named places are moved beyond their targets, mm, so that the finished surface,
/// which blends and rounds, has its named places on target.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trim {
    pub(super) asis: Vector3<f64>,
    pub(super) tubercle: Vector3<f64>,
    pub(super) psis: Vector3<f64>,
    /// Along x, of the inside of the pelvis behind the socket.
    pub(super) wall: f64,
}

impl Trim {
    pub(super) const NONE: Self = Self {
        asis: Vector3::new(0.0, 0.0, 0.0),
        tubercle: Vector3::new(0.0, 0.0, 0.0),
        psis: Vector3::new(0.0, 0.0, 0.0),
        wall: 0.0,
    };
}

/// Where the named places of `shape` belong: ASIS, pubic tubercle and PSIS.
pub(super) fn named_places(shape: &Shape) -> [Point3<f64>; 3] {
    [
        Point3::new(0.5 * shape.asis_width_mm, 0.0, 0.0),
        Point3::new(0.5 * shape.tubercle_spacing_mm, 0.0, -shape.app_height_mm),
        Point3::new(
            0.5 * shape.psis_width_mm,
            -shape.pelvic_depth_mm,
            shape.psis_rise_mm,
        ),
    ]
}

/// What moves the template's points to their places in `shape`.
pub(super) fn warp(shape: &Shape, trim: &Trim) -> Warp {
    let hip = Point3::from(HIP);
    let radius = 0.5 * shape.socket_diameter_mm;
    let to_hip = Point3::new(
        0.5 * shape.hip_spacing_mm,
        -shape.hip_behind_mm,
        -shape.hip_below_mm,
    );
    let around = [
        Vector3::x(),
        Vector3::y(),
        -Vector3::y(),
        Vector3::z(),
        -Vector3::z(),
    ];
    let mut pairs: Vec<_> = around
        .map(|d| (hip + d * RADIUS * 1.35, to_hip + d * radius * 1.35))
        .to_vec();
    pairs.extend(pins(shape, trim, to_hip).map(|(from, to)| (Point3::from(from), to)));
    Warp::taking(&pairs)
}

/// Named places of the template and where they belong.
fn pins(shape: &Shape, trim: &Trim, to_hip: Point3<f64>) -> [([f64; 3], Point3<f64>); 10] {
    let radius = 0.5 * shape.socket_diameter_mm;
    let inner = radius + shape.fossa_depth_mm + shape.medial_wall_mm - trim.wall;
    let [asis, tubercle, psis] = named_places(shape);
    let (wide, depth) = (0.5 * shape.crest_width_mm, shape.pelvic_depth_mm);
    let height = shape.app_height_mm;
    let scale = radius / RADIUS;
    let crest = shape.crest_height_mm;
    let face = shape.symphysis_height_mm;
    let at = Point3::new;
    [
        // Inside of the pelvis behind the socket; ASIS, pubic tubercle, PSIS.
        ([51.0, -53.0, -76.0], to_hip - Vector3::x() * inner),
        ([117.3, 1.2, -1.6], asis + trim.asis),
        ([24.5, 1.2, -95.1], tubercle + trim.tubercle),
        ([47.6, -151.3, 18.4], psis + trim.psis),
        // Tubercle and top of the crest.
        ([142.0, -52.0, 47.0], at(wide, -0.35 * depth, 0.74 * crest)),
        (
            [124.0, -102.0, 63.5],
            at(0.873 * wide, -0.68 * depth, crest),
        ),
        // Both ends of the symphysis.
        ([2.2, -8.0, -97.5], at(2.2, -8.0, -height - 4.8)),
        (
            [2.2, -27.0, -130.0],
            at(2.2, -8.0 - 0.5 * face, -height - 4.8 - 0.855 * face),
        ),
        // Lowest point of the ischium, and its spine.
        (
            [64.0, -80.0, -158.0],
            at(
                0.5 * shape.tuberosity_width_mm,
                to_hip.y - 27.0 * scale,
                to_hip.z - shape.tuberosity_drop_mm,
            ),
        ),
        (
            [48.0, -99.0, -93.0],
            at(
                0.5 * shape.spine_width_mm,
                to_hip.y - 46.0 * scale,
                to_hip.z - 17.0 * scale,
            ),
        ),
    ]
}
