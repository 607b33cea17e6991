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
