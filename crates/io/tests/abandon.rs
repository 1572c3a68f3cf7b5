//! Ending a program while files are being written. In a process of its own: it concerns all drafts.

#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::io::Write;
use std::path::Path;
use std::sync::mpsc;
use std::time::Duration;

use cupwright_io::{Draft, abandon_drafts};

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_program_that_ends_leaves_no_draft_and_the_old_content() {
    let folder = tempfile::tempdir().unwrap();
    let (old, new) = (folder.path().join("old.txt"), folder.path().join("new.txt"));
    std::fs::write(&old, "old").unwrap();
    let mut replacing = Draft::beside(&old).unwrap();
    replacing.write_all(b"half of").unwrap();
    let creating = Draft::beside(&new).unwrap();
    let mut published = Draft::beside(&folder.path().join("done.txt")).unwrap();
    published.write_all(b"whole").unwrap();
    published.publish().unwrap();
    assert_eq!(names(folder.path()).len(), 4);

    let abandoned = abandon_drafts();
    assert_eq!(names(folder.path()), ["done.txt", "old.txt"]);
    assert_eq!(std::fs::read_to_string(&old).unwrap(), "old");

    let (sender, receiver) = mpsc::channel();
    let another = folder.path().join("another.txt");
    let thread = std::thread::spawn(move || {
        let published = replacing.publish().is_ok();
        let begun = Draft::beside(&another).is_ok();
        sender.send((published, begun)).unwrap();
    });
    // Nothing begins or takes its place while the program ends.
    assert!(receiver.recv_timeout(Duration::from_millis(200)).is_err());
    assert_eq!(names(folder.path()), ["done.txt", "old.txt"]);

    drop(abandoned);
    let later = receiver.recv_timeout(Duration::from_secs(10)).unwrap();
    assert_eq!(later, (false, true));
    assert_eq!(std::fs::read_to_string(&old).unwrap(), "old");
    thread.join().unwrap();
    drop(creating);
    assert_eq!(names(folder.path()), ["done.txt", "old.txt"]);
}
