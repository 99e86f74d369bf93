/* What pressures say at each sample.  The car: 30 N*m per bar of friction above 0.5 bar, 40 N*m per bar of
 * pedal asked for, 0.9 of the pedal's pressure on the bypass, no motor: by wire 40/30 P + 0.5 bar. */
#include "check_support.h"

#include <math.h>

#include "verdict/evidence.h"

#define BAR   1e5
#define N     300
#define LONG  1300 /* more than are looked at for the delay */
#define DT    0.01
#define DELAY 6 /* samples */

static bt_car *car;
static bt_channels channels;
static bt_torques torques;
static bt_evidence e;
static double t[LONG], pedal[LONG], line[LONG], other[LONG], shaft[LONG];
static bt_block zone;

static void setup(void)
{
    static const char *const sheet[] = {"pad_friction_rear=0.5",       "piston_area_rear=0.0015 m2",
                                        "effective_radius_rear=0.1 m", "threshold_rear=0.5 bar",
                                        "demand_gain=40 N·m/bar",      "bypass_ratio=0.9"};
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    for (size_t i = 0; i < sizeof sheet / sizeof *sheet; i++)
        ck_assert_int_eq(bt_car_set(car, sheet[i], &err), BT_OK);
    for (int c = 0; c < BT_CH_COUNT; c++)
        channels.ch[c] = (bt_binding){.column = -1, .tolerance = NAN};
    torques = (bt_torques){0};
    e = (bt_evidence){0};
    zone = (bt_block){.n = N, .t = t};
    zone.ch[BT_CH_PEDAL_REAR] = pedal;
    zone.ch[BT_CH_LINE_REAR] = line;
    for (int i = 0; i < N; i++) { /* on, two swings, off */
        t[i] = 50 + i * DT;
        pedal[i] = BAR * (i < 30    ? i
                          : i > 250 ? 30 * (N - i) / 50.0
                                    : 30 + 3 * sin(0.05 * (i - 30)));
    }
}

static void teardown(void)
{
    bt_evidence_clear(&e);
    bt_torques_clear(&torques);
    bt_car_free(car);
}

static void by_wire(int delay)
{
    for (int i = 0; i < N; i++)
        line[i] =
            i < delay ? 0 : 40.0 / 30 * pedal[i - delay] + (pedal[i - delay] > 0 ? 0.5 * BAR : 0);
}

static void make_so(bool commanded_only, bool cut)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_torques_make(&torques, &zone, car, &err), BT_OK);
    ck_assert_int_eq(
        bt_evidence_make(&e, &zone, &torques, &channels, car, commanded_only, cut, &err), BT_OK);
}

static void make(void)
{
    make_so(false, false);
}

static double sum(const double *x)
{
    double s = 0;
    for (int i = 0; i < N; i++) s += x[i];
    return s;
}

START_TEST(a_late_line_by_wire_has_its_delay_found_and_no_evidence_against_it)
{
    by_wire(DELAY);
    make();
    ck_assert_double_eq_tol(e.delay, DELAY * DT, 0.5 * DT);
    for (int i = 0; i < N; i++) ck_assert_double_le(e.all[i], 0);
    ck_assert_double_gt(sum(e.wire), 100);
}
END_TEST

/* In the hold the line is 13 bar from where by-wire would have it, over a tolerance of 5 % of 40 and two
 * sensors of 0.5 bar: beyond its clip of 9, so 4.5 nats every 20 ms. */
START_TEST(a_line_on_the_bypass_gives_the_clipped_distance_by_time)
{
    for (int i = 0; i < N; i++) line[i] = 0.9 * pedal[i];
    make();
    for (int i = 150; i < 200; i++) ck_assert_double_eq_tol(e.all[i], 4.5 * DT / 0.02, 1e-6);
    ck_assert_double_eq(sum(e.wire), 0);
}
END_TEST

/* A side that gets a third less makes the mean of both what the bypass would give (4/3 * 5/6 = 1.11 of the
 * pedal, 1.07 on the bypass); the better side tells that the by-wire moves it. */
START_TEST(a_pinched_side_is_no_bypass)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_set(car, "bypass_ratio=1.07", &err), BT_OK);
    by_wire(DELAY);
    for (int pinched = BT_CH_LINE_RL; pinched <= BT_CH_LINE_RR; pinched++) {
        zone.ch[BT_CH_LINE_RL] = zone.ch[BT_CH_LINE_RR] = line;
        zone.ch[pinched] = other;
        for (int i = 0; i < N; i++) other[i] = 2.0 / 3 * line[i];
        make();
        ck_assert_double_eq_tol(e.delay, DELAY * DT, 0.5 * DT);
        for (int i = 0; i < N; i++) ck_assert_double_le(e.all[i], 0);
        ck_assert_double_gt(sum(e.wire), 100);
    }
    /* A twentieth apart is what sensors are: the mean counts. */
    for (int i = 0; i < N; i++) other[i] = 0.95 * line[i];
    make();
    for (int i = 0; i < N; i++) ck_assert_double_eq_tol(e.line[i], 0.975 * line[i], 1e-6);
}
END_TEST

START_TEST(a_line_far_from_both_is_none_for_by_wire)
{
    for (int i = 0; i < N; i++) line[i] = 0.3 * pedal[i];
    make();
    for (int i = 100; i < 200; i++) {
        ck_assert_double_eq(e.wire[i], 0);
        ck_assert_double_lt(e.all[i], 0); /* but it has left the pedal */
    }
}
END_TEST

START_TEST(where_both_predict_the_same_there_is_no_evidence)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_set(car, "demand_gain=27 N·m/bar", &err), BT_OK); /* 30 * 0.9 */
    for (int i = 0; i < N; i++) line[i] = 0.9 * pedal[i];
    make();
    for (int i = 60; i < 240; i++) ck_assert_double_eq(e.all[i], 0);
    ck_assert_double_eq(sum(e.wire), 0);
}
END_TEST

START_TEST(a_line_that_keeps_its_value_while_the_pedal_moves_is_blotted)
{
    by_wire(0);
    for (int i = 100; i < N; i++) line[i] = 27 * BAR;
    make();
    ck_assert(!isnan(e.line[99]));
    for (int i = 0; i < 100; i++) ck_assert_double_eq(e.line[i], line[i]);
    for (int i = 101; i < N; i++) {
        ck_assert_double_nan(e.line[i]);
        ck_assert_double_eq(e.all[i], 0);
    }
}
END_TEST

START_TEST(without_a_bypass_ratio_nothing_is_said)
{
    bt_car_free(car);
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    by_wire(0);
    make();
    ck_assert_ptr_null(e.all);
    ck_assert_double_nan(e.delay);
}
END_TEST

/* ---- the formula, all pressures in bar ---- */

/* What by-wire and the bypass predict, and the variances of both. */
typedef struct {
    double wire, wire_var, pipe, pipe_var;
} model;

static double square(double x)
{
    return x * x;
}

/* Squared distance over variance, at most 9 from by-wire and 16 from the bypass; half the difference, per
 * 20 ms.  Predictions less than three sigma apart tell nothing but that the line has left both. */
static double nats(model m, double at, double dt)
{
    const double far = fmin(9, square(at - m.wire) / m.wire_var),
                 off = fmin(16, square(at - m.pipe) / m.pipe_var);
    const bool apart = fabs(m.wire - m.pipe) >= 3 * sqrt(m.wire_var);
    return fmin(dt / 0.02, 1) / 2 * (apart ? far - off : fmin(0, 9 - off));
}

static void constant(double *x, size_t n, double value)
{
    for (size_t i = 0; i < n; i++) x[i] = value;
}

/* The pedal stands at 30 bar: 1200 N*m, 27 bar on the bypass.  It trembles by 0.01 Pa, or it would be taken for
 * stuck. */
static void hold_pedal(void)
{
    for (int i = 0; i < LONG; i++) pedal[i] = 30 * BAR + 0.01 * (i % 2);
}

static void hold(double line_bar)
{
    hold_pedal();
    constant(line, LONG, line_bar * BAR);
}

/* Of the sheet above: sensors of 0.5 bar, gains of 5 %, the bypass of 1.5 %, the motor of 5 %; the pedal's
 * 0.5 of 30 bar are a sixtieth of the 40 bar asked for. */
static model held(double motor)
{
    const double asked = (1200 - fmax(motor, 0)) / 30;
    return (model){asked + 0.5,
                   square(0.5) + square(0.05 * asked) + square(0.05 * motor / 30) +
                       square(40.0 / 60),
                   27, square(0.5) + square(0.9 * 0.5) + square(0.015 * 27)};
}

START_TEST(a_held_line_has_the_evidence_of_its_distance_from_either)
{
    static const double at[] = {40.5, 41.5, 43.5, 38, 33.5, 30, 28.5, 27, 25, 15};
    for (size_t k = 0; k < sizeof at / sizeof *at; k++) {
        hold(at[k]);
        make();
        const double want = nats(held(0), at[k], DT);
        ck_assert_double_eq_tol(e.by[BT_BY_MEASURED][N / 2], want, 1e-9);
        ck_assert_double_eq(e.all[N / 2], e.by[BT_BY_MEASURED][N / 2]);
        const bool fits = square(at[k] - 40.5) < 9 * held(0).wire_var;
        ck_assert_double_eq_tol(e.wire[N / 2], (fits ? fmax(0, -want) : 0), 1e-9);
        ck_assert_double_eq(e.by[BT_BY_REQUESTED][N / 2], e.all[N / 2]); /* no motor: the same */
        ck_assert_ptr_null(e.by[BT_BY_COMMANDED]);
    }
    ck_assert(e.line_u == 0.5 * BAR && e.pedal_u == 0.5 * BAR && e.gain_u == 0.05);
}
END_TEST

START_TEST(a_sample_counts_by_its_time_up_to_20_ms_and_the_first_one_not_at_all)
{
    hold(39);
    t[151] += 0.004; /* 14 ms after the one before */
    for (int i = 200; i < N; i++) t[i] += 0.05;
    make_so(false, true);
    ck_assert(e.all[0] == 0 && e.wire[0] == 0);
    make();
    ck_assert(e.all[0] == 0 && e.wire[0] == 0);
    ck_assert_double_eq_tol(e.all[151], nats(held(0), 39, 0.014), 1e-7);
    ck_assert_double_eq_tol(e.all[200], nats(held(0), 39, 0.02), 1e-9);
}
END_TEST

START_TEST(tolerances_of_map_and_sheet_take_the_place_of_the_usual_ones)
{
    channels.ch[BT_CH_LINE_REAR].tolerance = 0.3 * BAR;
    channels.ch[BT_CH_LINE_RL].tolerance = 4 * BAR;
    channels.ch[BT_CH_LINE_FRONT].tolerance = 5 * BAR;
    channels.ch[BT_CH_PEDAL_REAR].tolerance = 0.2 * BAR;
    channels.ch[BT_CH_PEDAL_FRONT].tolerance = 6 * BAR;
    car->u[BT_CAR_PAD_FRICTION_REAR] = 0.02 * car->value[BT_CAR_PAD_FRICTION_REAR];
    car->u[BT_CAR_PISTON_AREA_REAR] = 0.03 * car->value[BT_CAR_PISTON_AREA_REAR];
    car->u[BT_CAR_EFFECTIVE_RADIUS_REAR] = 0.04 * car->value[BT_CAR_EFFECTIVE_RADIUS_REAR];
    car->u[BT_CAR_DEMAND_GAIN] = 0.06 * car->value[BT_CAR_DEMAND_GAIN];
    car->u[BT_CAR_BYPASS_RATIO] = 0.02 * 0.9;
    const double gain = sqrt(4 + 9 + 16 + 36) / 100;
    const model m = {40.5, square(0.3) + square(gain * 40) + square(40 * 0.2 / 30), 27,
                     square(0.3) + square(0.9 * 0.2) + square(0.02 * 27)};
    static const double at[] = {38, 28.5};
    for (size_t k = 0; k < 2; k++) {
        hold(at[k]);
        make();
        ck_assert_double_eq_tol(e.all[N / 2], nats(m, at[k], DT), 1e-9);
    }
    ck_assert_double_eq_tol(e.gain_u, gain, 1e-12);
}
END_TEST

START_TEST(tolerances_are_those_of_the_channels_that_serve_however_small)
{
    hold(39);
    zone.ch[BT_CH_LINE_RL] = zone.ch[BT_CH_LINE_RR] = line;
    channels.ch[BT_CH_LINE_RL].tolerance = 0.9; /* Pa */
    channels.ch[BT_CH_LINE_FL].tolerance = 7;
    channels.ch[BT_CH_LINE_REAR].tolerance = 8;
    zone.ch[BT_CH_LINE_REAR] = NULL;
    make();
    ck_assert_double_eq(e.line_u, 0.9);
    car->bywire_axle = BT_FRONT;
    zone.ch[BT_CH_PEDAL_FRONT] = pedal;
    zone.ch[BT_CH_LINE_FL] = zone.ch[BT_CH_LINE_FR] = line;
    make();
    ck_assert_double_eq(e.line_u, 7);
    channels.ch[BT_CH_LINE_FRONT].tolerance = 6;
    zone.ch[BT_CH_LINE_FRONT] = line;
    make();
    ck_assert_double_eq(e.line_u, 6);
}
END_TEST

/* By 9.8 % of the mean, then by 10.2 %; sample 7 of the left one is missing and counts for neither. */
START_TEST(sides_are_taken_together_unless_one_is_a_tenth_behind)
{
    static const double side[][2] = {
        {1.049, 0.951}, {0.951, 1.049}, {1.051, 0.949}, {0.949, 1.051}};
    zone.ch[BT_CH_LINE_REAR] = NULL;
    zone.ch[BT_CH_LINE_RL] = line;
    zone.ch[BT_CH_LINE_RR] = other;
    for (size_t k = 0; k < 4; k++) {
        constant(line, N, 20 * side[k][0] * BAR);
        constant(other, N, 20 * side[k][1] * BAR);
        line[7] = NAN;
        other[7] = 1e9;
        hold_pedal();
        make();
        ck_assert_double_eq_tol(e.line[0], (k < 2 ? 20 : 20 * 1.051) * BAR, 1e-6);
        ck_assert_int_eq(isnan(e.line[7]) != 0, k != 3);
    }
}
END_TEST

static void motor_at_the_axle(double torque)
{
    car->value[BT_CAR_MOTOR_RATIO] = 1;
    constant(shaft, LONG, -torque);
    zone.ch[BT_CH_MOTOR_TORQUE] = shaft;
}

/* 1300 N*m are more than is asked for: friction has nothing to do.  A motor that drives takes nothing off, but
 * may be as wrong. */
START_TEST(a_motor_takes_its_torque_off_and_adds_its_tolerance)
{
    static const double motor[] = {1050, 0.9, 1199.1, 300, -300};
    for (size_t k = 0; k < sizeof motor / sizeof *motor; k++)
        for (double off = -2; off <= 2; off += 1.5) {
            const model m = held(motor[k]);
            hold(m.wire + off);
            motor_at_the_axle(motor[k]);
            make();
            ck_assert_double_eq_tol(e.all[N / 2], nats(m, m.wire + off, DT), 1e-9);
        }
}
END_TEST

START_TEST(with_nothing_left_to_do_any_pressure_up_to_the_threshold_is_by_wire)
{
    static const double motor[] = {1200, 1300}, at[] = {0, 0.2, 0.4};
    for (int i = 0; i < N; i++) t[i] = i / 128.0; /* exact */
    for (size_t k = 0; k < 2; k++) {
        motor_at_the_axle(motor[k]);
        for (size_t j = 0; j < 3; j++) {
            hold(at[j]);
            make();
            ck_assert_double_eq_tol(e.all[N / 2], -16.0 / 2 / 128 / 0.02, 1e-13);
        }
        hold(3);
        make();
        const double u2 = square(0.5) + square(0.05 * motor[k] / 30) + square(40.0 / 60);
        ck_assert_double_eq_tol(e.all[N / 2], (square(3 - 0.5) / u2 - 16) / 2 / 128 / 0.02, 1e-7);
    }
}
END_TEST

/* A request of the line needs no gains: its tolerance is the sensor's 0.5 bar alone.  Three sigma from the
 * bypass's 27 bar is 28.5. */
START_TEST(a_requested_line_is_a_variant_of_its_own)
{
    static const double requested[] = {35, 28.6, 28.4};
    zone.ch[BT_CH_LINE_REQUEST] = other;
    zone.ch[BT_CH_MOTOR_REQUEST] = shaft;
    motor_at_the_axle(300);
    for (size_t k = 0; k < 3; k++) {
        hold(requested[k] + 0.2);
        constant(other, LONG, requested[k] * BAR);
        make();
        model m = held(0);
        m.wire = requested[k];
        m.wire_var = square(0.5);
        const double want = nats(m, requested[k] + 0.2, DT);
        ck_assert_double_eq_tol(e.by[BT_BY_COMMANDED][N / 2], want, 1e-9);
        ck_assert_double_eq_tol(e.wire[N / 2], fmax(-want, fmax(0, -e.by[BT_BY_MEASURED][N / 2])),
                                1e-9);
        ck_assert_ptr_null(e.by[BT_BY_REQUESTED]); /* no guess is needed */
    }
    make_so(true, false);
    ck_assert(e.by[BT_BY_COMMANDED] && !e.by[BT_BY_MEASURED]);
    zone.ch[BT_CH_LINE_REQUEST] = NULL;
    make_so(true, false); /* nothing commands: the others have to do */
    ck_assert(!e.by[BT_BY_COMMANDED] && e.by[BT_BY_MEASURED] && e.by[BT_BY_REQUESTED]);
}
END_TEST

START_TEST(a_requested_motor_torque_is_a_variant_where_no_line_is_requested)
{
    hold(34);
    motor_at_the_axle(300);
    constant(other, LONG, -150);
    zone.ch[BT_CH_MOTOR_REQUEST] = other;
    make();
    ck_assert_double_eq_tol(e.by[BT_BY_MEASURED][N / 2], nats(held(300), 34, DT), 1e-9);
    ck_assert_double_eq_tol(e.by[BT_BY_REQUESTED][N / 2], nats(held(150), 34, DT), 1e-9);
    zone.ch[BT_CH_MOTOR_TORQUE] = NULL; /* a motor of which nothing is measured */
    make();
    ck_assert(!e.by[BT_BY_MEASURED] && e.by[BT_BY_REQUESTED]);
    car->motor_axle = BT_FRONT; /* one that is no business of this axle */
    make();
    ck_assert(e.by[BT_BY_MEASURED] && !e.by[BT_BY_REQUESTED]);
    ck_assert_double_eq_tol(e.all[N / 2], nats(held(0), 34, DT), 1e-9);
}
END_TEST

START_TEST(what_cannot_be_predicted_has_no_evidence)
{
    hold(34);
    make();
    ck_assert_ptr_nonnull(e.all);
    zone.ch[BT_CH_PEDAL_REAR] = NULL;
    make();
    ck_assert(!e.all && !e.wire && !e.by[BT_BY_MEASURED] && !e.line && isnan(e.delay));
    zone.ch[BT_CH_PEDAL_REAR] = pedal;
    car->value[BT_CAR_PAD_FRICTION_REAR] = NAN; /* a demand, but no gain */
    make();
    ck_assert(e.line && !e.all && !e.by[BT_BY_MEASURED] && isnan(e.delay));
    zone.ch[BT_CH_LINE_REQUEST] = other;
    constant(other, LONG, 34 * BAR);
    make();
    ck_assert(e.all && e.by[BT_BY_COMMANDED] && !e.by[BT_BY_MEASURED]);
    car->value[BT_CAR_BYPASS_RATIO] = NAN;
    make();
    ck_assert(!e.all && e.by[BT_BY_COMMANDED] && isnan(e.delay));
    car->value[BT_CAR_PAD_FRICTION_REAR] = 0.5; /* a gain, but no demand */
    car->value[BT_CAR_DEMAND_GAIN] = NAN;
    zone.ch[BT_CH_LINE_REQUEST] = NULL;
    make();
    ck_assert(!e.all && !e.by[BT_BY_MEASURED]);
    bt_evidence_clear(&e);
    ck_assert_uint_eq(e.n, 0);
}
END_TEST

/* Three samples 10 ms apart, the pedal at 30 bar from the first: 12 and 15 ms ago it was released, so that at the
 * first two by-wire may be 40 bar lower and the bypass 27. */
START_TEST(the_misfit_is_the_mean_clipped_squared_distance)
{
    zone.n = 3;
    hold(39);
    make();
    model first = held(0);
    const double late = square(39 - 40.5) / first.wire_var;
    first.wire_var += square(40);
    first.pipe_var += square(27);
    ck_assert_double_eq(e.delay, 0);
    ck_assert_double_eq_tol(e.misfit[BT_BY_MEASURED],
                            (2 * square(39 - 40.5) / first.wire_var + late) / 3, 1e-9);
    ck_assert_double_eq_tol(e.misfit_bypass, (2 * square(39 - 27) / first.pipe_var + 9) / 3, 1e-8);
    for (int i = 0; i < 3; i++) ck_assert_double_eq(e.line[i], line[i]);
}
END_TEST

/* ---- a line behind its demand ---- */

/* On from 30 bar by 20 bar/s from sample `from` to sample `to`, then held. */
static void ramp(int from, int to)
{
    for (int i = 0; i < LONG; i++) {
        t[i] = 50 + i * DT;
        pedal[i] = (30 + 0.2 * (i < from ? 0 : i > to ? to - from : i - from)) * BAR;
    }
}

static double asked(int i)
{
    return 40.0 / 30 * pedal[i] / BAR + 0.5;
}

static void follow(int delay)
{
    for (int i = 0; i < LONG; i++) line[i] = i < delay ? 0 : asked(i - delay) * BAR;
}

/* The line is 50 ms late, found to 12 ms and a quarter of it: 24.5 ms of 800 N*m/s before the ramp's end, none
 * after it; and the other way at its start. */
START_TEST(where_the_demand_moves_by_wire_is_as_vague_as_its_delay)
{
    const int from = 100, to = 180, late = 5;
    const int at[] = {from + late, to + late};
    for (size_t k = 0; k < 2; k++) {
        const int i = at[k];
        ramp(from, to);
        follow(late);
        line[i] += 2 * BAR;
        make();
        ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
        const double then = asked(i - late);
        const double u2 = square(0.5) + square(0.05 * (then - 0.5)) + square(0.0245 * 800 / 30) +
                          square(0.5 * (then - 0.5) / (pedal[i] / BAR));
        ck_assert_double_eq_tol(e.all[i], (square(2) / u2 - 16) / 2 * DT / 0.02, 1e-9);
    }
}
END_TEST

/* 15 ms of 18 bar/s, at a sample that is 2 bar from the bypass and far from by-wire. */
START_TEST(where_the_pedal_moves_the_bypass_is_as_vague_as_its_lag)
{
    ramp(100, 180);
    for (int i = 0; i < N; i++) line[i] = 0.9 * pedal[i];
    line[105] += 2 * BAR;
    make();
    const double pipe = 0.9 * pedal[105] / BAR;
    const double u2 = square(0.5) + square(0.45) + square(0.015 * pipe) + square(0.015 * 18);
    ck_assert_double_eq_tol(e.all[105], (9 - square(2) / u2) / 2 * DT / 0.02, 1e-9);
}
END_TEST

/* The pedal is at 30 bar from the first sample on, the line 50 ms late, 1.5 bar at the third: before the zone
 * nothing was asked for, by-wire up to 0.5 bar; or, where the zone's start is missing, who knows. */
START_TEST(before_its_zone_the_pedal_was_released_unless_the_start_is_missing)
{
    ramp(100, 180);
    follow(5);
    constant(line, 5, NAN);
    line[2] = 1.5 * BAR;
    pedal[3] += 0.01; /* or it would be taken for stuck */
    make();
    ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
    ck_assert_double_eq_tol(e.all[2], (square(1.5 - 0.5) / square(0.5) - 16) / 2 * DT / 0.02, 1e-9);
    make_so(false, true);
    ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
    ck_assert_double_eq(e.all[2], 0);
    ck_assert_double_eq(e.wire[2], 0);
}
END_TEST

START_TEST(every_sample_of_a_short_zone_may_tell_the_delay)
{
    hold(40.5);
    line[0] = 0; /* the first one alone: 10 ms late */
    make();
    ck_assert_double_eq_tol(e.delay, 0.01, 1e-12);
    ramp(0, LONG);
    follow(5);
    for (int i = 0; i < N; i += 2) line[i] = NAN; /* every second one */
    make();
    ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
    follow(5);
    constant(line, 100, NAN); /* none of the first hundred */
    make();
    ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
    zone.n = 600; /* an earlier zone, of another delay, leaves nothing behind */
    follow(12);
    make();
    ck_assert_double_eq_tol(e.delay, 0.12, 1e-12);
    for (zone.n = 250; zone.n < 254; zone.n++) { /* the last one alone */
        follow(5);
        constant(line, zone.n - 1, NAN);
        make();
        ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
    }
}
END_TEST

/* Of 1300 samples every third one is looked at, to the end. */
START_TEST(a_long_zone_tells_its_delay_by_a_part_of_its_samples)
{
    zone.n = LONG;
    ramp(0, LONG);
    follow(5);
    for (int i = 0; i < LONG; i++)
        if (i % 3 || i % 192 < 66) line[i] = NAN;
    make();
    ck_assert_double_eq_tol(e.delay, 0.05, 1e-12);
}
END_TEST

/* ---- a sensor that stands still ---- */

/* A sample every 30 ms; the line stands at 27 bar in samples [from, to) while the pedal moves by `by` bar. */
static void stand(int from, int to, double by)
{
    for (int i = 0; i < N; i++) {
        t[i] = 50 + 0.03 * i;
        pedal[i] = (30 + by * (i > from && i < to ? (i - from) % 2 : 0)) * BAR;
        line[i] = (i >= from && i < to ? 27 : 28 + 0.1 * (i % 7)) * BAR;
    }
    make();
}

START_TEST(a_line_stands_still_for_0_4_s_while_the_pedal_moves_by_5_bar)
{
    static const struct {
        int from, to;
        double by;
        bool stuck;
    } still[] = {{50, 65, 6, true},  {0, 15, 6, true},   {N - 15, N, 6, true},
                 {50, 64, 6, false}, {50, 65, 4, false}, {50, 95, 4, false}};
    for (size_t k = 0; k < sizeof still / sizeof *still; k++) {
        stand(still[k].from, still[k].to, still[k].by);
        for (int i = 0; i < N; i++)
            if (still[k].stuck && i >= still[k].from && i < still[k].to)
                ck_assert_double_nan(e.line[i]);
            else
                ck_assert_double_eq(e.line[i], line[i]);
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("evidence");
    TCase *c = tcase_create("evidence");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, a_late_line_by_wire_has_its_delay_found_and_no_evidence_against_it);
    tcase_add_test(c, a_line_on_the_bypass_gives_the_clipped_distance_by_time);
    tcase_add_test(c, a_pinched_side_is_no_bypass);
    tcase_add_test(c, a_line_far_from_both_is_none_for_by_wire);
    tcase_add_test(c, where_both_predict_the_same_there_is_no_evidence);
    tcase_add_test(c, a_line_that_keeps_its_value_while_the_pedal_moves_is_blotted);
    tcase_add_test(c, without_a_bypass_ratio_nothing_is_said);
    tcase_add_test(c, a_held_line_has_the_evidence_of_its_distance_from_either);
    tcase_add_test(c, a_sample_counts_by_its_time_up_to_20_ms_and_the_first_one_not_at_all);
    tcase_add_test(c, tolerances_of_map_and_sheet_take_the_place_of_the_usual_ones);
    tcase_add_test(c, tolerances_are_those_of_the_channels_that_serve_however_small);
    tcase_add_test(c, sides_are_taken_together_unless_one_is_a_tenth_behind);
    tcase_add_test(c, a_motor_takes_its_torque_off_and_adds_its_tolerance);
    tcase_add_test(c, with_nothing_left_to_do_any_pressure_up_to_the_threshold_is_by_wire);
    tcase_add_test(c, a_requested_line_is_a_variant_of_its_own);
    tcase_add_test(c, a_requested_motor_torque_is_a_variant_where_no_line_is_requested);
    tcase_add_test(c, what_cannot_be_predicted_has_no_evidence);
    tcase_add_test(c, the_misfit_is_the_mean_clipped_squared_distance);
    tcase_add_test(c, where_the_demand_moves_by_wire_is_as_vague_as_its_delay);
    tcase_add_test(c, where_the_pedal_moves_the_bypass_is_as_vague_as_its_lag);
    tcase_add_test(c, before_its_zone_the_pedal_was_released_unless_the_start_is_missing);
    tcase_add_test(c, every_sample_of_a_short_zone_may_tell_the_delay);
    tcase_add_test(c, a_long_zone_tells_its_delay_by_a_part_of_its_samples);
    tcase_add_test(c, a_line_stands_still_for_0_4_s_while_the_pedal_moves_by_5_bar);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
