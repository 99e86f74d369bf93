#!/bin/sh
# Which lines of lib/ the tests have run: sh tests/coverage.sh BUILD, after `make test` has run in BUILD with
# --coverage.  Prints the lines that were not, and the share of each file; status 1 below LEAST %.
set -eu
LC_ALL=C
export LC_ALL
LEAST=95
build=$(cd "$1" && pwd)
cd "$(dirname "$0")/.."
rm -rf "$build/gcov"
mkdir "$build/gcov"
ln -s "$PWD/lib" "$build/gcov/lib" # gcov looks for the sources from where it runs
for source in lib/*/*.c; do
    folder=$(dirname "$source")
    (cd "$build/gcov" && gcov -p -o "$build/$folder" "$build/${source%.c}.o") >"$build/gcov/said" 2>&1 || {
        cat "$build/gcov/said" >&2
        exit 1
    }
done
# Lines that are not code have "-", those that were not run "#####".
awk -F: -v least=$LEAST '
    FNR == 1 { inside = 0 }
    $3 == "Source" { file = $4; inside = file ~ /(^|\/)lib\/.*\.c$/ && !(file in lines); sub(/^\.\//, "", file) }
    !inside || $1 ~ /^ *-$/ { next }
    { lines[file]++; all++ }
    $1 ~ /#####|=====/ {
        missed[file]++; missing++
        text = $0; sub(/^[^:]*:[^:]*:/, "", text); sub(/^ +/, "", text)
        where = $2; sub(/^ +/, "", where)
        printf "%s:%s: %s\n", file, where, text
    }
    END {
        for (f in lines) if (missed[f])
            printf "%6.2f %% %s, %d of %d lines not run\n", 100 - 100 * missed[f] / lines[f], f, missed[f], lines[f] | "sort -n"
        close("sort -n")
        printf "%.2f %% of %d lines of lib/ run\n", 100 - 100 * missing / all, all
        exit 100 * missing > (100 - least) * all
    }' "$build"/gcov/*.gcov
