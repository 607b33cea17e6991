#!/usr/bin/env python3
"""Every command on every design of a folder: exit status, CPU time, memory, and what is left behind.

run.py PROGRAM DESIGNS [--expected FILE] [--renew] [--jobs N]
First a stand-in that hangs, panics, eats memory, writes at exit 2, leaves files and so on must be noticed, defect by defect.

With an expected file, each command's exit status must be the one written there; --renew writes it."""
import argparse
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

CPU_S = 60          # 30 s on two cores
WALL_S = 300        # a machine that others use as well; a hang without CPU time is still a hang
MEMORY_BYTES = 1 << 30
REFUSAL_S = 1.0     # CPU time of a refusal by the bounds
COMMANDS = {
    "build": lambda design, out: ["build", design, "--out", out],
    "simulate": lambda design, out: ["simulate", design, "--json"],
    "divider": lambda design, out: ["divider", design],
    "table": lambda design, out: ["table", design, "--format", "c", "--out", out],
    "smallest": lambda design, out: ["table", design, "--encoding", "smallest"],
    "verify": lambda design, out: ["verify", design],
}
FILES = {"firmware.c", "firmware.h", "firmware.rs", "report.html", "trace.csv", "verdict.json"}


def limited():
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def one(program, command, design):
    """Runs one command; gives exit status and everything that is wrong."""
    wrong = []
    with tempfile.TemporaryDirectory(prefix="corpus-") as folder:
        out = os.path.join(folder, "out")
        errors = os.path.join(folder, "errors")
        with open(errors, "wb") as stderr:
            child = subprocess.Popen([*program, *COMMANDS[command](design, out)], stdin=subprocess.DEVNULL,
                                     stdout=subprocess.PIPE, stderr=stderr, preexec_fn=limited)
            started = time.monotonic()
            pipe = child.stdout
            os.set_blocking(pipe.fileno(), False)
            said = b""
            while True:
                said += pipe.read() or b""
                pid, status, used = os.wait4(child.pid, os.WNOHANG)
                if pid:
                    said += pipe.read() or b""
                    break
                if time.monotonic() - started > WALL_S:
                    child.kill()
                    _, status, used = os.wait4(child.pid, 0)
                    wrong.append(f"hangs: over {WALL_S} s")
                    break
                time.sleep(0.01)
            child.returncode = 0
        code = os.waitstatus_to_exitcode(status)
        cpu, memory = used.ru_utime + used.ru_stime, used.ru_maxrss * 1024
        complaint = Path(errors).read_text(errors="replace")
        if cpu > CPU_S - 1:
            wrong.append(f"hangs: {cpu:.0f} s of CPU time")
        if memory > MEMORY_BYTES:
            wrong.append(f"takes {memory / 2**20:.0f} MB")
        if "panicked" in complaint:
            wrong.append("panics: " + complaint.strip().splitlines()[0])
        if code not in (0, 1, 2):
            wrong.append(f"exit status {code}")
        left = set(os.listdir(folder)) - {"errors"}
        if code == 2:
            if left or said:
                wrong.append(f"writes at exit status 2: {sorted(left)} {said[:40]!r}")
            if "accepted" not in complaint and "cannot" not in complaint and "ask for" not in complaint:
                wrong.append("refuses without saying what would be accepted: " + complaint.strip()[:80])
            if "half a minute" in complaint and cpu > REFUSAL_S:
                wrong.append(f"refuses for its work's sake after {cpu:.1f} s")
        elif command == "build":
            if left != {"out"} or set(os.listdir(out)) != FILES:
                wrong.append(f"leaves {sorted(left)}")
        elif left - ({"out"} if command == "table" else set()):
            wrong.append(f"leaves {sorted(left)}")
        if any(len(line) > 100 for line in said.decode(errors="replace").splitlines()) and command != "simulate":
            wrong.append("a line of more than 100 characters")
    return code, cpu, memory, wrong


def campaign(program, designs, commands, jobs):
    work = [(command, design) for design in designs for command in commands]
    with ThreadPoolExecutor(jobs) as pool:
        results = list(pool.map(lambda w: one(program, w[0], str(w[1])), work))
    return {(design.stem, command): result for (command, design), result in zip(work, results)}


STAND_IN = """#!/usr/bin/env python3
import os, sys
how, command = sys.argv[1], sys.argv[2]
out = sys.argv[sys.argv.index("--out") + 1] if "--out" in sys.argv else None
if how == "hangs":
    while True: pass
if how == "panics":
    print("thread 'main' panicked at src/main.rs:1", file=sys.stderr); sys.exit(101)
if how == "eats":
    hoard = b"x" * (1200 << 20); sys.exit(2 if len(hoard) == 1 else 0)
if how == "writes":
    open(out, "w").close(); print("error: accepted: nothing", file=sys.stderr); sys.exit(2)
if how == "signal":
    os.kill(os.getpid(), 15)
if how == "mute":
    sys.exit(2)
if how == "leaves":
    open(out + ".tmp", "w").close(); open(out, "w").close(); sys.exit(0)
if how == "long":
    print("x" * 101); open(out, "w").close(); sys.exit(0)
open(out, "w").close()
"""


def self_test(design):
    global CPU_S, WALL_S
    limits = CPU_S, WALL_S
    CPU_S, WALL_S = 3, 60
    wanted = {"hangs": "hangs", "panics": "panics", "eats": "takes", "writes": "writes at exit status 2",
              "signal": "exit status -15", "mute": "without saying", "leaves": "leaves", "long": "100 characters"}
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        stand_in = os.path.join(folder, "stand-in")
        Path(stand_in).write_text(STAND_IN)
        for how, words in {**wanted, "does well": None}.items():
            *_, wrong = one([sys.executable, stand_in, how], "table", str(design))
            noticed = any(words in w for w in wrong) if words else not wrong
            missed += not noticed
            print(f"stand-in that {how}: {'as it should be' if noticed else 'MISSED'} {wrong}")
    CPU_S, WALL_S = limits
    return missed


def main():
    parse = argparse.ArgumentParser()
    parse.add_argument("program")
    parse.add_argument("designs", nargs="?")
    parse.add_argument("--expected")
    parse.add_argument("--renew", action="store_true")
    parse.add_argument("--jobs", type=int, default=2)
    parse.add_argument("--commands", default=",".join(COMMANDS))
    args = parse.parse_args()
    folder = Path(args.designs)
    designs = sorted(folder.glob("*.toml")) if folder.is_dir() else [folder]
    missed = self_test(designs[0])
    if missed:
        print(f"{missed} built-in defects were not noticed")
        return 1
    results = campaign([args.program], designs, args.commands.split(","), args.jobs)
    failures = [f"{name} {command}: {w}" for (name, command), (*_, wrong) in results.items() for w in wrong]
    lines = {f"{name} {command} {code}" for (name, command), (code, *_) in results.items()}
    if args.renew:
        Path(args.expected).write_text("".join(sorted(line + "\n" for line in lines)))
    elif args.expected:
        wanted = set(Path(args.expected).read_text().split("\n")) - {""}
        for line in sorted(lines - wanted):
            was = next((w for w in wanted if w.rsplit(" ", 1)[0] == line.rsplit(" ", 1)[0]), "nothing")
            failures.append(f"{line}: expected {was.rsplit(' ', 1)[-1]} (if that is right: .ci/corpus/check --renew)")
        failures += [f"{line}: expected, but not run" for line in sorted(
            {w.rsplit(" ", 1)[0] for w in wanted} - {w.rsplit(" ", 1)[0] for w in lines})]
    for failure in failures:
        print("FAILED", failure)
    cpu = sorted(((r[1], k) for k, r in results.items()), reverse=True)[:3]
    memory = sorted(((r[2], k) for k, r in results.items()), reverse=True)[:3]
    codes = {c: sum(r[0] == c for r in results.values()) for c in (0, 1, 2)}
    print(f"{len(designs)} designs, {len(results)} runs: exit status 0, 1, 2: {codes[0]}, {codes[1]}, {codes[2]}")
    print("most CPU time:", ", ".join(f"{c:.1f} s {' '.join(k)}" for c, k in cpu))
    print("most memory:", ", ".join(f"{m / 2**20:.0f} MB {' '.join(k)}" for m, k in memory))
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
