//! The manifest: everything that a cohort's rows depend on, beside the rows.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use cupwright_io::{BadTarget, Draft};
use serde::Deserialize;
use serde_json::Value;
use thiserror::Error;

use super::shard::Shard;
use super::table::Column;

/// Its file's name.
pub const FILE: &str = "manifest.json";

/// The version of its form and of the table's.
pub const FORMAT: u64 = 1;

/// Its version of the program.
pub const PROGRAM: &str = concat!("cupwright ", env!("CARGO_PKG_VERSION"));

/// What a cohort's rows depend on.
#[derive(Clone, Debug, PartialEq)]
pub struct Manifest(Value);

/// Why a manifest cannot be had, or is not the one it should be.
#[derive(Debug, Error)]
pub enum BadManifest {
    /// None there.
    #[error("{}: there is no manifest.json in this folder; name a folder that a cohort was written to", .0.display())]
    Missing(PathBuf),
    /// It cannot be read.
    #[error("{}: cannot be read ({cause})", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why not.
        cause: io::Error,
    },
    /// It is no manifest.
    #[error("{}: this is no manifest of a cohort ({problem}); choose another folder", path.display())]
    NotOne {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        problem: String,
    },
    /// The cohort there is another.
    #[error(
        "{}: the cohort in this folder was begun with {place} = {there}, now it is {here}; \
         ask for the same again to go on with it, or choose another folder",
        path.display()
    )]
    Differs {
        /// The file.
        path: PathBuf,
        /// Where they differ.
        place: String,
        /// What it says.
        there: String,
        /// What is asked for.
        here: String,
    },
    /// It cannot be written.
    #[error(transparent)]
    Unwritten(#[from] BadTarget),
}

impl Manifest {
    /// That of these contents.
    pub(super) fn of(content: Value) -> Self {
        Self(content)
    }

    /// The one in `folder`; `None` where there is none.
    ///
    /// # Errors
    /// When it cannot be read or is none.
    pub fn read(folder: &Path) -> Result<Option<Self>, BadManifest> {
        let path = folder.join(FILE);
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(None),
            Err(cause) => return Err(BadManifest::Unreadable { path, cause }),
        };
        let not_one = |problem: String| BadManifest::NotOne {
            path: path.clone(),
            problem,
        };
        let content: Value = serde_json::from_str(&text).map_err(|e| not_one(e.to_string()))?;
        let manifest = Self(content);
        if manifest.0["format"] != FORMAT {
            let found = &manifest.0["format"];
            return Err(not_one(format!(
                "its format is {found}, this program's is {FORMAT}"
            )));
        }
        let whole = manifest.members().is_some() && manifest.shard().is_some();
        if !whole || manifest.columns().is_empty() {
            return Err(not_one("it lacks members, shard or columns".into()));
        }
        Ok(Some(manifest))
    }

    /// Writes it into `folder`.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn write(&self, folder: &Path) -> Result<(), BadManifest> {
        let path = folder.join(FILE);
        let mut draft = Draft::beside(&path)?;
        draft
            .write_all(self.text().as_bytes())
            .map_err(|cause| BadTarget::Refused { path, cause })?;
        Ok(draft.publish()?)
    }

    /// Holds if this one, read from `folder`, is of the same cohort and shard as `asked`.
    ///
    /// # Errors
    /// When it is not; the error tells the first place where they differ.
    pub fn agrees(&self, asked: &Self, folder: &Path) -> Result<(), BadManifest> {
        // As they read back from a file, since the last digit of a number may be lost on that way.
        let asked: Value = serde_json::from_str(&asked.text()).unwrap_or_default();
        let Some((place, there, here)) = difference(&self.0, &asked) else {
            return Ok(());
        };
        Err(BadManifest::Differs {
            path: folder.join(FILE),
            place,
            there,
            here,
        })
    }

    /// What it says.
    pub fn content(&self) -> &Value {
        &self.0
    }

    /// How many members the whole cohort has.
    pub fn members(&self) -> Option<usize> {
        usize::try_from(self.0["members"].as_u64()?).ok()
    }

    /// Which share of it this is.
    pub fn shard(&self) -> Option<Shard> {
        self.0["shard"].as_str()?.parse().ok()
    }

    /// The columns of its table.
    pub fn columns(&self) -> Vec<Column> {
        Vec::deserialize(&self.0["columns"]).unwrap_or_default()
    }

    /// The same of another share.
    #[must_use]
    pub fn with_shard(&self, shard: Shard) -> Self {
        let mut content = self.0.clone();
        content["shard"] = Value::from(shard.to_string());
        Self(content)
    }

    /// Takes over from `other`, of another share of the same cohort, what it knows of its members.
    pub fn learn(&mut self, other: &Self) {
        learn(&mut self.0, &other.0);
    }

    fn text(&self) -> String {
        format!("{:#}\n", self.0)
    }
}

/// Fills what is `null` in `known` from `other`.
fn learn(known: &mut Value, other: &Value) {
    match (known, other) {
        (known @ Value::Null, other) => *known = other.clone(),
        (Value::Array(known), Value::Array(other)) => {
            known.iter_mut().zip(other).for_each(|(k, o)| learn(k, o));
        }
        (Value::Object(known), Value::Object(other)) => {
            for (key, value) in known {
                if let Some(other) = other.get(key) {
                    learn(value, other);
                }
            }
        }
        _ => {}
    }
}

/// The first place where two documents differ, and what either says there.
fn difference(a: &Value, b: &Value) -> Option<(String, String, String)> {
    let below = |key: &str, (place, a, b): (String, String, String)| {
        let joint = if place.is_empty() || place.starts_with('[') {
            ""
        } else {
            "."
        };
        (format!("{key}{joint}{place}"), a, b)
    };
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            let keys = a.keys().chain(b.keys().filter(|key| !a.contains_key(*key)));
            let value = |of: &serde_json::Map<String, Value>, key: &String| {
                of.get(key).cloned().unwrap_or_default()
            };
            keys.filter_map(|key| {
                difference(&value(a, key), &value(b, key)).map(|found| below(key, found))
            })
            .next()
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            a.iter().zip(b).enumerate().find_map(|(k, (a, b))| {
                difference(a, b).map(|found| below(&format!("[{k}]"), found))
            })
        }
        (Value::Array(a), Value::Array(b)) => {
            let told = |list: &[Value]| format!("{} entries", list.len());
            Some((String::new(), told(a), told(b)))
        }
        _ if a == b => None,
        _ => Some((String::new(), a.to_string(), b.to_string())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn manifest() -> Manifest {
        Manifest::of(json!({
            "format": FORMAT,
            "members": 4,
            "shard": "1/2",
            "columns": [{"name": "member", "kind": "count"}],
            "case": {"cup": {"inclination_deg": 40.1, "sizes": [1.0, 2.5]}},
            "source": {"bones": [{"file": "a", "sha256": "x"}, {"file": "b", "sha256": null}]},
        }))
    }

    #[test]
    fn a_manifest_agrees_with_itself_after_a_journey_through_a_file() {
        let folder = tempfile::tempdir().unwrap();
        assert!(Manifest::read(folder.path()).unwrap().is_none());
        manifest().write(folder.path()).unwrap();
        let read = Manifest::read(folder.path()).unwrap().unwrap();
        read.agrees(&manifest(), folder.path()).unwrap();
        assert_eq!(read.shard(), Shard::new(1, 2).ok());
    }

    #[test]
    fn the_first_place_that_differs_is_told_with_both_values() {
        let mut other = manifest();
        other.0["case"]["cup"]["sizes"][1] = json!(3);
        let told = manifest().agrees(&other, Path::new("out")).unwrap_err();
        let told = told.to_string();
        assert!(
            told.contains("case.cup.sizes[1] = 2.5, now it is 3;"),
            "{told}"
        );
        other.0["case"] = Value::Null;
        let told = manifest().agrees(&other, Path::new("out")).unwrap_err();
        assert!(told.to_string().contains("now it is null"), "{told}");
        let mut more = manifest();
        more.0["source"]["bones"] = json!([]);
        let told = manifest().agrees(&more, Path::new("out")).unwrap_err();
        let told = told.to_string();
        assert!(
            told.contains("source.bones = 2 entries, now it is 0 entries"),
            "{told}"
        );
    }

    #[test]
    fn what_another_share_knows_of_its_members_is_taken_over() {
        let mut other = manifest().with_shard(Shard::new(2, 2).unwrap());
        other.0["source"]["bones"] =
            json!([{"file": "a", "sha256": null}, {"file": "b", "sha256": "y"}]);
        let mut known = manifest();
        known.learn(&other);
        assert_eq!(known.0["source"]["bones"][0]["sha256"], "x");
        assert_eq!(known.0["source"]["bones"][1]["sha256"], "y");
    }

    #[test]
    fn what_is_no_manifest_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        for text in ["", "[]", "{\"format\": 99}", "{\"format\": 1}"] {
            fs::write(folder.path().join(FILE), text).unwrap();
            let told = Manifest::read(folder.path()).unwrap_err().to_string();
            assert!(told.contains("this is no manifest of a cohort"), "{told}");
        }
    }
}
