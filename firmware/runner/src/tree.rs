//! Where things are.

use std::path::{Path, PathBuf};

/// The project's directories.
pub struct Tree {
    /// `firmware/`.
    pub firmware: PathBuf,
    /// The project's root.
    pub root: PathBuf,
}

impl Tree {
    /// From where this program was compiled.
    pub fn here() -> Self {
        let firmware = Path::new(env!("CARGO_MANIFEST_DIR"))
            .parent()
            .expect("runner/ lies in firmware/")
            .to_path_buf();
        let root = firmware
            .parent()
            .expect("firmware/ lies in the project")
            .to_path_buf();
        Self { firmware, root }
    }

    /// Where cargo puts everything about the targets.
    pub fn output(&self) -> PathBuf {
        self.firmware.join("target")
    }
}
