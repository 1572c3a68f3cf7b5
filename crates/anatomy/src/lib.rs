//! The pelvis as anatomy names it: landmarks, frames, cup orientation, socket, and a synthetic bone.
//!
//! Millimetres, radians. The pelvic frame has x toward the patient's right, y anterior, z superior.
//!
//! - [`orientation`]: inclination and anteversion with their definition; [`tilt`] of the pelvis; [`zone`]s in print
//! - [`landmarks`] and the [`frame`]s built from them; [`hip_centre`] regressions; the [`axial`] section
//! - [`mod@guess`]: landmarks, side and midline guessed from a bare mesh, and how sure
//! - [`sphere`]: the sphere nearest to points; [`socket`]: the acetabulum found on a bare mesh; the rim's [`clock`]
//!
//! The socket is found on a bare mesh, and how the cup of a film lies on the table is a formula:
//!
//! ```
//! use cupwright_anatomy::synthetic::{Resolution, Shape, pelvis};
//! use cupwright_anatomy::{Angles, Definition, Orientation, Side, find_socket};
//!
//! let made = pelvis(&Shape::preset("average-male")?, Side::Left, Resolution::Coarse)?;
//! let found = find_socket(&made.mesh)?;
//! assert_eq!(found.side, Some(Side::Left));
//! assert!((found.centre - made.socket.centre).norm() < 2.0);
//!
//! let cup = Orientation::new(Definition::Radiographic, Angles::from_degrees(45.0, 20.0))?;
//! assert!(cup.axis(Side::Left).x < 0.0, "a left cup opens to the left");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod axial;
pub mod clock;
pub mod frame;
pub mod guess;
pub mod hip_centre;
pub mod landmarks;
pub mod native;
pub mod orientation;
mod rim;
pub mod side;
pub mod socket;
pub mod source;
pub mod sphere;
pub mod synthetic;
pub mod tilt;
pub mod zone;

pub use axial::{AxialOpening, AxialSection};
pub use clock::{Hour, NoClock, RimClock};
pub use frame::{BadLandmarks, PelvicFrame, Reference};
pub use guess::{Guess, NotAPelvis, guess};
pub use landmarks::{Landmarks, PelvicSize};
pub use native::{NativeRim, NoRim};
pub use orientation::{Angles, BadAngle, Definition, MixedDefinitions, Orientation};
pub use side::{Both, Side};
pub use socket::{NoSocket, Socket, find_socket};
pub use source::{Source, Trust};
pub use sphere::{NoSphere, SphereFit};
pub use tilt::{BadTilt, Tilt};
pub use zone::{EmptyRange, PublishedZone, Zone};
