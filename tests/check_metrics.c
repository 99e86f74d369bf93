/* The figures of one braking zone against published and worked values (CHECKS 1.1, 1.5, 3, 5.1, 5.2, 6.1,
 * 7.1, 7.2) and against zones small enough to work out by hand. */
#include "check_support.h"

#include "zones/metrics.h"

#include <math.h>
#include <string.h>

enum { MAX = 60000 };
static const double kmh = 1 / 3.6;
static double t[MAX], v[MAX], a[MAX], dist[MAX], chan[6][MAX];

static bt_car blank_car(void)
{
    bt_car car = {.motor_axle = BT_REAR, .bywire_axle = BT_REAR};
    for (int i = 0; i < BT_CAR_COUNT; i++) car.value[i] = car.u[i] = NAN;
    return car;
}

/* ---- motion ---- */

static bt_block moving(size_t n)
{
    bt_block b = {.n = n, .t = t};
    b.ch[BT_SIG_SPEED] = v;
    b.ch[BT_SIG_DECEL] = a;
    b.ch[BT_SIG_DIST] = dist;
    return b;
}

static bt_zone motion(size_t n, double nominal)
{
    const bt_block b = moving(n);
    bt_zone row = {0};
    bt_metrics_motion(&b, nominal, &row);
    return row;
}

/* Constant deceleration from v0 to v1 in n steps, exact at every sample, appended at *n. */
static void slow(size_t *n, double v0, double v1, double decel, size_t steps)
{
    const double t0 = *n ? t[*n - 1] : 0, s0 = *n ? dist[*n - 1] : 0, time = (v0 - v1) / decel;
    for (size_t i = *n ? 1 : 0; i <= steps; i++, (*n)++) {
        const double u = time * (double)i / (double)steps;
        t[*n] = t0 + u;
        v[*n] = v0 - decel * u;
        a[*n] = decel;
        dist[*n] = s0 + v0 * u - 0.5 * decel * u * u;
    }
}

static const struct {
    double decel, kmh;
} constant[] = {{6.43, 100}, {9.5, 120}, {14.7, 250}};

START_TEST(a_constant_deceleration_is_its_own_mfdd) /* CHECKS 1.1 [derived], formula [text] */
{
    size_t n = 0;
    slow(&n, constant[_i].kmh * kmh, 0, constant[_i].decel, 317);
    const bt_zone row = motion(n, 0);
    ck_assert_double_eq_tol(row.mfdd, constant[_i].decel, 1e-9);
    ck_assert_double_eq_tol(row.decel_mean, constant[_i].decel, 1e-9);
    ck_assert_double_eq_tol(row.decel_dist, constant[_i].decel, 1e-9);
    ck_assert_double_eq_tol(row.decel_peak, constant[_i].decel, 1e-9);
}
END_TEST

START_TEST(
    the_two_level_profile_gives_the_mean_over_distance) /* CHECKS 1.1: 4.721311, not 5.333333 */
{
    size_t n = 0;
    slow(&n, 100 * kmh, 45 * kmh, 4, 200);
    slow(&n, 45 * kmh, 5 * kmh, 8, 100);
    ck_assert_double_eq_tol(motion(n, 0).mfdd, 4.721311, 1e-6);
}
END_TEST

static size_t exponential(double scale)
{
    size_t n = 0;
    for (double s = 0; s < 8; s += 0.001, n++) {
        t[n] = s;
        v[n] = scale * 100 * kmh * exp(-s / 3);
        a[n] = v[n] / 3;
        dist[n] = 3 * (v[0] - v[n]);
    }
    return n;
}

START_TEST(
    the_exponential_profile_gives_the_mean_over_distance) /* CHECKS 1.1: 4.166667, not 3.116934 */
{
    ck_assert_double_eq_tol(motion(exponential(1), 0).mfdd, 4.166667, 1e-5);
}
END_TEST

START_TEST(mfdd_scales_with_the_speed_channel) /* CHECKS 1.1, scale law [derived] */
{
    const double one = motion(exponential(1), 0).mfdd;
    ck_assert_double_eq_tol(motion(exponential(1.01), 0).mfdd, 1.01 * one, 1e-6);
    const size_t n = exponential(1);
    for (size_t i = 0; i < n; i++) v[i] *= 1.01; /* the distance is another sensor's */
    ck_assert_double_eq_tol(motion(n, 0).mfdd, 1.01 * 1.01 * one, 1e-6);
}
END_TEST

/* 0.2 s dead time, a rise to 8 m/s2 in 0.3 s, then constant (CHECKS 1.1, last row, in full there). */
static size_t delayed_stop(double step)
{
    const double v0 = 100 * kmh, jerk = 8 / 0.3, v1 = v0 - 1.2, s1 = 5.555556 + 8.213333;
    size_t n = 0;
    for (double s = 0; s < 3.82223; s += step, n++) {
        const double u = s - 0.2, w = s - 0.5;
        t[n] = s;
        a[n] = u < 0 ? 0 : u < 0.3 ? jerk * u : 8;
        v[n] = u < 0 ? v0 : u < 0.3 ? v0 - jerk * u * u / 2 : v1 - 8 * w;
        dist[n] = u < 0     ? v0 * s
                  : u < 0.3 ? v0 * s - jerk * u * u * u / 6
                            : s1 + v1 * w - 4 * w * w;
    }
    return n;
}

START_TEST(dead_time_and_rise_stay_out_of_mfdd_but_not_of_the_other_means) /* CHECKS 1.1 */
{
    const bt_zone row = motion(delayed_stop(0.001), 0);
    ck_assert_double_eq_tol(row.mfdd, 8, 1e-4); /* not 6.661238, not 7.267442 */
    ck_assert_double_eq_tol(row.decel_dist, 6.661238, 1e-3);
    ck_assert_double_eq_tol(row.decel_mean, 7.267442, 1e-3);
    ck_assert_double_eq_tol(row.stop, 57.917531, 1e-3);
    ck_assert_double_eq_tol(row.duration, 3.822222, 1e-3);
    ck_assert_double_eq_tol(row.jerk, 26.666667, 1e-6);
}
END_TEST

START_TEST(a_zone_that_does_not_reach_a_tenth_of_its_speed_has_no_mfdd_and_no_stop)
{
    size_t n = 0;
    slow(&n, 40, 5, 7, 100);
    const bt_zone row = motion(n, 30);
    ck_assert_double_nan(row.mfdd);
    ck_assert_double_nan(row.stop);
    ck_assert_double_nan(row.stop_nominal);
    ck_assert_double_eq_tol(row.entry, 40, 1e-12);
    ck_assert_double_eq_tol(row.exit, 5, 1e-9);
}
END_TEST

static const struct {
    double stop, kmh, nominal;
} stops[] = {{72.00, 101.5, 69.887646}, {41.30, 98.2, 42.827929}};

START_TEST(
    a_stop_is_corrected_to_the_nominal_speed) /* CHECKS 3, SAE J299 [memory for the formula] */
{
    const double v0 = stops[_i].kmh * kmh;
    size_t n = 0;
    slow(&n, v0, 0, v0 * v0 / (2 * stops[_i].stop), 250);
    const bt_zone row = motion(n, 100 * kmh);
    ck_assert_double_eq_tol(row.stop, stops[_i].stop, 1e-9);
    ck_assert_double_eq_tol(row.stop_nominal, stops[_i].nominal, 1e-6);
    ck_assert_double_nan(motion(n, 0).stop_nominal);
}
END_TEST

START_TEST(without_a_distance_the_speed_is_integrated)
{
    size_t n = 0;
    slow(&n, 30, 0, 6, 500);
    bt_block b = moving(n);
    b.ch[BT_SIG_DIST] = NULL;
    bt_zone row = {0};
    bt_metrics_motion(&b, 0, &row);
    ck_assert_double_eq_tol(row.distance, 75, 1e-9);
    ck_assert_double_eq_tol(row.mfdd, 6, 1e-9);
}
END_TEST

START_TEST(without_speed_or_with_a_single_sample_nothing_is_known)
{
    size_t n = 0;
    slow(&n, 30, 0, 6, 500);
    bt_block b = moving(n);
    b.ch[BT_SIG_SPEED] = b.ch[BT_SIG_DECEL] = NULL;
    bt_zone row = {0};
    bt_metrics_motion(&b, 0, &row);
    ck_assert_double_nan(row.decel_mean);
    ck_assert_double_nan(row.decel_peak);
    ck_assert_double_nan(motion(1, 0).decel_mean);
    for (size_t i = 100; i < 160; i++) v[i] = NAN;
    ck_assert_double_nan(motion(n, 0).mfdd); /* 12 % missing */
}
END_TEST

START_TEST(phases_run_from_the_first_to_behind_the_last_nine_tenths)
{
    const double pedal[] = {0, 5, NAN, 9, 10, 7, 9.5, 3, 0}, nothing[] = {0, NAN, -1};
    size_t apply, release;
    bt_phases(pedal, 9, &apply, &release);
    ck_assert_uint_eq(apply, 3);
    ck_assert_uint_eq(release, 7);
    bt_phases(nothing, 3, &apply, &release);
    ck_assert_uint_eq(apply, 3);
    ck_assert_uint_eq(release, 3);
}
END_TEST

/* ---- the whole row ---- */

static const double no_trim[4] = {1, 1, 1, 1};

typedef struct {
    bt_zone row;
    bt_blend blend;
} figures;

static figures figures_of(const bt_braking *zone, const bt_car *car)
{
    figures f = {0};
    bt_torques q = {0};
    bt_slip slip;
    ck_assert_int_eq(bt_torques_make(&q, &zone->s, car, NULL), BT_OK);
    ck_assert_int_eq(bt_metrics(zone, &q, car, no_trim, 0, 100, &f.row, &f.blend, &slip, NULL),
                     BT_OK);
    bt_torques_clear(&q);
    return f;
}

static const double *fill(int k, size_t n, double x)
{
    for (size_t i = 0; i < n; i++) chan[k][i] = x;
    return chan[k];
}

static const struct {
    double share, height_over_base, z, ideal;
} ideals[] = {
    {1.40 / 2.55, 0.54 / 2.55, 0.3, 0.612549}, /* CHECKS 5.1 [derived] */
    {1.40 / 2.55, 0.54 / 2.55, 0.6, 0.676078},
    {1.40 / 2.55, 0.54 / 2.55, 0.9, 0.739608},
    {9205.0 / 16780, 0.55 / 2.55, 0.15, 9747.8824 / 16780}, /* CHECKS 1.5 [second], N1 / P */
    {9205.0 / 16780, 0.55 / 2.55, 0.5, 11014.6078 / 16780},
    {9205.0 / 16780, 0.55 / 2.55, 0.8, 12100.3725 / 16780},
    {9205.0 / 16780, 0.55 / 2.55, 1.0, 12824.2157 / 16780},
};

START_TEST(the_ideal_balance_is_the_front_share_of_the_dynamic_load)
{
    bt_car car = blank_car();
    car.value[BT_CAR_STATIC_FRONT_SHARE] = ideals[_i].share;
    car.value[BT_CAR_CG_HEIGHT] = ideals[_i].height_over_base;
    car.value[BT_CAR_WHEELBASE] = 1;
    size_t n = 0;
    slow(&n, 30, 10, ideals[_i].z * BT_GRAVITY, 100);
    const bt_braking zone = {.s = moving(n), .pedal = BT_CH_COUNT};
    ck_assert_double_eq_tol(figures_of(&zone, &car).row.balance_ideal, ideals[_i].ideal, 1e-6);
    car.value[BT_CAR_CG_HEIGHT] = NAN;
    ck_assert_double_nan(figures_of(&zone, &car).row.balance_ideal);
}
END_TEST

/* CHECKS 5.2 [second; Limpert]; its caliper efficiency of 0.98 is folded into mu. */
static bt_car limpert_car(void)
{
    bt_car car = blank_car();
    car.value[BT_CAR_PAD_FRICTION_FRONT] = car.value[BT_CAR_PAD_FRICTION_REAR] = 0.38 * 0.98;
    car.value[BT_CAR_PISTON_AREA_FRONT] = 0.00255175863;
    car.value[BT_CAR_PISTON_AREA_REAR] = 0.00101787602;
    car.value[BT_CAR_EFFECTIVE_RADIUS_FRONT] = 0.1175;
    car.value[BT_CAR_EFFECTIVE_RADIUS_REAR] = 0.1250;
    car.value[BT_CAR_THRESHOLD_FRONT] = 0.5e5;
    car.value[BT_CAR_THRESHOLD_REAR] = 0.7e5;
    car.value[BT_CAR_ROLLING_RADIUS_FRONT] = car.value[BT_CAR_ROLLING_RADIUS_REAR] = 0.315;
    car.value[BT_CAR_MASS] = 1600;
    car.value[BT_CAR_INERTIA_FACTOR] = 1;
    car.value[BT_CAR_ROAD_LOAD_A] = 0;
    return car;
}

static bt_braking limpert_zone(void)
{
    size_t n = 0;
    slow(&n, 30, 10, 6.750577, 200);
    bt_braking zone = {.s = moving(n), .pedal = BT_CH_LINE_FRONT};
    zone.s.ch[BT_CH_LINE_FRONT] = fill(0, n, 60e5);
    zone.s.ch[BT_CH_LINE_REAR] = fill(1, n, 40e5);
    return zone;
}

START_TEST(
    published_brakes_give_the_published_balance_and_an_effort_of_one) /* CHECKS 5.2 [second] */
{
    bt_car car = limpert_car();
    const bt_braking zone = limpert_zone();
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.front, 2657.443799, 1e-5);
    ck_assert_double_eq_tol(row.rear_friction, 744.847063, 1e-5);
    ck_assert_double_eq_tol(row.balance, 0.781075, 1e-6);
    ck_assert_double_eq_tol(row.balance_hyd, 0.781075, 1e-6);
    ck_assert_double_eq_tol(row.effort_ratio, 1,
                            1e-6); /* 8436.3295 + 2364.5939 N slow 1600 kg by it */
    ck_assert_double_eq_tol(row.motor_share, 0, 1e-12);
    ck_assert_double_eq_tol(row.balance_slope, 0, 1e-9);
    ck_assert_double_eq_tol(row.start, 100, 1e-12); /* the offset */
    car.value[BT_CAR_PAD_FRICTION_REAR] *= 2; /* pressures alone would not see it (CHECKS 5.2) */
    row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.balance, 2657.443799 / (2657.443799 + 2 * 744.847063), 1e-6);
    car.value[BT_CAR_ROAD_LOAD_A] = NAN; /* no road load known: no effort */
    ck_assert_double_nan(figures_of(&zone, &car).row.effort_ratio);
}
END_TEST

START_TEST(balance_is_of_forces_so_a_larger_wheel_brakes_less)
{
    bt_car car = limpert_car();
    car.value[BT_CAR_ROLLING_RADIUS_REAR] = 0.35;
    const bt_braking zone = limpert_zone();
    ck_assert_double_eq_tol(figures_of(&zone, &car).row.balance,
                            8436.3295 / (8436.3295 + 744.847063 / 0.35), 1e-7);
    car.value[BT_CAR_ROLLING_RADIUS_FRONT] = NAN;
    ck_assert_double_nan(figures_of(&zone, &car).row.balance);
}
END_TEST

START_TEST(the_motor_counts_at_its_own_axle)
{
    bt_car car = limpert_car();
    car.value[BT_CAR_MOTOR_RATIO] = 10;
    bt_braking zone = limpert_zone();
    zone.s.ch[BT_CH_MOTOR_TORQUE] = fill(2, zone.s.n, -50);
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.motor, 500, 1e-9);
    ck_assert_double_eq_tol(row.motor_share, 500 / (500 + 744.847063), 1e-7);
    ck_assert_double_eq_tol(row.balance, 2657.443799 / (2657.443799 + 744.847063 + 500), 1e-7);
    ck_assert_double_eq_tol(row.balance_hyd, 0.781075, 1e-6);
    car.motor_axle = BT_FRONT;
    row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.motor_share, 500 / (500 + 2657.443799), 1e-7);
    ck_assert_double_eq_tol(row.balance, (2657.443799 + 500) / (2657.443799 + 744.847063 + 500),
                            1e-7);
    zone.s.ch[BT_CH_MOTOR_TORQUE] = NULL; /* it has one, but what it does is not logged */
    row = figures_of(&zone, &car).row;
    ck_assert_double_nan(row.balance);
    ck_assert_double_nan(row.motor_share);
    ck_assert_double_eq_tol(row.balance_hyd, 0.781075, 1e-6);
}
END_TEST

START_TEST(the_slope_of_the_balance_is_that_of_the_hold_phase)
{
    bt_car car = limpert_car();
    car.value[BT_CAR_THRESHOLD_FRONT] = car.value[BT_CAR_THRESHOLD_REAR] = 0;
    bt_braking zone = limpert_zone();
    const double front = bt_friction_gain(&car, BT_FRONT), rear = bt_friction_gain(&car, BT_REAR);
    for (size_t i = 0; i < zone.s.n; i++) { /* balance 0.7 - 0.02 per s at a constant 3000 N*m */
        const double share = 0.7 - 0.02 * t[i];
        chan[0][i] = share * 3000 / front;
        chan[1][i] = (1 - share) * 3000 / rear;
    }
    ck_assert_double_eq_tol(figures_of(&zone, &car).row.balance_slope, -0.02, 1e-9);
}
END_TEST

/* CHECKS 7.1, 7.2 [derived]: 100 to 0 km/h at 3 m/s2 with a constant -150 N*m at the shaft. */
static bt_car electric_car(void)
{
    bt_car car = blank_car();
    car.value[BT_CAR_MOTOR_RATIO] = 9;
    car.value[BT_CAR_MOTOR_EFFICIENCY] = 0.96;
    car.value[BT_CAR_ROLLING_RADIUS_FRONT] = car.value[BT_CAR_ROLLING_RADIUS_REAR] = 0.31;
    return car;
}

START_TEST(motor_work_and_recovered_energy_are_the_published_ones) /* CHECKS 7.1, 7.2 [derived] */
{
    const bt_car car = electric_car();
    size_t n = 0;
    slow(&n, 100 * kmh, 0, 3, 400);
    bt_braking zone = {.s = moving(n), .pedal = BT_CH_COUNT};
    zone.s.ch[BT_CH_MOTOR_TORQUE] = fill(0, n, -150);
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.motor, 1406.25, 1e-9);
    ck_assert_double_eq_tol(row.energy_motor, 583370.669, 1e-2);
    ck_assert_double_eq_tol(row.recovered, 560035.842, 1e-2); /* the shaft's: eta is the gears' */
    ck_assert(row.flags & BT_FLAG_RECOVERED_ESTIMATED);
    zone.s.ch[BT_CH_BATTERY_VOLTAGE] = fill(1, n, 400);
    for (size_t i = 0; i < n; i++) /* 0.90 of the shaft power, charging is negative */
        chan[2][i] = -0.9 * 150 * 9 * v[i] / 0.31 / 400;
    zone.s.ch[BT_CH_BATTERY_CURRENT] = chan[2];
    row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.recovered, 504032.258, 1e-2);
    ck_assert(!(row.flags & BT_FLAG_RECOVERED_ESTIMATED));
}
END_TEST

START_TEST(a_driving_motor_recovers_nothing_and_takes_no_braking_energy)
{
    const bt_car car = electric_car();
    size_t n = 0;
    slow(&n, 30, 10, 4, 400);
    bt_braking zone = {.s = moving(n), .pedal = BT_CH_COUNT};
    zone.s.ch[BT_CH_MOTOR_TORQUE] = fill(0, n, 40);
    zone.s.ch[BT_CH_BATTERY_VOLTAGE] = fill(1, n, 400);
    zone.s.ch[BT_CH_BATTERY_CURRENT] = fill(2, n, 90);
    const bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq(row.energy_motor, 0);
    ck_assert_double_eq(row.recovered, 0);
}
END_TEST

START_TEST(friction_energies_share_the_cars_kinetic_energy) /* CHECKS 6.1 [derived]: 617283.951 J */
{
    bt_car car = limpert_car();
    size_t n = 0;
    slow(&n, 100 * kmh, 0, 5, 300);
    bt_braking zone = {.s = moving(n), .pedal = BT_CH_COUNT};
    const double torque = 1600 * 5 * 0.315; /* all of it, 0.70 of it in front */
    zone.s.ch[BT_CH_LINE_FRONT] =
        fill(0, n, 0.5e5 + 0.7 * torque / bt_friction_gain(&car, BT_FRONT));
    zone.s.ch[BT_CH_LINE_REAR] = fill(1, n, 0.7e5 + 0.3 * torque / bt_friction_gain(&car, BT_REAR));
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.energy_front, 2 * 216049.383, 1e-2);
    ck_assert_double_eq_tol(row.energy_rear, 0.3 * 617283.951, 1e-2);
    zone.s.ch[BT_CH_WHEEL_RL] = fill(2, n, 0); /* one locked wheel, the other as the car rolls */
    zone.s.ch[BT_CH_WHEEL_RR] = v;
    row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.energy_rear, 0.15 * 617283.951, 1e-2);
    ck_assert_double_eq_tol(row.energy_front, 2 * 216049.383, 1e-2);
}
END_TEST

START_TEST(pedal_figures_are_of_the_pedal_that_opened_the_zone_if_it_is_a_pressure)
{
    const bt_car car = blank_car();
    size_t n = 0;
    slow(&n, 50, 10, 8, 500); /* 5 s in steps of 0.01 s */
    for (size_t i = 0; i < n; i++) {
        const double s = t[i]; /* 1.5 bar, 40 bar at 0.385 s: 100 bar per s */
        chan[0][i] = 1e5 * (s < 0.385 ? 1.5 + 100 * s : s < 4 ? 40 : 40 * (5 - s));
    }
    bt_braking zone = {.s = moving(n), .pedal = BT_CH_PEDAL_FRONT};
    zone.s.ch[BT_CH_PEDAL_FRONT] = chan[0];
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.pedal_peak, 40e5, 1);
    ck_assert_double_eq_tol(row.pedal_rate, 100e5, 100);
    ck_assert_double_eq_tol(row.rise, 0.345, 1e-6); /* to 36 bar */
    zone.pedal = BT_CH_PEDAL_TRAVEL;
    zone.s.ch[BT_CH_PEDAL_TRAVEL] = chan[0];
    row = figures_of(&zone, &car).row;
    ck_assert_double_nan(row.pedal_peak);
    ck_assert_double_nan(row.pedal_rate);
    ck_assert_double_eq_tol(row.rise, 0.345, 1e-6);
    zone.pedal = BT_CH_COUNT;
    ck_assert_double_nan(figures_of(&zone, &car).row.rise);
}
END_TEST

START_TEST(a_hole_flags_the_zone_and_a_large_one_blanks_the_figure)
{
    const bt_car car = limpert_car();
    const bt_braking zone = limpert_zone();
    for (size_t i = 50; i < 60; i++) chan[1][i] = NAN; /* 11 of 200 steps */
    bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.rear_friction, 744.847063, 1e-5);
    ck_assert(row.flags & BT_FLAG_SENSOR_GAP);
    for (size_t i = 60; i < 80; i++) chan[1][i] = NAN;
    row = figures_of(&zone, &car).row;
    ck_assert_double_nan(row.rear_friction);
    ck_assert_double_nan(row.balance);
    ck_assert_double_nan(row.energy_rear);
    ck_assert_double_eq_tol(row.front, 2657.443799, 1e-5);
    ck_assert(row.flags & BT_FLAG_SENSOR_GAP);
}
END_TEST

START_TEST(the_share_flagged_is_the_time_in_which_the_state_is_not_the_good_one)
{
    bt_car car = limpert_car();
    car.value[BT_CAR_BYWIRE_OK] = 2;
    bt_braking zone = limpert_zone();
    ck_assert_double_nan(figures_of(&zone, &car).row.flagged); /* not logged */
    zone.s.ch[BT_CH_BYWIRE_STATE] = fill(2, zone.s.n, 2);
    ck_assert_double_eq(figures_of(&zone, &car).row.flagged, 0);
    for (size_t i = 151; i < zone.s.n; i++) chan[2][i] = i % 2 ? 0 : 3; /* 49.5 of 200 steps */
    ck_assert_uint_eq(zone.s.n, 201);
    ck_assert_double_eq_tol(figures_of(&zone, &car).row.flagged, 49.5 / 200, 1e-9);
    for (size_t i = 0; i < 151; i++) chan[2][i] = NAN; /* hardly known */
    ck_assert_double_nan(figures_of(&zone, &car).row.flagged);
}
END_TEST

START_TEST(flags_are_added_and_labels_are_left_alone)
{
    const bt_car car = limpert_car();
    bt_braking zone = limpert_zone();
    zone.flags = BT_FLAG_CUT_START;
    bt_torques q = {0};
    bt_zone row = {.flags = BT_FLAG_RADIUS, .zone = 7, .place = "P03", .balance_u = 0.25};
    bt_blend blend;
    bt_slip slip;
    ck_assert_int_eq(bt_torques_make(&q, &zone.s, &car, NULL), BT_OK);
    ck_assert_int_eq(bt_metrics(&zone, &q, &car, no_trim, 0, 0, &row, &blend, &slip, NULL), BT_OK);
    bt_torques_clear(&q);
    ck_assert_uint_eq(row.flags, BT_FLAG_RADIUS | BT_FLAG_CUT_START);
    ck_assert_str_eq(row.place, "P03");
    ck_assert_double_eq(row.zone, 7);
    ck_assert_double_eq(row.balance_u, 0.25);
}
END_TEST

START_TEST(start_figures_are_those_of_the_first_sample_and_the_setting_of_the_last)
{
    const bt_car car = blank_car();
    bt_braking zone = limpert_zone();
    const size_t n = zone.s.n;
    zone.s.ch[BT_CH_LAP] = fill(2, n, 4);
    chan[2][0] = 3;
    zone.s.ch[BT_CH_BIAS_SETTING] = fill(3, n, 55);
    chan[3][n - 1] = 56;
    zone.s.ch[BT_CH_LATITUDE] = fill(4, n, 51.5);
    zone.s.ch[BT_CH_LAP_DISTANCE] = fill(5, n, 1200);
    const bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq(row.lap, 3);
    ck_assert_double_eq(row.bias_setting, 56);
    ck_assert_double_eq(row.latitude, 51.5);
    ck_assert_double_nan(row.longitude);
    ck_assert_double_eq(row.start_dist, 1200);
    ck_assert_double_nan(row.front); /* no sheet, no torque */
    ck_assert_str_eq(row.cause, "");
}
END_TEST

START_TEST(the_blend_is_of_the_bywire_axle)
{
    bt_car car = limpert_car();
    car.value[BT_CAR_DEMAND_GAIN] = 20e-5;
    bt_braking zone = limpert_zone();
    zone.s.ch[BT_CH_PEDAL_REAR] = fill(2, zone.s.n, 40e5); /* 800 N*m asked, 744.847063 given */
    zone.s.ch[BT_CH_LINE_REQUEST] = fill(3, zone.s.n, 40e5);
    const bt_zone row = figures_of(&zone, &car).row;
    ck_assert_double_eq_tol(row.demand, 800, 1e-9);
    ck_assert_double_eq_tol(row.blend_mean, 744.847063 - 800, 1e-5);
    ck_assert_double_eq_tol(row.blend_rms, 800 - 744.847063, 1e-5);
    ck_assert_double_eq_tol(row.blend_frac, (800 - 744.847063) / 800, 1e-8);
    ck_assert_str_eq(row.cause, "controller"); /* the line follows its request */
    ck_assert(row.flags & BT_FLAG_DELAY_WEAK); /* a flat demand has no shape */
    ck_assert_double_nan(row.blend_delay);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("metrics");
    TCase *m = tcase_create("motion"), *r = tcase_create("row");
    tcase_add_loop_test(m, a_constant_deceleration_is_its_own_mfdd, 0,
                        sizeof constant / sizeof *constant);
    tcase_add_test(m, the_two_level_profile_gives_the_mean_over_distance);
    tcase_add_test(m, the_exponential_profile_gives_the_mean_over_distance);
    tcase_add_test(m, mfdd_scales_with_the_speed_channel);
    tcase_add_test(m, dead_time_and_rise_stay_out_of_mfdd_but_not_of_the_other_means);
    tcase_add_test(m, a_zone_that_does_not_reach_a_tenth_of_its_speed_has_no_mfdd_and_no_stop);
    tcase_add_loop_test(m, a_stop_is_corrected_to_the_nominal_speed, 0,
                        sizeof stops / sizeof *stops);
    tcase_add_test(m, without_a_distance_the_speed_is_integrated);
    tcase_add_test(m, without_speed_or_with_a_single_sample_nothing_is_known);
    tcase_add_test(m, phases_run_from_the_first_to_behind_the_last_nine_tenths);
    tcase_add_loop_test(r, the_ideal_balance_is_the_front_share_of_the_dynamic_load, 0,
                        sizeof ideals / sizeof *ideals);
    tcase_add_test(r, published_brakes_give_the_published_balance_and_an_effort_of_one);
    tcase_add_test(r, balance_is_of_forces_so_a_larger_wheel_brakes_less);
    tcase_add_test(r, the_motor_counts_at_its_own_axle);
    tcase_add_test(r, the_slope_of_the_balance_is_that_of_the_hold_phase);
    tcase_add_test(r, motor_work_and_recovered_energy_are_the_published_ones);
    tcase_add_test(r, a_driving_motor_recovers_nothing_and_takes_no_braking_energy);
    tcase_add_test(r, friction_energies_share_the_cars_kinetic_energy);
    tcase_add_test(r, pedal_figures_are_of_the_pedal_that_opened_the_zone_if_it_is_a_pressure);
    tcase_add_test(r, a_hole_flags_the_zone_and_a_large_one_blanks_the_figure);
    tcase_add_test(r, the_share_flagged_is_the_time_in_which_the_state_is_not_the_good_one);
    tcase_add_test(r, flags_are_added_and_labels_are_left_alone);
    tcase_add_test(r, start_figures_are_those_of_the_first_sample_and_the_setting_of_the_last);
    tcase_add_test(r, the_blend_is_of_the_bywire_axle);
    suite_add_tcase(s, m);
    suite_add_tcase(s, r);
    return s;
}

BT_CHECK_MAIN(suite)
