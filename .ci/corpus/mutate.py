#!/usr/bin/env python3
"""Mutated design files, by hand: mutate.py PROGRAM SEED COUNT [--jobs N]

Takes the demo designs and the corpus in turn and changes one to six things: bytes, lines, numbers. Each file goes to one
command; whatever run.py calls wrong is printed with the file's text."""
import random
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import run

ROOT = Path(__file__).resolve().parents[2]
NUMBERS = ["0", "-1", "1e9", "-1e9", "1e-9", "nan", "inf", "0.01", "255", "65536", "1e308", "\"1\"", "[]", "true", "0x10"]


def mutated(rng, text):
    for _ in range(rng.choice([1, 1, 2, 3, 6])):
        lines = text.split("\n")
        way = rng.randrange(7)
        at = rng.randrange(len(lines))
        if way == 0:
            lines[at] = ""
        elif way == 1:
            lines.insert(rng.randrange(len(lines)), lines[at])
        elif way == 2:
            other = rng.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        elif way in (3, 4, 5):
            valued = [n for n, line in enumerate(lines) if "=" in line and not line.startswith("#")]
            if valued:
                n = rng.choice(valued)
                key, old = lines[n].split("=", 1)
                try:
                    number = float(old.split("#")[0])
                    new = repr(number * rng.choice([0.5, 2, 10, 0.1, -1, 1.01, 0.99])) if way > 3 else rng.choice(NUMBERS)
                except ValueError:
                    new = rng.choice(NUMBERS + [old])
                lines[n] = f"{key}= {new}"
        text = "\n".join(lines)
        if way == 6 and text:
            at = rng.randrange(len(text))
            text = text[:at] + rng.choice("[]{}=\"'#\n\t.,\x00\x7f\u00e9\u4e00") + text[at + rng.randrange(3):]
    return text


def main():
    program, seed, count = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
    jobs = int(sys.argv[5]) if "--jobs" in sys.argv else 2
    rng = random.Random(seed)
    sources = sorted((ROOT / "host-harness/designs").glob("*.toml")) + sorted((ROOT / ".ci/corpus/designs").glob("*.toml"))
    texts = [path.read_text() for path in sources]
    commands = list(run.COMMANDS)
    codes, failures, worst, largest = {}, 0, 0.0, 0
    # the limit of processor time finds what turns in circles; this one is for what waits, on a machine that does other things
    run.WALL_S = 3600
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(jobs) as pool:
        def trial(number):
            # half of them from the demos, which are legal
            text = texts[number % 4] if number % 2 else texts[number % len(texts)]
            text = mutated(random.Random(seed * 1_000_003 + number), text)
            path = Path(folder) / f"{number}.toml"
            path.write_text(text, encoding="utf-8")
            result = run.one([program], commands[number % len(commands)], str(path))
            path.unlink()
            return number, text, result
        for number, text, (code, cpu, memory, wrong) in pool.map(trial, range(count)):
            codes[code] = codes.get(code, 0) + 1
            if number % 500 == 499:
                print(f"{number + 1} files, {failures} failures", file=sys.stderr, flush=True)
            worst, largest = max(worst, cpu), max(largest, memory)
            if wrong:
                failures += 1
                print(f"FAILED {number} {commands[number % len(commands)]}: {wrong}\n{text}\n----", flush=True)
    print(f"{count} files, seed {seed}: exit statuses {dict(sorted(codes.items()))}, {failures} failures, "
          f"at most {worst:.1f} s of CPU time and {largest / 2**20:.0f} MB")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
