#!/bin/sh
# The program in a comma locale prints what it prints in none.  The locale is made on the spot; where there
# is no localedef, or nothing to make it from, this says so and is left out.
#
#   sh tests/cli/locale.sh [PROGRAM]
set -eu
top=$(cd "$(dirname "$0")/../.." && pwd)
program=${1:-$top/build/braketally}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
localedef -i de_DE -f UTF-8 "$scratch/de_DE.UTF-8" >"$scratch/said" 2>&1 || true
if [ "$(LOCPATH=$scratch LC_ALL=de_DE.UTF-8 env printf %.1f 0,5 2>&1)" != 0,5 ]; then
    echo 'locale: left out, no localedef or nothing to make a comma locale from'
    exit 0
fi
day=$top/testdata/demo
tables() {
    for what in 'zones -f csv' 'events -f text' 'runs -f json' drift fit 'bypass -f text' report trace; do
        # shellcheck disable=SC2086 # a command and its options
        "$program" $what -q -c "$day/car.csv" -m "$day/map.csv" "$day/saltmarsh_run2.csv.gz" || echo "status $?"
    done
    "$program" inspect "$day/saltmarsh_run2.csv.gz" || echo "status $?"
    "$program" zones -q --set 'mass=1240,5 kg' "$day/saltmarsh_run2.csv.gz" || echo "status $?"
}
LC_ALL=C
export LC_ALL
tables >"$scratch/plain" 2>&1
export LOCPATH="$scratch" LC_ALL=de_DE.UTF-8
tables >"$scratch/comma" 2>&1
cmp "$scratch/plain" "$scratch/comma" && echo "locale: the same in a comma locale"
