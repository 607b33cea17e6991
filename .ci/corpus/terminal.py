#!/usr/bin/env python3
"""Every command at a terminal of 80 columns: no line is longer. terminal.py PROGRAM DESIGNS...

Code that goes to the terminal (`table --format rust`, `c`, `csv`) is not text and is left out.
First a stand-in that is one column too wide must be noticed, and one that looks at its terminal must not."""
import fcntl
import os
import pty
import re
import shutil
import struct
import sys
import tempfile
import termios
from pathlib import Path

COLUMNS = 80
ESCAPE = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
PLAIN = [["--help"], ["keys"], ["tune", "--model", "2,30,5"]] + [
    [command, "--help"] for command in ("build", "simulate", "tune", "keys", "verify", "divider", "table")]
# DESIGN is a copy of the design, OUT a folder that is there after `build`
ON_A_DESIGN = [["build", "DESIGN", "--out", "OUT"], ["build", "DESIGN", "--against", "OUT", "--out", "OUT"], ["simulate", "DESIGN"],
               ["verify", "DESIGN"], ["divider", "DESIGN"], ["table", "DESIGN"], ["tune", "DESIGN", "--dry-run"]]
SLOW = [["simulate", "DESIGN", "--faults"]]
WRONG = [["simulate", "no-such-file-with-a-name-that-is-rather-long.toml"], ["frobnicate"], ["simulate", "DESIGN", "--no-such-option"]]


def at_terminal(args):
    """What a program writes to a terminal, and its exit status."""
    pid, fd = pty.fork()
    if pid == 0:
        os.environ.pop("COLUMNS", None)
        os.environ["TERM"] = "xterm"
        fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, COLUMNS, 0, 0))
        os.execv(args[0], args)
    said = b""
    while True:
        try:
            some = os.read(fd, 65536)
        except OSError:
            break
        if not some:
            break
        said += some
    os.close(fd)
    return said.decode(errors="replace"), os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])


def too_wide(said):
    lines = [ESCAPE.sub("", part) for line in said.split("\n") for part in line.rstrip("\r").split("\r")]
    return [line for line in lines if len(line) > COLUMNS]


def self_test():
    narrow = "import os; print('x' * os.get_terminal_size().columns)"
    wide = "import os; print('short'); print('x' * (os.get_terminal_size().columns + 1))"
    sound = not too_wide(at_terminal([sys.executable, "-c", narrow])[0])
    noticed = bool(too_wide(at_terminal([sys.executable, "-c", wide])[0]))
    print(f"stand-in of {COLUMNS} columns: {'passes' if sound else 'FAILED'}; of {COLUMNS + 1}: {'noticed' if noticed else 'MISSED'}")
    return sound and noticed


def main():
    program, designs = os.path.abspath(sys.argv[1]), [Path(d) for d in sys.argv[2:]]
    if not self_test():
        return 1
    failures, ran = [], 0

    def check(args, code=None):
        nonlocal ran
        ran += 1
        said, status = at_terminal([program, *args])
        if not said.strip():
            failures.append(f"{' '.join(args)}: said nothing")
        if status not in ((0, 1) if code is None else (code,)):
            failures.append(f"{' '.join(args)}: exit status {status}")
        failures.extend(f"{' '.join(args)}: {len(line)} columns: {line}" for line in too_wide(said))

    for args in PLAIN:
        check(args, 0)
    with tempfile.TemporaryDirectory() as folder:
        out = os.path.join(folder, "out")
        for number, design in enumerate(designs):
            copy = os.path.join(folder, design.name)
            shutil.copy(design, copy)
            for args in ON_A_DESIGN + (SLOW if number < 2 else []):
                check([copy if a == "DESIGN" else out if a == "OUT" else a for a in args])
        for args in WRONG:
            check([copy if a == "DESIGN" else a for a in args], 2)
    for failure in failures:
        print("FAILED", failure)
    print(f"{ran} commands at a terminal of {COLUMNS} columns, {len(failures)} failures")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
