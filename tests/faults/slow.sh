#!/bin/sh
# Faults that take longer than `make test` may: sizes out of all proportion in constant memory, files that
# change while they are read, memory that runs out.
#
#   sh tests/faults/slow.sh [BUILD]
#
# A line for each, with what it took; status 1 if any went wrong.
set -u
LC_ALL=C
export LC_ALL
top=$(cd "$(dirname "$0")/../.." && pwd) || exit 2
build=${1:-$top/build}
program=$(cd "$build" && pwd)/braketally
[ -x "$program" ] || { echo "no program at $program" >&2; exit 2; }
scratch=$(mktemp -d) || exit 2
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM HUP
cd "$scratch" || exit 2

MEMORY_MAX=24576 # KiB, peak resident
failed=0

# What it is, the wanted status and first lines of "zone,start_s,duration_s" or message, what was got.
tell() {
    if [ "$2" = "$3" ] && [ "$4" -le "$MEMORY_MAX" ]; then
        printf 'ok      %-44s %6s KiB\n' "$1" "$4"
    else
        printf 'FAILED  %-44s %6s KiB\n  wanted: %s\n  got:    %s\n' "$1" "$4" "$2" "$3"
        failed=1
    fi
}

# run NAME WANTED LOG < input: zones of a log; WANTED is "STATUS:rows of zone,start,duration or message".
run() {
    peak=$scratch/peak
    /usr/bin/time -o "$peak" -f %M "$program" zones -q "$3" >out 2>message
    status=$?
    if [ "$status" = 0 ]; then
        got=$(sed 1d out | cut -d, -f2,5,6 | tr '\n' ' ')
    else
        got=$(sed 's/^braketally: //' message | head -n 1)
    fi
    tell "$1" "$2" "$status:$got" "$(tail -n 1 "$peak")"
}

slow() {
    awk 'BEGIN { print "time,speed [m/s],pedal_front (bar)"
        for (i = 0; i <= 700; i++)
            printf "%.2f,%.2f,%d\n", i / 100, 40 - i / 20, (i > 100 && i <= 600 ? 25 : 0) }'
}
zone='0:1,1.001,5.009 '
slow >slow.csv

{ cat slow.csv; yes 1 | tr -d '\n' | head -c 1000000000; echo; } |
    run 'a cell of 1 GB' '1:stdin:703: expected a cell of at most 1048576 bytes, found more: a quote left open?' -

{ cat slow.csv; yes 1,2, | tr -d '\n' | head -c 1000000000; echo; } |
    run 'a line of 1 GB' "$zone" -

head -c 1000000000 /dev/zero | gzip -1 >zeros.gz
run '1 GB of zero bytes packed' '1:zeros.gz:1: expected text, found binary data: save the log as CSV' zeros.gz

{ cat slow.csv; head -c 1000000000 /dev/zero | tr '\0' '\n'; } | gzip -1 >blank.gz
run '1 GB of blank lines packed' "$zone" blank.gz

{ cat slow.csv; yes 7.00,5.00,0 | head -n 80000000; } | gzip -1 >same.gz
run '1 GB of the same row packed' "$zone" same.gz

# Two days of one braking at 50 Hz and 0.0001 m/s2: v = 40 - t / 10000.
awk 'BEGIN { print "time,speed [m/s],pedal_front (bar)"
    for (i = 0; i <= 10000000; i++)
        printf "%.2f,%.6f,%d\n", i / 50, 40 - i / 500000, (i > 100 && i <= 9999900 ? 25 : 0) }' |
    run '10 million rows of one zone' '0:1,2.001,199996.018 ' -

# The log shrinks or grows under the reader's hands, who knows when: it ends well, whatever it was then.  (To the
# row: tests/check_system.c.)
awk 'BEGIN { for (i = 0; i < 3000000; i++) printf "%.2f,%d,0\n", 7.01 + i / 100, 20 + i % 7 }' >rest
for size in 300000 5000000 20000000; do
    cat slow.csv rest >shrinks.csv
    "$program" runs -q shrinks.csv >out 2>message &
    truncate -s "$size" shrinks.csv
    wait $!
    tell "a log that shrinks to $size bytes" 0:ok "$?:$(sed 1d out | cut -d, -f2)$(cat message)" 0
done
cat slow.csv rest >grows.csv
(tail -c 2000003 rest; tail -c 3000003 rest) >>grows.csv &
"$program" runs -q grows.csv >out 2>message
tell 'a log that grows' 0:ok "$?:$(sed 1d out | cut -d, -f2)$(cat message)" 0
wait

# Too little memory for everything: an error that is said, no crash.
for kib in 3500 4000 5000 6000 8000 12000 20000 40000; do
    # shellcheck disable=SC3045 # dash, bash and the rest have it
    (ulimit -v "$kib"; "$program" runs -q -j 2 slow.csv slow.csv grows.csv) >out 2>message
    status=$?
    [ "$status" = 127 ] && status=0 # not even loaded
    [ "$status" = 0 ] || { [ "$status" -le 3 ] && [ -s message ] && status=0; }
    tell "$kib KiB of address space" 0 "$status" 0
done
exit "$failed"
