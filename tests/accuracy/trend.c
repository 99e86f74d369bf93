/* How often trend and breakpoint are right, on simulated runs of known truth:
 * coverage of the 95 % interval, false alarms without drift, hits of the break lap.
 * Zone noise is 0.8 percentage points.  Laps may move all their places together
 * ("common", same spread every lap), and this may be remembered from lap to lap
 * ("memory", first-order autoregression).  The bounds hold wherever laps forget each
 * other; with memory the figures are printed and not bounded: from sixteen laps no
 * method can tell a slow wander from a drift for sure.  Ends in 1 if a bound fails. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "drift/breakpoint.h"
#include "drift/trend.h"

enum { LAPS_MAX = 40, PLACES_MAX = 8 };
static const double zone_noise = 0.8; /* percentage points */
static const double cover_low = 0.93, cover_high = 0.97, alarm_max = 0.015, hit_min = 0.90;
static const double break_alarm_max = 0.065; /* 0.05 and two standard errors of 1,000 runs */

typedef struct {
    size_t laps, places;
    double common, memory; /* standard deviation, pp; correlation of neighbouring laps */
    double blank;          /* part of the zones without a value */
    double slope;          /* pp a lap */
    double step;           /* pp after half of the laps */
} scene;

static double uniform(bt_random *r)
{
    return ((double)(bt_random_next(r) >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
}

static double normal(bt_random *r)
{
    const double turn = 6.283185307179586;
    const double radius = sqrt(-2 * log(uniform(r)));
    return radius * cos(turn * uniform(r));
}

static void simulate(const scene *s, bt_random *r, double *x, double *value)
{
    double wander = normal(r);
    for (size_t i = 0; i < s->laps; i++) {
        if (i > 0) wander = s->memory * wander + sqrt(1 - s->memory * s->memory) * normal(r);
        x[i] = (double)(i + 1);
        const double level =
            s->common * wander + s->slope * x[i] + (i >= s->laps / 2 ? s->step : 0);
        for (size_t p = 0; p < s->places; p++) {
            const double v = 60 + 2 * (double)p + level + zone_noise * normal(r);
            value[i * s->places + p] = uniform(r) < s->blank ? NAN : v;
        }
    }
}

static void print_scene(const scene *s)
{
    printf("%4zu laps %zu places common %.1f memory %.1f blank %.0f%% slope %+.2f step %.0f: ",
           s->laps, s->places, s->common, s->memory, 100 * s->blank, s->slope, s->step);
}

static void no_memory(bt_status status)
{
    if (status == BT_OK) return;
    fprintf(stderr, "%s\n", bt_status_meaning(status));
    exit(EXIT_FAILURE);
}

static bool verdict(bool fine)
{
    puts(fine ? "" : "   OUT OF BOUNDS");
    return fine;
}

/* Coverage of the true slope, and p < 0.01 about it: alarms of a run without drift. */
static bool intervals(const scene *s, int runs)
{
    double x[LAPS_MAX], value[LAPS_MAX * PLACES_MAX];
    const bt_panel panel = {s->laps, s->places, x, value};
    bt_random r = {s->laps * 1000 + s->places};
    int covered = 0, alarms = 0, bare = 0, apart = 0, open = 0;
    for (int k = 0; k < runs; k++) {
        bt_trend t;
        simulate(s, &r, x, value);
        no_memory(bt_seasonal_trend(&panel, 0.95, &t, NULL));
        covered += !(t.low > s->slope) && !(t.high < s->slope);
        open += isnan(t.low) || isnan(t.high);
        alarms += t.p < 0.01;
        bare += t.p_together < 0.01;
        apart += t.p_apart < 0.01;
    }
    const double n = runs, cover = covered / n, alarm = alarms / n;
    print_scene(s);
    printf("cover %.1f%% (open %.1f%%)  p < 0.01: %.1f%%  without memory %.1f%%, apart %.1f%%",
           100 * cover, 100 * open / n, 100 * alarm, 100 * bare / n, 100 * apart / n);
    const bool in = cover >= cover_low && cover <= cover_high;
    return verdict(s->memory > 0 || (in && (s->slope != 0 || alarm <= alarm_max)));
}

/* A break is found if laps of one level hardly stray so far, p_level < 0.05, and its lap is right within
 * two.  `drift` prints its lap if two levels then fit better than a line, and says it in words if
 * p_level < 0.01.  Without a step every p below its bound is a false alarm. */
static bool breaks(const scene *s, int runs)
{
    double x[LAPS_MAX], value[LAPS_MAX * PLACES_MAX];
    const bt_panel panel = {s->laps, s->places, x, value};
    bt_random r = {s->laps * 1000 + s->places};
    int near = 0, found = 0, told = 0, sure = 0, level = 0, printed = 0, line = 0;
    for (int k = 0; k < runs; k++) {
        bt_trend t;
        bt_break b;
        simulate(s, &r, x, value);
        no_memory(bt_seasonal_trend(&panel, 0.95, &t, NULL));
        no_memory(bt_find_break(&panel, t.slope, &b, NULL));
        const bool there = b.at + 2 >= s->laps / 2 && b.at <= s->laps / 2 + 2;
        near += there;
        const bool step = b.rss_step < b.rss_line;
        found += there && b.p_level < 0.05;
        told += there && step && b.p_level < 0.05;
        sure += there && step && b.p_level < 0.01;
        level += b.p_level < 0.05;
        printed += step && b.p_level < 0.05;
        line += b.p_line < 0.05;
    }
    const double n = runs, hit = found / n, alarm = level / n;
    print_scene(s);
    printf(
        "within 2 laps %.1f%%, found %.1f%%, printed %.1f%%, said %.1f%%; anywhere: p_level < 0.05 "
        "%.1f%%, printed %.1f%%, p_line < 0.05 %.1f%%",
        100 * near / n, 100 * hit, 100 * told / n, 100 * sure / n, 100 * alarm, 100 * printed / n,
        100 * line / n);
    if (s->step > 0) return verdict(hit >= hit_min);
    return verdict(s->slope != 0 || s->memory > 0 || alarm <= break_alarm_max);
}

int main(void)
{
    const scene trends[] = {
        {8, 8, 0.4, 0, 0, 0, 0},     {10, 8, 0.4, 0, 0, 0, 0},   {12, 8, 0.4, 0, 0, 0, 0},
        {16, 8, 0, 0, 0, 0, 0},      {16, 8, 0.4, 0, 0, 0, 0},   {16, 8, 0.8, 0, 0, 0, 0},
        {16, 8, 2, 0, 0, 0, 0},      {16, 8, 0.4, 0, 0.2, 0, 0}, {16, 8, 0.8, 0, 0.2, -0.1, 0},
        {16, 8, 0.4, 0, 0, 0.2, 0},  {16, 1, 0, 0, 0, 0, 0},     {30, 5, 0.4, 0, 0.1, 0, 0},
        {40, 8, 0.8, 0, 0, 0.05, 0}, {16, 8, 0.4, 0.3, 0, 0, 0}, {16, 8, 0.8, 0.3, 0, 0, 0},
        {16, 8, 0.4, 0.6, 0, 0, 0},  {16, 8, 0.8, 0.6, 0, 0, 0}, {40, 8, 0.8, 0.3, 0, 0, 0},
        {40, 8, 0.8, 0.6, 0, 0, 0},
    };
    const scene steps[] = {
        {16, 8, 0, 0, 0, 0, 1},     {16, 8, 0.3, 0, 0, 0, 1},   {16, 8, 0.3, 0, 0.1, 0, 1},
        {16, 8, 0.3, 0, 0, 0, 2},   {16, 8, 0.3, 0, 0, 0, 0},   {16, 8, 0, 0, 0.1, 0, 0},
        {16, 8, 0.3, 0.3, 0, 0, 0}, {16, 8, 0.3, 0.6, 0, 0, 0}, {16, 8, 0, 0, 0, 0.0625, 0},
        {16, 8, 0, 0, 0, 0.125, 0}, {16, 8, 0.3, 0, 0, 0.3, 0},
    };
    int failed = 0;
    puts("trend, 4000 runs each: 95 % interval and false alarms");
    for (size_t i = 0; i < sizeof trends / sizeof *trends; i++)
        failed += !intervals(&trends[i], 4000);
    puts("break, 1000 runs each");
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++) failed += !breaks(&steps[i], 1000);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
