/* What the fuzz targets share: claims that must hold, and bytes as a file for what takes a path. */
#ifndef BT_FUZZ_SUPPORT_H
#define BT_FUZZ_SUPPORT_H

#include "braketally.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

#define must(claim)                                                                                \
    do {                                                                                           \
        if (!(claim)) {                                                                            \
            fprintf(stderr, "%s:%d: does not hold: %s\n", __FILE__, __LINE__, #claim);             \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

/* A failure says what it is, in one line; a success leaves the error alone. */
static inline void must_explain(bt_status status, const bt_error *err)
{
    must((unsigned)status < BT_STATUS_COUNT);
    must(status == err->status);
    must(status == BT_OK || err->message[0] != '\0');
    for (const char *c = err->message; *c; c++) must((unsigned char)*c >= ' ');
}

/* A file without a name that holds other bytes each time; `path` opens it from its start. */
typedef struct {
    FILE *file;
    char path[32];
} scratch;

static inline void scratch_fill(scratch *s, const void *bytes, size_t n)
{
    if (!s->file) {
        s->file = tmpfile();
        must(s->file);
        snprintf(s->path, sizeof s->path, "/dev/fd/%d", fileno(s->file));
    }
    const int fd = fileno(s->file);
    must(ftruncate(fd, 0) == 0 && pwrite(fd, bytes, n, 0) == (ssize_t)n);
}

/* A car whose every quantity is given. */
static inline bt_car *full_car(void)
{
    static const char *const rows[] = {
        "mass=1240 kg",
        "wheelbase=2620 mm",
        "cg_height=440 mm",
        "static_front_share=48.5 %",
        "inertia_factor=1.04",
        "road_load_a=175 N",
        "road_load_b=2.2 N/(m/s)",
        "road_load_c=0.62 N/(m/s)2",
        "rolling_radius_front=322 mm",
        "rolling_radius_rear=334 mm",
        "piston_area_front=23.1 cm2",
        "piston_area_rear=13.5 cm2",
        "pad_friction_front=0.46",
        "pad_friction_rear=0.43",
        "effective_radius_front=148 mm",
        "effective_radius_rear=136 mm",
        "threshold_front=0.5 bar",
        "threshold_rear=0.6 bar",
        "disc_mass_front=7.4 kg",
        "disc_mass_rear=5.2 kg",
        "disc_heat_front=460 J/kg/K",
        "disc_heat_rear=460 J/kg/K",
        "disc_heat_slope_front=0.24 J/kg/K2",
        "disc_heat_slope_rear=0.24 J/kg/K2",
        "disc_share_front=90 %",
        "disc_share_rear=90 %",
        "cool_still_front=5 W/K",
        "cool_still_rear=4 W/K",
        "cool_speed_front=1.45 W/K/(m/s)",
        "cool_speed_rear=0.8 W/K/(m/s)",
        "disc_limit_front=650 Cel",
        "disc_limit_rear=550 Cel",
        "ambient=17 Cel",
        "motor_ratio=8.2",
        "motor_efficiency=95 %",
        "demand_gain=44 N.m/bar",
        "demand_threshold=0.8 bar",
        "bypass_ratio=0.95",
    };
    bt_car *car;
    if (bt_car_new(&car, NULL) != BT_OK) abort();
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        must(bt_car_set(car, rows[i], NULL) == BT_OK);
    return car;
}

/* Writes to nowhere. */
static inline bt_status ignore(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)user, (void)bytes, (void)n, (void)err;
    return BT_OK;
}

#endif
