//! Ready-made shapes, each a file of numbers with their sources.

use serde::Deserialize;

use super::shape::{BadShape, PARAMETERS, Shape};

/// A ready-made shape.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Preset {
    /// An average man.
    AverageMale,
    /// An average woman.
    AverageFemale,
    /// A shallow socket, slightly subluxated.
    Shallow1,
    /// A shallow socket, half way out.
    Shallow2,
    /// A shallow socket with hardly an anterior wall.
    Shallow3,
    /// A deep socket with a thin floor.
    Deep,
    /// A socket that faces backwards.
    Retroverted,
    /// A socket that lacks its anterior wall.
    AnteriorDeficient,
    /// A socket that lacks its posterior wall.
    PosteriorDeficient,
    /// A small woman.
    Small,
    /// A large man.
    Large,
    /// A worn joint with osteophytes on rim and floor.
    Worn,
}

/// A number of a preset and where it comes from.
#[derive(Clone, Debug, Deserialize, PartialEq)]
#[serde(deny_unknown_fields)]
pub struct Sourced {
    /// The parameter of [`Shape`].
    pub name: String,
    /// Its value, in the unit that its name states.
    pub value: f64,
    /// The publication, or "assumed" with the reason.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(rename = "Preset", deny_unknown_fields)]
struct File {
    describes: String,
    based_on: Option<String>,
    values: Vec<Sourced>,
}

impl Preset {
    /// All presets, the default first.
    pub const ALL: [Self; 12] = [
        Self::AverageMale,
        Self::AverageFemale,
        Self::Shallow1,
        Self::Shallow2,
        Self::Shallow3,
        Self::Deep,
        Self::Retroverted,
        Self::AnteriorDeficient,
        Self::PosteriorDeficient,
        Self::Small,
        Self::Large,
        Self::Worn,
    ];

    /// Its name on the command line and in case files.
    pub fn name(self) -> &'static str {
        self.entry().0
    }

    /// The preset of that name.
    ///
    /// # Errors
    /// When there is none; the error lists the names there are.
    pub fn named(name: &str) -> Result<Self, BadShape> {
        let known = || Self::ALL.map(Self::name).join(", ");
        Self::ALL
            .into_iter()
            .find(|p| p.name() == name)
            .ok_or_else(|| BadShape::UnknownPreset {
                name: name.to_owned(),
                known: known(),
            })
    }

    /// What it is, in one line.
    ///
    /// # Errors
    /// When the preset's file cannot be read.
    pub fn description(self) -> Result<String, BadShape> {
        Ok(self.file()?.describes)
    }

    /// Its own numbers with their sources; the rest come from the preset it is based on, if any.
    ///
    /// # Errors
    /// When the preset's file cannot be read.
    pub fn numbers(self) -> Result<(Option<Self>, Vec<Sourced>), BadShape> {
        let file = self.file()?;
        let base = file.based_on.as_deref().map(Self::named).transpose()?;
        Ok((base, file.values))
    }

    /// Its shape.
    ///
    /// # Errors
    /// When the preset's file cannot be read, or a number in it is missing or out of range.
    pub fn shape(self) -> Result<Shape, BadShape> {
        let (base, numbers) = self.numbers()?;
        let mut shape = base.map_or(Ok(Shape::UNSET), Self::shape)?;
        for number in &numbers {
            shape.set(&number.name, number.value)?;
        }
        let missing = PARAMETERS
            .iter()
            .zip(shape.values())
            .find(|(_, value)| value.is_nan());
        if let Some((parameter, _)) = missing {
            return Err(self.bad(format!("it lacks {}", parameter.name)));
        }
        Ok(shape)
    }

    fn file(self) -> Result<File, BadShape> {
        ron::from_str(self.entry().1).map_err(|e| self.bad(e.to_string()))
    }

    fn bad(self, problem: String) -> BadShape {
        BadShape::BadPreset {
            name: self.name(),
            problem,
        }
    }

    fn entry(self) -> (&'static str, &'static str) {
        macro_rules! entry {
            ($name:literal) => {
                (
                    $name,
                    include_str!(concat!("../../../../assets/pelvis/", $name, ".ron")),
                )
            };
        }
        match self {
            Self::AverageMale => entry!("average-male"),
            Self::AverageFemale => entry!("average-female"),
            Self::Shallow1 => entry!("shallow-1"),
            Self::Shallow2 => entry!("shallow-2"),
            Self::Shallow3 => entry!("shallow-3"),
            Self::Deep => entry!("deep"),
            Self::Retroverted => entry!("retroverted"),
            Self::AnteriorDeficient => entry!("anterior-deficient"),
            Self::PosteriorDeficient => entry!("posterior-deficient"),
            Self::Small => entry!("small"),
            Self::Large => entry!("large"),
            Self::Worn => entry!("worn"),
        }
    }
}

impl Shape {
    /// The shape of the preset called `name`.
    ///
    /// # Errors
    /// When there is no such preset, or its file cannot be read.
    pub fn preset(name: &str) -> Result<Self, BadShape> {
        Preset::named(name)?.shape()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_preset_reads_and_is_a_possible_shape() {
        for preset in Preset::ALL {
            let shape = preset.shape();
            assert_eq!(shape.and_then(|s| s.check()), Ok(()), "{}", preset.name());
            assert_eq!(Preset::named(preset.name()), Ok(preset));
        }
    }

    #[test]
    fn a_preset_changes_only_the_numbers_of_its_file() {
        let (base, numbers) = Preset::Deep.numbers().unwrap();
        assert_eq!(base, Some(Preset::AverageMale));
        let mut shape = Preset::AverageMale.shape().unwrap();
        for number in numbers {
            shape.set(&number.name, number.value).unwrap();
        }
        assert_eq!(Preset::Deep.shape(), Ok(shape));
    }
}
