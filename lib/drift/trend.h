/* Does a figure move from lap to lap, and how fast?  The numerics of drift
 * (METHODS 11) on plain arrays; zones and places are `drift`'s.  Theil-Sen,
 * Mann-Kendall, and the seasonal Kendall test with Hirsch and Slack's covariance. */
#ifndef BT_TREND_H
#define BT_TREND_H

#include "braketally.h"
#include "base/stats.h"

/* One line through one series: the median of the slopes of all pairs with
 * different x, and Sen's interval (JASA 63, 1968, eq. 2.6, tie-corrected), as
 * scipy.stats.theilslopes computes them.  Pairs with NaN are left out. */
typedef struct {
    size_t n;         /* points in use */
    double slope;     /* NaN if x does not vary */
    double intercept; /* median of y - slope x */
    double low, high; /* never outside the steepest slopes there are; NaN with no slope */
} bt_sen;
bt_status bt_theil_sen(const double *x, const double *y, size_t n, double confidence, bt_sen *out,
                       bt_error *err) BT_MUST_USE;

/* A figure over laps and places.  Borrowed.  A single series is a panel of one place. */
typedef struct {
    size_t laps, places; /* either may be 0 */
    const double *x;     /* one a lap: its number or its time, strictly rising, no NaN */
    const double *value; /* value[lap * places + place]; finite, or NaN = none */
} bt_panel;

/* One value a lap: the median over places of what the lap has above each place's own
 * level, the median there, carried by the common slope from the middle of its laps to
 * that of all: else places known in early laps only and places known in late ones
 * would hide a trend, and break it in two.  (To take medians of what the slope leaves over
 * was tried: the slope then leaks into the pooled laps, and a break is seen in 6.7 % of runs
 * without one, where 5 % are meant.)  Left out: laps without a value, and places with only
 * one, which would say 0 whatever happened. */
typedef struct {
    size_t n;
    double *x, *y;   /* x as in the panel; y about 0, never NaN */
    double *residue; /* room for n, free to use */
    size_t *lap;     /* index in the panel */
} bt_pooled;
/* slope: a lap (a unit of x); NaN = 0. */
bt_status bt_pooled_new(bt_pooled *out, const bt_panel *panel, double slope,
                        bt_error *err) BT_MUST_USE;
void bt_pooled_free(bt_pooled *q);

/* The least-squares line through n values `y` at q->x; leaves in q->residue what
 * is off it. */
bt_line bt_pooled_line(const bt_pooled *q, const double *y);

/* Trend common to all places.  Only values of one place are compared with each
 * other, so places may lie at any level.  A panel of one place gives Mann and
 * Kendall's test.  Without a pair at any place slope, tau and p are NaN.
 *
 * Three p-values, two-sided, by the normal rule with s brought 1 nearer to 0:
 *   p_apart     places independent (too small where a lap moves all of them)
 *   p_together  with the covariance between places of one lap, Hirsch and Slack
 *               1984; scipy.stats.mstats.kendalltau_seasonal's "global p-value
 *               (dep)", but never below 2 / laps!, the least that laps can show
 *   p           also with the memory from lap to lap; the one to act on
 * low and high hold every slope against which such a test, with memory, finds
 * nothing.
 *
 * Measured at 95 % by tests/accuracy/trend.c: 8 to 40 laps that forget each other, all
 * places of a lap moving together or not: low to high holds the true slope in 95.5 to
 * 96.4 %, and p < 0.01 without drift in at most 0.8 % (p_apart: up to 33 %).  Sixteen
 * laps that wander, neighbours correlated by 0.3: 92 % and 2 % (p_together: 3.4 %); by
 * 0.6: 86 % and 5 % (10.6 %).  The price: where p_together finds every drift at 0.01,
 * p finds nine in ten. */
typedef struct {
    size_t n;            /* values at places that have two or more */
    size_t laps, places; /* with such values */
    double slope;        /* seasonal Kendall slope: median over all pairs within places */
    double low, high;    /* NaN, each by itself, where so few laps bound nothing */
    double s;            /* Kendall's sum of signs */
    double tau;          /* s over the s of a perfect trend, tie-corrected; NaN if all tie */
    double var_apart;    /* variance of s if places were independent, tie-corrected */
    double var;          /* with the covariance between places */
    double memory;       /* factor on var, >= 1; 1 = laps forget each other, or fewer than 10 */
    double p_apart, p_together, p;
} bt_trend;
bt_status bt_seasonal_trend(const bt_panel *panel, double confidence, bt_trend *out,
                            bt_error *err) BT_MUST_USE;

#endif
