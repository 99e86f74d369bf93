#!/bin/sh
# make bench: what braketally takes for a log, beside bare libcsv, bare zlib and other ways to the simplest
# equivalent job, on the same file in the same run.  usage: run.sh BUILD
# BENCH_MB (default 512) is the size of the large log, BENCH_ROUNDS (3) how often each is timed, BENCH_HUGE=0
# leaves out the log of four times that size.
set -eu
LC_ALL=C
export LC_ALL
build=${1:-build}
here=$(dirname "$0")
dir=$build/bench
mb=${BENCH_MB:-512}
rounds=${BENCH_ROUNDS:-3}
mkdir -p "$dir"

for program in longlog barecsv bareinflate timed; do
    ${CC:-cc} -O2 -std=c11 -D_XOPEN_SOURCE=700 -o "$dir/$program" "$here/$program.c" -lcsv -lz
done

# ---- the logs: time and 20 channels at 1 kHz, of which every figure has what it needs ----
if [ ! -e "$dir/short.csv" ]; then
    "$build/plant" --scenario healthy --rate 1000 --laps 6 --seed 3 -o "$dir" > /dev/null
    gzip -dc "$dir/healthy.csv.gz" > "$dir/short.csv"
fi
long_log() { # MB
    [ -e "$dir/$1.csv" ] && return
    echo "making a log of $1 MB" >&2
    "$dir/longlog" $(($1 * 1048576)) speed wheel_fl wheel_fr wheel_rl wheel_rr pedal_front pedal_rear \
        line_rear line_request motor_torque motor_request battery_voltage battery_current \
        bywire_state accel_long pedal_travel=susp_fl pedal_force=susp_fr motor_speed=steer \
        lap_distance=throttle < "$dir/short.csv" > "$dir/$1.csv.part"
    mv "$dir/$1.csv.part" "$dir/$1.csv"
}
packed() { # MB
    [ -e "$dir/$1.csv.gz" ] && return
    gzip -c "$dir/$1.csv" > "$dir/$1.csv.gz.part"
    mv "$dir/$1.csv.gz.part" "$dir/$1.csv.gz"
}
long_log 25
long_log 64
long_log "$mb"
packed 64
packed "$mb"
awk -F, 'NR == FNR { if (FNR == 1) for (i = 1; i <= NF; i++) has[$i] = 1; next } FNR == 1 || $2 in has' \
    "$dir/25.csv" "$dir/healthy.map.csv" > "$dir/map.csv"
twenty=
for i in 01 02 03 04 05 06 07 08 09 10 11 12 13 14 15 16 17 18 19 20; do
    ln -sf 25.csv "$dir/log$i.csv"
    twenty="$twenty $dir/log$i.csv"
done

tally() { # COMMAND ARGUMENTS...
    what=$1
    shift
    "$build/braketally" "$what" -q -f csv -c "$dir/healthy.car.csv" -m "$dir/map.csv" "$@"
}
one_core=
if command -v taskset > /dev/null; then one_core="taskset -c 0"; fi

# ---- do all find the same? ----
same() { # WHAT FILE FILE
    cmp -s "$2" "$3" || { echo "bench: $1 gives other zones" >&2; exit 1; }
}
without_run() { sed 's/^[^,]*,//'; }
tally zones "$dir/$mb.csv" | without_run > "$dir/zones"
tally zones "$dir/$mb.csv.gz" | without_run > "$dir/zones.gz"
tally zones - < "$dir/$mb.csv" | without_run > "$dir/zones.pipe"
$one_core "$build/braketally" zones -q -f csv -c "$dir/healthy.car.csv" -m "$dir/map.csv" "$dir/$mb.csv" |
    without_run > "$dir/zones.one"
same gzip "$dir/zones" "$dir/zones.gz"
same "a pipe" "$dir/zones" "$dir/zones.pipe"
same "one core" "$dir/zones" "$dir/zones.one"
# The simple job has no rise, no zeros and no merging: its zones begin within 0.3 s of ours.
column() { awk -F, -v name="$1" 'NR == 1 { for (i = 1; i <= NF; i++) if ($i ~ "^" name) print i }' "$dir/25.csv"; }
pedal=$(column pedal_front)
speed=$(column speed)
agrees() { # WHAT FILE: a start on each line
    awk -v what="$1" 'NR == FNR { start[++n] = $1; next }
        FNR > 1 { zones++; split($0, c, ","); for (i = 1; i <= n && start[i] < c[4] - 0.01; i++);
                  if (i > n || start[i] > c[4] + 0.3) lost++ }
        END { if (lost || n != zones) {
                  printf "bench: %s finds %d brakings, braketally %d, %d of them not there\n", what, n, zones, lost
                  exit 1 } }' "$2" "$dir/zones" >&2 || exit 1
}

# ---- time ----
# Each line of `jobs`: name, file for the times, command.
jobs=$dir/jobs
: > "$jobs"
rm -f "$dir"/times.* "$dir"/out.*
job() { # NAME COMMAND
    echo "$1 $2" >> "$jobs"
}
bt="$build/braketally"
with="-q -f csv -c $dir/healthy.car.csv -m $dir/map.csv"
job libcsv "$dir/barecsv $dir/$mb.csv"
job zones "$bt zones $with $dir/$mb.csv"
job runs "$bt runs $with $dir/$mb.csv"
[ -z "$one_core" ] || job zones-one-core "$one_core $bt zones $with $dir/$mb.csv"
job inflate "$dir/bareinflate $dir/$mb.csv.gz"
job gunzip "gunzip -c $dir/$mb.csv.gz"
job zones-gzip "$bt zones $with $dir/$mb.csv.gz"
job zones-64 "$bt zones $with $dir/64.csv"
job zones-gzip-64 "$bt zones $with $dir/64.csv.gz"
job twenty-j1 "$bt zones $with -j 1$twenty"
job twenty-j2 "$bt zones $with -j 2$twenty"
for awk in gawk mawk; do
    if command -v $awk > /dev/null; then
        job $awk "$awk -v pedal=$pedal -v speed=$speed -f $here/simple.awk $dir/$mb.csv"
        break
    fi
done
python=${PYTHON:-python3}
for library in pandas duckdb polars; do
    if "$python" -c "import $library" 2> /dev/null; then
        job $library "$python $here/simple.py $library $dir/$mb.csv"
    fi
done
round=1
while [ "$round" -le "$rounds" ]; do
    while read -r name command; do
        # shellcheck disable=SC2086 # the command is words
        "$dir/timed" "$dir/times.$name" "$dir/out.$name" $command
    done < "$jobs"
    round=$((round + 1))
done
if [ "${BENCH_HUGE:-1}" != 0 ]; then
    long_log $((4 * mb))
    sync # or it is timed while the log is still being written
    for i in $(seq "$rounds"); do
        "$dir/timed" "$dir/times.huge" "$dir/out.huge" "$bt" zones -q -f csv -c "$dir/healthy.car.csv" \
            -m "$dir/map.csv" "$dir/$((4 * mb)).csv"
    done
    rm "$dir/$((4 * mb)).csv"
fi
head -n 1001 "$dir/25.csv" > "$dir/second.csv"
for i in 1 2 3 4 5 6 7 8 9; do
    "$dir/timed" "$dir/times.second" "$dir/out.second" "$bt" zones -q -f csv -c "$dir/healthy.car.csv" \
        -m "$dir/map.csv" "$dir/second.csv"
done
for name in gawk mawk pandas duckdb polars; do
    if [ -e "$dir/out.$name" ]; then agrees $name "$dir/out.$name"; fi
done

# ---- medians and ratios ----
middle() { # NAME FIELD
    [ -e "$dir/times.$1" ] || { echo nan; return; }
    sort -n -k "$2,$2" "$dir/times.$1" | awk -v f="$2" '{ v[NR] = $f } END { print v[int((NR + 1) / 2)] }'
}
printf '%s, %s processors, %s; log of %s MB, %s rows, time and 20 channels at 1 kHz, %s zones\n' \
    "$(sed -n 's/^model name[^:]*: //p' /proc/cpuinfo 2> /dev/null | head -n 1)" "$(getconf _NPROCESSORS_ONLN)" \
    "$(${CC:-cc} --version | head -n 1)" "$mb" "$(wc -l < "$dir/$mb.csv")" "$(($(wc -l < "$dir/zones") - 1))"
printf '%-16s %9s %9s %9s   (medians of %s)\n' '' 'wall s' 'cpu s' 'peak MiB' "$rounds"
for name in $(cut -d ' ' -f 1 "$jobs") second huge; do
    [ -e "$dir/times.$name" ] || continue
    printf '%-16s %9.3f %9.3f %9.1f\n' "$name" "$(middle "$name" 1)" "$(middle "$name" 2)" "$(middle "$name" 3)"
done
echo
ratio() { # A B [LIMIT]
    [ -e "$dir/times.$1" ] && [ -e "$dir/times.$2" ] || return 0
    awk -v a="$(middle "$1" 1)" -v b="$(middle "$2" 1)" -v ca="$(middle "$1" 2)" -v cb="$(middle "$2" 2)" \
        -v A="$1" -v B="$2" -v limit="${3:-}" \
        'BEGIN { printf "%-28s wall %5.2f  cpu %5.2f", A " / " B, a / b, ca / cb
                 if (limit) printf "   target %s wall: %s", limit, a / b <= limit ? "reached" : "missed"
                 print "" }'
}
ratio zones libcsv 0.45
ratio zones-one-core libcsv 0.8
ratio zones-gzip inflate 1.12
ratio zones-gzip gunzip 0.6
ratio twenty-j2 twenty-j1 0.55
ratio zones duckdb 0.55
ratio zones polars 0.75
ratio zones pandas 0.30
ratio zones gawk
ratio huge zones 4.2
