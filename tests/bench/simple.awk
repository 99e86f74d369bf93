# The simplest equivalent job, for comparison: group the rows whose pedal is above 3 bar, pedal and speed
# by the columns' numbers (-v pedal=8 -v speed=3); of each group that lasts 0.3 s and loses 2 m/s its
# start, duration, entry and exit speed, largest and mean pedal.
function leave()
{
    if (n && t - t0 >= 0.3 && v0 - v >= 2) print t0, t - t0, v0, v, most, sum / n
    n = 0
}
BEGIN { FS = "," }
NR == 1 { next }
$pedal > 3 {
    if (n == 0) {
        t0 = $1; v0 = $speed; most = sum = 0
    }
    t = $1; v = $speed
    n++
    sum += $pedal
    if ($pedal > most) most = $pedal
    next
}
n { leave() }
END { leave() }
