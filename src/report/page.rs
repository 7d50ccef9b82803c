//! One self-contained HTML page: nothing is fetched, nothing runs, it prints well on A4 and Letter.
//!
//! A [`Page`] has a title and [`Markup`]; the markup is made by functions that escape whatever
//! they are given, so text from people cannot become tags. The policy in the page's head forbids
//! everything but the page's own style, which it knows by its SHA-256 (Content Security Policy
//! Level 3, 2.3.1), so a tag that slipped in all the same could neither run nor call out.
//!
//! ```
//! use duskmark::report::{Language, Markup, Page};
//!
//! let mut body = Markup::default();
//! body.heading(1, "Slate & moss");
//! let html = Page { language: Language::English, title: "Slate & moss".into(), body }.html();
//! assert!(html.contains("<h1>Slate &amp; moss</h1>") && !html.contains("<script"));
//! ```

mod markup;
mod style;
mod table;

pub use markup::Markup;
pub(super) use table::UNBROKEN;
pub use table::{Cell, Table};

use sha2::{Digest as _, Sha256};

use super::words::{Language, plain};
pub(super) use markup::escaped;

/// A whole page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// The language of all its words.
    pub language: Language,
    /// What the browser's tab and the printed file are called; text from people is fine.
    pub title: String,
    /// What stands in it.
    pub body: Markup,
}

impl Page {
    /// The page as a complete HTML document; the same page gives the same bytes.
    #[must_use]
    pub fn html(&self) -> String {
        let (tag, direction) = (self.language.tag(), self.language.direction());
        let policy = format!(
            "default-src 'none'; style-src 'sha256-{}'; base-uri 'none'; form-action 'none'",
            base64(&Sha256::digest(style::CSS.as_bytes()))
        );
        let title = escaped(&plain(&self.title));
        let (css, body) = (style::CSS, self.body.as_str());
        format!(
            "<!DOCTYPE html>\n\
             <html lang=\"{tag}\" dir=\"{direction}\">\n\
             <head>\n\
             <meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <meta name=\"referrer\" content=\"no-referrer\">\n\
             <meta name=\"generator\" content=\"duskmark\">\n\
             <title>{title}</title>\n\
             <style>{css}</style>\n\
             </head>\n\
             <body>\n<main>\n{body}</main>\n</body>\n</html>\n"
        )
    }
}

/// Bytes in base 64 (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let letter = |six: u32| {
        LETTERS
            .get(six as usize & 63)
            .map_or('=', |b| char::from(*b))
    };
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let byte = |at: usize| u32::from(three.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for place in 0..4 {
            let padding = place > three.len();
            out.push(if padding {
                '='
            } else {
                letter(bits >> (18 - 6 * place))
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_is_that_of_the_standard() {
        // RFC 4648, section 10.
        for (bytes, text) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
    }

    #[test]
    fn what_people_wrote_stays_text() {
        let nasty = "</title><script>alert(1)</script>\u{202e}\"'&";
        let mut body = Markup::default();
        body.heading(1, nasty);
        body.paragraph(nasty);
        body.list(&[nasty]);
        body.facts(&[(nasty, nasty)]);
        body.table(&Table {
            caption: nasty.into(),
            name: nasty.into(),
            head: vec![vec![Cell::heading(nasty)]],
            rows: vec![vec![Cell::text(nasty)]],
        });
        body.figure("<svg></svg>", nasty);
        let page = Page {
            language: Language::German,
            title: nasty.into(),
            body,
        };
        let html = page.html();
        assert!(!html.contains("<script") && !html.contains('\u{202e}'));
        assert_eq!(html.matches("</title>").count(), 1);
        assert!(html.contains("<html lang=\"de\" dir=\"ltr\">"));
    }
}
