//! The synthetic pelvis as a mesh: closed, in one piece, with one hole, well shaped, the same every time.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{
    BadShape, Pelvis, Preset, Region, Resolution, Shape, layers, pelvis,
};
use cupwright_geometry::{Solid, TriMesh, intersections, topology, within};
use nalgebra::Point3;

fn average(resolution: Resolution) -> Pelvis {
    let shape = Shape::preset("average-male").unwrap();
    pelvis(&shape, Side::Right, resolution).unwrap()
}

/// Longest side over the height upon it; 1.15 for an equilateral triangle.
fn worst_aspect(mesh: &TriMesh) -> f64 {
    let aspect = |t| {
        let [a, b, c] = mesh.corners(t);
        let longest = [b - a, c - b, a - c]
            .map(|s| s.norm())
            .into_iter()
            .fold(0.0, f64::max);
        longest * longest / (2.0 * mesh.area_vector(t).norm())
    };
    (0..mesh.triangles().len()).map(aspect).fold(0.0, f64::max)
}

#[track_caller]
fn assert_sound(mesh: &TriMesh, name: &str) {
    assert_eq!(topology::faulty_edges(mesh.triangles()), [], "{name}");
    assert_eq!(topology::shells(mesh.triangles()).count, 1, "{name}");
    assert_eq!(topology::genus(mesh.triangles()), Some(1), "{name}");
    assert!(mesh.volume() > 0.0, "{name}");
    assert_eq!(
        intersections::crossing_pairs(mesh),
        Vec::<[u32; 2]>::new(),
        "{name}"
    );
    let aspect = worst_aspect(mesh);
    assert!(
        aspect <= 10.0,
        "{name}: a triangle of aspect ratio {aspect}"
    );
    assert!(Solid::try_from(mesh.clone()).is_ok(), "{name}");
}

#[test]
fn every_preset_is_sound() {
    for preset in Preset::ALL {
        let shape = preset.shape().unwrap();
        let coarse = pelvis(&shape, Side::Right, Resolution::Coarse).unwrap();
        assert_sound(&coarse.mesh, preset.name());
        assert_eq!(coarse.regions.len(), coarse.mesh.triangles().len());
    }
}

#[test]
fn three_resolutions_agree_and_the_socket_is_smooth() {
    let wanted = [
        (Resolution::Coarse, 24_000..36_000),
        (Resolution::Middle, 100_000..135_000),
        (Resolution::Fine, 420_000..560_000),
    ];
    let mut reamed = Vec::new();
    for (resolution, count) in wanted {
        let bone = average(resolution);
        assert!(count.contains(&bone.mesh.triangles().len()));
        assert_sound(&bone.mesh, "average-male");
        assert_smooth(&bone);
        reamed.push(after_a_reamer(&bone));
    }
    for ([middle, fine], what) in
        [0, 1].map(|i| ([reamed[1][i], reamed[2][i]], ["removed", "covered"][i]))
    {
        let change = (fine / middle - 1.0).abs();
        assert!(
            change < 0.01,
            "{what} changes by {change} from the middle to the fine mesh"
        );
    }
}

/// The articular surface, corners and middles of its triangles, within 0.05 mm of the sphere.
#[track_caller]
fn assert_smooth(bone: &Pelvis) {
    let (centre, radius) = (bone.socket.centre, bone.socket.radius);
    let off = |p: &Point3<f64>| (nalgebra::distance(p, &centre) - radius).abs();
    let mut lunate = 0.0;
    for (t, _) in bone
        .regions
        .iter()
        .enumerate()
        .filter(|r| *r.1 == Region::Lunate)
    {
        let [a, b, c] = bone.mesh.corners(t);
        let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
        assert!([a, b, c, middle].iter().all(|p| off(p) < 0.05));
        lunate += bone.mesh.area_vector(t).norm();
    }
    assert!(lunate > 1500.0, "only {lunate} mm² are called lunate");
}

/// Bone in a 54 mm half ball at the native centre and axis, and the share of its surface in bone.
fn after_a_reamer(bone: &Pelvis) -> [f64; 2] {
    let solid = Solid::try_from(bone.mesh.clone()).unwrap();
    let socket = &bone.socket;
    let tool = cupwright_geometry::Hemisphere::new(socket.centre, socket.axis, 27.0).unwrap();
    let inside = within::hemisphere(&solid, &tool);
    [inside.volume, inside.area]
}

#[test]
fn the_same_numbers_give_the_same_bits_on_any_number_of_threads() {
    let bits = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let bone = pool.install(|| average(Resolution::Coarse));
        let coordinates = bone.mesh.vertices().iter().flat_map(|p| [p.x, p.y, p.z]);
        let bits: Vec<u64> = coordinates.map(f64::to_bits).collect();
        (bits, bone.mesh.triangles().to_vec())
    };
    assert_eq!(bits(1), bits(3));
}

#[test]
fn the_left_side_is_the_mirror_image_and_carries_landmarks_of_both() {
    let shape = Shape::preset("average-female").unwrap();
    let right = pelvis(&shape, Side::Right, Resolution::Coarse).unwrap();
    let left = pelvis(&shape, Side::Left, Resolution::Coarse).unwrap();
    assert_eq!(left.mesh, right.mesh.mirrored_x());
    assert_eq!(left.landmarks, right.landmarks);
    assert_eq!(
        left.socket.centre.x.to_bits(),
        (-right.socket.centre.x).to_bits()
    );
    assert!(left.socket.axis.x < -0.5);
    assert_eq!(left.socket.rim.len(), 360);
}

#[test]
fn landmarks_rim_and_fossa_lie_on_the_bone_and_the_plane_is_y_0() {
    let bone = average(Resolution::Middle);
    let nearest = |p: &Point3<f64>| {
        let to = |v| nalgebra::distance_squared(v, p);
        bone.mesh
            .vertices()
            .iter()
            .map(to)
            .fold(f64::MAX, f64::min)
            .sqrt()
    };
    let landmarks = &bone.landmarks;
    for p in [landmarks.asis.right, landmarks.pubic_tubercle.right] {
        assert!(p.y.abs() < 0.05 && nearest(&p) < 1.2, "{p}");
    }
    assert!(landmarks.asis.right.z.abs() < 0.05);
    assert!(nearest(&landmarks.psis.unwrap().right) < 1.2);
    assert!(nearest(&bone.aiis.right) < 1.2);
    assert!(bone.socket.rim.iter().step_by(12).all(|p| nearest(p) < 1.2));
    let on_sphere =
        |p: &Point3<f64>| (nalgebra::distance(p, &bone.socket.centre) - 26.0).abs() < 1e-6;
    assert!(bone.socket.fossa.len() > 200 && bone.socket.fossa.iter().all(on_sphere));
    let foremost = bone.mesh.bounds().unwrap().max.y;
    assert!(
        foremost.abs() < 0.05,
        "bone reaches {foremost} mm in front of the plane"
    );
}

#[test]
fn the_worn_joint_hides_its_true_floor() {
    let bone = pelvis(
        &Shape::preset("worn").unwrap(),
        Side::Right,
        Resolution::Coarse,
    )
    .unwrap();
    let deep = nalgebra::distance(&bone.socket.true_floor, &bone.socket.centre);
    assert!((deep - bone.socket.radius - 3.0).abs() < 1e-6);
    let solid = Solid::try_from(bone.mesh).unwrap();
    assert_eq!(solid.winding(&bone.socket.true_floor), 1, "under bone");
}

#[test]
fn every_region_is_there() {
    let bone = average(Resolution::Coarse);
    let wanted = [
        (Region::Lunate, 1500.0..3050.0),
        (Region::Fossa, 500.0..1800.0),
        (Region::Rim, 500.0..2500.0),
        (Region::MedialWall, 1500.0..7000.0),
        (Region::AnteriorColumn, 5000.0..16000.0),
        (Region::PosteriorColumn, 5000.0..20000.0),
        (Region::Wing, 20000.0..40000.0),
    ];
    for (region, band) in wanted {
        let of_region = bone.regions.iter().enumerate().filter(|r| *r.1 == region);
        let area: f64 = of_region
            .map(|(t, _)| bone.mesh.area_vector(t).norm())
            .sum();
        assert!(band.contains(&area), "{region:?} has {area} mm²");
    }
}

#[test]
fn layers_lie_inside_one_another() {
    let shape = Shape::preset("average-male").unwrap();
    let whole = average(Resolution::Coarse);
    let layers = layers(&shape, Side::Right, Resolution::Coarse).unwrap();
    let volume = |mesh: &TriMesh| {
        let solid = Solid::try_from(mesh.clone()).unwrap();
        let ball = cupwright_geometry::Ball::new(whole.socket.centre, 30.0).unwrap();
        within::ball(&solid, &ball).volume
    };
    let [all, beneath, core] =
        [&whole.mesh, &layers.beneath_subchondral, &layers.cancellous].map(volume);
    // The plate is 0.9 to 1.5 mm thick under some 25 cm² of lunate surface.
    let plate = all - beneath;
    assert!((1800.0..4200.0).contains(&plate), "subchondral {plate} mm³");
    assert!(
        core < beneath && core > 0.5 * all,
        "cancellous {core} of {all} mm³"
    );
}

#[test]
fn impossible_numbers_are_refused_with_the_allowed_range() {
    let mut shape = Shape::preset("average-male").unwrap();
    let error = shape.set("socket_diameter_mm", 99.0).unwrap_err();
    assert_eq!(
        error.to_string(),
        "socket_diameter_mm = 99 is outside its range of 38 to 64"
    );
    assert!(shape.set("socket_diameter_mm", f64::NAN).is_err());
    let unknown = shape.set("socket_size", 50.0).unwrap_err();
    assert!(unknown.to_string().contains("socket_diameter_mm, "));
    let unknown = Shape::preset("average").unwrap_err();
    assert!(unknown.to_string().ends_with("small, large, worn"));
    shape.set("fossa_width_mm", 36.0).unwrap();
    let conflict = pelvis(&shape, Side::Right, Resolution::Coarse).unwrap_err();
    assert!(
        matches!(
            conflict,
            BadShape::Conflict {
                name: "fossa_width_mm",
                ..
            }
        ),
        "{conflict}"
    );
}
