#!/usr/bin/env python3
"""Makes trend_cases.csv: random series and panels with the answers of scipy, against
which check_trend and check_stats hold lib/drift/trend.c and lib/base/stats.c.

    python3 tests/reference/scipy_trend.py > tests/reference/trend_cases.csv

Made with scipy 1.10.1 (Debian's python3-scipy); the tests themselves need no scipy.
The first field of a row says what it is:
    sen,N          then x,... and y,... and
    sen-want       confidence, slope, intercept, low, high  (stats.theilslopes, joint)
    panel,L,P       then L rows lap,... of P values, blank = none; laps are 0, 1, 2, ...
    panel-want      slope (mstats.sen_seasonal_slopes), then of mstats.kendalltau_seasonal
                   global tau (alt), p (indep), p (dep)
    panel-slopes    slope of each place;  panel-tau, panel-p  the same of its tau and p
    student        t, df, two-sided p  (stats.t.sf)
"""
import warnings

import numpy as np
from numpy import ma
from scipy import stats

rng = np.random.default_rng(20240611)
warnings.simplefilter("error")


def row(name, *values):
    cells = ["" if v is None else repr(float(v)) for v in values]
    print(",".join([name] + cells))


def sen(n, round_x, round_y, confidence):
    x = rng.uniform(0, 20, n)
    y = 0.3 * x + rng.normal(0, 2, n)
    x = np.round(x) if round_x else x
    y = np.round(y) if round_y else y
    r = stats.theilslopes(y, x, confidence, method="joint")
    print(f"sen,{n}")
    row("x", *x)
    row("y", *y)
    row("sen-want", confidence, r.slope, r.intercept, r.low_slope, r.high_slope)


def panel(laps, places, common, blanks, rounded):
    y = (rng.normal(0, 0.8, (laps, places)) + common * rng.normal(0, 1, (laps, 1))
         + 0.05 * np.arange(laps)[:, None] + 3 * np.arange(places))
    y = np.round(y) if rounded else y
    none = rng.uniform(size=y.shape) < blanks
    none[:3] = False  # places without any trend are not what scipy is asked here
    m = ma.array(y, mask=none)
    k = stats.mstats.kendalltau_seasonal(m)
    s = stats.mstats.sen_seasonal_slopes(m)
    print(f"panel,{laps},{places}")
    for i in range(laps):
        row("lap", *[None if none[i, j] else y[i, j] for j in range(places)])
    row("panel-want", s.inter_slope, k["global tau (alt)"], k["global p-value (indep)"],
        k["global p-value (dep)"])
    row("panel-slopes", *s.intra_slope)
    row("panel-tau", *k["seasonal tau"])
    row("panel-p", *k["seasonal p-value"])


for n in (3, 4, 5, 8, 13, 21, 40):
    for round_x, round_y in ((0, 0), (1, 0), (0, 1), (1, 1)):
        for confidence in (0.95, 0.8):
            sen(n, round_x, round_y, confidence)
for laps, places in ((6, 3), (8, 8), (12, 5), (16, 8), (30, 2), (25, 12)):
    for common in (0, 1):
        for blanks, rounded in ((0, 0), (0.15, 0), (0, 1), (0.2, 1)):
            panel(laps, places, common, blanks, rounded)
for df in (0.5, 1, 2.7, 5, 12.34, 60, 119.5, 1e3, 1e5, 1.1e5, 1e8):
    for t in (1e-3, 0.5, 1.5, 1.75, 3, 8):
        row("student", t, df, 2 * stats.t.sf(t, df))
