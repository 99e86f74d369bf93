/* Wheel slip and lock-up (METHODS 8) on slips written down by hand. */
#include "check_support.h"
#include "signals/slip.h"

#include <math.h>
#include <string.h>

#define ROWS 400

typedef struct {
    bt_block block;
    double t[ROWS], v[ROWS], wheel[4][ROWS];
} zone;

static zone z;
static struct bt_car car;
static const double even[4] = {1, 1, 1, 1};

/* n samples at `rate`, all wheels logged and rolling freely at v. */
static void start(size_t n, double rate, double v)
{
    memset(&z, 0, sizeof z);
    car.value[BT_CAR_SLIP_LIMIT] = 0.2;
    z.block.n = n;
    z.block.t = z.t;
    z.block.ch[BT_SIG_SPEED] = z.v;
    for (size_t i = 0; i < n; i++) {
        z.t[i] = 10 + (double)i / rate;
        z.v[i] = v;
    }
    for (size_t k = 0; k < 4; k++) {
        z.block.ch[BT_CH_WHEEL_FL + k] = z.wheel[k];
        memcpy(z.wheel[k], z.v, sizeof z.v);
    }
}

START_TEST(slip_is_the_share_that_the_wheel_turns_too_slowly)
{
    static const struct {
        double wheel, speed, trim, slip;
    } cases[] = {{18, 20, 1, 0.1},     {20, 20, 1, 0},      {0, 20, 1, 1},    {22, 20, 1, -0.1},
                 {20, 20, 0.97, 0.03}, {20, 20.6, 1.03, 0}, {5, 0.9, 1, NAN}, {NAN, 20, 1, NAN},
                 {20, NAN, 1, NAN},    {20, 20, NAN, NAN}};
    double out;
    bt_slip_wheel(&cases[_i].wheel, &cases[_i].speed, 1, cases[_i].trim, &out);
    if (isnan(cases[_i].slip))
        ck_assert_double_nan(out);
    else
        ck_assert_double_eq_tol(out, cases[_i].slip, 1e-12);
}
END_TEST

START_TEST(the_largest_slip_of_each_axle_is_found)
{
    bt_slip s;
    start(100, 100, 30);
    z.wheel[0][10] = 0.95 * 30;
    z.wheel[1][20] = 0.90 * 30;
    z.wheel[2][30] = 0.92 * 30;
    z.wheel[3][40] = 1.20 * 30; /* spins */
    z.v[50] = 4;                /* too slow to count */
    z.wheel[0][50] = 0;
    bt_slip_zone(&z.block, &car, even, &s);
    ck_assert_double_eq_tol(s.front, 0.10, 1e-12);
    ck_assert_double_eq_tol(s.rear, 0.08, 1e-12);
    ck_assert_double_eq(s.lock, 0);
    ck_assert_uint_eq(s.locks, 0);
    ck_assert_double_nan(s.first_lock);
    ck_assert_int_eq(s.wheel, BT_CH_COUNT);
}
END_TEST

/* Slip rises from 0 to 0.4 within 0.1 s, stays for 0.3 s, falls within 0.1 s: beyond 0.2 from half-way
 * up to half-way down, 0.4 s, whatever the rate. */
static double trapeze(double t)
{
    return 0.4 * fmax(0, fmin(1, fmin(t / 0.1, (0.5 - t) / 0.1)));
}

START_TEST(lock_up_lasts_from_crossing_to_crossing_at_any_rate)
{
    static const double rates[] = {10, 20, 50, 100, 190};
    bt_slip s;
    start((size_t)(2 * rates[_i]), rates[_i], 40);
    for (size_t i = 0; i < z.block.n; i++) z.wheel[2][i] = 40 * (1 - trapeze(z.t[i] - 10.5));
    bt_slip_zone(&z.block, &car, even, &s);
    const bool on_grid = rates[_i] < 190; /* the trapeze's corners are samples: straight lines */
    ck_assert_double_eq_tol(s.lock, 0.4, on_grid ? 1e-9 : 0.003);
    ck_assert_double_eq_tol(s.first_lock, 10.55, on_grid ? 1e-9 : 0.003);
    ck_assert_uint_eq(s.locks, 1);
    ck_assert_int_eq(s.wheel, BT_CH_WHEEL_RL);
    ck_assert_double_eq_tol(s.rear, 0.4, on_grid ? 1e-12 : 0.001);
    ck_assert_double_eq_tol(s.front, 0, 1e-12);
}
END_TEST

/* n samples of full lock at 1 kHz: beyond 0.2 for (n - 1) ms and 0.8 ms on each edge. */
START_TEST(pieces_shorter_than_50_ms_do_not_count)
{
    static const struct {
        size_t samples, locks;
        double lock;
    } cases[] = {{1, 0, 0}, {48, 0, 0}, {49, 0, 0}, {50, 1, 0.0506}, {100, 1, 0.1006}};
    bt_slip s;
    start(300, 1000, 25);
    for (size_t i = 0; i < cases[_i].samples; i++) z.wheel[1][100 + i] = 0;
    bt_slip_zone(&z.block, &car, even, &s);
    ck_assert_uint_eq(s.locks, cases[_i].locks);
    ck_assert_double_eq_tol(s.lock, cases[_i].lock, 1e-9);
    ck_assert_double_eq(s.front, 1);
}
END_TEST

START_TEST(two_pieces_add_up_and_the_first_is_named)
{
    bt_slip s;
    start(400, 1000, 25);
    for (size_t i = 300; i < 400; i++) z.wheel[0][i] = 0; /* until the zone ends: 99 ms + 0.8 */
    for (size_t i = 100; i < 161; i++) z.wheel[3][i] = 0; /* 60 ms + 1.6 */
    bt_slip_zone(&z.block, &car, even, &s);
    ck_assert_uint_eq(s.locks, 2);
    ck_assert_double_eq_tol(s.lock, 0.0998 + 0.0616, 1e-9);
    ck_assert_double_eq_tol(s.first_lock, 10.0992, 1e-9);
    ck_assert_int_eq(s.wheel, BT_CH_WHEEL_RR);
}
END_TEST

START_TEST(below_5_mps_nothing_locks)
{
    bt_slip s;
    start(200, 100, 8);
    for (size_t i = 0; i < 200; i++) {
        z.wheel[0][i] = 0;
        if (i >= 100) z.v[i] = 4.9;
    }
    bt_slip_zone(&z.block, &car, even, &s);
    ck_assert_double_eq_tol(s.lock, 0.99, 1e-9); /* samples 0 to 99 */
    ck_assert_double_eq_tol(s.first_lock, 10, 1e-12);
}
END_TEST

START_TEST(wheels_not_logged_or_left_out_have_no_slip)
{
    static const double left_out[4] = {1, 1, NAN, NAN};
    bt_slip s;
    start(100, 100, 30);
    z.block.ch[BT_CH_WHEEL_FL] = z.block.ch[BT_CH_WHEEL_FR] = NULL;
    for (size_t i = 0; i < 100; i++) z.wheel[2][i] = z.wheel[3][i] = 0; /* dead */
    bt_slip_zone(&z.block, &car, left_out, &s);
    ck_assert_double_nan(s.front);
    ck_assert_double_nan(s.rear);
    ck_assert_uint_eq(s.locks, 0);
    start(100, 100, 30);
    for (size_t i = 0; i < 100; i++) z.v[i] = NAN;
    bt_slip_zone(&z.block, &car, even, &s);
    ck_assert_double_nan(s.front);
    ck_assert_double_eq(s.lock, 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("slip");
    TCase *c = tcase_create("slip");
    tcase_add_loop_test(c, slip_is_the_share_that_the_wheel_turns_too_slowly, 0, 10);
    tcase_add_test(c, the_largest_slip_of_each_axle_is_found);
    tcase_add_loop_test(c, lock_up_lasts_from_crossing_to_crossing_at_any_rate, 0, 5);
    tcase_add_loop_test(c, pieces_shorter_than_50_ms_do_not_count, 0, 5);
    tcase_add_test(c, two_pieces_add_up_and_the_first_is_named);
    tcase_add_test(c, below_5_mps_nothing_locks);
    tcase_add_test(c, wheels_not_logged_or_left_out_have_no_slip);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
