//! Lets every image find the memory layouts in `link/` by name.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets CARGO_MANIFEST_DIR");
    println!("cargo::rustc-link-search={here}/link");
    println!("cargo::rerun-if-changed=link");
}
