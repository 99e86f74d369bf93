#!/bin/sh
# The README's examples: each ```console block becomes cases for run.sh, so that what the README shows is
# what the program prints.  They run in the project's folder; stderr is not shown, so it is dropped.
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
cases=$(mktemp)
trap 'rm -f "$cases"' EXIT
awk '
    /^```console$/ { inside = 1; next }
    /^```/ { inside = 0; next }
    !inside { next }
    /^\$ / { printf "\n== README: %s\n$ cd \"$top\" && { %s; } 2>/dev/null\n", substr($0, 3), substr($0, 3); next }
    { print $0 == "" ? ">" : "> " $0 }
' "$top/README.md" >"$cases"
sh "$top/tests/cli/run.sh" "$cases"
