/* The whole line on logged data of real vehicles, against zones worked out by other means.  The logs lie
 * beside the checkout (../shared/real, or where BRAKETALLY_REAL says), not in it: most have no licence
 * to be passed on.  Without them every test here says that it skips.
 *
 * The expectations come from a rule of their own: speed averaged over a window, differenced over 0.2 s,
 * and a zone is what decelerates beyond the threshold.  Set to the same threshold, ours may differ:
 *   - at a corner of the speed trace their slope looks 0.25 s ahead (half of a 0.3 s mean and 0.1 s), ours
 *     0.1 s, and their grid is 0.02 s: edges agree within 0.25 - 0.1 + 0.02 = 0.17 s;
 *   - where the deceleration hovers at the threshold the rule cannot say where the zone ends.  Those
 *     edges are named below; between their edge and ours the speed must fall at the threshold itself;
 *   - where their mean rounds off the speed's peak (full torque straight into full brakes), the figures are
 *     those of the same independent rule with its mean cut to 0.04 s.  Those zones are named too. */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/check_support.h"

#define EDGE 0.17 /* s, see above */
#define NARROW_EDGE                                                                                \
    0.05 /* s: windows of 0.12 s and 0.1 s, a grid of 0.02 s, a log of 25 to 50 Hz */
#define MEAN         0.05 /* of the mean deceleration */
#define NARROW_MEAN  0.02
#define HOVER        0.15 /* of the threshold */
#define G            9.80665
#define EV_CAR       "tests/real/ev_car.csv"
#define EXPECTED_MAX 32

static const char *real_dir(void)
{
    const char *dir = getenv("BRAKETALLY_REAL");
    return dir ? dir : "../shared/real";
}

/* The path of a file of the real logs, in a buffer of the caller; false (said) if it is not there. */
static bool real(char path[512], const char *name)
{
    snprintf(path, 512, "%s/%s", real_dir(), name);
    if (access(path, R_OK) == 0) return true;
    printf("skipped: no %s\n", path);
    return false;
}

/* A copy of a map without one channel, so that zones are opened by deceleration. */
static bt_map *map_read(const char *path, const char *without)
{
    char name[] = "/tmp/braketally-map-XXXXXX", row[256];
    const int fd = mkstemp(name);
    ck_assert_int_ge(fd, 0);
    FILE *in = fopen(path, "r"), *out = fdopen(fd, "w");
    ck_assert_ptr_nonnull(in);
    while (fgets(row, sizeof row, in))
        if (!without || strncmp(row, without, strlen(without)) != 0) fputs(row, out);
    fclose(in);
    fclose(out);
    bt_error err = {0};
    bt_map *map = NULL;
    ck_assert_msg(bt_map_read(&map, name, &err) == BT_OK, "%s", err.message);
    unlink(name);
    return map;
}

/* Analyse with settings "name=value ..." one after the other, NULL at the end. */
static bt_result analyse(const char *log, const char *map_path, const char *without,
                         const char *car_path, const char *const *settings)
{
    bt_error err = {0};
    bt_car *car = NULL;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    if (car_path) ck_assert_int_eq(bt_car_read(car, car_path, &err), BT_OK);
    for (; settings && *settings; settings++)
        ck_assert_msg(bt_car_set(car, *settings, &err) == BT_OK, "%s", err.message);
    bt_map *map = map_read(map_path, without);
    const bt_setup setup = {.car = car, .map = map};
    bt_result result;
    ck_assert_msg(bt_analyse(log, &setup, &result, &err) == BT_OK, "%s: %s", log, err.message);
    bt_map_free(map);
    bt_car_free(car);
    return result;
}

/* ---- zones by deceleration ---- */

typedef struct {
    double start, end, v0, v1, mean;
} expected;

static size_t expected_read(const char *path, expected rows[EXPECTED_MAX])
{
    FILE *f = fopen(path, "r");
    char row[256];
    size_t n = 0;
    ck_assert_ptr_nonnull(f);
    ck_assert_ptr_nonnull(fgets(row, sizeof row, f));
    while (n < EXPECTED_MAX && fgets(row, sizeof row, f)) {
        expected *e = &rows[n++];
        ck_assert_int_eq(
            sscanf(row, "%lf,%lf,%lf,%lf,%lf", &e->start, &e->end, &e->v0, &e->v1, &e->mean), 5);
    }
    fclose(f);
    return n;
}

typedef enum { PLAIN, START_HOVERS, END_HOVERS, NARROW, LOCKED } reason;

/* Why a zone of the list differs; `narrow` is the independent rule's zone with its mean cut to 0.04 s. */
typedef struct {
    double start;
    reason why;
    double narrow_start, narrow_end, narrow_mean;
} exception;

static const exception putnam_hard[] = {
    {460.32, START_HOVERS, 0, 0, 0}, /* 1.7 to 2.1 m/s2 from 459.98 to 460.5 s */
    {0, PLAIN, 0, 0, 0},
};
/* The brakes fade out of the deceleration that rolling and the air make at speed: about 1 m/s2. */
static const exception putnam_soft[] = {
    {18.24, END_HOVERS, 0, 0, 0},  {152.14, END_HOVERS, 0, 0, 0}, {198.42, END_HOVERS, 0, 0, 0},
    {304.92, END_HOVERS, 0, 0, 0}, {320.78, END_HOVERS, 0, 0, 0}, {341.16, END_HOVERS, 0, 0, 0},
    {377.50, END_HOVERS, 0, 0, 0}, {388.94, END_HOVERS, 0, 0, 0}, {410.26, END_HOVERS, 0, 0, 0},
    {443.82, END_HOVERS, 0, 0, 0}, {459.96, END_HOVERS, 0, 0, 0}, {0, PLAIN, 0, 0, 0},
};
static const exception rav4_soft[] = {
    {30.01, END_HOVERS, 0, 0, 0}, /* fades from 0.9 to 0.5 m/s2 within a second */
    {0, PLAIN, 0, 0, 0},
};
static const exception autocross_hard[] = {
    {12.60, NARROW, 12.58, 14.16, 5.42},
    {16.82, NARROW, 16.82, 17.74, 4.90},
    {28.72, NARROW, 28.40, 30.32,
     3.54},                   /* two dabs 0.3 s apart that their mean parts and 0.04 s joins */
    {37.08, LOCKED, 0, 0, 0}, /* the wheels lock at 36.0 s: they saw the end of it only */
    {0, PLAIN, 0, 0, 0},
};
static const exception none[] = {{0, PLAIN, 0, 0, 0}};

static const struct {
    const char *log, *expected, *map, *car;
    double t0;        /* s, first row of a log whose time is not an epoch */
    double threshold; /* m/s2 */
    const exception *exceptions;
    size_t extra; /* zones of ours that they do not have, see below */
} lists[] = {
    {"uva-race/Putnam_park2023_run4_2.csv.gz", "uva-race/expected_zones_putnam.csv",
     "tests/real/putnam_map.csv", NULL, 0, 2, putnam_hard, 0},
    {"uva-race/Putnam_park2023_run4_2.csv.gz", "uva-race/expected_zones_putnam_soft.csv",
     "tests/real/putnam_map.csv", NULL, 0, 1, putnam_soft, 0},
    {"highway-rav4/rav4_highway.csv", "highway-rav4/expected_zones.csv", "tests/real/rav4_map.csv",
     NULL, 46408.580034, 2, none, 0},
    {"highway-rav4/rav4_highway.csv", "highway-rav4/expected_zones_soft.csv",
     "tests/real/rav4_map.csv", NULL, 46408.580034, 0.7, rav4_soft, 0},
    /* The extra one, 34.64 s: the driveline swings under power, 2 m/s2 up and down for 0.52 s. */
    {"uw-ev/autocross_2.csv.gz", "uw-ev/expected_zones_autocross_2.csv", "tests/real/ev_map.csv",
     EV_CAR, 199.863, 2, autocross_hard, 1},
};

static const exception *exception_find(const exception *list, double start)
{
    while (list->why != PLAIN && !(fabs(list->start - start) < 0.005)) list++;
    return list;
}

/* The speed between two edges falls at the threshold: neither rule is wrong there. */
static void hovers(double apart, double drop, double threshold, double at)
{
    ck_assert_msg(apart > EDGE, "%g s: named as hovering and is not (%g s)", at, apart);
    ck_assert_msg(fabs(drop / apart / threshold - 1) <= HOVER, "%g s: %g m/s2 between the edges",
                  at, drop / apart);
}

static void locked(const bt_zone *z, const expected *e, double start, double end)
{
    ck_assert(z->flags & BT_FLAG_SPEED_UNSURE);
    ck_assert_double_eq_tol(end, e->end, EDGE);
    ck_assert_double_eq_tol(z->exit, e->v1, 0.1); /* their wheel rolls again by then */
    ck_assert_double_eq_tol(start, 35.95, 0.2);   /* the pedal goes down, by the pressure table */
    ck_assert_double_le(z->decel_peak, 1.5 * G);  /* grip_limit */
}

static void compare(const bt_zone *z, const expected *e, double t0, double threshold,
                    const exception *x)
{
    const double start = z->start - t0, end = start + z->duration;
    double mean = e->mean, apart = 0; /* s, of hovering edges */
    if (x->why == LOCKED) {
        locked(z, e, start, end);
        return;
    }
    if (x->why == NARROW) {
        ck_assert_double_eq_tol(start, x->narrow_start, NARROW_EDGE);
        ck_assert_double_eq_tol(end, x->narrow_end, NARROW_EDGE);
        ck_assert_double_eq_tol(z->decel_mean, x->narrow_mean, NARROW_MEAN * x->narrow_mean);
        return;
    }
    if (x->why == START_HOVERS)
        hovers(apart = e->start - start, z->entry - e->v0, threshold, e->start);
    else
        ck_assert_double_eq_tol(start, e->start, EDGE);
    if (x->why == END_HOVERS)
        hovers(apart = end - e->end, e->v1 - z->exit, threshold, e->start);
    else
        ck_assert_double_eq_tol(end, e->end, EDGE);
    /* Theirs with the hovering stretch at the threshold put to it. */
    mean = (mean * (e->end - e->start) + threshold * apart) / (e->end - e->start + apart);
    if (z->flags & BT_FLAG_CUT_END) { /* their slope ends 0.1 s before the log does */
        ck_assert_double_eq_tol((z->entry - e->v1) / (e->end - start), mean, MEAN * mean);
        return;
    }
    ck_assert_msg(fabs(z->decel_mean / mean - 1) <= MEAN, "%g s: %g m/s2, expected %g", e->start,
                  z->decel_mean, mean);
}

static double overlap(const bt_zone *z, double t0, const expected *e)
{
    const double start = z->start - t0;
    return fmin(start + z->duration, e->end) - fmax(start, e->start);
}

START_TEST(zones_by_deceleration_are_those_of_an_independent_rule)
{
    char log[512], list[512], on[64], off[64];
    if (!real(log, lists[_i].log) || !real(list, lists[_i].expected)) return;
    const double threshold = lists[_i].threshold;
    snprintf(on, sizeof on, "zone_on_decel=%g", threshold);
    snprintf(off, sizeof off, "zone_off_decel=%g", threshold);
    const char *const settings[] = {on,
                                    off,
                                    "zone_min_time=0.5",
                                    "zone_gap=0.3",
                                    threshold < 2 ? "zone_min_drop=0.3" : "zone_min_drop=0.5",
                                    NULL};
    bt_result r = analyse(log, lists[_i].map, "pedal_front", lists[_i].car, settings);
    expected want[EXPECTED_MAX];
    const size_t n = expected_read(list, want);
    ck_assert_uint_gt(n, 0);
    ck_assert_uint_eq(r.n_zones, n + lists[_i].extra);
    for (size_t i = 0; i < n; i++) {
        const bt_zone *z = &r.zones[0];
        for (size_t k = 1; k < r.n_zones; k++)
            if (overlap(&r.zones[k], lists[_i].t0, &want[i]) > overlap(z, lists[_i].t0, &want[i]))
                z = &r.zones[k];
        ck_assert_msg(overlap(z, lists[_i].t0, &want[i]) > 0, "%s: no zone at %g s",
                      lists[_i].expected, want[i].start);
        compare(z, &want[i], lists[_i].t0, threshold,
                exception_find(lists[_i].exceptions, want[i].start));
    }
    /* What they do not have is by their own measure, the mean, no zone. */
    for (size_t k = 0; k < r.n_zones; k++) {
        bool theirs = false;
        for (size_t i = 0; i < n; i++) theirs |= overlap(&r.zones[k], lists[_i].t0, &want[i]) > 0;
        if (theirs) continue;
        ck_assert_double_lt(r.zones[k].decel_mean, threshold);
        ck_assert_double_lt(r.zones[k].duration, 0.6);
    }
    bt_result_clear(&r);
}
END_TEST

START_TEST(a_zone_that_the_recording_cuts_is_flagged)
{
    char log[512];
    if (!real(log, "highway-rav4/rav4_highway.csv")) return;
    bt_result r = analyse(log, "tests/real/rav4_map.csv", NULL, NULL, NULL);
    ck_assert_uint_gt(r.n_zones, 0);
    const bt_zone *last = &r.zones[r.n_zones - 1];
    ck_assert(last->flags & BT_FLAG_CUT_END);
    ck_assert_double_eq_tol(last->exit, 11.1611, 0.02); /* the last speed cell of the file */
    bt_result_clear(&r);
}
END_TEST

/* ---- zones by the pedal ---- */

#define PSI 6894.757293168362 /* Pa */

static const struct {
    const char *wide, *long_layout, *pressure; /* stretches with front pressure above 100 psi */
    double t0;
    size_t zones;
} presses[] = {
    {"uw-ev/autocross_2.csv.gz", "uw-ev/autocross_2_long.csv.gz", "uw-ev/autocross_2_pressure.csv",
     199.863, 12},
    {"uw-ev/june9_regen_lockup.csv.gz", "uw-ev/june9_regen_lockup_long.csv.gz",
     "uw-ev/june9_regen_lockup_pressure.csv", 1466.528, 2},
};

/* The stretch of 32.66 s goes on to 33.45 s in the table, by two dabs of 0.02 s and 0.06 s.  The first is
 * too short to count here (50 ms) and the second then too far away; the log is above 100 psi up to 33.06 s. */
#define DABS_START 32.66
#define DABS_END   33.06

typedef struct {
    double start, end, peak; /* s after the first row, s, psi */
} pressed;

/* The rows of a pressure table that are zones: what begins below 5 m/s is none. */
static size_t pressed_read(const char *path, pressed rows[EXPECTED_MAX])
{
    FILE *f = fopen(path, "r");
    char row[256];
    size_t n = 0;
    ck_assert_ptr_nonnull(f);
    ck_assert_ptr_nonnull(fgets(row, sizeof row, f));
    while (n < EXPECTED_MAX && fgets(row, sizeof row, f)) {
        double rear, v0;
        pressed *p = &rows[n];
        if (sscanf(row, "%lf,%lf,%lf,,%lf", &p->start, &p->end, &p->peak, &v0) != 4)
            ck_assert_int_eq(
                sscanf(row, "%lf,%lf,%lf,%lf,%lf", &p->start, &p->end, &p->peak, &rear, &v0), 5);
        if (fabs(p->start - DABS_START) < 0.005) p->end = DABS_END;
        if (v0 > 5) n++;
    }
    fclose(f);
    return n;
}

/* The table joins what is 0.2 s apart and drops nothing. */
static const char *const at_100_psi[] = {"zone_on=100 psi",   "zone_off=100 psi",  "zone_gap=0.2",
                                         "zone_min_drop=0.5", "zone_min_time=0.2", NULL};

/* The pressure comes 20 to 100 times a second, so an edge lies within 0.05 s; the zero that we take off
 * (about 10 psi here) moves edges by that over the pedal's slope and the peak by itself. */
START_TEST(the_pedal_opens_the_zones_of_the_pressure_table_and_none_on_a_standing_car)
{
    char log[512], table[512];
    if (!real(log, presses[_i].wide) || !real(table, presses[_i].pressure)) return;
    bt_result r = analyse(log, "tests/real/ev_map.csv", NULL, EV_CAR, at_100_psi);
    pressed want[EXPECTED_MAX];
    const size_t n = pressed_read(table, want);
    ck_assert_uint_eq(n, presses[_i].zones);
    ck_assert_uint_eq(r.n_zones, n);
    for (size_t i = 0; i < n; i++) {
        const double start = r.zones[i].start - presses[_i].t0;
        ck_assert_double_eq_tol(start, want[i].start, 0.05);
        ck_assert_double_eq_tol(start + r.zones[i].duration, want[i].end, 0.05);
        ck_assert_double_eq_tol(r.zones[i].pedal_peak, want[i].peak * PSI, 20 * PSI);
        ck_assert_double_gt(r.zones[i].entry, 5);
        ck_assert(r.zones[i].flags & BT_FLAG_MOTOR_SPEED);
    }
    bt_result_clear(&r);
}
END_TEST

/* June 9: the motor speed falls from 29 m/s to nothing in 0.15 s, 46 m/s2 by its differences.  By the
 * speeds before and after the locking it was 5.4 and 8.0 m/s2 over 3.7 and 2.1 s. */
START_TEST(a_locked_axle_is_bridged_and_said_to_be)
{
    static const struct {
        double mean, duration;
    } want[] = {{5.4, 3.7}, {8.0, 2.1}};
    char log[512];
    if (!real(log, "uw-ev/june9_regen_lockup.csv.gz")) return;
    bt_result r = analyse(log, "tests/real/ev_map.csv", NULL, EV_CAR, at_100_psi);
    ck_assert_uint_eq(r.n_zones, 2);
    for (size_t i = 0; i < 2; i++) {
        ck_assert_double_eq_tol(r.zones[i].decel_mean, want[i].mean, 0.05 * want[i].mean);
        ck_assert_double_eq_tol(r.zones[i].duration, want[i].duration, 0.05);
        ck_assert_double_lt(r.zones[i].decel_peak, 1.5 * G);
        ck_assert_double_ge(r.zones[i].decel_peak, r.zones[i].decel_mean - 1e-3);
        ck_assert(r.zones[i].flags & BT_FLAG_SPEED_UNSURE);
    }
    bt_result_clear(&r);
}
END_TEST

/* The last row of the expected zones, 19.20 s: rolling on after the second lock, 0.49 s long here.  (The
 * row before it, 46 m/s2, is the lock as a naive rule reads it, and no expectation.) */
START_TEST(without_its_pedal_a_locked_axle_is_still_no_46_mps2)
{
    static const char *const settings[] = {"zone_on_decel=2",   "zone_off_decel=2",
                                           "zone_min_time=0.4", "zone_min_drop=0.5",
                                           "zone_gap=0.3",      NULL};
    char log[512], list[512];
    if (!real(log, "uw-ev/june9_regen_lockup.csv.gz") ||
        !real(list, "uw-ev/expected_zones_june9_regen_lockup.csv"))
        return;
    expected want[EXPECTED_MAX];
    ck_assert_uint_eq(expected_read(list, want), 2);
    bt_result r = analyse(log, "tests/real/ev_map.csv", "pedal_front", EV_CAR, settings);
    ck_assert_uint_eq(r.n_zones, 3);
    for (size_t i = 0; i < r.n_zones; i++) ck_assert_double_lt(r.zones[i].decel_peak, 1.5 * G);
    const bt_zone *z = &r.zones[2];
    ck_assert_double_eq_tol(z->start - 1466.528, want[1].start, EDGE);
    ck_assert_double_eq_tol(z->start - 1466.528 + z->duration, want[1].end, EDGE);
    ck_assert_double_eq_tol(z->decel_mean, want[1].mean, MEAN * want[1].mean);
    bt_result_clear(&r);
}
END_TEST

/* The wide table has a row per millisecond, the long one a row per frame: times round to 1 ms. */
START_TEST(the_long_layout_gives_the_zones_of_the_wide_one)
{
    char wide[512], tall[512];
    if (!real(wide, presses[_i].wide) || !real(tall, presses[_i].long_layout)) return;
    bt_result a = analyse(wide, "tests/real/ev_map.csv", NULL, EV_CAR, at_100_psi);
    bt_result b = analyse(tall, "tests/real/ev_long_map.csv", NULL, EV_CAR, at_100_psi);
    ck_assert_uint_eq(a.n_zones, b.n_zones);
    for (size_t i = 0; i < a.n_zones; i++) {
        const bt_zone *p = &a.zones[i], *q = &b.zones[i];
        ck_assert_double_eq_tol(p->start, q->start, 0.005);
        ck_assert_double_eq_tol(p->duration, q->duration, 0.005);
        ck_assert_double_eq_tol(p->entry, q->entry, 0.05);
        ck_assert_double_eq_tol(p->exit, q->exit, 0.05);
        ck_assert_double_eq_tol(p->pedal_peak, q->pedal_peak, 5 * PSI);
        ck_assert_uint_eq(p->flags, q->flags);
    }
    bt_result_clear(&a);
    bt_result_clear(&b);
}
END_TEST

/* 1,800 kPa commanded at the start and at rest.  Every hard zone (2 m/s2) has its pedal zone but for the
 * one at 429.9 s: the command does not reach 3 bar long enough there. */
START_TEST(pressure_commanded_at_rest_is_no_zone)
{
    char log[512], list[512];
    if (!real(log, "uva-race/Putnam_park2023_run4_2.csv.gz") ||
        !real(list, "uva-race/expected_zones_putnam.csv"))
        return;
    bt_result r = analyse(log, "tests/real/putnam_map.csv", NULL, NULL, NULL);
    expected want[EXPECTED_MAX];
    const size_t n = expected_read(list, want);
    for (size_t k = 0; k < r.n_zones; k++) {
        size_t meets = 0;
        ck_assert_double_gt(r.zones[k].entry, 5);
        ck_assert_double_lt(r.zones[k].pedal_peak,
                            14.5e5); /* up to 1,400 kPa in zones, 1,800 standing */
        for (size_t i = 0; i < n; i++) meets += overlap(&r.zones[k], 0, &want[i]) > 0;
        ck_assert_uint_eq(meets, 1);
    }
    ck_assert_uint_eq(r.n_zones, n - 1);
    bt_result_clear(&r);
}
END_TEST

/* ---- what inspect says of channels that cannot be right ---- */

static const bt_inspect_column *column_find(const bt_inspection *in, const char *name)
{
    for (size_t i = 0; i < in->n_columns; i++)
        if (strcmp(in->columns[i].name, name) == 0) return &in->columns[i];
    ck_abort_msg("no column %s", name);
    return NULL;
}

START_TEST(inspect_names_dead_wheels_and_the_factor_of_the_wrong_unit)
{
    char log[512];
    if (!real(log, "uw-ev/autocross_2.csv.gz")) return;
    bt_error err = {0};
    bt_car *car = NULL;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_read(car, EV_CAR, &err), BT_OK);
    bt_map *map = map_read("tests/real/ev_map.csv", NULL);
    const bt_setup setup = {.car = car, .map = map};
    bt_inspection in;
    ck_assert_msg(bt_inspect(log, &setup, &in, &err) == BT_OK, "%s", err.message);
    static const char *const dead[] = {"FLSpeedKPH [km/h]", "FRSpeedKPH [km/h]"};
    static const char *const wrong[] = {"RLSpeedKPH [kph]", "RRSpeedKPH [kph]"};
    for (size_t i = 0; i < 2; i++) {
        ck_assert_ptr_nonnull(strstr(column_find(&in, dead[i])->remark, "dead"));
        double factor = 0;
        ck_assert_int_eq(sscanf(column_find(&in, wrong[i])->remark, "reads %lf times", &factor), 1);
        ck_assert_double_eq_tol(factor, 2.2, 0.1); /* "about 2.2 times km/h" */
    }
    bt_inspection_clear(&in);
    bt_map_free(map);
    bt_car_free(car);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("real logs");
    TCase *t = tcase_create("real");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, zones_by_deceleration_are_those_of_an_independent_rule, 0,
                        sizeof lists / sizeof *lists);
    tcase_add_test(t, a_zone_that_the_recording_cuts_is_flagged);
    tcase_add_loop_test(t,
                        the_pedal_opens_the_zones_of_the_pressure_table_and_none_on_a_standing_car,
                        0, sizeof presses / sizeof *presses);
    tcase_add_test(t, a_locked_axle_is_bridged_and_said_to_be);
    tcase_add_test(t, without_its_pedal_a_locked_axle_is_still_no_46_mps2);
    tcase_add_loop_test(t, the_long_layout_gives_the_zones_of_the_wide_one, 0,
                        sizeof presses / sizeof *presses);
    tcase_add_test(t, pressure_commanded_at_rest_is_no_zone);
    tcase_add_test(t, inspect_names_dead_wheels_and_the_factor_of_the_wrong_unit);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
