/* The day: headline figures with their uncertainty, the day sheet, and what could not be trusted. */
#include "out/page.h"

#include <math.h>
#include <string.h>

/* Mean over zones and its standard uncertainty: the systematic part is the same in all of them, the
 * random one shrinks with their number. */
typedef struct {
    double mean, u;
} estimate;

typedef double (*pick)(const bt_zone *zone);

static double balance(const bt_zone *z)
{
    return 100 * z->balance;
}

static double balance_sys(const bt_zone *z)
{
    return 100 * z->balance_sys;
}

static double balance_rnd(const bt_zone *z)
{
    return 100 * z->balance_rnd;
}

static double motor_share(const bt_zone *z)
{
    return 100 * z->motor_share;
}

static double motor_share_u(const bt_zone *z)
{
    return 100 * z->motor_share_u;
}

static double blend(const bt_zone *z)
{
    return z->blend_mean;
}

static double blend_sys(const bt_zone *z)
{
    return z->blend_sys;
}

static double blend_rnd(const bt_zone *z)
{
    return z->blend_rnd;
}

static double decel(const bt_zone *z)
{
    return z->decel_mean;
}

static double decel_sys(const bt_zone *z)
{
    return z->decel_sys;
}

static double decel_rnd(const bt_zone *z)
{
    return z->decel_rnd;
}

static estimate mean_of(const bt_page_run *run, pick value, pick sys, pick rnd)
{
    double sum = 0, sys_sum = 0, rnd_squares = 0;
    size_t n = 0;
    for (size_t i = 0; i < run->n; i++) {
        const double x = value(&run->zone[i]);
        if (isnan(x)) continue;
        n++;
        sum += x;
        sys_sum += sys(&run->zone[i]);
        const double random = rnd ? rnd(&run->zone[i]) : 0;
        rnd_squares += random * random;
    }
    const double count = (double)n;
    if (n == 0) return (estimate){NAN, NAN};
    return (estimate){sum / count, hypot(sys_sum / count, sqrt(rnd_squares) / count)};
}

static void add_estimate(bt_bytes *b, estimate e, const char *form)
{
    bt_bytes_text(b, "<td>");
    bt_html(b, form, e.mean);
    if (isfinite(e.u)) {
        bt_bytes_text(b, "<small> ± ");
        bt_html(b, form, e.u);
        bt_bytes_text(b, "</small>");
    }
    bt_bytes_text(b, "</td>");
}

static void add_interval(bt_bytes *b, double x, double low, double high, const char *form)
{
    bt_bytes_text(b, "<td>");
    bt_html(b, form, x);
    if (isfinite(low) && isfinite(high)) {
        bt_bytes_text(b, "<small> (");
        bt_html(b, form, low);
        bt_bytes_text(b, " to ");
        bt_html(b, form, high);
        bt_bytes_text(b, ")</small>");
    }
    bt_bytes_text(b, "</td>");
}

/* ---- headline figures ---- */

#define NONE "<td>–</td>"

static void cell_balance(bt_bytes *b, const bt_page_run *run)
{
    add_estimate(b, mean_of(run, balance, balance_sys, balance_rnd), "%1f");
}

static void cell_drift(bt_bytes *b, const bt_page_run *run)
{
    const bt_drift *d = run->n_drift ? run->drift : NULL;
    if (d)
        add_interval(b, d->slope, d->low, d->high, "%3f");
    else
        bt_bytes_text(b, NONE);
}

static void cell_blend(bt_bytes *b, const bt_page_run *run)
{
    add_estimate(b, mean_of(run, blend, blend_sys, blend_rnd), "%0f");
}

static void cell_blend_frac(bt_bytes *b, const bt_page_run *run)
{
    bt_html(b, "<td>%1f</td>", 100 * run->run.blend_frac);
}

static void cell_delay(bt_bytes *b, const bt_page_run *run)
{
    add_interval(b, 1000 * run->run.blend_delay, 1000 * run->run.blend_delay_low,
                 1000 * run->run.blend_delay_high, "%0f");
}

static void cell_gain(bt_bytes *b, const bt_page_run *run)
{
    add_interval(b, run->run.blend_gain, run->run.blend_gain_low, run->run.blend_gain_high, "%3f");
}

static void cell_motor_share(bt_bytes *b, const bt_page_run *run)
{
    add_estimate(b, mean_of(run, motor_share, motor_share_u, NULL), "%1f");
}

static void cell_decel(bt_bytes *b, const bt_page_run *run)
{
    add_estimate(b, mean_of(run, decel, decel_sys, decel_rnd), "%2f");
}

static void cell_disc_front(bt_bytes *b, const bt_page_run *run)
{
    bt_html(b, "<td>%0f</td>", run->run.disc_front - 273.15);
}

static void cell_disc_rear(bt_bytes *b, const bt_page_run *run)
{
    bt_html(b, "<td>%0f</td>", run->run.disc_rear - 273.15);
}

typedef struct {
    const char *head, *unit;
    void (*cell)(bt_bytes *b, const bt_page_run *run);
} figure;

/* Does any run have it?  A figure that none has is no column. */
static bool known(bt_report *r, const figure *f)
{
    const size_t before = r->page.n;
    bool any = false;
    for (size_t i = 0; i < r->n && !any; i++) {
        f->cell(&r->page, &r->runs[i]);
        const size_t n = r->page.n - before;
        any = n != sizeof NONE - 1 || memcmp(r->page.p + before, NONE, n) != 0;
        r->page.n = before;
    }
    return any && !r->page.failed;
}

static void headline(bt_report *r)
{
    static const figure figures[] = {
        {"Balance, front", "%", cell_balance},
        {"Drift of balance", "pp/lap", cell_drift},
        {"Mean blend error", "N·m", cell_blend},
        {"Size of error", "% of demand", cell_blend_frac},
        {"Delay", "ms", cell_delay},
        {"Gain", "", cell_gain},
        {"Motor share of rear", "%", cell_motor_share},
        {"Mean decel.", "m/s²", cell_decel},
        {"Front disc, most", "°C", cell_disc_front},
        {"Rear disc, most", "°C", cell_disc_rear},
    };
    enum { N = sizeof figures / sizeof *figures };
    bt_bytes *b = &r->page;
    bool shown[N];
    size_t n = 0;
    for (size_t i = 0; i < N; i++) n += shown[i] = known(r, &figures[i]);
    if (n == 0) {
        bt_bytes_text(b, "<p>No figure of the brakes is known.</p>\n");
        return;
    }
    bt_bytes_text(
        b, "<div class=\"scroll\" role=\"group\" tabindex=\"0\" aria-label=\"Headline "
           "figures\"><table><caption><span>Means over the braking zones of each run, ± one "
           "standard uncertainty where the sheet and the map give tolerances; drift, delay and "
           "gain with their 95\u00a0% intervals.</span></caption><thead><tr>"
           "<th scope=\"col\" class=\"text\">Run</th>");
    for (size_t i = 0; i < N; i++)
        if (shown[i])
            bt_html(b, "<th scope=\"col\">%s <span class=\"unit\">%s</span></th>", figures[i].head,
                    figures[i].unit);
    bt_bytes_text(b, "</tr></thead>\n<tbody>\n");
    for (size_t k = 0; k < r->n; k++) {
        bt_html(b, "<tr><th scope=\"row\" class=\"text\">%s</th>", r->runs[k].run.run);
        for (size_t i = 0; i < N; i++)
            if (shown[i]) figures[i].cell(b, &r->runs[k]);
        bt_bytes_text(b, "</tr>\n");
    }
    bt_bytes_text(b, "</tbody></table></div>\n");
}

void bt_page_figures(bt_report *r)
{
    static const bt_page_column columns[] = {
        {"run", "Run", NULL, 0},
        {"duration_s", "Length", NULL, 2},
        {"laps", "Laps", NULL, 0},
        {"zones", "Zones", NULL, 0},
        {"decel_peak_mps2", "Peak decel.", NULL, 2},
        {"worst_zone", "Worst zone", NULL, 0},
        {"recovered_kj", "Recovered", NULL, 2},
        {"fallbacks", "Fallbacks", NULL, 0},
        {"silent_fallbacks", "Silent", NULL, 0},
        {"locks", "Locks", NULL, 0},
        {"events", "Events", NULL, 0},
        {"stops", "Stops", NULL, 0},
        {"effort_ratio", "Effort ratio", NULL, 1},
        {"status", "Status", NULL, 0},
    };
    bt_bytes_text(&r->page,
                  "<section id=\"figures\" aria-labelledby=\"h-figures\"><h2 id=\"h-figures\">"
                  "Figures of the day</h2>\n");
    headline(r);
    bool all_ok = true;
    for (size_t i = 0; i < r->n; i++) all_ok &= strcmp(r->runs[i].run.status, "ok") == 0;
    bt_page_table(r,
                  all_ok ? "The day sheet: one row per log, each analysed to its end"
                         : "The day sheet: one row per log",
                  BT_TABLE_RUNS, columns, sizeof columns / sizeof *columns - all_ok, r->runs,
                  sizeof *r->runs, r->n);
    bt_bytes_text(&r->page, "</section>\n");
}

/* ---- what could not be trusted ---- */

static void flag_item(bt_bytes *b, const bt_page_run *run, unsigned bit)
{
    static const char *const meanings[] = {
#define X(id, word, meaning) meaning,
        BT_FLAG_LIST(X)
#undef X
    };
    size_t zones = 0;
    for (size_t i = 0; i < run->n; i++) zones += run->zone[i].flags >> bit & 1;
    if (zones == 0 && !(run->run.flags >> bit & 1)) return;
    bt_html(b, "<li><code>%s</code> %s", bt_flag_word(bit), meanings[bit]);
    if (zones) bt_html(b, " (%z zone%r)", zones, zones == 1 ? "" : "s");
    bt_bytes_text(b, "</li>\n");
}

static bool trusted(const bt_page_run *run)
{
    uint32_t flags = run->run.flags;
    for (size_t i = 0; i < run->n; i++) flags |= run->zone[i].flags;
    return flags == 0 && run->n_notes == 0 && strcmp(run->run.status, "ok") == 0 &&
           !(run->run.dropped_rows > 0);
}

static void doubts_of(bt_bytes *b, const bt_page_run *run)
{
    bt_html(b, "<h3>%s</h3>\n<ul>\n", run->run.run);
    if (strcmp(run->run.status, "ok") != 0)
        bt_html(b, "<li><strong>Not analysed to its end</strong>: %s</li>\n", run->run.status);
    for (unsigned bit = 0; bit < BT_FLAG_COUNT; bit++) flag_item(b, run, bit);
    if (run->run.dropped_rows > 0)
        bt_html(b, "<li>%0f of %0f rows left out for a fault of their time</li>\n",
                run->run.dropped_rows, run->run.rows);
    for (size_t i = 0; i < run->n_notes; i++) bt_html(b, "<li>%s</li>\n", run->notes[i]);
    bt_bytes_text(b, "</ul>\n");
}

void bt_page_doubts(bt_report *r)
{
    bt_bytes *b = &r->page;
    size_t clean = 0;
    bt_bytes_text(
        b, "<section id=\"doubts\" aria-labelledby=\"h-doubts\"><h2 id=\"h-doubts\">What could "
           "not be trusted</h2>\n");
    for (size_t i = 0; i < r->n; i++) {
        if (trusted(&r->runs[i]))
            clean++;
        else
            doubts_of(b, &r->runs[i]);
    }
    if (clean)
        bt_html(b, "<p>%z run%r without a flag or a note.</p>\n", clean, clean == 1 ? "" : "s");
    bt_bytes_text(b, "</section>\n");
}
