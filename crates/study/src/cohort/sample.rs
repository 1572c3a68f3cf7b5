//! Pelves drawn from published means and standard deviations, each from its number alone.
//!
//! A member's numbers depend on the seed and its index and on nothing else: its own stream of
//! `ChaCha8`, whose key begins with the seed, read in a fixed order. What is not drawn comes from the
//! preset of its sex. Numbers are drawn independently of each other except where a source gives a
//! relation, and are clipped to what the model can make; how many were is told.

use std::f64::consts::TAU;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::{BadShape, PARAMETERS, Preset, Shape};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::Serialize;

/// A mean and a standard deviation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Normal {
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub deviation: f64,
}

/// A number of the synthetic pelvis that is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Drawn {
    /// The parameter of [`Shape`], in the unit of its name.
    pub name: &'static str,
    /// In men.
    pub male: Normal,
    /// In women.
    pub female: Normal,
    /// Who published it.
    pub source: &'static str,
}

/// How the rest is had from what is drawn, for the reader of a manifest.
pub const RELATIONS: [(&str, &str); 6] = [
    ("sex and side", "half and half; assumed"),
    (
        "crest_width_mm",
        "as much wider than asis_width_mm as in the preset; assumed",
    ),
    (
        "hip_spacing_mm",
        "2 (0.33 asis_width_mm + 7.3) and twice a deviate of 3.22 mm: Harrington 2007, J Biomech 40:595, \
         regression and leave-one-out error, from code that cites it",
    ),
    (
        "hip_behind_mm",
        "the preset's and a deviate of 5.24 mm: Harrington 2007, leave-one-out error",
    ),
    (
        "hip_below_mm",
        "the preset's times app_height_mm over the preset's, after Seidel 1995 (a share of the pelvic \
         height), and a deviate of 3.58 mm: Harrington 2007, leave-one-out error",
    ),
    (
        "rim_*_deg",
        "all the preset's moved by one deviate of 4 degrees: half angle of the socket's opening 87 +- 4, \
         normal hips, Clin Orthop Relat Res, PMC2895857",
    ),
];

/// Deviation of half the socket's opening angle, in degrees: normal hips, PMC2895857.
const RIM_DEVIATION: f64 = 4.0;

/// Leave-one-out errors of the hip centre, in mm: forward, up, lateral. Harrington 2007, J Biomech
/// 40:595, from code that cites it.
const HIP_ERRORS: [f64; 3] = [5.24, 3.58, 3.22];

/// What is drawn, in the order in which it is.
pub const DRAWN: [Drawn; 9] = [
    drawn(
        "asis_width_mm",
        [238.0, 20.1],
        [238.0, 20.1],
        "Augustine 2018, Clin Anat, doi 10.1002/ca.23273, 135 pelves, no difference between the sexes",
    ),
    drawn(
        "app_height_mm",
        [92.7, 10.5],
        [92.7, 10.5],
        "Augustine 2018, Clin Anat, doi 10.1002/ca.23273, 135 pelves, no difference between the sexes",
    ),
    drawn(
        "socket_diameter_mm",
        [52.86, 3.89],
        [46.5, 4.6],
        "men: J Neonatal Surg 14(8) 2025, doi 10.63682/jns.v14i8.6870, 56 dry bones of both sexes, vertical; \
         women: 'How are dysplastic hips different', CORR 2014/15, normal hips",
    ),
    drawn(
        "fossa_length_mm",
        [35.1, 2.6],
        [32.0, 2.6],
        "J Neonatal Surg 14(8) 2025, doi 10.63682/jns.v14i8.6870, 56 dry bones: 28.3 +- 2.8 x 35.1 +- 2.6; \
         women's mean scaled by the socket, assumed",
    ),
    drawn(
        "fossa_width_mm",
        [28.3, 2.8],
        [25.5, 2.8],
        "as fossa_length_mm",
    ),
    drawn(
        "notch_width_mm",
        [22.14, 4.32],
        [22.14, 4.32],
        "J Neonatal Surg 14(8) 2025, doi 10.63682/jns.v14i8.6870, 56 dry bones, right side",
    ),
    drawn(
        "inclination_deg",
        [53.6, 6.7],
        [53.0, 6.1],
        "Technol Health Care 2010;18:129, doi 10.3233/THC-2010-0575, 336 hips, anterior pelvic plane",
    ),
    drawn(
        "anteversion_deg",
        [21.3, 6.2],
        [24.6, 6.6],
        "Technol Health Care 2010;18:129, doi 10.3233/THC-2010-0575, 336 hips, anterior pelvic plane",
    ),
    drawn(
        "medial_wall_mm",
        [6.13, 1.42],
        [5.42, 1.01],
        "men: Shao 2018, BMC Musculoskelet Disord 19:425, 200 films, both sexes; women: Lu 2021, preprint \
         rs-215044",
    ),
];

/// The parameters that differ from member to member, in the order of their columns.
pub const VARIED: [&str; 13] = [
    "asis_width_mm",
    "app_height_mm",
    "crest_width_mm",
    "hip_spacing_mm",
    "hip_behind_mm",
    "hip_below_mm",
    "socket_diameter_mm",
    "fossa_length_mm",
    "fossa_width_mm",
    "notch_width_mm",
    "inclination_deg",
    "anteversion_deg",
    "medial_wall_mm",
];

/// The rim angles of a [`Shape`], which move together.
const RIM: [&str; 7] = [
    "rim_superior_deg",
    "rim_anterosuperior_deg",
    "rim_anterior_deg",
    "rim_anteroinferior_deg",
    "rim_posteroinferior_deg",
    "rim_posterior_deg",
    "rim_posterosuperior_deg",
];

const fn drawn(
    name: &'static str,
    male: [f64; 2],
    female: [f64; 2],
    source: &'static str,
) -> Drawn {
    Drawn {
        name,
        male: Normal {
            mean: male[0],
            deviation: male[1],
        },
        female: Normal {
            mean: female[0],
            deviation: female[1],
        },
        source,
    }
}

/// A member of a sampled cohort.
#[derive(Clone, Debug, PartialEq)]
pub struct Sampled {
    /// The preset that gives what is not drawn.
    pub preset: Preset,
    /// Which hip.
    pub side: Side,
    /// Its shape.
    pub shape: Shape,
    /// By how much all its rim angles differ from the preset's, in degrees.
    pub rim_deg: f64,
    /// How many of its numbers were clipped to what the model can make.
    pub clipped: usize,
}

/// The random numbers of one member: its own stream, whatever other members draw.
#[derive(Clone, Debug)]
pub struct Stream(ChaCha8Rng);

impl Stream {
    /// That of the member `index`, counted from 0.
    pub fn of(seed: u64, index: u64) -> Self {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        let mut generator = ChaCha8Rng::from_seed(key);
        generator.set_stream(index);
        Self(generator)
    }

    /// The seed of a generator of another kind.
    pub fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// Evenly between 0 and 1, never 0.
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
    pub fn uniform(&mut self) -> f64 {
        ((self.0.next_u64() >> 11) + 1) as f64 * f64::EPSILON / 2.0
    }

    /// Normal of mean 0 and deviation 1, by Box and Muller (1958, Ann Math Stat 29:610).
    pub fn deviate(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (TAU * self.uniform()).cos()
    }
}

/// The member `index`, counted from 0, of the sample that `seed` gives.
///
/// # Errors
/// Never, unless the program was built with a broken preset.
pub fn sampled(seed: u64, index: u64) -> Result<Sampled, BadShape> {
    let mut stream = Stream::of(seed, index);
    let woman = stream.uniform() > 0.5;
    let side = if stream.uniform() > 0.5 {
        Side::Left
    } else {
        Side::Right
    };
    let preset = if woman {
        Preset::AverageFemale
    } else {
        Preset::AverageMale
    };
    let mut draft = Draft {
        shape: preset.shape()?,
        clipped: 0,
    };
    let average = draft.shape.clone();
    for number in &DRAWN {
        let Normal { mean, deviation } = if woman { number.female } else { number.male };
        draft.put(number.name, mean + deviation * stream.deviate())?;
    }
    draft.place_hip(&average, [(); 3].map(|()| stream.deviate()))?;
    let rim_deg = RIM_DEVIATION * stream.deviate();
    draft.move_rim(rim_deg)?;
    Ok(Sampled {
        preset,
        side,
        shape: draft.shape,
        rim_deg,
        clipped: draft.clipped,
    })
}

/// A shape being put together.
struct Draft {
    shape: Shape,
    clipped: usize,
}

impl Draft {
    /// Sets a number, clipped to its own range and to what the numbers set before it allow.
    fn put(&mut self, name: &str, value: f64) -> Result<(), BadShape> {
        let [least, most] = self.limits(name);
        let kept = value.max(least).min(most);
        self.clipped += usize::from(kept.to_bits() != value.to_bits());
        self.shape.set(name, kept)
    }

    /// What a number may be beside those set before it.
    fn limits(&self, name: &str) -> [f64; 2] {
        let range = PARAMETERS.iter().find(|p| p.name == name);
        let [mut least, mut most] = range.map_or([f64::MIN, f64::MAX], |p| [p.least, p.most]);
        let shape = &self.shape;
        // The pairs of Shape::check, each read in the order in which the numbers are set.
        let narrower = match name {
            "socket_diameter_mm" => [least, 0.5 * (shape.asis_width_mm - 61.0)],
            "fossa_width_mm" => [least, 0.66 * shape.socket_diameter_mm],
            "fossa_length_mm" => [least, 0.8 * shape.socket_diameter_mm],
            "notch_width_mm" => [least, 0.56 * shape.socket_diameter_mm],
            "crest_width_mm" => [shape.asis_width_mm, shape.asis_width_mm + 70.0],
            "hip_spacing_mm" => [
                (2.0 * shape.socket_diameter_mm + 36.0).max(shape.asis_width_mm - 110.0),
                shape.asis_width_mm - 25.0,
            ],
            "hip_below_mm" => [shape.app_height_mm - 35.0, shape.app_height_mm + 5.0],
            _ => [least, most],
        };
        least = least.max(narrower[0]);
        most = most.min(narrower[1]);
        [least, most]
    }

    /// Crest and hip centre beside what is drawn, with deviates for how far the hip centre lies
    /// forward, up and lateral of where it is expected.
    fn place_hip(&mut self, average: &Shape, deviates: [f64; 3]) -> Result<(), BadShape> {
        let [forward, up, lateral]: [f64; 3] = std::array::from_fn(|k| HIP_ERRORS[k] * deviates[k]);
        let (width, height) = (self.shape.asis_width_mm, self.shape.app_height_mm);
        let flare = average.crest_width_mm - average.asis_width_mm;
        self.put("crest_width_mm", width + flare)?;
        self.put("hip_spacing_mm", 2.0 * (0.33 * width + 7.3 + lateral))?;
        self.put("hip_behind_mm", average.hip_behind_mm - forward)?;
        let below = average.hip_below_mm * height / average.app_height_mm;
        self.put("hip_below_mm", below - up)
    }

    fn move_rim(&mut self, by: f64) -> Result<(), BadShape> {
        let values = self.shape.values();
        for (parameter, value) in PARAMETERS.iter().zip(values) {
            if RIM.contains(&parameter.name) {
                self.put(parameter.name, value + by)?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn many() -> impl Iterator<Item = Sampled> {
        (0..4000).map(|index| sampled(7, index).unwrap())
    }

    /// Mean and standard deviation.
    fn spread(values: &[f64]) -> (f64, f64) {
        let n = f64::from(u32::try_from(values.len()).unwrap());
        let mean = values.iter().sum::<f64>() / n;
        let square = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>();
        (mean, (square / (n - 1.0)).sqrt())
    }

    #[test]
    fn a_member_is_the_same_whoever_draws_it_and_differs_from_its_neighbour_and_by_seed() {
        let member = sampled(7, 12).unwrap();
        assert_eq!(many().nth(12), Some(member.clone()));
        assert_ne!(sampled(7, 13).unwrap().shape, member.shape);
        assert_ne!(sampled(8, 12).unwrap().shape, member.shape);
    }

    #[test]
    fn every_member_is_a_possible_shape() {
        for (k, member) in many().enumerate() {
            assert_eq!(member.shape.check(), Ok(()), "member {k}");
        }
    }

    // Augustine 2018: 238.0 and 20.1, 92.7 and 10.5; within three standard errors of 4000 draws, the
    // deviation a little less since the ends are clipped.
    #[test]
    fn widths_and_heights_have_the_published_means_and_deviations() {
        let (mean, deviation) = spread(&many().map(|m| m.shape.asis_width_mm).collect::<Vec<_>>());
        assert_relative_eq!(mean, 238.0, epsilon = 1.0);
        assert_relative_eq!(deviation, 20.1, epsilon = 0.7);
        let (mean, deviation) = spread(&many().map(|m| m.shape.app_height_mm).collect::<Vec<_>>());
        assert_relative_eq!(mean, 92.7, epsilon = 0.5);
        assert_relative_eq!(deviation, 10.5, epsilon = 0.4);
    }

    #[test]
    fn women_have_the_smaller_sockets_and_the_greater_anteversion() {
        let (women, men): (Vec<_>, Vec<_>) =
            many().partition(|m| m.preset == Preset::AverageFemale);
        let share = women.len() * 100 / (women.len() + men.len());
        assert!((47..=53).contains(&share), "{share} % women");
        let of = |group: &[Sampled], number: fn(&Shape) -> f64| {
            spread(&group.iter().map(|m| number(&m.shape)).collect::<Vec<_>>()).0
        };
        assert_relative_eq!(of(&women, |s| s.socket_diameter_mm), 46.5, epsilon = 0.4);
        assert_relative_eq!(of(&men, |s| s.socket_diameter_mm), 52.86, epsilon = 0.4);
        assert_relative_eq!(of(&women, |s| s.anteversion_deg), 24.6, epsilon = 0.5);
        assert_relative_eq!(of(&men, |s| s.anteversion_deg), 21.3, epsilon = 0.5);
    }

    #[test]
    fn few_numbers_are_clipped() {
        // Twenty numbers a member are set.
        let clipped: usize = many().map(|m| m.clipped).sum();
        assert!(clipped < 4000, "{clipped} of 80,000");
    }

    // Of a rim that moves by 4 degrees the lowest place, 21 below the hemisphere, is never clipped.
    #[test]
    fn the_rim_moves_as_one() {
        let average = Preset::AverageMale.shape().unwrap();
        let member = many().find(|m| m.preset == Preset::AverageMale).unwrap();
        for number in [
            |s: &Shape| s.rim_superior_deg,
            |s: &Shape| s.rim_posterosuperior_deg,
        ] {
            assert_relative_eq!(
                number(&member.shape) - number(&average),
                member.rim_deg,
                epsilon = 1e-12
            );
        }
    }

    #[test]
    fn normal_deviates_are_normal() {
        let mut stream = Stream::of(1, 0);
        let values: Vec<f64> = (0..100_000).map(|_| stream.deviate()).collect();
        let (mean, deviation) = spread(&values);
        assert!(
            mean.abs() < 0.01 && (deviation - 1.0).abs() < 0.01,
            "{mean} {deviation}"
        );
        let beyond = values.iter().filter(|v| v.abs() > 1.96).count();
        assert!((4750..=5250).contains(&beyond), "{beyond} of 100,000");
    }
}
