/* The verdict: three sentences, and the caution.  First: was the rear by wire throughout?  Second: did it
 * deliver, and did the balance stay?  Third: what follows. */
#include "out/page.h"

#include <math.h>
#include <string.h>

#define SURE_P    0.05
#define NAMED_MAX 4 /* fallbacks named one by one */

static bool is_fallback(const bt_event *e)
{
    return strcmp(e->kind, "fallback") == 0 || strcmp(e->kind, "silent-fallback") == 0;
}

static void name_fallback(bt_report *r, const bt_page_run *run, const bt_event *e, size_t k)
{
    bt_bytes *b = &r->page;
    bt_html(b, "%r%rin %s", k ? "; " : "",
            strcmp(e->kind, "silent-fallback") == 0 ? "unnoticed by the car's own flag " : "",
            run->run.run);
    if (e->lap > 0) bt_html(b, ", lap %0f", e->lap);
    if (e->place[0]) bt_html(b, ", at %s", e->place);
    bt_html(b, " (%1f\u00a0s)", e->start);
}

/* Zones whose mode could be told, and of them those not by wire. */
static void count_modes(const bt_report *r, size_t *told, size_t *off)
{
    *told = *off = 0;
    for (size_t i = 0; i < r->pool.n; i++) {
        if (r->pool.row[i].mode[0] && strcmp(r->pool.row[i].mode, "undetermined") != 0) ++*told;
        if (bt_page_off_wire(&r->pool.row[i])) ++*off;
    }
}

static void say_wire(bt_report *r)
{
    bt_bytes *b = &r->page;
    size_t fallbacks = 0, told, off;
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->runs[i].n_events; k++)
            fallbacks += is_fallback(&r->runs[i].events[k]);
    count_modes(r, &told, &off);
    if (fallbacks == 0 && told == 0) {
        bt_bytes_text(b, "Whether the by-wire ever gave up cannot be told from what was logged. ");
        return;
    }
    if (fallbacks == 0) {
        bt_html(b,
                "No fallback was seen: the rear axle was by wire in all %z braking zones in which "
                "it can be told%r. ",
                told, told < r->pool.n ? " (in the others it cannot)" : "");
        return;
    }
    if (fallbacks <= 2)
        bt_html(b, "<strong>The by-wire gave up %r</strong>: ", fallbacks == 1 ? "once" : "twice");
    else
        bt_html(b, "<strong>The by-wire gave up %z times</strong>: ", fallbacks);
    size_t named = 0;
    for (size_t i = 0; i < r->n; i++)
        for (size_t k = 0; k < r->runs[i].n_events; k++) {
            if (!is_fallback(&r->runs[i].events[k]) || named == NAMED_MAX) continue;
            name_fallback(r, &r->runs[i], &r->runs[i].events[k], named++);
        }
    if (fallbacks > named) bt_html(b, "; and %z more", fallbacks - named);
    if (off) bt_html(b, "; %z of %z braking zones ran on the bypass", off, r->pool.n);
    bt_bytes_text(b, ". ");
}

/* The run whose balance moved most for sure; NULL = none did. */
static const bt_page_run *drifted(const bt_report *r)
{
    const bt_page_run *most = NULL;
    for (size_t i = 0; i < r->n; i++) {
        const bt_drift *d = r->runs[i].n_drift ? r->runs[i].drift : NULL;
        const bool sure = d && d->p <= SURE_P && d->low * d->high > 0;
        if (sure && (!most || fabs(d->slope) > fabs(most->drift->slope))) most = &r->runs[i];
    }
    return most;
}

static bool drift_known(const bt_report *r)
{
    for (size_t i = 0; i < r->n; i++)
        if (r->runs[i].n_drift && isfinite(r->runs[i].drift->p)) return true;
    return false;
}

static void say_blend(bt_report *r, const bt_page_run *drift)
{
    bt_bytes *b = &r->page;
    const bt_zone *worst = NULL;
    double low = NAN, high = NAN;
    for (size_t i = 0; i < r->pool.n; i++)
        if (!worst || r->pool.row[i].blend_rms > worst->blend_rms || isnan(worst->blend_rms))
            worst = &r->pool.row[i];
    for (size_t i = 0; i < r->n; i++) {
        low = fmin(low, r->runs[i].run.blend_frac);
        high = fmax(high, r->runs[i].run.blend_frac);
    }
    if (!worst || isnan(worst->blend_frac)) {
        bt_bytes_text(b, "Demand and delivery cannot be compared");
    } else {
        bt_html(b, "The by-wire axle's torque was off its demand by %1f\u00a0%%", 100 * low);
        if (high > low) bt_html(b, " to %1f\u00a0%%, run by run,", 100 * high);
        bt_html(b, " on average, most in %s, zone %0f", worst->run, worst->zone);
        bt_html(b, worst->place[0] ? " at %s" : "%r", worst->place);
        bt_html(b, " (%0f\u00a0N·m RMS, %0f\u00a0%% of its demand)", worst->blend_rms,
                100 * worst->blend_frac);
    }
    if (!drift && !drift_known(r))
        bt_bytes_text(b, ", and whether the balance drifted cannot be told. ");
    else if (!drift)
        bt_bytes_text(b, ", and in no run can a drift of the balance be told from chance. ");
    else
        bt_html(b,
                ", and in %s the balance drifted by <strong>%2f pp/lap</strong> (95\u00a0%% "
                "interval %2f to %2f) to the %r. ",
                drift->run.run, drift->drift->slope, drift->drift->low, drift->drift->high,
                drift->drift->slope > 0 ? "front" : "rear");
}

static void say_next(bt_report *r)
{
    bt_bytes *b = &r->page;
    size_t stops = 0, watches = 0, failed = 0;
    for (size_t i = 0; i < r->n; i++) {
        failed += strcmp(r->runs[i].run.status, "ok") != 0;
        for (size_t k = 0; k < r->runs[i].n_events; k++) {
            stops += r->runs[i].events[k].severity == BT_STOP;
            watches += r->runs[i].events[k].severity == BT_WATCH;
        }
    }
    if (stops)
        bt_html(b,
                "<strong>%z event%r call%r for a qualified person to look at the car before it "
                "goes out again</strong>",
                stops, stops == 1 ? "" : "s", stops == 1 ? "s" : "");
    else
        bt_bytes_text(b, "Nothing found calls for the car to stay in, which is no proof that it is "
                         "sound");
    if (watches) bt_html(b, ", %z more deserve%r watching", watches, watches == 1 ? "s" : "");
    if (failed)
        bt_html(b, ", and %z log%r could not be analysed to the end", failed,
                failed == 1 ? "" : "s");
    bt_bytes_text(b, ".");
}

void bt_page_verdict(bt_report *r)
{
    bt_bytes *b = &r->page;
    bt_bytes_text(b, "<section id=\"verdict\" aria-labelledby=\"h-verdict\">"
                     "<h2 id=\"h-verdict\">Verdict</h2><p class=\"lead\">");
    say_wire(r);
    say_blend(r, drifted(r));
    say_next(r);
    bt_html(b, "</p>\n<p class=\"caution\"><strong>Caution.</strong> %s</p></section>\n",
            BT_CAUTION);
}
