//! What mending changed, in words and as a document.

use std::io::{self, Write};
use std::path::Path;

use cupwright_anatomy::{Socket, find_socket};
use cupwright_geometry::mend::{Changed, Difference, Far, Mended};
use cupwright_geometry::{Ball, Solid, TriMesh};
use cupwright_procedure::inspection::words::{AROUND, coordinates};
use cupwright_report::mending::{
    AfterDocument, BeforeDocument, ChangeDocument, FarDocument, LeftDocument, MendingDocument,
    MovedDocument, RegionDocument, SocketDocument,
};
use nalgebra::Point3;

/// Distances shorter than this, in mm, are rounding of the file and not told as movement.
const UNMOVED: f64 = 1e-6;

/// Reach of the socket region about a centre that was given, in mm.
const ABOUT_CENTRE: f64 = 40.0;

/// The mended mesh beside what it was.
pub(super) struct Comparison {
    pub(super) mended: Mended,
    before: [f64; 2],
    whole: Changed,
    socket: Option<Socket>,
    region: Option<(Ball, Changed)>,
    /// Why the new mesh can still not be worked on.
    refusal: Option<String>,
}

impl Comparison {
    pub(super) fn of(centre: Option<Point3<f64>>, before: &TriMesh, mended: Mended) -> Self {
        let difference: Difference = mended.difference(before);
        let socket = find_socket(&mended.mesh).ok();
        let ball = match (centre, &socket) {
            (Some(centre), _) => Ball::new(centre, ABOUT_CENTRE).ok(),
            (None, Some(socket)) => Ball::new(socket.centre, socket.radius + AROUND).ok(),
            (None, None) => None,
        };
        let accepted = cupwright_procedure::bone::accept_as_it_is(mended.mesh.clone());
        Self {
            before: [before.area(), before.volume()],
            whole: difference.whole(),
            region: ball.map(|ball| (ball, difference.within(&ball))),
            socket,
            refusal: accepted.err().map(|problem| problem.to_string()),
            mended,
        }
    }

    /// What still stands in the way of working on the new mesh.
    pub(super) fn obstacles(&self) -> Vec<String> {
        let left = self.mended.left.iter().filter(|left| !left.is_harmless());
        let left = left.map(|left| match left.place() {
            Some(at) => format!("{left}, at {}", coordinates(&at)),
            None => left.to_string(),
        });
        left.chain(self.refusal.clone()).collect()
    }

    /// Whether a place lies in the socket region.
    fn in_region(&self, at: Option<Point3<f64>>) -> bool {
        let held = |(ball, _): &(Ball, Changed)| {
            at.is_some_and(|at| (at - ball.centre()).norm() <= ball.radius())
        };
        self.region.as_ref().is_some_and(held)
    }

    pub(super) fn print(&self, out: &mut dyn Write) -> io::Result<()> {
        const LISTED: usize = 20;
        let changes = &self.mended.changes;
        if changes.is_empty() {
            writeln!(out, "changed    nothing: there was nothing to mend")?;
        }
        for change in changes.iter().take(LISTED) {
            let at = change
                .place()
                .map(|at| format!(", at {}", coordinates(&at)));
            let here = if self.in_region(change.place()) {
                " (IN THE SOCKET REGION)"
            } else {
                ""
            };
            writeln!(out, "changed    {change}{}{here}", at.unwrap_or_default())?;
        }
        if changes.len() > LISTED {
            let more = changes.len() - LISTED;
            writeln!(out, "           and {more} more; --json lists all")?;
        }
        writeln!(out, "surface    {}", told(&self.whole))?;
        self.print_region(out)?;
        for left in &self.mended.left {
            let at = left.place().map(|at| format!(", at {}", coordinates(&at)));
            writeln!(out, "left       {left}{}", at.unwrap_or_default())?;
        }
        let solid = Solid::try_from(self.mended.mesh.clone()).ok();
        match solid {
            Some(solid) => writeln!(
                out,
                "now        closed, {:.1} mm³, {:.1} mm² (before {:.1} mm²)",
                solid.volume(),
                solid.area(),
                self.before[0]
            )?,
            None => writeln!(out, "now        still not closed")?,
        }
        if self.obstacles().is_empty() {
            writeln!(out, "ready      nothing stands in the way of working on it")?;
        }
        Ok(())
    }

    fn print_region(&self, out: &mut dyn Write) -> io::Result<()> {
        let Some((ball, changed)) = &self.region else {
            return writeln!(
                out,
                "socket     none found, so nothing can be said of its region; give --centre"
            );
        };
        let place = format!(
            "within {:.0} mm of {}",
            ball.radius(),
            coordinates(&ball.centre())
        );
        if is_untouched(changed) {
            writeln!(out, "socket     its region is unchanged ({place})")
        } else {
            writeln!(
                out,
                "socket     ITS REGION WAS CHANGED ({place}): {}",
                told(changed)
            )
        }
    }

    pub(super) fn document(&self, out: &Path) -> MendingDocument {
        let changes = self.mended.changes.iter().map(|change| ChangeDocument {
            kind: change.kind().into(),
            message: change.to_string(),
            at_mm: change.place().map(point),
            in_socket_region: self.in_region(change.place()),
        });
        let left = self.mended.left.iter().map(|left| LeftDocument {
            kind: left.kind().into(),
            message: left.to_string(),
            at_mm: left.place().map(point),
        });
        let region = self.region.as_ref();
        let [area_mm2, signed_volume_mm3] = self.before;
        MendingDocument {
            out: out.display().to_string(),
            changes: changes.collect(),
            surface: document_of(&self.whole),
            socket_region: region.map(|(ball, changed)| RegionDocument {
                centre_mm: point(ball.centre()),
                radius_mm: ball.radius(),
                unchanged: is_untouched(changed),
                surface: document_of(changed),
            }),
            socket: self.socket.map(|socket| SocketDocument {
                side: socket.side.map(|side| side.to_string()),
                centre_mm: point(socket.centre),
                diameter_mm: 2.0 * socket.radius,
            }),
            left: left.collect(),
            before: BeforeDocument {
                area_mm2,
                signed_volume_mm3,
            },
            after: self.after(),
            ready: self.obstacles().is_empty(),
        }
    }

    fn after(&self) -> AfterDocument {
        let solid = Solid::try_from(self.mended.mesh.clone()).ok();
        AfterDocument {
            triangles: self.mended.mesh.triangles().len(),
            closed: solid.is_some(),
            area_mm2: self.mended.mesh.area(),
            volume_mm3: solid.map(|solid| solid.volume()),
        }
    }
}

/// Whether a region is as it was, to the rounding of a file.
fn is_untouched(changed: &Changed) -> bool {
    let still = |far: Option<Far>| far.is_none_or(|far| far.distance <= UNMOVED);
    still(changed.moved) && still(changed.reach) && changed.turned <= 0.0
}

/// How far a surface moved, in words.
fn told(changed: &Changed) -> String {
    let moved = match changed.moved.filter(|far| far.distance > UNMOVED) {
        Some(far) => format!(
            "moved by at most {:.4} mm, at {}",
            far.distance,
            coordinates(&far.at)
        ),
        None => "none of what was there has moved".into(),
    };
    let mut told = vec![moved];
    if let Some(far) = changed.reach.filter(|far| far.distance > UNMOVED) {
        told.push(format!(
            "{:.1} mm² are new, up to {:.4} mm from what was there, at {}",
            changed.new,
            far.distance,
            coordinates(&far.at)
        ));
    }
    if changed.turned > 0.0 {
        told.push(format!(
            "{:.1} mm² turned to face the other way",
            changed.turned
        ));
    }
    told.join("; ")
}

fn document_of(changed: &Changed) -> MovedDocument {
    let far = |far: Option<Far>| {
        far.map(|far| FarDocument {
            distance_mm: far.distance,
            at_mm: point(far.at),
        })
    };
    MovedDocument {
        moved: far(changed.moved),
        new_reach: far(changed.reach),
        new_mm2: changed.new,
        gone_mm2: changed.gone,
        turned_mm2: changed.turned,
    }
}

fn point(at: Point3<f64>) -> [f64; 3] {
    [at.x + 0.0, at.y + 0.0, at.z + 0.0]
}
