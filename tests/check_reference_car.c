/* The whole line, from a log to zone rows, against handbook examples of brakes, axle loads, motor, road
 * load, heat and delay.
 *
 * The logs are simple: the car slows at a constant rate from one sample to the next.  What that costs at
 * the corner is known: a speed smoothed over +-h reads 3 h a / 32 low there (least-squares quadratic), and
 * trapezoids between samples give away half a step at either end. */
#include "tests/reference/cycle.h"
#include "tests/reference/support.h"

/* ---- a road load, a cycle and the work of the brakes ---- */

#define ROAD    "UN R83 Annex 4a, road load of 1360 kg, on the NEDC"
#define INERTIA 1400.8   /* kg, 1.03 * 1360 */
#define LOAD_A  7.1      /* N */
#define LOAD_C  0.623376 /* N/(m/s)2: 0.0481 N/(km/h)2 */
#define RADIUS  0.30     /* m */
#define FRONT   0.62     /* shares of the brake force, chosen here */
#define MOTOR   0.15
#define GAIN    41.6 /* N*m/bar: 2 * 2 * 0.4 * 20 cm2 * 130 mm */
#define P0      0.5  /* bar */
#define ASKED   20.0 /* N*m more than the rear axle delivers */
#define ASK     5.0  /* N*m/bar */

static const char road_car[] =
    "quantity,value,unit\nmass,1360,kg\ninertia_factor,1.03,1\n"
    "road_load_a,7.1,N\nroad_load_b,0,N/(m/s)\nroad_load_c,0.0481,N/(km/h)2\n"
    "rolling_radius_front,300,mm\nrolling_radius_rear,0.3,m\n"
    "piston_area_front,20,cm2\npiston_area_rear,2000,mm2\npad_friction_front,0.4,1\n"
    "pad_friction_rear,40,%\neffective_radius_front,130,mm\neffective_radius_rear,0.13,m\n"
    "threshold_front,0.5,bar\nthreshold_rear,50,kPa\nmotor_ratio,9,1\nmotor_efficiency,96,%\n"
    "demand_gain,5,N.m/bar\nzone_min_speed,3,m/s\nzone_min_time,0.3,s\n";
static const char road_map[] = "channel,column,unit\nline_front,Front,psi\nline_rear,Rear,kPa\n"
                               "pedal_rear,Pedal,MPa\nmotor_torque,Motor,lbf.ft\n";

/* The log of the cycle from `from` to `to`, with what the brakes must do for it. */
static bt_result road_log(const trace *c, double from, double to, double rate)
{
    ref_file log = ref_open();
    fputs("time,speed [km/h],Front,Rear,Pedal,Motor\n", log.f);
    size_t piece = 0;
    for (long i = 0; i <= lround((to - from) * rate); i++) {
        const double t = from + (double)i / rate;
        while (piece + 2 < c->n && c->t[piece + 1] <= t + 1e-9) piece++;
        const double a = slope(c, piece), v = trace_at(c, t) * REF_KMH;
        const double force = a > 0 ? INERTIA * a - LOAD_A - LOAD_C * v * v : 0;
        const double torque = force * RADIUS, rear = (1 - FRONT - MOTOR) * torque;
        const bool on = force > 0;
        fprintf(log.f, "%.3f,%.7f,%.7f,%.7f,%.9f,%.7f\n", t, v / REF_KMH,
                on ? (FRONT * torque / GAIN + P0) * 1e5 / 6894.757293168362 : 0,
                on ? (rear / GAIN + P0) * 100 : 0,
                on ? (rear + MOTOR * torque + ASKED) / ASK * 0.1 : 0,
                -MOTOR * torque * 0.96 / 9 / 1.3558179483314004);
    }
    return ref_analyse(&log, road_car, road_map, 0);
}

/* Brake work of the last 0.5 m/s of a stop, which are in no zone. */
static double last_work(double a)
{
    const double v2 = 0.25;
    return INERTIA * v2 / 2 - LOAD_A * v2 / (2 * a) - LOAD_C * v2 * v2 / (4 * a);
}

START_TEST(the_brake_work_of_the_last_stop_is_what_road_load_leaves) /* CHECKS 7.5 */
{
    const trace c = nedc();
    bt_result r = road_log(&c, 1100, 1180, 100);
    ck_assert_uint_eq(r.n_zones, 1);
    const bt_zone *z = &r.zones[0];
    const double want = 516126.2083, left = last_work(1.388889);
    const double work = z->energy_front + z->energy_rear + z->energy_motor;
    /* Half a step where the force jumps: by 273, 486 and 486 N at 33, 22 and 14 m/s, over 5 ms: 133 J. */
    const double step = 150;
    REF_HELD("brake work of 120-0 km/h, J", ROAD, "derived", want, work + left, step);
    REF_HELD("- front brakes (62 %), J", ROAD, "derived", FRONT * (want - left), z->energy_front,
             step);
    REF_HELD("- rear brakes (23 %), J", ROAD, "derived", (1 - FRONT - MOTOR) * (want - left),
             z->energy_rear, step);
    REF_HELD("- motor, at the wheel (15 %), J", ROAD, "derived", MOTOR * (want - left),
             z->energy_motor, step);
    REF_HELD("- effort ratio", ROAD, "derived", 1, z->effort_ratio, 1e-3);
    REF_HELD("- balance, %", ROAD, "derived", 100 * FRONT, 100 * z->balance, 1e-3);
    REF_HELD("- hydraulic balance, %", ROAD, "derived", 100 * FRONT / (1 - MOTOR),
             100 * z->balance_hyd, 1e-3);
    REF_HELD("- motor share of the rear axle, %", ROAD, "derived", 100 * MOTOR / (1 - FRONT),
             100 * z->motor_share, 1e-3);
    /* 20 N*m asked more, but for the half step at the start. */
    REF_HELD("- mean blend error put in, N*m", ROAD, "derived", -ASKED, z->blend_mean, 0.05);
    REF_HELD("- its RMS, N*m", ROAD, "derived", ASKED, z->blend_rms, 0.05);
    REF_HELD("- mean deceleration, m/s2", ROAD, "derived", (120 * REF_KMH - 0.5) / (34 - 0.36),
             z->decel_mean, 1e-3);
    bt_result_clear(&r);
}
END_TEST

START_TEST(the_brake_work_of_the_whole_cycle_is_what_road_load_leaves) /* CHECKS 7.5 */
{
    const trace c = nedc();
    fall falls[CORNERS];
    const size_t n = trace_falls(&c, falls);
    bt_result r = road_log(&c, 0, 1180, 100);
    REF_HELD("braking zones of the whole cycle by its pedal", ROAD, "derived", NEDC_ZONES,
             (double)r.n_zones, 0);
    double work = 0;
    for (size_t k = 0; k < r.n_zones; k++)
        work += r.zones[k].energy_front + r.zones[k].energy_rear + r.zones[k].energy_motor;
    for (size_t k = 0; k < n; k++)
        if (c.v[falls[k].last + 1] == 0) work += last_work(slope(&c, falls[k].last));
    /* Half a step of 5 ms at each jump of the force, as above: some 35 J a zone. */
    REF_HELD("- their brake work, J", ROAD, "derived", 1377668.9702, work, 18 * 50);
    bt_result_clear(&r);
}
END_TEST

/* ---- brakes and axle loads ---- */

/* One braking of 3 s from 45 m/s at `decel`; front in psi, rear in kPa; 1000 rows a second. */
static bt_result brake_log(const char *sheet, double decel, double front_bar, double rear_bar)
{
    static const char map[] = "channel,column,unit\npedal_front,F,psi\nline_rear,R,kPa\n";
    ref_file log = ref_open();
    fputs("time,speed [m/s],F,R\n", log.f);
    const double time = fmin(3, 40 / decel);
    for (int i = 0; i <= 5000; i++) {
        const double t = i * 0.001, u = fmin(fmax(t - 1, 0), time);
        const bool on = t > 1 && t < 1 + time;
        fprintf(log.f, "%.3f,%.9f,%.9f,%.9f\n", t, 45 - decel * u,
                on ? front_bar * 1e5 / 6894.757293168362 : 0, on ? rear_bar * 100 : 0);
    }
    bt_result r = ref_analyse(&log, sheet, map, 0);
    ck_assert_uint_eq(r.n_zones, 1);
    return r;
}

/* What smoothing takes off both corners, as a share of the mean deceleration over `time`. */
static double corners(double time)
{
    return 2 * 3 * 0.1 / 32 / time;
}

#define LIMPERT "Limpert, Brake Design and Safety: T = 2 mu eta (p - p0) A r a wheel"
#define PISTONS                                                                                    \
    "quantity,value,unit\nmass,1600,kg\ninertia_factor,1,1\nroad_load_a,0,N\n"                     \
    "rolling_radius_front,315,mm\nrolling_radius_rear,0.315,m\n"                                   \
    "piston_area_front,2551.75863,mm2\npiston_area_rear,10.1787602,cm2\npad_friction_front,0."     \
    "3724,1\n"                                                                                     \
    "effective_radius_front,117.5,mm\neffective_radius_rear,0.125,m\nthreshold_front,0.5,bar\n"    \
    "threshold_rear,70,kPa\nwheelbase,2550,mm\ncg_height,0.54,m\nstatic_front_share,54.9019608,%"  \
    "\n"
/* The caliper's efficiency of 0.98 is in the friction: 0.98 * 0.38. */

START_TEST(published_pressures_give_torques_balance_and_deceleration) /* CHECKS 5.2 */
{
    bt_result r = brake_log(PISTONS "pad_friction_rear,0.3724,1\n", 6.750577, 60, 40);
    const bt_zone *z = &r.zones[0];
    /* A step of 1 ms at either end of 3 s. */
    REF_HELD("front axle torque at 60 bar (two wheels of 1328.7219), N*m", LIMPERT, "second",
             2657.443799, z->front, 1e-3 * 2657);
    REF_HELD("rear axle torque at 40 bar (two wheels of 372.423532), N*m", LIMPERT, "second",
             744.847063, z->rear_friction, 1e-3 * 745);
    REF_HELD("- balance, %", LIMPERT, "derived", 78.1075, 100 * z->balance, 0.01);
    REF_HELD("- deceleration of 1600 kg, m/s2", LIMPERT, "derived", 6.750577, z->decel_mean,
             corners(3) * 6.75 + 1e-3);
    REF_HELD("- effort ratio", LIMPERT, "derived", 1, z->effort_ratio, corners(3) + 2e-3);
    REF_HELD("- ideal balance at that deceleration, %", "Limpert; Gillespie; Wong: (lr + z h) / L",
             "derived", 100 * (1.40 + 6.750577 / REF_G * 0.54) / 2.55, 100 * z->balance_ideal,
             100 * corners(3) * 0.69 * 0.54 / 2.55 + 1e-3);
    bt_result_clear(&r);
    r = brake_log(PISTONS "pad_friction_rear,0.7448,1\n", 6.750577, 60, 40);
    REF_HELD("balance with twice the rear friction (pressures alone: unchanged), %", LIMPERT,
             "derived", 100 * 2657.443799 / (2657.443799 + 2 * 744.847063),
             100 * r.zones[0].balance, 0.01);
    bt_result_clear(&r);
}
END_TEST

static const double ideal_shares[][2] = {{0.3, 61.2549}, {0.6, 67.6078}, {0.9, 73.9608}};

START_TEST(the_ideal_balance_is_the_handbooks) /* CHECKS 5.1 */
{
    const double z = ideal_shares[_i][0];
    bt_result r = brake_log(PISTONS "pad_friction_rear,0.3724,1\n", z * REF_G, 60, 40);
    char figure[60];
    snprintf(figure, sizeof figure, "ideal balance at z = %g, %%", z);
    REF_HELD(figure, "Limpert; Gillespie; Wong: (lr + z h) / L", "derived", ideal_shares[_i][1],
             100 * r.zones[0].balance_ideal, 100 * corners(3) * z * 0.54 / 2.55 + 1e-3);
    bt_result_clear(&r);
}
END_TEST

/* Adhesion used, from what a zone row says: brake force over the dynamic load that the ideal balance is
 * the share of.  phi = 0.72 of z P is on the front axle: 4 mu A r = 50 N*m/bar, radius 0.3 m. */
static const struct {
    double z, f1, f2;
} adhesions[] = {{0.15, 0.185911, 0.100220},
                 {0.2, 0.243364, 0.137156},
                 {0.5, 0.548435, 0.407466},
                 {0.8, 0.798759, 0.803209},
                 {1.0, 0.942093, 1.187729}};

START_TEST(adhesion_used_by_the_axles_is_that_of_the_regulation) /* CHECKS 1.5 */
{
    static const char source[] = "UN R13-H Annex 5: f = T / N";
    static const char sheet[] =
        "quantity,value,unit\nmass,1711.0838,kg\ninertia_factor,1,1\nroad_load_a,0,N\n"
        "rolling_radius_front,0.3,m\nrolling_radius_rear,0.3,m\nthreshold_front,0,bar\n"
        "threshold_rear,0,bar\npiston_area_front,25,cm2\npiston_area_rear,25,cm2\n"
        "pad_friction_front,0.4,1\npad_friction_rear,0.4,1\neffective_radius_front,125,mm\n"
        "effective_radius_rear,125,mm\nwheelbase,2.55,m\ncg_height,0.55,m\n"
        "static_front_share,54.857,%\n"; /* P = 16780 N, of it P1 = 9205 N */
    const double z = adhesions[_i].z, force = z * 16780;
    bt_result r = brake_log(sheet, z * REF_G, 0.72 * force * 0.3 / 50, 0.28 * force * 0.3 / 50);
    const bt_zone *row = &r.zones[0];
    char figure[60];
    /* The share of the static load is rounded to 0.001 %; corners as above, a step of 1 ms in the torque. */
    const double tolerance = (corners(3) + 1.5e-3);
    snprintf(figure, sizeof figure, "adhesion used at z = %g, front", z);
    REF_HELD(figure, source, "second", adhesions[_i].f1,
             row->front / 0.3 / (row->balance_ideal * 16780), tolerance * adhesions[_i].f1);
    REF_HELD("- rear", source, "second", adhesions[_i].f2,
             row->rear_friction / 0.3 / ((1 - row->balance_ideal) * 16780),
             tolerance * adhesions[_i].f2);
    /* They cross at z_c = 0.794813: beyond it the rear locks first. */
    ck_assert_int_eq(row->balance > row->balance_ideal, z < 0.794813);
    bt_result_clear(&r);
}
END_TEST

/* ---- motor ---- */

START_TEST(a_generating_motor_brakes_with_its_losses_and_recovers_its_energy) /* CHECKS 7.1, 7.2 */
{
    static const char source[] = "energy balance of a gear with losses";
    ref_file log = ref_open();
    fputs("time,speed [km/h],pedal_force [N],motor_torque [N.m],battery_voltage "
          "[V],battery_current [A]\n",
          log.f);
    for (int i = -400; i <= 2200; i++) {
        const double t = i / 200.0, v = fmax(0, 100 * REF_KMH - 3 * fmax(t, 0));
        const double motor = i >= 0 && v > 0 ? -150 : 0, turning = v / 0.31 * 9;
        fprintf(log.f, "%.3f,%.9f,%d,%g,400,%.9f\n", t + 2, v / REF_KMH,
                i < 0    ? 0
                : i == 0 ? 11
                         : 200,
                motor, 0.90 * motor * turning / 400);
    }
    bt_result r = ref_analyse(&log,
                              "quantity,value,unit\nmotor_ratio,9,1\nmotor_efficiency,96,%\n"
                              "rolling_radius_front,310,mm\nrolling_radius_rear,310,mm\n",
                              NULL, 0);
    ck_assert_uint_eq(r.n_zones, 1);
    const bt_zone *z = &r.zones[0];
    const double v0 = 100 * REF_KMH, whole = 1 - 0.25 / (v0 * v0); /* down to 0.5 m/s */
    REF_HELD("motor -150 N*m, ratio 9, efficiency 0.96: braking torque at the axle, N*m", source,
             "derived", 1406.25, z->motor, 1e-3);
    REF_HELD("- its work at the wheel, 100 km/h to 0 at 3 m/s2, J", source, "derived",
             583370.669 * whole, z->energy_motor, 5e-4 * 583370);
    REF_HELD("- recovered at the battery, 90 %, J", source, "derived", 504032.258 * whole,
             z->recovered, 5e-4 * 504032);
    bt_result_clear(&r);
}
END_TEST

/* ---- heat ---- */

/* 15 snubs from 120 to 60 km/h at 3 m/s2, one every 45 s, 70 % at the front, 1600 kg: 233333 J into each disc.
 * The handbook's series puts the heat in at once; here it comes over 5.6 s, in which beta 5.6/45 = 1.2 %
 * of the rise is lost already. */
START_TEST(repeated_snubs_heat_the_discs_as_the_handbook_says) /* CHECKS 6.2 */
{
    static const char source[] = "Limpert: repeated stops; FMVSS 135 S7.13";
    static const struct {
        size_t n;
        double rise;
    } rows[] = {
        {1, 67.632850}, {2, 129.203222}, {5, 282.734560}, {10, 459.521148}, {15, 570.061217}};
    const double fast = 120 * REF_KMH, slow = 60 * REF_KMH, time = (fast - slow) / 3;
    ref_file log = ref_open();
    fputs("time,speed [km/h],pedal_front [bar]\n", log.f);
    for (int i = 0; i < 15 * 45 * 20; i++) {
        const double u = fmod(i / 20.0, 45) - 20; /* s behind the snub's start */
        const double v = u < 0 ? fast : u < time ? fast - 3 * u : fmin(fast, slow + (u - time));
        fprintf(log.f, "%.2f,%.6f,%g\n", i / 20.0, v / REF_KMH, u >= 0 && u < time ? 33.6 : 0.0);
    }
    /* 33.6 bar at 30 N*m/bar on 0.3 m: 3360 N, 70 % of 1600 kg at 3 m/s2. */
    bt_result r =
        ref_analyse(&log,
                    "quantity,value,unit\npiston_area_front,15,cm2\npad_friction_front,0.4,1\n"
                    "effective_radius_front,125,mm\nthreshold_front,0,bar\n"
                    "rolling_radius_front,0.3,m\ndisc_mass_front,7.5,kg\n"
                    "disc_heat_front,460,J/kg/K\ndisc_share_front,100,%\n"
                    "cool_still_front,7.2,W/K\ncool_speed_front,0,W/K/(m/s)\nambient,20,Cel\n",
                    NULL, 0);
    ck_assert_uint_eq(r.n_zones, 15);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char figure[60];
        snprintf(figure, sizeof figure, "rise of the front disc at the end of snub %zu, K",
                 rows[i].n);
        REF_HELD(figure, source, "derived", rows[i].rise,
                 r.zones[rows[i].n - 1].disc_front - 293.15,
                 0.0939130435 * time / 45 * rows[i].rise);
    }
    bt_result_clear(&r);
}
END_TEST

/* ---- delay ---- */

/* The axle does what the pedal asked 0.12 s before, up to the end of the log; on a steady rise that is a constant
 * error, the rise times the delay, and no torque fault: the gain stays 1.  (The first 0.06 s of the zone, in
 * which the error still grows, take 0.3 N*m off the mean.) */
START_TEST(a_pure_delay_is_told_from_a_torque_fault) /* CHECKS 10.6 */
{
    static const char source[] = "ramp response of a dead time, closed form";
    const double delay = 0.12, rise = 500; /* s, N*m/s */
    ref_file log = ref_open();
    fputs("time,speed [m/s],pedal_rear [bar],line_rear [bar]\n", log.f);
    for (int i = 0; i <= 400; i++) {
        const double t = i * 0.01 - 1, late = t - delay;
        fprintf(log.f, "%.2f,%.6f,%.8f,%.8f\n", t + 1, 60 - 10 * fmax(t, 0),
                t >= 0 ? rise * t / 20 : 0, late >= 0 ? rise * late / 30 : 0);
    }
    bt_result r =
        ref_analyse(&log,
                    "quantity,value,unit\ndemand_gain,20,N.m/bar\npiston_area_rear,15,cm2\n"
                    "pad_friction_rear,0.4,1\neffective_radius_rear,125,mm\n",
                    NULL, 0);
    ck_assert_uint_eq(r.n_zones, 1);
    const bt_zone *z = &r.zones[0];
    REF_HELD("blend delay of a 0.12 s dead time, s", source, "derived", delay, z->blend_delay,
             1e-3);
    REF_HELD("- gain", source, "derived", 1, z->blend_gain, 2e-3);
    REF_HELD("- mean error on a rise of 500 N*m/s, N*m", source, "derived", -rise * delay,
             z->blend_mean, 0.5);
    bt_result_clear(&r);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("reference: the car");
    TCase *t = tcase_create("car");
    tcase_set_timeout(t, 60);
    tcase_add_test(t, the_brake_work_of_the_last_stop_is_what_road_load_leaves);
    tcase_add_test(t, the_brake_work_of_the_whole_cycle_is_what_road_load_leaves);
    tcase_add_test(t, published_pressures_give_torques_balance_and_deceleration);
    tcase_add_loop_test(t, the_ideal_balance_is_the_handbooks, 0, 3);
    tcase_add_loop_test(t, adhesion_used_by_the_axles_is_that_of_the_regulation, 0, 5);
    tcase_add_test(t, a_generating_motor_brakes_with_its_losses_and_recovers_its_energy);
    tcase_add_test(t, repeated_snubs_heat_the_discs_as_the_handbook_says);
    tcase_add_test(t, a_pure_delay_is_told_from_a_torque_fault);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
