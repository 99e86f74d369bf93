/* Torque per axle (METHODS 5): the published hydraulics of CHECKS 5.2, the motor of CHECKS 7.1, which
 * pressures serve, and what is unknown. */
#include "check_support.h"

#include "signals/forces.h"

#include <math.h>
#include <string.h>

static bt_car blank_car(void)
{
    bt_car car = {.motor_axle = BT_REAR, .bywire_axle = BT_REAR};
    for (int i = 0; i < BT_CAR_COUNT; i++) car.value[i] = car.u[i] = NAN;
    return car;
}

/* The brakes of CHECKS 5.2 [second; Limpert].  Our formula has no efficiency of the caliper: its eta of
 * 0.98 is folded into mu here, the product being all that counts. */
static bt_car limpert_car(double eta)
{
    bt_car car = blank_car();
    car.value[BT_CAR_PAD_FRICTION_FRONT] = car.value[BT_CAR_PAD_FRICTION_REAR] = 0.38 * eta;
    car.value[BT_CAR_PISTON_AREA_FRONT] = 0.00255175863;
    car.value[BT_CAR_PISTON_AREA_REAR] = 0.00101787602;
    car.value[BT_CAR_EFFECTIVE_RADIUS_FRONT] = 0.1175;
    car.value[BT_CAR_EFFECTIVE_RADIUS_REAR] = 0.1250;
    car.value[BT_CAR_THRESHOLD_FRONT] = 0.5e5;
    car.value[BT_CAR_THRESHOLD_REAR] = 0.7e5;
    return car;
}

static bt_torques made(const bt_block *in, const bt_car *car)
{
    bt_torques out = {0};
    ck_assert_int_eq(bt_torques_make(&out, in, car, NULL), BT_OK);
    return out;
}

START_TEST(published_pressures_give_the_published_torques) /* CHECKS 5.2 [second] */
{
    const bt_car car = limpert_car(0.98);
    /* Gains there are of one wheel, per bar: 22.331460 and 9.476426. */
    ck_assert_double_eq_tol(bt_friction_gain(&car, BT_FRONT) * 1e5 / 2, 22.331460, 1e-6);
    ck_assert_double_eq_tol(bt_friction_gain(&car, BT_REAR) * 1e5 / 2, 9.476426, 1e-6);
    const double t[] = {0}, front[] = {60e5}, rear[] = {40e5};
    bt_block in = {.n = 1, .t = t};
    in.ch[BT_CH_LINE_FRONT] = front;
    in.ch[BT_CH_LINE_REAR] = rear;
    bt_torques q = made(&in, &car);
    ck_assert_double_eq_tol(q.front[0], 2657.443799, 1e-5);
    ck_assert_double_eq_tol(q.rear[0], 744.847063, 1e-5);
    ck_assert_double_eq_tol(q.front[0] / (q.front[0] + q.rear[0]), 0.781075, 1e-6);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(
    without_threshold_and_loss_the_published_torque_is_the_plain_product) /* CHECKS 5.2 row 3 */
{
    bt_car car = limpert_car(1);
    car.value[BT_CAR_THRESHOLD_FRONT] = NAN; /* not given: 0 */
    const double gain = bt_friction_gain(&car, BT_FRONT);
    ck_assert_double_eq_tol(bt_friction_torque(gain, bt_friction_threshold(&car, BT_FRONT), 60e5) /
                                2,
                            1367.232275, 1e-5);
}
END_TEST

START_TEST(below_the_threshold_there_is_no_torque_and_without_value_none_is_known)
{
    ck_assert_double_eq(bt_friction_torque(2, 10, 10), 0);
    ck_assert_double_eq(bt_friction_torque(2, 10, -5), 0);
    ck_assert_double_eq(bt_friction_torque(2, 10, 11), 2);
    ck_assert_double_eq(bt_friction_torque(2, 10, 10.5), 1);
    ck_assert_double_nan(bt_friction_torque(2, 10, NAN));
    const bt_car car = blank_car();
    ck_assert_double_nan(bt_friction_gain(&car, BT_REAR));
}
END_TEST

START_TEST(pressures_without_their_gains_make_no_torque_and_a_pedal_without_a_demand_asks_none)
{
    const bt_car car = blank_car();
    const double t[] = {0}, p[] = {20e5};
    bt_block in = {.n = 1, .t = t};
    in.ch[BT_CH_LINE_FRONT] = in.ch[BT_CH_LINE_REAR] = in.ch[BT_CH_PEDAL_REAR] = p;
    bt_torques q = made(&in, &car);
    ck_assert(!q.front && !q.rear && !q.delivered && !q.demand);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(losses_of_the_motor_brake_too) /* CHECKS 7.1 [derived]: -1406.25, not -1296 */
{
    ck_assert_double_eq_tol(bt_motor_axle_torque(-150, 9, 0.96), 1406.25, 1e-9);
    ck_assert_double_eq_tol(bt_motor_axle_torque(150, 9, 0.96), -1296, 1e-9);
    ck_assert_double_eq_tol(bt_motor_axle_torque(0.5, 9, 0.96), -4.32, 1e-12); /* however little */
    ck_assert_double_eq(bt_motor_axle_torque(0, 9, 0.96), 0);
    ck_assert_double_nan(bt_motor_axle_torque(NAN, 9, 0.96));
}
END_TEST

START_TEST(left_and_right_pressures_each_brake_with_half_the_gain)
{
    const bt_car car = limpert_car(1);
    const double t[] = {0, 1}, left[] = {60e5, NAN}, right[] = {0, 60e5}, axle[] = {7e5, 7e5};
    bt_block in = {.n = 2, .t = t};
    in.ch[BT_CH_LINE_FL] = left;
    in.ch[BT_CH_LINE_FR] = right;
    in.ch[BT_CH_LINE_FRONT] = axle; /* the wheels' own sensors know better */
    bt_torques q = made(&in, &car);
    ck_assert_double_eq_tol(q.front[0], 0.5 * bt_friction_gain(&car, BT_FRONT) * 59.5e5, 1e-6);
    ck_assert_double_nan(q.front[1]);
    in.ch[BT_CH_LINE_FR] = NULL; /* one wheel alone: the axle's sensor is the better one */
    ck_assert_int_eq(bt_torques_make(&q, &in, &car, NULL), BT_OK);
    ck_assert_double_eq_tol(q.front[0], bt_friction_gain(&car, BT_FRONT) * 6.5e5, 1e-6);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(the_plain_axle_falls_back_to_its_pedal_and_the_bywire_axle_never_does)
{
    bt_car car = limpert_car(1);
    const double t[] = {0}, p[] = {20.5e5};
    bt_block in = {.n = 1, .t = t};
    in.ch[BT_CH_PEDAL_FRONT] = in.ch[BT_CH_PEDAL_REAR] = p;
    bt_torques q = made(&in, &car);
    ck_assert_double_eq_tol(q.front[0], bt_friction_gain(&car, BT_FRONT) * 20e5, 1e-6);
    ck_assert_ptr_null(q.rear);
    ck_assert_ptr_null(q.delivered);
    bt_torques_clear(&q);
    car.bywire_axle = BT_FRONT;
    q = made(&in, &car);
    ck_assert_ptr_null(q.front);
    ck_assert_double_eq_tol(q.rear[0], bt_friction_gain(&car, BT_REAR) * 19.8e5, 1e-6);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(a_car_without_motor_has_a_motor_torque_of_zero_and_an_unlogged_motor_has_none)
{
    bt_car car = limpert_car(1);
    const double t[] = {0}, p[] = {20.7e5}, tau[] = {-50};
    bt_block in = {.n = 1, .t = t};
    in.ch[BT_CH_LINE_REAR] = p;
    bt_torques q = made(&in, &car);
    ck_assert_double_eq(q.motor[0], 0);
    ck_assert_double_eq(q.req_motor[0], 0);
    ck_assert_double_eq(q.delivered[0], q.rear[0]);
    bt_torques_clear(&q);
    car.value[BT_CAR_MOTOR_RATIO] = 8;
    q = made(&in, &car);
    ck_assert_ptr_null(q.motor);
    ck_assert_ptr_null(q.delivered);
    bt_torques_clear(&q);
    in.ch[BT_CH_MOTOR_TORQUE] = tau; /* efficiency not given: 1 */
    q = made(&in, &car);
    ck_assert_double_eq(q.motor[0], 400);
    ck_assert_double_eq_tol(q.delivered[0], q.rear[0] + 400, 1e-9);
    ck_assert_ptr_null(q.req_motor);
    bt_torques_clear(&q);
    car.value[BT_CAR_MOTOR_RATIO] = NAN; /* a motor that the sheet does not know */
    q = made(&in, &car);
    ck_assert_ptr_null(q.motor);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(a_motor_on_the_other_axle_delivers_nothing_at_the_bywire_axle)
{
    bt_car car = limpert_car(1);
    car.motor_axle = BT_FRONT;
    car.value[BT_CAR_MOTOR_RATIO] = 8;
    const double t[] = {0}, p[] = {20.7e5}, tau[] = {-50}, asked[] = {10.7e5};
    bt_block in = {.n = 1, .t = t};
    in.ch[BT_CH_LINE_REAR] = p;
    in.ch[BT_CH_MOTOR_TORQUE] = tau;
    in.ch[BT_CH_LINE_REQUEST] = asked;
    bt_torques q = made(&in, &car);
    ck_assert(!q.motor_bywire);
    ck_assert_double_eq(q.delivered[0], q.rear[0]);
    ck_assert_double_eq_tol(q.req_friction[0], bt_friction_gain(&car, BT_REAR) * 10e5, 1e-6);
    bt_torques_clear(&q);
}
END_TEST

START_TEST(more_samples_than_before_grow_the_arrays_and_fewer_keep_them)
{
    const bt_car car = limpert_car(1);
    static double t[3 * BT_BLOCK_MAX], p[3 * BT_BLOCK_MAX];
    for (size_t i = 0; i < 3 * BT_BLOCK_MAX; i++) {
        t[i] = (double)i;
        p[i] = 1e5 * (double)i;
    }
    bt_block in = {.n = 10, .t = t};
    in.ch[BT_CH_LINE_FRONT] = in.ch[BT_CH_LINE_REAR] = p;
    bt_torques q = made(&in, &car);
    in.n = 3 * BT_BLOCK_MAX;
    ck_assert_int_eq(bt_torques_make(&q, &in, &car, NULL), BT_OK);
    ck_assert_double_eq_tol(q.rear[in.n - 1],
                            bt_friction_gain(&car, BT_REAR) * (p[in.n - 1] - 0.7e5), 1e-6);
    const double *store = q.store;
    in.n = 5;
    ck_assert_int_eq(bt_torques_make(&q, &in, &car, NULL), BT_OK);
    ck_assert_ptr_eq(q.store, store);
    ck_assert_uint_eq(q.n, 5);
    bt_torques_clear(&q);
    ck_assert_uint_eq(q.n, 0);
}
END_TEST

static bt_channels nothing_logged(void)
{
    bt_channels channels = {0};
    for (int i = 0; i < BT_CH_COUNT; i++) channels.ch[i].column = -1;
    return channels;
}

START_TEST(what_is_missing_is_named_in_the_words_of_map_and_sheet)
{
    bt_channels channels = nothing_logged();
    bt_car car = blank_car();
    char buf[200];
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_FRONT, buf, sizeof buf),
                     "line_front, piston_area_front, pad_friction_front, effective_radius_front");
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_MOTOR, buf, sizeof buf), "");
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_DEMAND, buf, sizeof buf),
                     "pedal_rear, demand_gain or demand_curve or bypass_ratio");
    car = limpert_car(1);
    car.value[BT_CAR_MOTOR_RATIO] = 8;
    car.value[BT_CAR_BYPASS_RATIO] = 1;
    channels.ch[BT_CH_PEDAL_FRONT].column = 1;
    channels.ch[BT_CH_PEDAL_REAR].column = 2;
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_FRONT, buf, sizeof buf), "");
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_REAR, buf, sizeof buf),
                     "line_rear");
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_MOTOR, buf, sizeof buf),
                     "motor_torque");
    car.value[BT_CAR_PAD_FRICTION_REAR] = car.value[BT_CAR_EFFECTIVE_RADIUS_REAR] = NAN;
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_REAR, buf, sizeof buf),
                     "line_rear, pad_friction_rear, effective_radius_rear");
    car = limpert_car(1);
    car.value[BT_CAR_BYPASS_RATIO] = 1;
    ck_assert_str_eq(bt_torque_missing(&channels, &car, BT_TORQUE_DEMAND, buf, sizeof buf), "");
}
END_TEST

START_TEST(a_list_of_what_is_missing_never_leaves_its_buffer)
{
    const bt_channels channels = nothing_logged();
    const bt_car car = blank_car();
    char buf[16];
    memset(buf, 'x', sizeof buf);
    bt_torque_missing(&channels, &car, BT_TORQUE_FRONT, buf, 12);
    ck_assert_str_eq(buf, "line_front");
    ck_assert_int_eq(buf[12], 'x');
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("forces");
    TCase *c = tcase_create("forces");
    tcase_add_test(c, published_pressures_give_the_published_torques);
    tcase_add_test(c, without_threshold_and_loss_the_published_torque_is_the_plain_product);
    tcase_add_test(c, below_the_threshold_there_is_no_torque_and_without_value_none_is_known);
    tcase_add_test(
        c, pressures_without_their_gains_make_no_torque_and_a_pedal_without_a_demand_asks_none);
    tcase_add_test(c, losses_of_the_motor_brake_too);
    tcase_add_test(c, left_and_right_pressures_each_brake_with_half_the_gain);
    tcase_add_test(c, the_plain_axle_falls_back_to_its_pedal_and_the_bywire_axle_never_does);
    tcase_add_test(c,
                   a_car_without_motor_has_a_motor_torque_of_zero_and_an_unlogged_motor_has_none);
    tcase_add_test(c, a_motor_on_the_other_axle_delivers_nothing_at_the_bywire_axle);
    tcase_add_test(c, more_samples_than_before_grow_the_arrays_and_fewer_keep_them);
    tcase_add_test(c, what_is_missing_is_named_in_the_words_of_map_and_sheet);
    tcase_add_test(c, a_list_of_what_is_missing_never_leaves_its_buffer);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
