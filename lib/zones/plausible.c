/* Plausibility of the channels of one braking zone: bt_sensors_check() of sensors.h; METHODS 2.5.
 *
 * A false alarm costs more than a fault seen one zone later: it takes the car off the track, and
 * the next one is not believed.  So a channel is only called stuck or pinned against a sister that
 * physics ties to it: both master cylinders hang on one pedal, the front line on its master
 * cylinder, the wheels on one road.  The by-wire line hangs on nothing: it rightly rests at its
 * threshold while the motor covers the whole demand, and rightly moves while the pedal is held.  It
 * is only doubted where it stands still under pressure while the demand moves. */
#include <math.h>
#include <stddef.h>

#include "zones/integral.h"
#include "zones/sensors.h"

#define STUCK_TIME 2.0 /* s (METHODS 2.5) */
/* A clipped signal leaves its limit when the braking ebbs, so it never stays as long as a stuck
 * one; a held value that is renewed once a second is no fault. */
#define PINNED_TIME 1.2
#define GAP_TIME    0.2 /* s; the end of a slow channel's last interval is no hole */

/* What a sister must move by to count.  A pedal held "still" wanders by a bar or two, and friction
 * in the balance bar and the seals hides a few more. */
#define MOVES_PRESSURE 10e5 /* Pa */
#define MOVES_WHEEL    3.0  /* m/s; four wheels of one car in a bend differ by one */
/* By-wire line: from here on it carries pressure, whatever threshold and zero it has. */
#define CARRIES 5e5 /* Pa */

/* Possible ranges, SI.  Wide: beyond them is no braking but a broken wire or a wrong unit. */
typedef struct {
    bt_channel first, last;
    double low, high;
} possible;
static const possible ranges[] = {
    /* A broken 4-20 mA or 0.5-4.5 V wire reads an eighth to a quarter of the range below zero; no
     * circuit, no master cylinder and no usual sensor goes beyond 250 bar. */
    {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR, -5e5, 250e5},
    {BT_CH_LINE_FRONT, BT_CH_LINE_REQUEST, -5e5, 250e5},
    {BT_CH_PEDAL_TRAVEL, BT_CH_PEDAL_TRAVEL, -0.05, 0.4}, /* no footwell has more */
    {BT_CH_PEDAL_FORCE, BT_CH_PEDAL_FORCE, -100, 4000},   /* a strong leg pushes 3000 N */
    {BT_CH_WHEEL_FL, BT_CH_WHEEL_RR, -1, 150},            /* forward, and below 540 km/h */
    /* Carbon discs pass 1000 degC, none lives at 1500; no track is at -50 degC. */
    {BT_CH_DISC_FL, BT_CH_DISC_RR, 223.15, 1773.15},
};

/* Channels that must move together: if `mover` moves, `tied` cannot stand still. */
static const struct {
    bt_channel tied, mover;
} ties[] = {
    {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR}, {BT_CH_PEDAL_REAR, BT_CH_PEDAL_FRONT},
    {BT_CH_PEDAL_FRONT, BT_CH_LINE_FRONT}, {BT_CH_LINE_FRONT, BT_CH_PEDAL_FRONT},
    {BT_CH_PEDAL_REAR, BT_CH_LINE_FRONT},  {BT_CH_LINE_FRONT, BT_CH_PEDAL_REAR},
    {BT_CH_LINE_FL, BT_CH_LINE_FR},        {BT_CH_LINE_FR, BT_CH_LINE_FL},
    {BT_CH_LINE_RL, BT_CH_LINE_RR},        {BT_CH_LINE_RR, BT_CH_LINE_RL},
};

/* Longest stretch of samples [lo, hi] in which x has one and the same value `level` (any if NaN).
 */
typedef struct {
    size_t lo, hi;
    double time;
} still;

static still longest_still(const bt_block *z, const double *x, double level)
{
    still best = {0};
    size_t lo = 0;
    for (size_t i = 0; i < z->n; i++) {
        if (i == 0 || !(x[i] == x[i - 1])) lo = i;
        const bool counts = isnan(level) ? !isnan(x[i]) : x[i] == level;
        if (counts && z->t[i] - z->t[lo] > best.time) best = (still){lo, i, z->t[i] - z->t[lo]};
    }
    return best;
}

static double largest(const double *x, size_t n)
{
    double most = NAN;
    for (size_t i = 0; i < n; i++)
        if (!(x[i] <= most) && !isnan(x[i])) most = x[i];
    return most;
}

/* Who keeps a value for `time` has it at two neighbours of a grid of less than half of that, whose steps are
 * single samples where those are farther apart. */
bool bt_may_stand(const double *t, const double *x, size_t n, double time)
{
    const double stride = 0.45 * time;
    size_t step = n;
    for (size_t i = 0; i + 1 < n; i += step) {
        const size_t left = n - 1 - i;
        step = 2 * step < left ? 2 * step : left;
        while (step > 1 && t[i + step] - t[i] > stride) step /= 2;
        if (x[i + step] == x[i]) return true;
    }
    return false;
}

/* What of a channel does not depend on its sisters: worked out once a zone. */
typedef struct {
    bool known;
    still any, top; /* longest at any value, and at the largest; none if it cannot matter */
} habit;

/* A zone, and the habits of its channels so far. */
typedef struct {
    const bt_block *z;
    habit of[BT_CH_COUNT];
} survey;

static const habit *habit_of(survey *s, bt_channel c)
{
    habit *h = &s->of[c];
    if (h->known) return h;
    const double *x = s->z->ch[c];
    h->known = true;
    if (!bt_may_stand(s->z->t, x, s->z->n, PINNED_TIME)) return h;
    h->any = longest_still(s->z, x, NAN);
    /* Still at the top cannot be longer than still anywhere. */
    if (h->any.time > PINNED_TIME) h->top = longest_still(s->z, x, largest(x, s->z->n));
    return h;
}

/* By how much x moves over [lo, hi]; 0 if it has no value there. */
static double moves(const double *x, size_t lo, size_t hi)
{
    double least = INFINITY, most = -INFINITY;
    for (size_t i = lo; i <= hi; i++) {
        if (x[i] < least) least = x[i];
        if (x[i] > most) most = x[i];
    }
    return most > least ? most - least : 0;
}

/* Does one channel stand still while another, tied to it, moves? */
static uint32_t against(survey *s, bt_channel tied, bt_channel mover, double much)
{
    const double *y = s->z->ch[mover];
    const habit *h = habit_of(s, tied);
    if (h->any.time > STUCK_TIME && moves(y, h->any.lo, h->any.hi) >= much)
        return BT_FLAG_SENSOR_STUCK;
    if (h->top.time > PINNED_TIME && moves(y, h->top.lo, h->top.hi) >= much)
        return BT_FLAG_SENSOR_RANGE;
    return 0;
}

/* A wheel at 0 that turned before in the zone is locked, which is the wheel's fault, not its
 * sensor's. */
static bool is_locked(const bt_block *z, const double *wheel)
{
    const still at_zero = longest_still(z, wheel, 0);
    return at_zero.time > 0 && at_zero.lo > 0;
}

/* The by-wire line against the demand. */
static uint32_t check_rear_line(survey *s)
{
    const double *line = s->z->ch[BT_CH_LINE_REAR];
    const double *pedal =
        s->z->ch[BT_CH_PEDAL_REAR] ? s->z->ch[BT_CH_PEDAL_REAR] : s->z->ch[BT_CH_PEDAL_FRONT];
    if (!line || !pedal) return 0;
    const still any = habit_of(s, BT_CH_LINE_REAR)->any;
    return any.time > STUCK_TIME && line[any.lo] > CARRIES &&
                   moves(pedal, any.lo, any.hi) >= MOVES_PRESSURE
               ? BT_FLAG_SENSOR_STUCK
               : 0;
}

static void check_wheels(survey *s, uint32_t which[BT_CH_COUNT])
{
    for (bt_channel w = BT_CH_WHEEL_FL; w <= BT_CH_WHEEL_RR; w++) {
        const double *x = s->z->ch[w];
        if (!x || habit_of(s, w)->any.time <= PINNED_TIME || is_locked(s->z, x)) continue;
        for (bt_channel o = BT_CH_WHEEL_FL; o <= BT_CH_WHEEL_RR; o++)
            if (o != w && s->z->ch[o]) which[w] |= against(s, w, o, MOVES_WHEEL);
    }
}

static void check_sisters(const bt_block *z, uint32_t which[BT_CH_COUNT])
{
    if (!(z->t[z->n - 1] - z->t[0] > PINNED_TIME)) return; /* too short to stand still in */
    survey s = {.z = z};
    for (size_t i = 0; i < sizeof ties / sizeof *ties; i++)
        if (z->ch[ties[i].tied] && z->ch[ties[i].mover])
            which[ties[i].tied] |= against(&s, ties[i].tied, ties[i].mover, MOVES_PRESSURE);
    which[BT_CH_LINE_REAR] |= check_rear_line(&s);
    check_wheels(&s, which);
}

/* Is a value outside?  In a loop without a branch, two at a time as each waits for the one before. */
static bool leaves(const double *x, size_t n, double low, double high)
{
    double least = INFINITY, least2 = INFINITY, most = -INFINITY, most2 = -INFINITY;
    size_t i = 0;
    for (; i + 1 < n; i += 2) {
        least = x[i] < least ? x[i] : least;
        most = x[i] > most ? x[i] : most;
        least2 = x[i + 1] < least2 ? x[i + 1] : least2;
        most2 = x[i + 1] > most2 ? x[i + 1] : most2;
    }
    if (i < n && (x[i] < low || x[i] > high)) return true;
    return least < low || least2 < low || most > high || most2 > high;
}

bool bt_sensors_possible(bt_channel channel, const double *x, size_t n)
{
    for (size_t r = 0; r < sizeof ranges / sizeof *ranges; r++)
        if (channel >= ranges[r].first && channel <= ranges[r].last)
            return !leaves(x, n, ranges[r].low, ranges[r].high);
    return true;
}

static void check_ranges(const bt_block *z, uint32_t which[BT_CH_COUNT])
{
    for (size_t r = 0; r < sizeof ranges / sizeof *ranges; r++)
        for (bt_channel c = ranges[r].first; c <= ranges[r].last; c++)
            if (z->ch[c] && leaves(z->ch[c], z->n, ranges[r].low, ranges[r].high))
                which[c] |= BT_FLAG_SENSOR_RANGE;
}

/* Time for which a channel has no value. */
static double missing(const bt_block *z, const double *x)
{
    if (bt_known_throughout(x, z->n)) return 0;
    double time = 0;
    for (size_t i = 1; i < z->n; i++)
        if (isnan(x[i - 1]) || isnan(x[i])) time += z->t[i] - z->t[i - 1];
    return time;
}

/* Needed are the channels that the zone's torques, slip and speed come from. */
static void check_gaps(const bt_block *z, uint32_t which[BT_CH_COUNT])
{
    for (bt_channel c = BT_CH_SPEED; c <= BT_CH_MOTOR_TORQUE; c++)
        if (z->ch[c] && missing(z, z->ch[c]) > GAP_TIME) which[c] |= BT_FLAG_SENSOR_GAP;
}

uint32_t bt_sensors_check(const bt_block *zone, uint32_t which[BT_CH_COUNT])
{
    uint32_t own[BT_CH_COUNT] = {0}, all = 0;
    check_sisters(zone, own);
    check_ranges(zone, own);
    check_gaps(zone, own);
    for (int c = 0; c < BT_CH_COUNT; c++) {
        all |= own[c];
        if (which) which[c] = own[c];
    }
    return all;
}
