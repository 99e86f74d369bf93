/* The car read off its zones: see fit.h. */
#include "fit/fitter.h"

#include "base/stats.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define CONFIDENCE 0.95

static bt_status fit_discs(bt_fitter *f)
{
    static const char *const share_names[2] = {"disc_share_front", "disc_share_rear"};
    static const char *const speed_names[2] = {"cool_speed_front", "cool_speed_rear"};
    static const char *const given[2] = {
        "disc_mass_front, disc_heat_front, cool_still_front, pad_friction_front, ambient",
        "disc_mass_rear, disc_heat_rear, cool_still_rear, pad_friction_rear, ambient"};
    for (int a = 0; a < 2; a++) {
        bt_estimate share, speed;
        BT_TRY(bt_fit_discs(f->zones, f->n, f->car, (bt_axle)a, &share, &speed, f->err));
        if (share.n == 0) {
            BT_TRY(
                BT_FIT_CANNOT(f,
                              "%s, %s: no run of %d zones or more with measured disc temperatures, "
                              "disc mass and heat, ambient and friction torque all known",
                              share_names[a], speed_names[a], BT_FIT_ZONES_MIN));
            continue;
        }
        BT_TRY(bt_fitter_put(f, share_names[a], "%", 100, &share, given[a]));
        BT_TRY(bt_fitter_put(f, speed_names[a], "W/K/(m/s)", 1, &speed, given[a]));
    }
    return BT_OK;
}

/* ---- what is no row of the sheet ---- */

static bt_status fit_mean(bt_fitter *f, const char *name, const char *unit, size_t offset,
                          bool (*takes)(const bt_fitter *, const bt_zone *))
{
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        double value;
        memcpy(&value, (const char *)&f->zones[i] + offset, sizeof value);
        if (bt_fit_usable(&f->zones[i]) && takes(f, &f->zones[i]) && !isnan(value))
            f->y[n++] = value;
    }
    if (n < BT_FIT_ZONES_MIN)
        return BT_FIT_CANNOT(f, "%s: %zu zones with it, %d needed", name + 2, n, BT_FIT_ZONES_MIN);
    const bt_mean_test mean = bt_test_mean(f->y, n, CONFIDENCE);
    const bt_estimate e = {mean.mean, mean.u, mean.high - mean.mean, n};
    return bt_fitter_put(f, name, unit, 1, &e, "");
}

static bool with_delay(const bt_fitter *f, const bt_zone *z)
{
    return bt_fitter_by_wire(f, z) && !(z->flags & BT_FLAG_DELAY_WEAK);
}

static bool any(const bt_fitter *f, const bt_zone *z)
{
    (void)f;
    (void)z;
    return true;
}

/* Zones of a by-wire car that neither its demand nor its bypass was read from. */
static bt_status say_unclear(bt_fitter *f)
{
    size_t usable = 0, unclear = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        if (!bt_fit_usable(z) || bt_fit_mode_is(z, "")) continue;
        usable++;
        unclear += !bt_fitter_by_wire(f, z) && !bt_fitter_fallen_back(f, z);
    }
    if (unclear == 0) return BT_OK;
    return BT_FIT_SAY(
        f,
        "%zu of %zu zones left out of demand and bypass: motor, bywire_state and pressures "
        "do not say alike who was in charge",
        unclear, usable);
}

static bt_status fit_all(bt_fitter *f)
{
    bt_fitter_witnesses(f);
    BT_TRY(bt_fit_demand(f));
    BT_TRY(bt_fit_pads(f));
    BT_TRY(bt_fit_bypass(f));
    BT_TRY(say_unclear(f));
    BT_TRY(fit_discs(f));
    BT_TRY(fit_mean(f, "# blend_delay", "s", offsetof(bt_zone, blend_delay), with_delay));
    BT_TRY(fit_mean(f, "# effort_ratio", "1", offsetof(bt_zone, effort_ratio), any));
    if (f->out->n_rows == 0) return BT_OK;
    return BT_FIT_SAY(
        f, "demand and heat shares are fitted with the sheet's pad friction: after a change of it, "
           "fit again");
}

bt_status bt_fit_zones(const bt_zone *zones, size_t n, const bt_car *car, bt_fitted *out,
                       bt_error *err)
{
    *out = (bt_fitted){0};
    bt_fitter f = {.zones = zones, .n = n, .car = car, .out = out, .err = err};
    enum { COLUMNS = BT_LEASTSQ_MAX + 1 };
    f.x = malloc((n + 1) * (COLUMNS + 2) * sizeof *f.x);
    if (!f.x) return bt_fail(err, BT_NOMEM, "no memory to fit %zu zones", n);
    f.y = f.x + COLUMNS * (n + 1);
    const bt_status status = fit_all(&f);
    free(f.x);
    out->notes = f.notes.line;
    out->n_notes = f.notes.n;
    return status;
}

void bt_fitted_clear(bt_fitted *fitted)
{
    free(fitted->rows);
    bt_notes notes = {.line = fitted->notes, .n = fitted->n_notes};
    bt_notes_clear(&notes);
    *fitted = (bt_fitted){0};
}
