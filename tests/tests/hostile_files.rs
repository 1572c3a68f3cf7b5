//! The corpus of the fuzz targets, gone through once: what broke a promise before must not do so again.

use std::fs;
use std::path::Path;

use cupwright_tests::hostile::TARGETS;

#[test]
fn no_file_of_the_corpus_breaks_a_promise() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus");
    for (name, target) in TARGETS {
        let mut files: Vec<_> = fs::read_dir(corpus.join(name))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        files.sort();
        assert!(files.len() >= 3, "{name} has hardly any files");
        for file in files {
            eprintln!("{}", file.display());
            target(&fs::read(&file).unwrap());
        }
    }
}

#[test]
fn every_target_has_its_program() {
    let manifest =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/Cargo.toml")).unwrap();
    let programs = manifest.matches("[[bin]]").count();
    assert_eq!(programs, TARGETS.len());
    for (name, _) in TARGETS {
        assert!(
            manifest.contains(&format!("path = \"fuzz_targets/{name}.rs\"")),
            "{name}"
        );
    }
}
