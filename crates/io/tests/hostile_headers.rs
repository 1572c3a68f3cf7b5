//! A header that announces gigabytes with a hundred bytes behind it is refused, and none are reserved.
//!
//! The one test of this file, for the peak of a process is everybody's.

#![cfg(target_os = "linux")]
#![expect(clippy::unwrap_used, reason = "a test reports by panicking")]

use std::fs;
use std::io::Write;

use cupwright_io::read_from;
use flate2::Compression;
use flate2::write::GzEncoder;

/// What may come on top, in KiB: a thread's own heap is set aside by the system in one piece of 64 or 128 MiB.
const MOST_KIB: u64 = 300 * 1024;

/// The most address space that this process has held, in KiB, whether it was used or only reserved.
fn peak_kib() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmPeak:"));
    line.unwrap()
        .trim()
        .trim_end_matches(" kB")
        .parse()
        .unwrap()
}

fn behind(header: impl AsRef<[u8]>) -> Vec<u8> {
    [header.as_ref(), &[0; 100]].concat()
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(bytes).unwrap();
    packed.finish().unwrap()
}

/// A header of NIfTI-1 with as many voxels of two bytes along each index.
fn nifti(along: i16) -> Vec<u8> {
    let mut header = vec![0; 352];
    let mut put = |at: usize, bytes: &[u8]| header[at..at + bytes.len()].copy_from_slice(bytes);
    put(0, &348_i32.to_le_bytes());
    put(40, &3_i16.to_le_bytes());
    for n in 0..3 {
        put(42 + 2 * n, &along.to_le_bytes());
        put(80 + 4 * n, &1.0_f32.to_le_bytes());
    }
    put(70, &512_i16.to_le_bytes());
    put(108, &352.0_f32.to_le_bytes());
    put(344, b"n+1\0");
    header
}

fn nrrd(sizes: &str, encoding: &str) -> String {
    format!(
        "NRRD0004\ntype: ushort\ndimension: 3\nsizes: {sizes}\nspacings: 1 1 1\n\
         endian: little\nencoding: {encoding}\n\n"
    )
}

/// A header of STL with a count.
fn stl(count: u32) -> Vec<u8> {
    [&[b' '; 80][..], &count.to_le_bytes()].concat()
}

/// An encapsulated STL whose document is said to have `length` bytes.
fn dicom(length: u32, document: &[u8]) -> Vec<u8> {
    let texts: [([u8; 4], &[u8]); 2] = [
        ([2, 0, 0x10, 0], b"1.2.840.10008.1.2.1\0"),
        ([8, 0, 0x16, 0], b"1.2.840.10008.5.1.4.1.1.104.3\0"),
    ];
    let mut file = [&[0; 128][..], b"DICM"].concat();
    for (tag, text) in texts {
        let length = u16::try_from(text.len()).unwrap();
        file.extend([&tag[..], b"UI", &length.to_le_bytes(), text].concat());
    }
    file.extend(b"\x42\0\x11\0OB\0\0");
    file.extend(length.to_le_bytes());
    file.extend(document);
    file
}

fn ply(format: &str, vertices: u64, faces: u64) -> String {
    format!(
        "ply\nformat {format} 1.0\nelement vertex {vertices}\nproperty double x\nproperty double y\n\
         property double z\nelement face {faces}\nproperty list uint int vertex_indices\nend_header\n"
    )
}

/// Name, content, and a part of what is told.
fn files() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let announced = "announces 2146689000 voxels, but the data end after";
    let both = behind(nifti(1290));
    let document = behind(stl(u32::MAX));
    let length = u32::try_from(document.len()).unwrap();
    // Three vertices of zeros, then a face of four billion corners.
    let fan = [&[0; 72][..], &[0xff; 4], &[0; 24]].concat();
    vec![
        ("a.nii", both.clone(), announced),
        ("b.nii", behind(nifti(i16::MAX)), "more than 2147483648"),
        ("a.nii.gz", gzip(&both), announced),
        ("a.nrrd", behind(nrrd("1290 1290 1290", "raw")), announced),
        (
            "b.nrrd",
            behind(nrrd("99999999 99999999 9", "raw")),
            "more than 2147483648",
        ),
        (
            "c.nrrd",
            [nrrd("1290 1290 1290", "gzip").into_bytes(), gzip(&[0; 100])].concat(),
            announced,
        ),
        (
            "a.nrrd.gz",
            gzip(&behind(nrrd("1290 1290 1290", "raw"))),
            announced,
        ),
        (
            "a.dcm",
            dicom(0xffff_fffe, &[0; 100]),
            "within an element: it was cut short",
        ),
        ("b.dcm", dicom(length, &document), "STL"),
        ("a.stl", document, "announces 4294967295 triangles"),
        (
            "a.ply",
            behind(ply("binary_little_endian", 1_000_000_000, 1)),
            "it was cut short",
        ),
        (
            "b.ply",
            behind(ply("binary_big_endian", u64::MAX, 1)),
            "more than a mesh can have",
        ),
        (
            "c.ply",
            [
                ply("binary_little_endian", 3, 4_000_000_000).as_bytes(),
                &fan,
            ]
            .concat(),
            "it was cut short",
        ),
        (
            "d.ply",
            ply("ascii", 1_000_000_000, 1).into_bytes(),
            "it was cut short",
        ),
    ]
}

#[test]
fn gigabytes_announced_with_a_hundred_bytes_behind_take_no_memory() {
    let files = files();
    let before = peak_kib();
    for (name, file, told) in files {
        let extension = name.rsplit('.').next();
        let refused = read_from(file.as_slice(), file.len() as u64, extension);
        let message = refused.unwrap_err().to_string();
        assert!(message.contains(told), "{name}: {message}");
        let more = peak_kib() - before;
        assert!(more < MOST_KIB, "{name}: {more} KiB");
    }
}
