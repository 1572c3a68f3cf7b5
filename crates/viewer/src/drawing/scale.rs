//! Colour scales for numbers on a surface: even to the eye, and told apart by the colour-blind.

use bevy::color::{ColorToComponents, Srgba};
use colorgrad::Gradient;

/// A scale from one number to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// What is shown.
    pub title: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// The number at the dark end; what is below has the same colour.
    pub dark: f64,
    /// The number at the light end; what is above has the same colour.
    pub light: f64,
    /// Steps for the labels.
    pub step: f64,
    /// What the colour of places without a number means.
    pub without: &'static str,
}

/// Places without a number: the screen's red, green, blue.
const WITHOUT: [u8; 3] = [178, 178, 182];

impl Scale {
    /// How far a number lies from the dark end to the light, 0 to 1.
    fn share(&self, value: f64) -> f64 {
        ((value - self.dark) / (self.light - self.dark)).clamp(0.0, 1.0)
    }

    /// The screen's red, green and blue for a number, 0 to 255.
    pub fn rgb(&self, value: f64) -> [u8; 3] {
        // Viridis: evenly light from end to end, and in grey as well.
        let [r, g, b, _] = colorgrad::preset::viridis()
            .at(crate::scene::ground::single(self.share(value)))
            .to_rgba8();
        [r, g, b]
    }

    /// The colour of a number in linear red, green, blue.
    pub(crate) fn linear(&self, value: f64) -> [f32; 3] {
        let [r, g, b] = self.rgb(value);
        linear([r, g, b])
    }

    /// The screen's red, green and blue for places without a number.
    pub fn without_rgb(&self) -> [u8; 3] {
        WITHOUT
    }

    /// The colour of places without a number in linear red, green, blue.
    pub(crate) fn without_linear(&self) -> [f32; 3] {
        linear(WITHOUT)
    }

    /// The numbers to print beside the scale, from the dark end to the light.
    pub fn labels(&self) -> Vec<f64> {
        let (low, high) = (self.dark.min(self.light), self.dark.max(self.light));
        let mut labels = Vec::new();
        let mut value = (low / self.step).ceil() * self.step;
        while value <= high + 1e-9 && labels.len() < 50 {
            labels.push(value);
            value += self.step;
        }
        if self.dark > self.light {
            labels.reverse();
        }
        labels
    }
}

/// A screen colour in linear red, green, blue.
pub(crate) fn linear([r, g, b]: [u8; 3]) -> [f32; 3] {
    bevy::color::LinearRgba::from(Srgba::rgb_u8(r, g, b)).to_f32_array_no_alpha()
}

#[cfg(test)]
mod tests {
    use super::*;

    const WALL: Scale = Scale {
        title: "wall left",
        unit: "mm",
        dark: 10.0,
        light: 0.0,
        step: 2.0,
        without: "no bone",
    };

    fn lightness(rgb: [u8; 3]) -> f64 {
        let [r, g, b] = linear(rgb).map(f64::from);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    #[test]
    fn the_scale_gets_lighter_all_the_way_to_its_light_end() {
        let shades: Vec<_> = (0..=20)
            .map(|k| lightness(WALL.rgb(10.0 - 0.5 * f64::from(k))))
            .collect();
        assert!(shades.is_sorted(), "{shades:?}");
        assert!(shades[20] > 5.0 * shades[0]);
        assert_eq!(WALL.rgb(12.0), WALL.rgb(10.0));
        assert_eq!(WALL.rgb(-1.0), WALL.rgb(0.0));
    }

    #[test]
    fn labels_run_from_the_dark_end_to_the_light_end() {
        assert_eq!(WALL.labels(), [10.0, 8.0, 6.0, 4.0, 2.0, 0.0]);
    }
}
