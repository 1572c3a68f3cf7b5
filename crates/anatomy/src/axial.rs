//! How far the two walls reach around the head in the axial section through its centre.

/// Anterior and posterior acetabular sector angles, in radians.
///
/// Each lies between the line that joins the two head centres, taken toward the midline, and the line
/// from the head centre to the edge of that wall.
///
/// ```
/// use cupwright_anatomy::AxialSection;
/// let section = AxialSection { anterior: 63.5_f64.to_radians(), posterior: 105_f64.to_radians() };
/// assert!((section.anteversion().to_degrees() - 20.75).abs() < 1e-9);
/// assert!((section.horizontal_sector().to_degrees() - 168.5).abs() < 1e-9);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxialSection {
    /// The anterior acetabular sector angle (AASA).
    pub anterior: f64,
    /// The posterior acetabular sector angle (PASA).
    pub posterior: f64,
}

impl AxialSection {
    /// The section that has this opening: each wall reaches half the whole sector, less or more the
    /// anteversion.
    pub fn of_opening(opening: AxialOpening) -> Self {
        let half = opening.horizontal_sector / 2.0;
        Self {
            anterior: half - opening.anteversion,
            posterior: half + opening.anteversion,
        }
    }

    /// Anatomic anteversion in this section, in radians: (PASA − AASA) / 2.
    ///
    /// The edge-to-edge line is the chord of the head's circle between the wall edges when both lie on
    /// it, and its normal halves the open angle. Exact for that circle.
    pub fn anteversion(&self) -> f64 {
        (self.posterior - self.anterior) / 2.0
    }

    /// The horizontal acetabular sector angle (HASA), in radians: AASA + PASA.
    pub fn horizontal_sector(&self) -> f64 {
        self.anterior + self.posterior
    }
}

/// Opening of the socket in the axial section, in radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxialOpening {
    /// How far the opening is turned forward from straight lateral.
    pub anteversion: f64,
    /// The angle that both walls together subtend at the head centre.
    pub horizontal_sector: f64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use nalgebra::Vector2;

    #[test]
    fn the_anteversion_is_that_of_the_line_across_the_wall_edges() {
        let section = AxialSection {
            anterior: 1.1,
            posterior: 1.8,
        };
        // Right hip from below: x lateral, y anterior; the midline is toward −x.
        let anterior_edge = Vector2::new(-section.anterior.cos(), section.anterior.sin());
        let posterior_edge = Vector2::new(-section.posterior.cos(), -section.posterior.sin());
        let across = anterior_edge - posterior_edge;
        let facing = Vector2::new(across.y, -across.x);
        assert_abs_diff_eq!(
            facing.y.atan2(facing.x),
            section.anteversion(),
            epsilon = 1e-15
        );
    }

    #[test]
    fn opening_and_sectors_turn_into_each_other() {
        let section = AxialSection {
            anterior: 0.9,
            posterior: 1.7,
        };
        let again = AxialSection::of_opening(AxialOpening {
            anteversion: section.anteversion(),
            horizontal_sector: section.horizontal_sector(),
        });
        assert_abs_diff_eq!(again.anterior, section.anterior, epsilon = 1e-15);
        assert_abs_diff_eq!(again.posterior, section.posterior, epsilon = 1e-15);
    }
}
