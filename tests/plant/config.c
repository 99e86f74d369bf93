/* The Tern, its sensors and the Saltmarsh lap: the figures everything starts from.
 * They are invented, of the size of a light battery-hybrid coupé with racing brakes. */
#include "plant.h"

#include <math.h>
#include <string.h>

static const plant_car tern = {
    .mass = 1240,
    .wheelbase = 2.62,
    .cg_height = 0.44,
    .static_front_share = 0.485,
    .wheel_inertia = {1.05, 1.55},
    .road_a = 175,
    .road_b = 2.2,
    .road_c = 0.62,
    .radius = {0.322, 0.334},
    .piston_area = {0.00231, 0.00135},
    .pad_mu = {0.46, 0.43},
    .effective_radius = {0.148, 0.136},
    .threshold_bar = {0.5, 0.6},
    .disc_mass = {7.4, 5.2},
    .disc_heat = {460, 460},
    .disc_heat_slope = {0.24, 0.24},
    .disc_share = {0.90, 0.90},
    .cool_still = {5, 4},
    .cool_speed = {1.45, 0.80},
    .disc_limit = {650, 550},
    .ambient = 17,
    .grip_peak = 1.62,
    .tyre_b = 11,
    .tyre_c = 1.5,
    .bywire = true,
    .motor = true,
    .motor_ratio = 8.2,
    .motor_efficiency = 0.95,
    .motor_torque_max = 82,
    .motor_power_max = 85e3,
    .fade_high = 9,
    .fade_low = 3.5,
    .demand_kind = PLANT_DEMAND_GAIN,
    .demand_gain = 44,
    .demand_threshold_bar = 0.8,
    .bypass_ratio = 0.95,
    .drive_power = 290e3,
    .drive_force_max = 7200,
    .boost_power = 26e3,
};

/* apex m, speed m/s, wanted decel g, angle deg (left positive) */
static const plant_corner saltmarsh[] = {
    {380, 24, 1.10, 85},   {640, 31, 0.55, -40},  {990, 19, 1.25, 115},
    {1290, 33, 0.60, 40},  {1590, 27, 0.95, -70}, {1930, 36, 0.70, 55},
    {2240, 21, 1.18, 100}, {2540, 34, 0.45, -35}, {2860, 23, 1.05, 110},
};

static const plant_stop stops[] = {
    {50 / 3.6, 0.8},  {80 / 3.6, 0.5},   {80 / 3.6, 1.0},  {100 / 3.6, 1.1}, {100 / 3.6, 1.1},
    {120 / 3.6, 0.7}, {150 / 3.6, 1.15}, {150 / 3.6, 0.9}, {180 / 3.6, 1.1}, {200 / 3.6, 1.2},
};

static void sensors(plant_config *cfg)
{
    plant_sensor *s = cfg->sensor;
    s[PLANT_SPEED] = (plant_sensor){.sigma = 0.03, .quantum = 0.01};
    for (int w = 0; w < 4; w++) {
        s[PLANT_WHEEL_FL + w] = (plant_sensor){.sigma = 0.04, .quantum = 0.01};
        s[PLANT_LINE_FL + w] = (plant_sensor){.sigma = 0.08, .quantum = 0.05, .offset = 0.1 * w};
        s[PLANT_DISC_FL + w] = (plant_sensor){.sigma = 1.5, .quantum = 0.5, .period = 0.1};
    }
    s[PLANT_PEDAL_FRONT] = (plant_sensor){.offset = 0.35, .sigma = 0.08, .quantum = 0.05};
    s[PLANT_PEDAL_REAR] = (plant_sensor){.offset = -0.20, .sigma = 0.08, .quantum = 0.05};
    s[PLANT_PEDAL_TRAVEL] = (plant_sensor){.offset = 0.2, .sigma = 0.03, .quantum = 0.02};
    s[PLANT_PEDAL_FORCE] = (plant_sensor){.sigma = 2, .quantum = 1};
    s[PLANT_LINE_FRONT] = (plant_sensor){.offset = 0.25, .sigma = 0.08, .quantum = 0.05};
    s[PLANT_LINE_REAR] = (plant_sensor){.offset = 0.45, .sigma = 0.08, .quantum = 0.05};
    s[PLANT_LINE_REQUEST] = (plant_sensor){.quantum = 0.05};
    s[PLANT_MOTOR_TORQUE] = (plant_sensor){.sigma = 0.4, .quantum = 0.1};
    s[PLANT_MOTOR_REQUEST] = (plant_sensor){.quantum = 0.1};
    s[PLANT_MOTOR_SPEED] = (plant_sensor){.sigma = 4, .quantum = 1};
    s[PLANT_BATTERY_VOLTAGE] = (plant_sensor){.sigma = 0.2, .quantum = 0.1};
    s[PLANT_BATTERY_CURRENT] = (plant_sensor){.offset = 0.3, .sigma = 0.3, .quantum = 0.1};
    s[PLANT_BIAS_SETTING] = (plant_sensor){.quantum = 0.1};
    s[PLANT_ACCEL_LONG] = (plant_sensor){.offset = 0.06, .sigma = 0.15, .quantum = 0.01};
    s[PLANT_ACCEL_LAT] = (plant_sensor){.offset = -0.04, .sigma = 0.15, .quantum = 0.01};
    s[PLANT_LAP_DISTANCE] = (plant_sensor){.quantum = 0.1};
    s[PLANT_LATITUDE] = (plant_sensor){.sigma = 4e-6, .quantum = 1e-7, .period = 0.1};
    s[PLANT_LONGITUDE] = (plant_sensor){.sigma = 6e-6, .quantum = 1e-7, .period = 0.1};
    s[PLANT_AMBIENT] = (plant_sensor){.sigma = 0.1, .quantum = 0.1, .period = 1};
}

void plant_defaults(plant_config *cfg)
{
    *cfg = (plant_config){
        .seed = 1,
        .rate = 100,
        .fine_rate = 1000,
        .laps = 10,
        .time_limit = INFINITY,
        .car = tern,
        .deviation = {.mass = 1,
                      .radius = {1, 1},
                      .pad_mu = {1, 1},
                      .cooling = {1, 1},
                      .road = 1,
                      .pad_fade_from = 1000},
        .control = {.cycle = 0.01,
                    .dead_time = 0.018,
                    .lag = 0.022,
                    .motor_estimate = 1,
                    .motor_share_max = 0.6,
                    .motor_lag = 0.02,
                    .noise_bar = 0.03,
                    .bypass_lag = 0.008,
                    .front_lag = 0.004,
                    .motor_factor = 1},
        .battery = {.open_volts = 640,
                    .resistance = 0.16,
                    .capacity = 30e6,
                    .charge = 0.45,
                    .taper_from = 0.6,
                    .taper_to = 0.98,
                    .efficiency = 0.94},
        .track = {.lap_length = 3080,
                  .top_speed = 64,
                  .start_speed = 30,
                  .latitude = 52.93,
                  .longitude = 0.21},
        .driver = {.scatter = 1,
                   .apply_time = 0.28,
                   .release_time = 0.7,
                   .modulation = 0.03,
                   .correction = 1.5,
                   .bias = 0.52},
        .slip_limit = 0.2,
        .pressure_sigma = 0.2,
        .disc_start = 60,
    };
    cfg->track.corners = (int)(sizeof saltmarsh / sizeof saltmarsh[0]);
    memcpy(cfg->track.corner, saltmarsh, sizeof saltmarsh);
    sensors(cfg);
}

void plant_stops_programme(plant_config *cfg)
{
    cfg->track.stops = (int)(sizeof stops / sizeof stops[0]);
    memcpy(cfg->track.stop, stops, sizeof stops);
    cfg->driver.correction = 0;
}

void plant_perfect_sensors(plant_config *cfg)
{
    memset(cfg->sensor, 0, sizeof cfg->sensor);
}

plant_fault *plant_add_fault(plant_config *cfg, plant_fault_kind kind)
{
    if (cfg->faults >= PLANT_FAULTS_MAX) return NULL;
    plant_fault *f = &cfg->fault[cfg->faults++];
    *f = (plant_fault){.kind = kind, .duration = INFINITY};
    return f;
}

static const struct {
    const char *name, *unit;
    int decimals;
} channels[] = {
#define X(id, name, unit, decimals) {name, unit, decimals},
    PLANT_CHANNEL_LIST(X)
#undef X
};

const char *plant_channel_name(plant_channel channel)
{
    return channels[channel].name;
}

const char *plant_channel_unit(plant_channel channel)
{
    return channels[channel].unit;
}

int plant_channel_decimals(plant_channel channel)
{
    return channels[channel].decimals;
}
