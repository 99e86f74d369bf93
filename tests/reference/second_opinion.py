#!/usr/bin/env python3
"""A second opinion on the zones of the demo day.

    python3 tests/reference/second_opinion.py build/braketally [testdata/demo]

Reads the demo logs, the car sheet and the map itself and works out decelerations, torques, balance,
blend figures, delay and energies by other means than the program: the log on an even grid, speed and slope
by scipy.signal.savgol_filter over the whole run, zones by array masks, the pedal's zero for finding them
from the whole run, MFDD on a monotone cubic through the distances, delay and gain by scipy.optimize.  It
shares no line with the program.  Prints a table of the differences and ends with status 1 if one is
beyond its bound.

Bounds.  Where the program prints a standard uncertainty (deceleration, balance, motor share, blend mean)
every zone must agree within it.  For the others the bound is what the two methods may differ by, said
beside each.  Two ways through the same numbers should be much nearer: half of all zones are held to a
tenth of every bound.
"""
import csv
import gzip
import io
import subprocess
import sys
from pathlib import Path

import numpy as np
from scipy import interpolate, optimize, signal

PROGRAM = sys.argv[1]
DEMO = Path(sys.argv[2] if len(sys.argv) > 2 else "testdata/demo")
G = 9.80665
UNITS = {"s": 1, "m": 1, "mm": 1e-3, "cm2": 1e-4, "mm2": 1e-6, "kg": 1, "%": 0.01, "1": 1, "": 1, "bar": 1,
         "km/h": 1 / 3.6, "m/s": 1, "g": G, "m/s2": 1, "Nm": 1, "N·m": 1, "N·m/bar": 1, "V": 1, "A": 1,
         "N": 1, "N/(m/s)": 1, "N/(m/s)2": 1}


# ---- the log on an even grid ----

def sheet():
    car = {}
    with open(DEMO / "car.csv", encoding="utf-8") as f:
        for row in csv.DictReader(f):
            try:
                car[row["quantity"]] = float(row["value"]) * UNITS.get(row["unit"], np.nan)
            except ValueError:
                pass  # front, rear, a file
    return car


def log(path):
    """Mapped channels on the log's own rate; blanks bridged by straight lines."""
    with gzip.open(path, "rt", encoding="utf-8") as f:
        rows = csv.reader(f)
        header = next(rows)
        cells = [r for r in rows if len(r) == len(header)]
    with open(DEMO / "map.csv", encoding="utf-8") as f:
        channels = list(csv.DictReader(f))
    raw = {}
    for c in channels:
        at = header.index(c["column"])
        values = np.array([float(r[at]) if r[at] else np.nan for r in cells])
        raw[c["channel"]] = values * float(c["scale"] or 1) * UNITS.get(c["unit"], 1)
    t = raw.pop("time")
    keep = np.concatenate([[True], np.diff(np.maximum.accumulate(t)) > 0])
    step = np.round(np.median(np.diff(t[keep])), 4)
    grid = np.arange(t[keep][0], t[keep][-1], step)
    out = {"t": grid, "dt": step}
    for name, x in raw.items():
        good = keep & np.isfinite(x)
        out[name] = np.interp(grid, t[good], x[good])
    return out


def smoothed(x, dt, slope=0):
    width = 2 * round(0.1 / dt) + 1  # 0.2 s
    return signal.savgol_filter(x, width, 2, deriv=slope, delta=dt)


# ---- zones ----

def stretches(mask):
    edge = np.diff(np.concatenate([[0], mask.astype(int), [0]]))
    return list(zip(np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)))


def crossing(t, x, i, level):
    """Where x passes the level between samples i - 1 and i."""
    if i <= 0 or i >= len(t) or x[i] == x[i - 1]:
        return t[min(max(i, 0), len(t) - 1)]
    return t[i - 1] + (level - x[i - 1]) / (x[i] - x[i - 1]) * (t[i] - t[i - 1])


def find_zones(d, v):
    """Stretches of the pedal above 1.5 bar that pass 3 bar for 50 ms at more than 5 m/s, joined where less than
    0.25 s (or 0.15 s below 1.5 bar) apart, cut at standstill; those of 0.3 s and 2 m/s or more."""
    t, dt = d["t"], d["dt"]
    released = d["pedal_front"] < 1.0
    pedal = d["pedal_front"] - np.median(d["pedal_front"][released])
    found = []
    for a, b in stretches(pedal >= 1.5):
        strong = [(x, y) for x, y in stretches((pedal[a:b] > 3) & (v[a:b] > 5)) if (y - x) * dt >= 0.05 - dt / 2]
        if found and t[a] - found[-1][1] < 0.25 and (strong or t[a] - found[-1][1] < 0.15):
            found[-1][1], found[-1][3] = crossing(t, pedal, b, 1.5), b
        elif strong:
            found.append([crossing(t, pedal, a, 1.5), crossing(t, pedal, b, 1.5), a, b])
    zones = []
    for start, end, a, b in found:
        slow = np.flatnonzero(v[a:b] < 0.5)
        if len(slow):
            end = min(end, crossing(t, v, a + slow[0], 0.5))
        if end - start >= 0.3 and np.interp(start, t, v) - np.interp(end, t, v) >= 2:
            zones.append((start, end))
    return zones


# ---- figures of one zone ----

def cut(d, name, t):
    return np.interp(t, d["t"], d[name])


def zeroed(d, name, start, t):
    """Pressure in bar less its median in the 0.5 s up to 0.1 s before the zone."""
    before = (d["t"] >= start - 0.6) & (d["t"] <= start - 0.1)
    zero = np.median(d[name][before]) if before.any() else 0
    return cut(d, name, t) - (zero if abs(zero) <= 2 else 0)


def integral(y, t):
    return np.trapz(y, t)


def delay_and_gain(t, demand, delivered):
    spline = interpolate.interp1d(t, demand, bounds_error=False, fill_value=(demand[0], demand[-1]))

    def rest(tau):
        late = spline(t - tau)
        gain = late @ delivered / (late @ late)
        return np.sum((delivered - gain * late) ** 2), gain

    coarse = min(np.arange(0, 0.5, 0.01), key=lambda tau: rest(tau)[0])
    best = optimize.minimize_scalar(lambda tau: rest(tau)[0], method="bounded",
                                    bounds=(max(0, coarse - 0.02), coarse + 0.02))
    return best.x, rest(best.x)[1]


def figures(d, car, v, decel, start, end):
    t = d["t"]
    inside = t[(t > start) & (t < end)]
    t = np.concatenate([[start], inside, [end]])
    speed, slow = np.interp(t, d["t"], v), np.interp(t, d["t"], decel)
    r_front, r_rear = car["rolling_radius_front"], car["rolling_radius_rear"]

    def friction(axle, p):
        return 4e5 * car["pad_friction_" + axle] * car["piston_area_" + axle] * \
            car["effective_radius_" + axle] * np.maximum(0, p - car["threshold_" + axle])

    front = friction("front", zeroed(d, "pedal_front", start, t))
    rear = friction("rear", zeroed(d, "line_rear", start, t))
    tau = cut(d, "motor_torque", t)
    eta, ratio = car["motor_efficiency"], car["motor_ratio"]
    motor = np.where(tau < 0, -tau * ratio / eta, -tau * ratio * eta)
    demand = car["demand_gain"] * np.maximum(0, zeroed(d, "pedal_rear", start, t) - car["demand_threshold"])
    time, delivered = end - start, rear + motor
    error = delivered - demand
    way = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(t))])
    force_front, force_rear = integral(front, t) / r_front, integral(delivered, t) / r_rear
    turn_front = (cut(d, "wheel_fl", t) + cut(d, "wheel_fr", t)) / 2 / r_front
    turn_rear = (cut(d, "wheel_rl", t) + cut(d, "wheel_rr", t)) / 2 / r_rear
    delay, gain = delay_and_gain(t, demand, delivered)
    out = {
        "start_s": start, "duration_s": time, "entry_kmh": speed[0] * 3.6, "exit_kmh": speed[-1] * 3.6,
        "distance_m": way[-1],
        "decel_mean_mps2": (speed[0] - speed[-1]) / time,
        "decel_dist_mps2": (speed[0] ** 2 - speed[-1] ** 2) / (2 * way[-1]),
        "decel_peak_mps2": slow.max(),
        "front_nm": integral(front, t) / time, "rear_friction_nm": integral(rear, t) / time,
        "motor_nm": integral(motor, t) / time,
        "motor_share_pct": 100 * integral(motor, t) / integral(delivered, t),
        "balance_pct": 100 * force_front / (force_front + force_rear),
        "balance_hyd_pct": 100 * force_front / (force_front + integral(rear, t) / r_rear),
        "demand_nm": integral(demand, t) / time,
        "blend_mean_nm": integral(error, t) / time,
        "blend_rms_nm": np.sqrt(integral(error ** 2, t) / time),
        "blend_pct": 100 * integral(abs(error), t) / integral(demand, t),
        "blend_delay_s": delay, "blend_gain": gain,
        "energy_front_kj": integral(front * turn_front, t) / 1e3,
        "energy_rear_kj": integral(rear * turn_rear, t) / 1e3,
        "energy_motor_kj": integral(np.maximum(motor, 0) * turn_rear, t) / 1e3,
    }
    if speed[-1] < 0.1 * speed[0]:
        falling = np.maximum.accumulate(-speed) + np.arange(len(speed)) * 1e-9
        s = interpolate.PchipInterpolator(falling, way)
        a, b = 0.8 * speed[0], 0.1 * speed[0]
        out["mfdd_mps2"] = (a * a - b * b) / (2 * (s(-b) - s(-a)))
    return out


# ---- comparison ----

# Bound of the difference: the name of a printed uncertainty, or (absolute, relative) and why.
BOUNDS = {
    "start_s": ((0.02, 0), "the pedal's zero: a whole run's here, that of the last 0.5 s there"),
    "duration_s": ((0.03, 0), "the same at both ends"),
    "entry_kmh": ((0.1, 0.002), "0.02 s of the deceleration's onset"),
    "exit_kmh": ((0.3, 0.002), "0.02 s at the release"),
    "distance_m": ((0.1, 0.01), "0.03 s of the speed"),
    "decel_mean_mps2": ("decel_u_mps2", "printed uncertainty, and 0.5 % for the edges"),
    "decel_dist_mps2": ((0.02, 0.005), "the edges, as above"),
    "decel_peak_mps2": ((0.02, 0.005), "the same filter, even grid against uneven"),
    "mfdd_mps2": ((0.02, 0.005), "pchip against a straight line in v^2"),
    "front_nm": ((2, 0.01), "the edges, and the zero in steps of 0.1 bar"),
    "rear_friction_nm": ((2, 0.01), "the same"),
    "motor_nm": ((2, 0.01), "the same"),
    "motor_share_pct": ("motor_share_u_pct", "printed uncertainty"),
    "balance_pct": ("balance_u_pct", "printed uncertainty"),
    "balance_hyd_pct": ("balance_u_pct", "that of the balance"),
    "demand_nm": ((2, 0.01), "as the torques"),
    "blend_mean_nm": ("blend_u_nm", "printed uncertainty"),
    "blend_rms_nm": ((3, 0.02), "edges"),
    "blend_pct": ((0.3, 0.02), "edges"),
    "blend_delay_s": ((0.005, 0), "a quarter of a sample of a 50 Hz log"),
    "blend_gain": ((0.01, 0), "1 %"),
    "energy_front_kj": ((0.3, 0.01), "edges"),
    "energy_rear_kj": ((0.3, 0.01), "edges"),
    "energy_motor_kj": ((0.3, 0.01), "edges"),
}


def theirs(path):
    done = subprocess.run([PROGRAM, "zones", "-q", "-f", "csv", "-c", DEMO / "car.csv", "-m", DEMO / "map.csv", path],
                          check=True, capture_output=True, text=True)
    return list(csv.DictReader(io.StringIO(done.stdout)))


def bound(figure, row):
    rule = BOUNDS[figure][0]
    if isinstance(rule, str):
        return float(row[rule]) + (0.005 * float(row[figure]) if figure == "decel_mean_mps2" else 0)
    return rule[0] + rule[1] * abs(float(row[figure]))


def main():
    car = sheet()
    ratios = {f: [] for f in BOUNDS}   # |difference| / bound
    worst = {f: (0.0, "") for f in BOUNDS}
    blank = {f: 0 for f in BOUNDS}
    bad = zones = 0
    for path in sorted(DEMO.glob("*.csv.gz")):
        d = log(path)
        v, decel = smoothed(d["speed"], d["dt"]), -smoothed(d["speed"], d["dt"], 1)
        mine, rows = find_zones(d, v), theirs(path)
        if len(mine) != len(rows):
            print(f"{path.name}: {len(rows)} zones, {len(mine)} expected")
            bad += 1
        for row in rows:
            z = min(mine, key=lambda z: abs(z[0] - float(row["start_s"])))
            zones += 1
            for figure, value in figures(d, car, v, decel, *z).items():
                if row[figure] == "":
                    blank[figure] += 1
                    continue
                difference = float(row[figure]) - value
                share = abs(difference) / bound(figure, row)
                ratios[figure].append(share)
                if share > abs(worst[figure][0]):
                    worst[figure] = (share, f"{row['run']} zone {row['zone']}: {row[figure]}, here {value:.4f}")
    print(f"{zones} zones of {DEMO}; difference as a share of its bound (1 = at the bound)")
    print(f"{'figure':18}{'n':>5}{'blank':>6}{'median':>8}{'worst':>8}  where; bound")
    for figure, (rule, why) in BOUNDS.items():
        share = np.array(ratios[figure] or [np.nan])
        printed = isinstance(rule, str)
        failed = not (share.max() <= 1 and np.median(share) <= 0.1)
        bad += failed
        print(f"{figure:18}{len(ratios[figure]):5}{blank[figure]:6}{np.median(share):8.3f}{share.max():8.3f}  "
              f"{worst[figure][1]}; {rule if printed else '%g + %g %%' % (rule[0], 100 * rule[1])} ({why})"
              f"{'  BEYOND' if failed else ''}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
