//! Percent-encoding of query strings.

/// Percent-encoding of everything but RFC 3986's unreserved characters.
pub(crate) fn escaped(value: &str) -> String {
    let mut text = String::with_capacity(value.len());
    escape_onto(&mut text, value);
    text
}

/// The same at the end of a text.
pub(crate) fn escape_onto(text: &mut String, value: &str) {
    for byte in value.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            text.push(char::from(byte));
        } else {
            let digits = [byte >> 4, byte & 15].map(|half| char::from_digit(half.into(), 16));
            text.push('%');
            text.extend(digits.into_iter().flatten().map(|digit| digit.to_ascii_uppercase()));
        }
    }
}

/// Undoes percent-encoding; `+` is a space, as forms send it. `None` where it
/// is cut off or no UTF-8.
pub(super) fn decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'+' => b' ',
            b'%' => {
                let mut digit = || rest.next().and_then(|hex| char::from(hex).to_digit(16));
                let (high, low) = (digit()?, digit()?);
                u8::try_from(high * 16 + low).ok()?
            }
            plain => plain,
        });
    }
    String::from_utf8(bytes).ok()
}
