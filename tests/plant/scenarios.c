/* Prepared cases, one for each thing that can go wrong or be different. */
#include "plant.h"

#include <math.h>
#include <string.h>

/* The fault takes hold when the pedal goes on for a corner (0 = at the line) of a lap. */
static plant_fault *at(plant_config *cfg, plant_fault_kind kind, int lap, int corner)
{
    plant_fault *f = plant_add_fault(cfg, kind);
    f->lap = lap;
    f->corner = corner;
    return f;
}

static void healthy(plant_config *cfg, plant_log_options *opt)
{
    (void)cfg;
    (void)opt;
}

static void perfect(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_perfect_sensors(cfg);
}

static void battery_fills(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    cfg->battery.charge = 0.57;
    cfg->car.boost_power = 3e3;
    cfg->control.gain_error = -0.08;
    cfg->control.motor_estimate = 0.85;
}

static void slow_actuator(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_ACTUATOR_SLOW, 3, 0);
    f->value = 0.06;
    f->value2 = 0.06;
    f->ramp = 400;
}

static void fallback_flagged(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_FALLBACK, 6, 7);
    f->delay = 0.6;
    f->flagged = true;
    f->flag_delay = 0.25;
}

static void fallback_silent(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_FALLBACK, 5, 3);
    f->delay = 0.4;
    f->end_lap = 8;
}

static void fallback_motor_stays(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_FALLBACK, 5, 1)->value = 1;
}

static void false_flag(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_FALSE_FLAG, 4, 2)->duration = 60;
}

static void motor_loss(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_MOTOR_LOSS, 4, 3);
    f->delay = 1;
    f->duration = 100;
}

static void hydraulics_only(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_MOTOR_OFF, 4, 0)->end_lap = 7;
}

static void actuator_stall(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_ACTUATOR_STALL, 5, 3);
    f->delay = 0.5;
    f->duration = 8;
}

static void stuck_rear(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_SENSOR_STUCK, 4, 3);
    f->channel = PLANT_LINE_REAR;
    f->delay = 1;
    f->duration = 30;
}

static void stuck_pedal(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_SENSOR_STUCK, 3, 0)->channel = PLANT_PEDAL_FRONT;
}

static void offset_drift(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_SENSOR_OFFSET, 2, 0);
    f->channel = PLANT_LINE_REAR;
    f->value = 1.2;
    f->ramp = 500;
}

static void offset_pedal(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_SENSOR_OFFSET, 3, 0);
    f->channel = PLANT_PEDAL_FRONT;
    f->value = 3.4;
}

static void lock_up(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_GRIP, 3, 3);
    f->wheel = 0;
    f->value = 0.35;
    f->delay = 1;
    f->duration = 0.6;
    f = at(cfg, PLANT_FAULT_GRIP, 5, 7);
    f->wheel = 3;
    f->value = 0.25;
    f->delay = 1;
    f->duration = 0.6;
}

static void left_right(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_LEFT_RIGHT, 4, 0);
    f->wheel = 2;
    f->value = 0.7;
}

static void dragging(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_DRAG, 5, 0);
    f->wheel = 2;
    f->value = 5;
}

static void abs_like(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_fault *f = at(cfg, PLANT_FAULT_ABS, 3, 1);
    f->value = 0.35;
    f->value2 = 7;
    f->duration = 80;
}

static void pedal_lift(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    cfg->driver.correction = 0;          /* else he makes up for the lift and locks the rear */
    for (int lap = 2; lap <= 4; lap++) { /* too short, just merged, and long enough for two zones */
        plant_fault *f = at(cfg, PLANT_FAULT_PEDAL_LIFT, lap, 3);
        f->value = 0;
        f->delay = 1.2;
        f->duration = lap == 2 ? 0.12 : lap == 3 ? 0.22 : 0.5;
    }
}

static void bias_step(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_BIAS, 6, 0)->value = 0.02;
}

static void missed_extra(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    at(cfg, PLANT_FAULT_MISSED, 4, 2);
    at(cfg, PLANT_FAULT_MISSED, 6, 8);
    plant_fault *f = at(cfg, PLANT_FAULT_EXTRA, 5, 0);
    f->value = 1080;
    f->value2 = 6;
    f = at(cfg, PLANT_FAULT_EXTRA, 8, 0);
    f->value = 2650;
    f->value2 = 5;
}

static void no_motor(plant_config *cfg, plant_log_options *opt)
{
    cfg->car.motor = false;
    plant_log_defaults(opt, cfg);
}

static void plain_hydraulics(plant_config *cfg, plant_log_options *opt)
{
    cfg->car.motor = cfg->car.bywire = false;
    cfg->car.bypass_ratio = 1;
    cfg->driver.bias = 0.55;
    plant_log_defaults(opt, cfg);
}

static void no_rear_line(plant_config *cfg, plant_log_options *opt)
{
    (void)cfg;
    plant_log_choose(opt, "time speed wheel_fl wheel_fr wheel_rl wheel_rr pedal_front pedal_rear "
                          "line_front motor_torque motor_speed bywire_state lap lap_distance");
}

static void demand_curve(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    static const double bar[] = {0.8, 5, 15, 30, 60, 120};
    static const double nm[] = {0, 150, 560, 1250, 2600, 5000};
    cfg->car.demand_kind = PLANT_DEMAND_CURVE;
    cfg->car.demand_points = 6;
    memcpy(cfg->car.demand_bar, bar, sizeof bar);
    memcpy(cfg->car.demand_nm, nm, sizeof nm);
}

static void uneven(plant_config *cfg, plant_log_options *opt)
{
    cfg->uneven = true;
    plant_log_defaults(opt, cfg);
}

static void multirate(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    static const struct {
        plant_channel channel;
        double period;
    } slow[] = {
        {PLANT_SPEED, 0.05},          {PLANT_PEDAL_REAR, 0.02},     {PLANT_LINE_REAR, 0.02},
        {PLANT_MOTOR_TORQUE, 0.05},   {PLANT_MOTOR_REQUEST, 0.05},  {PLANT_ACCEL_LONG, 0.02},
        {PLANT_BATTERY_VOLTAGE, 0.1}, {PLANT_BATTERY_CURRENT, 0.1}, {PLANT_LAP, 1},
        {PLANT_BYWIRE_STATE, 0.1}};
    for (size_t i = 0; i < sizeof slow / sizeof slow[0]; i++)
        cfg->sensor[slow[i].channel].period = slow[i].period;
}

static void time_faults(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    static const struct {
        plant_fault_kind kind;
        double start, duration, value;
    } faults[] = {{PLANT_FAULT_TIME_REPEAT, 40, 0.03, 0},
                  {PLANT_FAULT_TIME_BACK, 90, 0.05, 0.4},
                  {PLANT_FAULT_TIME_HOLE, 150, 2, 0},
                  {PLANT_FAULT_TIME_HOLE, 260, 9, 0},
                  {PLANT_FAULT_TIME_BACK, 400, INFINITY, 100}};
    for (size_t i = 0; i < sizeof faults / sizeof faults[0]; i++) {
        plant_fault *f = plant_add_fault(cfg, faults[i].kind);
        f->start = faults[i].start;
        f->duration = faults[i].duration;
        f->value = faults[i].value;
    }
}

static void truncated(plant_config *cfg, plant_log_options *opt)
{
    (void)cfg;
    opt->truncate_bytes = 1500;
}

static void dressed(plant_config *cfg, plant_log_options *opt)
{
    (void)cfg;
    opt->delimiter = ';';
    opt->decimal_comma = opt->units_row = opt->crlf = true;
    opt->preamble = "Saltmarsh, morning\r\nTern;chassis 2\r\n\r\n";
    opt->time_format = PLANT_CLOCK;
    plant_log_unit(opt, PLANT_SPEED, "Speed", "km/h");
    plant_log_unit(opt, PLANT_PEDAL_FRONT, "Pedal front", "psi");
    plant_log_unit(opt, PLANT_PEDAL_REAR, "Pedal rear", "kPa");
    plant_log_unit(opt, PLANT_ACCEL_LONG, "Accel long", "g");
    plant_log_unit(opt, PLANT_DISC_FL, "Disc FL", "°F");
}

static void long_layout(plant_config *cfg, plant_log_options *opt)
{
    (void)cfg;
    opt->long_layout = true;
    for (int i = 0; i < opt->columns; i++)
        strcpy(opt->column[i].name, plant_channel_name(opt->column[i].channel));
}

static void straight_stops(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    plant_stops_programme(cfg);
}

static void endurance(plant_config *cfg, plant_log_options *opt)
{
    (void)opt;
    cfg->laps = 5000;
    cfg->time_limit = 86400;
}

const plant_scenario plant_scenarios[] = {
    {"healthy", "nothing wrong", healthy},
    {"perfect", "nothing wrong, sensors neither", perfect},
    {"battery-fills", "motor share falls, two errors of the controller stop cancelling",
     battery_fills},
    {"slow-actuator", "dead time and lag grow from lap 3", slow_actuator},
    {"fallback-flagged", "bypass from lap 6 on, flag 0.25 s later", fallback_flagged},
    {"fallback-silent", "bypass in laps 5 to 7, no flag", fallback_silent},
    {"fallback-motor-stays", "bypass from lap 5, the motor brakes on top, no flag",
     fallback_motor_stays},
    {"false-flag", "flag for 60 s, nothing wrong", false_flag},
    {"motor-loss", "motor torque gone while asked for, 100 s", motor_loss},
    {"hydraulics-only", "motor off and known to be, laps 4 to 6", hydraulics_only},
    {"actuator-stall", "rear line stays where it is for 8 s", actuator_stall},
    {"stuck-rear", "line_rear sensor stuck for 30 s", stuck_rear},
    {"stuck-pedal", "pedal_front sensor stuck at rest from lap 3 on", stuck_pedal},
    {"offset-drift", "line_rear sensor drifts by 1.2 bar", offset_drift},
    {"offset-pedal", "pedal_front reads 3.4 bar more from lap 3 on", offset_pedal},
    {"lock-up", "front left locks in lap 3, rear right in lap 5", lock_up},
    {"left-right", "rear left caliper at 70 % from lap 4", left_right},
    {"drag", "5 bar stay in the rear line from lap 5", dragging},
    {"abs", "line pressures modulated at 7 Hz for 80 s", abs_like},
    {"pedal-lift", "pedal lifted in mid-stop: 0.12, 0.22 and 0.5 s", pedal_lift},
    {"bias-step", "driver's bias 2 points forward from lap 6", bias_step},
    {"missed-extra", "two brakings missing, two for nothing", missed_extra},
    {"no-motor", "by-wire rear without a motor", no_motor},
    {"plain", "neither motor nor by-wire", plain_hydraulics},
    {"no-rear-line", "rear line pressure not logged", no_rear_line},
    {"demand-curve", "demand from a curve", demand_curve},
    {"uneven", "log steps vary by 40 %", uneven},
    {"multirate", "channels at their own rates, blanks between", multirate},
    {"time-faults", "stamps repeated, set back, missing", time_faults},
    {"truncated", "the end of the file is missing", truncated},
    {"dressed", "semicolons, decimal commas, units row, clock times, odd units", dressed},
    {"long", "long layout: time, signal, value", long_layout},
    {"stops", "straight-line stops to standstill", straight_stops},
    {"endurance", "24 hours", endurance},
    {NULL, NULL, NULL},
};

const plant_scenario *plant_scenario_find(const char *name)
{
    for (const plant_scenario *s = plant_scenarios; s->name; s++)
        if (strcmp(s->name, name) == 0) return s;
    return NULL;
}
