//! What the studies' commands share: the case with its bone, limits, ranges, and how results are delivered.

pub(crate) mod increments;
pub(crate) mod map;
pub(crate) mod place;
pub(crate) mod scatter;
pub(crate) mod sensitivity;

use std::fs;
use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::Context;
use clap::{Args, ValueEnum};
use cupwright_anatomy::{PublishedZone, Zone};
use cupwright_procedure::case::Limits;
use cupwright_procedure::{Bone, Case, CaseFile, Instruments};
use cupwright_report::study::{Subject, Told, write_document, write_folder, write_report};
use cupwright_study::{Evaluator, Limit, Measure, Variable};

use crate::console::Console;
use crate::tool::Share;

/// What every study is asked.
#[derive(Args, Debug)]
pub(crate) struct Common {
    /// The case file (RON); its plan is what the study is about
    case: PathBuf,
    /// Folder to write the report, tables and figures to; made where it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

/// Limits, in place of those of the case.
#[derive(Args, Debug, Default)]
pub(crate) struct LimitArguments {
    /// Least coverage of the cup, 0 to 1
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    min_coverage: Option<Share>,
    /// Least share of the cup's rim in bone, 0 to 1
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true)]
    min_rim_contact: Option<Share>,
    /// Least thickness of any wall behind the cavity
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    min_wall: Option<f64>,
    /// Least that the cup is larger than the last reamer cut
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    min_interference: Option<f64>,
    /// Most that the cup's edge may stand proud of bone
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    max_overhang: Option<f64>,
    /// Farthest that the hip centre may move
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    max_centre_shift: Option<f64>,
    /// Most bone that may be removed
    #[arg(long, value_name = "MM3", allow_hyphen_values = true)]
    max_removed: Option<f64>,
    /// Zone that the cup must face into: lewinnek, callanan or yoon as published (radiographic angles), or
    /// inclination and anteversion in the case's own definition, as in 35..45/10..20
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
}

/// A case, its bone and its instruments.
pub(crate) struct Loaded {
    pub(crate) file: CaseFile,
    pub(crate) case: Case,
    pub(crate) bone: Bone,
    pub(crate) instruments: Instruments,
}

impl Common {
    /// The case of the arguments with its bone.
    pub(crate) fn load(&self, console: &Console) -> anyhow::Result<Loaded> {
        let named = || self.case.display().to_string();
        let file = CaseFile::read(&self.case)?;
        let case = file.check().with_context(named)?;
        let folder = self.folder();
        let instruments = Instruments::of_case(&case, folder).with_context(named)?;
        let bone = console.working("preparing the bone", || Bone::of_case(&case, folder));
        Ok(Loaded {
            file,
            case,
            bone: bone.with_context(named)?,
            instruments,
        })
    }

    /// The folder that the case's paths are relative to.
    fn folder(&self) -> &Path {
        self.case.parent().unwrap_or(Path::new("."))
    }

    /// Writes the files first, so that they are there even where nobody reads the output to its end; prints
    /// even where they cannot be written.
    pub(crate) fn deliver(
        &self,
        study: &dyn Told,
        loaded: &Loaded,
        console: &mut Console,
    ) -> anyhow::Result<()> {
        let subject = Subject::new(&loaded.case, &loaded.bone);
        let written = self.write(study, &subject, console);
        if self.json {
            write_document(&mut console.out, study, &subject)?;
        } else {
            let style = console.style;
            write_report(&mut console.out, study, &subject, style)?;
        }
        written
    }

    fn write(
        &self,
        study: &dyn Told,
        subject: &Subject,
        console: &mut Console,
    ) -> anyhow::Result<()> {
        let Some(folder) = &self.out else {
            return Ok(());
        };
        let files = write_folder(folder, study, subject)?;
        console.wrote(&files, folder);
        Ok(())
    }
}

impl Loaded {
    /// The case and its bone, to be asked at many settings.
    pub(crate) fn evaluator(&self) -> anyhow::Result<Evaluator> {
        Ok(Evaluator::new(&self.file, &self.bone)?)
    }
}

impl LimitArguments {
    /// The limits of the arguments, and those of the case that the arguments leave alone.
    pub(crate) fn limits(&self, loaded: &Loaded) -> anyhow::Result<Vec<Limit>> {
        let case = &loaded.file.limits;
        let share = |share: Option<Share>| share.map(|share| share.0);
        let mut file = loaded.file.clone();
        file.limits = Limits {
            min_coverage: share(self.min_coverage).or(case.min_coverage),
            min_rim_contact: share(self.min_rim_contact).or(case.min_rim_contact),
            min_wall_mm: self.min_wall.or(case.min_wall_mm),
            max_overhang_mm: self.max_overhang.or(case.max_overhang_mm),
            max_centre_shift_mm: self.max_centre_shift.or(case.max_centre_shift_mm),
            max_removed_mm3: self.max_removed.or(case.max_removed_mm3),
        };
        file.check()?;
        let mut limits = Limit::of_case(&file.limits);
        if let Some(least) = self.min_interference {
            anyhow::ensure!(
                least.is_finite(),
                "--min-interference must be a number of mm"
            );
            limits.push(Limit::AtLeast(Measure::Interference, least));
        }
        if let Some(name) = &self.zone {
            limits.push(zone(name, &loaded.case)?);
        }
        Ok(limits)
    }
}

fn zone(name: &str, case: &Case) -> anyhow::Result<Limit> {
    let published = PublishedZone::ALL.into_iter().find(|zone| {
        let full = zone.to_string().to_lowercase();
        full.split(' ').next() == Some(name.to_lowercase().as_str())
    });
    if let Some(published) = published {
        return Ok(Limit::Inside(
            published.zone(),
            format!("the zone of {published}"),
        ));
    }
    let parts: Vec<_> = name.split('/').map(str::parse::<Ends>).collect();
    let [Ok(inclination), Ok(anteversion)] = parts[..] else {
        anyhow::bail!(
            "'{name}' is no zone; give lewinnek, callanan or yoon, or two ranges as in 35..45/10..20"
        );
    };
    let radians = |Ends([least, most]): Ends| least.to_radians()..=most.to_radians();
    let zone = Zone::new(case.definition, radians(inclination), radians(anteversion))?;
    Ok(Limit::Inside(
        zone,
        format!("{name}° ({})", case.definition),
    ))
}

/// Two ends of a range: `A..B`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ends(pub(crate) [f64; 2]);

impl FromStr for Ends {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let slip = || format!("'{text}' is no range; write it as in 30..50");
        let (least, most) = text.split_once("..").ok_or_else(slip)?;
        let ends = [number(least)?, number(most)?];
        if ends[0] < ends[1] {
            Ok(Self(ends))
        } else {
            Err(slip())
        }
    }
}

/// A variable and what is said of it: `NAME=TEXT`.
pub(crate) fn of_variable(text: &str) -> Result<(Variable, &str), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| format!("'{text}' lacks its '='; write it as in inclination=30..50"))?;
    Ok((variable(name)?, value))
}

fn variable(name: &str) -> Result<Variable, String> {
    Variable::named(name.trim()).ok_or_else(|| {
        let names: Vec<_> = Variable::ALL.map(Variable::name).into();
        format!(
            "'{name}' is nothing that changes; give one of {}",
            names.join(", ")
        )
    })
}

/// A measure by its name.
pub(crate) fn measure(name: &str) -> Result<Measure, String> {
    Measure::named(name.trim()).ok_or_else(|| {
        let all = Measure::ALL.into_iter().chain(Measure::WALLS);
        let names: Vec<_> = all.map(Measure::name).collect();
        format!(
            "'{name}' is nothing that is measured; give some of {}",
            names.join(", ")
        )
    })
}

/// A finite number.
pub(crate) fn number(text: &str) -> Result<f64, String> {
    let parsed: Option<f64> = text.trim().parse().ok();
    parsed
        .filter(|n| n.is_finite())
        .ok_or_else(|| format!("'{text}' is not a finite number"))
}

/// A place as a path that holds from any folder; itself where there is nothing.
pub(crate) fn absolute(path: &Path) -> String {
    fs::canonicalize(path).map_or_else(
        |_| path.display().to_string(),
        |whole| whole.display().to_string(),
    )
}

/// How the reamer is held, as an argument.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum TechniqueArgument {
    /// Pushed straight in
    Straight,
    /// Led round while it cuts
    Rotating,
}

/// A posture, as an argument.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum PostureArgument {
    /// Lying on the back
    Supine,
    /// Standing
    Standing,
    /// Seated and about to rise
    Seated,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_names_are_read_and_slips_told() {
        assert_eq!("30..50".parse::<Ends>(), Ok(Ends([30.0, 50.0])));
        assert_eq!("-5..-1.5".parse::<Ends>(), Ok(Ends([-5.0, -1.5])));
        for bad in ["", "30", "50..30", "30..30", "a..b", "0..inf"] {
            assert!(bad.parse::<Ends>().is_err(), "{bad}");
        }
        assert_eq!(of_variable("depth=1..2"), Ok((Variable::Depth, "1..2")));
        assert!(of_variable("depth").unwrap_err().contains("lacks its '='"));
        assert!(of_variable("width=1").unwrap_err().contains("cup-diameter"));
        assert_eq!(measure("medial-wall").map(Measure::name), Ok("medial-wall"));
        assert!(measure("beauty").unwrap_err().contains("rim-contact"));
    }
}
