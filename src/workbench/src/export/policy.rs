//! What a browser may do with a page of this program: show it, and nothing else.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest as _, Sha256};

/// The content policy of a page whose only style sheet is `style`, the text between its tags (W3C, *Content Security Policy
/// Level 3*): no script, no frame, no form, nothing fetched from anywhere; pictures that are in the page itself, and that one
/// style sheet, known by its digest.
pub(super) fn of_style(style: &str) -> String {
    let digest = STANDARD.encode(Sha256::digest(style));
    format!(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
         style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'\">"
    )
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_digest_is_that_of_the_standard() {
        // FIPS 180-2, appendix B.1: 'abc' gives ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad.
        let policy = super::of_style("abc");
        assert!(policy.contains("'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='"), "{policy}");
    }
}
