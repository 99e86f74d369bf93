/* The demo day: five runs and a sheet of straight-line stops, as the team's own logger wrote them.
 * One car throughout: its controller under-asks for friction and under-counts the motor, two
 * errors that cancel until the battery is full. */
#include "plant.h"

#include <errno.h>
#include <stdio.h>
#include <sys/stat.h>

typedef struct {
    const char *name;
    uint64_t seed;
    double rate;
    int laps;
    void (*prepare)(plant_config *cfg);
} demo_run;

static void run1(plant_config *cfg)
{
    (void)cfg;
}

static void run2(plant_config *cfg)
{
    cfg->battery.charge = 0.60;
    cfg->car.boost_power = 2e3;
}

static void run3(plant_config *cfg)
{
    plant_fault *f = plant_add_fault(cfg, PLANT_FAULT_ACTUATOR_SLOW);
    f->start = 200;
    f->ramp = 500;
    f->value = 0.055;
    f->value2 = 0.05;
}

/* Gives up in the middle of a braking; two laps later the driver winds the bias forward. */
static void run4(plant_config *cfg)
{
    plant_fault *f = plant_add_fault(cfg, PLANT_FAULT_FALLBACK);
    f->lap = 6;
    f->corner = 7;
    f->delay = 0.7;
    f->flagged = true;
    f->flag_delay = 0.2;
    f = plant_add_fault(cfg, PLANT_FAULT_BIAS);
    f->lap = 8;
    f->value = 0.03;
}

static void run5(plant_config *cfg)
{
    plant_fault *f = plant_add_fault(cfg, PLANT_FAULT_FALLBACK);
    f->lap = 5;
    f->corner = 3;
    f->delay = 0.5;
    f->end_lap = 8;
}

static const demo_run runs[] = {
    {"saltmarsh_run1", 101, 100, 10, run1}, {"saltmarsh_run2", 102, 50, 12, run2},
    {"saltmarsh_run3", 103, 50, 10, run3},  {"saltmarsh_run4", 104, 50, 10, run4},
    {"saltmarsh_run5", 105, 50, 10, run5},  {"saltmarsh_stops", 106, 100, 1, plant_stops_programme},
};

static void car(plant_config *cfg)
{
    plant_defaults(cfg);
    cfg->deviation.mass = 1.004;
    cfg->deviation.pad_mu[0] = 0.985;
    cfg->deviation.pad_mu[1] = 1.01;
    cfg->deviation.radius[0] = 0.998;
    cfg->deviation.radius[1] = 1.001;
    cfg->deviation.left_right = 0.008;
    cfg->deviation.pad_fade_from = 470;
    cfg->deviation.pad_fade_slope = 1.5e-4;
    cfg->control.gain_error = -0.10;
    cfg->control.motor_estimate = 0.89;
    cfg->disc_start = 70;
}

/* Headers as a logger would write them, so that the map has work to do. */
static void headers(plant_log_options *opt, const plant_config *cfg)
{
    static const struct {
        plant_channel channel;
        const char *name, *unit;
        int decimals;
    } names[] = {
        {PLANT_TIME, "Time [s]", "s", 2},
        {PLANT_LAP, "Lap", "", 0},
        {PLANT_LAP_DISTANCE, "Lap distance [m]", "m", 1},
        {PLANT_SPEED, "Car speed [km/h]", "km/h", 1},
        {PLANT_WHEEL_FL, "Wheel FL [km/h]", "km/h", 1},
        {PLANT_WHEEL_FR, "Wheel FR [km/h]", "km/h", 1},
        {PLANT_WHEEL_RL, "Wheel RL [km/h]", "km/h", 1},
        {PLANT_WHEEL_RR, "Wheel RR [km/h]", "km/h", 1},
        {PLANT_ACCEL_LONG, "Long acc [g]", "g", 3},
        {PLANT_PEDAL_FRONT, "Pedal front [bar]", "bar", 1},
        {PLANT_PEDAL_REAR, "Pedal rear [bar]", "bar", 1},
        {PLANT_LINE_REAR, "Caliper rear [bar]", "bar", 1},
        {PLANT_LINE_REQUEST, "Rear target [bar]", "bar", 1},
        {PLANT_MOTOR_TORQUE, "Regen torque [Nm]", "Nm", 1},
        {PLANT_MOTOR_REQUEST, "Regen target [Nm]", "Nm", 1},
        {PLANT_BATTERY_VOLTAGE, "HV volts [V]", "V", 1},
        {PLANT_BATTERY_CURRENT, "HV current [A]", "A", 1},
        {PLANT_BYWIRE_STATE, "BBW fault", "", 0},
        {PLANT_BIAS_SETTING, "Bias knob [%]", "%", 1},
        {PLANT_DISC_FL, "Disc FL [°C]", "°C", 1},
        {PLANT_DISC_RL, "Disc RL [°C]", "°C", 1},
        {PLANT_LATITUDE, "Latitude [deg]", "deg", 6},
        {PLANT_LONGITUDE, "Longitude [deg]", "deg", 6},
    };
    plant_log_options all;
    plant_log_defaults(&all, cfg);
    *opt = all;
    opt->columns = 0;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        plant_log_unit(&all, names[i].channel, names[i].name, names[i].unit);
        plant_column c = *plant_log_column(&all, names[i].channel);
        c.decimals = names[i].decimals;
        if (names[i].channel == PLANT_MOTOR_TORQUE || names[i].channel == PLANT_MOTOR_REQUEST)
            c.scale = c.map_scale = -1; /* this logger counts regeneration positive */
        opt->column[opt->columns++] = c;
    }
}

static int folder_of_truth(const char *folder)
{
    char path[1024];
    snprintf(path, sizeof path, "%s/truth", folder);
    return mkdir(path, 0777) == 0 || errno == EEXIST ? 0 : -1;
}

static int write_run(const demo_run *r, const char *folder)
{
    char path[1024], truth[1024];
    plant_config cfg;
    plant_log_options opt;
    car(&cfg);
    cfg.seed = r->seed;
    cfg.rate = r->rate;
    cfg.laps = r->laps;
    r->prepare(&cfg);
    headers(&opt, &cfg);
    snprintf(path, sizeof path, "%s/%s.csv.gz", folder, r->name);
    snprintf(truth, sizeof truth, "%s/truth/%s", folder, r->name);
    opt.truth = truth;
    return plant_write_log(&cfg, path, &opt);
}

int plant_write_demo(const char *folder)
{
    char path[1024];
    plant_config cfg;
    plant_log_options opt;
    if (folder_of_truth(folder) != 0) return -1;
    for (size_t i = 0; i < sizeof runs / sizeof runs[0]; i++)
        if (write_run(&runs[i], folder) != 0) return -1;
    car(&cfg);
    headers(&opt, &cfg);
    snprintf(path, sizeof path, "%s/car.csv", folder);
    if (plant_write_car_sheet(&cfg, path) != 0) return -1;
    snprintf(path, sizeof path, "%s/map.csv", folder);
    return plant_write_map(&cfg, &opt, path);
}
