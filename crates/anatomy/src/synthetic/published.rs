//! Measured values beside those in print.

use super::Measures;
use crate::hip_centre::Sex;
use crate::{Source, Trust};

/// A measured value, the band in print, and who printed it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// What was measured, with its unit.
    pub name: &'static str,
    /// The value.
    pub value: f64,
    /// Lower end of the band.
    pub least: f64,
    /// Upper end of the band.
    pub most: f64,
    /// What the band is: mean and one standard deviation, a range, or a tolerance.
    pub band: &'static str,
    /// Where it was published.
    pub source: Source,
}

impl Finding {
    /// Whether the value lies in the band.
    pub fn agrees(&self) -> bool {
        (self.least..=self.most).contains(&self.value)
    }
}

/// What a band is, and its ends.
#[derive(Clone, Copy)]
enum Band {
    /// Mean and standard deviation.
    Deviation(f64, f64),
    /// The range in print.
    Range(f64, f64),
    /// A value in print and the distance from it that the printed precision and the way of measuring
    /// justify; assumed.
    About(f64, f64),
}

impl Measures {
    /// The values that have a published counterpart, each beside it; lengths in mm, angles in degrees.
    pub fn beside_published(&self, sex: Sex) -> Vec<Finding> {
        let mut findings = self.pelvis_findings();
        findings.extend(self.socket_findings(sex));
        findings.extend(self.coverage_findings());
        findings
    }

    fn pelvis_findings(&self) -> Vec<Finding> {
        let (harrington, bell) = (self.from_harrington, self.from_bell);
        let augustine = "Augustine 2018, Clin Anat, doi 10.1002/ca.23273, 135 pelves";
        let regression = "Harrington 2007, J Biomech 40:595, leave-one-out error";
        vec![
            read(
                "ASIS width, mm",
                self.asis_width,
                Band::Deviation(238.0, 20.1),
                augustine,
            ),
            read(
                "APP height, mm",
                self.app_height,
                Band::Deviation(92.7, 10.5),
                augustine,
            ),
            read(
                "ASIS width / APP height",
                self.asis_width / self.app_height,
                Band::Deviation(2.59, 0.31),
                augustine,
            ),
            in_code(
                "hip centre forward of Harrington, mm",
                harrington.x,
                Band::About(0.0, 5.24),
                regression,
            ),
            in_code(
                "hip centre above Harrington, mm",
                harrington.y,
                Band::About(0.0, 3.58),
                regression,
            ),
            in_code(
                "hip centre lateral of Harrington, mm",
                harrington.z,
                Band::About(0.0, 3.22),
                regression,
            ),
            read(
                "hip centre from Bell, mm",
                bell.norm(),
                Band::Range(0.0, 33.0),
                "Bell 1989, abstract: 95 % within 33 mm",
            ),
            in_code(
                "hip centres apart, mm",
                2.0 * self.hip_centre.x,
                Band::About(2.0 * (0.33 * self.asis_width + 7.3), 6.44),
                regression,
            ),
        ]
    }

    fn socket_findings(&self, sex: Sex) -> Vec<Finding> {
        let dry = "J Neonatal Surg 14(8) 2025, doi 10.63682/jns.v14i8.6870, 56 dry bones";
        let dysplastic = "How are dysplastic hips different, CORR 2014/15, normal hips, 3-D CT";
        let native = "Technol Health Care 2010;18:129, 336 hips, anterior pelvic plane";
        let (diameter, wide, depth, inclination, anteversion) = match sex {
            Sex::Female => (
                (46.5, 4.6),
                dysplastic,
                (23.6, 4.0),
                (53.0, 6.1),
                (24.6, 6.6),
            ),
            Sex::Male => ((52.86, 3.89), dry, (25.0, 4.3), (53.6, 6.7), (21.3, 6.2)),
        };
        let deviation = |(mean, deviation)| Band::Deviation(mean, deviation);
        vec![
            read(
                "socket diameter, mm",
                self.socket_diameter,
                deviation(diameter),
                wide,
            ),
            read("depth, mm", self.depth, deviation(depth), dysplastic),
            read(
                "notch width, mm",
                self.notch_width,
                Band::Deviation(22.14, 4.32),
                dry,
            ),
            read(
                "inclination of the rim plane, anatomic, deg",
                self.inclination.to_degrees(),
                deviation(inclination),
                native,
            ),
            read(
                "anteversion of the rim plane, anatomic, deg",
                self.anteversion.to_degrees(),
                deviation(anteversion),
                native,
            ),
            read(
                "teardrop, mm",
                self.teardrop,
                Band::Deviation(6.13, 1.42),
                "Shao 2018, BMC Musculoskelet Disord 19:425, 200 films",
            ),
            read(
                "lunate area, cm2",
                0.01 * self.lunate_area,
                Band::Range(14.5, 30.5),
                "Govsa 2005, Arch Orthop Trauma Surg 125:453, 226 bones",
            ),
        ]
    }

    fn coverage_findings(&self) -> Vec<Finding> {
        let kohnlein = "Koehnlein 2009, CORR 467:682, 66 sockets";
        let loskutov = "Loskutov 2019, 66 hips, axial CT";
        vec![
            read(
                "lateral centre-edge angle, deg",
                self.lateral_centre_edge.to_degrees(),
                Band::Range(23.0, 33.0),
                "Tannast 2015, CORR 473:1234",
            ),
            read(
                "anterior sector angle, deg",
                self.anterior_sector.to_degrees(),
                Band::About(63.5, 6.5),
                loskutov,
            ),
            read(
                "posterior sector angle, deg",
                self.posterior_sector.to_degrees(),
                Band::About(105.0, 5.0),
                loskutov,
            ),
            read(
                "horizontal sector angle, deg",
                self.horizontal_sector().to_degrees(),
                Band::About(166.0, 5.0),
                loskutov,
            ),
            read(
                "anterior trough of the rim, deg",
                self.anterior_trough.to_degrees(),
                Band::About(9.0, 2.0),
                kohnlein,
            ),
            read(
                "posterosuperior trough of the rim, deg",
                self.posterosuperior_trough.to_degrees(),
                Band::About(21.0, 2.0),
                kohnlein,
            ),
        ]
    }
}

fn read(name: &'static str, value: f64, band: Band, citation: &'static str) -> Finding {
    finding(name, value, band, citation, Trust::Read)
}

fn in_code(name: &'static str, value: f64, band: Band, citation: &'static str) -> Finding {
    finding(name, value, band, citation, Trust::ReadInCode)
}

fn finding(
    name: &'static str,
    value: f64,
    band: Band,
    citation: &'static str,
    trust: Trust,
) -> Finding {
    let (least, most, band) = match band {
        Band::Deviation(mean, deviation) => (
            mean - deviation,
            mean + deviation,
            "mean and one standard deviation",
        ),
        Band::Range(least, most) => (least, most, "range"),
        Band::About(value, tolerance) => {
            (value - tolerance, value + tolerance, "value and tolerance")
        }
    };
    Finding {
        name,
        value,
        least,
        most,
        band,
        source: Source { citation, trust },
    }
}
