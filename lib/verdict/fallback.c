/* By-wire or given up: see fallback.h (METHODS 8). */
#include "verdict/fallback.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "verdict/given_up.h"
#include "verdict/onset.h"
#include "verdict/sums.h"

#define FITS  1.5  /* mean squared distance, of what fits, */
#define FAR   4.0  /* and of what does not */
#define SHORT 0.05 /* s: a shorter piece of a zone in another state does not make it mixed */

enum { CERTAIN = 2 }; /* zones that bore a fallback out, from which it is not taken back */

struct bt_fallback {
    const bt_channels *channels;
    const bt_car *car;
    bool bywire, flag_logged;
    bool commanded; /* the line was seen to follow line_request, and not the pedal */
    bt_evidence evidence;
    uint8_t *state;
    size_t state_cap;
    bt_mode now;
    bt_sums sums;
    bt_bywire_flag flag;
    bt_given_up fallback;
    bt_dating dating;
    bt_harm_before before;
    bt_revision revision; /* of the zones before the last one */
    double last;          /* s, the last sample */
    bool told;            /* flag or pressures could tell something once */
    double count, silent, time, first;
};

/* A zone under way. */
typedef struct {
    const bt_block *s;
    bt_dated zone; /* the same, and its evidence */
    bt_zone *row;
    bt_events *events;
    size_t counted;  /* samples before it are in the fallback's sums */
    double up, down; /* nats in this zone, each way */
} visit;

const char *bt_mode_word(bt_mode mode)
{
    static const char *const words[] = {"", "undetermined", "by-wire", "fallback", "mixed"};
    return words[mode];
}

/* A by-wire car shows it by a flag, a request, or a demand that is not plainly its hydraulics'. */
static bool is_bywire(const bt_channels *channels, const bt_car *car)
{
    if (bt_channels_has(channels, BT_CH_BYWIRE_STATE)) return true;
    if (bt_channels_has(channels, BT_CH_LINE_REQUEST)) return true;
    if (!bt_channels_has(channels, bt_evidence_pedal(car))) return false;
    const bt_demand_source source = bt_demand_source_of(car);
    const bool motor =
        car->motor_axle == car->bywire_axle && bt_channels_has(channels, BT_CH_MOTOR_TORQUE);
    return source == BT_DEMAND_CURVE || source == BT_DEMAND_GAIN || motor;
}

bt_status bt_fallback_new(bt_fallback **out, const bt_channels *channels, const bt_car *car,
                          bt_error *err)
{
    bt_fallback *f = *out = calloc(1, sizeof *f);
    if (!f) return bt_fail(err, BT_NOMEM, "no memory for watching the by-wire");
    f->channels = channels;
    f->car = car;
    f->bywire = is_bywire(channels, car);
    f->flag_logged = bt_channels_has(channels, BT_CH_BYWIRE_STATE);
    f->now = BT_MODE_UNDETERMINED;
    bt_sums_init(&f->sums);
    bt_dating_init(&f->dating, car);
    f->first = f->revision.zone = NAN;
    return BT_OK;
}

void bt_fallback_free(bt_fallback *f)
{
    if (!f) return;
    bt_evidence_clear(&f->evidence);
    free(f->state);
    free(f);
}

bt_revision bt_fallback_revision(const bt_fallback *f)
{
    return f->revision;
}

/* ---- events ---- */

static void count(bt_fallback *f, const bt_event *event)
{
    f->count += 1;
    f->time += event->duration;
    if (!(f->first <= event->start)) f->first = event->start;
}

/* The fallback until `end`. */
static bt_status add_fallback(const bt_fallback *f, double end, bt_events *events, bt_event **out,
                              bt_error *err)
{
    return bt_given_up_event(&f->fallback, end, &f->before, f->car, f->flag_logged, events, out,
                             err);
}

/* The fallback is over at `end`. */
static bt_status close_fallback(bt_fallback *f, double end, bt_events *events, bt_error *err)
{
    bt_event *e;
    BT_TRY(add_fallback(f, end, events, &e, err));
    count(f, e);
    if (bt_given_up_silent(&f->fallback, f->flag_logged)) f->silent += 1;
    f->fallback.open = false;
    return BT_OK;
}

bt_status bt_fallback_lasting(bt_fallback *f, bt_events *events, bt_error *err)
{
    if (!f->fallback.open || f->fallback.zones < CERTAIN || f->fallback.announced) return BT_OK;
    f->fallback.announced = true;
    bt_event *e;
    BT_TRY(add_fallback(f, f->last, events, &e, err));
    e->duration = NAN;
    return BT_OK;
}

static bt_status close_flag(bt_fallback *f, double end, bt_events *events, bt_error *err)
{
    bt_event *by_flag;
    BT_TRY(bt_bywire_flag_close(&f->flag, end, events, &by_flag, err));
    if (by_flag) count(f, by_flag);
    return BT_OK;
}

/* The flag at one sample; not known = as before. */
static bt_status watch_flag(bt_fallback *f, double t, double value, bt_events *events,
                            bt_error *err)
{
    if (isnan(value)) return BT_OK;
    f->told = true;
    const double good = f->car->value[BT_CAR_BYWIRE_OK];
    const bool up = value < good || value > good;
    if (up && !f->flag.up)
        f->flag = (bt_bywire_flag){
            .up = true, .rise = t, .zone = NAN, .lap = NAN, .fallback = f->fallback.open};
    if (!up && f->flag.up) BT_TRY(close_flag(f, t, events, err));
    if (up && f->fallback.open && isnan(f->fallback.flag_at)) f->fallback.flag_at = t;
    return BT_OK;
}

/* Is the flag down all along, so that no sample of it needs a closer look?  It may be unknown. */
static bool stays_down(const bt_fallback *f, const double *flag, size_t n)
{
    const double good = f->car->value[BT_CAR_BYWIRE_OK];
    if (f->flag.up) return false;
    for (size_t i = 0; i < n; i++)
        if (flag[i] < good || flag[i] > good) return false;
    return true;
}

static bool any_known(const double *x, size_t n)
{
    size_t i = 0;
    while (i < n && isnan(x[i])) i++;
    return i < n;
}

/* ---- the state ---- */

static void feed(bt_fallback *f, visit *v, size_t i)
{
    const bt_evidence *e = &f->evidence;
    bt_sums_add(&f->sums, e, v->s->t[i], i);
    if (e->all[i] > 0) v->up += e->all[i];
    v->down += e->wire[i];
    if (!f->flag.up) return;
    const bool denied = f->flag.denied >= BT_FLAG_DENIED;
    f->flag.denied += e->wire[i];
    if (!denied && f->flag.denied >= BT_FLAG_DENIED && !f->flag.fallback)
        f->revision = (bt_revision){f->flag.zone, BT_MODE_BYWIRE};
}

/* Nats in samples [0, i), what is above zero. */
static double nats_before(const double *evidence, size_t i)
{
    double sum = 0;
    for (size_t j = 0; j < i; j++)
        if (evidence[j] > 0) sum += evidence[j];
    return sum;
}

static void set_states(bt_fallback *f, size_t from, size_t to, bt_mode mode)
{
    for (size_t i = from; i < to; i++) f->state[i] = (uint8_t)mode;
}

static void account(bt_fallback *f, visit *v, size_t to)
{
    bt_given_up_add(&f->fallback, &v->zone, v->counted, to);
    v->counted = to;
}

static void open_fallback(bt_fallback *f, visit *v, const bt_moment *onset, size_t i)
{
    const size_t from = bt_onset_index(v->s->t, v->s->n, onset->t);
    const bool known = nats_before(f->evidence.wire, from) >= BT_SUMS_TOLD;
    if (known && f->now == BT_MODE_UNDETERMINED) set_states(f, 0, from, BT_MODE_BYWIRE);
    set_states(f, from, i, BT_MODE_FALLBACK);
    f->now = BT_MODE_FALLBACK;
    f->sums.down.sum = 0;
    f->fallback =
        (bt_given_up){.open = true, .onset = *onset, .flag_at = f->flag.up ? f->flag.rise : NAN};
    f->flag.fallback = true;
    v->counted = from;
}

/* The bypass has beaten by-wire at sample i: a fallback, unless by chance.  Too late in a zone to be sure
 * of it, it is left to the next one. */
static void found(bt_fallback *f, visit *v, size_t i)
{
    const bt_confidence sure = bt_sums_confirm(&f->sums, &f->evidence, v->s->t, i);
    if (sure == BT_CHANCE) {
        memset(f->sums.up, 0, sizeof f->sums.up);
        return;
    }
    if (sure == BT_EARLY) return;
    bt_moment onset =
        bt_dating_moment(&f->dating, &v->zone, bt_sums_since(&f->sums, &f->evidence), i);
    if (onset.since <= f->dating.early.since) onset = f->dating.early;
    if (onset.zone < v->row->zone) f->revision = (bt_revision){onset.zone, BT_MODE_MIXED};
    open_fallback(f, v, &onset, i);
}

/* It was chance, in this zone or the one that it began in. */
static void take_back(bt_fallback *f)
{
    f->flag.fallback = false;
    f->fallback.open = false;
    f->revision = (bt_revision){f->fallback.onset.zone, BT_MODE_UNDETERMINED};
}

/* By-wire is found in charge at sample i.  A line that stood while the pedal passed its pressure, as that of
 * a stalled actuator does, looked like a bypass for a moment. */
static bt_status back_to_wire(bt_fallback *f, visit *v, size_t i, bt_error *err)
{
    double since = f->sums.down.since;
    const bool before =
        nats_before(f->evidence.all, bt_onset_index(v->s->t, v->s->n, since)) >= BT_SUMS_TOLD;
    if (!(since >= v->s->t[0] && since <= v->s->t[i]) || !before) since = v->s->t[0];
    const size_t from = bt_onset_index(v->s->t, v->s->n, since);
    if (f->fallback.open) {
        account(f, v, from > v->counted ? from : v->counted);
        if (f->fallback.zones < CERTAIN &&
            bt_harm_stood(&f->fallback.harm, f->car->value[BT_CAR_BYPASS_RATIO]))
            take_back(f);
        else
            BT_TRY(close_fallback(f, since, v->events, err));
    }
    set_states(f, from, i, BT_MODE_BYWIRE);
    f->now = BT_MODE_BYWIRE;
    memset(f->sums.up, 0, sizeof f->sums.up);
    return BT_OK;
}

static bt_status walk(bt_fallback *f, visit *v, bt_error *err)
{
    const double *flag = v->s->ch[BT_CH_BYWIRE_STATE];
    if (flag && stays_down(f, flag, v->s->n)) {
        f->told = f->told || any_known(flag, v->s->n);
        flag = NULL;
    }
    for (size_t i = 0; i < v->s->n; i++) {
        const double t = v->s->t[i];
        if (flag) BT_TRY(watch_flag(f, t, flag[i], v->events, err));
        if (f->flag.up) {
            if (isnan(f->flag.zone)) f->flag.zone = v->row->zone, f->flag.lap = v->row->lap;
            f->flag.braking += i ? t - v->s->t[i - 1] : 0;
        }
        if (f->evidence.all) {
            feed(f, v, i);
            if (f->now != BT_MODE_FALLBACK && bt_sums_bypass(&f->sums, &f->evidence))
                found(f, v, i);
            if (f->now != BT_MODE_BYWIRE && bt_sums_wire(&f->sums))
                BT_TRY(back_to_wire(f, v, i, err));
        }
        f->state[i] = (uint8_t)f->now;
    }
    return BT_OK;
}

/* The line is where a variant of by-wire puts it and not where the bypass does, even if nowhere so far from it that
 * this were evidence. */
static bool fits(const bt_evidence *e, int variant)
{
    return e->by[variant] && e->misfit[variant] < FITS && e->misfit_bypass > FAR;
}

/* It was one and not chance: for several zones, or for one until the by-wire came back. */
static bool lasted(const bt_fallback *f)
{
    const bt_given_up *g = &f->fallback;
    if (g->zones >= CERTAIN) return true;
    if (g->zones == 0 || bt_harm_stood(&g->harm, f->car->value[BT_CAR_BYPASS_RATIO])) return false;
    int v = 0;
    while (v < BT_BY_COUNT && !fits(&f->evidence, v)) v++;
    return v < BT_BY_COUNT;
}

/* A line that leaves the pedal without evidence of the by-wire: what looked like a fallback in one zone was
 * chance, and is taken back; one that lasted has ended, in whatever way. */
static bt_status reconsider(bt_fallback *f, visit *v, bt_error *err)
{
    bt_given_up *g = &f->fallback;
    if (!g->open) return BT_OK;
    const bt_evidence *e = &f->evidence;
    double for_it = 0, against = 0;
    for (size_t i = 0; e->all && i < v->s->n; i++) {
        if (f->state[i] != BT_MODE_FALLBACK) continue;
        if (e->all[i] > 0) for_it += e->all[i];
        if (e->all[i] < 0 && !(e->wire[i] > 0)) against -= e->all[i];
    }
    if (!(against > for_it && against >= BT_SUMS_THRESHOLD)) {
        account(f, v, v->s->n);
        g->zones++;
        return BT_OK;
    }
    if (lasted(f)) {
        BT_TRY(close_fallback(f, v->s->t[0], v->events, err));
    } else {
        take_back(f);
    }
    f->now = BT_MODE_UNDETERMINED;
    memset(f->sums.up, 0, sizeof f->sums.up);
    set_states(f, 0, v->s->n, BT_MODE_UNDETERMINED);
    return BT_OK;
}

/* ---- the zone's word ---- */

static double time_in(const bt_fallback *f, const bt_block *s, bt_mode mode)
{
    double time = 0;
    for (size_t i = 1; i < s->n; i++)
        if (f->state[i] == mode) time += s->t[i] - s->t[i - 1];
    return time;
}

/* A zone whose pressures tell nothing: by the flag, else as before.  A motor that is missing where it
 * used to brake is a doubt that the zone itself cannot settle. */
static bt_mode untold(const bt_fallback *f, const bt_zone *row)
{
    if (f->flag.up) return f->flag.denied >= BT_FLAG_DENIED ? BT_MODE_BYWIRE : BT_MODE_FALLBACK;
    if (f->now == BT_MODE_UNDETERMINED) return f->flag_logged ? BT_MODE_BYWIRE : f->now;
    const bool used_to = f->before.motor > 0.1 * f->before.demand;
    const bool gone = row->motor < 0.05 * row->demand;
    return f->now == BT_MODE_BYWIRE && used_to && gone ? BT_MODE_UNDETERMINED : f->now;
}

static bt_mode zone_mode(const bt_fallback *f, const visit *v)
{
    if (v->up < BT_SUMS_TOLD && v->down < BT_SUMS_TOLD) return untold(f, v->row);
    const double piped = time_in(f, v->s, BT_MODE_FALLBACK);
    const double wired = time_in(f, v->s, BT_MODE_BYWIRE);
    if (piped > SHORT && wired > SHORT) return BT_MODE_MIXED;
    if (piped > 0 || wired > 0) return piped > wired ? BT_MODE_FALLBACK : BT_MODE_BYWIRE;
    return v->down > v->up ? BT_MODE_BYWIRE : BT_MODE_UNDETERMINED;
}

/* A fallback in the making is dated as long as the samples are here. */
static void keep_onset(bt_fallback *f, const visit *v)
{
    if (!f->evidence.all || f->now == BT_MODE_FALLBACK) {
        f->dating.tail.t = NAN;
        if (f->evidence.all) f->dating.early.since = -INFINITY;
        return;
    }
    const bool leans = bt_sums_leans(&f->sums, &f->evidence);
    bt_dating_keep(&f->dating, &v->zone, leans ? bt_sums_since(&f->sums, &f->evidence) : NAN);
}

static bt_status room(bt_fallback *f, size_t n, bt_error *err)
{
    void *array = f->state;
    BT_TRY(bt_grow(&array, &f->state_cap, n, sizeof *f->state, "states", err));
    f->state = array;
    return BT_OK;
}

bt_status bt_fallback_zone(bt_fallback *f, const bt_braking *zone, const bt_torques *torques,
                           bt_zone *row, const uint8_t **states, bt_events *events, bt_error *err)
{
    const bt_block *s = &zone->s;
    BT_TRY(room(f, s->n, err));
    set_states(f, 0, s->n, BT_MODE_NONE);
    if (states) *states = f->state;
    f->last = s->t[s->n - 1];
    f->revision.zone = NAN;
    if (!f->bywire) return BT_OK;
    const bool cut = zone->flags & BT_FLAG_CUT_START;
    BT_TRY(bt_evidence_make(&f->evidence, s, torques, f->channels, f->car, f->commanded, cut, err));
    visit v = {.s = s, .row = row, .events = events};
    v.zone = (bt_dated){s, torques, &f->evidence, &f->flag, row->zone, row->lap};
    BT_TRY(walk(f, &v, err));
    BT_TRY(reconsider(f, &v, err));
    const bt_mode mode = zone_mode(f, &v);
    snprintf(row->mode, sizeof row->mode, "%s", bt_mode_word(mode));
    if (mode != BT_MODE_UNDETERMINED) f->told = true;
    keep_onset(f, &v);
    if (mode != BT_MODE_MIXED) set_states(f, 0, s->n, mode);
    if (mode == BT_MODE_BYWIRE) {
        bt_harm_learn(&f->before, row, f->car);
        const bt_evidence *e = &f->evidence;
        if (e->all) bt_dating_learn(&f->dating, &v.zone);
        if (fits(e, BT_BY_COMMANDED)) f->commanded = true;
    }
    if (mode == BT_MODE_FALLBACK && f->fallback.open)
        bt_harm_zone(&f->fallback.harm, &f->before, row, f->car);
    return BT_OK;
}

bt_status bt_fallback_free_run(bt_fallback *f, const bt_block *run, bt_events *events,
                               bt_error *err)
{
    f->last = run->t[run->n - 1];
    const double *flag = run->ch[BT_CH_BYWIRE_STATE];
    if (!f->bywire || !flag) return BT_OK;
    if (stays_down(f, flag, run->n)) {
        f->told = f->told || any_known(flag, run->n);
        return BT_OK;
    }
    for (size_t i = 0; i < run->n; i++) BT_TRY(watch_flag(f, run->t[i], flag[i], events, err));
    return BT_OK;
}

bt_status bt_fallback_end(bt_fallback *f, bt_run *run, bt_events *events, bt_error *err)
{
    if (f->fallback.open) BT_TRY(close_fallback(f, f->last, events, err));
    if (f->flag.up) BT_TRY(close_flag(f, f->last, events, err));
    if (!f->bywire || !f->told) return BT_OK;
    run->fallbacks = f->count;
    run->fallback_time = f->time;
    run->first_fallback = f->first;
    run->silent_fallbacks = f->flag_logged ? f->silent : NAN;
    return BT_OK;
}
