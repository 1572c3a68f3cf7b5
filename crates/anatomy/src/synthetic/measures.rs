//! What a hemipelvis measures: every value read off the triangles, none taken from the numbers that made it.
//!
//! The mesh must lie about in its pelvic frame (x toward the patient's right, y anterior, z superior, mm,
//! the midline at x = 0). Spheres and planes are least-squares fits to vertices; rim and angles come from
//! exact sections of the triangles.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use cupwright_geometry::TriMesh;
use nalgebra::{Matrix3, Matrix4, Point3, Rotation3, Vector3, Vector4};

use crate::Side;

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
        let rim = Rim::of(&socket)?;
        let centre = socket.centre;
        let sections = Sections::of(&socket);
        Some(Self {
            asis_width: frame.width,
            app_height: frame.height,
            app_tilt: frame.tilt,
            pelvic_depth: -rear.y,
            pelvic_height: bounds.extent().z,
            hip_centre: centre,
            from_harrington: regressions.in_isb(centre) - regressions.harrington(),
            from_bell: regressions.in_isb(centre) - regressions.bell(),
            socket_diameter: 2.0 * socket.radius,
            sphere_rms: socket.rms,
            depth: socket.deepest_below(&rim.middle, &rim.normal),
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

/// The anterior pelvic plane found on the bone: the plane that touches it at ASIS and pubic tubercle and
/// is parallel to x.
struct Frame {
    middle: Point3<f64>,
    to_plane: Rotation3<f64>,
    width: f64,
    height: f64,
    tilt: f64,
}

impl Frame {
    fn of(mesh: &TriMesh) -> Option<Self> {
        let bounds = mesh.bounds()?;
        let half_way = 0.5 * (bounds.min.z + bounds.max.z);
        let mut tilt = 0.0;
        for _ in 0..20 {
            let turn = Rotation3::from_axis_angle(&Vector3::x_axis(), tilt);
            let foremost = |upper: f64| {
                extreme(mesh, |p| {
                    if upper * (p.z - half_way) > 0.0 {
                        (turn * p).y
                    } else {
                        f64::MIN
                    }
                })
            };
            let (asis, tubercle) = (foremost(1.0)?, foremost(-1.0)?);
            let (a, t) = (turn * asis, turn * tubercle);
            let left_over = (a.y - t.y).atan2(a.z - t.z);
            tilt += left_over;
            if left_over.abs() < 1e-9 {
                return Some(Self {
                    middle: Point3::new(0.0, asis.y, asis.z),
                    to_plane: turn,
                    width: 2.0 * asis.x,
                    height: a.z - t.z,
                    tilt,
                });
            }
        }
        None
    }
}

/// The vertex for which `measure` is greatest.
fn extreme(mesh: &TriMesh, measure: impl Fn(&Point3<f64>) -> f64) -> Option<Point3<f64>> {
    mesh.vertices()
        .iter()
        .map(|p| (measure(p), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(value, _)| *value > f64::MIN)
        .map(|(_, p)| *p)
}

/// Hip centres that published regressions expect; axes forward, up and right of the plane through ASIS
/// and PSIS (Wu 2002), origin midway between the ASIS.
struct Regressions {
    width: f64,
    depth: f64,
    forward: Vector3<f64>,
    up: Vector3<f64>,
}

impl Regressions {
    fn new(width: f64, psis: Point3<f64>) -> Self {
        let forward = Vector3::new(0.0, -psis.y, -psis.z).normalize();
        Self {
            width,
            depth: psis.y.hypot(psis.z),
            forward,
            up: Vector3::x().cross(&forward),
        }
    }

    /// Harrington 2007, J Biomech 40:595; leave-one-out errors 5.2, 3.6 and 3.2 mm.
    fn harrington(&self) -> Vector3<f64> {
        Vector3::new(
            -0.24 * self.depth - 9.9,
            -0.30 * self.width - 10.9,
            0.33 * self.width + 7.3,
        )
    }

    /// Bell 1990: 19 % behind, 30 % below, 36 % beside, of the width between the ASIS.
    fn bell(&self) -> Vector3<f64> {
        Vector3::new(-0.19, -0.30, 0.36) * self.width
    }

    fn in_isb(&self, p: Point3<f64>) -> Vector3<f64> {
        Vector3::new(p.coords.dot(&self.forward), p.coords.dot(&self.up), p.x)
    }

    fn harrington_in_app(&self) -> Point3<f64> {
        let h = self.harrington();
        Point3::from(self.forward * h.x + self.up * h.y + Vector3::x() * h.z)
    }
}

/// The socket: a sphere through its articular vertices, and the triangles about it.
struct Socket {
    centre: Point3<f64>,
    radius: f64,
    rms: f64,
    /// How far from the sphere the articular surface is taken to reach.
    window: f64,
    lunate_area: f64,
    /// Corners of the triangles near the socket, relative to the centre.
    near: Vec<[Vector3<f64>; 3]>,
}

impl Socket {
    /// Fits the sphere that most of the concave surface near an expected centre follows.
    fn fitted(mesh: &TriMesh, expected: Point3<f64>) -> Option<Self> {
        let normals = vertex_normals(mesh);
        let around: Vec<(Point3<f64>, Vector3<f64>)> = mesh
            .vertices()
            .iter()
            .zip(&normals)
            .filter(|(p, n)| {
                let to = expected - *p;
                to.norm() < 55.0 && n.dot(&to) > 0.3 * to.norm()
            })
            .map(|(p, n)| (*p, *n))
            .collect();
        let (mut centre, mut radius) = sphere_most_agree_on(&around)?;
        for window in [0.5, 0.35, 0.25, 0.25] {
            let close = around
                .iter()
                .filter(|(p, n)| on_sphere(p, n, &centre, radius, window));
            (centre, radius) = sphere_through(close.map(|(p, _)| *p))?;
        }
        Self::about(mesh, &around, centre, radius)
    }

    fn about(
        mesh: &TriMesh,
        around: &[(Point3<f64>, Vector3<f64>)],
        centre: Point3<f64>,
        radius: f64,
    ) -> Option<Self> {
        let off = |p: &Point3<f64>| ((p - centre).norm() - radius).abs();
        let within = |window: f64| -> Vec<f64> {
            around
                .iter()
                .filter(|(p, n)| on_sphere(p, n, &centre, radius, window))
                .map(|(p, _)| off(p))
                .collect()
        };
        // As wide as the socket's own shape needs: a fifth of a millimetre for a sphere.
        let window = (3.5 * median(within(1.5).into_iter())).clamp(0.2, 1.5);
        let chosen = within(window);
        let count = f64::from(u32::try_from(chosen.len()).ok()?);
        let squares: f64 = chosen.iter().map(|d| d * d).sum();
        let mut lunate_area = 0.0;
        let mut near = Vec::new();
        for t in 0..mesh.triangles().len() {
            let corners = mesh.corners(t).map(|p| p - centre);
            if corners.iter().any(|q| q.norm() > 1.6 * radius) {
                continue;
            }
            near.push(corners);
            let close = |q: &Vector3<f64>| (q.norm() - radius).abs() < window;
            let area = mesh.area_vector(t);
            let facing = -area.dot(&corners[0]) > 0.85 * area.norm() * corners[0].norm();
            if facing && corners.iter().all(close) {
                lunate_area += area.norm();
            }
        }
        Some(Self {
            centre,
            radius,
            rms: (squares / count).sqrt(),
            window,
            lunate_area,
            near,
        })
    }

    /// Greatest distance of the socket's floor below a plane.
    fn deepest_below(&self, on_plane: &Vector3<f64>, normal: &Vector3<f64>) -> f64 {
        self.near
            .iter()
            .filter(|corners| {
                let q = corners[0];
                let outward = (corners[1] - q).cross(&(corners[2] - q));
                q.norm() < 1.35 * self.radius
                    && q.dot(normal) < -0.4 * q.norm()
                    && outward.dot(&q) < 0.0
            })
            .map(|corners| (on_plane - corners[0]).dot(normal))
            .fold(0.0, f64::max)
    }

    /// The outermost point of the lip in the half plane that `axis` bounds and `towards` lies in, as
    /// its angle from `-axis` and its place.
    ///
    /// The lip is what lies within an eighth outside the distance of the articular surface just inside.
    fn lip(&self, axis: &Vector3<f64>, towards: &Vector3<f64>) -> Option<(f64, Vector3<f64>)> {
        let across = axis.cross(towards);
        let points: Vec<(f64, f64, Vector3<f64>)> = self
            .near
            .iter()
            .flat_map(|corners| crossing(corners, &across))
            .flatten()
            .filter(|q| q.dot(towards) > 0.0)
            .map(|q| (q.dot(towards).atan2(-q.dot(axis)), q.norm(), q))
            .collect();
        let outermost = |least: f64, most: f64| {
            points
                .iter()
                .filter(|p| (least..most).contains(&p.1))
                .max_by(|a, b| a.0.total_cmp(&b.0))
        };
        let rough = outermost(0.82 * self.radius, 1.22 * self.radius)?.0;
        let just_inside = points
            .iter()
            .filter(|p| (rough - 0.4..rough - 0.12).contains(&p.0) && p.1 < 1.25 * self.radius)
            .map(|p| p.1);
        let local = median(just_inside).clamp(self.radius - self.window, self.radius + self.window);
        outermost(0.95 * local, 1.12 * local).map(|p| (p.0, p.2))
    }
}

/// Where the sides of a triangle cross the plane through the origin across `normal`.
fn crossing(corners: &[Vector3<f64>; 3], normal: &Vector3<f64>) -> [Option<Vector3<f64>>; 3] {
    let heights = corners.map(|q| q.dot(normal));
    std::array::from_fn(|i| {
        let j = (i + 1) % 3;
        ((heights[i] < 0.0) != (heights[j] < 0.0)).then(|| {
            let t = heights[i] / (heights[i] - heights[j]);
            corners[i] + t * (corners[j] - corners[i])
        })
    })
}

fn vertex_normals(mesh: &TriMesh) -> Vec<Vector3<f64>> {
    let mut normals = vec![Vector3::zeros(); mesh.vertices().len()];
    for (t, triangle) in mesh.triangles().iter().enumerate() {
        let area = mesh.area_vector(t);
        for &v in triangle {
            normals[v as usize] += area;
        }
    }
    for n in &mut normals {
        *n = n.try_normalize(0.0).unwrap_or_default();
    }
    normals
}

/// Whether a vertex lies within `window` of a sphere and faces its centre.
fn on_sphere(
    p: &Point3<f64>,
    normal: &Vector3<f64>,
    centre: &Point3<f64>,
    radius: f64,
    window: f64,
) -> bool {
    let to = centre - p;
    let distance = to.norm();
    (distance - radius).abs() < window && normal.dot(&to) > 0.85 * distance
}

/// Of many spheres through four points each, the one that most points lie on (random sample consensus,
/// Fischler & Bolles 1981); the draw is fixed, so that the same mesh gives the same sphere.
fn sphere_most_agree_on(around: &[(Point3<f64>, Vector3<f64>)]) -> Option<(Point3<f64>, f64)> {
    const DRAWS: u32 = 1500;
    const JURY: usize = 1500;
    let jury: Vec<_> = around.iter().step_by(around.len() / JURY + 1).collect();
    if jury.len() < 50 {
        return None;
    }
    let mut state = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        let place = (state >> 33) % u64::try_from(jury.len()).unwrap_or(1);
        usize::try_from(place).unwrap_or(0)
    };
    let mut best: (usize, Option<(Point3<f64>, f64)>) = (0, None);
    for _ in 0..DRAWS {
        let four: [Point3<f64>; 4] = std::array::from_fn(|_| jury[draw()].0);
        let Some((centre, radius)) = sphere_through(four.into_iter()) else {
            continue;
        };
        if !(15.0..37.0).contains(&radius) {
            continue;
        }
        let votes = jury
            .iter()
            .filter(|(p, n)| on_sphere(p, n, &centre, radius, 0.3))
            .count();
        if votes > best.0 {
            best = (votes, Some((centre, radius)));
        }
    }
    best.1
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// The sphere that least squares put through `points`: |p|² = 2 c·p + (r² − |c|²) is linear.
fn sphere_through(mut points: impl Iterator<Item = Point3<f64>>) -> Option<(Point3<f64>, f64)> {
    let origin = points.next()?;
    // The first point, the origin of the sums, adds to one entry alone.
    let mut normal = Matrix4::from_diagonal(&Vector4::new(0.0, 0.0, 0.0, 1.0));
    let mut right = Vector4::zeros();
    for p in points {
        let q = p - origin;
        let row = Vector4::new(q.x, q.y, q.z, 1.0);
        normal += row * row.transpose();
        right += row * q.norm_squared();
    }
    let solved = normal.lu().solve(&right)?;
    let c = 0.5 * solved.xyz();
    Some((origin + c, (solved.w + c.norm_squared()).max(0.0).sqrt()))
}

/// The rim: its points about the socket's centre and how they face.
struct Rim {
    /// Angle below hemisphere level and place, a degree apart from 12 o'clock by way of 3.
    profile: Vec<(f64, Vector3<f64>)>,
    /// Least-squares plane of the rim without the notch.
    middle: Vector3<f64>,
    normal: Vector3<f64>,
}

impl Rim {
    /// The axis about which angles are measured is the normal of the plane through the three prominences
    /// (Köhnlein 2009: anterosuperior, anteroinferior and posteroinferior), found by iteration.
    fn of(socket: &Socket) -> Option<Self> {
        let mut axis = Vector3::new(0.74, 0.3, -0.6).normalize();
        for _ in 0..6 {
            let profile = Self::profile(socket, &axis);
            let tips = [(0.3, 2.3), (3.3, 5.2), (6.8, 8.7)]
                .map(|(from, to)| top_of(&profile[degree(from)..degree(to)]));
            let across = (tips[1] - tips[0]).cross(&(tips[2] - tips[0]));
            axis = across.try_normalize(1e-9)?;
            if axis.x < 0.0 {
                axis = -axis;
            }
        }
        let profile = Self::profile(socket, &axis);
        let on_rim: Vec<Vector3<f64>> = (0..360)
            .filter(|d| !(degree(4.6)..degree(7.4)).contains(d))
            .map(|d| profile[d].1)
            .collect();
        let count = f64::from(u32::try_from(on_rim.len()).ok()?);
        let middle = on_rim.iter().sum::<Vector3<f64>>() / count;
        let spread: Matrix3<f64> = on_rim
            .iter()
            .map(|q| (q - middle) * (q - middle).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let normal: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
        let normal = if normal.dot(&axis) < 0.0 {
            -normal
        } else {
            normal
        };
        Some(Self {
            profile,
            middle,
            normal,
        })
    }

    fn profile(socket: &Socket, axis: &Vector3<f64>) -> Vec<(f64, Vector3<f64>)> {
        let up = (Vector3::z() - axis * axis.z).normalize();
        let forward = up.cross(axis);
        let at = |d: u32| {
            let clock = f64::from(d) * TAU / 360.0;
            let towards = up * clock.cos() + forward * clock.sin();
            // No lip at all reads as a rim at the deepest point.
            let (polar, q) = socket
                .lip(axis, &towards)
                .unwrap_or((0.0, -axis * socket.radius));
            (FRAC_PI_2 - polar, q)
        };
        (0..360).map(at).collect()
    }

    fn deepest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MIN, f64::max)
    }

    fn highest_between(&self, from: f64, to: f64) -> f64 {
        (degree(from)..degree(to))
            .map(|d| self.profile[d].0)
            .fold(f64::MAX, f64::min)
    }

    /// Straight distance between the last points of the rim on either side of the gap around 6 o'clock.
    fn notch_width(&self) -> Option<f64> {
        let horns = self
            .highest_between(4.0, 5.2)
            .max(self.highest_between(6.8, 8.0));
        let gap = |d: &usize| self.profile[*d].0 > horns + 15.0 * PI / 180.0;
        let front = (degree(4.0)..=degree(6.0)).find(gap)?;
        let back = (degree(6.0)..=degree(8.0)).rev().find(gap)?;
        Some((self.profile[front - 1].1 - self.profile[back + 1].1).norm())
    }
}

/// The middle of the top of a prominence, steadier than its single highest point.
fn top_of(profile: &[(f64, Vector3<f64>)]) -> Vector3<f64> {
    const NEAR_TOP: f64 = 0.012;
    let top = profile.iter().map(|p| p.0).fold(f64::MAX, f64::min);
    let near = || profile.iter().filter(|p| p.0 < top + NEAR_TOP);
    let count = f64::from(u32::try_from(near().count()).unwrap_or(1));
    near().map(|p| p.1).sum::<Vector3<f64>>() / count
}

/// The whole degree on the clock face of an hour.
fn degree(o_clock: f64) -> usize {
    super::table::whole(o_clock * 30.0)
}

/// Angles that a film or an axial scan would show.
struct Sections {
    lateral_centre_edge: Option<f64>,
    anterior_sector: Option<f64>,
    posterior_sector: Option<f64>,
}

impl Sections {
    fn of(socket: &Socket) -> Self {
        // The lip's outermost point in a half plane, as the angle from a reference direction.
        let edge = |from: Vector3<f64>, towards: Vector3<f64>| {
            socket.lip(&-from, &towards).map(|(angle, _)| angle)
        };
        Self {
            lateral_centre_edge: edge(-Vector3::x(), Vector3::z()).map(|angle| angle - FRAC_PI_2),
            anterior_sector: edge(-Vector3::x(), Vector3::y()),
            posterior_sector: edge(-Vector3::x(), -Vector3::y()),
        }
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
