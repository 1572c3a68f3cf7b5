//! Exact measures of a closed triangle mesh against the shapes that a reamer and a cup sweep out.
//!
//! | question | answer |
//! |---|---|
//! | does this mesh enclose anything? | [`Solid::try_from`](Solid), [`solid::defects`], [`topology`], [`intersections`] |
//! | bone within a ball, half ball, sector; coverage | [`within`] |
//! | bone that a reamer removes | [`column::volume_in_bullet`] |
//! | bone that several reamers remove, bone left behind a cup | [`union`] |
//! | the bone after some reamers, as a mesh | [`cut`] |
//! | the flat cross-section of a bone | [`section::cross_section`] |
//! | which part of a rim lies in bone | [`rim::arcs_inside`] |
//! | how thick is the bone along a ray | [`crossing::intervals_inside`] |
//! | the smooth closed surface around voxels | [`voxels::surface`] |
//! | what is wrong with a mesh, and how is it mended | [`mend`] |
//! | how near is a bone that moves, and when does it touch | [`contact`] |
//!
//! Everything is `f64`, in mm and radians, and gives the same bits on any number of threads.
//! Not here: files, colours, anatomy, degrees.
//!
//! From a mesh to answers, for a block of 100 mm and a reamer that comes from above:
//!
//! ```
//! use std::f64::consts::PI;
//!
//! use cupwright_geometry::{Bullet, Hemisphere, Solid, column, samples, within};
//! use nalgebra::{Point3, Vector3};
//!
//! let block = Solid::try_from(samples::cuboid([100.0; 3]))?;
//! let top = Point3::new(0.0, 0.0, 50.0);
//! let cup = Hemisphere::new(top, Vector3::z(), 20.0)?;
//! assert!((within::coverage(&block, &cup) - 1.0).abs() < 1e-12);
//!
//! let removed = column::volume_in_bullet(&block, &Bullet::open(cup));
//! assert!((removed - 2.0 / 3.0 * PI * 20_f64.powi(3)).abs() < 1e-6);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod batch;
pub mod column;
pub mod contact;
pub mod crossing;
pub mod cut;
pub mod intersections;
pub mod mend;
pub mod mesh;
pub mod plane;
pub mod rim;
pub mod samples;
pub mod section;
pub mod shape;
pub mod solid;
pub mod topology;
pub mod union;
pub mod voxels;
pub mod within;

mod adaptive;
mod bvh;
mod chord;
mod disc;
mod gap;
mod loops;
mod patches;
mod polygon;
mod predicates;
mod sum;
mod sweep;
mod winding;

pub use adaptive::Bounded;
pub use mesh::{BadMesh, Bounds, TriMesh};
pub use plane::Plane;
pub use shape::{BadShape, Ball, Bullet, Circle, Hemisphere};
pub use solid::{Defect, Solid};
