/* Braking zones (METHODS 4): the last stage.  See segment.h.
 *
 * Four states.  FREE: the signal is below `off`; samples pass as slices of their block, found by
 * one pass over the signal.  RISING: it is above `off`, but no zone yet; samples are held.  OPEN: a
 * zone is under way. AFTER: it has ended, and waits for a neighbour to be merged with or for a
 * speed to believe in (bridge.h).  Held samples are looked at one by one, so that no decision sees
 * where blocks were cut. */
#include "zones/segment.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "zones/handover.h"
#include "zones/trigger.h"

/* METHODS 4. */
#define OPENS_AFTER  0.05 /* s above `on` at more than zone_min_speed */
#define CLOSES_AFTER 0.15 /* s below `off` */
#define STANDS_SPEED 0.5  /* m/s */
#define STANDS_AFTER 0.3  /* s */
/* A foot that rests between `off` and `on` does not brake yet: a zone reaches back no further than
 * this. */
#define LOOK_BACK 1.0 /* s */

#define TICK        0.5          /* s, how often the zero is followed while the pedal is released */
#define PIECE       ((size_t)64) /* samples held at once: what turns out free was copied in vain */
#define MAX_SAMPLES ((size_t)65536)
#define NONE        SIZE_MAX

typedef enum { FREE, RISING, OPEN, AFTER } state;

/* A place between two samples: the first sample behind it, and the time interpolated. */
typedef struct {
    size_t at; /* NONE = there is none */
    double t;
} mark;

typedef struct {
    bt_stage stage;
    bt_handover out;
    bt_trigger trigger;
    double gap, min_speed;
    size_t max;
    bt_zeros *zeros;

    bool shaped;
    state state;
    double zero, tick_end; /* running zero, and until when it serves */
    bool has_last;         /* the sample before the next one, unless the stretch has just begun */
    bt_sample last;

    bt_hold hold;
    size_t pos;    /* the sample to look at next */
    double not_on; /* s, the last sample that did not count towards opening */

    /* RISING: samples [0, lead) were handed on before; the candidate begins at `first`. */
    size_t lead, first;

    /* OPEN and AFTER: the zone begins at sample 0. */
    bool made_start; /* sample 0 is interpolated, not the log's */
    bool cut_start, cut_end, thinned;
    size_t dense, stride; /* samples [0, dense) are thinned to every stride-th */
    mark below, stands;   /* OPEN: since when; AFTER: `below` is the zone's end */
    double unsure;        /* s, the latest unsure sample, -INFINITY = none */
    bool mergeable;
    mark rise; /* AFTER: the next candidate */
} segment;

static segment *of(bt_stage *stage)
{
    return (segment *)stage;
}

static double held(const segment *s, int k, size_t i)
{
    return s->hold.has[k] ? s->hold.ch[k][i] : NAN;
}

/* Where a signal crosses a level between samples i - 1 and i. */
static double crossing(const segment *s, int k, size_t i, double level)
{
    const double *t = s->hold.t, *x = s->hold.ch[k];
    const double part = (level - x[i - 1]) / (x[i] - x[i - 1]);
    return part > 0 && part < 1 ? t[i - 1] + part * (t[i] - t[i - 1]) : t[part > 0 ? i : i - 1];
}

/* ---- handing on ---- */

/* As long as the pedal's zero is unknown, an offset between `off` and `on` looks like a resting
 * foot: the zero of the pedal, and of nothing else, is learnt from that too. */
static void learn_pedal(segment *s, const bt_block *in)
{
    if (s->trigger.pedal == BT_CH_COUNT || !isnan(bt_zeros_running(s->zeros, s->trigger.pedal)))
        return;
    bt_block b = {.n = in->n, .t = in->t};
    b.ch[s->trigger.pedal] = in->ch[s->trigger.pedal];
    bt_zeros_push(s->zeros, &b, 0, b.n);
}

/* Zeros are learnt from what is below `off`: where the pedal has no value, the lines may be under
 * pressure. */
static void learn(segment *s, const bt_block *in, size_t lo, size_t hi)
{
    const double *x = in->ch[s->trigger.signal], level = s->trigger.off + s->zero;
    for (size_t i = lo; x && i < hi; i++) {
        const size_t from = i;
        while (i < hi && x[i] < level) i++;
        bt_handover_released(&s->out, in, from, i);
    }
}

/* Held samples [lo, hi) are outside zones. */
static bt_status hand_held(segment *s, size_t lo, size_t hi, bt_error *err)
{
    const bt_block run = bt_hold_view(&s->hold, lo, hi);
    learn(s, &run, 0, run.n);
    return bt_handover_free_run(&s->out, &run, err);
}

/* The hold's samples before i were handed on: sample i is looked at next, in FREE again. */
static void set_free(segment *s, size_t i)
{
    if (i > 0) s->last = bt_hold_get(&s->hold, i - 1);
    s->has_last = s->has_last || i > 0;
    bt_hold_drop(&s->hold, i);
    s->pos = 0;
    s->state = FREE;
}

/* The pedal reads more than `off`, and yet nobody brakes: its zero has moved.  A zone under way ended where the
 * pedal fell to that. */
static void follow_moved(segment *s)
{
    const bool above = s->state == RISING || (s->state == OPEN && s->below.at == NONE);
    if (!above || s->trigger.pedal == BT_CH_COUNT) return;
    const double *t = s->hold.t;
    size_t lo = s->pos;
    while (lo > 0 && t[s->pos] - t[lo - 1] <= BT_ZERO_WINDOW + BT_TIME_SLACK) lo--;
    if (t[s->pos] - t[lo] < BT_ZERO_WINDOW / 2) return;
    const bt_block window = bt_hold_view(&s->hold, lo, s->pos + 1);
    if (!bt_zeros_moved(s->zeros, &window, s->trigger.pedal)) return;
    const double level = s->trigger.off + bt_zeros_running(s->zeros, s->trigger.pedal);
    size_t i = s->pos + 1;
    while (i > 0 && held(s, s->trigger.signal, i - 1) < level) i--;
    if (i == 0) i = 1; /* nothing of it was a braking */
    if (s->state == OPEN && i <= s->pos)
        s->below = (mark){i, crossing(s, s->trigger.signal, i, level)};
}

/* The zero follows the released pedal, at times that the samples tell and blocks do not. */
static bt_status follow_zero(segment *s, double t, bt_error *err)
{
    if (t < s->tick_end) return BT_OK;
    s->tick_end = (floor(t / TICK) + 1) * TICK;
    if (s->state == RISING && s->first > s->lead) { /* what is out of reach of a zone may go */
        const bt_block run = bt_hold_view(&s->hold, s->lead, s->first);
        learn_pedal(s, &run);
        BT_TRY(bt_handover_free_run(&s->out, &run, err));
        bt_hold_drop(&s->hold, s->first);
        s->pos -= s->first;
        s->lead = s->first = 0;
        s->has_last = true;
    }
    follow_moved(s);
    const double zero =
        s->trigger.pedal == BT_CH_COUNT ? 0 : bt_zeros_running(s->zeros, s->trigger.pedal);
    s->zero = isnan(zero) ? 0 : zero;
    return BT_OK;
}

/* The zone is complete; `known` samples may be looked at. */
static bt_status hand_zone(segment *s, size_t known, bt_error *err)
{
    bt_held_zone zone = {s->below.at, s->below.t, known, s->made_start, 0};
    if (s->cut_start) zone.flags |= BT_FLAG_CUT_START;
    if (s->cut_end) zone.flags |= BT_FLAG_CUT_END;
    if (s->thinned) zone.flags |= BT_FLAG_THINNED;
    return bt_handover_zone(&s->out, &s->hold, &zone, err);
}

/* ---- one sample, state by state; s->pos moves on when the sample is done with ---- */

static bool counts(const segment *s, size_t i)
{
    return held(s, s->trigger.signal, i) > s->trigger.on + s->zero &&
           held(s, BT_SIG_SPEED, i) > s->min_speed;
}

/* Has the signal been above `on` for long enough?  Counted from the last sample that was not, so
 * that one sample does at one a second. */
static bool opens(segment *s, size_t i)
{
    if (counts(s, i)) return s->hold.t[i] - s->not_on >= OPENS_AFTER - BT_TIME_SLACK;
    s->not_on = s->hold.t[i];
    return false;
}

static void clear_marks(segment *s)
{
    s->below = s->stands = s->rise = (mark){.at = NONE};
}

/* The candidate is a zone: bring its first sample to the front of the hold.  A car that rolls back begins no
 * braking yet, though the foot is on the pedal. */
static bt_status open_zone(segment *s, bt_error *err)
{
    while (held(s, BT_SIG_SPEED, s->first) < 0) s->first++;
    const bool reaches_last = s->lead == 1 && s->first == 1 && !(held(s, BT_SIG_SPEED, 0) < 0);
    const double before = s->lead == 1 ? held(s, s->trigger.signal, 0) : NAN;
    s->cut_start = s->first == s->lead && isnan(before) && (s->lead == 1 || !s->has_last);
    s->made_start = false;
    const double t = reaches_last && before < s->trigger.off + s->zero
                         ? crossing(s, s->trigger.signal, 1, s->trigger.off + s->zero)
                         : INFINITY;
    if (t < s->hold.t[s->first] - BT_TIME_SLACK) {
        const bt_sample a = bt_hold_get(&s->hold, 0), b = bt_hold_get(&s->hold, 1);
        const bt_sample start = bt_sample_between(&a, &b, fmax(t, nextafter(a.t, b.t)));
        bt_hold_set(&s->hold, 0, &start);
        s->made_start = true;
    } else {
        const bt_block run = bt_hold_view(&s->hold, s->lead, s->first);
        BT_TRY(bt_handover_free_run(&s->out, &run, err));
        bt_hold_drop(&s->hold, s->first);
        s->pos -= s->first;
    }
    clear_marks(s);
    s->cut_end = s->thinned = false;
    s->dense = 0;
    s->stride = 1;
    s->unsure = -INFINITY;
    s->state = OPEN;
    return BT_OK;
}

static bt_status rising(segment *s, size_t i, bt_error *err)
{
    if (!(held(s, s->trigger.signal, i) >= s->trigger.off + s->zero)) {
        BT_TRY(hand_held(s, s->lead, i, err));
        set_free(s, i);
        return BT_OK;
    }
    while (s->hold.t[s->first] < s->hold.t[i] - LOOK_BACK - BT_TIME_SLACK || i - s->first >= s->max)
        s->first++;
    if (opens(s, i)) return open_zone(s, err); /* looks at the sample again, in OPEN */
    s->pos++;
    return BT_OK;
}

/* The zone ends at `end`; neighbours may join unless it was a stop or a cut. */
static void close_zone(segment *s, mark end, bool mergeable)
{
    s->below = end;
    s->mergeable = mergeable;
    s->rise.at = NONE;
    s->state = AFTER;
}

/* Follow the marks of a zone under way to sample i. */
static void set_marks(segment *s, size_t i)
{
    const double level = s->trigger.off + s->zero;
    const double *t = s->hold.t;
    if (held(s, s->trigger.signal, i) >= level)
        s->below.at = NONE;
    else if (s->below.at == NONE)
        s->below = i > 0 ? (mark){i, crossing(s, s->trigger.signal, i, level)} : (mark){i, t[i]};

    const bool unsure = held(s, BT_SIG_UNSURE, i) == 1;
    if (unsure) s->unsure = t[i];
    if (unsure || !(held(s, BT_SIG_SPEED, i) < STANDS_SPEED))
        s->stands.at = NONE;
    else if (s->stands.at == NONE && i > 0)
        s->stands = (mark){i, crossing(s, BT_SIG_SPEED, i, STANDS_SPEED)};
}

static bool lasts(const segment *s, mark m, size_t i, double time)
{
    return m.at != NONE && s->hold.t[i] - s->hold.t[m.at - 1] >= time - BT_TIME_SLACK;
}

/* The earlier of two marks. */
static mark earlier(mark a, mark b)
{
    if (a.at == NONE || b.at == NONE) return a.at == NONE ? b : a;
    return b.t < a.t ? b : a;
}

static void thin(segment *s, size_t i)
{
    if (i < s->max || s->below.at != NONE || s->stands.at != NONE) return;
    size_t kept = bt_hold_thin(&s->hold, s->dense, i + 1, s->stride);
    if (kept > s->max / 4 * 3) { /* not only what is new is too much */
        kept = bt_hold_thin(&s->hold, 0, kept, 2);
        s->stride *= 2;
    }
    s->thinned = true;
    s->pos = s->dense = kept - 1;
}

static bt_status in_zone(segment *s, size_t i)
{
    if (isnan(held(s, s->trigger.signal, i))) { /* a hole: the zone ends with what was known last */
        s->cut_end = s->below.at == NONE;
        const mark known = {i, s->hold.t[i - 1]};
        close_zone(s, s->cut_end ? known : s->below, false);
        return BT_OK;
    }
    set_marks(s, i);
    if (lasts(s, s->stands, i, STANDS_AFTER))
        close_zone(s, earlier(s->stands, s->below), false);
    else if (lasts(s, s->below, i, CLOSES_AFTER))
        close_zone(s, s->below, true);
    else {
        thin(s, i);
        s->pos++;
        return BT_OK;
    }
    s->not_on = s->hold.t[i];
    return BT_OK;
}

/* Does a speed that is not believed reach over the zone's end, so that more samples may help? */
static bool waits_for_speed(const segment *s, size_t i)
{
    return s->unsure >= s->hold.t[s->below.at - 1] - s->out.half_window &&
           s->hold.t[i] < s->unsure + s->out.half_window &&
           s->hold.t[i] - s->below.t < BT_BRIDGE_AHEAD && i - s->below.at < s->max;
}

/* The zone is over: hand it on, and go on with the candidate behind it if there is one. */
static bt_status leave_zone(segment *s, size_t i, bt_error *err)
{
    BT_TRY(hand_zone(s, i + 1, err));
    const size_t rest = s->rise.at != NONE ? s->rise.at : i;
    BT_TRY(hand_held(s, s->below.at, rest, err));
    s->has_last = true;
    if (s->rise.at == NONE) {
        set_free(s, i);
        return BT_OK;
    }
    bt_hold_drop(&s->hold, rest - 1);
    s->pos -= rest - 1;
    s->lead = s->first = 1;
    s->state = RISING;
    return BT_OK;
}

static bt_status after_zone(segment *s, size_t i, bt_error *err)
{
    const double t = s->hold.t[i], level = s->trigger.off + s->zero;
    if (held(s, BT_SIG_UNSURE, i) == 1) s->unsure = t;
    if (!(held(s, s->trigger.signal, i) >= level))
        s->rise.at = NONE;
    else if (s->rise.at == NONE && i > s->below.at)
        s->rise = (mark){i, held(s, s->trigger.signal, i - 1) < level
                                ? crossing(s, s->trigger.signal, i, level)
                                : t};
    if (opens(s, i) && s->rise.at != NONE) {
        if (s->mergeable && s->rise.t - s->below.t < s->gap) {
            clear_marks(s);
            s->state = OPEN;
            return BT_OK;
        }
        return leave_zone(s, i, err);
    }
    const double next = s->rise.at != NONE ? fmax(s->rise.t, t - LOOK_BACK) : t;
    const bool may_merge = s->mergeable && next - s->below.t < s->gap && i - s->below.at < s->max;
    if (!may_merge && !waits_for_speed(s, i)) return leave_zone(s, i, err);
    s->pos++;
    return BT_OK;
}

static bt_status look(segment *s, bt_error *err)
{
    while (s->state != FREE && s->pos < s->hold.n) {
        BT_TRY(follow_zero(s, s->hold.t[s->pos], err));
        if (s->state == RISING)
            BT_TRY(rising(s, s->pos, err));
        else if (s->state == OPEN)
            BT_TRY(in_zone(s, s->pos));
        else
            BT_TRY(after_zone(s, s->pos, err));
    }
    return BT_OK;
}

/* ---- blocks ---- */

/* The first of samples [lo, hi) at or above the level, hi if none is.  The inner loop has no way
 * out, so that it runs several samples at a time. */
static size_t find_rise(const double *x, size_t lo, size_t hi, double level)
{
    while (lo < hi) {
        const size_t end = hi - lo > PIECE ? lo + PIECE : hi;
        int any = 0;
        for (size_t i = lo; i < end; i++) any |= x[i] >= level;
        if (any) break;
        lo = end;
    }
    while (lo < hi && !(x[lo] >= level)) lo++;
    return lo;
}

/* Pass on samples from *lo to the next rise, or to the end of the block. */
static bt_status pass_free(segment *s, const bt_block *in, size_t *lo, bt_error *err)
{
    const double *x = in->ch[s->trigger.signal];
    const size_t from = *lo;
    bool rise = false;
    size_t i = from;
    while (x && i < in->n && !rise) {
        BT_TRY(follow_zero(s, in->t[i], err));
        size_t end = i + 1;
        while (end < in->n && in->t[end] < s->tick_end) end++;
        const size_t at = find_rise(x, i, end, s->trigger.off + s->zero);
        learn(s, in, i, at);
        rise = at < end;
        i = at;
    }
    if (!x) i = in->n;
    *lo = i;
    if (i == from) return BT_OK;
    const bt_block run = bt_block_slice(in, from, i);
    s->last = (bt_sample){.t = in->t[i - 1]};
    for (int k = 0; k < BT_SIGNALS; k++) s->last.v[k] = in->ch[k] ? in->ch[k][i - 1] : NAN;
    s->has_last = true;
    return bt_handover_free_run(&s->out, &run, err);
}

/* A candidate begins: the sample before it comes first. */
static bt_status begin(segment *s, double t, bt_error *err)
{
    s->hold.n = s->pos = 0;
    s->not_on = t;
    if (s->has_last) {
        BT_TRY(bt_hold_room(&s->hold, 1, err));
        bt_hold_set(&s->hold, 0, &s->last);
        s->hold.n = s->pos = 1;
        s->not_on = s->last.t;
    }
    s->lead = s->first = s->pos;
    s->state = RISING;
    return BT_OK;
}

static bt_status push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    segment *s = of(stage);
    if (!s->shaped) bt_hold_shape(&s->hold, in);
    s->shaped = true;
    for (size_t lo = 0; lo < in->n;) {
        if (s->state == FREE) {
            BT_TRY(pass_free(s, in, &lo, err));
            if (lo == in->n) break;
            BT_TRY(begin(s, in->t[lo], err));
        }
        const size_t hi = in->n - lo > PIECE ? lo + PIECE : in->n;
        BT_TRY(bt_hold_add(&s->hold, in, lo, hi, err));
        BT_TRY(look(s, err));
        lo = s->state == FREE ? hi - s->hold.n : hi; /* what is held in FREE was not looked at */
    }
    return BT_OK;
}

static void forget(segment *s)
{
    s->hold.n = s->pos = 0;
    s->state = FREE;
    s->has_last = false;
    s->out.believed = (bt_believed){NAN, NAN};
    s->zero = 0;
    s->tick_end = -INFINITY;
    clear_marks(s);
    bt_zeros_reset(s->zeros);
}

/* A zone still open ends here: cut, unless it was seen to end (below `off` or standing, if only for
 * a moment). */
static bt_status end(bt_stage *stage, bt_error *err)
{
    segment *s = of(stage);
    const size_t n = s->hold.n;
    if (s->state == RISING) BT_TRY(hand_held(s, s->lead, n, err));
    if (s->state == OPEN) {
        const mark seen = earlier(s->below, s->stands);
        s->cut_end = seen.at == NONE;
        close_zone(s, s->cut_end ? (mark){n, s->hold.t[n - 1]} : seen, false);
    }
    if (s->state == AFTER) {
        BT_TRY(hand_zone(s, n, err));
        BT_TRY(hand_held(s, s->below.at, n, err));
    }
    forget(s);
    return s->out.sink.stretch_end(s->out.sink.user, err);
}

/* ---- life ---- */

static void set_limits(segment *s, const bt_car *car)
{
    const double *value = car->value;
    s->out.min_time = value[BT_CAR_ZONE_MIN_TIME];
    s->out.min_drop = value[BT_CAR_ZONE_MIN_DROP];
    s->gap = value[BT_CAR_ZONE_GAP];
    s->min_speed = value[BT_CAR_ZONE_MIN_SPEED];
    /* The smoothing window includes its ends. */
    s->out.half_window = 0.5 * value[BT_CAR_SMOOTH_WINDOW] + BT_TIME_SLACK;
}

bt_status bt_segment_new(bt_stage **out, const bt_channels *channels, const bt_car *car,
                         size_t max_samples, const bt_segment_sink *sink, bt_error *err)
{
    *out = NULL;
    bt_trigger trigger;
    BT_TRY(bt_trigger_set(&trigger, channels, car, err));
    segment *s = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for the braking zones");
    s->stage = (bt_stage){.push = push, .end = end};
    s->out.sink = *sink;
    s->max = max_samples ? max_samples : MAX_SAMPLES;
    s->trigger = trigger;
    s->out.pedal = trigger.pedal;
    set_limits(s, car);
    const bt_status status = bt_zeros_new(&s->zeros, car->bywire_axle, err);
    if (status != BT_OK) {
        bt_segment_free(&s->stage);
        return status;
    }
    s->out.zeros = s->zeros;
    forget(s);
    *out = &s->stage;
    return BT_OK;
}

uint64_t bt_segment_touches(const bt_stage *stage)
{
    return ((const segment *)stage)->out.touches;
}

bt_channel bt_segment_pedal(const bt_stage *stage)
{
    return ((const segment *)stage)->trigger.pedal;
}

void bt_segment_free(bt_stage *stage)
{
    if (!stage) return;
    segment *s = of(stage);
    bt_zeros_free(s->zeros);
    bt_hold_free(&s->hold);
    free(s);
}
