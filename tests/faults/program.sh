#!/bin/sh
# The program without memory, and without what it needs to put its output in place.
#
#   sh tests/faults/program.sh [BUILD]
#
# Of every command each allocation fails in turn, the C library's own too: once alone, once with all behind
# it.  The program ends with a status of its own and says why where that is not 0; what it prints with 0 is
# the same as ever; the file behind -o is the old one or the whole new one, and nothing is left beside it.
# A line for each command; status 1 if any went wrong.
set -u
LC_ALL=C
export LC_ALL
top=$(cd "$(dirname "$0")/../.." && pwd) || exit 2
program=$(cd "${1:-$top/build}" && pwd)/braketally
[ -x "$program" ] || { echo "no program at $program" >&2; exit 2; }
scratch=$(mktemp -d) || exit 2
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
cd "$scratch" || exit 2
${CC:-cc} -shared -fPIC -O1 -o preload.so "$top/tests/faults/preload.c" -ldl || exit 2
failed=0

awk 'BEGIN { print "time,lap,speed [m/s],pedal_front (bar),pedal_rear,line_rear,motor_torque [Nm]"
    for (i = 0; i <= 800; i++) { b = i % 200 > 50 && i % 200 < 150; if (i % 200 == 0) v = 40
        v -= b * 0.15; printf "%.2f,%d,%.2f,%d,%d,%d,%d\n", i / 20, 1 + i / 200, v, 25 * b, 24 * b, 15 * b, -60 * b } }' >log.csv
cp "$top/testdata/demo/car.csv" car.csv
printf 'channel,column\nspeed,speed\n' >map.csv
mkdir out

# attack NAME ALL COMMAND...: all its allocations in turn; the log's table or the page goes to out/result
attack() {
    name=$1 all=$2
    shift 2
    rm -f missed
    n=0 wrong=0 told=0
    "$program" "$@" -o whole 2>/dev/null
    while [ ! -e missed ]; do
        n=$((n + 1))
        echo old >out/result
        # shellcheck disable=SC2086 # nothing is nothing
        env LD_PRELOAD=./preload.so FAULT_ALLOC=$n $all FAULT_MISSED=missed "$program" "$@" -o out/result \
            >said 2>message
        status=$?
        [ "$status" -le 3 ] || { wrong=$((wrong + 1)); echo "  $name: allocation $n: status $status"; }
        if [ "$status" != 0 ]; then
            told=$((told + 1))
            [ -s message ] || { wrong=$((wrong + 1)); echo "  $name: allocation $n: status $status and nothing said"; }
        elif ! cmp -s out/result whole; then
            wrong=$((wrong + 1))
            echo "  $name: allocation $n: status 0 and another table"
        fi
        [ "$(ls -A out)" = result ] || { wrong=$((wrong + 1)); echo "  $name: allocation $n: left behind: $(ls -A out)"; rm -rf out; mkdir out; }
    done
    if [ "$wrong" = 0 ]; then word=ok; else word=FAILED failed=1; fi
    printf '%-7s %-9s %5d allocations, %d told\n' "$word" "$name" $((n - 1)) "$told"
}

"$program" zones -q -c car.csv log.csv >zones.csv
for all in '' FAULT_ALL=1; do
    with="-q -j 1 -c car.csv -m map.csv"
    # shellcheck disable=SC2086 # options are words
    for command in zones events runs drift fit bypass trace report inspect; do
        attack $command "$all" $command $with log.csv
    done
    # shellcheck disable=SC2086
    attack compare "$all" compare $with log.csv zones.csv
    # shellcheck disable=SC2086
    attack text "$all" runs -f text --day $with log.csv
    attack columns "$all" columns zones
    attack draft-car "$all" inspect --draft-car
done

for call in mkstemp fchmod fsync rename; do
    echo old >out/result
    LD_PRELOAD=./preload.so FAULT_CALL=$call "$program" zones -q -o out/result log.csv 2>message
    status=$?
    if [ "$status:$(cat message):$(cat out/result):$(ls -A out)" = \
        "3:braketally: out/result: Input/output error:old:result" ]; then
        printf 'ok      %s fails\n' "$call"
    else
        printf 'FAILED  %s fails: status %s, %s\n' "$call" "$status" "$(cat message)"
        failed=1
    fi
done
exit "$failed"
