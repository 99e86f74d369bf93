/* Drift of hand-made zones whose movement is written down here. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

enum { PLACES = 4, MOST = 4800 };

typedef struct {
    bt_zone row[MOST];
    size_t n;
} drive;

/* Uneven but fixed, within +-1. */
static double jitter(int lap, int place)
{
    return ((lap * 37 + place * 101 + lap * lap * 13) % 21 - 10) / 10.0;
}

static bt_zone *add(drive *d, const char *run, int lap, int place)
{
    bt_zone *z = &d->row[d->n++];
    bt_row_blank(BT_TABLE_ZONES, z);
    snprintf(z->run, sizeof z->run, "%s", run);
    z->lap = lap;
    z->start = 90 * lap + 20 * place;
    z->start_dist = 200 + 700 * place + 2 * jitter(lap, place);
    z->distance = 100;
    z->entry = 60 - 3 * place;
    z->exit = 20 + 2 * place;
    return z;
}

/* Shares of the brake force; both axles roll on 0.33 and 0.35 m. */
static void set_forces(bt_zone *z, double rear, double motor)
{
    const double force = 10000, front = 1 - rear - motor;
    z->balance = front;
    z->front = front * force * 0.33;
    z->rear_friction = rear * force * 0.35;
    z->motor = motor * force * 0.35;
}

static bt_drift *drift_of(drive *d, const bt_drift_options *o, size_t *n)
{
    bt_drift *rows;
    bt_error err = {0};
    ck_assert_int_eq(bt_drift_find(d->row, d->n, o, &rows, n, &err), BT_OK);
    return rows;
}

/* Motor down 0.9 points of the force a lap, rear friction up 0.63: 0.27 points forward. */
static void motor_fades(drive *d)
{
    d->n = 0;
    for (int lap = 1; lap <= 9; lap++)
        for (int p = 0; p < PLACES; p++)
            set_forces(add(d, "run", lap, p), 0.15 + 0.01 * p + 0.0063 * lap, 0.25 - 0.009 * lap);
}

START_TEST(a_slope_is_found_and_split_by_the_forces_exactly)
{
    static drive d;
    size_t n;
    motor_fades(&d);
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_uint_eq(n, 1 + PLACES);
    for (size_t i = 0; i < n; i++) {
        /* Level of the middle lap, 5: what the terms are weighed with. */
        const double level = 1 - 0.15 - 0.25 - 0.0315 + 0.045 - 0.01 * (i ? (double)i - 1 : 1.5);
        ck_assert_double_eq_tol(r[i].slope, 0.27, 1e-9);
        ck_assert_double_eq_tol(r[i].by_front + r[i].by_rear_friction + r[i].by_motor, r[i].slope,
                                1e-12);
        /* Balance is printed to 0.01 points, over 8 laps. */
        ck_assert_double_eq_tol(r[i].by_motor, 0.9 * level, 0.005);
        ck_assert_double_eq_tol(r[i].by_rear_friction, -0.63 * level, 0.005);
        ck_assert_double_eq_tol(r[i].by_front, 0.27 * (1 - level), 0.005);
    }
    ck_assert_str_eq(r[0].figure, "balance_pct");
    ck_assert_str_eq(r[0].place, "all");
    ck_assert_str_eq(r[0].unit, "%/{lap}");
    ck_assert_str_eq(r[2].place, "P02");
    ck_assert_double_eq(r[0].n, 36);
    ck_assert_double_eq(r[0].laps, 9);
    ck_assert(r[0].p < 0.001);
    ck_assert_str_eq(r[0].finding,
                     "balance moved 0.27 pp/lap forward (0.27..0.27), p < 0.001, from lap 1; the "
                     "motor's part of the brake force fell 0.90 pp/lap and rear friction replaced "
                     "0.70 of it");
    free(r);
}
END_TEST

START_TEST(the_day_sheet_gets_the_same_slope_as_a_share)
{
    static drive d;
    size_t n;
    motor_fades(&d);
    bt_drift *r = drift_of(&d, NULL, &n);
    bt_run run;
    bt_error err = {0};
    bt_row_blank(BT_TABLE_RUNS, &run);
    strcpy(run.run, "run");
    ck_assert_int_eq(bt_drift_of_run(&run, d.row, d.n, &err), BT_OK);
    ck_assert_double_eq(run.balance_drift, r[0].slope / 100);
    ck_assert_double_eq(run.drift_p, r[0].p);
    strcpy(run.run, "another");
    ck_assert_int_eq(bt_drift_of_run(&run, d.row, d.n, &err), BT_OK);
    ck_assert(isnan(run.balance_drift));
    free(r);
}
END_TEST

START_TEST(a_step_of_the_setting_is_told_as_a_step)
{
    static drive d;
    size_t n;
    d.n = 0;
    for (int lap = 1; lap <= 12; lap++)
        for (int p = 0; p < PLACES; p++) {
            bt_zone *z = add(&d, "run", lap, p);
            z->bias_setting = lap < 7 ? 52 : 54;
            z->balance = (lap < 7 ? 0.60 : 0.62) + 0.01 * p + 0.0005 * jitter(lap, p);
        }
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_uint_eq(n, 1 + 1 + PLACES);
    ck_assert_double_eq_tol(r[0].slope, 0, 0.01);
    ck_assert(r[0].p > 0.05);
    ck_assert(isnan(r[0].break_lap));
    ck_assert_str_eq(r[1].figure, "bias_setting");
    ck_assert_double_eq(r[1].break_lap, 7);
    ck_assert_double_eq(r[1].break_size, 2);
    ck_assert(strstr(r[1].finding, "from 52.00 to 54.00 in lap 7; balance with it by +2.0") ||
              strstr(r[1].finding, "from 52.00 to 54.00 in lap 7; balance with it by +1.9"));
    free(r);
}
END_TEST

/* By wire, then, from the third place of lap 5, in fallback until lap 9: 0.09 more at the front. */
static bool fell_back(int lap, int p)
{
    return (lap == 5 && p >= 2) || (lap > 5 && lap < 9);
}

START_TEST(a_fallback_is_told_as_a_step_and_makes_no_drift)
{
    static drive d;
    size_t n;
    d.n = 0;
    for (int lap = 1; lap <= 12; lap++)
        for (int p = 0; p < PLACES; p++) {
            bt_zone *z = add(&d, "run", lap, p);
            const bool fell = fell_back(lap, p);
            z->balance = 0.60 + 0.01 * p + (fell ? 0.09 : 0) + 0.0005 * jitter(lap, p);
            strcpy(z->mode, lap % 4 == 3 && p == 1 ? "undetermined"
                            : fell                 ? "fallback"
                                                   : "by-wire");
            if (lap == 5 && p == 2) { /* the line changes hands: neither this nor that */
                strcpy(z->mode, "mixed");
                z->balance = 0.65;
            }
        }
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_uint_eq(n, 1 + 2 + PLACES);
    ck_assert_double_eq_tol(r[0].n, 12 * PLACES - 1, 0.1);
    ck_assert_double_eq_tol(r[0].slope, 0, 0.01);
    ck_assert(r[0].low > -0.05 && r[0].high < 0.05);
    ck_assert(r[0].p > 0.05 && isnan(r[0].break_lap));
    ck_assert_str_eq(r[1].figure, "mode");
    ck_assert_double_eq(r[1].break_lap, 5);
    const char *by =
        strstr(r[1].finding, "from by-wire to fallback in lap 5; balance with it by +");
    ck_assert_ptr_nonnull(by);
    ck_assert_double_eq_tol(atof(strchr(by, '+')), 9, 0.1);
    ck_assert_double_eq(r[2].break_lap, 9);
    by = strstr(r[2].finding, "from fallback to by-wire in lap 9; balance with it by -");
    ck_assert_ptr_nonnull(by);
    ck_assert_double_eq_tol(atof(strstr(by, "by -") + 3), -9, 0.1);
    free(r);
}
END_TEST

START_TEST(a_drift_shows_through_a_fallback)
{
    static drive d;
    size_t n;
    d.n = 0;
    for (int lap = 1; lap <= 12; lap++)
        for (int p = 0; p < PLACES; p++) {
            bt_zone *z = add(&d, "run", lap, p);
            z->balance = 0.60 + (fell_back(lap, p) ? 0.09 : 0) - 0.002 * lap;
            strcpy(z->mode, fell_back(lap, p) ? "fallback" : "by-wire");
        }
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_double_eq_tol(r[0].slope, -0.2, 1e-9);
    ck_assert_msg(strstr(r[0].finding, "balance moved 0.20 pp/lap rearward"), "%s", r[0].finding);
    free(r);
}
END_TEST

START_TEST(a_sudden_move_is_told_with_its_lap)
{
    static drive d;
    size_t n;
    d.n = 0;
    for (int lap = 1; lap <= 16; lap++)
        for (int p = 0; p < PLACES; p++)
            add(&d, "run", lap, p)->balance =
                0.60 + 0.01 * p - (lap < 9 ? 0 : 0.01) + 0.001 * jitter(lap, p);
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_double_eq(r[0].break_lap, 9);
    ck_assert_double_eq_tol(r[0].break_size, -1, 0.1);
    ck_assert_msg(strstr(r[0].finding, " pp rearward at lap 9, p ") != NULL, "%s", r[0].finding);
    ck_assert(strstr(r[0].finding, ", and not slowly"));
    ck_assert(isnan(r[0].by_front)); /* no torques */
    free(r);
}
END_TEST

START_TEST(what_is_smaller_than_matters_is_not_called_drift)
{
    static drive d;
    size_t n;
    d.n = 0;
    for (int lap = 1; lap <= 12; lap++)
        for (int p = 0; p < PLACES; p++) add(&d, "run", lap, p)->balance = 0.60 + 0.0004 * lap;
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert(strstr(r[0].finding, "balance: less than matters, +0.040 pp/lap") == r[0].finding);
    free(r);
    const bt_drift_options o = {.least = 0.03};
    r = drift_of(&d, &o, &n);
    ck_assert(strstr(r[0].finding, "balance moved 0.040 pp/lap forward") == r[0].finding);
    free(r);
}
END_TEST

START_TEST(runs_are_compared_with_themselves_unless_asked)
{
    static drive d;
    static const char *const runs[] = {"c", "a", "b"};
    size_t n;
    d.n = 0;
    for (int k = 0; k < 3; k++) /* flat in each run, one point from run to run */
        for (int lap = 1; lap <= 6; lap++)
            for (int p = 0; p < PLACES; p++)
                add(&d, runs[k], lap, p)->balance = 0.60 + 0.01 * k + 0.001 * jitter(lap, p);
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_uint_eq(n, 1 + 3 + PLACES);
    ck_assert_double_eq_tol(r[0].slope, 0, 0.03);
    ck_assert_str_eq(r[0].run, "all");
    ck_assert_str_eq(r[1].run, "c");
    free(r);
    const bt_drift_options o = {.against = BT_AGAINST_RUN};
    r = drift_of(&d, &o, &n);
    ck_assert_uint_eq(n, 1 + PLACES);
    ck_assert_double_eq_tol(r[0].slope, 1, 0.06);
    ck_assert_str_eq(r[0].unit, "%/{run}");
    free(r);
}
END_TEST

/* 1200 laps, 0.01 points a lap: 12 points over the day, each value up to 0.2 off, which a median slope over
 * so many laps does not feel.  From lap 601 on the blend is 40 N*m worse. */
START_TEST(a_day_of_laps_has_the_slope_and_the_break_that_were_put_in)
{
    static drive d;
    d.n = 0;
    for (int lap = 1; lap <= 1200; lap++)
        for (int p = 0; p < PLACES; p++) {
            bt_zone *z = add(&d, "run", lap, p);
            set_forces(z, 0.2 - 0.0001 * lap + 0.002 * jitter(lap, p), 0.2);
            z->blend_rms = 30 + 3 * jitter(lap + 7, p) + (lap > 600 ? 40 : 0);
        }
    size_t n;
    bt_drift *rows = drift_of(&d, &(bt_drift_options){.of = "balance_pct,blend_rms_nm"}, &n);
    ck_assert_uint_ge(n, 2);
    const bt_drift *balance = NULL, *blend = NULL;
    for (size_t i = 0; i < n; i++) {
        if (strcmp(rows[i].place, "all") != 0) continue;
        if (strcmp(rows[i].figure, "balance_pct") == 0) balance = &rows[i];
        if (strcmp(rows[i].figure, "blend_rms_nm") == 0) blend = &rows[i];
    }
    ck_assert(balance && blend);
    ck_assert_double_eq_tol(balance->slope, 0.01, 0.0002);
    ck_assert_double_le(balance->low, 0.01);
    ck_assert_double_ge(balance->high, 0.01);
    ck_assert_double_lt(balance->p, 1e-6);
    ck_assert_double_eq_tol(blend->break_lap, 601, 4); /* four laps are taken together */
    free(rows);
}
END_TEST

START_TEST(against_time_the_slope_is_by_the_minute)
{
    static drive d;
    size_t n;
    motor_fades(&d); /* laps of 90 s */
    const bt_drift_options o = {.against = BT_AGAINST_TIME};
    bt_drift *r = drift_of(&d, &o, &n);
    ck_assert_double_eq_tol(r[0].slope, 0.27 / 1.5, 1e-9);
    ck_assert_str_eq(r[0].unit, "%/min");
    free(r);
}
END_TEST

START_TEST(zones_cut_by_the_log_and_nothing_at_all_are_no_trouble)
{
    static drive d;
    size_t n;
    d.n = 0;
    bt_drift *r = drift_of(&d, NULL, &n);
    ck_assert_uint_eq(n, 1);
    ck_assert(isnan(r[0].slope));
    ck_assert_str_eq(r[0].finding,
                     "balance: too little to compare, expected two values at one place");
    free(r);
    motor_fades(&d);
    d.row[0].flags = BT_FLAG_CUT_START;
    r = drift_of(&d, NULL, &n);
    ck_assert_double_eq(r[0].n, 35);
    free(r);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("drift");
    TCase *t = tcase_create("drift");
    tcase_add_test(t, a_slope_is_found_and_split_by_the_forces_exactly);
    tcase_add_test(t, the_day_sheet_gets_the_same_slope_as_a_share);
    tcase_add_test(t, a_step_of_the_setting_is_told_as_a_step);
    tcase_add_test(t, a_fallback_is_told_as_a_step_and_makes_no_drift);
    tcase_add_test(t, a_drift_shows_through_a_fallback);
    tcase_add_test(t, a_sudden_move_is_told_with_its_lap);
    tcase_add_test(t, what_is_smaller_than_matters_is_not_called_drift);
    tcase_add_test(t, runs_are_compared_with_themselves_unless_asked);
    tcase_add_test(t, a_day_of_laps_has_the_slope_and_the_break_that_were_put_in);
    tcase_add_test(t, against_time_the_slope_is_by_the_minute);
    tcase_add_test(t, zones_cut_by_the_log_and_nothing_at_all_are_no_trouble);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
