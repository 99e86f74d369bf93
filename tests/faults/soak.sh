#!/bin/sh
# A day without a break, and five hundred logs in one call: what is told of the whole is what is told of its
# parts.
#
#   sh tests/faults/soak.sh [BUILD [SCRATCH]]
#
# The plant drives for 24 hours at 100 Hz (kept in SCRATCH, if given, for the next time: it takes minutes).  The
# same log is cut at the start line into 500 logs.  Then
#   - the zones of the day are the zones that were driven, by the plant's own account;
#   - the row of the day in `runs` sums up the day's rows in `zones`;
#   - the zones of the 500 are those of the day, one by one, with the energies of the day.  Zeros, trims and
#     temperatures begin anew in each, hence the tolerances, which are those of the figures' own uncertainty;
#   - 500 logs in one call print what 500 calls print, but for the places, which are found from all together.
# A line for each, with what was found; status 1 if any does not hold.
set -u
LC_ALL=C
export LC_ALL
top=$(cd "$(dirname "$0")/../.." && pwd) || exit 2
build=$(cd "${1:-$top/build}" && pwd) || exit 2
program=$build/braketally
if [ $# -gt 1 ]; then
    mkdir -p "$2"
    scratch=$2
else
    scratch=$(mktemp -d) || exit 2
    trap 'rm -rf "$scratch"' EXIT
    trap 'exit 130' INT TERM HUP
fi
cd "$scratch" || exit 2
PARTS=500
MEMORY_MAX=24576 # KiB, peak resident, however long the log is
failed=0

holds() { # STATUS WHAT, with the figures on standard input
    if [ "$1" = 0 ]; then word=ok; else word=FAILED failed=1; fi
    printf '%-7s %s: %s\n' "$word" "$2" "$(cat said)"
}

[ -e endurance.truth.csv ] || "$build/plant" --scenario endurance --rate 100 --seed 5 -o . >/dev/null || exit 2
with='-q -f csv -c endurance.car.csv -m endurance.map.csv'
# shellcheck disable=SC2086 # options are words
/usr/bin/time -f %M -o peak "$program" zones $with endurance.csv.gz >day.zones || exit 2
# shellcheck disable=SC2086
"$program" runs $with endurance.csv.gz >day.runs || exit 2

echo "$(cat peak) of at most $MEMORY_MAX KiB for $(wc -l <day.zones) lines" >said
[ "$(cat peak)" -le "$MEMORY_MAX" ]
holds $? 'memory for the zones of a day'

# Every awk here reads columns by their names.
# shellcheck disable=SC2016 # the dollars are awk's
names='function learn(map, i) { for (i = 1; i <= NF; i++) map[$i] = i }
       function near(a, b, within) { return a - b <= within && b - a <= within }'

awk -F, "$names"'
    FNR == 1 { file++; if (file == 1) learn(truth); else learn(got); next }
    file == 1 { start[++n] = $truth["start_s"]; front[n] = $truth["energy_front_kj"] }
    file == 2 {
        zones++
        if (!near($got["start_s"], start[zones], 0.03)) astray++
        energy += $got["energy_front_kj"]; true_energy += front[zones]
    }
    END {
        share = energy / true_energy
        printf "%d of %d driven, %d astray, front energy %.4f of the truth\n", zones, n, astray, share
        exit !(n > 5000 && zones == n && !astray && near(share, 1, 0.005))
    }' endurance.truth.csv day.zones >said
holds $? 'the zones of a day'

# Printed figures are rounded: a sum of n of them is off by n halves of the last digit at worst.
awk -F, "$names"'
    FNR == 1 { file++; if (file == 1) learn(z); else learn(r); next }
    file == 1 {
        n++; braking += $z["duration_s"]; recovered += $z["recovered_kj"]; balance += $z["balance_pct"]
        if ($z["decel_peak_mps2"] > peak) peak = $z["decel_peak_mps2"]
        if ($z["blend_rms_nm"] > worst) { worst = $z["blend_rms_nm"]; worst_zone = $z["zone"] }
    }
    file == 2 {
        printf "%d zones, %.3f of %.3f s, %.2f of %.2f kJ, balance %.2f of %.2f %%\n", n, braking,
            $r["braking_s"], recovered, $r["recovered_kj"], balance / n, $r["balance_pct"]
        good = $r["zones"] == n && near($r["braking_s"], braking, n * 0.0005 + 0.001) &&
            near($r["recovered_kj"], recovered, n * 0.005 + 0.01) && $r["decel_peak_mps2"] == peak &&
            near($r["balance_pct"], balance / n, 0.0101) && $r["worst_zone"] == worst_zone &&
            $r["gaps"] == 0 && $r["dropped_rows"] == 0
        exit !good
    }' day.zones day.runs >said
holds $? 'the row of a day'

# ---- five hundred logs ----
rm -rf parts
mkdir parts
gzip -dc endurance.csv.gz | awk -F, -v parts=$PARTS -v laps="$(tail -n 1 endurance.truth.csv | cut -d, -f2)" '
    NR == 1 { header = $0; for (i = 1; i <= NF; i++) if ($i ~ /^lap( |$)/) lap = i; next }
    { part = int(($lap - 1) * parts / (laps + 1))
      if (part != now || NR == 2) {
          if (file) close(file)
          file = sprintf("parts/part%03d.csv", part)
          now = part
          print header > file
      }
      print > file }'
# shellcheck disable=SC2086
"$program" zones $with -j 2 parts/*.csv >parts.zones || exit 2
# shellcheck disable=SC2086
"$program" runs $with -j 2 parts/*.csv >parts.runs || exit 2

awk -F, "$names"'
    FNR == 1 { file++; if (file == 1) learn(a); else learn(b); next }
    file == 1 { n++; start[n] = $a["start_s"]; duration[n] = $a["duration_s"]
        front[n] = $a["energy_front_kj"]; rear[n] = $a["energy_rear_kj"]; motor[n] = $a["energy_motor_kj"]
        day_front += front[n]; day_rear += rear[n]; day_motor += motor[n] }
    file == 2 { m++
        if (!near($b["start_s"], start[m], 0.02) || !near($b["duration_s"], duration[m], 0.05)) astray++
        if (!near($b["energy_front_kj"], front[m], 0.02 * front[m]) ||
            !near($b["energy_motor_kj"], motor[m], 0.02 * motor[m])) off++
        sum_front += $b["energy_front_kj"]; sum_rear += $b["energy_rear_kj"]; sum_motor += $b["energy_motor_kj"] }
    END {
        printf "%d of %d zones, %d astray, %d with other energies, sums %.5f %.5f %.5f of the day\n", m, n,
            astray, off, sum_front / day_front, sum_rear / day_rear, sum_motor / day_motor
        exit !(m == n && !astray && !off && near(sum_front / day_front, 1, 0.001) &&
               near(sum_rear / day_rear, 1, 0.002) && near(sum_motor / day_motor, 1, 0.001))
    }' day.zones parts.zones >said
holds $? 'the zones of 500 logs'

awk -F, "$names"'
    FNR == 1 { file++; if (file == 1) learn(a); else learn(b); next }
    file == 1 { rows = $a["rows"]; zones = $a["zones"]; braking = $a["braking_s"]; recovered = $a["recovered_kj"] }
    file == 2 { n++; r += $b["rows"]; z += $b["zones"]; s += $b["braking_s"]; kj += $b["recovered_kj"]
        if ($b["status"] != "ok") bad++ }
    END {
        printf "%d logs, %d of %d rows, %d of %d zones, %.2f of %.2f s, %.0f of %.0f kJ\n", n, r, rows, z, zones,
            s, braking, kj, recovered
        exit !(n == 500 && !bad && r == rows && z == zones && near(s, braking, 0.002 * braking) &&
               near(kj, recovered, 0.001 * recovered))
    }' day.runs parts.runs >said
holds $? 'the rows of 500 logs'

for part in parts/*.csv; do
    # shellcheck disable=SC2086
    "$program" zones $with "$part"
done | awk 'NR == 1 || !/^run,/' | cut -d, -f1-3,5- >one.by.one
cut -d, -f1-3,5- parts.zones >together
wc -l <together >said
cmp one.by.one together >/dev/null
holds $? 'lines that 500 calls print, too'
exit "$failed"
