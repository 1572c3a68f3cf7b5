//! Values over surfaces, to colour them by: how a cup sits in the bone left, how deep a cavity was
//! cut and how much bone is left behind it.
//!
//! Every value is taken along the ray from a tool's centre, exact up to rounding, and each answer
//! stands at the place of its question. "Bone left" is bone in none of the bullets that reamers have
//! swept.

use cupwright_geometry::{Bullet, Hemisphere, Solid, crossing};
use nalgebra::{Point3, Unit, UnitVector3};
use rayon::prelude::*;

/// How far behind a cup's surface the first bone may lie, in mm, to be told as a gap. Farther off is
/// another part of the pelvis rather than the floor of the socket; assumed.
pub const FARTHEST_GAP: f64 = 20.0;

/// How a place of a cup's round side sits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CupSpot {
    /// In bone left, or on it.
    Pressed {
        /// From where that bone begins out to the cup's surface; 0 where the cup lies line to line.
        by_mm: f64,
    },
    /// Short of bone.
    Gap {
        /// From the cup's surface out to the first bone left, at most [`FARTHEST_GAP`].
        mm: f64,
    },
    /// No bone left within [`FARTHEST_GAP`] behind it.
    Bare,
}

/// A place on the wall of a cavity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CavitySpot {
    /// Bone left between the place and the far side of the stretch of bone that it lies in; `None`
    /// where it lies in no bone, or none of it is left. Where another reamer went deeper, what is
    /// behind that one.
    pub wall_mm: Option<f64>,
    /// Length of the bone that was removed between the reamer's centre and the place.
    pub cut_mm: f64,
}

/// How a cup sits along each of the directions from its centre, after reamers have swept `swept`.
///
/// The share of directions evenly over the round side that are pressed is the coverage after
/// reaming, but for places that lie line to line, which that counts as bare.
///
/// ```
/// # use cupwright_geometry::*;
/// # use cupwright_procedure::maps::{CupSpot, cup_map};
/// # use nalgebra::{Point3, Vector3};
/// let block = Solid::try_from(samples::cuboid([100.0, 100.0, 100.0]))?;
/// let head = |radius| Hemisphere::new(Point3::new(0.0, 0.0, 50.0), Vector3::z(), radius);
/// let swept = [Bullet::open(head(26.0)?)];
/// let down = [-Vector3::z_axis()];
/// assert_eq!(cup_map(&block, &swept, &head(26.5)?, &down), [CupSpot::Pressed { by_mm: 0.5 }]);
/// assert_eq!(cup_map(&block, &swept, &head(25.0)?, &down), [CupSpot::Gap { mm: 1.0 }]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn cup_map(
    bone: &Solid,
    swept: &[Bullet],
    cup: &Hemisphere,
    directions: &[UnitVector3<f64>],
) -> Vec<CupSpot> {
    let spot = |direction: &UnitVector3<f64>| {
        let left = crossing::intervals_left(bone, swept, &cup.centre(), direction);
        cup_spot(&left, cup.radius())
    };
    directions.par_iter().map(spot).collect()
}

fn cup_spot(left: &[[f64; 2]], radius: f64) -> CupSpot {
    let Some([start, _]) = left.iter().find(|[_, end]| radius < *end) else {
        return CupSpot::Bare;
    };
    if *start <= radius {
        CupSpot::Pressed {
            by_mm: radius - start,
        }
    } else if *start - radius <= FARTHEST_GAP {
        CupSpot::Gap { mm: start - radius }
    } else {
        CupSpot::Bare
    }
}

/// Wall and depth of cut at places on the cavity that `tool` made, after reamers have swept `swept`.
///
/// A place where the surface of the bone itself runs is in bone or out of it, whichever rounding
/// makes of it. The tool's centre, from which no ray leads to itself, has no wall and no cut.
pub fn cavity_map(
    bone: &Solid,
    swept: &[Bullet],
    tool: &Hemisphere,
    places: &[Point3<f64>],
) -> Vec<CavitySpot> {
    let centre = tool.centre();
    let spot = |place: &Point3<f64>| {
        let Some((direction, distance)) = Unit::try_new_and_get(place - centre, 0.0) else {
            return CavitySpot {
                wall_mm: None,
                cut_mm: 0.0,
            };
        };
        let inside = crossing::intervals_inside(bone, &centre, &direction);
        let left = crossing::without(&inside, swept, &centre, &direction);
        CavitySpot {
            wall_mm: wall_behind(&inside, &left, distance),
            cut_mm: up_to(&inside, distance) - up_to(&left, distance),
        }
    };
    places.par_iter().map(spot).collect()
}

/// The first bone left at or beyond a distance, in the stretch of bone that lies there.
fn wall_behind(inside: &[[f64; 2]], left: &[[f64; 2]], distance: f64) -> Option<f64> {
    let [_, far] = inside
        .iter()
        .find(|[start, end]| *start <= distance && distance < *end)?;
    let first = left.iter().find(|[_, end]| distance < *end);
    let [start, end] = first.filter(|[start, _]| start < far)?;
    Some(end - start.max(distance))
}

/// Length of the part of some intervals that lies nearer than a distance.
fn up_to(intervals: &[[f64; 2]], distance: f64) -> f64 {
    let nearer = intervals
        .iter()
        .map(|[start, end]| (end.min(distance) - start).max(0.0));
    nearer.fold(0.0, |sum, part| sum + part)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Bone, CaseFile, Findings, Instruments, simulate};
    use approx::assert_relative_eq;
    use cupwright_anatomy::Side;
    use cupwright_geometry::{column, samples, union, within};
    use nalgebra::Isometry3;
    use std::f64::consts::{PI, TAU};

    /// A block with its top at z = 0.
    fn block() -> Solid {
        let down = Isometry3::translation(0.0, 0.0, -100.0);
        Solid::try_from(samples::cuboid([200.0; 3]).moved(&down)).unwrap()
    }

    /// A lumpy ball of about 60 mm radius with a hollow in it.
    fn lumpy() -> Solid {
        let hollow = samples::sphere(12.0, 3).reversed();
        let hollow = hollow.moved(&Isometry3::translation(20.0, 0.0, -12.0));
        Solid::try_from(samples::lumpy_ball(60.0, 0.12, 60, 36).joined(&hollow)).unwrap()
    }

    fn head(centre: [f64; 3], axis: [f64; 3], radius: f64) -> Hemisphere {
        Hemisphere::new(centre.into(), axis.into(), radius).unwrap()
    }

    fn upright(height: f64, radius: f64) -> Hemisphere {
        head([0.0, 0.0, height], [0.0, 0.0, 1.0], radius)
    }

    /// Directions evenly over a tool's round side: each stands for one of `count` equal areas.
    fn even(tool: &Hemisphere, count: u32) -> Vec<UnitVector3<f64>> {
        let golden = TAU * (2.0 / (1.0 + 5.0_f64.sqrt()));
        let [first, second] = tool.rim().directions().map(Unit::into_inner);
        let direction = |k: u32| {
            let down = (f64::from(k) + 0.5) / f64::from(count);
            let (flat, turn) = ((1.0 - down * down).sqrt(), golden * f64::from(k));
            let across = first * turn.cos() + second * turn.sin();
            Unit::new_normalize(across * flat - tool.axis().into_inner() * down)
        };
        (0..count).map(direction).collect()
    }

    fn on(tool: &Hemisphere, directions: &[UnitVector3<f64>]) -> Vec<Point3<f64>> {
        let place = |d: &UnitVector3<f64>| tool.centre() + d.into_inner() * tool.radius();
        directions.iter().map(place).collect()
    }

    fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
        let count = u32::try_from(values.len()).unwrap();
        values.sum::<f64>() / f64::from(count)
    }

    fn pressed(spots: &[CupSpot]) -> f64 {
        mean(spots.iter().map(|spot| match spot {
            CupSpot::Pressed { .. } => 1.0,
            _ => 0.0,
        }))
    }

    #[test]
    fn a_cup_is_pressed_by_what_it_is_larger_than_the_last_reamer() {
        for centre in [[0.0; 3], [1.3, -0.7, 0.2]] {
            let tool = |radius| head(centre, [0.1, 0.2, 1.0], radius);
            let swept = [25.0, 26.0].map(|radius| Bullet::open(tool(radius)));
            let below: Vec<_> = even(&tool(1.0), 400)
                .into_iter()
                .filter(|d| d.z < -0.1)
                .collect();
            assert!(below.len() > 300);
            for (radius, by) in [(27.0, 1.0), (26.0, 0.0)] {
                let spots = cup_map(&block(), &swept, &tool(radius), &below);
                let all = spots.iter().all(|s| *s == CupSpot::Pressed { by_mm: by });
                assert!(all, "{radius}: {spots:?}");
            }
            let spots = cup_map(&block(), &swept, &tool(24.0), &below);
            assert!(spots.iter().all(|s| *s == CupSpot::Gap { mm: 2.0 }));
        }
    }

    #[test]
    fn above_the_surface_a_cup_is_bare_and_unreamed_bone_presses_from_its_surface() {
        let cup = upright(10.0, 25.0);
        let directions = even(&cup, 500);
        for (direction, spot) in directions
            .iter()
            .zip(cup_map(&block(), &[], &cup, &directions))
        {
            let surface = 10.0 / -direction.z;
            match spot {
                CupSpot::Pressed { by_mm } => {
                    assert_relative_eq!(by_mm, 25.0 - surface, max_relative = 1e-9)
                }
                CupSpot::Gap { mm } => assert_relative_eq!(mm, surface - 25.0, max_relative = 1e-9),
                CupSpot::Bare => assert!(surface > 25.0 + FARTHEST_GAP, "{surface}"),
            }
        }
    }

    #[test]
    fn bone_is_a_gap_up_to_the_farthest_and_bare_beyond() {
        let at = |gap: f64| cup_spot(&[[5.0, 9.0], [25.0 + gap, 60.0]], 25.0);
        assert_eq!(at(FARTHEST_GAP), CupSpot::Gap { mm: FARTHEST_GAP });
        assert_eq!(at(FARTHEST_GAP + 0.01), CupSpot::Bare);
        assert_eq!(at(0.0), CupSpot::Pressed { by_mm: 0.0 });
        assert_eq!(cup_spot(&[[5.0, 25.0]], 25.0), CupSpot::Bare);
    }

    #[test]
    fn the_share_pressed_is_the_coverage_after_reaming() {
        // Even points miss an area by about the points along its edge: 20,000 points stand 0.018 radii
        // apart, an edge of 10 radii passes some 560 of them and errs by fewer than their root.
        const COUNT: u32 = 20_000;
        let sampling = 560.0_f64.sqrt() / f64::from(COUNT);
        let cup = head([32.0, -11.0, 49.0], [0.6, -0.2, 0.9], 27.0);
        let swept = [
            Bullet::open(head([32.0, -11.0, 49.0], [0.6, -0.2, 0.9], 26.5)),
            Bullet::open(head([29.0, -13.0, 48.0], [0.5, -0.2, 0.9], 26.5)),
        ];
        let directions = even(&cup, COUNT);
        for swept in [&swept[..0], &swept[..1], &swept[..]] {
            let found = union::area_outside(&lumpy(), &cup, swept);
            let (share, bound) = (found.value / cup.area(), found.error_bound / cup.area());
            assert!((0.2..0.95).contains(&share), "{share}");
            let sampled = pressed(&cup_map(&lumpy(), swept, &cup, &directions));
            assert!(
                (sampled - share).abs() < bound + sampling,
                "{sampled}, {share} after {} reamers",
                swept.len()
            );
        }
    }

    #[test]
    fn walls_and_cuts_of_a_block_have_closed_forms() {
        let tool = upright(4.0, 25.0);
        let directions = even(&tool, 500);
        let places = on(&tool, &directions);
        let spots = cavity_map(&block(), &[Bullet::open(tool)], &tool, &places);
        let mut in_bone = 0;
        for (direction, spot) in directions.iter().zip(spots) {
            let surface = 4.0 / -direction.z;
            let to_side = direction.xy().amax();
            let far = (100.0 / to_side).min(204.0 / -direction.z);
            if surface < 25.0 {
                in_bone += 1;
                assert_relative_eq!(spot.wall_mm.unwrap(), far - 25.0, max_relative = 1e-9);
                assert_relative_eq!(spot.cut_mm, 25.0 - surface, max_relative = 1e-9);
            } else {
                assert_eq!(spot.wall_mm, None);
                assert_relative_eq!(spot.cut_mm, 0.0);
            }
        }
        assert!((300..500).contains(&in_bone), "{in_bone}");
    }

    #[test]
    fn behind_a_deeper_cut_the_wall_is_what_that_left() {
        let (tool, deeper) = (upright(0.0, 20.0), upright(-5.0, 20.0));
        let swept = [Bullet::open(tool), Bullet::open(deeper)];
        let pole = [Point3::new(0.0, 0.0, -20.0)];
        let wall = |swept: &[Bullet]| cavity_map(&block(), swept, &tool, &pole)[0].wall_mm;
        assert_relative_eq!(wall(&swept[..1]).unwrap(), 180.0);
        assert_relative_eq!(wall(&swept).unwrap(), 175.0);
        let through = Bullet::with_column(head([0.0; 3], [0.0, 0.0, -1.0], 30.0), 300.0).unwrap();
        assert_eq!(wall(&[swept[0], through]), None);
    }

    #[test]
    fn a_place_short_of_the_wall_by_a_chord_tells_the_same_wall() {
        let tool = upright(0.0, 20.0);
        let at = |depth: f64| {
            let place = [Point3::new(0.0, 0.0, -depth)];
            cavity_map(&block(), &[Bullet::open(tool)], &tool, &place)[0]
        };
        assert_eq!(at(19.99).wall_mm, at(20.0).wall_mm);
        assert_relative_eq!(at(19.99).cut_mm, 19.99);
        assert_relative_eq!(at(20.01).wall_mm.unwrap(), 179.99);
        assert_eq!(at(0.0).wall_mm, None);
    }

    #[test]
    fn shells_between_the_bone_and_the_cavity_add_up_to_the_volume_removed() {
        // Each direction stands for 2π / n of solid angle. The tool stands so far out of a ball that
        // every ray that meets it meets it once, and leaves beyond the tool: it takes away
        // (r³ − (r − cut)³)/3. Two balls share π (R + r − d)² (d² + 2dr − 3r² + 2dR − 3R² + 6rR) / 12d.
        let (big, r, d) = (60.0_f64, 25.0_f64, 66.0_f64);
        let tool = upright(d, r);
        let ball = Solid::try_from(samples::sphere(big, 5)).unwrap();
        let places = on(&tool, &even(&tool, 20_000));
        let spots = cavity_map(&ball, &[Bullet::open(tool)], &tool, &places);
        let shell = |s: &CavitySpot| (r.powi(3) - (r - s.cut_mm).powi(3)) / 3.0;
        let sampled = TAU * mean(spots.iter().map(shell));
        let removed = within::hemisphere(&ball, &tool).volume;
        assert!(
            (sampled / removed - 1.0).abs() < 1e-4,
            "{sampled}, {removed}"
        );
        let lens = PI * (big + r - d).powi(2) / (12.0 * d)
            * (d * d + 2.0 * d * (r + big) - 3.0 * (r * r + big * big) + 6.0 * r * big);
        // The ball's facets lie up to 0.03 mm below it.
        assert!((0.99..1.0).contains(&(sampled / lens)), "{sampled}, {lens}");
    }

    #[test]
    fn a_reamer_wholly_in_bone_cuts_its_radius_everywhere() {
        let tool = upright(-60.0, 20.0);
        let swept = [Bullet::half_ball(tool)];
        let spots = cavity_map(&block(), &swept, &tool, &on(&tool, &even(&tool, 200)));
        let cut = TAU * mean(spots.iter().map(|s| s.cut_mm.powi(3) / 3.0));
        assert_relative_eq!(cut, 2.0 / 3.0 * PI * 8000.0, max_relative = 1e-12);
        let exact = column::volume_in_bullet(&block(), &swept[0]);
        assert_relative_eq!(cut, exact, max_relative = 1e-9);
    }
    /// A right hip of 52 mm in the side of a lumpy ball with a hollow behind it, and what one reamer of
    /// 53 mm and a cup of 54 mm find there.
    fn plan() -> (Bone, Findings) {
        // Along the axis of the tools below.
        let out = nalgebra::Vector3::new(0.621, 0.259, -0.740);
        let hollow = samples::sphere(10.0, 3).reversed();
        let hollow = hollow.moved(&Isometry3::from(out * 12.0));
        let ball = samples::lumpy_ball(60.0, 0.12, 60, 36);
        let bone = Bone {
            solid: Solid::try_from(ball.joined(&hollow)).unwrap().into(),
            source: "lumpy".into(),
            remarks: Vec::new(),
            side: Side::Right,
            landmarks: None,
            to_pelvic: Isometry3::identity(),
            native_centre: Point3::from(out * 52.0),
            native_radius: 26.0,
            layers: None,
        };
        let text = "(version: 1, bone: Preset(name: \"average-male\", side: Right), orientation: Radiographic, \
             reamers: [(diameter_mm: 53)], cup: (diameter_mm: 54, inclination_deg: 40, anteversion_deg: 15))";
        let case = CaseFile::parse(text).unwrap().check().unwrap();
        let findings = simulate(&case, &bone, &Instruments::generic().unwrap()).unwrap();
        (bone, findings)
    }

    fn tool_of(findings: &Findings, diameter: f64) -> Hemisphere {
        head(findings.cup.centre_mm, findings.cup.axis, diameter / 2.0)
    }

    #[test]
    fn the_thinnest_wall_of_a_plan_is_the_least_of_its_map() {
        // 60,000 places stand 0.3 mm apart; where the wall is thinnest inside its border it is flat, and
        // along the border it changes by less than a mm in a mm.
        const FROM_POLE: f64 = 65.0 * TAU / 360.0;
        let (bone, findings) = plan();
        let tool = tool_of(&findings, 53.0);
        let mut directions = even(&tool, 60_000);
        directions.retain(|d| d.angle(&-tool.axis()) <= FROM_POLE);
        let swept = [Bullet::open(tool)];
        let spots = cavity_map(&bone.solid, &swept, &tool, &on(&tool, &directions));
        let walls = spots.iter().filter_map(|s| s.wall_mm);
        let least = walls.fold(f64::INFINITY, f64::min);
        let step = &findings.reaming[0];
        let found = step.thinnest_wall.as_ref().unwrap().thickness_mm;
        assert!((3.0..4.0).contains(&found), "{found}");
        // The finding looks a little nearer to the edge as well, where this bone is no thinner.
        assert!((0.0..0.05).contains(&(least - found)), "{least}, {found}");
    }

    #[test]
    fn the_map_of_a_plan_s_cup_is_as_covered_as_its_finding() {
        let (bone, findings) = plan();
        let (tool, cup) = (tool_of(&findings, 53.0), tool_of(&findings, 54.0));
        let spots = cup_map(
            &bone.solid,
            &[Bullet::open(tool)],
            &cup,
            &even(&cup, 20_000),
        );
        let share = pressed(&spots);
        let found = findings.cup.coverage_after_reaming;
        assert!((0.6..0.99).contains(&found), "{found}");
        assert!((share - found).abs() < 1.2e-3, "{share}, {found}");
    }
}
