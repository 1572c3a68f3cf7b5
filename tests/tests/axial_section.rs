//! The axial section of the socket: sector angles against version measured independently.

use approx::assert_abs_diff_eq;
use cupwright_anatomy::AxialSection;

/// Medians of 66 hips, Loskutov 2019 (Trauma, article 178745): AASA 63.5°, PASA 105°.
fn loskutov() -> AxialSection {
    AxialSection {
        anterior: 63.5_f64.to_radians(),
        posterior: 105_f64.to_radians(),
    }
}

#[test]
fn version_and_whole_sector_follow_from_the_walls() {
    assert_abs_diff_eq!(loskutov().anteversion().to_degrees(), 20.75, epsilon = 0.01);
    assert_abs_diff_eq!(
        loskutov().horizontal_sector().to_degrees(),
        168.5,
        epsilon = 0.01
    );
}

#[test]
fn the_walls_of_one_study_have_the_version_of_another() {
    // Köhnlein 2009, Clin Orthop Relat Res 467:682: version of the opening plane 21 ± 5° (66 sockets),
    // assumed here to be axial. Loskutov prints HASA 166°, the median of sums, not the sum of medians.
    assert_abs_diff_eq!(loskutov().anteversion().to_degrees(), 21.0, epsilon = 3.0);
    assert_abs_diff_eq!(
        loskutov().horizontal_sector().to_degrees(),
        166.0,
        epsilon = 3.0
    );
}
