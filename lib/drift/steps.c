/* What stepped within a run, the driver's setting or who was in charge: such a step moves figures, but is no
 * drift of the car, and has its own row (METHODS 11).  See study.h. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "saved/saved.h"
#include "drift/study.h"

/* What zones have in common that are compared with each other. */
typedef struct {
    double setting; /* NaN = not logged */
    bt_charge charge;
} footing;

static footing footing_of(const bt_study *s, size_t i)
{
    return (footing){s->zone[i].bias_setting, s->charge[i]};
}

static bool same_setting(double a, double b)
{
    return (isnan(a) && isnan(b)) || (a >= b && a <= b);
}

/* Middle of the figure in a run at a place on a footing; NaN if it never was. */
static double middle_on(const bt_study *s, const bt_choice *c, const char *place, footing on,
                        double *scratch)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->run[i] == c->run && strcmp(s->zone[i].place, place) == 0 &&
            s->charge[i] == on.charge && same_setting(s->zone[i].bias_setting, on.setting))
            scratch[n++] = bt_zone_printed(&s->zone[i], c->figure);
    return bt_median(scratch, n);
}

/* How far the figure moved with the step: the middle of the places. */
static bt_status move_of(const bt_study *s, const bt_choice *c, footing from, footing to,
                         double *moved, bt_error *err)
{
    double *scratch = calloc(2 * s->n + 1, sizeof *scratch);
    if (!scratch) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", s->n);
    for (size_t p = 0; p < s->places; p++)
        scratch[s->n + p] =
            middle_on(s, c, s->place[p], to, scratch) - middle_on(s, c, s->place[p], from, scratch);
    *moved = bt_median(scratch + s->n, s->places);
    free(scratch);
    return BT_OK;
}

static void say_lap_and_move(bt_line_text *l, const bt_choice *c, double lap, double moved)
{
    if (!isnan(lap)) {
        bt_say(l, " in lap ");
        bt_say_number(l, lap, 0, false);
    }
    if (isnan(moved)) return;
    bt_say(l, "; ");
    bt_say(l, bt_figure_words(c->figure));
    bt_say(l, " with it by ");
    bt_say_number(l, moved, 2, true);
    bt_say_unit(l, c->figure);
    bt_say(l, ", which is no drift");
}

static bt_status new_step(bt_study *s, const bt_choice *c, const char *what, double lap,
                          bt_drift **row, bt_error *err)
{
    BT_TRY(bt_study_row(s, c, row, err));
    snprintf((*row)->figure, sizeof(*row)->figure, "%s", what);
    (*row)->unit[0] = '\0';
    (*row)->break_lap = lap;
    return BT_OK;
}

/* ---- the driver's setting ---- */

static bt_status add_setting(bt_study *s, const bt_choice *c, size_t i, double before,
                             bt_error *err)
{
    const footing to = footing_of(s, i), from = {before, to.charge};
    const double lap = s->zone[i].lap;
    double moved;
    bt_drift *row;
    BT_TRY(move_of(s, c, from, to, &moved, err));
    BT_TRY(new_step(s, c, "bias_setting", lap, &row, err));
    row->break_size = to.setting - before;
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    bt_say(&l, "bias_setting stepped from ");
    bt_say_number(&l, before, 2, false);
    bt_say(&l, " to ");
    bt_say_number(&l, to.setting, 2, false);
    say_lap_and_move(&l, c, lap, moved);
    return BT_OK;
}

static bool set_before(const bt_study *s, size_t i, double from, double to)
{
    double last = NAN;
    for (size_t k = 0; k < i; k++) {
        if (s->run[k] != s->run[i] || isnan(s->zone[k].bias_setting)) continue;
        const double now = s->zone[k].bias_setting;
        if (last >= from && last <= from && now >= to && now <= to) return true;
        last = now;
    }
    return false;
}

static bt_status add_settings(bt_study *s, const bt_choice *c, bt_error *err)
{
    double last = NAN;
    for (size_t i = 0; i < s->n; i++) {
        if (s->run[i] != c->run || isnan(s->zone[i].bias_setting)) continue;
        const double now = s->zone[i].bias_setting;
        if ((now > last || now < last) && !set_before(s, i, last, now))
            BT_TRY(add_setting(s, c, i, last, err));
        last = now;
    }
    return BT_OK;
}

/* ---- who was in charge ---- */

static bt_status add_charge(bt_study *s, const bt_choice *c, size_t i, double lap, bt_error *err)
{
    const footing to = footing_of(s, i);
    const bool fell = to.charge == BT_ON_BYPASS;
    const footing from = {to.setting, fell ? BT_IN_CHARGE : BT_ON_BYPASS};
    double moved;
    bt_drift *row;
    BT_TRY(move_of(s, c, from, to, &moved, err));
    BT_TRY(new_step(s, c, "mode", lap, &row, err));
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    bt_say(&l, fell ? "mode stepped from by-wire to fallback"
                    : "mode stepped from fallback to by-wire");
    say_lap_and_move(&l, c, lap, moved);
    return BT_OK;
}

/* The first step each way; the zone in which the line changed hands is where it began. */
static bt_status add_charges(bt_study *s, const bt_choice *c, bt_error *err)
{
    bt_charge last = BT_CHANGING;
    bool told[2] = {false, false};
    double lap = NAN;
    for (size_t i = 0; i < s->n; i++) {
        if (s->run[i] != c->run) continue;
        const bt_charge now = s->charge[i];
        if (now != last && isnan(lap)) lap = s->zone[i].lap;
        if (now == BT_CHANGING) continue;
        if (last != BT_CHANGING && now != last && !told[now]) {
            told[now] = true;
            BT_TRY(add_charge(s, c, i, lap, err));
        }
        last = now;
        lap = NAN;
    }
    return BT_OK;
}

bt_status bt_drift_steps(bt_study *s, const bt_column *figure, bt_error *err)
{
    for (size_t r = 1; r <= s->runs; r++) {
        const bt_choice c = {figure, r, NULL};
        BT_TRY(add_settings(s, &c, err));
        BT_TRY(add_charges(s, &c, err));
    }
    return BT_OK;
}
