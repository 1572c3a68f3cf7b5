//! What `--json` prints is of the form that is published for it, and of no other.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs;
use std::path::PathBuf;

use cupwright_anatomy::Side;
use cupwright_anatomy::synthetic::Preset;
use cupwright_report::schema::{file_name, schemas};
use cupwright_tests::desk::Desk;
use cupwright_tests::{bones, pelves};
use jsonschema::Validator;
use serde_json::{Map, Value, json};

const CASE: &str = r#"(
    version: 1,
    bone: Preset(name: "average-male", side: Left),
    orientation: Radiographic,
    reamers: [(diameter_mm: 49), (diameter_mm: 51)],
    cup: (diameter_mm: 52, inclination_deg: 42, anteversion_deg: 15),
    limits: (min_coverage: 0.6, min_wall_mm: 1),
)"#;

const SOCKET: &str = "--centre 50,14,-28 --axis 0.85,0.24,-0.47";

/// A call of each command that prints a document, by the form it has.
const CALLS: [(&str, &str); 11] = [
    ("run", "run @case.ron --json"),
    (
        "measure",
        "measure --bone @bone.ply --reamer 30,53 --cup 54 --json",
    ),
    ("inspect", "inspect @bone.ply --json"),
    ("labels", "inspect @labels.nrrd --json"),
    ("mend", "mend @bone.ply --out @mended.ply --json"),
    ("landmarks", "landmarks @hip.ply --json"),
    (
        "map",
        "map @case.ron --x depth=-2..2:2 --y inclination=40..50:2 --of coverage --of thinnest-wall --json",
    ),
    ("place", "place @case.ron --json"),
    ("scatter", "scatter @case.ron --draws 20 --json"),
    ("increments", "increments @case.ron --json"),
    ("sensitivity", "sensitivity @case.ron --of coverage --json"),
];

/// A volume of two labels.
const LABELS: &str = "NRRD0004\ntype: uint8\ndimension: 3\nsizes: 2 2 1\nencoding: raw\nspace: right-anterior-superior\n\
    space directions: (1,0,0) (0,1,0) (0,0,1)\n\n\0\u{1}\u{2}\u{2}";

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../assets/schemas")
}

fn schema_of(name: &str) -> Value {
    let mut all = schemas().into_iter();
    all.find(|(form, _)| form.split('/').nth(1) == Some(name))
        .unwrap()
        .1
}

fn validator(schema: &Value) -> Validator {
    assert!(jsonschema::meta::is_valid(schema), "{schema}");
    jsonschema::draft202012::new(schema).unwrap()
}

#[track_caller]
fn holds(validator: &Validator, document: &Value) {
    let problems = validator.iter_errors(document);
    let told: Vec<_> = problems
        .map(|problem| format!("{}: {problem}", problem.instance_path()))
        .collect();
    assert!(told.is_empty(), "{told:#?}");
}

/// The documents of all commands, by name.
fn documents() -> Vec<(&'static str, Value)> {
    let desk = Desk::new();
    desk.write("case.ron", CASE);
    desk.write("labels.nrrd", LABELS);
    desk.write_mesh("bone.ply", &bones::socketed());
    let hip = pelves::bone(Preset::Small, Side::Right);
    desk.write_mesh("hip.ply", hip.solid.mesh());
    let printed = CALLS.iter().map(|(name, line)| {
        let line = line.replace("@bone.ply --r", &format!("@bone.ply {SOCKET} --r"));
        let ran = desk.run(&line);
        assert!(ran.exit.code() < 2, "{}", ran.err);
        (*name, serde_json::from_str(&ran.out).unwrap())
    });
    printed.collect()
}

#[test]
fn the_published_schemas_are_those_of_the_types_that_are_written() {
    let mut names = Vec::new();
    for (form, schema) in schemas() {
        let (name, path) = (file_name(&form), folder().join(file_name(&form)));
        let text = format!("{}\n", serde_json::to_string_pretty(&schema).unwrap());
        if std::env::var_os("CUPWRIGHT_BLESS").is_some() {
            fs::create_dir_all(folder()).unwrap();
            fs::write(&path, &text).unwrap();
        }
        let there = fs::read_to_string(&path).unwrap_or_default();
        assert_eq!(
            there, text,
            "{name} has changed: raise its version, or bless it"
        );
        names.push(name);
    }
    let mut published: Vec<_> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    published.sort();
    names.sort();
    assert_eq!(published, names);
}

#[test]
fn every_document_is_of_its_form_and_says_which() {
    for (name, document) in documents() {
        let schema = schema_of(name);
        assert_eq!(document["schema"], schema["$id"], "{name}");
        holds(&validator(&schema), &document);
        no_more_no_less(&validator(&schema), &document);
    }
}

/// Each field is needed, and no other is known, wherever it is.
fn no_more_no_less(validator: &Validator, document: &Value) {
    for pointer in objects(document, String::new()) {
        let fields = document
            .pointer(&pointer)
            .and_then(Value::as_object)
            .unwrap();
        let changed = |fields: Map<String, Value>| {
            let mut document = document.clone();
            *document.pointer_mut(&pointer).unwrap() = fields.into();
            document
        };
        let mut more = fields.clone();
        more.insert("colour".into(), json!("red"));
        assert!(
            !validator.is_valid(&changed(more)),
            "{pointer}: a field more"
        );
        for name in fields.keys().filter(|_| !is_keyed_by_measure(&pointer)) {
            let mut renamed = fields.clone();
            let value = renamed.shift_remove(name).unwrap();
            renamed.insert(format!("{name}_"), value);
            assert!(
                !validator.is_valid(&changed(renamed)),
                "{pointer}/{name} renamed"
            );
        }
    }
}

/// Whether the keys of the object at `pointer` are names of what was asked for.
fn is_keyed_by_measure(pointer: &str) -> bool {
    ["/setting", "/goals"]
        .iter()
        .any(|end| pointer.ends_with(end))
}

/// The places of all objects; of a list, those of its first item.
fn objects(value: &Value, at: String) -> Vec<String> {
    let within: Vec<_> = match value {
        Value::Object(fields) => fields
            .iter()
            .flat_map(|(name, value)| objects(value, format!("{at}/{name}")))
            .collect(),
        Value::Array(values) => values
            .first()
            .into_iter()
            .flat_map(|value| objects(value, format!("{at}/0")))
            .collect(),
        _ => return Vec::new(),
    };
    let own = value.is_object().then_some(at);
    own.into_iter().chain(within).collect()
}

#[test]
fn every_field_is_described_and_every_size_bears_its_unit() {
    const UNITS: [&str; 12] = [
        "mm", "mm2", "mm3", "deg", "g", "h", "n", "mpa", "gpa", "cm3", "share", "nm",
    ];
    for (form, schema) in schemas() {
        let mut bare = Vec::new();
        for (name, field) in fields(&schema) {
            let described = field["description"]
                .as_str()
                .is_some_and(|words| !words.is_empty());
            // What is told of its fields, or elsewhere, need not be told of a part as well.
            let told_within = field.get("$ref").or(field.get("properties"));
            assert!(
                described || told_within.is_some(),
                "{form}: {name}: {field}"
            );
            let told = field["description"].as_str().unwrap_or_default();
            let sized = ["in mm", "in degrees", "mm³", "mm²"]
                .iter()
                .any(|unit| told.contains(unit));
            let named = UNITS.iter().any(|unit| name.ends_with(&format!("_{unit}")));
            if is_number(&field) && sized && !named {
                bare.push(name);
            }
        }
        assert!(bare.is_empty(), "{form}: {bare:?}");
    }
}

fn is_number(field: &Value) -> bool {
    match &field["type"] {
        Value::String(kind) => kind == "number",
        Value::Array(kinds) => kinds.contains(&json!("number")),
        _ => false,
    }
}

/// Every property in a schema, by name.
fn fields(schema: &Value) -> Vec<(String, Value)> {
    match schema {
        Value::Object(parts) => {
            let own = parts.get("properties").and_then(Value::as_object);
            let own = own.into_iter().flatten();
            let own = own.map(|(name, field)| (name.clone(), field.clone()));
            own.chain(parts.values().flat_map(fields)).collect()
        }
        Value::Array(values) => values.iter().flat_map(fields).collect(),
        _ => Vec::new(),
    }
}
