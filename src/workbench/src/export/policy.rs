//! What a browser may do with a page of this program: show it, run its own script, and nothing else.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest as _, Sha256};

/// The content policy of a page whose only style sheet is `style` and whose only script is `script`, the texts between their tags
/// (W3C, *Content Security Policy Level 3*): no frame, no form, nothing fetched from anywhere, nothing sent; pictures that are in
/// the page itself; that one style sheet and that one script, known by their digests.
pub(super) fn of_page(style: &str, script: &str) -> String {
    let [style, script] = [style, script].map(|text| STANDARD.encode(Sha256::digest(text)));
    format!(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; \
         style-src 'sha256-{style}'; script-src 'sha256-{script}'; base-uri 'none'; form-action 'none'\">"
    )
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_digest_is_that_of_the_standard() {
        // FIPS 180-2, appendix B.1: 'abc' gives ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad.
        let policy = super::of_page("abc", "");
        assert!(
            policy.contains("style-src 'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='"),
            "{policy}"
        );
        // Of nothing: e3b0c442 98fc1c14 9afbf4c8 996fb924 27ae41e4 649b934c a495991b 7852b855 (hashlib of Python).
        assert!(
            policy.contains("script-src 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"),
            "{policy}"
        );
    }
}
