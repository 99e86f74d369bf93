/* The simulator against closed forms and its own bookkeeping: what it calls true has to be. */
#include "tests/check_support.h"
#include "tests/plant/plant.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

#define ZONES_MAX  256
#define EVENTS_MAX 64

/* What a run left behind. */
typedef struct {
    uint64_t rows_hash, row_count;
    int zones, events;
    plant_zone zone[ZONES_MAX];
    plant_event event[EVENTS_MAX];
    plant_ledger ledger;
} record;

static void hash_row(void *ctx, const plant_row *row)
{
    record *r = ctx;
    r->row_count++;
    for (int ch = 0; ch < PLANT_CHANNELS; ch++) {
        uint64_t bits;
        memcpy(&bits, &row->value[ch], sizeof bits);
        r->rows_hash = (r->rows_hash ^ bits) * UINT64_C(1099511628211); /* FNV-1a */
    }
}

static void keep_zone(void *ctx, const plant_zone *zone)
{
    record *r = ctx;
    ck_assert_int_lt(r->zones, ZONES_MAX);
    r->zone[r->zones++] = *zone;
}

static void keep_event(void *ctx, const plant_event *event)
{
    record *r = ctx;
    ck_assert_int_lt(r->events, EVENTS_MAX);
    r->event[r->events++] = *event;
}

static void keep_ledger(void *ctx, const plant_ledger *ledger)
{
    ((record *)ctx)->ledger = *ledger;
}

static record recorded(const plant_config *cfg)
{
    record r = {0};
    const plant_sink sink = {
        .ctx = &r, .row = hash_row, .zone = keep_zone, .event = keep_event, .ledger = keep_ledger};
    ck_assert_int_eq(plant_run(cfg, &sink), 0);
    return r;
}

static void scenario(plant_config *cfg, plant_log_options *opt, const char *name, int laps)
{
    plant_defaults(cfg);
    plant_log_defaults(opt, cfg);
    const plant_scenario *s = plant_scenario_find(name);
    ck_assert_ptr_nonnull(s);
    cfg->laps = laps;
    s->prepare(cfg, opt);
}

START_TEST(equal_seeds_give_equal_rows_and_others_do_not)
{
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 1;
    const record a = recorded(&cfg), b = recorded(&cfg);
    cfg.seed = 2;
    const record c = recorded(&cfg);
    ck_assert_uint_eq(a.rows_hash, b.rows_hash);
    ck_assert_uint_ne(a.rows_hash, c.rows_hash);
}
END_TEST

START_TEST(the_log_rate_and_the_sensors_do_not_touch_the_physics)
{
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 1;
    const record a = recorded(&cfg);
    cfg.rate = 500;
    plant_perfect_sensors(&cfg);
    const record b = recorded(&cfg);
    ck_assert_int_eq(a.zones, b.zones);
    ck_assert_int_eq(a.zones, 9);
    for (int i = 0; i < a.zones; i++) {
        ck_assert_double_eq(a.zone[i].start, b.zone[i].start);
        ck_assert_double_eq(a.zone[i].balance_pct, b.zone[i].balance_pct);
    }
}
END_TEST

/* Work done by each force, from the states alone, by the trapezoid rule. */
typedef struct {
    plant_config cfg;
    plant_state last;
    int n;
    double kinetic0, kinetic1, front, rear, motor, road;
    plant_ledger ledger;
} works;

static double kinetic(const plant_config *cfg, const plant_state *s)
{
    double e = 0.5 * cfg->car.mass * s->v * s->v;
    for (int w = 0; w < 4; w++)
        e += 0.5 * cfg->car.wheel_inertia[w / 2] * s->omega[w] * s->omega[w];
    return e;
}

static double trapezoid(double a, double b, double dt)
{
    return 0.5 * (a + b) * dt;
}

static void add_work(void *ctx, const plant_state *s)
{
    works *k = ctx;
    const plant_state *l = &k->last;
    const plant_car *c = &k->cfg.car;
    if (k->n++ == 0) {
        k->kinetic0 = kinetic(&k->cfg, s);
    } else {
        const double dt = s->t - l->t;
        k->front += trapezoid(l->front_nm * (l->omega[0] + l->omega[1]) / 2,
                              s->front_nm * (s->omega[0] + s->omega[1]) / 2, dt);
        k->rear += trapezoid(l->rear_friction_nm * (l->omega[2] + l->omega[3]) / 2,
                             s->rear_friction_nm * (s->omega[2] + s->omega[3]) / 2, dt);
        k->motor += trapezoid(l->motor_nm * (l->omega[2] + l->omega[3]) / 2,
                              s->motor_nm * (s->omega[2] + s->omega[3]) / 2, dt);
        k->road += trapezoid((c->road_a + c->road_b * l->v + c->road_c * l->v * l->v) * l->v,
                             (c->road_a + c->road_b * s->v + c->road_c * s->v * s->v) * s->v, dt);
    }
    k->kinetic1 = kinetic(&k->cfg, s);
    k->last = *s;
}

static void add_ledger(void *ctx, const plant_ledger *ledger)
{
    ((works *)ctx)->ledger = *ledger;
}

#define WITHIN(share, a, b) ck_assert_double_eq_tol((a), (b), (share)*fabs(b))

START_TEST(energy_closes)
{
    works k = {0};
    plant_defaults(&k.cfg);
    k.cfg.laps = 2;
    if (_i == 1) plant_stops_programme(&k.cfg);
    const plant_sink sink = {.ctx = &k, .step = add_work, .ledger = add_ledger};
    ck_assert_int_eq(plant_run(&k.cfg, &sink), 0);
    const plant_ledger *l = &k.ledger;
    const double left = l->drive - l->front - l->rear - l->motor - l->road - l->slip;
    ck_assert_double_gt(l->drive, 5e6);
    ck_assert_double_gt(l->front, l->rear);
    ck_assert_double_eq_tol(left, l->kinetic, 0.005 * l->front);
    ck_assert_double_eq_tol(k.kinetic1 - k.kinetic0, l->kinetic, 0.001 * l->front);
    WITHIN(0.002, k.front, l->front);
    WITHIN(0.002, k.rear, l->rear);
    WITHIN(0.005, k.motor, l->motor);
    WITHIN(0.002, k.road, l->road);
}
END_TEST

START_TEST(energies_of_the_zones_add_up_to_what_the_brakes_took)
{
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 2;
    const record r = recorded(&cfg);
    double front = 0, rear = 0;
    for (int i = 0; i < r.zones; i++) {
        front += r.zone[i].energy_front;
        rear += r.zone[i].energy_rear;
    }
    WITHIN(0.005, front, r.ledger.front); /* below the off pressure little is done */
    WITHIN(0.01, rear, r.ledger.rear);
}
END_TEST

/* Worst differences while a silent fallback is on, after the line has settled. */
typedef struct {
    plant_config cfg;
    double since, worst_bar, worst_motor, pedal, worst_rate;
    int seen, flagged;
} bypass_watch;

static void watch_bypass(void *ctx, const plant_state *s)
{
    bypass_watch *w = ctx;
    w->worst_rate = fmax(w->worst_rate, fabs(s->pedal_rear_bar - w->pedal) / 0.001);
    w->pedal = s->pedal_rear_bar;
    if (!s->fallback) w->since = s->t;
    if (s->t - w->since < 0.3 || !s->fallback) return;
    const double by = w->cfg.car.bypass_ratio * s->pedal_rear_bar;
    if (s->flag) w->flagged++;
    if (s->pedal_rear_bar < 5) return;
    w->seen++;
    w->worst_bar = fmax(w->worst_bar, fabs(s->line_rear_bar - by));
    w->worst_motor = fmax(w->worst_motor, fabs(s->motor_nm));
}

START_TEST(a_silent_fallback_is_ratio_times_pedal_and_no_motor)
{
    bypass_watch w = {0};
    plant_log_options opt;
    scenario(&w.cfg, &opt, "fallback-silent", 8);
    const plant_sink sink = {.ctx = &w, .step = watch_bypass};
    ck_assert_int_eq(plant_run(&w.cfg, &sink), 0);
    ck_assert_int_gt(w.seen, 20000);
    ck_assert_int_eq(w.flagged, 0);
    /* A first-order lag is never further behind than lag x the steepest slope. */
    ck_assert_double_le(w.worst_bar, w.cfg.control.bypass_lag * w.worst_rate);
    ck_assert_double_lt(w.worst_bar, 3.5);
    ck_assert_double_lt(w.worst_motor, 1e-3);
    const record r = recorded(&w.cfg);
    ck_assert_int_eq(r.events, 1);
    ck_assert_str_eq(r.event[0].kind, "silent-fallback");
    ck_assert(!r.event[0].flagged);
    ck_assert_int_eq(r.event[0].lap, 5);
    int fallback = 0, mixed = 0;
    for (int i = 0; i < r.zones; i++) {
        fallback += strcmp(r.zone[i].mode, "fallback") == 0;
        mixed += strcmp(r.zone[i].mode, "mixed") == 0;
    }
    ck_assert_int_eq(mixed, 1); /* lap 5 corner 3, then 6 + 9 + 9 whole ones up to lap 8 */
    ck_assert_int_eq(fallback, 24);
}
END_TEST

/* Every step of a short run, to look zones up in. */
#define STEPS_MAX 400000
typedef struct {
    int n;
    float pedal[STEPS_MAX];
    double v[STEPS_MAX], s[STEPS_MAX];
} history;
static history past;

static void remember(void *ctx, const plant_state *s)
{
    (void)ctx;
    ck_assert_int_lt(past.n, STEPS_MAX);
    past.pedal[past.n] = (float)s->pedal_front_bar;
    past.v[past.n] = s->v;
    past.s[past.n++] = s->s;
}

static double at_time(const double *x, double t)
{
    const int i = (int)floor(t * 1000);
    const double f = t * 1000 - i;
    return x[i] + f * (x[i + 1] - x[i]);
}

START_TEST(zones_agree_with_speed_and_pedal)
{
    plant_config cfg;
    plant_log_options opt;
    scenario(&cfg, &opt, _i == 0 ? "healthy" : "stops", 2);
    past.n = 0;
    record r = {0};
    const plant_sink sink = {.ctx = &r, .step = remember, .zone = keep_zone};
    ck_assert_int_eq(plant_run(&cfg, &sink), 0);
    ck_assert_int_eq(r.zones, _i == 0 ? 18 : 10);
    for (int i = 0; i < r.zones; i++) {
        const plant_zone *z = &r.zone[i];
        const int a = (int)ceil(z->start * 1000), b = (int)floor(z->end * 1000);
        ck_assert_double_eq_tol(z->entry, at_time(past.v, z->start), 0.01);
        ck_assert_double_eq_tol(z->exit, at_time(past.v, z->end), 0.02);
        ck_assert_double_eq_tol(z->distance, at_time(past.s, z->end) - at_time(past.s, z->start),
                                0.1);
        ck_assert_float_ge(past.pedal[a], 1.49f);
        ck_assert_float_lt(past.pedal[a - 2], 1.5f);
        if (_i == 0) {
            ck_assert_float_ge(past.pedal[b], 1.49f);
            ck_assert_float_lt(past.pedal[b + 2], 1.5f);
        } else {
            ck_assert_double_eq_tol(z->exit, 0.5, 0.02);
            ck_assert(z->mfdd > z->decel_mean && z->mfdd < z->decel_peak);
        }
        double peak = 0;
        for (int k = a; k <= b; k++) peak = fmax(peak, past.pedal[k]);
        ck_assert_double_eq_tol(z->pedal_peak_bar, peak, 0.01);
        ck_assert_double_le(z->decel_peak200, z->decel_peak);
        ck_assert_double_gt(z->decel_peak200, z->decel_mean);
    }
}
END_TEST

START_TEST(a_short_lift_is_one_zone_and_a_long_one_two)
{
    static const struct {
        double lift;
        int zones;
    } cases[] = {{0.12, 9}, {0.22, 9}, {0.5, 10}};
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 1;
    plant_fault *f = plant_add_fault(&cfg, PLANT_FAULT_PEDAL_LIFT);
    f->lap = 1;
    f->corner = 3;
    f->delay = 1.2;
    f->duration = cases[_i].lift;
    ck_assert_int_eq(recorded(&cfg).zones, cases[_i].zones);
}
END_TEST

START_TEST(the_sheet_torque_is_the_textbook_product)
{
    plant_config cfg;
    plant_defaults(&cfg);
    /* 4 x 0.46 x 23.1 cm2 x 148 mm x (40.5 - 0.5) bar and 4 x 0.43 x 13.5 cm2 x 136 mm x 30 bar */
    ck_assert_double_eq_tol(plant_friction_nm(&cfg.car, 0, 40.5), 2516.2368, 1e-3);
    ck_assert_double_eq_tol(plant_friction_nm(&cfg.car, 1, 30.6), 947.376, 1e-3);
    ck_assert_double_eq(plant_friction_nm(&cfg.car, 1, 0.4), 0);
    ck_assert_double_eq_tol(plant_demand_nm(&cfg.car, 10.8), 440, 1e-9);
}
END_TEST

/* Over an application that starts at rest and settles, the area between request and line is
 * (dead time + lag) x the pressure reached, whatever the shape in between. */
typedef struct {
    double area, reached, until;
} follow;

static void add_area(void *ctx, const plant_state *s)
{
    follow *f = ctx;
    if (s->t > f->until) return;
    f->area += (s->line_request_bar - s->line_rear_bar) * 0.001;
    f->reached = s->line_rear_bar;
}

START_TEST(the_line_follows_its_request_after_dead_time_and_lag)
{
    plant_config cfg;
    plant_defaults(&cfg);
    plant_stops_programme(&cfg);
    cfg.track.stops = 1;
    cfg.track.stop[0] = (plant_stop){40, 0.8};
    cfg.driver.modulation = cfg.driver.scatter = 0;
    cfg.car.motor = false;
    cfg.control.noise_bar = 0;
    cfg.control.dead_time = 0.06;
    cfg.control.lag = 0.045;
    const record r = recorded(&cfg);
    ck_assert_int_eq(r.zones, 1);
    follow f = {.until = r.zone[0].start + 2};
    const plant_sink sink = {.ctx = &f, .step = add_area};
    ck_assert_int_eq(plant_run(&cfg, &sink), 0);
    ck_assert_double_gt(f.reached, 20);
    ck_assert_double_eq_tol(f.area / f.reached, 0.105, 0.001);
}
END_TEST

START_TEST(a_by_wire_axle_without_error_delivers_its_demand_when_settled)
{
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 1;
    cfg.driver.modulation = 0;
    cfg.control.dead_time = cfg.control.lag = 0;
    cfg.control.motor_lag = cfg.control.noise_bar = 0;
    cfg.control.cycle = 0.001;
    const record r = recorded(&cfg);
    for (int i = 0; i < r.zones; i++) {
        ck_assert_double_lt(r.zone[i].blend_rms_nm, 0.01 * r.zone[i].demand_nm);
        ck_assert_double_eq_tol(r.zone[i].effort_ratio, 1, 0.005);
    }
}
END_TEST

START_TEST(a_disc_that_cannot_cool_keeps_its_share_of_the_energy)
{
    plant_config cfg;
    plant_defaults(&cfg);
    plant_stops_programme(&cfg);
    cfg.track.stops = 3;
    for (int axle = 0; axle < 2; axle++) {
        cfg.car.cool_still[axle] = cfg.car.cool_speed[axle] = cfg.car.disc_heat_slope[axle] = 0;
    }
    const record r = recorded(&cfg);
    double front = 0;
    for (int i = 0; i < 3; i++) front += r.zone[i].energy_front;
    const double rise = cfg.car.disc_share[0] * front / 2 / (cfg.car.disc_mass[0] * 460);
    ck_assert_double_eq_tol(r.zone[2].disc_front - cfg.disc_start, rise, 0.01 * rise);
}
END_TEST

START_TEST(lost_grip_locks_that_wheel_and_no_other)
{
    plant_config cfg;
    plant_log_options opt;
    scenario(&cfg, &opt, "lock-up", 5);
    const record r = recorded(&cfg);
    double lock[4] = {0};
    int locks = 0;
    for (int i = 0; i < r.events; i++) {
        if (strcmp(r.event[i].kind, "wheel-lock") != 0) continue;
        locks++;
        lock[r.event[i].wheel] += r.event[i].end - r.event[i].start;
    }
    ck_assert_int_eq(locks, 2);
    ck_assert(lock[0] > 0.1 && lock[3] > 0.1 && lock[1] <= 0 && lock[2] <= 0);
    double in_zones = 0;
    for (int i = 0; i < r.zones; i++) in_zones += r.zone[i].lock_s;
    ck_assert_double_eq_tol(in_zones, lock[0] + lock[3], 0.003);
}
END_TEST

typedef struct {
    double sum, square;
    int n, off_grid, blanks, rows;
} spread;

static void add_pedal(void *ctx, const plant_row *row)
{
    spread *s = ctx;
    const double x = row->value[PLANT_PEDAL_FRONT];
    s->rows++;
    s->blanks += isnan(row->value[PLANT_DISC_FL]);
    if (fabs(x / 0.05 - round(x / 0.05)) > 1e-6) s->off_grid++;
    if (row->truth->pedal_front_bar > 0) return;
    s->n++;
    s->sum += x;
    s->square += x * x;
}

START_TEST(a_sensor_adds_its_offset_its_noise_and_its_steps)
{
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 1;
    spread s = {0};
    const plant_sink sink = {.ctx = &s, .row = add_pedal};
    ck_assert_int_eq(plant_run(&cfg, &sink), 0);
    const double mean = s.sum / s.n, sigma = sqrt(s.square / s.n - mean * mean);
    ck_assert_int_gt(s.n, 3000);
    ck_assert_int_eq(s.off_grid, 0);
    /* 0.35 bar offset, 0.08 bar noise and the converter's 0.05 / sqrt(12); five standard errors */
    ck_assert_double_eq_tol(mean, 0.35, 5 * 0.082 / sqrt(s.n));
    ck_assert_double_eq_tol(sigma, sqrt(0.08 * 0.08 + 0.05 * 0.05 / 12),
                            5 * 0.082 / sqrt(2.0 * s.n));
    ck_assert_double_eq_tol((double)s.blanks / s.rows, 0.9, 0.01); /* discs at 10 Hz of 100 */
}
END_TEST

static int lines_of(const char *path, char *first, int size)
{
    char chunk[4096];
    int lines = 0, n;
    gzFile z = gzopen(path, "rb");
    ck_assert_ptr_nonnull(z);
    ck_assert_ptr_nonnull(gzgets(z, first, size));
    lines = 1;
    while ((n = gzread(z, chunk, sizeof chunk)) > 0)
        for (int i = 0; i < n; i++) lines += chunk[i] == '\n';
    gzclose(z);
    return lines;
}

START_TEST(a_log_has_a_header_and_every_row)
{
    char folder[] = "/tmp/check_plant_XXXXXX", path[64], first[256];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/log.csv.gz", folder);
    plant_config cfg;
    plant_log_options opt;
    plant_defaults(&cfg);
    cfg.time_limit = 20;
    plant_log_defaults(&opt, &cfg);
    plant_log_choose(&opt, "time pedal_front lap");
    ck_assert_int_eq(plant_log_unit(&opt, PLANT_PEDAL_FRONT, "Pedal", "kPa"), 0);
    ck_assert_int_eq(plant_log_unit(&opt, PLANT_PEDAL_FRONT, NULL, "furlong"), -1);
    ck_assert_int_eq(plant_write_log(&cfg, path, &opt), 0);
    ck_assert_int_eq(lines_of(path, first, sizeof first), 1 + 2001); /* both ends of 20 s */
    ck_assert_str_eq(first, "time [s],Pedal,lap\n");

    unsigned char head[8] = {0};
    FILE *f = fopen(path, "rb");
    ck_assert_ptr_nonnull(f);
    ck_assert_uint_eq(fread(head, 1, sizeof head, f), sizeof head);
    fclose(f);
    ck_assert(head[0] == 0x1f && head[1] == 0x8b);
    for (int i = 4; i < 8; i++) ck_assert_uint_eq(head[i], 0); /* no time in it */
    unlink(path);
    rmdir(folder);
}
END_TEST

START_TEST(what_cannot_be_simulated_is_refused)
{
    plant_config cfg;
    plant_defaults(&cfg);
    const plant_sink none = {0};
    cfg.rate = 0;
    ck_assert_int_eq(plant_run(&cfg, &none), -1);
    plant_defaults(&cfg);
    cfg.track.corner[2].apex = 10; /* behind the one before */
    ck_assert_int_eq(plant_run(&cfg, &none), -1);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("plant");
    TCase *t = tcase_create("plant");
    tcase_set_timeout(t, 60);
    tcase_add_test(t, equal_seeds_give_equal_rows_and_others_do_not);
    tcase_add_test(t, the_log_rate_and_the_sensors_do_not_touch_the_physics);
    tcase_add_loop_test(t, energy_closes, 0, 2);
    tcase_add_test(t, energies_of_the_zones_add_up_to_what_the_brakes_took);
    tcase_add_test(t, a_silent_fallback_is_ratio_times_pedal_and_no_motor);
    tcase_add_loop_test(t, zones_agree_with_speed_and_pedal, 0, 2);
    tcase_add_loop_test(t, a_short_lift_is_one_zone_and_a_long_one_two, 0, 3);
    tcase_add_test(t, the_sheet_torque_is_the_textbook_product);
    tcase_add_test(t, the_line_follows_its_request_after_dead_time_and_lag);
    tcase_add_test(t, a_by_wire_axle_without_error_delivers_its_demand_when_settled);
    tcase_add_test(t, a_disc_that_cannot_cool_keeps_its_share_of_the_energy);
    tcase_add_test(t, lost_grip_locks_that_wheel_and_no_other);
    tcase_add_test(t, a_sensor_adds_its_offset_its_noise_and_its_steps);
    tcase_add_test(t, a_log_has_a_header_and_every_row);
    tcase_add_test(t, what_cannot_be_simulated_is_refused);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
