/* The reference speed (METHODS 3) on simulated drives whose true speed is known: what a source may
 * do, what it may not, wheels that slip, lock, spin, are dead or of another size, and the
 * accelerometer that carries the speed. */
#include "check_support.h"
#include "signals/speed.h"
#include "base/stats.h"

#include <math.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))
#define GRIP     (1.5 * BT_GRAVITY) /* the default grip_limit */

/* ---- a drive: what happens, what is logged, what comes out ---- */

#define ROWS_MAX 100000

typedef struct {
    size_t n;
    double t[ROWS_MAX], truth[ROWS_MAX], ch[BT_CH_COUNT][ROWS_MAX];
    bool logged[BT_CH_COUNT];
    /* braking zones of the simulation, samples */
    size_t zones, zone_start[32], zone_end[32];
} drive;

static drive d;

typedef struct {
    bt_stage stage;
    size_t n, ends;
    double v[ROWS_MAX], dist[ROWS_MAX], unsure[ROWS_MAX];
    double trim[4];
    bool beyond;
} answer;

static answer one, other;

static bt_status sink_push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    answer *a = (answer *)stage;
    (void)err;
    memcpy(a->v + a->n, in->ch[BT_SIG_SPEED], in->n * sizeof *a->v);
    memcpy(a->dist + a->n, in->ch[BT_SIG_DIST], in->n * sizeof *a->v);
    memcpy(a->unsure + a->n, in->ch[BT_SIG_UNSURE], in->n * sizeof *a->v);
    a->n += in->n;
    return BT_OK;
}

static bt_status sink_end(bt_stage *stage, bt_error *err)
{
    (void)err;
    ((answer *)stage)->ends++;
    return BT_OK;
}

static void channels_of(const drive *from, bt_channels *out)
{
    memset(out, 0, sizeof *out);
    for (size_t c = 0; c < BT_CH_COUNT; c++) out->ch[c].column = from->logged[c] ? (int)c : -1;
}

/* The drive through a fresh stage in blocks of `cut`; the stretch ends before sample `end` too, if
 * that is not 0. */
static void run_ends(answer *a, size_t cut, size_t end)
{
    bt_error err = {0};
    bt_car *car;
    bt_stage *s;
    bt_channels channels;
    memset(a, 0, sizeof *a);
    a->stage = (bt_stage){.push = sink_push, .end = sink_end};
    channels_of(&d, &channels);
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    car->value[BT_CAR_MOTOR_RATIO] = 10;
    car->value[BT_CAR_ROLLING_RADIUS_REAR] = 0.3;
    ck_assert_int_eq(bt_speed_new(&s, &channels, car, &a->stage, &err), BT_OK);
    for (size_t i = 0; i < d.n;) {
        size_t n = cut < d.n - i ? cut : d.n - i;
        if (i < end && n > end - i) n = end - i;
        bt_block b = {.n = n, .t = d.t + i};
        for (size_t c = 0; c < BT_CH_COUNT; c++) b.ch[c] = d.logged[c] ? d.ch[c] + i : NULL;
        ck_assert_int_eq(s->push(s, &b, &err), BT_OK);
        i += n;
        if (i == end) ck_assert_int_eq(s->end(s, &err), BT_OK);
    }
    ck_assert_int_eq(s->end(s, &err), BT_OK);
    ck_assert_uint_eq(a->n, d.n);
    ck_assert_uint_eq(a->ends, end ? 2 : 1);
    bt_speed_trim(s, a->trim, &a->beyond);
    bt_speed_free(s);
    bt_car_free(car);
}

static void run(answer *a, size_t cut)
{
    run_ends(a, cut, 0);
}

static double unsure_time(const answer *a, double from, double to)
{
    double sum = 0;
    for (size_t i = 1; i < d.n; i++)
        if (d.t[i] > from && d.t[i] <= to && a->unsure[i] > 0) sum += d.t[i] - d.t[i - 1];
    return sum;
}

/* ---- a speed channel ---- */

static void clear(void)
{
    memset(&d, 0, sizeof d);
}

static void logged_speed(double t, double v)
{
    d.logged[BT_CH_SPEED] = true;
    d.t[d.n] = t;
    d.truth[d.n] = v;
    d.ch[BT_CH_SPEED][d.n++] = v;
}

/* 50 m/s for 1 s, down at `decel` to rest, 1 s of standing. */
static double stop_from_50(double t, double decel)
{
    return t < 1 ? 50 : fmax(0, 50 - decel * (t - 1));
}

START_TEST(a_stop_that_a_car_can_make_passes_unchanged)
{
    static const double rates[] = {1, 10, 25, 100, 1000}, decels[] = {3, 9.81, 14};
    clear();
    const double rate = rates[_i % 5], decel = decels[_i / 5];
    for (double t = 0; t < 2 + 50 / decel; t += 1 / rate) logged_speed(t, stop_from_50(t, decel));
    run(&one, 100);
    for (size_t i = 0; i < d.n; i++) {
        ck_assert_double_eq(one.v[i], d.truth[i]);
        ck_assert_double_eq(one.unsure[i], 0);
    }
}
END_TEST

/* Whole km/h at 1 kHz fall by 278 m/s2 from one sample to the next; noise does worse. */
START_TEST(quantised_and_noisy_speeds_are_no_lock)
{
    bt_random r = {1};
    clear();
    for (double t = 0; t < 6; t += 1e-3) {
        double v = stop_from_50(t, 11);
        if (_i == 0) v = round(v * 3.6) / 3.6;
        if (_i == 1) v = round(v * 10) / 10;
        if (_i == 2)
            v += 0.2 * bt_normal_quantile(((double)bt_random_below(&r, 1000) + 0.5) / 1000);
        if (_i == 3 && (size_t)(t * 1e3) % 100 == 50) v += 1.5; /* a spike of one sample */
        logged_speed(t, v);
    }
    run(&one, 1024);
    for (size_t i = 0; i < d.n; i++) {
        if (_i == 3 && d.ch[BT_CH_SPEED][i] > stop_from_50(d.t[i], 11) + 1) continue;
        if (_i == 3 && unsure_time(&one, d.t[i] - 0.12, d.t[i]) > 0) continue;
        ck_assert_double_eq(one.unsure[i], 0);
        ck_assert_double_eq(one.v[i], d.ch[BT_CH_SPEED][i]);
    }
}
END_TEST

/* 5, 10 or 20 Hz held in a log of 1 kHz: steps of up to 2.6 m/s that are no lock. */
START_TEST(a_slow_sensor_held_in_a_fast_log_is_no_lock)
{
    static const double rates[] = {5, 10, 20};
    const double rate = rates[_i % 3];
    clear();
    for (int i = 0; i < 6000; i++) {
        const double v = stop_from_50(floor(1e-3 * i * rate + 1e-9) / rate, 13);
        logged_speed(1e-3 * i, v);
        for (size_t k = 0; k < 4; k++) d.ch[BT_CH_WHEEL_FL + k][d.n - 1] = v;
    }
    if (_i >= 3) { /* the same from wheels */
        d.logged[BT_CH_SPEED] = false;
        for (size_t k = 0; k < 4; k++) d.logged[BT_CH_WHEEL_FL + k] = true;
    }
    run(&one, 1024);
    ck_assert_double_eq(unsure_time(&one, 0, 6), 0);
    for (size_t i = 0; i < d.n; i++) ck_assert_double_eq_tol(one.v[i], d.truth[i], 0.3);
}
END_TEST

START_TEST(distance_is_the_trapezoid_over_uneven_steps)
{
    bt_random r = {9};
    double t = 0;
    clear();
    for (int i = 0; i < 2000;
         i++) { /* 10 + 2 t: distance 10 t + t^2, which trapezoids get exactly */
        logged_speed(t, 10 + 2 * t);
        t += 1e-5 * (double)(1 + bt_random_below(&r, 1000));
    }
    run(&one, 77);
    for (size_t i = 0; i < d.n; i++)
        ck_assert_double_eq_tol(one.dist[i], d.t[i] * (10 + d.t[i]), 1e-9);
}
END_TEST

/* A driven axle locks (29 to 0 m/s within 0.15 s), creeps for 2.5 s (saw teeth up to 2.6 m/s, as
 * controllers make them) and is let go at 9 m/s.  True: 29 to 9 m/s in 2.9 s. */
static double locked_axle(double t, double at)
{
    t -= at;
    if (t < 0) return 29 + 0.05 * sin(40 * t);
    if (t < 0.15) return 29 * (1 - t / 0.15);
    if (t < 2.7) return 2.6 * fmod(t, 0.2) / 0.2;
    if (t < 2.9) return 9 * (t - 2.7) / 0.2;
    return fmax(0, 9 - 3 * (t - 2.9));
}

START_TEST(a_locked_axle_is_bridged_until_it_rolls_again)
{
    static const double rates[] = {25, 50, 200, 1000};
    const double dt = 1 / rates[_i];
    clear();
    d.logged[BT_CH_MOTOR_SPEED] = true;
    for (double t = 0; t < 10; t += dt) {
        d.t[d.n] = t;
        d.ch[BT_CH_MOTOR_SPEED][d.n++] = locked_axle(t, 4) / 0.3 * 10; /* rad/s */
    }
    run(&one, 64);
    double from = 0, to = 0;
    size_t pieces = 0;
    for (size_t i = 1; i < d.n; i++) {
        const double fall = (one.v[i - 1] - one.v[i]) / (d.t[i] - d.t[i - 1]);
        if (one.unsure[i] > 0) ck_assert_double_le(fall, GRIP + 1e-6);
        if (one.unsure[i] > 0 && one.unsure[i - 1] == 0) from = d.t[i], pieces++;
        if (one.unsure[i] == 0 && one.unsure[i - 1] > 0) to = d.t[i];
        if (one.unsure[i] == 0) /* believed: what the motor says */
            ck_assert_double_eq_tol(one.v[i], locked_axle(d.t[i], 4), 1e-9);
        if (one.unsure[i] == 0 && d.t[i] > 4 && from == 0) /* not believed for long */
            ck_assert_double_ge(one.v[i], 29 - GRIP * (d.t[i] - 4 + 0.05) - 0.1);
    }
    ck_assert_uint_eq(pieces, 1);
    ck_assert_double_le(from, 4 + 0.01 + dt);
    ck_assert_double_ge(to, 6.85);
    ck_assert_double_le(to, 6.9 + 0.05 + 2 * dt + 0.05);
}
END_TEST

START_TEST(a_slide_to_rest_is_believed_in_the_end)
{
    clear();
    for (double t = 0; t < 30; t += 0.01) logged_speed(t, t < 2 ? 20 : fmax(0, 20 - 150 * (t - 2)));
    run(&one, 100);
    ck_assert_double_gt(unsure_time(&one, 2, 6), 3.8);   /* it may still slide */
    ck_assert_double_eq(unsure_time(&one, 12.1, 30), 0); /* at 2 m/s2 it would stand by 12 s */
    ck_assert_double_eq(one.v[d.n - 1], 0);
}
END_TEST

START_TEST(a_dropout_is_bridged_and_left_behind)
{
    clear();
    for (double t = 0; t < 8; t += 0.01) logged_speed(t, t > 3 && t < 3.5 ? 0 : 40 - t);
    run(&one, 100);
    for (size_t i = 0; i < d.n; i++) {
        if (d.t[i] < 3 || d.t[i] > 3.57) {
            ck_assert_double_eq(one.unsure[i], 0);
            ck_assert_double_eq(one.v[i], d.ch[BT_CH_SPEED][i]);
        } else if (d.t[i] > 3.01 && d.t[i] < 3.5) {
            ck_assert_double_eq(one.unsure[i], 1);
            ck_assert_double_ge(one.v[i], 37 - GRIP * (d.t[i] - 3) - 0.2);
        }
    }
}
END_TEST

START_TEST(a_hole_is_a_hole_and_the_distance_goes_on_across)
{
    clear();
    for (double t = 0; t < 6; t += 0.01) logged_speed(t, t > 2 && t < 3 ? NAN : 30);
    run(&one, 50);
    for (size_t i = 0; i < d.n; i++) {
        const bool hole = isnan(d.ch[BT_CH_SPEED][i]);
        ck_assert_int_eq(isnan(one.v[i]) != 0, hole);
        ck_assert_int_eq(isnan(one.dist[i]) != 0, hole);
        ck_assert_double_eq(one.unsure[i], 0);
        if (!hole) ck_assert_double_eq_tol(one.dist[i], 30 * d.t[i], 1e-9);
    }
}
END_TEST

START_TEST(a_new_stretch_is_not_compared_with_the_last)
{
    clear();
    for (int i = 0; i < 200; i++) logged_speed(0.01 * i, 40);
    for (int i = 0; i < 200; i++) logged_speed(100 + 0.01 * i, 3);
    run_ends(&one, 64, 200);
    for (size_t i = 0; i < d.n; i++) {
        ck_assert_double_eq(one.unsure[i], 0);
        ck_assert_double_eq(one.v[i], i < 200 ? 40 : 3);
    }
    ck_assert_double_eq_tol(one.dist[200], one.dist[199],
                            1e-12); /* nobody knows what lay between */
    ck_assert_double_eq_tol(one.dist[399], 40 * 1.99 + 3 * 1.99, 1e-9);
}
END_TEST

/* ---- wheels ---- */

typedef struct {
    double rate, noise;
    double radius[4]; /* true over the sheet's */
    double slip[4];   /* at 9 m/s2, proportional below */
    int lock;         /* wheel that locks for 0.6 s in every zone; -1 = none */
    int spin;         /* wheel that turns 30 % too fast for 1 s while driving; -1 = none */
    double accel_bias, accel_noise, accel_gain;
    bool accel;
} world;

static const world plain = {1000, 0.05, {1, 1, 1, 1}, {0, 0, 0, 0}, -1, -1, 0.2, 0.3, 1, false};

/* Nearly normal: the sum of four uniform numbers. */
static double gauss(bt_random *r)
{
    double sum = 0;
    for (int i = 0; i < 4; i++) sum += (double)(bt_random_next(r) >> 11) * 0x1p-53 - 0.5;
    return sum * sqrt(3);
}

/* Laps of driving to 50 m/s, 3 s of rolling, braking to 20 m/s, 1.5 s of rolling. */
static void simulate(const world *w)
{
    const double dt = 1 / w->rate;
    bt_random r = {42};
    double v = 0, until = 3, start = 0, hard = 0;
    enum { STAND, DRIVE, ROLL, BRAKE, COAST } phase = STAND;
    clear();
    for (size_t k = 0; k < 4; k++) d.logged[BT_CH_WHEEL_FL + k] = true;
    d.logged[BT_CH_ACCEL_LONG] = w->accel;
    d.n = (size_t)(100 * w->rate);
    for (size_t i = 0; i < d.n; i++) {
        const double t = (double)i * dt;
        double a = 0;
        if (phase == STAND && t > until) phase = DRIVE, start = t;
        if (phase == DRIVE && v > 50) phase = ROLL, start = t;
        if (phase == ROLL && t > start + 3) {
            phase = BRAKE, start = t;
            hard = 6 + 0.5 * (double)bt_random_below(&r, 10);
            d.zone_start[d.zones] = i;
        }
        if (phase == BRAKE && v < 20) phase = COAST, start = t, d.zone_end[d.zones++] = i;
        if (phase == COAST && t > start + 1.5) phase = DRIVE, start = t;
        if (phase == DRIVE) a = 6 * (1 - v / 80);
        if (phase == ROLL || phase == COAST) a = -0.25;
        /* the pedal takes 0.2 s down and 0.3 s up: it is let go before 20 m/s */
        if (phase == BRAKE) a = -hard * fmin(1, fmin((t - start) / 0.2, 0.05 + (v - 20) / 1.5));
        d.t[i] = t;
        d.truth[i] = v;
        for (size_t k = 0; k < 4; k++) {
            double slip = a < 0 ? w->slip[k] * -a / 9 : k > 1 ? -0.02 * a / 6 : 0;
            if (phase == BRAKE && (int)k == w->lock && t > start + 0.8 && t < start + 1.4)
                slip = 0.95;
            if (phase == DRIVE && (int)k == w->spin && t > start + 2 && t < start + 3) slip = -0.3;
            d.ch[BT_CH_WHEEL_FL + k][i] = v * (1 - slip) / w->radius[k] + w->noise * gauss(&r);
        }
        d.ch[BT_CH_ACCEL_LONG][i] = w->accel_gain * a + w->accel_bias + w->accel_noise * gauss(&r);
        v = fmax(0, v + a * dt);
    }
    ck_assert_uint_ge(d.zones, 4);
}

/* Largest error of the reference relative to the truth over the samples above 10 m/s. */
static double worst_error(const answer *a, double from)
{
    double worst = 0;
    for (size_t i = 0; i < d.n; i++)
        if (d.t[i] > from && d.truth[i] > 10) worst = fmax(worst, fabs(a->v[i] / d.truth[i] - 1));
    return worst;
}

START_TEST(wheels_of_one_size_give_their_speed)
{
    static const double rates[] = {10, 25, 100, 1000};
    world w = plain;
    w.rate = rates[_i];
    w.noise = 0;
    simulate(&w);
    run(&one, 500);
    /* driven wheels slip by 2 % here and must not lead */
    ck_assert_double_le(worst_error(&one, 4), 0.02);
    ck_assert_double_eq(unsure_time(&one, 0, 1e9), 0);
    for (size_t k = 0; k < 4; k++) ck_assert_double_eq_tol(one.trim[k], 1, 0.002);
    ck_assert(!one.beyond);
}
END_TEST

START_TEST(trims_find_the_radii_while_rolling)
{
    world w = plain;
    const double radius[4] = {1.02, 0.99, 1.005, 0.985};
    memcpy(w.radius, radius, sizeof radius);
    simulate(&w);
    run(&one, 1024);
    ck_assert(!one.beyond);
    for (size_t k = 1; k < 4; k++) /* the common size of all four no wheel can tell */
        ck_assert_double_eq_tol(one.trim[k] / one.trim[0], radius[k] / radius[0], 0.001);
    w.radius[0] = 1.06; /* more than is trimmed */
    simulate(&w);
    run(&one, 1024);
    ck_assert(one.beyond);
    ck_assert_double_eq_tol(one.trim[0], 1.03, 1e-12);
}
END_TEST

START_TEST(one_wheel_that_locks_or_spins_does_not_drag_the_reference)
{
    world w = plain;
    simulate(&w);
    run(&one, 1024);
    const double without = worst_error(&one, 4);
    w.lock = _i;
    w.spin = 3 - _i;
    simulate(&w);
    run(&one, 1024);
    ck_assert_double_le(worst_error(&one, 4), without + 0.012);
    ck_assert_double_eq(unsure_time(&one, 4, 1e9), 0);
}
END_TEST

START_TEST(dead_and_miscounted_wheels_are_left_out)
{
    world w = plain;
    w.noise = 0;
    simulate(&w);
    for (size_t i = 0; i < d.n; i++) {
        if (_i == 0) d.ch[BT_CH_WHEEL_FL][i] = d.ch[BT_CH_WHEEL_FR][i] = 0;
        if (_i == 1) d.ch[BT_CH_WHEEL_RL][i] *= 2.2;
        if (_i == 2) d.ch[BT_CH_WHEEL_FR][i] *= 60; /* a raw counter */
    }
    run(&one, 1024);
    ck_assert(one.beyond);
    static const bool out[3][4] = {{true, true}, {false, false, true}, {false, true}};
    for (size_t k = 0; k < 4; k++) ck_assert_int_eq(isnan(one.trim[k]) != 0, out[_i][k]);
    ck_assert_double_le(worst_error(&one, 15), 0.021); /* the driven wheels' own 2 % */
    ck_assert_double_le(unsure_time(&one, 15, 1e9), 0);
}
END_TEST

START_TEST(trims_are_against_the_logged_speed_where_there_is_one)
{
    world w = plain;
    const double radius[4] = {1.02, 1.02, 1.01, 1.01};
    memcpy(w.radius, radius, sizeof radius);
    simulate(&w);
    d.logged[BT_CH_SPEED] = true;
    memcpy(d.ch[BT_CH_SPEED], d.truth, sizeof d.truth);
    memset(d.ch[BT_CH_WHEEL_RR], 0, sizeof d.ch[0]); /* dead */
    run(&one, 1024);
    ck_assert_mem_eq(one.v, d.truth, d.n * sizeof *d.t);
    for (size_t k = 0; k < 3; k++) ck_assert_double_eq_tol(one.trim[k], radius[k], 0.001);
    ck_assert_double_nan(one.trim[3]);
    ck_assert(one.beyond);
}
END_TEST

/* All wheels slip while braking: the least-slipping one is what can be known without more. */
START_TEST(without_an_accelerometer_the_error_is_the_least_slip)
{
    world w = plain;
    const double slip[4] = {0.03, 0.035, 0.02, 0.025};
    memcpy(w.slip, slip, sizeof slip);
    w.lock = 1;
    simulate(&w);
    run(&one, 1024);
    ck_assert_double_eq(unsure_time(&one, 4, 1e9), 0);
    for (size_t z = 0; z < d.zones; z++) {
        for (size_t i = d.zone_start[z]; i < d.zone_end[z]; i++) {
            const double error = one.v[i] / d.truth[i] - 1;
            ck_assert_double_le(error, 0.006);
            ck_assert_double_ge(error, -0.02 * 10.5 / 9 - 0.006);
        }
    }
}
END_TEST

/* Radii 2 % apart, slip 2 to 8 %, a wheel that locks, noise, a bias of 0.2 m/s2: the accuracy that is
 * asked of zones. */
START_TEST(with_an_accelerometer_zones_are_right)
{
    static const double rates[] = {100, 1000};
    world w = plain;
    const double slip[4] = {0.06, 0.08, 0.02, 0.04}, radius[4] = {1.01, 0.99, 1.01, 0.99};
    memcpy(w.slip, slip, sizeof slip);
    memcpy(w.radius, radius, sizeof radius);
    w.rate = rates[_i];
    w.lock = 1;
    w.accel = true;
    simulate(&w);
    run(&one, 1024);
    ck_assert_double_eq(unsure_time(&one, 4, 1e9), 0);
    for (size_t z = 1; z < d.zones; z++) { /* the first one comes before the trims are learned */
        const size_t i = d.zone_start[z], j = d.zone_end[z];
        ck_assert_double_eq_tol(one.v[i] / d.truth[i], 1, 0.005);
        ck_assert_double_eq_tol(one.v[j] / d.truth[j], 1, 0.005);
        ck_assert_double_eq_tol((one.v[i] - one.v[j]) / (d.truth[i] - d.truth[j]), 1, 0.01);
    }
}
END_TEST

/* All four lock at once: nothing but the accelerometer knows. */
START_TEST(the_accelerometer_carries_over_a_lock_of_all_wheels)
{
    world w = plain;
    w.accel = true;
    simulate(&w);
    for (size_t z = 2; z < d.zones; z++)
        for (size_t i = d.zone_start[z] + 700; i < d.zone_start[z] + 1500; i++)
            for (size_t k = 0; k < 4; k++) d.ch[BT_CH_WHEEL_FL + k][i] *= 0.05;
    run(&one, 1024);
    for (size_t z = 2; z < d.zones; z++) {
        const size_t from = d.zone_start[z] + 710, to = d.zone_start[z] + 1490;
        for (size_t i = from; i < to; i++) {
            ck_assert_double_eq(one.unsure[i], 1);
            ck_assert_double_eq_tol(one.v[i], d.truth[i], 0.3);
        }
        ck_assert_double_eq(unsure_time(&one, d.t[to] + 0.15, d.t[d.zone_end[z]]), 0);
    }
}
END_TEST

START_TEST(an_accelerometer_that_does_not_follow_the_speed_carries_nothing)
{
    static const double gains[] = {-1, 1 / BT_GRAVITY, 0, 9.8};
    world w = plain;
    simulate(&w);
    run(&one, 1024);
    w.accel = true;
    w.accel_gain = gains[_i];
    simulate(&w); /* the same drive, as chance is the same */
    run(&other, 1024);
    ck_assert_mem_eq(one.v, other.v, d.n * sizeof *d.t);
}
END_TEST

START_TEST(where_blocks_are_cut_changes_no_bit)
{
    static const size_t cuts[] = {1, 7, 333, BT_BLOCK_MAX};
    world w = plain;
    w.rate = 200;
    w.lock = 2;
    w.accel = true;
    simulate(&w);
    run(&one, 64);
    for (size_t k = 0; k < COUNT(cuts); k++) {
        run(&other, cuts[k]);
        ck_assert_mem_eq(one.v, other.v, d.n * sizeof *d.t);
        ck_assert_mem_eq(one.dist, other.dist, d.n * sizeof *d.t);
        ck_assert_mem_eq(one.unsure, other.unsure, d.n * sizeof *d.t);
        ck_assert_mem_eq(one.trim, other.trim, sizeof one.trim);
    }
}
END_TEST

/* ---- which source ---- */

START_TEST(the_source_is_speed_then_wheels_then_motor)
{
    static const bt_channel logged[][2] = {{BT_CH_SPEED, BT_CH_WHEEL_RL},
                                           {BT_CH_WHEEL_RL, BT_CH_MOTOR_SPEED},
                                           {BT_CH_MOTOR_SPEED, BT_CH_MOTOR_SPEED}};
    static const bt_speed_source source[] = {BT_SPEED_LOGGED, BT_SPEED_WHEELS, BT_SPEED_MOTOR};
    bt_error err = {0};
    bt_car *car;
    bt_stage *s;
    bt_channels channels;
    clear();
    d.logged[logged[_i][0]] = d.logged[logged[_i][1]] = true;
    channels_of(&d, &channels);
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    car->value[BT_CAR_MOTOR_RATIO] = 9;
    car->value[BT_CAR_ROLLING_RADIUS_REAR] = 0.31;
    ck_assert_int_eq(bt_speed_new(&s, &channels, car, &one.stage, &err), BT_OK);
    ck_assert_int_eq(bt_speed_source_of(s), source[_i]);
    bt_speed_free(s);
    bt_speed_free(NULL);
    bt_car_free(car);
}
END_TEST

START_TEST(what_is_missing_for_a_speed_is_named)
{
    static const struct {
        bool motor;
        double ratio, radius;
        const char *message;
    } cases[] = {
        {false, 9, 0.3,
         "no speed: expected a channel speed, wheel_fl, wheel_fr, wheel_rl, wheel_rr or "
         "motor_speed"},
        {true, NAN, 0.3, "no speed: motor_speed needs the car-sheet rows motor_ratio"},
        {true, 9, NAN, "no speed: motor_speed needs the car-sheet rows rolling_radius_front"},
        {true, NAN, NAN,
         "no speed: motor_speed needs the car-sheet rows motor_ratio and rolling_radius_front"},
    };
    bt_error err = {0};
    bt_car *car;
    bt_stage *s;
    bt_channels channels;
    clear();
    d.logged[BT_CH_MOTOR_SPEED] = cases[_i].motor;
    channels_of(&d, &channels);
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    car->motor_axle = BT_FRONT;
    car->value[BT_CAR_MOTOR_RATIO] = cases[_i].ratio;
    car->value[BT_CAR_ROLLING_RADIUS_FRONT] = cases[_i].radius;
    ck_assert_int_eq(bt_speed_new(&s, &channels, car, &one.stage, &err), BT_MISSING);
    ck_assert_ptr_null(s);
    ck_assert_str_eq(err.message, cases[_i].message);
    bt_car_free(car);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("speed");
    TCase *c = tcase_create("speed");
    tcase_set_timeout(c, 30);
    tcase_add_loop_test(c, a_stop_that_a_car_can_make_passes_unchanged, 0, 15);
    tcase_add_loop_test(c, quantised_and_noisy_speeds_are_no_lock, 0, 4);
    tcase_add_loop_test(c, a_slow_sensor_held_in_a_fast_log_is_no_lock, 0, 6);
    tcase_add_test(c, distance_is_the_trapezoid_over_uneven_steps);
    tcase_add_loop_test(c, a_locked_axle_is_bridged_until_it_rolls_again, 0, 4);
    tcase_add_test(c, a_slide_to_rest_is_believed_in_the_end);
    tcase_add_test(c, a_dropout_is_bridged_and_left_behind);
    tcase_add_test(c, a_hole_is_a_hole_and_the_distance_goes_on_across);
    tcase_add_test(c, a_new_stretch_is_not_compared_with_the_last);
    tcase_add_loop_test(c, wheels_of_one_size_give_their_speed, 0, 4);
    tcase_add_test(c, trims_find_the_radii_while_rolling);
    tcase_add_loop_test(c, one_wheel_that_locks_or_spins_does_not_drag_the_reference, 0, 4);
    tcase_add_loop_test(c, dead_and_miscounted_wheels_are_left_out, 0, 3);
    tcase_add_test(c, trims_are_against_the_logged_speed_where_there_is_one);
    tcase_add_test(c, without_an_accelerometer_the_error_is_the_least_slip);
    tcase_add_loop_test(c, with_an_accelerometer_zones_are_right, 0, 2);
    tcase_add_test(c, the_accelerometer_carries_over_a_lock_of_all_wheels);
    tcase_add_loop_test(c, an_accelerometer_that_does_not_follow_the_speed_carries_nothing, 0, 4);
    tcase_add_test(c, where_blocks_are_cut_changes_no_bit);
    tcase_add_loop_test(c, the_source_is_speed_then_wheels_then_motor, 0, 3);
    tcase_add_loop_test(c, what_is_missing_for_a_speed_is_named, 0, 4);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
