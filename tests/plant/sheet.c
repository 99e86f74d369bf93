/* The car sheet and the channel map that go with a log: nominal values and tolerances. */
#include "plant.h"
#include "text.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static void row(text *t, const char *quantity, double value, int decimals, const char *unit,
                const char *tolerance, const char *note)
{
    text_put(t, quantity);
    text_char(t, ',');
    text_number(t, value, decimals, '.');
    text_char(t, ',');
    text_put(t, unit);
    text_char(t, ',');
    text_put(t, tolerance);
    text_char(t, ',');
    text_put(t, note);
    text_char(t, '\n');
}

/* A quantity of both axles: NAME_front and NAME_rear. */
static void pair(text *t, const char *name, const double value[2], double scale, int decimals,
                 const char *unit, const char *tolerance, const char *note)
{
    static const char *const axles[] = {"front", "rear"};
    for (int axle = 0; axle < 2; axle++) {
        char quantity[64];
        snprintf(quantity, sizeof quantity, "%s_%s", name, axles[axle]);
        row(t, quantity, value[axle] * scale, decimals, unit, tolerance, note);
    }
}

static double inertia_factor(const plant_car *c)
{
    double extra = 0;
    for (int axle = 0; axle < 2; axle++)
        extra += 2 * c->wheel_inertia[axle] / (c->radius[axle] * c->radius[axle]);
    return 1 + extra / c->mass;
}

static void body_rows(text *t, const plant_car *c)
{
    row(t, "mass", c->mass, 0, "kg", "10", "with driver and half a tank");
    row(t, "wheelbase", c->wheelbase * 1000, 0, "mm", "", "");
    row(t, "cg_height", c->cg_height * 1000, 0, "mm", "15", "");
    row(t, "static_front_share", c->static_front_share * 100, 2, "%", "0.5", "corner scales");
    row(t, "inertia_factor", inertia_factor(c), 4, "1", "0.005", "");
    row(t, "road_load_a", c->road_a, 1, "N", "5%", "coast-down");
    row(t, "road_load_b", c->road_b, 2, "N/(m/s)", "10%", "");
    row(t, "road_load_c", c->road_c, 3, "N/(m/s)2", "5%", "");
    pair(t, "rolling_radius", c->radius, 1000, 1, "mm", "1.5", "");
}

static void brake_rows(text *t, const plant_car *c)
{
    pair(t, "piston_area", c->piston_area, 1e4, 2, "cm2", "", "one side of one caliper");
    pair(t, "pad_friction", c->pad_mu, 1, 3, "1", "4%", "dynamometer");
    pair(t, "effective_radius", c->effective_radius, 1000, 1, "mm", "1", "");
    pair(t, "threshold", c->threshold_bar, 1, 2, "bar", "0.1", "");
    pair(t, "disc_mass", c->disc_mass, 1, 2, "kg", "1%", "weighed");
    pair(t, "disc_heat", c->disc_heat, 1, 0, "J/kg/K", "2%", "");
    pair(t, "disc_heat_slope", c->disc_heat_slope, 1, 3, "J/kg/K2", "", "");
    pair(t, "disc_share", c->disc_share, 100, 1, "%", "2", "the rest goes into the pads");
    pair(t, "cool_still", c->cool_still, 1, 2, "W/K", "20%", "");
    pair(t, "cool_speed", c->cool_speed, 1, 3, "W/K/(m/s)", "15%", "");
    pair(t, "disc_limit", c->disc_limit, 1, 0, "°C", "", "");
    row(t, "ambient", c->ambient, 1, "°C", "2", "");
}

static void rear_rows(text *t, const plant_car *c)
{
    if (c->motor) {
        row(t, "motor_ratio", c->motor_ratio, 3, "1", "", "");
        row(t, "motor_efficiency", c->motor_efficiency * 100, 1, "%", "1", "gears and shafts");
        text_put(t, "motor_axle,rear,,,\n");
    }
    if (c->bywire) text_put(t, "bywire_axle,rear,,,\n");
    if (c->bywire && c->demand_kind == PLANT_DEMAND_GAIN) {
        row(t, "demand_gain", c->demand_gain, 2, "N·m/bar", "1%", "");
        row(t, "demand_threshold", c->demand_threshold_bar, 2, "bar", "", "");
    }
    row(t, "bypass_ratio", c->bypass_ratio, 3, "1", "1%", "");
}

static int curve_file(const plant_car *c, const char *sheet)
{
    char path[1024];
    const int n = snprintf(path, sizeof path, "%s.curve", sheet);
    text *t = n > 0 && (size_t)n < sizeof path ? text_open(path) : NULL;
    if (!t) return -1;
    text_put(t, "pedal_bar,axle_nm\n");
    for (int i = 0; i < c->demand_points; i++) {
        text_number(t, c->demand_bar[i], 3, '.');
        text_char(t, ',');
        text_number(t, c->demand_nm[i], 3, '.');
        text_char(t, '\n');
    }
    return text_close(t);
}

int plant_write_car_sheet(const plant_config *cfg, const char *path)
{
    const plant_car *c = &cfg->car;
    errno = 0;
    text *t = text_open(path);
    if (!t) return -1;
    text_put(t, "quantity,value,unit,tolerance,note\n");
    body_rows(t, c);
    brake_rows(t, c);
    rear_rows(t, c);
    if (!c->bywire || c->demand_kind != PLANT_DEMAND_CURVE) return text_close(t);
    const char *slash = strrchr(path, '/');
    text_put(t, "demand_curve,");
    text_put(t, slash ? slash + 1 : path);
    text_put(t, ".curve,,,\n");
    if (text_close(t) != 0) return -1;
    return curve_file(c, path);
}

/* What the map's tolerance says: sensors are trusted no better than this. */
static double tolerance(const plant_config *cfg, const plant_column *c)
{
    const bool pressure = strcmp(plant_channel_unit(c->channel), "bar") == 0;
    const double sigma = cfg->sensor[c->channel].sigma;
    return (pressure && sigma > 0 ? cfg->pressure_sigma : sigma) * fabs(c->scale);
}

/* Clock times have no unit; epoch stamps are told by their size. */
static const char *map_unit(const plant_log_options *opt, const plant_column *c)
{
    if (c->channel != PLANT_TIME || opt->time_format == PLANT_SECONDS) return c->unit;
    return opt->time_format == PLANT_MILLISECONDS ? "ms" : "";
}

int plant_write_map(const plant_config *cfg, const plant_log_options *opt, const char *path)
{
    errno = 0;
    text *t = text_open(path);
    if (!t) return -1;
    text_put(t, "channel,column,unit,scale,offset,tolerance\n");
    for (int i = 0; i < opt->columns; i++) {
        const plant_column *c = &opt->column[i];
        const double sigma = tolerance(cfg, c);
        const bool quote = strchr(c->name, ',') != NULL;
        text_put(t, plant_channel_name(c->channel));
        text_put(t, quote ? ",\"" : ",");
        text_put(t, c->name);
        text_put(t, quote ? "\"," : ",");
        text_put(t, map_unit(opt, c));
        text_char(t, ',');
        if (c->map_scale != 1) text_number(t, c->map_scale, c->map_scale < 0 ? 0 : 6, '.');
        text_put(t, ",,");
        if (sigma > 0) text_number(t, sigma, 7 - (sigma > 1e-3) * 4, '.');
        text_char(t, '\n');
    }
    return text_close(t);
}
