//! What the scene shows, worked out beside the frame: surfaces of bone and tools, cut open by the
//! section plane and coloured by a map.
//!
//! [`Sketch`] says what is to be drawn, [`Draughtsman`] draws it, [`Picture`] is what comes out.
//! Lengths of the bone are in mm until they become places of the scene.

mod bone;
mod clip;
mod openness;
pub mod scale;
mod surface;
mod tool;

use std::collections::HashMap;
use std::sync::Arc;

use bevy::mesh::Mesh;
use bevy::prelude::Component;
use cupwright_geometry::cut::{Cut, Tolerance, shell};
use cupwright_geometry::{Bullet, Hemisphere, TriMesh};
use cupwright_geometry::{Plane, section};
use cupwright_procedure::maps::{CavitySpot, CupSpot, cavity_map, cup_map};
use cupwright_procedure::placed::Placed;
use cupwright_procedure::shapes;
use cupwright_procedure::{Bone, Case};
use nalgebra::{Point3, UnitVector3};

use crate::desk::view::{Map, Section};
use crate::scene::ground::Ground;
use bone::{BoneSurface, Template};
use clip::Blade;
use scale::{Scale, linear};
pub(crate) use surface::Surface;

/// How far outside its place a tool is drawn when it begins to come in, in mm.
pub(crate) const COMES_FROM_MM: f64 = 60.0;

/// How far facets of reamers and cups stand off the true surface, in mm.
const SHELL_MM: f64 = 0.05;

/// Colours of the screen: red, green, blue.
mod colour {
    pub(super) const BONE: [u8; 3] = [222, 203, 170];
    pub(super) const CUT: [u8; 3] = [205, 146, 118];
    pub(super) const SECTION: [u8; 3] = [236, 190, 160];
    pub(super) const REAMER: [u8; 3] = [176, 150, 84];
    pub(super) const CUP: [u8; 3] = [128, 150, 168];
    pub(super) const KEPT: [u8; 3] = [214, 120, 48];
}

/// What is to be drawn.
#[derive(Clone, Debug)]
pub(crate) struct Sketch {
    pub(crate) bone: Arc<Bone>,
    pub(crate) case: Arc<Case>,
    /// A plan to compare with: its cup is drawn as well.
    pub(crate) kept: Option<Arc<Case>>,
    /// How many steps of the plan are done; see [`View::step`](crate::desk::View::step).
    pub(crate) step: usize,
    /// How far the tool of this step is from its place, 0 to 1.
    pub(crate) away: f32,
    pub(crate) map: Map,
    pub(crate) section: Section,
    /// Whether reamer and cup are drawn.
    pub(crate) tools: bool,
}

impl Sketch {
    /// Whether reamer and cup are drawn: on their way always, in place where nothing behind them is to
    /// be seen.
    fn shows_tool(&self) -> bool {
        self.away > 0.0 || (self.tools && !matches!(self.map, Map::Wall | Map::Depth))
    }
}

/// A part of the picture.
#[derive(Clone, Component, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Part {
    /// The bone near the socket.
    Bone,
    /// The rest of the bone.
    Far,
    /// The bone's cut face on the section plane.
    Face,
    /// What a map colours: the wall of the cavity, or the cup.
    Map,
    Reamer,
    Cup,
    /// The cup of the plan to compare with.
    Kept,
}

/// A picture ready for the stage.
#[derive(Debug)]
pub(crate) struct Print {
    /// Every part but the far bone; `None` where there is nothing of it.
    pub(crate) parts: Vec<(Part, Option<Mesh>)>,
    /// The rest of the bone, and a number that changes when it does.
    pub(crate) far: (Arc<Surface>, u64),
    /// The scale of the map that is on.
    pub(crate) scale: Option<Scale>,
    /// What could not be drawn, and why.
    pub(crate) trouble: Option<String>,
}

/// What was drawn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Picture {
    pub(crate) bone: Surface,
    /// The rest of the bone, and a number that changes when it does.
    pub(crate) far: (Arc<Surface>, u64),
    /// The bone's cut face on the section plane.
    pub(crate) face: Surface,
    /// What a map colours: the wall of the cavity, or the cup.
    pub(crate) map: Surface,
    pub(crate) reamer: Surface,
    pub(crate) cup: Surface,
    /// The cup of the plan to compare with.
    pub(crate) kept: Surface,
    /// The scale of the map that is on.
    pub(crate) scale: Option<Scale>,
    /// What could not be drawn, and why.
    pub(crate) trouble: Option<String>,
}

impl Picture {
    /// As meshes for the graphics card.
    pub(crate) fn printed(self) -> Print {
        let mesh = |surface: Surface| (!surface.triangles.is_empty()).then(|| surface.into_mesh());
        let parts = [
            (Part::Bone, self.bone),
            (Part::Face, self.face),
            (Part::Map, self.map),
            (Part::Reamer, self.reamer),
            (Part::Cup, self.cup),
            (Part::Kept, self.kept),
        ];
        Print {
            parts: parts
                .into_iter()
                .map(|(part, surface)| (part, mesh(surface)))
                .collect(),
            far: self.far,
            scale: self.scale,
            trouble: self.trouble,
        }
    }
}

/// Draws one sketch after another, and keeps what the next may need again.
#[derive(Default)]
pub(crate) struct Draughtsman {
    template: Option<Template>,
    last: Option<Reamed>,
    far: Option<Far>,
    far_count: u64,
}

/// The far part of the bone as it was drawn last, and what it depends on.
struct Far {
    bone: Arc<Bone>,
    blade: Option<Blade>,
    is_drawn: bool,
    surface: Arc<Surface>,
    number: u64,
}

/// A bone after some reamers.
struct Reamed {
    bone: Arc<Bone>,
    bullets: Vec<Bullet>,
    surface: BoneSurface,
    /// The same as a closed mesh; `None` where nothing is left, or nothing was cut.
    mesh: Option<TriMesh>,
    trouble: Option<String>,
}

impl Draughtsman {
    /// Draws a sketch.
    ///
    /// # Errors
    /// When a tool of the plan has no place.
    pub(crate) fn draw(&mut self, sketch: &Sketch) -> Result<Picture, String> {
        let (bone, case) = (&sketch.bone, &sketch.case);
        let ground = Ground::of(bone);
        let cup = Placed::cup(case, bone).map_err(|problem| problem.to_string())?;
        let reamers = Placed::reamers(case, bone).map_err(|problem| problem.to_string())?;
        let heads: Vec<_> = reamers.iter().map(|reamer| *reamer.head()).collect();
        let in_use = heads
            .get(..sketch.step.min(heads.len()))
            .unwrap_or_default();
        let (reamer, cup_head) = tools(sketch, in_use, &heads, cup.head())?;
        let mut bullets: Vec<_> = in_use.iter().copied().map(Bullet::open).collect();
        if let (Some(head), Some(last)) = (reamer, bullets.last_mut()) {
            *last = Bullet::open(head);
        }

        let template = self.template.take().filter(|template| template.is_of(bone));
        let template =
            template.unwrap_or_else(|| Template::of(bone, &ground, linear(colour::BONE)));
        let plane = if sketch.section.on {
            Some(section_plane(&cup, &sketch.section)?)
        } else {
            None
        };
        let blade = plane.as_ref().map(|plane| Blade::of(plane, &ground));
        let reamed = self.reamed(&template, bone, &bullets, &ground);
        let has_far = reamed.surface.has_far;
        let mut picture = Picture {
            bone: reamed.surface.surface.clone(),
            trouble: reamed.trouble.clone(),
            ..Picture::default()
        };
        if matches!(sketch.map, Map::Wall | Map::Depth) {
            paint_cavity(&mut picture, sketch, reamed, &bullets);
        }
        let reamer = reamer.filter(|_| sketch.shows_tool());
        let cup_head = cup_head.filter(|_| sketch.shows_tool() || sketch.map.is_on_cup());
        if let Some(head) = reamer {
            picture.reamer = tool_surface(&head, shapes::REAMER_WALL, &ground, colour::REAMER)?;
        }
        if let Some(head) = cup_head {
            match scale_of(sketch.map).filter(|_| sketch.map.is_on_cup()) {
                Some(scale) => {
                    picture.map = painted_cup(sketch, scale, &head, &bullets, &ground)?;
                    picture.scale = Some(scale);
                }
                None => picture.cup = tool_surface(&head, shapes::CUP_WALL, &ground, colour::CUP)?,
            }
        }
        if let Some(kept) = &sketch.kept {
            let kept = Placed::cup(kept, bone).map_err(|problem| problem.to_string())?;
            picture.kept = tool_surface(kept.head(), shapes::CUP_WALL, &ground, colour::KEPT)?;
        }
        if let Some(plane) = &plane {
            let solid = reamed.mesh.as_ref().unwrap_or(bone.solid.mesh());
            let shells = [(reamer, shapes::REAMER_WALL), (cup_head, shapes::CUP_WALL)];
            cut_open(&mut picture, solid, plane, &ground, shells)?;
        }
        picture.far = self.far(&template, bone, has_far, blade);
        self.template = Some(template);
        Ok(picture)
    }

    /// The far part of the bone; the same one as before where nothing of it has changed.
    fn far(
        &mut self,
        template: &Template,
        bone: &Arc<Bone>,
        is_drawn: bool,
        blade: Option<Blade>,
    ) -> (Arc<Surface>, u64) {
        let same = |far: &Far| {
            Arc::ptr_eq(&far.bone, bone) && far.is_drawn == is_drawn && far.blade == blade
        };
        if let Some(far) = self.far.as_ref().filter(|far| same(far)) {
            return (Arc::clone(&far.surface), far.number);
        }
        let surface = match (is_drawn, blade) {
            (false, _) => Surface::default(),
            (true, Some(blade)) => clip::below(&template.far, &blade),
            (true, None) => template.far.clone(),
        };
        self.far_count += 1;
        let far = self.far.insert(Far {
            bone: Arc::clone(bone),
            blade,
            is_drawn,
            surface: Arc::new(surface),
            number: self.far_count,
        });
        (Arc::clone(&far.surface), far.number)
    }

    /// The bone after these bullets, drawn anew where it differs from the last.
    fn reamed(
        &mut self,
        template: &Template,
        bone: &Arc<Bone>,
        bullets: &[Bullet],
        ground: &Ground,
    ) -> &Reamed {
        let known = self
            .last
            .take()
            .filter(|last| Arc::ptr_eq(&last.bone, bone) && last.bullets == bullets);
        let reamed = known.unwrap_or_else(|| Reamed::new(template, bone, bullets, ground));
        self.last.insert(reamed)
    }
}

impl Reamed {
    fn new(template: &Template, bone: &Arc<Bone>, bullets: &[Bullet], ground: &Ground) -> Self {
        let [native, cut] = [colour::BONE, colour::CUT].map(linear);
        let heads: Vec<_> = bullets.iter().map(|bullet| *bullet.head()).collect();
        let mut reamed = Self {
            bone: Arc::clone(bone),
            bullets: bullets.to_vec(),
            surface: BoneSurface::default(),
            mesh: None,
            trouble: None,
        };
        if bullets.is_empty() {
            reamed.surface = bone::untouched(template, ground, native);
            return reamed;
        }
        match Cut::new(&bone.solid, bullets, Tolerance::default()) {
            Ok(done) => {
                if let Some(left) = done.into_labelled() {
                    reamed.surface = bone::reamed(&left, template, &heads, ground, [native, cut]);
                    reamed.mesh = Some(left.mesh);
                }
            }
            Err(problem) => {
                reamed.surface = bone::untouched(template, ground, native);
                reamed.trouble = Some(format!("the bone is drawn uncut: {problem}"));
            }
        }
        reamed
    }
}

/// The reamer and the cup where the step has them, `None` where it has none.
fn tools(
    sketch: &Sketch,
    in_use: &[Hemisphere],
    all: &[Hemisphere],
    cup: &Hemisphere,
) -> Result<(Option<Hemisphere>, Option<Hemisphere>), String> {
    let back = f64::from(sketch.away) * COMES_FROM_MM;
    let drawn_back = |head: &Hemisphere| {
        let axis = head.axis().into_inner();
        Hemisphere::new(head.centre() + back * axis, axis, head.radius())
            .map_err(|problem| problem.to_string())
    };
    if sketch.step > all.len() {
        Ok((None, Some(drawn_back(cup)?)))
    } else {
        Ok((in_use.last().map(drawn_back).transpose()?, None))
    }
}

fn tool_surface(
    head: &Hemisphere,
    wall: f64,
    ground: &Ground,
    rgb: [u8; 3],
) -> Result<Surface, String> {
    let mesh = half_ball(head, wall)?;
    let colour = linear(rgb);
    Ok(tool::drawn(&mesh, head, ground, |_| colour))
}

fn half_ball(head: &Hemisphere, wall: f64) -> Result<TriMesh, String> {
    let tolerance = Tolerance::new(SHELL_MM).map_err(|problem| problem.to_string())?;
    shell::half_ball(head, wall, tolerance).map_err(|problem| problem.to_string())
}

/// The cup, coloured by a map.
fn painted_cup(
    sketch: &Sketch,
    scale: Scale,
    head: &Hemisphere,
    bullets: &[Bullet],
    ground: &Ground,
) -> Result<Surface, String> {
    let mesh = half_ball(head, shapes::CUP_WALL)?;
    let out = |p: &Point3<f64>| UnitVector3::new_normalize(p - head.centre());
    let directions: Vec<_> = mesh.vertices().iter().map(out).collect();
    let spots = cup_map(&sketch.bone.solid, bullets, head, &directions);
    let shade = |spot: &CupSpot| match (sketch.map, spot) {
        (Map::Coverage, CupSpot::Pressed { by_mm }) => scale.linear(*by_mm),
        (Map::Gap, CupSpot::Pressed { .. }) => scale.linear(0.0),
        (Map::Gap, CupSpot::Gap { mm }) => scale.linear(*mm),
        _ => scale.without_linear(),
    };
    let shades: Vec<_> = spots.iter().map(shade).collect();
    Ok(tool::drawn(&mesh, head, ground, |v| shades[v]))
}

/// Takes the wall of the cavity out of the bone's surface and colours it by a map.
fn paint_cavity(picture: &mut Picture, sketch: &Sketch, reamed: &Reamed, bullets: &[Bullet]) {
    let Some(scale) = scale_of(sketch.map) else {
        return;
    };
    picture.scale = Some(scale);
    let mut values = vec![None; picture.bone.points.len()];
    for (k, bullet) in bullets.iter().enumerate() {
        let walls = reamed.surface.cavity.iter().filter(|wall| wall.reamer == k);
        let walls: Vec<_> = walls.collect();
        let places: Vec<_> = walls.iter().map(|wall| wall.place).collect();
        let spots = cavity_map(&sketch.bone.solid, bullets, bullet.head(), &places);
        let value = |spot: &CavitySpot| match sketch.map {
            Map::Wall => spot.wall_mm,
            _ => Some(spot.cut_mm),
        };
        for (wall, spot) in walls.iter().zip(&spots) {
            values[wall.vertex as usize] = value(spot);
        }
    }
    // At the cavity's edge a place is in bone or out of it, whichever rounding makes of it.
    from_neighbours(&picture.bone.triangles, &mut values);
    for wall in &reamed.surface.cavity {
        let v = wall.vertex as usize;
        let [r, g, b] = values[v].map_or(scale.without_linear(), |mm| scale.linear(mm));
        picture.bone.colours[v] = [r, g, b, 1.0];
    }
    let mut is_wall = vec![false; picture.bone.points.len()];
    for wall in &reamed.surface.cavity {
        is_wall[wall.vertex as usize] = true;
    }
    picture.map = picture
        .bone
        .split_off(|triangle| triangle.iter().all(|&v| is_wall[v as usize]));
}

/// Gives vertices without a value the mean of those beside them, where there are any.
fn from_neighbours(triangles: &[[u32; 3]], values: &mut [Option<f64>]) {
    let mut beside: HashMap<u32, (f64, f64)> = HashMap::new();
    for triangle in triangles {
        let known = triangle.iter().filter_map(|&v| values[v as usize]);
        let (sum, count) = known.fold((0.0, 0.0), |(sum, count), value| (sum + value, count + 1.0));
        for &v in triangle.iter().filter(|&&v| values[v as usize].is_none()) {
            let entry = beside.entry(v).or_default();
            *entry = (entry.0 + sum, entry.1 + count);
        }
    }
    for (v, value) in values.iter_mut().enumerate() {
        let found = u32::try_from(v).ok().and_then(|v| beside.get(&v));
        if let (None, Some((sum, count))) = (*value, found)
            && *count > 0.0
        {
            *value = Some(sum / count);
        }
    }
}

/// The scale of a map; thin walls, deep cuts, firm contact and wide gaps are light.
pub(crate) fn scale_of(map: Map) -> Option<Scale> {
    let scale = |unit, dark, light, step, without| Scale {
        title: map.name(),
        unit,
        dark,
        light,
        step,
        without,
    };
    match map {
        Map::Plain => None,
        Map::Wall => Some(scale("mm", 10.0, 0.0, 2.0, "no bone behind")),
        Map::Depth => Some(scale("mm", 0.0, 8.0, 2.0, "")),
        Map::Coverage => Some(scale("mm pressed in", 0.0, 2.0, 0.5, "not in bone")),
        Map::Gap => Some(scale("mm", 0.0, 3.0, 1.0, "no bone behind")),
    }
}

/// The section plane through a cup's axis, facing what it takes away.
pub(crate) fn section_plane(cup: &Placed, section: &Section) -> Result<Plane, String> {
    let hour = cupwright_anatomy::Hour::from_hours(section.hour);
    let head = cup.head();
    let normal = head.axis().cross(&cup.toward(hour));
    let normal = if section.other_half { -normal } else { normal };
    Plane::new(head.centre(), normal).map_err(|problem| problem.to_string())
}

/// How far the cut face of a tool is drawn above that of bone, in units of the scene.
const OVER: f32 = 0.004;

/// Takes away what lies above the plane, and closes bone and tools with their cut faces.
fn cut_open(
    picture: &mut Picture,
    bone: &TriMesh,
    plane: &Plane,
    ground: &Ground,
    shells: [(Option<Hemisphere>, f64); 2],
) -> Result<(), String> {
    let blade = Blade::of(plane, ground);
    picture.bone = clip::below(&picture.bone, &blade);
    picture.map = clip::below(&picture.map, &blade);
    picture.face = face(bone, plane, ground, colour::SECTION);
    let [reamer, cup] = shells;
    let surfaces = [
        (&mut picture.reamer, reamer, colour::REAMER),
        (&mut picture.cup, cup, colour::CUP),
    ];
    for (surface, (head, wall), rgb) in surfaces {
        let Some(head) = head else { continue };
        *surface = clip::below(surface, &blade);
        let mesh = half_ball(&head, wall)?;
        // A cup pressed into bone is drawn over it.
        let mut cut = face(&mesh, plane, ground, rgb);
        for point in &mut cut.points {
            *point += blade.normal * OVER;
        }
        surface.append(&cut);
    }
    picture.kept = clip::below(&picture.kept, &blade);
    Ok(())
}

/// The cut face of a closed mesh.
fn face(mesh: &TriMesh, plane: &Plane, ground: &Ground, rgb: [u8; 3]) -> Surface {
    let (colour, cut) = (linear(rgb), section::cross_section(mesh, plane));
    let mut face = Surface::default();
    let points: Vec<_> = cut.points().iter().map(|p| ground.point(p)).collect();
    for triangle in cut.triangles() {
        face.add_flat(triangle.map(|v| points[v as usize]), colour);
    }
    face
}
