#!/usr/bin/env python3
"""Would the tests notice?  Flips one operator or constant of the core formulas at a time, compiles that
source and runs the tests with it, the quickest first, until one fails.  A mutant that no test notices is a
test that is missing, or one that computes the same: those are listed, with the reason, in equivalent.txt.
Mutants that the compiler makes the same code of, as of the source or of an earlier mutant, are passed over.

    mutate.py [--part N] [--seed S] [--quick] [--again] SCRATCH [FILE...]

SCRATCH gets a build of its own, kept for the next run.  --part N takes N mutants of each file, by chance
(seed S), instead of all; --quick leaves it at the Check programs about that file, so that some it calls
survivors would be noticed by others; --again takes only what survived the last time in SCRATCH.  FILE is a
source of lib/ by its base name (default: all of CORE).  Status 1 if fewer than 95 % were killed."""
import argparse
import glob
import hashlib
import os
import random
import re
import resource
import shlex
import shutil
import signal
import subprocess
import sys
import time

TOP = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
LEAST = 0.95
# An index beyond its array ends the program, as it does under `make sanitize`.
TRAPS = ["-w", "-O1", "-fsanitize=bounds,unreachable", "-fsanitize-undefined-trap-on-error"]

# Each source of the core formulas, and the Check programs that are about it: they run first.
CORE = {
    "forces": ["forces", "wheels", "metrics", "reference_car"],
    "friction": ["forces", "metrics"],
    "blend": ["blend", "metrics"],
    "delay": ["delay", "delay_plain", "blend"],
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


def run(command, seconds=600, **environment):
    """True if it ends well within the time."""
    def limit():
        resource.setrlimit(resource.RLIMIT_DATA, (1 << 32, 1 << 32))

    process = subprocess.Popen(command, cwd=TOP, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               stdin=subprocess.DEVNULL, start_new_session=True, preexec_fn=limit,
                               env=dict(os.environ, **environment))
    try:
        return process.wait(seconds) == 0
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        return False


class Tests:
    """The tests, built; each can be run with one source of lib/ compiled from elsewhere."""

    def __init__(self, folder, only):
        """All of them, or `only` those Check programs."""
        self.folder = folder
        self.text = os.path.join(folder, "mutant.c")
        self.object = os.path.join(folder, "mutant.o")
        self.program = os.path.join(folder, "mutant")
        self.took = {}
        os.environ.update(LC_ALL="C", CK_FORK="no", TMPDIR=os.path.join(folder, "tmp"))
        shutil.rmtree(os.environ["TMPDIR"], ignore_errors=True)
        os.makedirs(os.environ["TMPDIR"])
        checks = glob.glob(os.path.join(TOP, "tests", "check_*.c"))
        self.checks = only or sorted(os.path.basename(c)[6:-2] for c in checks)
        self.make = ["make", "-s", "--no-print-directory", "BUILD=" + folder, "CFLAGS=-O2", "--eval=.SECONDARY:"]
        subprocess.run([*self.make, "all", folder + "/plant",
                        *[folder + "/tests/check_" + c for c in self.checks]], cwd=TOP, check=True)
        self.compile = self.would_run(folder + "/lib/base/error.o")[:-4] + TRAPS
        self.how = {}

    def would_run(self, target):
        """The command that makes the target, as make would run it last."""
        shown = subprocess.run([*self.make, "-n", "-W", "lib/base/error.c", target], cwd=TOP, check=True,
                               stdout=subprocess.PIPE, universal_newlines=True).stdout
        return shlex.split(shown.strip().split("\n")[-1])

    def compiled(self, source):
        """The object's hash; None = the compiler refuses."""
        write(self.text, source)
        if not run([*self.compile, "-c", "-o", self.object, self.text]):
            return None
        with open(self.object, "rb") as f:
            return hashlib.sha256(f.read()).digest()

    def link(self, target):
        """Links what make would, the mutant before the library, which then has nothing to add for it."""
        if target not in self.how:
            command = self.would_run(os.path.join(self.folder, target))
            command[command.index("-o") + 1] = self.program
            command.insert(command.index(self.folder + "/libbraketally.a"), self.object)
            self.how[target] = command + ["-fuse-ld=gold"]
        return run(self.how[target])

    def passes(self, check):
        if not self.link("tests/check_" + check):
            return False
        begin = time.monotonic()
        passed = run([self.program], 10 * self.took.get(check, 60) + 5)
        self.took.setdefault(check, time.monotonic() - begin)
        return passed

    def killer(self, first, quick):
        """What noticed; None = nobody."""
        rest = [] if quick else [c for c in self.checks if c not in first]
        for group in (first, rest):
            for check in sorted(group, key=lambda c: self.took.get(c, 0)):
                if not self.passes(check):
                    return "check_" + check
        if quick:
            return None
        if not self.link("braketally"):
            return "linker"
        both = {"BRAKETALLY": self.program, "PLANT": self.folder + "/plant"}
        scripts = [["run.sh", "tests/cli/%s.cases" % c] for c in ("verdict", "analyse", "report", "plans")]
        for script in [*scripts, ["readme.sh"], ["run.sh"], ["recipes.sh"]]:
            if not run(["sh", "tests/cli/" + script[0], *script[1:]], **both):
                return " ".join(script)
        return None


def equivalents():
    known = set()
    with open(os.path.join(TOP, "tests/mutation/equivalent.txt"), encoding="utf-8") as f:
        for line in f:
            if line.strip() and not line.startswith(("#", "    ")):
                known.add(tuple(line.rstrip("\n").split(": ", 1)))
    return known


def path_of(name):
    found = glob.glob(os.path.join(TOP, "lib", "*", name + ".c"))
    return found[0] if found else sys.exit("mutate: no source lib/*/%s.c" % name)


def write(path, text):
    with open(path, "w", encoding="utf-8") as f:
        f.write(text)


def mutate(tests, name, chosen, known, quick):
    """How many of one file were killed, and what survived."""
    with open(path_of(name), encoding="utf-8") as f:
        source = f.read()
    seen = {tests.compiled(source)}
    if tests.killer(CORE[name], quick) is not None:
        sys.exit("mutate: the tests fail without any mutant")
    killed, same, survived = 0, 0, []
    for mutant in chosen(mutants_of(source)):
        what = described(source, mutant)
        code = tests.compiled(source[: mutant[0]] + mutant[2] + source[mutant[1] :])
        if (name, what) in known or code in seen:
            same += 1
            continue
        seen.add(code)
        by = tests.killer(CORE[name], quick) if code else "compiler"
        if by:
            killed += 1
        else:
            survived.append((name, what))
        line = source.count("\n", 0, mutant[0]) + 1
        print("%-9s %s:%d: %s%s" % ("killed" if by else "SURVIVED", name, line, what, "  [%s]" % by if by else ""),
              flush=True)
    print("%s: %d killed, %d survived, %d the same" % (name, killed, len(survived), same), flush=True)
    return killed, survived


def main():
    parser = argparse.ArgumentParser(usage=__doc__)
    parser.add_argument("--part", type=int)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("scratch")
    parser.add_argument("file", nargs="*", default=list(CORE))
    options = parser.parse_args()
    folder = os.path.abspath(options.scratch)
    needed = sorted({c for name in options.file for c in CORE[name]})
    tests = Tests(folder, needed if options.quick else None)
    known = equivalents()
    chance = random.Random(options.seed)

    def chosen(name, source, mutants):
        if options.again:
            with open(os.path.join(folder, name + ".survived"), encoding="utf-8") as f:
                last = set(f.read().split("\n"))
            return [m for m in mutants if described(source, m) in last]
        if options.part is None or options.part >= len(mutants):
            return mutants
        return sorted(chance.sample(mutants, options.part))

    killed, left = 0, 0
    for name in options.file:
        with open(path_of(name), encoding="utf-8") as f:
            source = f.read()
        more, survived = mutate(tests, name, lambda mutants: chosen(name, source, mutants), known, options.quick)
        write(os.path.join(folder, name + ".survived"), "\n".join(what for _, what in survived))
        killed, left = killed + more, left + len(survived)
    share = killed / max(1, killed + left)
    print("%d killed, %d survived: %.1f %% killed" % (killed, left, 100 * share))
    sys.exit(share < LEAST)


main()
