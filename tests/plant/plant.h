/* The plant: a car with by-wire rear brakes, simulated forward in time from the
 * driver's pedal to the wheels.  It writes logs whose truth is known.
 *
 * Nothing here is shared with lib/: an error in one must not cancel in the other.
 * Units are SI except where a name says otherwise (`_bar`, temperatures in deg C).
 * Torques at the axle and decelerations are positive when they slow the car;
 * `motor_torque` is at the shaft and negative when it brakes.
 *
 * Life of a configuration: plant_defaults(), change what matters, hand it to
 * plant_run() or plant_write_log().  Nothing is allocated for the caller. */
#ifndef PLANT_H
#define PLANT_H

#include <stdbool.h>
#include <stdint.h>

/* ---- what a logger could see ---- */

/* id, contract name, unit, largest number of decimals worth writing */
#define PLANT_CHANNEL_LIST(X)                                                                      \
    X(TIME, "time", "s", 3)                                                                        \
    X(SPEED, "speed", "m/s", 2)                                                                    \
    X(WHEEL_FL, "wheel_fl", "m/s", 2)                                                              \
    X(WHEEL_FR, "wheel_fr", "m/s", 2)                                                              \
    X(WHEEL_RL, "wheel_rl", "m/s", 2)                                                              \
    X(WHEEL_RR, "wheel_rr", "m/s", 2)                                                              \
    X(PEDAL_FRONT, "pedal_front", "bar", 2)                                                        \
    X(PEDAL_REAR, "pedal_rear", "bar", 2)                                                          \
    X(PEDAL_TRAVEL, "pedal_travel", "mm", 2)                                                       \
    X(PEDAL_FORCE, "pedal_force", "N", 0)                                                          \
    X(LINE_FRONT, "line_front", "bar", 2)                                                          \
    X(LINE_REAR, "line_rear", "bar", 2)                                                            \
    X(LINE_FL, "line_fl", "bar", 2)                                                                \
    X(LINE_FR, "line_fr", "bar", 2)                                                                \
    X(LINE_RL, "line_rl", "bar", 2)                                                                \
    X(LINE_RR, "line_rr", "bar", 2)                                                                \
    X(LINE_REQUEST, "line_request", "bar", 2)                                                      \
    X(MOTOR_TORQUE, "motor_torque", "N·m", 1)                                                      \
    X(MOTOR_REQUEST, "motor_request", "N·m", 1)                                                    \
    X(MOTOR_SPEED, "motor_speed", "rpm", 0)                                                        \
    X(BATTERY_VOLTAGE, "battery_voltage", "V", 1)                                                  \
    X(BATTERY_CURRENT, "battery_current", "A", 1)                                                  \
    X(BYWIRE_STATE, "bywire_state", "", 0)                                                         \
    X(BIAS_SETTING, "bias_setting", "%", 1)                                                        \
    X(ACCEL_LONG, "accel_long", "m/s2", 3)                                                         \
    X(ACCEL_LAT, "accel_lat", "m/s2", 3)                                                           \
    X(DISC_FL, "disc_fl", "Cel", 1)                                                                \
    X(DISC_FR, "disc_fr", "Cel", 1)                                                                \
    X(DISC_RL, "disc_rl", "Cel", 1)                                                                \
    X(DISC_RR, "disc_rr", "Cel", 1)                                                                \
    X(LAP, "lap", "", 0)                                                                           \
    X(LAP_DISTANCE, "lap_distance", "m", 1)                                                        \
    X(LATITUDE, "latitude", "deg", 7)                                                              \
    X(LONGITUDE, "longitude", "deg", 7)                                                            \
    X(AMBIENT, "ambient", "Cel", 1)

typedef enum {
#define X(id, name, unit, decimals) PLANT_##id,
    PLANT_CHANNEL_LIST(X)
#undef X
        PLANT_CHANNELS
} plant_channel;

/* A sensor: measured = quantise(true * (1 + gain_error) + offset + sigma * N(0,1)). */
typedef struct {
    double offset, sigma, gain_error; /* in the channel's unit above */
    double quantum;                   /* step of the converter; 0 = none */
    double period; /* s between values; rows in between are blank; 0 = every row */
    bool hold;     /* with a period: repeat the last value instead of a blank */
} plant_sensor;

/* ---- the car ---- */

typedef enum { PLANT_DEMAND_GAIN, PLANT_DEMAND_CURVE, PLANT_DEMAND_HYDRAULIC } plant_demand_kind;

#define PLANT_CURVE_MAX 16

/* Indices of two-member arrays: 0 front axle, 1 rear axle. */
typedef struct {
    double mass, wheelbase, cg_height, static_front_share;
    double wheel_inertia[2]; /* kg m2, each wheel; rear with its half of the drive line and motor */
    double road_a, road_b, road_c; /* N, N/(m/s), N/(m/s)2 */
    double radius[2];              /* m, rolling */
    double piston_area[2];         /* m2, one side of one caliper */
    double pad_mu[2], effective_radius[2];
    double threshold_bar[2];
    double disc_mass[2], disc_heat[2],
        disc_heat_slope[2];                             /* kg each, J/kg/K at 20 deg C, J/kg/K2 */
    double disc_share[2], cool_still[2], cool_speed[2]; /* 1, W/K, W/K/(m/s), each disc */
    double disc_limit[2], ambient;                      /* deg C */
    double grip_peak, tyre_b, tyre_c; /* F = load * peak * sin(c * atan(b * slip)) */
    bool bywire;                      /* false: the rear is plain hydraulics at bypass_ratio */
    bool motor;
    double motor_ratio, motor_efficiency;
    double motor_torque_max, motor_power_max; /* N*m and W at the shaft, braking */
    double fade_high, fade_low;               /* m/s: motor braking fades out between them */
    plant_demand_kind demand_kind;
    double demand_gain, demand_threshold_bar; /* N*m per bar */
    int demand_points;
    double demand_bar[PLANT_CURVE_MAX], demand_nm[PLANT_CURVE_MAX];
    double bypass_ratio;
    double drive_power, drive_force_max, boost_power; /* W, N, W (of that, from the motor) */
} plant_car;

/* How the true car differs from its sheet; factors, 1 = as the sheet says. */
typedef struct {
    double mass, radius[2], pad_mu[2], cooling[2], road;
    double pad_fade_from, pad_fade_slope; /* deg C and 1/K: mu loses slope per K above */
    double left_right;                    /* left wheels brake by 1 + this, right by 1 - this */
} plant_deviation;

typedef struct {
    double cycle;                /* s between decisions */
    double dead_time, lag;       /* s, of the actuator (dead time up to 0.5) */
    double gain_error;           /* the friction part of the request is this fraction too large */
    double motor_estimate;       /* factor on what the controller believes the motor brakes */
    bool trusts_request;         /* subtract the motor's request, not its measured torque */
    double motor_share_max;      /* of the demand, left to the motor */
    double motor_lag;            /* s */
    double noise_bar;            /* of its own reading of pedal_rear */
    double bypass_lag;           /* s */
    double front_lag;            /* s, master cylinder to front calipers */
    double motor_factor;         /* further limit on motor torque, 1 = none */
    double motor_factor_per_lap; /* added each lap; the factor stays within 0..1 */
} plant_control;

typedef struct {
    double open_volts, resistance; /* V at half charge, ohm */
    double capacity, charge;       /* J, 0..1 at the start */
    double taper_from, taper_to;   /* charge: motor braking falls from 1 to 0 between them */
    double efficiency;             /* shaft power to terminals */
} plant_battery;

/* ---- where it drives ---- */

typedef struct {
    double apex;  /* m from the line */
    double speed; /* m/s there */
    double decel; /* g wanted by the driver */
    double angle; /* deg, positive left */
} plant_corner;

typedef struct {
    double speed; /* m/s at the pedal */
    double decel; /* g */
} plant_stop;

#define PLANT_CORNERS_MAX 24
#define PLANT_STOPS_MAX   64
#define PLANT_FAULTS_MAX  64

typedef struct {
    double lap_length, top_speed, start_speed;
    int corners;
    plant_corner corner[PLANT_CORNERS_MAX];
    int stops; /* > 0: straight-line stops to standstill instead of laps */
    plant_stop stop[PLANT_STOPS_MAX];
    double latitude, longitude; /* of the line, deg */
} plant_track;

typedef struct {
    double scatter;    /* scale of what differs from lap to lap; 1 = a good driver, 0 = a machine */
    double apply_time; /* s, pedal ramp */
    double release_time; /* s, trail-off */
    double modulation;   /* fraction of the held pressure */
    double correction;   /* 1/s: how eagerly the pressure is corrected to make the corner */
    double bias;         /* front share of pedal pressure: pedal_front = 2 bias P */
} plant_driver;

/* ---- what goes wrong ---- */

/* id, word in the events table, meaning of value / value2 */
#define PLANT_FAULT_LIST(X)                                                                        \
    X(FALLBACK, "fallback")             /* bypass in charge; value 1 = the motor brakes on */      \
    X(FALSE_FLAG, "false-flag")         /* bywire_state says given up; nothing is wrong */         \
    X(MOTOR_LOSS, "motor-loss")         /* torque gone while asked for */                          \
    X(MOTOR_OFF, "motor-off")           /* known to the controller: hydraulics only */             \
    X(ACTUATOR_SLOW, "actuator-slow")   /* dead time + value s, lag + value2 s, over `ramp` */     \
    X(ACTUATOR_STALL, "actuator-stall") /* line_rear stays where it is */                          \
    X(SENSOR_STUCK, "sensor-stuck")     /* `channel` repeats its value */                          \
    X(SENSOR_OFFSET, "sensor-offset")   /* `channel` + value, reached over `ramp` */               \
    X(SENSOR_GAP, "sensor-gap")         /* `channel` blank */                                      \
    X(LEFT_RIGHT, "left-right")         /* caliper of `wheel`: pressure times value */             \
    X(DRAG, "drag")               /* at least value bar stay in the line of axle `wheel`/2 */      \
    X(GRIP, "grip")               /* grip of `wheel` times value */                                \
    X(PEDAL_LIFT, "pedal-lift")   /* pedal pressure times value */                                 \
    X(ABS, "abs")                 /* line pressures modulated by value at value2 Hz */             \
    X(BIAS, "bias")               /* driver's bias + value from here on */                         \
    X(MISSED, "missed")           /* lap, corner: no braking there */                              \
    X(EXTRA, "extra")             /* lap, at value m from the line: brake by value2 m/s */         \
    X(TIME_REPEAT, "time-repeat") /* stamp of the row before */                                    \
    X(TIME_BACK, "time-back")     /* stamps value s back */                                        \
    X(TIME_HOLE, "time-hole")     /* rows missing */                                               \
    X(MOTOR_LIMIT, "motor-limit") /* motor braking torque times value */

typedef enum {
#define X(id, word) PLANT_FAULT_##id,
    PLANT_FAULT_LIST(X)
#undef X
        PLANT_FAULTS
} plant_fault_kind;

/* It begins at `start` s, or, with lap > 0, `delay` s after the pedal goes on for
 * `corner` (from 1; 0 = at the line) of that lap.  It ends after `duration` s
 * (INFINITY = never) or at the line that begins `end_lap` (0 = not so). */
typedef struct {
    plant_fault_kind kind;
    double start;
    int lap, corner;
    double delay, duration;
    int end_lap;
    double value, value2, ramp;
    int channel; /* plant_channel */
    int wheel;   /* 0..3: fl fr rl rr */
    bool flagged;
    double flag_delay; /* s from the onset until bywire_state shows it (FALLBACK) */
} plant_fault;

/* ---- all of it ---- */

typedef struct {
    uint64_t seed;
    double rate;      /* Hz of the log */
    double fine_rate; /* Hz of the physics, at least 1000; raised to `rate` where lower */
    bool uneven;      /* log steps vary by +-40 % */
    int laps;
    double time_limit; /* s; INFINITY = none */
    plant_car car;     /* as on the sheet */
    plant_deviation deviation;
    plant_control control;
    plant_battery battery;
    plant_track track;
    plant_driver driver;
    plant_sensor sensor[PLANT_CHANNELS];
    int faults;
    plant_fault fault[PLANT_FAULTS_MAX];
    double slip_limit;     /* beyond it a wheel counts as locked (0.2) */
    double pressure_sigma; /* tolerance written to the map and the sheet, bar */
    double disc_start;     /* deg C, all discs at the start */
} plant_config;

/* A healthy Tern at Saltmarsh, ten laps at 100 Hz, realistic sensors. */
void plant_defaults(plant_config *cfg);
/* The same programme driven as straight-line stops to standstill, 50 to 200 km/h. */
void plant_stops_programme(plant_config *cfg);
/* No noise, offset, quantisation or blanks on any channel. */
void plant_perfect_sensors(plant_config *cfg);
/* Appends a fault with `kind`, never ending; the caller fills in the rest.  NULL = full. */
plant_fault *plant_add_fault(plant_config *cfg, plant_fault_kind kind);

/* ---- truth ---- */

/* Everything as it is at time t, nothing measured. */
typedef struct {
    double t, v, s, a;        /* s, m/s, m since the start, m/s2 (positive forward) */
    double omega[4], slip[4]; /* rad/s; (v - omega R) / v, 0 below 1 m/s */
    double pedal_front_bar, pedal_rear_bar;
    double line_bar[4], line_rear_bar, line_request_bar;
    double front_nm, rear_friction_nm, motor_nm; /* axle brake torques; motor < 0 drives */
    double demand_nm;                            /* the sheet's demand at the true pedal_rear */
    double motor_torque, motor_request;          /* shaft */
    double volts, amps, charge;
    double disc[4]; /* deg C */
    double dead_time, lag;
    int lap, corner; /* corner: 1.. the one braked for or ahead; 100 + n = extra braking */
    double lap_distance, accel_lat, latitude, longitude;
    double bias;
    bool fallback, flag; /* what is so; what bywire_state says */
    /* What line_rear_bar and motor_torque would be had the by-wire been in charge all along, and
     * line_rear_bar on the bypass all along; without faults of actuator, motor and lines. */
    double wire_bar, wire_torque, pipe_bar;
} plant_state;

/* One row of the log: measured values by channel, NaN = blank cell. */
typedef struct {
    const plant_state *truth;
    double value[PLANT_CHANNELS];
} plant_row;

/* One true braking zone: true pedal_front above 3 bar for 50 ms at more than 5 m/s
 * opens it, below 1.5 bar for 150 ms or standing (< 0.5 m/s for 0.3 s) ends it.
 * Start and end are dated back to the crossing of 1.5 bar, or of 0.5 m/s when the
 * car stops on the pedal.  Closer than 0.25 s is one zone; shorter than 0.3 s or
 * losing less than 2 m/s is none.  All integrals at the physics step. */
typedef struct {
    int zone, lap, corner;
    double start, end, start_m, distance;
    double entry, exit; /* m/s */
    double decel_mean, decel_dist,
        mfdd;             /* m/s2; mfdd NaN unless 0.1 of the entry speed is reached */
    double decel_peak;    /* largest instantaneous */
    double decel_peak200; /* largest mean over 0.2 s that lies inside the zone */
    double pedal_peak_bar, pedal_mean_bar;
    double front_nm, rear_friction_nm, motor_nm, demand_nm; /* time means */
    double balance_pct, balance_hyd_pct; /* of brake-force impulse, torque / rolling radius */
    double motor_share_pct;              /* of the rear axle's torque impulse */
    double blend_mean_nm, blend_rms_nm, blend_peak_nm, blend_abs_pct;
    double energy_front, energy_rear, energy_motor, recovered; /* J; recovered at the battery */
    double slip_front, slip_rear; /* largest of the axle while v > 5 m/s */
    double lock_s; /* any wheel beyond slip_limit above 5 m/s, in pieces of 50 ms and more */
    double disc_front, disc_rear; /* deg C, largest */
    double fallback_s;            /* time on the bypass */
    const char *mode;             /* by-wire, fallback, mixed; "" where not by-wire */
    double dead_time, lag, gain;  /* actuator and controller, at the end of the zone */
    double bias, motor_limit; /* driver's setting; product of the limits on motor braking, mean */
    /* What the sheet makes of the true pressures, motor torque and deceleration: where the car
     * differs from its sheet, no log can tell more. */
    double balance_sheet_pct;
    double effort_ratio; /* (m_eff a - road load) impulse over brake-force impulse */
} plant_zone;

typedef struct {
    const char *kind;
    double start, end; /* s; end = end of the log when it never ended */
    bool flagged;
    double flag_start; /* NaN = never */
    int lap, corner;   /* at the onset */
    int wheel;         /* -1 = none */
    double value;
} plant_event;

/* Where the energy went, J, over the run; closes to rounding:
 * kinetic = drive - front - rear - motor - road - slip. */
typedef struct {
    double kinetic; /* gained since the start, translation and rotation */
    double drive, front, rear, motor, road, slip;
} plant_ledger;

/* Members may be NULL.  What is handed over is valid during the call only. */
typedef struct {
    void *ctx;
    void (*row)(void *ctx, const plant_row *row);
    void (*step)(void *ctx, const plant_state *state); /* every physics step */
    void (*zone)(void *ctx, const plant_zone *zone);
    void (*event)(void *ctx, const plant_event *event);    /* in the order in which they end */
    void (*ledger)(void *ctx, const plant_ledger *ledger); /* once, at the end */
} plant_sink;

/* Runs the programme.  0, or -1 when the configuration cannot be simulated or memory is out.
 * Memory does not grow with the length of the run. */
int plant_run(const plant_config *cfg, const plant_sink *sink);

/* The sheet's friction torque of one axle at a line pressure, and its demand. */
double plant_friction_nm(const plant_car *car, int axle, double line_bar);
double plant_demand_nm(const plant_car *car, double pedal_rear_bar);

/* ---- files ---- */

typedef enum {
    PLANT_SECONDS,
    PLANT_MILLISECONDS,
    PLANT_CLOCK,   /* hh:mm:ss.sss */
    PLANT_MINUTES, /* mm:ss.sss */
    PLANT_ISO8601,
    PLANT_EPOCH_NS,
    PLANT_EPOCH_S
} plant_time_format;

/* A column: written = value * scale + offset. */
typedef struct {
    plant_channel channel;
    char name[64]; /* header text as written */
    char unit[16]; /* for the units row and the map */
    double scale, offset;
    int decimals;
    double map_scale; /* what the map has to say to get the contract's sign back */
} plant_column;

typedef struct {
    int columns;
    plant_column column[PLANT_CHANNELS];
    char delimiter;
    bool decimal_comma, units_row, crlf, long_layout, no_header;
    const char *preamble; /* free lines before the header, ends with a line end; NULL = none */
    plant_time_format time_format;
    double time_offset;  /* s added to every stamp */
    long truncate_bytes; /* > 0: so many bytes are cut off the end of the finished file */
    const char *truth;   /* base name for .truth.csv and .events.csv; NULL = none */
} plant_log_options;

/* Every channel the car can have, contract names with their unit, comma, seconds. */
void plant_log_defaults(plant_log_options *opt, const plant_config *cfg);
/* Only the channels whose contract names stand in the blank-separated list, in its order. */
void plant_log_choose(plant_log_options *opt, const char *names);
/* The column of a channel, or NULL. */
plant_column *plant_log_column(plant_log_options *opt, plant_channel channel);
/* Rename and convert a column: written in `unit` = base * scale + offset.  "km/h", "mph", "kPa",
 * "psi", "MPa", "g", "rad/s", "degF" and the rest of the contract's units are known by name;
 * -1 = no such column or unit. */
int plant_log_unit(plant_log_options *opt, plant_channel channel, const char *name,
                   const char *unit);

/* Runs and writes a log, gzip where the path ends in .gz.  -1 with errno set on failure. */
int plant_write_log(const plant_config *cfg, const char *path, const plant_log_options *opt);
int plant_write_car_sheet(const plant_config *cfg, const char *path);
int plant_write_map(const plant_config *cfg, const plant_log_options *opt, const char *path);

/* ---- prepared cases ---- */

typedef struct {
    const char *name, *what;
    void (*prepare)(plant_config *cfg, plant_log_options *opt);
} plant_scenario;

/* Ended by a NULL name.  prepare() changes a configuration filled by the defaults. */
extern const plant_scenario plant_scenarios[];
const plant_scenario *plant_scenario_find(const char *name); /* NULL = none */
const char *plant_channel_name(plant_channel channel);
const char *plant_channel_unit(plant_channel channel);
int plant_channel_decimals(plant_channel channel);

/* Harrow Lane Engineering's day with the Tern at Saltmarsh, into an existing folder. */
int plant_write_demo(const char *folder);

#endif
