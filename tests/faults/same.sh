#!/bin/sh
# The same tables whatever compiles and runs the program: both compilers, no optimisation and all of it,
# contracted sums or none, this processor's own instructions, threads.  (A comma locale: tests/cli/locale.sh.)
#
#   sh tests/faults/same.sh [SCRATCH]
#
# Builds each form into SCRATCH (default: a temporary folder) and compares what the demo day gives; status 1
# where two differ.
set -u
top=$(cd "$(dirname "$0")/../.." && pwd) || exit 2
if [ $# -gt 0 ]; then
    scratch=$1
else
    scratch=$(mktemp -d) || exit 2
    trap 'rm -rf "$scratch"' EXIT
    trap 'exit 130' INT TERM HUP
fi
demo=$top/testdata/demo
failed=0

# tables PROGRAM [ENVIRONMENT...] > all that is printed of the demo day; more options in $options
tables() {
    program=$1
    shift
    one=$demo/saltmarsh_run1.csv.gz
    two=$demo/saltmarsh_run2.csv.gz
    for what in "zones -f csv" "zones -f text" "zones -f json" "zones -f svg" "runs --day -f csv" "runs -f text" \
        "events -f csv" "events -f text" "drift -f csv" "drift --of blend_rms_nm,blend_delay_s -f csv" \
        "fit -f csv" "fit -f text" "report --bypass"; do
        # shellcheck disable=SC2086 # words are words, and no options is none
        env "$@" "$program" $what -q $options -c "$demo/car.csv" -m "$demo/map.csv" \
            "$demo"/saltmarsh_run*.csv.gz || echo "$what: status $?"
    done
    for what in "compare $one" bypass inspect trace; do
        # shellcheck disable=SC2086
        env "$@" "$program" $what -q -f csv $options -c "$demo/car.csv" -m "$demo/map.csv" "$two" ||
            echo "$what: status $?"
    done
}

# How many cells differ between the first tables and $scratch/got: those by one in the last digit are ties.
count_differing() {
    diff "$scratch/want" "$scratch/got" | awk -F, '
        /^</ { was[++n] = substr($0, 3) }
        /^>/ { now[++m] = substr($0, 3) }
        END {
            for (i = 1; i <= n || i <= m; i++) {
                cells = split(was[i], a)
                if (split(now[i], b) != cells) more++
                for (c = 1; c <= cells; c++) {
                    if (a[c] == b[c]) continue
                    unit = 1
                    for (k = index(a[c], ".") ? length(a[c]) - index(a[c], ".") : 0; k > 0; k--) unit /= 10
                    d = a[c] - b[c]
                    number = a[c] ~ /^-?[0-9.]+$/ && b[c] ~ /^-?[0-9.]+$/
                    if (number && (d < 0 ? -d : d) < 1.5 * unit) last++; else more++
                }
            }
            printf "%d by one in the last digit, %d by more\n", last, more
        }'
}

# compare NAME: $scratch/got with the first one; what differs stays in SCRATCH.
compare() {
    if cmp -s "$scratch/want" "$scratch/got"; then
        printf 'same    %s\n' "$1"
    else
        printf 'DIFFERS %s: %s\n' "$1" "$(count_differing)"
        failed=$((failed + 1))
        cp "$scratch/got" "$scratch/differs.$failed"
    fi
}

# build NAME CC CFLAGS
build() {
    make -s -C "$top" -j2 BUILD="$scratch/$1" CC="$2" CFLAGS="$3" "$scratch/$1/braketally" || exit 2
    options=
    tables "$scratch/$1/braketally" LC_ALL=C >"$scratch/got"
    [ -e "$scratch/want" ] || cp "$scratch/got" "$scratch/want"
    compare "$2 $3"
}

rm -f "$scratch/want"
build first gcc -O2
build gcc-0 gcc -O0
build gcc-3 gcc '-O3 -ffp-contract=off'
build gcc-native gcc '-O3 -march=native -ffp-contract=fast'
build clang-0 clang -O0
build clang-3 clang '-O3 -ffp-contract=off'
build clang-native clang '-O3 -march=native -ffp-contract=on'

options='-j 1'
tables "$scratch/first/braketally" LC_ALL=C >"$scratch/got"
compare '-j 1'
options='-j 4'
tables "$scratch/first/braketally" LC_ALL=C >"$scratch/got"
compare '-j 4'
[ "$failed" = 0 ]
