/* Doubts: see doubts.h.  Every limit is far beyond what a sound log shows (METHODS 2.5): a doubt that is
 * raised for nothing is not read the next time. */
#include "run/doubts.h"

#include "base/print.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "inspect/rolling.h"

#define STEP      0.1  /* s between the samples looked at: what lasts is sought, no peaks */
#define BRAKES    5.0  /* m/s2 that no motor alone brings, */
#define LONG      0.5  /* s of it in all */
#define LIGHT     3e5  /* Pa, where braking zones begin (METHODS 4) */
#define APART     5.0  /* times that two pressures of one pedal may differ by */
#define FACTOR    1.2  /* times that two speeds may; km/h to mph is 1.6 */
#define FASTEST   120  /* m/s */
#define MANY      200  /* samples */
#define HARD      0.6  /* of the grip limit, as the mean over all brakings */
#define DRIVES    -50  /* N*m of a motor that should brake */
#define WORTH     50e3 /* J by the motor, from which the battery must show it */
#define SLOW_ROWS 0.5  /* s between rows */
#define FOLLOWS   0.6  /* correlation of accelerometer and speed from which its slope tells */
#define ACCEL     4.0  /* times; a filter halves it, g for m/s2 is 9.8 */
#define EFFORT    1.4  /* times that effort ratio may be from 1, either way */
#define LOST      0.1  /* share of the rows; a logger that stutters loses few */
#define DELIVERS  3.0  /* times that delivery may be from demand, either way, in nearly all zones */

typedef struct {
    double n, x, y, xx, xy, yy;
} sums;

struct bt_doubts {
    const bt_channels *channels;
    const bt_car *car;
    bt_rolling *rolling;
    double next; /* s, when a sample is due */
    double n, most[BT_CH_COUNT], least[BT_CH_COUNT];
    double fastest;       /* m/s */
    double braking, peak; /* s beyond BRAKES, and the most, m/s2 */
    double in_charge;     /* samples with the good bywire_state */
    sums accel;           /* x: of the speed, y: measured */
    size_t motor, drives; /* zones with a motor torque; in which it drives */
    double taken, given;  /* J, by the motor, and by the battery meanwhile */
    size_t unsure;        /* zones in which speed fell faster than grip allows */
    double decel;         /* m/s2, sum over the zones */
};

bt_status bt_doubts_new(bt_doubts **out, const bt_channels *channels, const bt_car *car,
                        bt_error *err)
{
    bt_doubts *d = *out = calloc(1, sizeof *d);
    if (!d) return bt_fail(err, BT_NOMEM, "no memory for doubts");
    d->channels = channels;
    d->car = car;
    d->next = -INFINITY;
    d->fastest = NAN;
    for (int c = 0; c < BT_CH_COUNT; c++) d->most[c] = d->least[c] = NAN;
    const bt_status status = bt_rolling_new(&d->rolling, err);
    if (status == BT_OK) return BT_OK;
    free(d);
    *out = NULL;
    return status;
}

void bt_doubts_free(bt_doubts *d)
{
    if (!d) return;
    bt_rolling_free(d->rolling);
    free(d);
}

/* ---- samples ---- */

static double at(const bt_block *s, int signal, size_t i)
{
    return s->ch[signal] ? s->ch[signal][i] : NAN;
}

/* What the motor's speed is in m/s; NaN without ratio and radius. */
static double motor_to_speed(const bt_car *car)
{
    return bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, car->motor_axle) /
           car->value[BT_CAR_MOTOR_RATIO];
}

static void take_speeds(bt_doubts *d, const bt_block *s, size_t i)
{
    const double t = s->t[i];
    const double brake = fmax(at(s, BT_CH_PEDAL_FRONT, i), at(s, BT_CH_LINE_FRONT, i));
    if (!isnan(brake)) bt_rolling_brake(d->rolling, brake);
    const double speed = at(s, BT_CH_SPEED, i);
    const double motor = at(s, BT_CH_MOTOR_SPEED, i) * motor_to_speed(d->car);
    if (!isnan(speed)) bt_rolling_speed(d->rolling, BT_ROLL_SPEED, t, speed);
    if (!isnan(motor)) bt_rolling_speed(d->rolling, BT_ROLL_MOTOR, t, motor);
    for (unsigned w = 0; w < 4; w++) {
        const double v = at(s, (int)(BT_CH_WHEEL_FL + w), i);
        if (!isnan(v)) bt_rolling_speed(d->rolling, BT_ROLL_WHEELS + w, t, v);
    }
}

static void take_motion(bt_doubts *d, const bt_block *s, size_t i)
{
    const double v = at(s, BT_SIG_SPEED, i), decel = at(s, BT_SIG_DECEL, i);
    const double accel = at(s, BT_CH_ACCEL_LONG, i);
    if (!(d->fastest >= v)) d->fastest = v;
    if (at(s, BT_SIG_UNSURE, i) > 0) return;
    if (decel > BRAKES) d->braking += STEP;
    if (decel > d->peak) d->peak = decel;
    if (isnan(decel) || isnan(accel) || !(v > BRAKES)) return;
    sums *a = &d->accel;
    a->n++;
    a->x -= decel;
    a->y += accel;
    a->xx += decel * decel;
    a->yy += accel * accel;
    a->xy -= decel * accel;
}

static void take_sample(bt_doubts *d, const bt_block *s, size_t i)
{
    d->n++;
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const double x = at(s, c, i);
        if (!(d->most[c] >= x) && !isnan(x)) d->most[c] = x;
        if (!(d->least[c] <= x) && !isnan(x)) d->least[c] = x;
    }
    const double good = d->car->value[BT_CAR_BYWIRE_OK], state = at(s, BT_CH_BYWIRE_STATE, i);
    d->in_charge += state >= good && state <= good;
    take_speeds(d, s, i);
    take_motion(d, s, i);
}

void bt_doubts_take(bt_doubts *d, const bt_block *s)
{
    for (size_t i = 0; i < s->n; i++) {
        const double t = s->t[i];
        if (t < d->next && t > d->next - 2 * STEP) continue; /* a time that jumped back is due */
        d->next = t + STEP;
        take_sample(d, s, i);
    }
}

void bt_doubts_zone(bt_doubts *d, const bt_zone *row)
{
    d->motor += isnan(row->motor) ? 0 : 1;
    d->drives += row->motor < DRIVES;
    d->unsure += (row->flags & BT_FLAG_SPEED_UNSURE) != 0;
    d->decel += row->decel_mean;
    if (!(row->energy_motor > 0) || row->flags & BT_FLAG_RECOVERED_ESTIMATED) return;
    d->taken += row->energy_motor;
    d->given += row->recovered < 0 ? -row->recovered : 0;
}

/* ---- words ---- */

typedef struct {
    const bt_doubts *d;
    const bt_tally *tally;
    bt_result *result;
    bt_notes *notes;
    bt_error *err;
} teller;

static bt_status doubt(const teller *to, const char *fmt, ...) BT_PRINTF(2, 3);
static bt_status doubt(const teller *to, const char *fmt, ...)
{
    char text[480];
    va_list args;
    va_start(args, fmt);
    bt_vprint(text, sizeof text, fmt, args);
    va_end(args);
    to->result->run.flags |= BT_FLAG_IMPLAUSIBLE;
    return bt_notes_add(to->notes, to->err, "implausible: %s", text);
}

static bool said(const teller *to)
{
    return to->result->run.flags & BT_FLAG_IMPLAUSIBLE;
}

static bool off(double factor)
{
    return factor > FACTOR || factor < 1 / FACTOR;
}

/* Wheels with one and the same trouble are named together. */
static bt_status tell_wheels(const teller *to)
{
    bool told[4] = {false};
    for (unsigned w = 0; w < 4; w++) {
        const bt_rolling_finding f = bt_rolling_find(to->d->rolling, BT_ROLL_WHEELS + w);
        if (told[w] || !(f.dead || off(f.factor))) continue;
        char list[64] = "";
        for (unsigned o = w; o < 4; o++) {
            const bt_rolling_finding g = bt_rolling_find(to->d->rolling, BT_ROLL_WHEELS + o);
            if (g.dead != f.dead || g.than != f.than) continue;
            if (!f.dead && !(fabs(g.factor / f.factor - 1) < 0.1)) continue;
            told[o] = true;
            const size_t n = strlen(list);
            snprintf(list + n, sizeof list - n, "%s%s", n ? ", " : "",
                     bt_channel_name((bt_channel)(BT_CH_WHEEL_FL + o)));
        }
        if (f.dead)
            BT_TRY(doubt(to, "%s: always 0 while the car moves (by %s); leave it out of the map",
                         list, f.than));
        else
            BT_TRY(doubt(to,
                         "%s: %.2g times %s while rolling freely; look at the units in the map%s",
                         list, f.factor, f.than,
                         strstr(f.than, "motor") ? ", at motor_ratio and the rolling radius" : ""));
    }
    return BT_OK;
}

static bt_status tell_same(const teller *to)
{
    for (int w = 0; w < 4; w++) {
        const int twin =
            bt_rolling_find(to->d->rolling, (unsigned)(BT_ROLL_WHEELS + w)).twin - BT_ROLL_WHEELS;
        if (twin > w)
            BT_TRY(doubt(to, "%s and %s never differ; one sensor under two names?",
                         bt_channel_name((bt_channel)(BT_CH_WHEEL_FL + w)),
                         bt_channel_name((bt_channel)(BT_CH_WHEEL_FL + twin))));
    }
    return BT_OK;
}

static bt_status tell_speed(const teller *to)
{
    const bt_rolling_finding f = bt_rolling_find(to->d->rolling, BT_ROLL_MOTOR);
    if (off(f.factor))
        BT_TRY(doubt(to,
                     "motor_speed, motor_ratio and the rolling radius make %.2g times the speed "
                     "while rolling freely; one of the four is wrong",
                     f.factor));
    if (to->d->fastest > FASTEST)
        BT_TRY(doubt(to, "the car reaches %.0f km/h; look at the units of its speeds in the map",
                     10 * round(0.36 * to->d->fastest)));
    return BT_OK;
}

/* Two pressures that one pedal makes. */
static bt_status tell_pair(const teller *to, bt_channel a, bt_channel b)
{
    double x = to->d->most[a], y = to->d->most[b];
    if (x < y) return tell_pair(to, b, a);
    if (!(x > LIGHT) || !(x > APART * y)) return BT_OK;
    return doubt(to,
                 "%s reaches %.3g bar and %s %.3g bar by the same pedal; look at their units "
                 "in the map",
                 bt_channel_name(a), x / 1e5, bt_channel_name(b), y / 1e5);
}

static bt_status tell_pressures(const teller *to)
{
    static const bt_channel pedal[] = {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR, BT_CH_LINE_FRONT};
    const bt_doubts *d = to->d;
    for (size_t i = 0; i < sizeof pedal / sizeof *pedal; i++)
        if (d->most[pedal[i]] < LIGHT && d->braking >= LONG)
            BT_TRY(
                doubt(to,
                      "%s reaches %.3g bar while the car slows by %.1f m/s²; look at its unit in "
                      "the map",
                      bt_channel_name(pedal[i]), d->most[pedal[i]] / 1e5, d->peak));
    BT_TRY(tell_pair(to, BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR));
    return tell_pair(to, BT_CH_PEDAL_FRONT, BT_CH_LINE_FRONT);
}

static bt_status tell_accel(const teller *to)
{
    const sums *a = &to->d->accel;
    if (!(a->n >= MANY)) return BT_OK;
    const double xx = a->xx - a->x * a->x / a->n, yy = a->yy - a->y * a->y / a->n;
    const double xy = a->xy - a->x * a->y / a->n;
    const double follows = xy / sqrt(xx * yy), slope = xy / xx;
    if (follows < -FOLLOWS)
        return doubt(to, "accel_long falls where the speed rises; it must be positive forward: "
                         "scale -1 in the map");
    if (follows > FOLLOWS && (slope > ACCEL || slope < 1 / ACCEL))
        return doubt(
            to, "accel_long is %.2g times what the speed does; look at its unit in the map", slope);
    return BT_OK;
}

static bt_status tell_motor(const teller *to)
{
    const bt_doubts *d = to->d;
    if (d->motor >= 3 && (double)d->drives > 0.8 * (double)d->motor)
        BT_TRY(doubt(to,
                     "motor_torque drives in %zu of %zu brakings; it must be negative where it "
                     "brakes: scale -1 in the map",
                     d->drives, d->motor));
    if (d->taken > WORTH && d->given > 0.2 * d->taken)
        BT_TRY(doubt(to,
                     "the battery gives %.0f kJ in brakings in which the motor takes %.0f kJ; "
                     "battery_current must be positive when discharging: scale -1 in the map",
                     d->given / 1e3, d->taken / 1e3));
    return BT_OK;
}

static bt_status tell_state(const teller *to)
{
    const bt_doubts *d = to->d;
    if (!bt_channels_has(d->channels, BT_CH_BYWIRE_STATE) || d->in_charge > 0 ||
        isnan(d->most[BT_CH_BYWIRE_STATE]))
        return BT_OK;
    return doubt(to,
                 "bywire_state is %g to %g and never %g, in charge; if another value means "
                 "that, give it as bywire_ok in the car sheet",
                 d->least[BT_CH_BYWIRE_STATE], d->most[BT_CH_BYWIRE_STATE],
                 d->car->value[BT_CAR_BYWIRE_OK]);
}

/* Wheels that lock fall as fast, but the brakings around them are those of a car. */
static bt_status tell_grip(const teller *to)
{
    const size_t n = to->tally->n, unsure = to->d->unsure;
    const double grip = to->d->car->value[BT_CAR_GRIP_LIMIT];
    if (unsure < 3 || 2 * unsure <= n || !(to->d->decel > HARD * grip * (double)n)) return BT_OK;
    return doubt(to,
                 "speed falls faster than grip allows (%.2g g) in %zu of %zu brakings; look at "
                 "the units of speed and time in the map, or give grip_limit in the car sheet",
                 grip / BT_GRAVITY, unsure, n);
}

/* The sums that catch what no channel shows by itself; after a doubt that explains them they are not
 * asked. */
static bt_status tell_books(const teller *to)
{
    const bt_tally *tally = to->tally;
    const double effort = to->result->run.effort_ratio;
    if (said(to) || tally->n < 3) return BT_OK;
    if (effort > EFFORT || effort < 1 / EFFORT)
        BT_TRY(doubt(to,
                     "the car slows as if by %.2g times the force that brakes, motor and road "
                     "load make by the car sheet (effort_ratio); look at mass, piston_area, "
                     "pad_friction, effective_radius, rolling_radius, motor_ratio and the units "
                     "of the pressures",
                     effort));
    size_t zones = 0, far = 0;
    double sum = 0;
    for (size_t i = 0; i < tally->n; i++) {
        const bt_tally_zone *z = &tally->zone[i];
        const double ratio = z->delivers;
        if (isnan(ratio) || z->mode == BT_MODE_FALLBACK || z->mode == BT_MODE_MIXED) continue;
        zones++;
        sum += ratio;
        far += ratio > DELIVERS || ratio < 1 / DELIVERS;
    }
    if (zones < 3 || !((double)far > 0.9 * (double)zones)) return BT_OK;
    return doubt(to,
                 "the by-wire axle delivers %.2g times the demand in %zu of %zu brakings; look "
                 "at demand_gain and the units of its pressures ('braketally fit' reads the "
                 "demand off the log)",
                 sum / (double)zones, far, zones);
}

static bt_status tell_time(const teller *to, const bt_sample_counts *counts)
{
    /* A stutter now and then is told by its flag alone. */
    if ((double)counts->dropped > LOST * (double)counts->rows)
        BT_TRY(bt_notes_add(to->notes, to->err,
                            "time stands still, goes back or cannot be read in %zu of %zu rows, "
                            "which are left out: "
                            "expected a time that rises from row to row",
                            (size_t)counts->dropped, (size_t)counts->rows));
    const double step = (counts->last - counts->first) / ((double)counts->rows - 1);
    if (to->tally->n || !(step > SLOW_ROWS) || counts->rows < 20) return BT_OK;
    return doubt(to,
                 "rows are %.3g s apart; if time is in milliseconds, give it the unit ms in the "
                 "map",
                 step);
}

/* Why there is no zone.  No doubt: the car may have stood. */
static bt_status tell_no_zone(const teller *to, bt_channel pedal)
{
    const bt_doubts *d = to->d;
    char why[160] = "";
    if (to->tally->n) return BT_OK;
    const double slow = d->car->value[BT_CAR_ZONE_MIN_SPEED], on = d->car->value[BT_CAR_ZONE_ON];
    if (isnan(d->fastest))
        snprintf(why, sizeof why, ": no speed that a car can have");
    else if (!(d->fastest > slow))
        bt_print(why, sizeof why,
                 ": speed reaches %.3g m/s, zones begin above %.3g (zone_min_speed)", d->fastest,
                 slow);
    else if (pedal < BT_CH_COUNT && bt_channel_is_pressure(pedal) && !(d->most[pedal] > on))
        bt_print(why, sizeof why, ": %s reaches %.3g bar, zones begin above %.3g (zone_on)",
                 bt_channel_name(pedal), d->most[pedal] / 1e5, on / 1e5);
    else if (to->result->run.touches > 0)
        bt_print(why, sizeof why,
                 ": %.0f brakings were too short or too light (zone_min_time, zone_min_drop)",
                 to->result->run.touches);
    return bt_notes_add(to->notes, to->err, "no braking zone%s", why);
}

/* A map may know better than the header, and should be seen to. */
static bt_status tell_units(const teller *to)
{
    const bt_channels *channels = to->d->channels;
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const bt_unit *header = bt_channels_header_unit(channels, (bt_channel)c);
        if (header)
            BT_TRY(bt_notes_add(
                to->notes, to->err, "%s: the header says %s and the map %s, which counts",
                bt_channel_name((bt_channel)c), header->label, channels->ch[c].unit->label));
    }
    return BT_OK;
}

bt_status bt_doubts_tell(const bt_doubts *d, const bt_sample_counts *counts, bt_channel pedal,
                         const bt_tally *tally, bt_result *result, bt_notes *notes, bt_error *err)
{
    const teller to = {d, tally, result, notes, err};
    BT_TRY(tell_units(&to));
    BT_TRY(tell_time(&to, counts));
    BT_TRY(tell_no_zone(&to, pedal));
    BT_TRY(tell_wheels(&to));
    BT_TRY(tell_same(&to));
    BT_TRY(tell_speed(&to));
    BT_TRY(tell_pressures(&to));
    BT_TRY(tell_accel(&to));
    BT_TRY(tell_motor(&to));
    BT_TRY(tell_state(&to));
    BT_TRY(tell_grip(&to));
    return tell_books(&to);
}
