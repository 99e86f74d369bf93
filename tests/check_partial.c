/* Logs that lack much: right figures where possible, blanks elsewhere, one note, no failure. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

enum { ZONES_MAX = 64 };
static char folder[] = "/tmp/braketally-partial-XXXXXX";
static plant_config cfg;
static plant_zone truth[ZONES_MAX];
static size_t zones;

static void keep_zone(void *ctx, const plant_zone *zone)
{
    (void)ctx;
    if (zones < ZONES_MAX) truth[zones++] = *zone;
}

static void set_up(void)
{
    if (!mkdtemp(folder)) abort();
    plant_defaults(&cfg);
    cfg.laps = 2;
    cfg.deviation.radius[0] = cfg.deviation.radius[1] = 1;
    const plant_sink sink = {.zone = keep_zone};
    if (plant_run(&cfg, &sink)) abort();
}

static void tear_down(void)
{
    rmdir(folder);
}

/* What a log with these columns and these sheet rows must tell. */
typedef struct {
    const char *columns;
    const char
        *sheet; /* rows of the full sheet that stay: prefixes, with blanks between; "*" = all */
    double speed_within; /* of entry and exit, %; a slipping wheel cannot do better */
    bool by_pedal;       /* zones by the pedal: as many as the truth has, at its times */
    bool front, rear, motor, balance, blend, slip;
} partial;

static const partial cases[] = {
    {"time speed", "", 1, false, false, false, false, false, false, false},
    {"time speed pedal_front", "", 0.5, true, false, false, false, false, false, false},
    {"time wheel_fl wheel_fr wheel_rl wheel_rr pedal_front", "", 6, true, false, false, false,
     false, false, true},
    {"time wheel_fl wheel_fr wheel_rl wheel_rr accel_long pedal_front", "", 3, true, false, false,
     false, false, false, true},
    {"time motor_speed pedal_front", "motor_ratio rolling_radius", 14, true, false, false, false,
     false, false, false},
    /* No rear line: the front is known, nothing that needs the rear. */
    {"time speed pedal_front pedal_rear motor_torque", "*", 0.5, true, true, false, true, false,
     false, false},
    /* No motor channel in the log of a car that has one: no balance. */
    {"time speed pedal_front pedal_rear line_rear", "*", 0.5, true, true, true, false, false, false,
     false},
    {"time speed wheel_fl wheel_fr wheel_rl wheel_rr pedal_front pedal_rear line_rear motor_torque",
     "*", 0.5, true, true, true, true, true, true, true},
};

static bool stays(const char *row, const char *wanted)
{
    if (strcmp(wanted, "*") == 0) return true;
    char list[200];
    snprintf(list, sizeof list, "%s", wanted);
    for (char *save, *word = strtok_r(list, " ", &save); word; word = strtok_r(NULL, " ", &save))
        if (strncmp(row, word, strlen(word)) == 0) return true;
    return false;
}

/* A part of the plant's car sheet. */
static void write_sheet(const char *path, const char *wanted)
{
    char whole[256], line[512];
    snprintf(whole, sizeof whole, "%s/whole.csv", folder);
    ck_assert_int_eq(plant_write_car_sheet(&cfg, whole), 0);
    FILE *in = fopen(whole, "r"), *out = fopen(path, "w");
    ck_assert(in && out);
    for (size_t n = 0; fgets(line, sizeof line, in); n++)
        if (n == 0 || stays(line, wanted)) fputs(line, out);
    fclose(in);
    fclose(out);
    remove(whole);
}

static void check_zone(const bt_zone *z, const plant_zone *want, const partial *p)
{
    if (p->by_pedal) {
        ck_assert_double_eq_tol(z->start, want->start, 0.03);
        ck_assert_double_eq_tol(z->start + z->duration, want->end, 0.03);
    }
    if (p->by_pedal || strcmp(p->columns, "time speed") != 0) {
        ck_assert_double_eq_tol(z->entry / want->entry, 1, p->speed_within / 100);
        ck_assert_double_eq_tol(z->exit / want->exit, 1, p->speed_within / 100);
    }
    ck_assert(z->decel_mean > 0 && z->distance > 0);
    ck_assert(p->front == !isnan(z->front));
    ck_assert(p->rear == !isnan(z->rear_friction));
    ck_assert(p->motor == !isnan(z->motor));
    ck_assert(p->balance == !isnan(z->balance));
    ck_assert(p->blend == !isnan(z->blend_rms));
    ck_assert(p->slip == !isnan(z->slip_front));
    ck_assert(p->slip == !isnan(z->lock));
    if (p->front) ck_assert_double_eq_tol(z->front / want->front_nm, 1, 0.04);
    if (p->balance) ck_assert_double_eq_tol(100 * z->balance, want->balance_sheet_pct, 0.7);
}

START_TEST(a_log_that_lacks_much_gives_what_it_can)
{
    const partial *p = &cases[_i];
    char log[256], sheet[256];
    snprintf(log, sizeof log, "%s/log.csv", folder);
    snprintf(sheet, sizeof sheet, "%s/car.csv", folder);
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    plant_log_choose(&opt, p->columns);
    ck_assert_int_eq(plant_write_log(&cfg, log, &opt), 0);
    write_sheet(sheet, p->sheet);

    bt_error err = {0};
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_msg(bt_car_read(car, sheet, &err) == BT_OK, "%s", err.message);
    const bt_setup setup = {.car = car};
    bt_result result;
    ck_assert_msg(bt_analyse(log, &setup, &result, &err) == BT_OK, "%s", err.message);
    ck_assert_str_eq(result.run.status, "ok");
    ck_assert_uint_eq(result.n_zones, zones);
    for (size_t i = 0; i < zones; i++) check_zone(&result.zones[i], &truth[i], p);
    ck_assert_uint_le(result.n_notes, 1);
    bt_result_clear(&result);
    bt_car_free(car);
    remove(log);
    remove(sheet);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("partial logs");
    TCase *t = tcase_create("columns");
    tcase_add_unchecked_fixture(t, set_up, tear_down);
    tcase_set_timeout(t, 120);
    tcase_add_loop_test(t, a_log_that_lacks_much_gives_what_it_can, 0,
                        (int)(sizeof cases / sizeof *cases));
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
