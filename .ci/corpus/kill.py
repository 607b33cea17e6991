#!/usr/bin/env python3
"""Kills a build at random moments: kill.py PROGRAM COUNT [--beside]

Two designs are built in turn into one directory and killed after a random time. After each kill the six files must be all of
one design (or none yet); after a last, undisturbed build nothing may be left beside them."""
import hashlib
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

FILES = ["firmware.c", "firmware.h", "firmware.rs", "report.html", "trace.csv", "verdict.json"]
ROOT = Path(__file__).resolve().parents[2]


def seen(folder):
    try:
        return tuple(hashlib.sha256((folder / name).read_bytes()).hexdigest() for name in FILES)
    except FileNotFoundError:
        return None if not folder.exists() else ("some of them",)


def main():
    program, count = os.path.abspath(sys.argv[1]), int(sys.argv[2])
    rng = random.Random(15)
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        text = (ROOT / "host-harness/designs/studio-rack.toml").read_text()
        text = re.sub(r"duration_s = \d+", "duration_s = 1200", text)
        text = re.sub(r"event = \[.*?\n\]", "", text, flags=re.S)
        designs = [folder / "one.toml", folder / "two.toml"]
        designs[0].write_text(text)
        designs[1].write_text(text.replace("title = \"", "title = \"Two: "))
        wholes = []
        for n, design in enumerate(designs):
            began = time.monotonic()
            subprocess.run([program, "build", design, "--out", folder / f"whole{n}"], stdout=subprocess.DEVNULL, check=False)
            length = time.monotonic() - began
            wholes.append(seen(folder / f"whole{n}"))
        out = folder / "results" / "out"
        beside = "--beside" in sys.argv
        if beside:
            out.mkdir(parents=True)
            (out / "notes.txt").write_text("of somebody else")
        stages = "results/out/.hushloop-*" if beside else "results/.out.hushloop-*"
        mixed = killed = news = 0
        last = None
        for n in range(count):
            child = subprocess.Popen([program, "build", designs[n % 2], "--out", out], stdout=subprocess.DEVNULL,
                                     stderr=subprocess.DEVNULL)
            # half of the kills wait for the first file to appear, the rest of the run is uniform
            if n % 2:
                while child.poll() is None and not list(folder.glob(stages)):
                    time.sleep(0.0002)
                time.sleep(rng.uniform(0, 0.02))
            else:
                time.sleep(rng.uniform(0, 1.2 * length))
            how = signal.SIGKILL if n % 4 < 2 else signal.SIGINT
            child.send_signal(how)
            killed += child.wait() not in (0, 1)
            now = seen(out)
            mixed += now is not None and now not in wholes
            news += now != last
            last = now
        left = len(list(folder.glob("results/.out*")))
        subprocess.run([program, "build", designs[0], "--out", out], stdout=subprocess.DEVNULL, check=False)
        remains = [p.name for p in (folder / "results").iterdir() if p.name != "out"] + [
            p.name for p in out.iterdir() if p.name not in [*FILES, "notes.txt"]]
        print(f"{count} runs, {killed} ended by the kill, results replaced {news} times: {mixed} mixed; {left} leftovers "
              f"after the last kill, {len(remains)} after the next build")
        return 1 if mixed or remains or not killed or not news else 0


if __name__ == "__main__":
    sys.exit(main())
