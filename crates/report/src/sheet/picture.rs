//! Pictures that the caller hands over, such as renderings of the bone: PNG, kept as they came.

use thiserror::Error;

use super::base64::base64;

/// What every PNG begins with (ISO/IEC 15948, section 5.2).
const SIGNATURE: &[u8] = b"\x89PNG\r\n\x1a\n";
/// What every PNG ends with: the chunk IEND, which is empty, and its checksum.
const END: &[u8] = b"\0\0\0\0IEND\xae\x42\x60\x82";
/// The most bytes of a picture; more make a sheet that mail and browsers refuse.
const MOST_BYTES: usize = 20_000_000;

/// Why a picture is not taken.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum BadPicture {
    /// Another format.
    #[error("this is no PNG picture; give one that ends in .png and was saved as PNG")]
    NotPng,
    /// The end is missing.
    #[error("this PNG picture is cut off; save or copy it again")]
    CutOff,
    /// Width or height of nought.
    #[error("this PNG picture has no size; save it again")]
    NoSize,
    /// More than a sheet can carry.
    #[error(
        "this picture has {0} bytes, more than the {MOST_BYTES} a sheet carries; save it smaller"
    )]
    TooLarge(usize),
}

/// A PNG picture and what it is called.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Picture {
    name: String,
    /// In pixels.
    size: [u32; 2],
    bytes: Vec<u8>,
}

impl Picture {
    /// A picture from the bytes of a PNG file; its pixels are not looked at.
    ///
    /// # Errors
    /// When the bytes are no whole PNG or too many.
    pub fn from_png(name: impl Into<String>, bytes: Vec<u8>) -> Result<Self, BadPicture> {
        // Signature, length and type of the first chunk, then width and height (section 11.2.2).
        let header = bytes.strip_prefix(SIGNATURE).and_then(|b| b.get(4..16));
        let header = header.filter(|header| header.starts_with(b"IHDR"));
        let header = header.ok_or(BadPicture::NotPng)?;
        let number = |at: usize| {
            header[at..at + 4]
                .iter()
                .fold(0, |n, b| n << 8 | u32::from(*b))
        };
        let size = [number(4), number(8)];
        if size.contains(&0) {
            return Err(BadPicture::NoSize);
        }
        if !bytes.ends_with(END) {
            return Err(BadPicture::CutOff);
        }
        if bytes.len() > MOST_BYTES {
            return Err(BadPicture::TooLarge(bytes.len()));
        }
        let name = name.into();
        Ok(Self { name, size, bytes })
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Width and height, in pixels.
    pub fn size(&self) -> [u32; 2] {
        self.size
    }

    /// The picture as an address that holds it (RFC 2397).
    pub(super) fn address(&self) -> String {
        format!("data:image/png;base64,{}", base64(&self.bytes))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grey pixel.
    fn pixel() -> Vec<u8> {
        let mut bytes = SIGNATURE.to_vec();
        bytes.extend(b"\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x02\x08\0\0\0\0\0\0\0\0");
        bytes.extend(END);
        bytes
    }

    #[test]
    fn a_png_tells_its_size() {
        let picture = Picture::from_png("a.png", pixel()).unwrap();
        assert_eq!((picture.size(), picture.name()), ([1, 2], "a.png"));
        assert!(
            picture
                .address()
                .starts_with("data:image/png;base64,iVBORw0KGgo")
        );
    }

    #[test]
    fn what_is_no_whole_png_is_refused() {
        let refused = |bytes: &[u8]| Picture::from_png("a.png", bytes.to_vec()).unwrap_err();
        assert_eq!(refused(b""), BadPicture::NotPng);
        assert_eq!(
            refused(b"\xff\xd8\xff\xe0 a photograph"),
            BadPicture::NotPng
        );
        assert_eq!(refused(&pixel()[..12]), BadPicture::NotPng);
        let whole = pixel();
        assert_eq!(refused(&whole[..whole.len() - 1]), BadPicture::CutOff);
        let mut flat = whole;
        flat[19] = 0;
        assert_eq!(refused(&flat), BadPicture::NoSize);
    }

    #[test]
    fn a_picture_beyond_all_bounds_is_refused() {
        let mut bytes = pixel();
        let end = bytes.len() - END.len();
        let pad = vec![0; MOST_BYTES];
        bytes.splice(end..end, pad);
        let length = bytes.len();
        assert_eq!(
            Picture::from_png("a.png", bytes),
            Err(BadPicture::TooLarge(length))
        );
    }
}
