//! JSON Schemas (draft 2020-12) of all documents, made from the types that are written.
//!
//! They are published in `assets/schemas`, one file for each form and version.

use cupwright_procedure::Measures;
use cupwright_procedure::inspection::{InspectionFinding, LabelsFinding};
use cupwright_procedure::survey::Survey;
use cupwright_study::Sensitivity;
use schemars::generate::SchemaSettings;
use schemars::transform::{RecursiveTransform, Transform};
use schemars::{JsonSchema, Schema};
use serde_json::{Value, json};

use crate::json::{Document, Run};
use crate::mending::MendingDocument;
use crate::study::{
    IncrementsResult, MapResult, PlacementsResult, ScatterResult, StudyDocument, form,
};

/// Every form with its schema.
pub fn schemas() -> Vec<(String, Value)> {
    vec![
        of::<Run>(),
        of::<Measures>(),
        of::<InspectionFinding>(),
        of::<LabelsFinding>(),
        of::<Survey>(),
        of::<MendingDocument>(),
        of_study::<MapResult>("map"),
        of_study::<PlacementsResult>("place"),
        of_study::<ScatterResult>("scatter"),
        of_study::<IncrementsResult>("increments"),
        of_study::<Vec<Sensitivity>>("sensitivity"),
    ]
}

/// The name of the file that a form is published in: `cupwright/run/1` in `run-1.json`.
pub fn file_name(form: &str) -> String {
    let parts: Vec<_> = form.split('/').skip(1).collect();
    format!("{}.json", parts.join("-"))
}

fn of<D: Document>() -> (String, Value) {
    (D::FORM.to_owned(), schema::<D>(D::FORM))
}

fn of_study<R: JsonSchema>(study: &str) -> (String, Value) {
    let form = form(study);
    let schema = schema::<StudyDocument<R>>(&form);
    (form, schema)
}

/// The schema of `T`, whose first field is its form.
fn schema<T: JsonSchema>(form: &str) -> Value {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    let mut schema = settings.into_generator().into_root_schema_for::<T>();
    RecursiveTransform(closed).transform(&mut schema);
    let mut whole = schema.to_value();
    if let Some(fields) = whole.get_mut("properties").and_then(Value::as_object_mut) {
        let first = json!({ "description": "The form of this document.", "const": form });
        fields.shift_insert(0, "schema".into(), first);
    }
    if let Some(required) = whole.get_mut("required").and_then(Value::as_array_mut) {
        required.insert(0, "schema".into());
    }
    if let Some(schema) = whole.as_object_mut() {
        schema.shift_insert(1, "$id".into(), form.into());
        schema.insert("title".into(), form.into());
    }
    whole
}

/// No field but those that are described; descriptions in the words of JSON.
fn closed(schema: &mut Schema) {
    if schema.get("properties").is_some() {
        schema.insert("additionalProperties".into(), false.into());
    }
    // What Rust calls a number says nothing to other readers.
    schema.remove("format");
    if let Some(Value::String(words)) = schema.get_mut("description") {
        *words = words.replace("`None`", "null");
    }
}
