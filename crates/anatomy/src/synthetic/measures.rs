//! What a hemipelvis measures: every value read off the triangles, none taken from the numbers that made it.
//!
//! The mesh must lie about in its pelvic frame (x toward the patient's right, y anterior, z superior, mm,
//! the midline at x = 0). Spheres and planes are least-squares fits to vertices; rim and angles come from
//! exact sections of the triangles.

mod frame;
mod sections;
mod socket;

use cupwright_geometry::TriMesh;
use nalgebra::{Point3, Vector3};

use crate::Side;
use crate::rim::Rim;
use frame::{Frame, Regressions, extreme};
use sections::Sections;
use socket::Socket;

/// Measured values of a hemipelvis; lengths in mm, angles in rad.
#[derive(Clone, Debug, PartialEq)]
pub struct Measures {
    /// Distance between the ASIS, the other one being the mirror image.
    pub asis_width: f64,
    /// From the ASIS line to the pubic tubercle line, in the anterior pelvic plane.
    pub app_height: f64,
    /// Turn about x that would bring ASIS and pubic tubercle into the plane y = 0; zero in the frame.
    pub app_tilt: f64,
    /// From the ASIS line back to the rearmost point of the iliac crest.
    pub pelvic_depth: f64,
    /// From the top of the crest to the lowest point of the ischium.
    pub pelvic_height: f64,
    /// Centre of the sphere fitted to the lunate surface, relative to the middle between the ASIS, in
    /// the anterior pelvic plane's axes.
    pub hip_centre: Point3<f64>,
    /// Hip centre less that of Harrington's regression (2007), in its axes: forward, up, right.
    pub from_harrington: Vector3<f64>,
    /// Hip centre less that of Bell's regression (1990), in its axes: forward, up, right.
    pub from_bell: Vector3<f64>,
    /// Diameter of the sphere fitted to the lunate surface.
    pub socket_diameter: f64,
    /// Root mean square distance of the lunate vertices from that sphere.
    pub sphere_rms: f64,
    /// From the least-squares plane of the rim to the deepest point of the floor.
    pub depth: f64,
    /// Gap between the horns of the rim at the notch.
    pub notch_width: f64,
    /// Anatomic inclination of the normal of the rim's least-squares plane: its angle with z.
    pub inclination: f64,
    /// Anatomic anteversion of that normal: in the transverse plane, from lateral toward anterior.
    pub anteversion: f64,
    /// Lateral centre-edge angle in the coronal section through the hip centre.
    pub lateral_centre_edge: f64,
    /// Anterior sector angle in the axial section through the hip centre, from the line of centres.
    pub anterior_sector: f64,
    /// Posterior sector angle in the same section.
    pub posterior_sector: f64,
    /// Deepest place of the rim between 2 and 4 o'clock, below the hemisphere level about the plane
    /// through the rim's three prominences.
    pub anterior_trough: f64,
    /// Deepest place of the rim between 9 and 11:30, likewise.
    pub posterosuperior_trough: f64,
    /// Bone between the floor of the socket and the inside of the pelvis, along x, level with the hip
    /// centre and up to 4 mm below.
    pub teardrop: f64,
    /// Area of the lunate surface, mm².
    pub lunate_area: f64,
}

impl Measures {
    /// Horizontal sector angle: anterior and posterior together.
    pub fn horizontal_sector(&self) -> f64 {
        self.anterior_sector + self.posterior_sector
    }

    /// Measures `mesh`, the hemipelvis of `side`; `None` where it has no socket that can be fitted.
    pub fn of(mesh: &TriMesh, side: Side) -> Option<Self> {
        match side {
            Side::Right => Self::of_right(mesh),
            Side::Left => Self::of_right(&mesh.mirrored_x()),
        }
    }

    fn of_right(mesh: &TriMesh) -> Option<Self> {
        let frame = Frame::of(mesh)?;
        let place = |p: &Point3<f64>| frame.to_plane * (p - frame.middle);
        let vertices: Vec<Point3<f64>> = mesh
            .vertices()
            .iter()
            .map(|p| Point3::from(place(p)))
            .collect();
        let mesh = TriMesh::new(vertices, mesh.triangles().to_vec()).ok()?;
        let bounds = mesh.bounds()?;
        let rear = extreme(&mesh, |p| if p.z > -60.0 { -p.y } else { f64::MIN })?;
        let regressions = Regressions::new(frame.width, rear);
        let socket = Socket::fitted(&mesh, regressions.harrington_in_app())?;
        let rim = Rim::of(&socket.bowl)?;
        let centre = socket.centre;
        let sections = Sections::of(&socket.bowl);
        Some(Self {
            asis_width: frame.width,
            app_height: frame.height,
            app_tilt: frame.tilt,
            pelvic_depth: -rear.y,
            pelvic_height: bounds.extent().z,
            hip_centre: centre,
            from_harrington: regressions.in_isb(centre) - regressions.harrington(),
            from_bell: regressions.in_isb(centre) - regressions.bell(),
            socket_diameter: 2.0 * socket.bowl.radius,
            sphere_rms: socket.rms,
            depth: socket.bowl.deepest_below(&rim.middle, &rim.normal),
            notch_width: rim.notch_width()?,
            inclination: (-rim.normal.z).acos(),
            anteversion: rim.normal.y.atan2(rim.normal.x),
            lateral_centre_edge: sections.lateral_centre_edge?,
            anterior_sector: sections.anterior_sector?,
            posterior_sector: sections.posterior_sector?,
            anterior_trough: rim.deepest_between(2.0, 4.0),
            posterosuperior_trough: rim.deepest_between(9.0, 11.5),
            teardrop: teardrop(&mesh, centre)?,
            lunate_area: socket.lunate_area,
        })
    }
}

/// Mean thickness along x of the bone that a line from the hip centre towards the midline meets first.
fn teardrop(mesh: &TriMesh, centre: Point3<f64>) -> Option<f64> {
    let widths: Vec<f64> = [0.0, -1.0, -2.0, -3.0, -4.0]
        .into_iter()
        .filter_map(|below| {
            let (y, z) = (centre.y + 1e-5, centre.z + below + 1e-5);
            let mut hits: Vec<f64> = (0..mesh.triangles().len())
                .filter_map(|t| along_x(mesh.corners(t), y, z))
                .filter(|x| *x < centre.x)
                .collect();
            hits.sort_by(|a, b| b.total_cmp(a));
            (hits.len() >= 2).then(|| hits[0] - hits[1])
        })
        .collect();
    let count = f64::from(u32::try_from(widths.len()).ok()?);
    (count > 0.0).then(|| widths.iter().sum::<f64>() / count)
}

/// Where the line at `y`, `z` along x meets a triangle.
fn along_x([a, b, c]: [Point3<f64>; 3], y: f64, z: f64) -> Option<f64> {
    let area = |p: Point3<f64>, q: Point3<f64>| (p.y - y) * (q.z - z) - (q.y - y) * (p.z - z);
    let (wa, wb, wc) = (area(b, c), area(c, a), area(a, b));
    let all = wa + wb + wc;
    let inside = [wa, wb, wc].iter().all(|w| w * all > 0.0);
    inside.then(|| (wa * a.x + wb * b.x + wc * c.x) / all)
}
