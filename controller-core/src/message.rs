//! How errors say what they have to say.

/// `Display` and `Error` for error types that have a `message`.
macro_rules! speaks_its_message {
    ($error:ty) => {
        impl core::fmt::Display for $error {
            fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                f.write_str(self.message())
            }
        }

        impl core::error::Error for $error {}
    };
}

pub(crate) use speaks_its_message;

#[cfg(test)]
pub(crate) mod tests {
    use std::string::ToString;

    /// The words of a refusal begin with what was refused, end with what would be accepted, and are
    /// what the error displays.
    pub(crate) fn speaks(error: &dyn core::error::Error, words: &str, part: &str, accepted: &str) {
        assert!(words.starts_with(part), "{words}");
        assert_eq!(words.split("; accepted: ").nth(1), Some(accepted));
        assert_eq!(error.to_string(), words);
    }
}
