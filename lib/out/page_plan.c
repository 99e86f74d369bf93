/* The bypass plan: which front shares would keep the limits, if the by-wire gave up. */
#include "out/page.h"

#include <math.h>
#include <stdio.h>

#define WIDTH  380.0
#define KELVIN 273.15

typedef double (*pick)(const bt_bypass *row);

static double disc_front(const bt_bypass *row)
{
    return row->disc_front - KELVIN;
}

static double disc_rear(const bt_bypass *row)
{
    return row->disc_rear - KELVIN;
}

static double adhesion_front(const bt_bypass *row)
{
    return row->adhesion_front;
}

static double adhesion_rear(const bt_bypass *row)
{
    return row->adhesion_rear;
}

static bt_status course(const bt_plan *plan, pick value, bt_series *out, bt_error *err)
{
    const bt_status status = bt_series_new(out, plan->n_rows, err);
    for (size_t i = 0; i < out->n; i++) {
        out->t[i] = 100 * plan->rows[i].share;
        out->v[i] = value(&plan->rows[i]);
    }
    return status;
}

typedef struct {
    const char *title, *unit, *caption;
    double limit[2];
    const char *limit_name[2], *limit_class[2];
} look;

static void draw(bt_report *r, const bt_plan *plan, const bt_series s[2], const look *as)
{
    bt_range across = BT_RANGE_NONE, up = {0, 0};
    bt_range_cover(&up, as->limit, 2);
    for (size_t i = 0; i < 2; i++) {
        bt_range_cover(&across, s[i].t, s[i].n);
        bt_range_cover(&up, s[i].v, s[i].n);
    }
    char finding[120];
    if (plan->low <= plan->high)
        bt_html_plain(finding, sizeof finding, "Front shares of %0f %% to %0f %% keep all limits",
                      100 * plan->low, 100 * plan->high);
    else
        bt_html_plain(finding, sizeof finding, "No front share keeps all limits");
    bt_page_picture(r, WIDTH, 220, false, as->title, finding);
    bt_frame f = {.x = 46, .y = 24, .w = WIDTH - 46 - 72, .h = 156};
    f.across = bt_axis_over(across, 6, false);
    f.up = bt_axis_over(up, 5, true);
    f.unit = as->unit;
    f.unit_across = "front share, %";
    if (plan->low <= plan->high)
        bt_frame_span(&r->page, &f, 100 * plan->low, 100 * plan->high, "span");
    bt_frame_draw(&r->page, &f);
    if (plan->low <= plan->high)
        bt_plot_label(&r->page,
                      0.5 * (bt_frame_x(&f, 100 * plan->low) + bt_frame_x(&f, 100 * plan->high)),
                      f.y - 6, "middle", "ink", "window");
    static const char *const classes[] = {"front", "rear"};
    bt_end_label ends[2];
    for (size_t i = 0; i < 2; i++) {
        bt_frame_line(&r->page, &f, &s[i], classes[i]);
        ends[i] = (bt_end_label){s[i].n ? s[i].v[s[i].n - 1] : NAN, classes[i], classes[i]};
    }
    for (size_t i = 0; i < 2; i++)
        if (isfinite(as->limit[i]))
            bt_frame_level(&r->page, &f, as->limit[i], as->limit_class[i], as->limit_name[i]);
    bt_frame_end_labels(&r->page, &f, ends, 2);
    bt_page_picture_end(r, false, as->caption);
}

static double sheet(const bt_report *r, const char *name)
{
    double value = NAN, u;
    if (r->options.car) (void)bt_car_get(r->options.car, name, &value, &u);
    return value;
}

static bt_status pictures(bt_report *r, const bt_plan *plan, bt_error *err)
{
    const look looks[] = {
        {"Disc temperatures by front share",
         "°C",
         "Largest disc temperatures; tinted: the window.",
         {sheet(r, "disc_limit_front") - KELVIN, sheet(r, "disc_limit_rear") - KELVIN},
         {"limit, front", "limit, rear"},
         {"front thin", "rear thin"}},
        {"Adhesion used by front share",
         "",
         "Adhesion used at the hardest braking; the axle that uses more "
         "locks first; closer than 5 % either may.",
         {sheet(r, "grip_limit") / BT_GRAVITY, NAN},
         {"grip limit", ""},
         {"ink thin", ""}},
    };
    static const pick values[2][2] = {{disc_front, disc_rear}, {adhesion_front, adhesion_rear}};
    bt_bytes_text(&r->page, "<div class=\"pair\">\n");
    for (size_t k = 0; k < 2; k++) {
        bt_series s[2] = {0};
        bt_status status = course(plan, values[k][0], &s[0], err);
        if (status == BT_OK) status = course(plan, values[k][1], &s[1], err);
        if (status == BT_OK) draw(r, plan, s, &looks[k]);
        bt_series_free(&s[0]);
        bt_series_free(&s[1]);
        if (status != BT_OK) return status;
    }
    bt_bytes_text(&r->page, "</div>\n");
    return BT_OK;
}

bt_status bt_page_plan(bt_report *r, const bt_page_run *run, bt_error *err)
{
    bt_plan plan = {0};
    bt_error why = {0};
    bt_bytes_text(&r->page, "<h3>Bypass plan: if the by-wire gave up</h3>\n");
    if (!r->options.car) {
        bt_page_absent(r, "The plan", "no car sheet was given");
        return BT_OK;
    }
    const bt_status status =
        bt_bypass_plan(run->zone, run->n, r->options.car, r->options.bypass, &plan, &why);
    if (status == BT_NOMEM) return bt_fail(err, status, "%s", why.message);
    if (status != BT_OK) {
        bt_page_absent(r, "The plan", why.message);
        return BT_OK;
    }
    bt_html(&r->page, "<p>%s</p>\n", plan.summary);
    const bt_status drawn = pictures(r, &plan, err);
    if (plan.n_notes) {
        bt_bytes_text(&r->page, "<ul>\n");
        for (size_t i = 0; i < plan.n_notes; i++) bt_html(&r->page, "<li>%s</li>\n", plan.notes[i]);
        bt_bytes_text(&r->page, "</ul>\n");
    }
    bt_plan_clear(&plan);
    return drawn;
}
