/* braketally: what happened at the brakes of a car whose rear brakes are by
 * wire, worked out from its log.  The only installed header.
 *
 * Everything inside is SI: s, m, m/s, Pa, N, N*m, J, W, K, rad/s.  The units of
 * the trade (bar, km/h, %, kJ, degC) appear only where text is read or written.
 * NaN means "no value".  Deceleration and brake torque are positive when they
 * slow the car.  The library never prints, never exits and keeps no globals.
 *
 * Ownership: what `new` and `read` hand out is the caller's, to be given to the `free` or `clear` of the same
 * name, which takes NULL or a zeroed struct too; after an error *out is NULL.  Texts and arrays handed in are
 * copied, objects (a car, a map, a sketch) borrowed, if nothing else is said.  `err` may be NULL, and so may
 * options and setups: defaults.  File names are as fopen takes them, texts UTF-8.
 *
 * Threads: any function may be called from any thread, and as many at once as one likes, as long as no
 * two of them share an object of which one is written to.  What a function takes as const (a car, a
 * map, zone rows) may be shared by any number of calls; what has a life (a writer, a feed, a sketch, a report)
 * and an error belong to one thread at a time.  bt_analyse may use threads of its own within the call; bt_setup
 * says which callbacks come from them.
 *
 * ABI: a program runs with a library of the same soname, which is the major version, and while that is 0
 * the minor one too.  Within a soname functions are added, but no struct, enum or list here changes;
 * BT_VERSION is what one was compiled with, bt_version() what one runs with. */
#ifndef BRAKETALLY_H
#define BRAKETALLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What is declared here is all that the shared library shows; the rest is compiled hidden. */
#if defined(__GNUC__)
#pragma GCC visibility push(default)
#endif

#define BT_VERSION_MAJOR 0
#define BT_VERSION_MINOR 1
#define BT_VERSION_PATCH 0
#define BT_VERSION       "0.1.0"

#if defined(__GNUC__)
#define BT_PRINTF(fmt, args) __attribute__((format(printf, fmt, args)))
#define BT_MUST_USE          __attribute__((warn_unused_result))
#else
#define BT_PRINTF(fmt, args)
#define BT_MUST_USE
#endif

/* ---- errors: the status decides, the message explains, the place helps ---- */

#define BT_STATUS_LIST(X)                                                                          \
    X(OK, "no error")                                                                              \
    X(NOMEM, "out of memory")                                                                      \
    X(READ, "cannot read")                                                                         \
    X(WRITE, "cannot write")                                                                       \
    X(SYNTAX, "not in the expected form")                                                          \
    X(RANGE, "outside the possible range")                                                         \
    X(MISSING, "needed channel or quantity missing")                                               \
    X(STOPPED, "stopped by the caller")

typedef enum {
#define X(name, meaning) BT_##name,
    BT_STATUS_LIST(X)
#undef X
        BT_STATUS_COUNT
} bt_status;

/* What went wrong and where.  Zero it before the first call; the first error stays. */
typedef struct {
    bt_status status;
    char file[256];        /* as the user spelled it; "" = no file to blame */
    uint64_t line, column; /* from 1, column counts fields; 0 = not known */
    char message[256];     /* "expected ..., found ..."; one line, no full stop */
} bt_error;

/* Says in a few words what a status means; "unknown status" for anything else. */
const char *bt_status_meaning(bt_status status);

/* The version of the library that is linked, "0.1.0". */
const char *bt_version(void);

/* The entry of names[0..n) nearest to `word` (edit distance, letters of either
 * case alike, at most a third of its letters wrong), else the first that it is the
 * first words of; NULL if none is near.  To be offered, never taken. */
const char *bt_nearest(const char *word, const char *const *names, size_t n);

/* The caution that goes with every page and manual, and its short form for one line. */
#define BT_CAUTION                                                                                 \
    "braketally is an aid to analysis and no proof that a car is safe to run. "                    \
    "Brake and high-voltage work and the decision to run belong to qualified people, "             \
    "under the series', the manufacturer's and local rules. "                                      \
    "After a fallback or a brake sensor fault the car is looked at before it goes out."
#define BT_CAUTION_SHORT                                                                           \
    "An aid to analysis, no proof of safety: qualified people decide whether the car runs."

/* ---- rows: what the tables hold, a struct each, SI, NaN = no value ---- */

#define BT_NAME_MAX  128 /* bytes of a run name, the end included; longer ones are cut */
#define BT_LABEL_MAX 16

/* Doubts and remarks on one zone or one run; a table prints the words. */
#define BT_FLAG_LIST(X)                                                                            \
    X(CUT_START, "cut-start", "under way when the log or the stretch began")                       \
    X(CUT_END, "cut-end", "not finished when the log or the stretch ended")                        \
    X(TRUNCATED, "truncated", "the log ends in the middle of a row or of a gzip member")           \
    X(NO_ZERO, "no-zero", "no released pedal before the zone to take the pressure zero from")      \
    X(ZERO_OFFSET, "zero-offset", "a pressure zero beyond 2 bar: nothing subtracted")              \
    X(DRAG, "drag", "line pressure left over while the pedal was released")                        \
    X(SPEED_UNSURE, "speed-unsure", "speed fell faster than the grip limit allows: bridged")       \
    X(MOTOR_SPEED, "motor-speed", "speed taken from the motor's")                                  \
    X(RADIUS, "radius", "a wheel's rolling radius is more than 3 % from the others'")              \
    X(SENSOR_STUCK, "sensor-stuck", "a channel stood still while a sister channel moved")          \
    X(SENSOR_RANGE, "sensor-range", "a channel outside its possible range or pinned")              \
    X(SENSOR_GAP, "sensor-gap", "a needed channel has a hole in the zone")                         \
    X(DELAY_WEAK, "delay-weak", "no delay can be told: flat demand, no copy of it, or mixed mode") \
    X(RECOVERED_ESTIMATED, "recovered-estimated", "recovered energy from torque, not battery")     \
    X(THINNED, "thinned", "so many rows that every other one was left out of the shape figures")   \
    X(TIME_FAULTS, "time-faults", "rows with a repeated or backward time were dropped")            \
    X(GAPS, "gaps", "holes in time")                                                               \
    X(BAD_CELLS, "bad-cells", "cells that should be numbers and are not")                          \
    X(NO_ZONES, "no-zones", "no braking zone found")                                               \
    X(BRAKE_TEMPERATURE, "disc-differs", "measured and computed disc temperature differ much")     \
    X(IMPLAUSIBLE, "implausible", "readings that cannot be right together: the notes name them")

enum bt_flag_bit {
#define X(id, word, meaning) BT_FLAG_BIT_##id,
    BT_FLAG_LIST(X)
#undef X
        BT_FLAG_COUNT
};
enum bt_flag {
#define X(id, word, meaning) BT_FLAG_##id = 1 << BT_FLAG_BIT_##id,
    BT_FLAG_LIST(X)
#undef X
};

/* One braking zone.  Torques are axle torques, N*m; shares are 0..1.  What each figure is stands in
 * braketally-columns(7) under the column that prints it.  `start` is the log's own seconds where its time is a
 * number, else seconds from the first row; so are the times of events, runs and traces. */
typedef struct {
    char run[BT_NAME_MAX];
    char place[BT_LABEL_MAX];
    char mode[BT_LABEL_MAX];  /* by-wire fallback mixed undetermined, "" = not by wire */
    char cause[BT_LABEL_MAX]; /* controller motor actuator, "" = cannot tell */
    uint32_t flags;           /* of enum bt_flag */
    double zone;              /* 1.. in each run */
    double lap;
    double start, duration;                          /* s */
    double start_dist, distance;                     /* m */
    double entry, exit;                              /* m/s */
    double decel_mean, decel_peak, decel_dist, mfdd; /* m/s2 */
    double decel_u;                                  /* standard uncertainty of decel_mean */
    double pedal_peak, pedal_rate, rise; /* Pa (NaN if the pedal is no pressure), Pa/s, s */
    double front, rear_friction, motor;  /* N*m, means over the zone */
    double motor_share;
    double balance, balance_u, balance_hyd, balance_ideal;     /* front share */
    double balance_slope;                                      /* 1/s */
    double demand, blend_mean, blend_rms, blend_peak;          /* N*m */
    double blend_frac, blend_inband;                           /* 0..  */
    double blend_delay, blend_gain, blend_rest;                /* s, -, N*m */
    double handover;                                           /* N*m, signed */
    double slip_front, slip_rear, lock;                        /* 0..1, 0..1, s */
    double energy_front, energy_rear, energy_motor, recovered; /* J */
    double disc_front, disc_rear;                              /* K, largest in the zone */
    double effort_ratio;
    double jerk;               /* m/s3, largest rise of the deceleration while applying */
    double stop, stop_nominal; /* m, of stops to standstill; corrected to --nominal */
    double bias_setting;
    double latitude, longitude; /* deg, at the start */
    /* Standard uncertainties taken apart: systematic (the same in every zone of a car: friction, areas,
     * radii) and random (sensors, zone by zone); the _u figures above are both together. */
    double decel_sys, decel_rnd;     /* m/s2 */
    double balance_sys, balance_rnd; /* share */
    double motor_share_u;
    double blend_u, blend_sys, blend_rnd; /* N*m, of blend_mean */
    /* Energy books: kinetic lost = front + rear + motor work + tyre + road + rest. */
    double kinetic, tyre, road, rest;             /* J */
    double disc_front_margin, disc_rear_margin;   /* K, limit less peak */
    double disc_front_differs, disc_rear_differs; /* K, measured less computed at the end */
    double disc_front_first, disc_rear_first;     /* K, measured at the start */
    double disc_front_final, disc_rear_final;     /* K, measured at the end */
    /* Means over the held part of the zone (plateau.h), what `fit` is made from. */
    double hold_time, hold_decel, hold_wheel_decel, hold_speed; /* s, m/s2, m/s */
    double hold_pedal_front, hold_pedal_rear;                   /* Pa */
    double hold_line_front, hold_line_rear;                     /* Pa */
    double hold_front, hold_rear_friction, hold_motor;          /* N*m */
    double hold_pedal_slope, hold_motor_slope; /* Pa/s of the by-wire axle's pedal, N*m/s */
    double flagged; /* 0..1, share of the time in which bywire_state says given up */
    double blend_delay_u, blend_gain_u, blend_rest_u; /* s, -, N*m, of chance alone */
    double blend_by_delay, blend_by_gain,
        blend_by_rest; /* shares of the mean square error, together 1 */
    double odometer;   /* m from the first row, at the start */
} bt_zone;

typedef enum { BT_NOTE, BT_WATCH, BT_STOP } bt_severity;

/* One event. */
typedef struct {
    char run[BT_NAME_MAX];
    /* fallback silent-fallback false-flag motor-loss actuator-stall wheel-lock drag left-right disc-limit
     * sensor-stuck sensor-range sensor-offset sensor-gap; more may come */
    char kind[24];
    char place[BT_LABEL_MAX];
    double zone, lap;       /* NaN outside zones */
    double start, duration; /* s */
    bt_severity severity;
    double value;     /* in `unit`, as printed */
    char unit[12];    /* UCUM code */
    char reason[200]; /* one line with figures */
} bt_event;

/* One log: a row of the day sheet. */
typedef struct {
    char run[BT_NAME_MAX];
    char status[256]; /* "ok" or the reason why not */
    /* What tells whether the row is still that of its log, see bt_digest_log and bt_digest_setup; "" = not
     * known.  `digest` of the row over all logs is BT_DAY. */
    char digest[BT_LABEL_MAX], made_with[BT_LABEL_MAX];
    uint32_t flags;
    double duration, laps, zones, braking;
    double decel_peak, balance, balance_drift, drift_low, drift_high, drift_p; /* drift per lap */
    double blend_rms, blend_frac, blend_delay, worst_zone;
    double motor_share, recovered;
    double fallbacks, first_fallback, fallback_time, silent_fallbacks;
    double locks, disc_front, disc_rear, effort_ratio;
    double events, stops;
    double rows, dropped_rows, gaps;
    double touches; /* brakings too short or too light to be zones */
    /* Energy books over the zones where they close, J. */
    double kinetic, energy_front, energy_rear, energy_motor, tyre, road, rest;
    /* Plain means of the zones, as blend_delay, and 95 % intervals of the three means. */
    double blend_gain, blend_rest;
    double blend_delay_low, blend_delay_high; /* s */
    double blend_gain_low, blend_gain_high;
    double blend_rest_low, blend_rest_high;              /* N*m */
    double blend_by_delay, blend_by_gain, blend_by_rest; /* shares */
} bt_run;

/* One sample of the derived time series. */
typedef struct {
    double t, speed, decel; /* s, m/s, m/s2 */
    /* N*m of an axle; balance is the front share */
    double front, rear_friction, motor, demand, blend, balance;
    double blend_controller, blend_motor, blend_actuator; /* the exact split of blend, N*m */
    double slip[4];                                       /* fl fr rl rr, 0..1 positive = slower */
    double disc_front, disc_rear;                         /* K */
    double zone;                                          /* NaN between zones */
    char mode[BT_LABEL_MAX];
} bt_trace;

/* ---- columns: the one table that headers, cells, metadata and manual come from ---- */

typedef enum {
    BT_TABLE_ZONES,   /* rows: bt_zone */
    BT_TABLE_EVENTS,  /* bt_event */
    BT_TABLE_RUNS,    /* bt_run */
    BT_TABLE_TRACE,   /* bt_trace */
    BT_TABLE_DRIFT,   /* bt_drift */
    BT_TABLE_COMPARE, /* bt_compare */
    BT_TABLE_INSPECT, /* bt_inspect_column */
    BT_TABLE_BYPASS,  /* bt_bypass */
    BT_TABLE_FIT,     /* bt_fit */
    BT_TABLE_COLUMNS, /* bt_column: the tables describe themselves */
    BT_TABLE_COUNT
} bt_table_kind;

#define BT_DECIMALS_AS_IS (-1)

typedef enum {
    BT_CELL_NUMBER, /* double in the row; printed = (x - shift) * factor, `decimals` digits */
    BT_CELL_TEXT,   /* char array in the row */
    BT_CELL_FLAGS,  /* uint32_t of enum bt_flag, printed as words */
    BT_CELL_SEVERITY
} bt_cell_kind;

typedef enum {
    BT_LOOK_PLAIN,
    BT_LOOK_CHANCE, /* a probability: what rounds to nothing is "<0.0001" and not 0.0000 */
    BT_LOOK_TALLY   /* strokes behind the number, ten for the largest of the table */
} bt_look;

typedef struct {
    const char *name;    /* header text */
    const char *unit;    /* UCUM code of what is printed, "" = none, "1" = a plain number */
    const char *meaning; /* one line */
    bt_cell_kind kind;
    int decimals; /* BT_DECIMALS_AS_IS = as many as the number has, 9 at most */
    double factor, shift;
    size_t offset; /* of the member in the row struct */
    size_t size;   /* of a char array; 0 = the member is a const char *, NULL = blank */
    int rank;      /* in a text table too narrow for all: 1 stays longest, 0 goes first */
    int fewer;     /* decimals that people who read text can do without */
    bt_look look;  /* in text */
} bt_column;

/* The columns of a table in their order; *n = how many.  NULL, 0 for a table without rows. */
const bt_column *bt_columns(bt_table_kind table, size_t *n);
/* "zones", ...; NULL beyond the last. */
const char *bt_table_name(bt_table_kind table);
/* Make a row of that table blank: numbers NaN, texts empty, flags 0. */
void bt_row_blank(bt_table_kind table, void *row);

typedef enum { BT_FORMAT_CSV, BT_FORMAT_JSON, BT_FORMAT_TEXT } bt_format;

/* How tables are written.  Zeroed = CSV, comma, point, no mark. */
typedef struct {
    bt_format format;
    char delimiter; /* 0 = comma, or semicolon with a decimal comma */
    bool decimal_comma, bom;
    int width; /* text: columns of the terminal, 0 = 100; below 20 counts as 20 */
} bt_style;

/* Where bytes go: returns BT_OK or BT_WRITE.  The bytes are valid during the call. */
typedef bt_status (*bt_write_fn)(void *user, const char *bytes, size_t n, bt_error *err);

/* Writes rows of one table; the header comes with the first row, or with the end if there was none.
 * Text holds its first BT_TEXT_HELD rows back to align them, leaves out columns that do not fit or
 * that are blank throughout, and ends with BT_CAUTION_SHORT; CSV and JSON write at once.
 * The style is copied; BT_RANGE if its delimiter is none of comma, semicolon and tab, or is the
 * decimal comma too.  BT_MISSING for a table without columns. */
#define BT_TEXT_HELD 500
typedef struct bt_writer bt_writer;
bt_status bt_writer_new(bt_writer **out, bt_table_kind table, const bt_style *style,
                        bt_write_fn write, void *user, bt_error *err) BT_MUST_USE;
bt_status bt_writer_row(bt_writer *w, const void *row, bt_error *err) BT_MUST_USE;
/* A sentence that text has above its table, wrapped; CSV and JSON leave it out.  Before the rows. */
bt_status bt_writer_say(bt_writer *w, const char *sentence, bt_error *err) BT_MUST_USE;
bt_status bt_writer_end(bt_writer *w, bt_error *err) BT_MUST_USE;
void bt_writer_free(bt_writer *w);

/* The table as W3C CSV-on-the-Web metadata (JSON), for a file named `url`. */
bt_status bt_columns_csvw(bt_table_kind table, const char *url, bt_write_fn write, void *user,
                          bt_error *err) BT_MUST_USE;

/* ---- car sheet and channel map ---- */

typedef struct bt_car bt_car;
/* A car of which nothing is known: every quantity NaN, every threshold at its default. */
bt_status bt_car_new(bt_car **out, bt_error *err) BT_MUST_USE;
/* Read a car sheet (braketally-car(5)) over what the car holds; after an error the rows before it count. */
bt_status bt_car_read(bt_car *car, const char *path, bt_error *err) BT_MUST_USE;
/* One quantity from "name=value" or "name=value unit" (option --set). */
bt_status bt_car_set(bt_car *car, const char *assignment, bt_error *err) BT_MUST_USE;
/* Value and standard uncertainty in SI, NaN if not given; false if there is no such quantity. */
bool bt_car_get(const bt_car *car, const char *name, double *value, double *u);
void bt_car_free(bt_car *car);
/* A blank car sheet to be filled in, as CSV: every quantity, its unit and what it is; those with a default
 * stand behind a # with it. */
bt_status bt_car_draft(bt_write_fn write, void *user, bt_error *err) BT_MUST_USE;

typedef struct bt_map bt_map;
/* Read a channel map (braketally-log(5)): BT_SYNTAX with the place for an unknown header, a blank channel or
 * column, a number that is none; BT_RANGE for a scale of 0, a scale or offset beyond 1e15, a tolerance
 * below 0.  Whether its columns are in the log shows when a log is read. */
bt_status bt_map_read(bt_map **out, const char *path, bt_error *err) BT_MUST_USE;
/* The same of n bytes in memory; `file` is the name for messages. */
bt_status bt_map_memory(bt_map **out, const char *file, const void *bytes, size_t n,
                        bt_error *err) BT_MUST_USE;
void bt_map_free(bt_map *map);

/* ---- analysis of one log ---- */

typedef enum { BT_LAYOUT_AUTO, BT_LAYOUT_WIDE, BT_LAYOUT_LONG } bt_layout;

/* Zeroed = all defaults.  The callbacks may come on other threads than the caller's, but each on one
 * at a time, and none after the call has come back.  What they are handed is theirs during the call. */
typedef struct {
    const bt_car *car;  /* NULL = nothing known */
    const bt_map *map;  /* NULL = columns serve by their names */
    bt_layout layout;   /* of the log */
    double rate;        /* Hz, for a log without a time column; 0 = the log has one */
    double nominal;     /* m/s, stops are corrected to it; 0 = not asked */
    size_t block_bytes; /* of one read; 0 = default.  Never changes a result */
    int threads; /* 1 = only the caller's, 0 = by the cores there are.  Never changes a result */
    bt_status (*trace)(void *user, const bt_trace *sample, bt_error *err); /* NULL = not wanted */
    /* Each zone when it is over, but for what only the whole run tells: `place`, `lap` where none is
     * logged, and `mode` where a later zone knows better.  NULL = not wanted; anything but BT_OK stops the analysis with that status. */
    bt_status (*zone)(void *user, const bt_zone *zone, bt_error *err);
    /* Each event once it is settled, behind the zone that settled it: nothing takes it back or changes it,
     * but for `place` and `lap` as above.  A cause that lasts is one event, and is settled by the first zone
     * without it, or the end; so they come in another order than in the result.  A fallback is told before
     * as well, with a NaN duration and as it looks by then: at the end of the second zone that bears it
     * out, since until then it may be taken back.  The first sign of it is the `mode` of its first zone.
     * Return as above. */
    bt_status (*event)(void *user, const bt_event *event, bt_error *err);
    void (*progress)(void *user, uint64_t done, uint64_t total); /* bytes; total 0 = not known */
    void *user;
} bt_setup;

/* All that is known of one log.  Owned by the caller; bt_result_clear() frees what it holds. */
typedef struct {
    bt_run run;
    bt_zone *zones;
    size_t n_zones;
    bt_event *events;
    size_t n_events;
    char **notes; /* what is missing for which figures, what was doubtful: a line each */
    size_t n_notes;
} bt_result;

/* The name of a log's run: the path's base name without the endings that logs have; "stdin" for "-". */
void bt_run_name(const char *path, char name[BT_NAME_MAX]);
/* "run1 (2)": what the second run of a name is called. */
void bt_run_name_again(const char *run, unsigned again, char name[BT_NAME_MAX]);

/* Analyse one log ("-" = standard input).  On failure, also when a callback stopped it, result->run.status
 * holds the reason and the zones up to there stay in the result, without events; it needs bt_result_clear
 * in any case. */
bt_status bt_analyse(const char *path, const bt_setup *setup, bt_result *result,
                     bt_error *err) BT_MUST_USE;
void bt_result_clear(bt_result *result);

/* ---- the same of one's own samples, without a log: rows of numbers, analysed while they come ---- */

typedef struct bt_feed bt_feed;
/* columns[0..n) are named as in a log's header: "time", "pedal_front [bar]"; they serve by their names or
 * by setup->map, and fail as a log's would.  Time is in s unless its name says another unit.  Names and setup
 * (NULL = defaults) are copied, the setup's car and map borrowed for the feed's life; its layout,
 * block_bytes, threads and progress mean nothing here: all happens on the caller's thread. */
bt_status bt_feed_new(bt_feed **out, const char *run, const char *const *columns, size_t n,
                      const bt_setup *setup, bt_error *err) BT_MUST_USE;
/* n rows, one behind the other, each a number for every column in the column's unit; NaN = no value.
 * How rows are divided into calls changes nothing.  Zones and events are told within the call, by some
 * tenths of a second (zone_gap, smooth_window) after the row that ends them, 3 s where the speed cannot be
 * believed and waits to be bridged.  After an error every call gives the same one. */
bt_status bt_feed_push(bt_feed *feed, const double *rows, size_t n, bt_error *err) BT_MUST_USE;
/* There are no more rows, to be called once.  The result is as bt_analyse's, of a failure too. */
bt_status bt_feed_end(bt_feed *feed, bt_result *result, bt_error *err) BT_MUST_USE;
void bt_feed_free(bt_feed *feed);

/* ---- bypass plan: if the by-wire gave up, could this car go on? ---- */

/* One front share of the brake force, the motor gone and the by-wire axle on its bypass. */
typedef struct {
    double share;                         /* front part of the brake force in a mean braking */
    double setting;                       /* front part of the pedal pressures that gives it */
    double disc_front, disc_rear;         /* K, largest over the laps asked for */
    double settled_front, settled_rear;   /* K, largest once they rise no more */
    double limit_lap;                     /* from 1: a disc passes its limit; NaN = never */
    double adhesion_front, adhesion_rear; /* brake force over axle load at the peaks, largest */
    char locks_first
        [BT_LABEL_MAX]; /* front, rear or either, at the peak nearest to the grip limit */
    double pedal_front, pedal_rear; /* Pa, largest needed */
    double decel_lost;              /* m/s2, at the peaks, where grip runs out */
    bool keeps;                     /* all limits that can be told, for the laps asked for */
    char finding[64];
} bt_bypass;

/* Zeroed = the whole run, shares of 40 % to 90 % in steps of 2 %. */
typedef struct {
    double from_lap;        /* the fallback comes at the start of this lap; 0 = of the run */
    double laps;            /* to go on for; 0 = as many as the run has from there */
    double low, high, step; /* front shares 0..1 */
} bt_bypass_options;

/* Owned by the caller; bt_plan_clear() frees what it holds. */
typedef struct {
    bt_bypass *rows;
    size_t n_rows;
    double low, high;   /* window of shares that keep all limits; NaN = there is none */
    char summary[1200]; /* to be read out: one paragraph, ends with a full stop */
    char **notes;       /* what is missing for which figures, what was left out: a line each */
    size_t n_notes;
} bt_plan;

/* Plan from the zone rows of one run, computed or saved.  BT_RANGE: options that cannot be, rows of
 * several runs, no such lap; BT_MISSING: no zone whose brake work is known. */
bt_status bt_bypass_plan(const bt_zone *zones, size_t n, const bt_car *car,
                         const bt_bypass_options *options, bt_plan *out, bt_error *err) BT_MUST_USE;
void bt_plan_clear(bt_plan *plan);

/* ---- fit: the car read off its logs, as rows of a car sheet ---- */

/* A row to paste into a car sheet.  What is no quantity of the sheet has a name that begins with "# ",
 * which the sheet passes over.  Numbers in `unit`. */
typedef struct {
    char quantity[32];
    double value;
    char unit[16];
    double tolerance; /* standard uncertainty, of chance alone; both rounded to two digits of it */
    char note[200];   /* 95 % interval, from what, given what */
    double low, high; /* the interval, not rounded */
} bt_fit;

/* Owned by the caller; bt_fitted_clear() frees what it holds. */
typedef struct {
    bt_fit *rows;
    size_t n_rows;
    char **notes; /* what the zones cannot tell, and why: a line each */
    size_t n_notes;
} bt_fitted;

/* From zone rows of one car, of one or several runs, each run's rows together and in order; computed or
 * saved.  Zones with doubtful sensors, cuts or lock-ups are left out. */
bt_status bt_fit_zones(const bt_zone *zones, size_t n, const bt_car *car, bt_fitted *out,
                       bt_error *err) BT_MUST_USE;
void bt_fitted_clear(bt_fitted *fitted);

/* One column of a log, as `inspect` shows it. */
typedef struct {
    double column; /* from 1 */
    char name[BT_NAME_MAX];
    char unit[24];
    char channel[24];  /* it serves, "" = none */
    char proposed[24]; /* what its name and unit would make it, with --draft; "" = no idea */
    double sure;       /* 0..1, how sure the proposal is */
    double rate;       /* Hz, of cells with a value */
    double blanks;     /* share 0..1 of the rows */
    double bad;        /* cells that are no number */
    double min, max;   /* in the log's own unit */
    char remark[200];
} bt_inspect_column;

typedef struct {
    bt_inspect_column *columns;
    size_t n_columns;
    char **notes; /* on the log, a line each: its layout, that it is cut */
    size_t n_notes;
    /* Why the log cannot be analysed yet (no time, a doubtful name); what is missing for which
     * figures; and last, which figures map and sheet allow. */
    char **allowed;
    size_t n_allowed;
} bt_inspection;

bt_status bt_inspect(const char *path, const bt_setup *setup, bt_inspection *out,
                     bt_error *err) BT_MUST_USE;
/* The channel map that the columns' names and units suggest, as CSV to edit. */
bt_status bt_inspect_draft(const bt_inspection *in, bt_write_fn write, void *user,
                           bt_error *err) BT_MUST_USE;
void bt_inspection_clear(bt_inspection *in);

/* ---- what needs more than one zone: works on finished zone rows alone ---- */

/* Zone rows of any number of runs.  Zeroed = empty. */
typedef struct {
    bt_zone *row;
    size_t n, cap;
} bt_zones;

/* Append rows, their numbers rounded to the decimals of their columns: rows just computed and the
 * same rows read back from a saved table are then alike, and so is all that is made of them. */
bt_status bt_zones_add(bt_zones *zones, const bt_zone *rows, size_t n, bt_error *err) BT_MUST_USE;
/* Append the rows of a saved zones table ("-" = standard input): CSV with comma, semicolon or tab,
 * decimal point or comma, plain or gzip; columns in any order, unknown ones passed over, headers
 * repeated where tables stand one behind the other.  What is not in the table is blank.  On failure the
 * rows before the fault have been added. */
bt_status bt_zones_read(bt_zones *zones, const char *path, bt_error *err) BT_MUST_USE;
/* Tell runs apart that share their name: where a zone's number comes twice, the zones of that name are of several runs,
 * each of which begins where the numbers do not rise, and all but the first are renamed as by
 * bt_run_name_again.  shared = the first such name, "" if there is none. */
bt_status bt_zones_part(bt_zones *zones, char shared[BT_NAME_MAX], bt_error *err) BT_MUST_USE;
/* Is this a saved zones table and no log?  By its header; "-" and pipes, which cannot be
 * looked into first, are taken for tables.  False for what cannot be read. */
bool bt_zones_saved(const char *path);
/* The same of the first bytes, 64 KiB or as many as there are, plain or gzip. */
bool bt_zones_saved_head(const void *bytes, size_t n);
void bt_zones_free(bt_zones *zones);

/* Label the places of all rows at once: P01, P02, ... in track order, the same in all runs
 * that share a track, "" where the car brakes once only; a second track in the rows gets Q01, ..., the
 * next R01.  Zones of a run follow each other in time; runs are told apart by `run`.  A run's
 * places are found in the first of these ways that its rows allow:
 *   way along the lap  start_dist begins anew with each lap
 *   stops              three in four zones end at standstill: by entry and exit speed, in their order
 *   coordinates        latitude and longitude at the start
 *   one lap            a single lap: each zone is a place
 *   sequence           speeds and ways between zones, aligned with the lap that comes round
 * Where no lap is logged a lap begins with P01, the brake behind the longest way without one, and
 * `lap` is filled in: laps counted from 1 within the run, repetitions for stops. */
bt_status bt_places_assign(bt_zone *zones, size_t n, bt_error *err) BT_MUST_USE;
/* Copy place and lap of their zones to events, by run and zone number. */
void bt_events_place(bt_event *events, size_t n, const bt_zone *zones, size_t n_zones);
/* The line to read first, into buf: the worst event, else the largest blend error.  Returns buf. */
const char *bt_headline(const bt_event *events, size_t n_events, const bt_zone *zones,
                        size_t n_zones, char *buf, size_t cap);

/* ---- a shelf: zone rows put away small ---- */

/* Where there may be more zones than one wants to have in memory: a row takes some 200 bytes.  Rows come back one
 * after the other, as bt_zones_add would have them. */
typedef struct bt_shelf bt_shelf;
bt_status bt_shelf_new(bt_shelf **out, bt_error *err) BT_MUST_USE;
/* Analyse one log as bt_analyse does, its zones on a shelf of their own; result->zones is NULL, and the drift
 * of result->run, which is made from every pair of laps, NaN.  After an error *out is NULL; the result needs
 * bt_result_clear in any case. */
bt_status bt_shelf_analyse(bt_shelf **out, const char *path, const bt_setup *setup,
                           bt_result *result, bt_error *err) BT_MUST_USE;
/* Put rows behind those that are there; a run begins where `run` is another than in the row before, and runs of
 * one name are told apart.  After an error some may have been added. */
bt_status bt_shelf_add(bt_shelf *shelf, const bt_zone *rows, size_t n, bt_error *err) BT_MUST_USE;
/* Move all rows of `from` behind those that are there; `from` is empty then. */
bt_status bt_shelf_join(bt_shelf *shelf, bt_shelf *from, bt_error *err) BT_MUST_USE;
/* Call the runs of a shelf so. */
void bt_shelf_name(bt_shelf *shelf, const char *run);
/* bt_places_assign for all rows. */
bt_status bt_shelf_places(bt_shelf *shelf, bt_error *err) BT_MUST_USE;
size_t bt_shelf_count(const bt_shelf *shelf);
/* Hand over each row, until `take` returns anything but BT_OK, which is returned. */
typedef bt_status (*bt_zone_fn)(void *user, const bt_zone *zone, bt_error *err);
bt_status bt_shelf_each(const bt_shelf *shelf, bt_zone_fn take, void *user,
                        bt_error *err) BT_MUST_USE;
void bt_shelf_free(bt_shelf *shelf);

/* ---- how figures move ---- */

/* BT_RANGE, the nearest name offered, unless `of` is a list of number columns of the zones table with
 * commas between. */
bt_status bt_figures_check(const char *of, bt_error *err) BT_MUST_USE;

typedef enum { BT_AGAINST_LAP, BT_AGAINST_TIME, BT_AGAINST_RUN } bt_against;

/* Zeroed = all defaults. */
typedef struct {
    const char *of; /* number columns of the zones table, commas between; NULL = balance_pct */
    bt_against against;
    double least; /* least change per lap (minute, run) that is reported, as printed; 0 = 0.05 for
                   * figures in %, none for others */
} bt_drift_options;

/* How one figure moves, at one place or at all.  As printed, in `unit`, but for by_*. */
typedef struct {
    char figure[32];
    char place[BT_LABEL_MAX]; /* all = pooled */
    char run[BT_NAME_MAX];    /* all = of several */
    double n, laps;
    double slope, low, high;
    char unit[24];
    double p;
    double break_lap, break_size, break_p;
    double by_front, by_rear_friction, by_motor; /* sum to slope; balance_pct only */
    char finding[256];
} bt_drift;

/* Rows of drift for each figure: pooled over all places and runs, pooled for each run where
 * there are several, steps of bias_setting and of mode, each place.  Only zones at one place, in one run (unless
 * against runs), with one bias_setting and in one mode are compared.  Zones cut by the log's ends are left out, and so are
 * mixed ones.  Assigns places
 * to `zones` first.  *rows is the caller's to free.  BT_RANGE for an unknown figure. */
bt_status bt_drift_find(bt_zone *zones, size_t n, const bt_drift_options *options, bt_drift **rows,
                        size_t *n_rows, bt_error *err) BT_MUST_USE;

/* Fill balance_drift, drift_low, drift_high, drift_p of a run from its zones, whose places and laps have been
 * assigned.  NaN where there are too few laps. */
bt_status bt_drift_of_run(bt_run *run, const bt_zone *zones, size_t n, bt_error *err) BT_MUST_USE;

/* ---- day sheet: a saved table of runs that grows as runs come in ---- */

#define BT_DAY "day"

/* The row over all logs, of rows computed or read back; a log that failed, and a row that is such a sum
 * itself, is left out, and `status` counts the former.  Times, counts and energies are sums, decelerations and
 * temperatures the largest; the balance and what else is a mean over zones is the mean of the logs, each
 * weighing as many zones as it has; flags are those of any log.  What belongs to one log, worst_zone, first_fallback and
 * the drift, is blank. */
void bt_day_row(const bt_run *runs, size_t n, bt_run *day);

/* Digests are words that spreadsheets leave alone, a letter and eight hexadecimal digits: the CRC-32 of a log's
 * bytes as they are stored, and of all that makes a row besides the log: car, map, layout, rate, version.
 * BT_READ for a log that cannot be read. */
bt_status bt_digest_log(const char *path, char digest[BT_LABEL_MAX], bt_error *err) BT_MUST_USE;
void bt_digest_setup(const bt_setup *setup, char digest[BT_LABEL_MAX]);

typedef struct bt_daysheet bt_daysheet;
/* Read a saved runs table; what is not there or empty is a sheet without rows, in the form of `style` (CSV alone;
 * NULL = defaults).  What is there keeps its form: delimiter, decimal comma, mark, order of columns, columns of its own,
 * and the cells of rows that are not put anew.  BT_SYNTAX with the place for what is no runs table. */
bt_status bt_daysheet_read(bt_daysheet **out, const char *path, const bt_style *style,
                           bt_error *err) BT_MUST_USE;
/* The rows, as their cells give them; valid until the next put. */
const bt_run *bt_daysheet_rows(const bt_daysheet *sheet, size_t *n);
/* The row takes the place of the one with its `run`, whose own columns stay; else it comes last, but for
 * the day's. */
bt_status bt_daysheet_put(bt_daysheet *sheet, const bt_run *row, bt_error *err) BT_MUST_USE;
bt_status bt_daysheet_write(const bt_daysheet *sheet, bt_write_fn write, void *user,
                            bt_error *err) BT_MUST_USE;
void bt_daysheet_free(bt_daysheet *sheet);

/* One figure at one place in two groups of zones. */
typedef struct {
    char figure[32];
    char place[BT_LABEL_MAX]; /* all = over places */
    double n_a, n_b;
    double mean_a, mean_b, diff, u, low, high; /* as printed, in `unit` */
    char unit[24];
    double p, p_adjusted;
    char finding[256];
} bt_compare;

/* B minus A, place by place (Welch's t; only the random part counts, the systematic one is in
 * both), Benjamini and Hochberg's p over the places of a figure, and first the mean over the places that both have, each
 * place paired with itself, its uncertainty from lap to lap: a lap moves all of its places.
 * `of` as in bt_drift_options.  *rows is the caller's to free. */
bt_status bt_compare_find(const bt_zones *a, const bt_zones *b, const char *of, bt_compare **rows,
                          size_t *n_rows, bt_error *err) BT_MUST_USE;

/* ---- report: one page for people who would rather look than read ---- */

/* What the plots of a page need of one log's samples.  Its memory does not grow with the log. */
typedef struct bt_sketch bt_sketch;
/* `car` (NULL = nothing known) says which axle is by wire. */
bt_status bt_sketch_new(bt_sketch **out, const bt_car *car, bt_error *err) BT_MUST_USE;
/* Every sample of the log, in its order: to be called from bt_setup.trace. */
bt_status bt_sketch_take(bt_sketch *sketch, const bt_trace *sample, bt_error *err) BT_MUST_USE;
/* The log is over. */
bt_status bt_sketch_end(bt_sketch *sketch, bt_error *err) BT_MUST_USE;
void bt_sketch_free(bt_sketch *sketch);

/* Zeroed = all defaults.  All is borrowed for the report's life. */
typedef struct {
    const bt_car *car;               /* NULL = nothing known */
    const char *car_name, *map_name; /* what the user called the sheet and the map; NULL = none */
    const char *title;               /* NULL = made from the runs' names */
    const bt_bypass_options *bypass; /* NULL = no bypass plan */
} bt_report_options;

typedef struct bt_report bt_report;
bt_status bt_report_new(bt_report **out, const bt_report_options *options,
                        bt_error *err) BT_MUST_USE;
/* One more run.  The result is copied; the sketch (NULL = none: its plots are left out, and the page says
 * so) is borrowed until the report is freed.  A result that failed has its reason in run.status. */
bt_status bt_report_add(bt_report *report, const bt_result *result, const bt_sketch *sketch,
                        bt_error *err) BT_MUST_USE;
/* The page: HTML with nothing to be loaded from elsewhere and no script; the same input gives the
 * same bytes. */
bt_status bt_report_write(bt_report *report, bt_write_fn write, void *user,
                          bt_error *err) BT_MUST_USE;
void bt_report_free(bt_report *report);

/* ---- pictures alone, as SVG with its own colours ---- */

/* Balance, blend error, delay and gain over the zones in their order, run after run. */
bt_status bt_svg_zones(const bt_zone *zones, size_t n, bt_write_fn write, void *user,
                       bt_error *err) BT_MUST_USE;
/* Speed, torques of the by-wire axle and blend error over time.  All samples to be drawn come by
 * bt_sketch_take with `zone` set to 1. */
bt_status bt_svg_trace(const bt_sketch *sketch, const char *name, bt_write_fn write, void *user,
                       bt_error *err) BT_MUST_USE;
/* Slopes and their intervals, a line for each row of one figure (the first row's). */
bt_status bt_svg_drift(const bt_drift *rows, size_t n, bt_write_fn write, void *user,
                       bt_error *err) BT_MUST_USE;

/* Nothing is declared below here. */
#if defined(__GNUC__)
#pragma GCC visibility pop
#endif
#ifdef __cplusplus
}
#endif
#endif
