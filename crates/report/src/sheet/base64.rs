//! Bytes as text, by RFC 4648, section 4, with padding.

const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// `bytes` in groups of four letters.
pub(super) fn base64(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let byte = |k: usize| u32::from(group.get(k).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for k in 0..4_usize {
            let letter = (bits >> (18 - 6 * k)) & 63;
            let given = k <= group.len();
            text.push(if given {
                char::from(LETTERS[letter as usize])
            } else {
                '='
            });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::base64;

    /// RFC 4648, section 10.
    #[test]
    fn the_test_vectors_of_the_standard_come_out() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (bytes, text) in vectors {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
        assert_eq!(base64(&[0xfb, 0xff]), "+/8=");
    }
}
