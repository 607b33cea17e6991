"""Checks Cargo.lock: no crate that needs a system library, and no pre-release of a direct dependency.

A machine with nothing but Rust must build everything, so a crate that looks for a library on the machine
(pkg-config and the crates that link one) fails this stage.
"""
import re
import sys
import tomllib

# *-sys crates that bind an operating system's own interface and link no library of the distribution
PURE = {"js-sys", "web-sys", "linux-raw-sys", "windows-sys", "core-foundation-sys", "wasm-bindgen-sys"}
SYSTEM = {"pkg-config", "vcpkg", "system-deps", "fontconfig", "yeslogic-fontconfig-sys", "libudev", "openssl-sys", "freetype-sys"}

packages = tomllib.load(open(sys.argv[1], "rb"))["package"]
bad = [p["name"] for p in packages if p["name"] in SYSTEM or (p["name"].endswith("-sys") and p["name"] not in PURE)]
manifest = tomllib.load(open("Cargo.toml", "rb"))["workspace"]["dependencies"]
versions = {}
for p in packages:
    versions.setdefault(p["name"], []).append(p["version"])
unstable = [f"{n} {v}" for n in manifest for v in versions.get(n, []) if re.search(r"-(alpha|beta|rc|pre)", v)]
for name in bad:
    print(f"{name} needs a system library")
for name in unstable:
    print(f"{name} is a pre-release")
print(f"{len(packages)} packages looked at, {len(bad)} need a system library, {len(unstable)} pre-releases")
sys.exit(1 if bad or unstable or len(packages) < 20 else 0)
