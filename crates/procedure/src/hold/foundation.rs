//! How stiffly bone holds back the wall of a round cavity: pressure for each mm that the wall gives.
//!
//! Exact for a ball-shaped cavity under even pressure (Lamé 1852, in any text on elasticity): in each
//! layer the wall moves by A r + B / r². Around a socket, where neither pressure nor bone is even, each
//! direction is taken as if the whole cavity were like it: a first-order estimate.

/// A layer of bone around a cavity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// Young's modulus, in MPa.
    pub modulus: f64,
    /// Poisson's ratio, less than ½.
    pub poisson: f64,
    /// Thickness, in mm.
    pub thickness: f64,
}

/// Stiffness of a cavity in bone without end, 2E / ((1 + ν) R), in MPa/mm.
///
/// ```
/// # use cupwright_procedure::hold::foundation::unlimited;
/// assert!((unlimited(50.0, 0.3, 27.0) - 2.849).abs() < 1e-3);
/// ```
pub fn unlimited(modulus: f64, poisson: f64, radius: f64) -> f64 {
    2.0 * modulus / ((1.0 + poisson) * radius)
}

/// Stiffness of a cavity of `radius` in some layers, in MPa/mm: the innermost first, and nothing
/// behind the last. No layers hold nothing.
///
/// From outside in: `z`, the pressure for each mm, is 0 at the free surface and the same on both sides
/// of a border.
pub fn layered(radius: f64, layers: &[Layer]) -> f64 {
    let thickness: f64 = layers.iter().map(|layer| layer.thickness).sum();
    let (mut z, mut outer) = (0.0, radius + thickness);
    for layer in layers.iter().rev() {
        let inner = outer - layer.thickness;
        let (even, shear) = (
            layer.modulus / (1.0 - 2.0 * layer.poisson),
            2.0 * layer.modulus / (1.0 + layer.poisson),
        );
        // Outer pressure −even A + shear B / b³ equals z (A b + B / b²).
        let a_by_b = (shear / outer.powi(3) - z / outer.powi(2)) / (even + z * outer);
        z = (shear / inner.powi(3) - even * a_by_b) / (a_by_b * inner + inner.powi(-2));
        outer = inner;
    }
    z
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn layer(modulus: f64, thickness: f64) -> Layer {
        Layer {
            modulus,
            poisson: 0.3,
            thickness,
        }
    }

    /// Thick-walled ball under inner pressure: u = p a (2 (1 − 2ν) a³ + (1 + ν) b³) / (2 E (b³ − a³)).
    fn thick_ball(modulus: f64, nu: f64, a: f64, b: f64) -> f64 {
        let give = a * (2.0 * (1.0 - 2.0 * nu) * a.powi(3) + (1.0 + nu) * b.powi(3));
        2.0 * modulus * (b.powi(3) - a.powi(3)) / give
    }

    #[test]
    fn one_layer_is_the_thick_walled_ball_of_the_textbooks() {
        for thickness in [0.01, 1.0, 6.0, 20.0, 1e3] {
            let expected = thick_ball(58.0, 0.3, 27.0, 27.0 + thickness);
            let found = layered(27.0, &[layer(58.0, thickness)]);
            assert_relative_eq!(found, expected, max_relative = 1e-9);
        }
        // A thin shell: 2 E t / ((1 − ν) a²).
        let thin = layered(27.0, &[layer(58.0, 1e-3)]);
        assert_relative_eq!(thin, 2.0 * 58.0 * 1e-3 / (0.7 * 729.0), max_relative = 1e-3);
    }

    #[test]
    fn bone_without_end_is_the_limit_of_thick_bone() {
        let thick = layered(27.0, &[layer(58.0, 1e5)]);
        assert_relative_eq!(thick, unlimited(58.0, 0.3, 27.0), max_relative = 1e-9);
        assert_relative_eq!(layered(27.0, &[]), 0.0);
    }

    #[test]
    fn a_layer_parted_in_two_is_as_stiff_as_whole() {
        let whole = layered(25.0, &[layer(100.0, 12.0)]);
        let parted = layered(25.0, &[layer(100.0, 5.0), layer(100.0, 7.0)]);
        assert_relative_eq!(whole, parted, max_relative = 1e-12);
    }

    #[test]
    fn a_subchondral_plate_stiffens_and_adds_its_own_thin_shell() {
        let bare = layered(27.0, &[layer(58.0, 1e5)]);
        let plate = layered(27.0, &[layer(1500.0, 0.01), layer(58.0, 1e5)]);
        let shell = 2.0 * 1500.0 * 0.01 / (0.7 * 729.0);
        assert_relative_eq!(plate - bare, shell, max_relative = 0.05);
    }
}
