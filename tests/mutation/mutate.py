#!/usr/bin/env python3
"""Would the tests notice?  Flips one operator or constant of the core formulas at a time, builds what
changed and runs the tests until one fails.  A mutant that no test notices is a test that is missing, or one
that computes the same: those are listed, with the reason, in equivalent.txt.

    mutate.py [--part N] [--seed S] [--quick] SCRATCH [FILE...]

SCRATCH gets a copy of the project; what lies there is kept for the next run.  --part N takes N mutants of
each file, by chance (seed S), instead of all; --quick leaves it at the Check programs about that file and the
whole program's cases, so that some it calls survivors would be noticed by others.  FILE is a source of lib/ by its base name (default: all of
CORE).  Status 1 if fewer than 95 % of those that are not equivalent were killed."""
import argparse
import os
import random
import re
import shutil
import signal
import subprocess
import sys

TOP = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
LEAST = 0.95

# Each source of the core formulas, and the Check programs that are about it: they run first.
CORE = {
    "forces": ["forces", "wheels", "metrics", "reference_car"],
    "friction": ["forces", "metrics"],
    "blend": ["blend", "metrics"],
    "delay": ["blend", "plant", "metrics"],
    "evidence": ["evidence", "fallback"],
    "sums": ["sums", "fallback", "evidence"],
    "fallback": ["fallback", "events"],
    "heat": ["heat", "bypass", "reference"],
    "trend": ["trend", "drift", "reference"],
    "breakpoint": ["trend", "drift", "reference"],
}

# Binary operators have a blank on both sides in this house, and pointers have not.
SWAPS = {
    "+": "-", "-": "+", "*": "/", "/": "*", "<": ">=", ">": "<=", "<=": ">", ">=": "<", "==": "!=",
    "!=": "==", "&&": "||", "||": "&&", "+=": "-=", "-=": "+=", "*=": "/=", "/=": "*=",
}
OPERATOR = re.compile(r"(?<= )(\+=|-=|\*=|/=|<=|>=|==|!=|&&|\|\||[-+*/<>])(?= )")
NOT = re.compile(r"(?<![\w!])!(?=[\w(])")
BOUND = re.compile(r"\bfm(in|ax)(?=\()")
NUMBER = re.compile(r"(?<![\w.])(\d+\.\d*(?:[eE][-+]?\d+)?|\d+[eE][-+]?\d+|\d+)(?![\w.])")
# What refuses, allocates or talks is no formula; an include's digits are no constant.
LEFT_OUT = re.compile(r"bt_fail|assert|snprintf|bt_grow|calloc|malloc|#include|BT_TRY\(bt_notes|PRINTF")


def other_number(text):
    if re.fullmatch(r"\d+", text):
        return str({0: 1, 1: 2}.get(int(text), 2 * int(text)))
    return repr(float(text) * 1.5 or 0.5)


def blanked(source):
    """The source with comments, strings and characters as blanks: only code is left, where it was."""
    pattern = re.compile(r'/\*.*?\*/|//[^\n]*|"(?:\\.|[^"\\])*"|\'(?:\\.|[^\'\\])*\'', re.S)
    return pattern.sub(lambda m: re.sub(r"[^\n]", " ", m.group()), source)


def mutants_of(source):
    """(start, end, replacement) of every mutant."""
    code = blanked(source)
    found = []
    at = 0
    for line in code.split("\n"):
        if not LEFT_OUT.search(line):
            for m in OPERATOR.finditer(line):
                found.append((at + m.start(), at + m.end(), SWAPS[m.group()]))
            for m in NOT.finditer(line):
                found.append((at + m.start(), at + m.end(), ""))
            for m in BOUND.finditer(line):
                found.append((at + m.start(), at + m.end(), "fmax" if m.group() == "fmin" else "fmin"))
            for m in NUMBER.finditer(line):
                found.append((at + m.start(), at + m.end(), other_number(m.group())))
        at += len(line) + 1
    return sorted(found)


def described(source, mutant):
    start, end, new = mutant
    begin = source.rfind("\n", 0, start) + 1
    stop = source.find("\n", start)
    line, code = source[begin:stop].strip(), blanked(source)[begin:stop].strip()
    shift = start - begin - (len(source[begin:stop]) - len(source[begin:stop].lstrip()))
    which = code[: shift + end - start].count(source[start:end])
    return "%s => %s (%d): %s" % (source[start:end], new or "nothing", which, line)


def run(command, folder, seconds):
    """True if it ends well within the time."""
    process = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               stdin=subprocess.DEVNULL, start_new_session=True,
                               env=dict(os.environ, CK_FORK="no", LC_ALL="C"))
    try:
        return process.wait(seconds) == 0
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return False


def all_checks(folder):
    names = sorted(os.listdir(os.path.join(folder, "tests")))
    return [n[6:-2] for n in names if n.startswith("check_") and n.endswith(".c") and n != "check_faults.c"]


def killer(folder, first, quick):
    """What noticed; None = nobody."""
    rest = [c for c in all_checks(folder) if c not in first]
    for group in (first,) if quick else (first, rest):
        programs = ["build/tests/check_" + c for c in group]
        if not run(["make", "-s", *programs], folder, 600):
            return "compiler"
        for check in group:
            if not run(["build/tests/check_" + check], folder, 60):
                return "check_" + check
    if not run(["make", "-s", "build/braketally", "build/plant"], folder, 600):
        return "compiler"
    return None if run(["sh", "tests/cli/run.sh"], folder, 300) else "cli"


def equivalents():
    known = {}
    with open(os.path.join(TOP, "tests/mutation/equivalent.txt"), encoding="utf-8") as f:
        for line in f:
            if line.strip() and not line.startswith(("#", "    ")):
                name, _, mutant = line.rstrip("\n").partition(": ")
                known[(name, mutant)] = True
    return known


def path_of(folder, name):
    for root, _, files in os.walk(os.path.join(folder, "lib")):
        if name + ".c" in files:
            return os.path.join(root, name + ".c")
    sys.exit("mutate: no source lib/*/%s.c" % name)


def copy_project(folder):
    """Only what changed, so that the build in it goes on."""
    for part in ["Makefile", "README.md", "lib", "cli", "tests", "testdata", "man"]:
        source = os.path.join(TOP, part)
        for root, _, files in os.walk(source) if os.path.isdir(source) else [(TOP, [], [part])]:
            for name in files:
                old = os.path.join(root, name)
                new = os.path.join(folder, os.path.relpath(old, TOP))
                with open(old, "rb") as f:
                    want = f.read()
                if os.path.exists(new) and open(new, "rb").read() == want:
                    continue
                os.makedirs(os.path.dirname(new), exist_ok=True)
                shutil.copy(old, new)
                os.utime(new)


def write(path, text):
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)


def mutate(folder, name, chosen, known, quick):
    """(killed, survived, equivalent) of one file."""
    path = path_of(folder, name)
    with open(path, encoding="utf-8") as f:
        source = f.read()
    count = [0, 0, 0]
    try:
        for mutant in chosen(mutants_of(source)):
            what = described(source, mutant)
            if (name, what) in known:
                count[2] += 1
                continue
            write(path, source[: mutant[0]] + mutant[2] + source[mutant[1] :])
            by = killer(folder, CORE[name], quick)
            count[0 if by else 1] += 1
            line = source.count("\n", 0, mutant[0]) + 1
            print("%-9s %s:%d: %s%s" % ("killed" if by else "SURVIVED", name, line, what, "  [%s]" % by if by else ""),
                  flush=True)
    finally:
        write(path, source)
    return count


def main():
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("--part", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("scratch")
    parser.add_argument("file", nargs="*", default=list(CORE))
    options = parser.parse_args()
    folder = os.path.abspath(options.scratch)
    os.makedirs(folder, exist_ok=True)
    copy_project(folder)
    os.environ["CFLAGS"] = "-O1"
    needed = sorted({c for name in options.file for c in CORE[name]})
    if killer(folder, needed, options.quick) is not None:
        sys.exit("mutate: the tests fail without any mutant")
    chance = random.Random(options.seed)
    known = equivalents()

    def chosen(mutants):
        if options.part is None or options.part >= len(mutants):
            return mutants
        return sorted(chance.sample(mutants, options.part))

    total = [0, 0, 0]
    for name in options.file:
        count = mutate(folder, name, chosen, known, options.quick)
        print("%s: %d killed, %d survived, %d equivalent" % (name, *count), flush=True)
        total = [a + b for a, b in zip(total, count)]
    share = total[0] / max(1, total[0] + total[1])
    print("%d killed, %d survived, %d equivalent: %.1f %% killed" % (*total, 100 * share))
    sys.exit(share < LEAST)


main()
