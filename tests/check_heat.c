/* The disc node against closed forms (CHECKS 6.1 to 6.3, [derived]) and its walk through a log. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "base/stats.h"
#include "signals/heat.h"

/* CHECKS 6.2: mc = 3450 J/K, hA = 60 * 0.12 = 7.2 W/K. */
static const bt_disc disc = {.mass = 7.5, .heat = 460, .share = 1, .still = 7.2};

START_TEST(one_stop_without_cooling_warms_by_its_energy)
{
    /* 1600 kg, 100 -> 0 km/h at 5 m/s2, front share 0.70, two discs of 7.5 kg: 62.623009 K. */
    bt_disc d = disc;
    d.still = 0;
    const double v0 = 100 / 3.6, decel = 5, dt = 0.01;
    double temp = 300;
    for (double v = v0; v > 0;) {
        const double step = v / decel < dt ? v / decel : dt;
        const double mid = v - 0.5 * decel * step;
        temp = bt_disc_step(&d, temp, 0.5 * 0.7 * 1600 * decel * mid, mid, 300, step);
        v = step < dt ? 0 : v - decel * step;
    }
    ck_assert_double_eq_tol(temp - 300, 62.623009, 1e-5);
}
END_TEST

START_TEST(repeated_stops_rise_to_the_handbook_series)
{
    /* 15 snubs 120 -> 60 km/h, 233333.333 J into the disc each, one every 45 s. */
    static const struct {
        int n;
        double peak, before_next;
    } row[] = {{1, 67.632850, 61.570371},    {2, 129.203222, 117.621693},
               {5, 282.734560, 257.390777},  {10, 459.521148, 418.330555},
               {15, 570.061217, 518.962024}, {400, 754.510257, 686.877407}};
    const double ambient = 293.15, brief = 1e-6;
    double temp = ambient;
    int done = 0;
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        double peak = 0;
        for (; done < row[i].n; done++) {
            peak = bt_disc_step(&disc, temp, 233333.3333333333 / brief, 0, ambient, brief);
            temp = bt_disc_step(&disc, peak, 0, 0, ambient, 45);
        }
        ck_assert_double_eq_tol(peak - ambient, row[i].peak, 2e-5 * row[i].peak);
        ck_assert_double_eq_tol(temp - ambient, row[i].before_next, 2e-5 * row[i].peak);
    }
}
END_TEST

START_TEST(cooling_follows_the_exponential)
{
    static const double t[] = {60, 600}, want[] = {372.922031, 134.353055};
    for (size_t i = 0; i < 2; i++)
        ck_assert_double_eq_tol(bt_disc_step(&disc, 420, 0, 0, 20, t[i]), want[i], 1e-5);
    const double tau = 3450 / 7.2;
    ck_assert_double_eq_tol(bt_disc_step(&disc, 420, 0, 0, 20, tau), 167.151776, 1e-5);
}
END_TEST

START_TEST(constant_power_is_exact_in_one_step_or_in_many)
{
    static const double t[] = {10, 60, 300}, want[] = {77.370286, 346.930344, 1312.555726};
    for (size_t i = 0; i < 3; i++) {
        ck_assert_double_eq_tol(bt_disc_step(&disc, 20, 20000, 0, 20, t[i]), want[i], 1e-4);
        double temp = 20;
        for (int k = 0; k < 1000; k++) temp = bt_disc_step(&disc, temp, 20000, 0, 20, t[i] / 1000);
        ck_assert_double_eq_tol(temp, want[i], 1e-4);
    }
}
END_TEST

START_TEST(heat_capacity_that_rises_takes_the_energy_of_its_integral)
{
    /* m (c (T1 - T0) + s/2 ((T1 - 293.15)^2 - (T0 - 293.15)^2)) is what went in. */
    const bt_disc d = {.mass = 5, .heat = 450, .heat_slope = 0.35, .share = 0.95};
    double temp = 320;
    for (int k = 0; k < 2000; k++) temp = bt_disc_step(&d, temp, 30000, 0, 300, 0.01);
    const double a = temp - 293.15, b = 320 - 293.15;
    const double energy = 5 * (450 * (a - b) + 0.5 * 0.35 * (a * a - b * b));
    ck_assert_double_eq_tol(energy / (0.95 * 30000 * 20), 1, 2e-3);
}
END_TEST

/* Short steps go by a series: 350 K above the air, hA / mc = 0.0020870 per s. */
START_TEST(short_steps_cool_as_exactly_as_long_ones)
{
    for (double x = 1e-5; x < 0.05; x *= 1.3)
        ck_assert_double_eq_tol(bt_disc_step(&disc, 650, 0, 0, 300, x * 3450 / 7.2),
                                300 + 350 * exp(-x), 350e-14);
}
END_TEST

/* From nothing at all P / hA (1 - exp(-x)) is the whole temperature: all digits of the series count. */
START_TEST(the_rise_of_a_short_step_is_exact_to_the_last_digits)
{
    for (double x = 1e-4; x < 0.02; x *= 1.1) {
        const double want = -2e4 / 7.2 * expm1(-x);
        ck_assert_double_eq_tol(bt_disc_step(&disc, 0, 2e4, 0, 0, x * 3450 / 7.2), want,
                                1e-14 * want);
    }
}
END_TEST

START_TEST(cooling_grows_with_speed_and_nothing_happens_in_no_time)
{
    bt_disc d = disc;
    d.by_speed = 0.5;
    const double tau = 3450 / (7.2 + 0.5 * 40);
    ck_assert_double_eq_tol(bt_disc_step(&d, 500, 0, 40, 300, 30), 300 + 200 * exp(-30 / tau),
                            1e-9);
    ck_assert_double_eq(bt_disc_step(&d, 500, 1e5, 40, 300, 0), 500);
    ck_assert(isnan(bt_disc_step(&d, NAN, 0, 40, 300, 1)));
}
END_TEST

START_TEST(uneven_steps_at_constant_power_are_one_step)
{
    /* Newton's cooling has no memory: any cut of the time gives the same; a capacity that changes is taken
     * midway of each step, so cuts differ by the square of its change alone. */
    for (int slope = 0; slope <= 1; slope++) {
        bt_disc d = disc;
        d.heat_slope = 0.24 * slope;
        for (unsigned seed = 1; seed <= 50; seed++) {
            bt_random r = {.state = seed};
            const double power = 1e3 * (double)bt_random_below(&r, 60), total = 3;
            const double whole = bt_disc_step(&d, 500, power, 40, 300, total);
            double temp = 500, left = total;
            while (left > 0.01) {
                const double dt = left * (0.05 + 0.005 * (double)bt_random_below(&r, 100));
                temp = bt_disc_step(&d, temp, power, 40, 300, dt);
                left -= dt;
            }
            temp = bt_disc_step(&d, temp, power, 40, 300, left);
            const double most = (power + 7.2 * 200) * total / 3450; /* K up or down */
            const double change = d.heat_slope * most / d.heat;
            ck_assert_double_eq_tol(temp, whole, 1e-9 + most * change * change);
        }
    }
}
END_TEST

START_TEST(twice_the_capacity_over_twice_the_time_is_the_same_rise)
{
    for (double k = 0.5; k <= 4; k *= 2) {
        bt_disc d = disc;
        d.by_speed = 0.8;
        d.heat_slope = 0.24;
        const double once = bt_disc_step(&d, 450, 2e4, 30, 290, 2.5);
        d.mass *= k;
        ck_assert_double_eq_tol(bt_disc_step(&d, 450, 2e4, 30, 290, 2.5 * k), once, 1e-9);
    }
}
END_TEST

/* ---- through a log ---- */

static void sheet(struct bt_car *car)
{
    memset(car, 0, sizeof *car);
    for (int q = 0; q < BT_CAR_COUNT; q++) car->value[q] = car->u[q] = NAN;
    for (unsigned a = 0; a < 2; a++) {
        car->value[BT_CAR_DISC_MASS_FRONT + a] = 7.5;
        car->value[BT_CAR_DISC_HEAT_FRONT + a] = 460;
        car->value[BT_CAR_DISC_SHARE_FRONT + a] = 1;
        car->value[BT_CAR_COOL_STILL_FRONT + a] = 7.2;
        car->value[BT_CAR_ROLLING_RADIUS_FRONT + a] = 0.3;
    }
    car->value[BT_CAR_AMBIENT] = 293.15;
}

START_TEST(zone_energy_and_the_way_after_it_come_out_as_computed_by_hand)
{
    struct bt_car car;
    sheet(&car);
    bt_heat heat;
    bt_heat_init(&heat, &car);
    enum { N = 401 };
    double t[N], v[N], torque[N];
    for (int i = 0; i < N; i++) { /* 30 -> 10 m/s in 4 s, 1200 N*m at the front axle */
        t[i] = 0.01 * i;
        v[i] = 30 - 5 * t[i];
        torque[i] = 1200;
    }
    bt_block s = {.n = N, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    bt_torques q = {.n = N, .front = torque};
    double peak[2], *none[2] = {NULL, NULL};
    bt_heat_zone(&heat, &s, &q, peak, none);
    /* torque * angle: 1200 * 80 m / 0.3 m = 320 kJ, half of it each disc: 46.377 K, less what cools:
     * under 7.2 * 47 / 3450 * 4 = 0.4 K. */
    ck_assert_double_eq_tol(peak[BT_FRONT] - 293.15, 160000 / 3450.0, 0.4);
    ck_assert_double_lt(peak[BT_FRONT] - 293.15, 160000 / 3450.0);
    ck_assert(isnan(peak[BT_REAR])); /* no rear torque, no rear temperature */

    double later[2] = {4.5, 64}, slow[2] = {10, 10};
    bt_block after = {.n = 2, .t = later};
    after.ch[BT_SIG_SPEED] = slow;
    const double hot = heat.temp[BT_FRONT];
    bt_heat_cool(&heat, &after, none);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], 293.15 + (hot - 293.15) * exp(-60 * 7.2 / 3450),
                            0.01);
}
END_TEST

START_TEST(measured_temperature_is_the_start_and_then_the_check)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_DISC_MASS_REAR] = NAN; /* the rear discs are measured and not known */
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[2] = {0, 1}, v[2] = {30, 25}, none_torque[2] = {0, 0}, left[3] = {420, 500, 300},
           right[2] = {430, 480};
    bt_block s = {.n = 2, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    s.ch[BT_CH_DISC_FL] = left;
    s.ch[BT_CH_DISC_FR] = right;
    s.ch[BT_CH_DISC_RL] = right;
    s.ch[BT_CH_DISC_RR] = left + 1;
    bt_torques q = {.n = 2, .front = none_torque};
    double peak[2], *none[2] = {NULL, NULL};
    bt_heat_zone(&heat, &s, &q, peak, none);
    ck_assert_double_eq(peak[BT_FRONT], 425); /* the axle's mean */
    ck_assert_double_eq_tol(heat.differs[BT_FRONT], 500 - heat.temp[BT_FRONT], 1e-9);
    bt_zone row;
    bt_row_blank(BT_TABLE_ZONES, &row);
    bt_heat_row(&heat, peak, &row);
    ck_assert_double_eq(row.disc_front_first, 425);
    ck_assert_double_eq(row.disc_front_final, 490);
    ck_assert(row.flags & BT_FLAG_BRAKE_TEMPERATURE);
    ck_assert_double_eq(row.disc_rear_first, 465);
    ck_assert_double_eq(row.disc_rear_final, 390);
    ck_assert(isnan(heat.temp[BT_REAR]) && isnan(row.disc_rear_differs));
    const double now = heat.temp[BT_FRONT];
    bt_heat_zone(&heat, &s, &q, peak, none); /* as logged again; a sensor is no second start */
    ck_assert_double_eq(peak[BT_FRONT], now);
}
END_TEST

START_TEST(a_sensor_that_comes_late_is_the_start_all_the_same)
{
    struct bt_car car;
    sheet(&car);
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[3] = {0, 0.05, 0.1}, v[3] = {0, 0, 0}, rear[3] = {NAN, NAN, 410};
    bt_block s = {.n = 3, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    s.ch[BT_CH_DISC_RL] = rear;
    double *none[2] = {NULL, NULL};
    bt_heat_cool(&heat, &s, none);
    ck_assert_double_eq(heat.temp[BT_REAR], 410);
    ck_assert_double_eq(heat.temp[BT_FRONT], 293.15);
}
END_TEST

START_TEST(a_forward_hole_cools_and_a_jump_back_or_unknown_speed_adds_no_time)
{
    struct bt_car car;
    sheet(&car);
    bt_heat heat;
    bt_heat_init(&heat, &car);
    /* measured at the start; 60 s missing, as at the start of a new stretch; then the clock goes back by
     * 30 s; then a speed that is not known: cool_still alone counts in this sheet */
    double t[6] = {0, 1, 61, 31, 32, 33}, v[6] = {20, 20, 20, 20, NAN, 20};
    double hot[6] = {700, NAN, NAN, NAN, NAN, NAN};
    double *none[2] = {NULL, NULL};
    bt_block first = {.n = 2, .t = t}, rest = {.n = 4, .t = t + 2};
    first.ch[BT_SIG_SPEED] = v;
    first.ch[BT_CH_DISC_FL] = hot;
    rest.ch[BT_SIG_SPEED] = v + 2;
    rest.ch[BT_CH_DISC_FL] = hot + 2;
    bt_heat_cool(&heat, &first, none);
    bt_heat_cool(&heat, &rest, none);
    const double passed = 61 + 2, ambient = 293.15;
    ck_assert_double_eq_tol(heat.temp[BT_FRONT],
                            ambient + (700 - ambient) * exp(-passed * 7.2 / 3450), 1e-9);
}
END_TEST

/* Of a sheet with cool_speed 0.5: what is left of a temperature above the air after dt seconds at v m/s. */
static double kept(double dt, double v)
{
    return exp(-dt * (7.2 + 0.5 * v) / 3450);
}

/* From one block to the next the disc cools at the mean of the speeds at either end, into the zone and out of
 * it alike. */
START_TEST(holes_before_and_after_a_zone_cool_at_the_mean_of_their_speeds)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_SPEED_FRONT] = 0.5;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[] = {0, 60, 61, 63, 93}, v[] = {20, 60, 50, 10, 30}, none_torque[3] = {0, 0, 0};
    double hot[] = {700, NAN, NAN, NAN, NAN}, air[] = {300, 280, 350, 360, 290};
    double peak[2], *none[2] = {NULL, NULL};
    bt_block part[3];
    for (size_t k = 0; k < 3; k++) {
        const size_t from = k == 0 ? 0 : k == 1 ? 1 : 4;
        part[k] = (bt_block){.n = k == 1 ? 3 : 1, .t = t + from};
        part[k].ch[BT_SIG_SPEED] = v + from;
        part[k].ch[BT_CH_DISC_FL] = hot + from;
        part[k].ch[BT_CH_AMBIENT] = air + from;
    }
    bt_torques q = {.n = 3, .front = none_torque};
    bt_heat_cool(&heat, &part[0], none);
    bt_heat_zone(&heat, &part[1], &q, peak, none);
    double want = 280 + (700 - 280) * kept(60, 40);
    ck_assert_double_eq_tol(peak[BT_FRONT], want, 1e-9);
    want = 280 + (want - 280) * kept(1, 55) * kept(2, 30);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], want, 1e-9);
    bt_heat_cool(&heat, &part[2], none);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], 290 + (want - 290) * kept(30, 20), 1e-9);
}
END_TEST

START_TEST(where_no_speed_is_logged_a_disc_cools_as_at_standstill)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_SPEED_FRONT] = 0.5;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[] = {0, 50}, hot[] = {700, NAN}, air[] = {290, NAN}, *none[2] = {NULL, NULL};
    bt_block run = {.n = 2, .t = t};
    run.ch[BT_CH_DISC_FL] = hot;
    run.ch[BT_CH_AMBIENT] = air;
    bt_heat_cool(&heat, &run, none);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], 290 + (700 - 290) * kept(50, 0), 1e-9);
}
END_TEST

/* Without cooling a disc has its half of torque times angle, 300 N*m * 30 m / 0.3 m per second, whatever the
 * number of samples. */
START_TEST(a_zone_of_any_length_warms_by_its_energy)
{
    enum { N = 530 };
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_STILL_FRONT] = NAN;
    static double t[N], v[N], torque[N];
    for (size_t i = 0; i < N; i++) {
        t[i] = 0.01 * (double)i;
        v[i] = 30;
        torque[i] = 300;
    }
    for (size_t n = 1; n <= N; n++) {
        bt_heat heat;
        bt_heat_init(&heat, &car);
        bt_block s = {.n = n, .t = t};
        s.ch[BT_SIG_SPEED] = v;
        bt_torques q = {.n = n, .front = torque};
        double peak[2], *none[2] = {NULL, NULL};
        bt_heat_zone(&heat, &s, &q, peak, none);
        ck_assert_double_eq_tol(peak[BT_FRONT], 293.15 + 15000 * t[n - 1] / 3450, 1e-9);
    }
}
END_TEST

START_TEST(a_hole_in_the_pressures_adds_no_heat_and_cools)
{
    struct bt_car car;
    sheet(&car);
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[3] = {0, 10, 20}, v[3] = {20, 20, 20}, torque[3] = {0, NAN, 0},
           disc_t[3] = {600, NAN, NAN};
    bt_block s = {.n = 3, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    s.ch[BT_CH_DISC_FL] = disc_t;
    bt_torques q = {.n = 3, .front = torque};
    double peak[2], *none[2] = {NULL, NULL};
    bt_heat_zone(&heat, &s, &q, peak, none);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], 293.15 + (600 - 293.15) * exp(-20 * 7.2 / 3450),
                            1e-9);
}
END_TEST

/* The way between is exact by trapezoids, so that many steps make one exponential: 40 s at a speed that
 * goes from 10 to 50 m/s cool as 40 s at 30 m/s do. */
START_TEST(between_zones_the_way_driven_cools)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_SPEED_FRONT] = 0.5;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    enum { N = 401 };
    double t[N], v[N], ambient[N], front[N], disc_t[N], rear[N], *series[2] = {front, rear};
    for (int i = 0; i < N; i++) {
        t[i] = 0.1 * i;
        v[i] = 10 + t[i];
        ambient[i] = i ? 400 : 280; /* the first one holds for the block */
        disc_t[i] = 600;
    }
    bt_block s = {.n = N, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    s.ch[BT_CH_DISC_FL] = disc_t;
    s.ch[BT_CH_AMBIENT] = ambient;
    bt_heat_cool(&heat, &s, series);
    const double want = 280 + (600 - 280) * exp(-40 * (7.2 + 0.5 * 30) / 3450);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT] - want, 0, 0.5); /* less than a step is pending */
    ck_assert_double_eq(front[0], 600);
    ck_assert_double_eq(rear[0], 280); /* as warm as the air, and stays so */
    ck_assert_double_eq(rear[N - 1], 280);
    for (int i = 1; i < N; i++) { /* at most 0.3 s behind the closed form, 2 K/s at the fastest */
        const double way = 10 * t[i] + 0.5 * t[i] * t[i];
        const double at = 280 + 320 * exp(-(7.2 * t[i] + 0.5 * way) / 3450);
        ck_assert_double_ge(front[i] - at, -1e-9);
        ck_assert_double_le(front[i] - at, 0.6);
    }
}
END_TEST

/* dT/dt = (P/2 - (still + by_speed v)(T - ambient)) / C by small steps, torque and speed running
 * straight between samples.  Uneven steps; both axles at once, the rear with another radius. */
START_TEST(a_zone_of_changing_torque_and_speed_agrees_with_small_steps)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_SPEED_FRONT] = 4;
    car.value[BT_CAR_ROLLING_RADIUS_REAR] = 0.36;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    enum { N = 600 }; /* more than one piece */
    static double t[N], v[N], torque[2][N], got[2][N];
    for (int i = 0; i < N; i++) {
        t[i] = i ? t[i - 1] + (i % 3 ? 0.005 : 0.02) : 3;
        v[i] = 60 - 6 * (t[i] - 3);
        torque[0][i] = 2000 * sin(0.5 * (t[i] - 3));
        torque[1][i] = 900 - 120 * (t[i] - 3);
    }
    bt_block s = {.n = N, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    bt_torques q = {.n = N, .front = torque[0], .rear = torque[1]};
    double peak[2], *series[2] = {got[0], got[1]};
    bt_heat_zone(&heat, &s, &q, peak, series);
    for (int a = 0; a < 2; a++) {
        const double radius = a ? 0.36 : 0.3, by_speed = a ? 0 : 4;
        double temp = 293.15, highest = temp;
        ck_assert_double_eq(got[a][0], temp);
        for (int i = 1; i < N; i++) {
            enum { SMALL = 50 };
            const double dt = (t[i] - t[i - 1]) / SMALL;
            for (int k = 0; k < SMALL; k++) {
                const double w = (k + 0.5) / SMALL;
                const double speed = v[i - 1] + w * (v[i] - v[i - 1]);
                const double brake = torque[a][i - 1] + w * (torque[a][i] - torque[a][i - 1]);
                temp +=
                    dt *
                    (0.5 * brake * speed / radius - (7.2 + by_speed * speed) * (temp - 293.15)) /
                    3450;
            }
            if (temp > highest) highest = temp;
            ck_assert_double_eq_tol(got[a][i], temp, 0.003);
        }
        ck_assert_double_eq_tol(peak[a], highest, 0.003);
        ck_assert_double_gt(highest - 293.15, 50);
    }
}
END_TEST

/* A speed that is not known cools as at standstill, which errs on the warm side. */
START_TEST(an_unknown_speed_cools_least)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_COOL_SPEED_FRONT] = 50;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    double t[3] = {0, 10, 20}, v[3] = {NAN, NAN, NAN}, torque[3] = {0, 0, 0},
           disc_t[3] = {600, 600, 600};
    bt_block s = {.n = 3, .t = t};
    s.ch[BT_SIG_SPEED] = v;
    s.ch[BT_CH_DISC_FL] = disc_t;
    bt_torques q = {.n = 3, .front = torque};
    double peak[2], *none[2] = {NULL, NULL};
    bt_heat_zone(&heat, &s, &q, peak, none);
    ck_assert_double_eq_tol(heat.temp[BT_FRONT], 293.15 + (600 - 293.15) * exp(-20 * 7.2 / 3450),
                            1e-9);
}
END_TEST

START_TEST(a_disc_needs_mass_heat_and_share)
{
    static const bt_car_quantity needed[] = {BT_CAR_DISC_MASS_FRONT, BT_CAR_DISC_HEAT_FRONT,
                                             BT_CAR_DISC_SHARE_FRONT};
    struct bt_car car;
    bt_disc d;
    sheet(&car);
    ck_assert(bt_disc_of(&car, BT_FRONT, &d));
    ck_assert_double_eq(d.by_speed, 0);
    ck_assert_double_eq(d.heat_slope, 0);
    for (int i = 0; i < 3; i++) {
        sheet(&car);
        car.value[needed[i]] = NAN;
        ck_assert(!bt_disc_of(&car, BT_FRONT, &d));
        ck_assert(bt_disc_of(&car, BT_REAR, &d));
    }
    sheet(&car);
    car.value[BT_CAR_COOL_STILL_FRONT] = NAN;
    ck_assert(bt_disc_of(&car, BT_FRONT, &d));
    ck_assert_double_eq(d.still, 0);
    for (int i = 0; i < 3; i++) car.value[needed[i]] = 0.5; /* however little */
    ck_assert(bt_disc_of(&car, BT_FRONT, &d));
    car.value[BT_CAR_DISC_SHARE_FRONT] = 0; /* all of it goes elsewhere */
    ck_assert(bt_disc_of(&car, BT_FRONT, &d));
}
END_TEST

START_TEST(margin_is_limit_less_peak_and_blank_without_a_limit)
{
    struct bt_car car;
    sheet(&car);
    car.value[BT_CAR_DISC_LIMIT_FRONT] = 900;
    bt_heat heat;
    bt_heat_init(&heat, &car);
    bt_zone row;
    bt_row_blank(BT_TABLE_ZONES, &row);
    bt_heat_row(&heat, (double[2]){850, 700}, &row);
    ck_assert_double_eq(row.disc_front_margin, 50);
    ck_assert(isnan(row.disc_rear_margin));
    ck_assert_uint_eq(row.flags, 0);
    car.value[BT_CAR_DISC_LIMIT_REAR] = 690;
    bt_heat_init(&heat, &car);
    bt_heat_row(&heat, (double[2]){850, 700}, &row);
    ck_assert_double_eq(row.disc_rear_margin, -10);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("heat");
    TCase *t = tcase_create("disc");
    tcase_add_test(t, one_stop_without_cooling_warms_by_its_energy);
    tcase_add_test(t, repeated_stops_rise_to_the_handbook_series);
    tcase_add_test(t, cooling_follows_the_exponential);
    tcase_add_test(t, constant_power_is_exact_in_one_step_or_in_many);
    tcase_add_test(t, heat_capacity_that_rises_takes_the_energy_of_its_integral);
    tcase_add_test(t, short_steps_cool_as_exactly_as_long_ones);
    tcase_add_test(t, the_rise_of_a_short_step_is_exact_to_the_last_digits);
    tcase_add_test(t, cooling_grows_with_speed_and_nothing_happens_in_no_time);
    tcase_add_test(t, uneven_steps_at_constant_power_are_one_step);
    tcase_add_test(t, twice_the_capacity_over_twice_the_time_is_the_same_rise);
    tcase_add_test(t, a_forward_hole_cools_and_a_jump_back_or_unknown_speed_adds_no_time);
    tcase_add_test(t, zone_energy_and_the_way_after_it_come_out_as_computed_by_hand);
    tcase_add_test(t, measured_temperature_is_the_start_and_then_the_check);
    tcase_add_test(t, a_sensor_that_comes_late_is_the_start_all_the_same);
    tcase_add_test(t, holes_before_and_after_a_zone_cool_at_the_mean_of_their_speeds);
    tcase_add_test(t, where_no_speed_is_logged_a_disc_cools_as_at_standstill);
    tcase_add_test(t, a_zone_of_any_length_warms_by_its_energy);
    tcase_add_test(t, a_hole_in_the_pressures_adds_no_heat_and_cools);
    tcase_add_test(t, between_zones_the_way_driven_cools);
    tcase_add_test(t, a_zone_of_changing_torque_and_speed_agrees_with_small_steps);
    tcase_add_test(t, an_unknown_speed_cools_least);
    tcase_add_test(t, a_disc_needs_mass_heat_and_share);
    tcase_add_test(t, margin_is_limit_less_peak_and_blank_without_a_limit);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
