use std::io::{Cursor, Write};

use flate2::Compression;
use flate2::bufread::MultiGzDecoder;
use flate2::write::GzEncoder;
use nalgebra::{Matrix3, Point3, Vector3};

use super::samples::Order;
use super::*;
use crate::stream::{read_from, read_label_from};
use crate::{Content, Loaded, Remark};

/// A NIfTI header of 4 x 3 x 2 voxels of one byte, in one order of bytes or the other.
struct Header {
    bytes: Vec<u8>,
    order: Order,
}

impl Header {
    fn new(order: Order) -> Self {
        let bytes = vec![0; 352];
        let mut header = Self { bytes, order };
        header.int(0, 348);
        for (n, length) in [3, 4, 3, 2].into_iter().enumerate() {
            header.short(40 + 2 * n, length);
        }
        header
            .short(70, 2)
            .short(72, 8)
            .real(76, 1.0)
            .real(108, 352.0);
        for (n, spacing) in [0.5, 0.75, 2.0].into_iter().enumerate() {
            header.real(80 + 4 * n, spacing);
        }
        header.bytes[123] = 2;
        header.bytes[344..348].copy_from_slice(b"n+1\0");
        header
    }

    fn put(&mut self, at: usize, little: &[u8]) -> &mut Self {
        let mut bytes = little.to_vec();
        if self.order == Order::Big {
            bytes.reverse();
        }
        self.bytes[at..at + bytes.len()].copy_from_slice(&bytes);
        self
    }

    fn int(&mut self, at: usize, value: i32) -> &mut Self {
        self.put(at, &value.to_le_bytes())
    }

    fn short(&mut self, at: usize, value: i16) -> &mut Self {
        self.put(at, &value.to_le_bytes())
    }

    fn real(&mut self, at: usize, value: f32) -> &mut Self {
        self.put(at, &value.to_le_bytes())
    }

    /// The rows of the sform, and its code.
    fn rows(&mut self, rows: [[f32; 4]; 3]) -> &mut Self {
        for (n, value) in rows.into_iter().flatten().enumerate() {
            self.real(280 + 4 * n, value);
        }
        self.short(254, 1)
    }

    /// Quaternion and offset of the qform, its code, and the factor of the third axis.
    fn quaternion(&mut self, bcd: [f32; 3], offset: [f32; 3], factor: f32) -> &mut Self {
        for n in 0..3 {
            self.real(256 + 4 * n, bcd[n]).real(268 + 4 * n, offset[n]);
        }
        self.real(76, factor).short(252, 1)
    }

    /// The file with 24 voxels after the header: 0 to 23.
    fn file(&self) -> Vec<u8> {
        let mut file = self.bytes.clone();
        file.extend(0..24);
        file
    }

    fn read(&self) -> Result<LabelVolume, BadVolume> {
        read_nifti(&mut Cursor::new(self.file()))
    }

    #[track_caller]
    fn refused(&self, told: &str) {
        is_told(self.read(), told);
    }
}

#[track_caller]
fn is_told(read: Result<LabelVolume, BadVolume>, told: &str) {
    let message = read.unwrap_err().to_string();
    assert!(message.contains(told), "{message}");
    assert!(
        message.contains("; ") || message.contains(", so "),
        "no advice: {message}"
    );
}

#[track_caller]
fn lies_at(volume: &LabelVolume, index: [f64; 3], place: [f64; 3]) {
    let found = volume.grid().point(&Point3::from(index));
    let off = (found - Point3::from(place)).norm();
    assert!(off < 1e-5, "{found} for {place:?}");
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
    packed.write_all(bytes).unwrap();
    packed.finish().unwrap()
}

// NIfTI

#[test]
fn voxels_are_counted_with_the_first_index_fastest_in_both_orders_of_bytes() {
    for order in [Order::Little, Order::Big] {
        let volume = Header::new(order).read().unwrap();
        assert_eq!(volume.size(), [4, 3, 2]);
        assert_eq!(volume.at([1, 0, 0]), Some(1));
        assert_eq!(volume.at([0, 1, 0]), Some(4));
        assert_eq!(volume.at([0, 0, 1]), Some(12));
        assert_eq!(volume.at([4, 0, 0]), None);
        let labels = volume.labels();
        assert_eq!(labels.len(), 23, "0 is the background");
        assert_eq!(
            labels[0],
            LabelCount {
                label: 1,
                voxels: 1
            }
        );
    }
}

#[test]
fn sform_rows_say_where_voxels_lie() {
    for order in [Order::Little, Order::Big] {
        let mut header = Header::new(order);
        header.rows([
            [0.0, -1.0, 0.0, 10.0],
            [0.5, 0.0, 0.25, 20.0],
            [0.0, 0.0, 2.0, 30.0],
        ]);
        let volume = header.read().unwrap();
        assert_eq!(volume.axes(), Axes::Ras);
        lies_at(&volume, [0.0, 0.0, 0.0], [10.0, 20.0, 30.0]);
        lies_at(&volume, [2.0, 1.0, 1.0], [9.0, 21.25, 32.0]);
    }
}

#[test]
fn a_qform_turns_and_its_factor_mirrors_the_third_axis() {
    // A quarter turn about z: x becomes y, y becomes −x.
    let half = 0.5_f32.sqrt();
    let mut header = Header::new(Order::Little);
    header.quaternion([0.0, 0.0, half], [1.0, 2.0, 3.0], 1.0);
    let volume = header.read().unwrap();
    lies_at(&volume, [1.0, 0.0, 0.0], [1.0, 2.5, 3.0]);
    lies_at(&volume, [0.0, 1.0, 0.0], [0.25, 2.0, 3.0]);
    lies_at(&volume, [0.0, 0.0, 1.0], [1.0, 2.0, 5.0]);
    header.real(76, -1.0);
    lies_at(&header.read().unwrap(), [0.0, 0.0, 1.0], [1.0, 2.0, 1.0]);
    // A half turn, as most scans have it: the quaternion's own real part is 0.
    header.quaternion([0.0, 0.0, 1.0], [0.0; 3], 1.0);
    lies_at(&header.read().unwrap(), [1.0, 1.0, 1.0], [-0.5, -0.75, 2.0]);
}

#[test]
fn sform_goes_before_qform_unless_they_disagree_about_the_side() {
    let mut header = Header::new(Order::Little);
    header.quaternion([0.0; 3], [0.0; 3], 1.0).rows([
        [1.0, 0.0, 0.0, 7.0],
        [0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0],
    ]);
    lies_at(&header.read().unwrap(), [0.0; 3], [7.0, 0.0, 0.0]);
    header.rows([
        [-1.0, 0.0, 0.0, 7.0],
        [0.0, 1.0, 0.0, 0.0],
        [0.0, 0.0, 1.0, 0.0],
    ]);
    header.refused("sform and qform disagree about which side is left");
}

#[test]
fn without_either_the_axes_are_assumed_and_told() {
    let volume = Header::new(Order::Little).read().unwrap();
    assert_eq!(volume.axes(), Axes::Assumed);
    lies_at(&volume, [1.0, 1.0, 1.0], [0.5, 0.75, 2.0]);
}

#[test]
fn units_of_length_become_millimetres() {
    for (code, factor) in [(1, 1000.0), (2, 1.0), (3, 0.001), (0, 1.0), (8 + 2, 1.0)] {
        let mut header = Header::new(Order::Little);
        header.bytes[123] = code;
        let spacing = header.read().unwrap().grid().spacing();
        assert!((spacing[0] / (0.5 * factor) - 1.0).abs() < 1e-12, "{code}");
    }
}

/// A header with something changed.
fn with(change: &dyn Fn(&mut Header)) -> Header {
    let mut header = Header::new(Order::Little);
    change(&mut header);
    header
}

#[test]
fn hostile_nifti_headers_are_refused_by_field() {
    with(&|h| {
        h.int(0, 349);
    })
    .refused("sizeof_hdr is 349");
    with(&|h| {
        h.short(40, 0);
    })
    .refused("dim[0] is 0");
    with(&|h| {
        h.short(40, -3);
    })
    .refused("dim[0] is -3");
    with(&|h| {
        h.short(42, -4);
    })
    .refused("dim[1] is -4");
    with(&|h| {
        h.short(46, 0);
    })
    .refused("dim[3] is 0");
    with(&|h| {
        h.short(40, 4).short(48, 5);
    })
    .refused("a file with 5 volumes");
    with(&|h| {
        h.short(42, 32767).short(44, 32767).short(46, 32767);
    })
    .refused("32767 x 32767 x 32767 voxels, more than 2147483648");
    with(&|h| {
        h.short(70, 128);
    })
    .refused("datatype is 128");
}

#[test]
fn hostile_places_of_voxels_are_refused_by_field() {
    with(&|h| {
        h.real(80, 0.0);
    })
    .refused("pixdim[1] is 0");
    with(&|h| {
        h.real(84, -0.5);
    })
    .refused("pixdim[2] is -0.5");
    with(&|h| {
        h.real(88, f32::NAN);
    })
    .refused("pixdim[3] is NaN");
    with(&|h| {
        h.real(108, 1e30);
    })
    .refused("vox_offset is");
    with(&|h| {
        h.real(108, -352.0);
    })
    .refused("vox_offset is -352");
    with(&|h| {
        h.real(108, f32::NAN);
    })
    .refused("vox_offset is NaN");
    with(&|h| {
        h.real(112, f32::INFINITY);
    })
    .refused("scl_slope is inf");
    with(&|h| {
        h.quaternion([0.9, 0.9, 0.9], [0.0; 3], 1.0);
    })
    .refused("quatern_b, c, d");
    with(&|h| {
        h.quaternion([f32::NAN; 3], [0.0; 3], 1.0);
    })
    .refused("quatern_b, c, d");
    let row = [0.0, 0.0, 1.0, 0.0];
    with(&|h| {
        h.rows([[f32::NAN; 4], row, row]);
    })
    .refused("not a finite number");
    with(&|h| {
        h.rows([row, row, row]);
    })
    .refused("enclose no volume");
    with(&|h| {
        h.rows([[0.0; 4]; 3]);
    })
    .refused("enclose no volume");
}

#[test]
fn a_header_of_four_gigabytes_with_a_hundred_bytes_behind_it_is_told_by_both() {
    let mut header = Header::new(Order::Little);
    header
        .short(42, 1290)
        .short(44, 1290)
        .short(46, 1290)
        .short(70, 512);
    let mut file = header.bytes.clone();
    file.extend([0; 100]);
    let read = read_nifti(&mut file.as_slice());
    is_told(
        read,
        "announces 2146689000 voxels, but the data end after 50",
    );
}

#[test]
fn a_header_cut_anywhere_is_refused() {
    let file = Header::new(Order::Big).file();
    for end in 0..file.len() {
        assert!(read_nifti(&mut &file[..end]).is_err(), "{end}");
    }
    is_told(
        read_nifti(&mut &file[..100]),
        "within its header, after 100 bytes",
    );
}

#[test]
fn what_a_gzip_bomb_unpacks_to_takes_no_memory() {
    // 2048 x 1024 x 64 zeros of two bytes: 256 MB, in 256 pieces of gzip that unpack to one each.
    let mut header = Header::new(Order::Little);
    header
        .short(42, 2048)
        .short(44, 1024)
        .short(46, 64)
        .short(70, 512);
    let mut file = gzip(&header.bytes);
    let piece = gzip(&vec![0; 1 << 20]);
    (0..256).for_each(|_| file.extend(&piece));
    assert!(file.len() < 3 << 20);
    let volume = read_nifti(&mut MultiGzDecoder::new(file.as_slice())).unwrap();
    assert_eq!(volume.at([2047, 1023, 63]), Some(0));
    assert!(volume.runs.capacity() <= 4);
    let told = read_from(file.as_slice(), file.len() as u64, None)
        .unwrap_err()
        .to_string();
    assert!(
        told.starts_with("the volume holds no label but 0"),
        "{told}"
    );
}

#[test]
fn grey_values_are_told_for_what_they_are() {
    let mut header = Header::new(Order::Little);
    header
        .short(42, 2000)
        .short(44, 1)
        .short(46, 1)
        .short(70, 512);
    let mut file = header.bytes.clone();
    file.extend((0..2000_u16).flat_map(u16::to_le_bytes));
    is_told(
        read_nifti(&mut file.as_slice()),
        "more than 1000 different values",
    );
    header.short(70, 16).short(42, 24);
    let mut file = header.bytes.clone();
    file.extend((0..24_u8).flat_map(|n| (f32::from(n) / 2.0).to_le_bytes()));
    is_told(
        read_nifti(&mut file.as_slice()),
        "voxel 1 has the value 0.5",
    );
}

#[test]
fn damaged_bytes_give_an_error_or_a_volume_and_never_a_panic() {
    let nifti = {
        let mut header = Header::new(Order::Little);
        header.quaternion([0.1, 0.2, 0.3], [1.0; 3], -1.0).rows([
            [-0.5, 0.0, 0.0, 7.0],
            [0.0, 0.75, 0.0, 0.0],
            [0.0, 0.0, 2.0, 0.0],
        ]);
        header.file()
    };
    let nrrd = nrrd("", "raw", &(0..24).collect::<Vec<u8>>());
    for file in [nifti.clone(), nrrd.clone(), gzip(&nifti), gzip(&nrrd)] {
        for at in 0..file.len() {
            for by in [0x01, 0x20, 0x7f, 0x80, 0xff] {
                let mut damaged = file.clone();
                damaged[at] ^= by;
                if let Err(error) = read_label_from(damaged.as_slice(), file.len() as u64, None, 5)
                {
                    assert!(!error.to_string().is_empty());
                }
            }
        }
    }
}

// NRRD

/// A file of 4 x 3 x 2 voxels of one byte with `more` header lines.
fn nrrd(more: &str, encoding: &str, data: &[u8]) -> Vec<u8> {
    let head = "NRRD0004\n# a comment\ntype: uchar\ndimension: 3\nsizes: 4 3 2\n";
    let space = if more.contains("space") {
        ""
    } else {
        "space: left-posterior-superior\nspace directions: (0.5,0,0) (0,0.75,0) (0,0,2)\nspace origin: (1,2,3)\n"
    };
    let mut file = format!("{head}{space}{more}key:=value\nencoding: {encoding}\n\n").into_bytes();
    file.extend(data);
    file
}

fn read_text(file: &[u8]) -> Result<LabelVolume, BadVolume> {
    let none = |name: &str| {
        Err(NoCompanion {
            name: name.into(),
            why: "there is none".into(),
        })
    };
    read_nrrd(&mut &file[..], &none)
}

fn counting() -> Vec<u8> {
    (0..24).collect()
}

#[test]
fn left_posterior_superior_is_turned_and_not_mirrored() {
    let volume = read_text(&nrrd("", "raw", &counting())).unwrap();
    assert_eq!(volume.axes(), Axes::Turned("left-posterior-superior"));
    lies_at(&volume, [0.0; 3], [-1.0, -2.0, 3.0]);
    lies_at(&volume, [1.0, 1.0, 1.0], [-1.5, -2.75, 5.0]);
    assert!(volume.grid().axes().determinant() > 0.0);
    assert_eq!(volume.at([1, 2, 1]), Some(21));
}

#[test]
fn every_space_says_where_the_right_is() {
    let place = |space: &str| {
        let more =
            format!("{space}\nspace directions: (1,0,0) (0,1,0) (0,0,1)\nspace origin: (5,6,7)\n");
        let volume = read_text(&nrrd(&more, "raw", &counting())).unwrap();
        (volume.grid().origin(), volume.axes())
    };
    let ras = (Point3::new(5.0, 6.0, 7.0), Axes::Ras);
    assert_eq!(place("space: right-anterior-superior"), ras);
    assert_eq!(place("SPACE: RAS"), ras);
    let las = Axes::Turned("left-anterior-superior");
    assert_eq!(place("space: LAS"), (Point3::new(-5.0, 6.0, 7.0), las));
    assert_eq!(place("space: scanner-xyz").1, Axes::Assumed);
    assert_eq!(place("space dimension: 3").1, Axes::Assumed);
    let left = "space: 3D-left-handed\nspace directions: (1,0,0) (0,1,0) (0,0,1)\n";
    is_told(
        read_text(&nrrd(left, "raw", &counting())),
        "does not say where the patient's right is",
    );
}

#[test]
fn gzip_and_carriage_returns_and_units_are_read() {
    let packed = nrrd(
        "space units: \"cm\" \"cm\" \"cm\"\nspace: RAS\nspace directions: (.1,0,0) (0,.1,0) (0,0,.2)\n",
        "gzip",
        &gzip(&counting()),
    );
    let volume = read_text(&packed).unwrap();
    assert_eq!(volume.at([3, 2, 1]), Some(23));
    assert!((volume.grid().spacing()[2] - 2.0).abs() < 1e-12);
    let text = nrrd("", "raw", b"");
    let mut windows = String::from_utf8(text)
        .unwrap()
        .replace('\n', "\r\n")
        .into_bytes();
    windows.extend(counting());
    assert_eq!(read_text(&windows).unwrap().at([3, 2, 1]), Some(23));
}

#[test]
fn an_axis_of_one_voxel_more_is_passed_over_and_a_stack_is_refused() {
    let file = |sizes: &str| {
        let text = String::from_utf8(nrrd(
            "space: RAS\nspace directions: none (1,0,0) (0,2,0) (0,0,3)\n",
            "raw",
            b"",
        ));
        let text = text.unwrap().replace("dimension: 3", "dimension: 4");
        let mut file = text.replace("sizes: 4 3 2", sizes).into_bytes();
        file.extend(counting());
        file
    };
    let volume = read_text(&file("sizes: 1 4 3 2")).unwrap();
    assert_eq!(
        (volume.size(), volume.grid().spacing()),
        ([4, 3, 2], [1.0, 2.0, 3.0])
    );
    is_told(read_text(&file("sizes: 2 4 3 1")), "space directions is");
    is_told(
        read_text(&file("sizes: 2 4 3 2")),
        "a volume of 4 dimensions",
    );
}

/// Reads a file in which one passage is another.
fn instead(from: &str, to: &str) -> Result<LabelVolume, BadVolume> {
    let text = String::from_utf8(nrrd("", "raw", b"")).unwrap();
    assert!(text.contains(from));
    let mut file = text.replace(from, to).into_bytes();
    file.extend(counting());
    read_text(&file)
}

#[test]
fn hostile_nrrd_headers_are_refused_by_field() {
    is_told(instead("sizes: 4 3 2", "sizes: 4 3"), "sizes is '4 3'");
    is_told(instead("sizes: 4 3 2", "sizes: 4 3 -2"), "sizes is");
    is_told(instead("sizes: 4 3 2", "sizes: 4 3 0"), "sizes is");
    is_told(
        instead("sizes: 4 3 2", "sizes: 4294967296 4294967296 4294967296"),
        "more than 2147483648",
    );
    is_told(
        instead("sizes: 4 3 2", "sizes: 1000 1000 1000"),
        "announces 1000000000 voxels, but the data end after 24",
    );
    is_told(instead("dimension: 3", "dimension: 2"), "dimension is '2'");
    is_told(
        instead("dimension: 3", "dimension: 99999999999999999999"),
        "dimension is",
    );
    is_told(instead("type: uchar", "type: block"), "type is 'block'");
    is_told(instead("type: uchar", "type: short"), "no field `endian`");
    is_told(instead("type: uchar", "colour: red"), "no field `type`");
}

#[test]
fn hostile_nrrd_places_and_data_are_refused_by_field() {
    is_told(
        instead("encoding: raw", "encoding: hex"),
        "encoding is 'hex'",
    );
    is_told(instead("(0.5,0,0)", "(nan,0,0)"), "not a finite number");
    is_told(instead("(0.5,0,0)", "(0,0,0)"), "enclose no volume");
    is_told(instead("(0.5,0,0)", "(0.5,0)"), "space directions is");
    is_told(instead("(0.5,0,0)", "none"), "space directions is");
    is_told(instead("(1,2,3)", "(1,2"), "space origin is");
    is_told(
        instead("left-posterior-superior", "sideways"),
        "space is 'sideways'",
    );
    is_told(instead("# a comment", "a letter"), "line 2: 'a letter'");
    is_told(
        instead("encoding: raw", "encoding: raw\nbyte skip: -5"),
        "byte skip is '-5'",
    );
    is_told(
        instead("encoding: raw", "encoding: raw\ndata file: LIST"),
        "several files",
    );
    is_told(
        instead("encoding: raw", "encoding: raw\ndata file: x.raw"),
        "x.raw",
    );
    is_told(
        instead("encoding: raw", "encoding: gzip"),
        "cannot be read after voxel 0",
    );
    let endless = [b"NRRD0004\n".to_vec(), vec![b'#'; 3 << 20]].concat();
    is_told(read_text(&endless), "longer than a mebibyte");
}

#[test]
fn a_detached_header_takes_what_is_beside_it_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bone.nhdr");
    let write = |name: &str| {
        let file = nrrd(
            &format!("line skip: 1\nbyte skip: 2\ndata file: {name}\n"),
            "raw",
            b"",
        );
        std::fs::write(&path, file).unwrap();
    };
    std::fs::write(
        folder.path().join("bone.raw"),
        [b"a line\n??".to_vec(), counting()].concat(),
    )
    .unwrap();
    write("bone.raw");
    let loaded = crate::read_label(&path, 17).unwrap();
    assert_eq!(loaded.format, Content::Nrrd);
    write("none.raw");
    let told = crate::read_label(&path, 17).unwrap_err().to_string();
    assert!(
        told.contains("none.raw") && told.contains("keep both files in one folder"),
        "{told}"
    );
    for elsewhere in ["../bone.raw", "/etc/hostname"] {
        write(elsewhere);
        let told = crate::read_label(&path, 17).unwrap_err().to_string();
        assert!(told.contains("not in the folder of the header"), "{told}");
    }
}

// To a mesh

/// A box of label 4 with a crumb, and a box of label 2, in a volume with 6 x 5 x 7 mm between voxels.
fn two_boxes() -> LabelVolume {
    let axes = Matrix3::from_diagonal(&Vector3::new(6.0, 5.0, 7.0));
    let grid = Grid::new(Point3::new(-10.0, 20.0, 30.0), axes).unwrap();
    let label = |at: usize| {
        let [i, j, k] = [at % 20, at / 20 % 12, at / 240];
        let deep = (1..11).contains(&j) && (1..9).contains(&k);
        match i {
            1..=8 if deep => 4,
            10 if (j, k) == (5, 5) => 4,
            12..=18 if deep => 2,
            _ => 0,
        }
    };
    LabelVolume::new([20, 12, 10], grid, (0..2400).map(label)).unwrap()
}

fn loaded(volume: &LabelVolume, label: Option<i32>) -> Result<Loaded, crate::ReadError> {
    let mut file = Vec::new();
    write_nifti_gz(&mut file, volume).unwrap();
    match label {
        None => read_from(file.as_slice(), file.len() as u64, Some("gz")),
        Some(label) => read_label_from(file.as_slice(), file.len() as u64, Some("gz"), label),
    }
}

#[test]
fn one_of_several_labels_must_be_chosen_and_must_be_there() {
    let volume = two_boxes();
    let told = loaded(&volume, None).unwrap_err().to_string();
    assert_eq!(
        told,
        "the volume holds 2 labels: 2 (560 voxels), 4 (641 voxels); choose one"
    );
    let told = loaded(&volume, Some(3)).unwrap_err().to_string();
    assert!(
        told.contains("no label 3; it holds 2 (560 voxels), 4"),
        "{told}"
    );
    assert!(
        loaded(&volume, Some(0)).is_err(),
        "the background is no label"
    );
}

#[test]
fn the_label_chosen_lies_where_its_voxels_do_and_what_was_done_is_told() {
    let loaded = loaded(&two_boxes(), Some(4)).unwrap();
    let bounds = loaded.mesh.bounds().unwrap();
    // Voxels 1 to 8 reach from half a step before the first to half a step past the last.
    let (low, high) = (Point3::new(-7.0, 22.5, 33.5), Point3::new(41.0, 72.5, 89.5));
    assert!(
        (bounds.min - low).norm() < 2.0 && (bounds.max - high).norm() < 2.0,
        "{bounds:?}"
    );
    assert!((loaded.mesh.volume() / (640.0 * 210.0) - 1.0).abs() < 0.01);
    let told: Vec<_> = loaded.remarks.iter().map(ToString::to_string).collect();
    assert_eq!(
        told[0],
        "the mesh was made of label 4 (641 voxels) of a volume of 20 x 12 x 10; it also holds 2 (560 voxels)"
    );
    assert_eq!(loaded.remarks[1..], [Remark::CrumbsDropped { pieces: 1 }]);
    assert_eq!(loaded.format, Content::Nifti);
}

#[test]
fn a_bone_cut_by_the_border_is_told() {
    let grid = Grid::new(Point3::origin(), Matrix3::identity()).unwrap();
    let volume = LabelVolume::new([4, 4, 4], grid, std::iter::repeat(1)).unwrap();
    let loaded = loaded(&volume, None).unwrap();
    assert!(loaded.remarks.contains(&Remark::CutAtBorder));
    assert!((loaded.mesh.volume() / 64.0 - 1.0).abs() < 0.01);
}

#[test]
fn a_volume_survives_both_formats() {
    let volume = two_boxes();
    let mut file = Vec::new();
    write_nifti(&mut file, &volume).unwrap();
    assert_eq!(read_nifti(&mut file.as_slice()).unwrap(), volume);
    file.clear();
    write_nrrd(&mut file, &volume).unwrap();
    let read = read_text(&file).unwrap();
    assert_eq!(read.runs, volume.runs);
    assert_eq!(read.grid, volume.grid);
}

#[test]
fn a_label_is_not_asked_of_a_mesh() {
    let mut file = Vec::new();
    let cube = cupwright_geometry::samples::cuboid([1.0; 3]);
    crate::write_to(&mut file, &cube, crate::Format::StlBinary).unwrap();
    let told = read_label_from(file.as_slice(), file.len() as u64, None, 1).unwrap_err();
    assert_eq!(
        told.to_string(),
        "label 1 is asked for, but the file holds binary STL, which has no labels; leave the label out"
    );
}
