/* Energy books of a braking made by hand: every part is known from elementary mechanics. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "zones/books.h"

enum { N = 401 };

/* 1000 kg (1050 with turning parts), 40 -> 20 m/s in 4 s at 5 m/s2; front 1200 N*m, rear 500 N*m, motor
 * 300 N*m at wheels of 0.3 m; wheels 4 % slower than the car. */
typedef struct {
    struct bt_car car;
    double t[N], v[N], wheel[N], front[N], rear[N], motor[N];
    bt_block s;
    bt_torques q;
    bt_zone row;
} braking;

static const double no_trim[4] = {1, 1, 1, 1};

static void make(braking *b)
{
    memset(b, 0, sizeof *b);
    for (int q = 0; q < BT_CAR_COUNT; q++) b->car.value[q] = b->car.u[q] = NAN;
    b->car.motor_axle = b->car.bywire_axle = BT_REAR;
    b->car.value[BT_CAR_MASS] = 1000;
    b->car.value[BT_CAR_INERTIA_FACTOR] = 1.05;
    b->car.value[BT_CAR_ROLLING_RADIUS_FRONT] = b->car.value[BT_CAR_ROLLING_RADIUS_REAR] = 0.3;
    b->car.value[BT_CAR_ROAD_LOAD_A] = 200;
    for (int i = 0; i < N; i++) {
        b->t[i] = 0.01 * i;
        b->v[i] = 40 - 5 * b->t[i];
        b->wheel[i] = 0.96 * b->v[i];
        b->front[i] = 1200;
        b->rear[i] = 500;
        b->motor[i] = 300;
    }
    b->s = (bt_block){.n = N, .t = b->t};
    b->s.ch[BT_SIG_SPEED] = b->v;
    for (int w = 0; w < 4; w++) b->s.ch[BT_CH_WHEEL_FL + w] = b->wheel;
    b->q = (bt_torques){.n = N, .front = b->front, .rear = b->rear, .motor = b->motor};
    bt_row_blank(BT_TABLE_ZONES, &b->row);
    b->row.entry = 40;
    b->row.exit = 20;
    /* torque times angle: 120 m on wheels that turn 4 % less */
    b->row.energy_front = 1200 * 0.96 * 120 / 0.3;
    b->row.energy_rear = 500 * 0.96 * 120 / 0.3;
    b->row.energy_motor = 300 * 0.96 * 120 / 0.3;
}

START_TEST(every_part_is_what_mechanics_says_and_the_rest_is_what_is_left)
{
    braking b;
    make(&b);
    bt_books_zone(&b.s, &b.q, &b.car, no_trim, &b.row);
    ck_assert_double_eq_tol(b.row.kinetic, 0.5 * 1050 * (1600 - 400), 1e-6);
    ck_assert_double_eq_tol(b.row.road, 200 * 120, 1e-6);
    ck_assert_double_eq_tol(b.row.tyre, 2000 * 0.04 * 120 / 0.3, 1e-6);
    /* 630 kJ - 2000 N*m over 120 m / 0.3 m = 800 kJ - 24 kJ: more braked than lost */
    ck_assert_double_eq_tol(b.row.rest, 630000 - 800000 - 24000, 1e-6);
}
END_TEST

START_TEST(without_wheels_the_tyres_part_is_in_the_work_of_the_brakes)
{
    braking b;
    make(&b);
    for (int w = 0; w < 4; w++) b.s.ch[BT_CH_WHEEL_FL + w] = NULL;
    b.row.energy_front /= 0.96;
    b.row.energy_rear /= 0.96;
    b.row.energy_motor /= 0.96;
    bt_books_zone(&b.s, &b.q, &b.car, no_trim, &b.row);
    ck_assert(isnan(b.row.tyre));
    ck_assert_double_eq_tol(b.row.rest, 630000 - 800000 - 24000, 1e-6);
}
END_TEST

START_TEST(a_worn_tyre_that_the_trim_knows_is_no_slip)
{
    braking b;
    make(
        &b); /* rolling radius 4 % larger than the sheet's: wheel speed reads 4 % low without slip */
    const double trim[4] = {1 / 0.96, 1 / 0.96, 1 / 0.96, 1 / 0.96};
    bt_books_zone(&b.s, &b.q, &b.car, trim, &b.row);
    ck_assert_double_eq_tol(b.row.tyre, 0, 1e-6);
    const double one_side[4] = {1 / 0.96, NAN, NAN, 1 / 0.96}, unknown[4] = {NAN, NAN, NAN, NAN};
    bt_books_zone(&b.s, &b.q, &b.car, one_side, &b.row);
    ck_assert_double_eq_tol(b.row.tyre, 0, 1e-6);
    bt_books_zone(&b.s, &b.q, &b.car, unknown, &b.row);
    ck_assert_double_eq_tol(b.row.tyre, 2000 * 0.04 * 120 / 0.3, 1e-6);
}
END_TEST

START_TEST(what_sheet_or_log_do_not_say_stays_blank)
{
    braking b;
    make(&b);
    b.car.value[BT_CAR_MASS] = NAN;
    bt_books_zone(&b.s, &b.q, &b.car, no_trim, &b.row);
    ck_assert(isnan(b.row.kinetic) && isnan(b.row.rest) && b.row.road > 0);
    make(&b);
    b.car.value[BT_CAR_ROAD_LOAD_A] = NAN;
    bt_books_zone(&b.s, &b.q, &b.car, no_trim, &b.row);
    ck_assert(isnan(b.row.road) && isnan(b.row.rest) && b.row.kinetic > 0);
    make(&b);
    b.row.energy_rear = NAN;
    bt_books_zone(&b.s, &b.q, &b.car, no_trim, &b.row);
    ck_assert(isnan(b.row.rest));
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("books");
    TCase *t = tcase_create("energy");
    tcase_add_test(t, every_part_is_what_mechanics_says_and_the_rest_is_what_is_left);
    tcase_add_test(t, without_wheels_the_tyres_part_is_in_the_work_of_the_brakes);
    tcase_add_test(t, a_worn_tyre_that_the_trim_knows_is_no_slip);
    tcase_add_test(t, what_sheet_or_log_do_not_say_stays_blank);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
