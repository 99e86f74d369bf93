/* Where the energy went: a bar for each place, the mean of its zones. */
#include "out/page.h"
#include "laps/places.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BARS_MAX 30
#define WIDTH    760.0
#define STEP     20.0

enum { FRONT, REAR, MOTOR, OTHER, PARTS };

typedef struct {
    char label[BT_LABEL_MAX];
    double part[PARTS]; /* kJ, sums first, then means */
    size_t n;
} bar;

static void parts_of(const bt_zone *z, double part[PARTS])
{
    part[FRONT] = z->energy_front * 1e-3;
    part[REAR] = z->energy_rear * 1e-3;
    part[MOTOR] = z->energy_motor * 1e-3;
    part[OTHER] = (isnan(z->tyre) ? 0 : z->tyre * 1e-3) + (isnan(z->road) ? 0 : z->road * 1e-3);
}

static int by_label(const void *a, const void *b)
{
    return bt_place_order(((const bar *)a)->label, ((const bar *)b)->label);
}

/* Zones without a place share a bar. */
static size_t gather(const bt_page_run *run, bar bars[BARS_MAX])
{
    size_t n = 0;
    for (size_t i = 0; i < run->n; i++) {
        double part[PARTS];
        const char *label = run->zone[i].place[0] ? run->zone[i].place : "others";
        parts_of(&run->zone[i], part);
        if (isnan(part[FRONT]) && isnan(part[REAR]) && isnan(part[MOTOR])) continue;
        size_t k = 0;
        while (k < n && strcmp(bars[k].label, label) != 0) k++;
        if (k == BARS_MAX) continue;
        if (k == n) {
            bars[n] = (bar){.n = 0};
            bt_html_plain(bars[n++].label, sizeof bars->label, "%s", label);
        }
        for (size_t p = 0; p < PARTS; p++) bars[k].part[p] += isnan(part[p]) ? 0 : part[p];
        bars[k].n++;
    }
    for (size_t k = 0; k < n; k++)
        for (size_t p = 0; p < PARTS; p++) bars[k].part[p] /= (double)bars[k].n;
    qsort(bars, n, sizeof *bars, by_label);
    return n;
}

static double length(const bar *b)
{
    double sum = 0; /* a motor that drove takes nothing away from a bar */
    for (size_t p = 0; p < PARTS; p++) sum += fmax(b->part[p], 0);
    return sum;
}

static void rect(bt_bytes *b, int id, size_t part, double x, double y, double w, double h)
{
    static const char *const classes[PARTS] = {"area front", "area rear pale", "", "hollow soft"};
    bt_html(b, "<rect x=\"%1c\" y=\"%1c\" width=\"%1c\" height=\"%1c\" ", x, y, w, h);
    if (part == MOTOR)
        bt_html(b, "fill=\"url(#h%d)\" class=\"edge\"/>", id);
    else
        bt_html(b, "class=\"%r edge\"/>", classes[part]);
}

static void key(bt_bytes *b, int id, double x)
{
    static const char *const names[PARTS] = {"front brakes", "rear brakes", "motor",
                                             "tyres and road load"};
    for (size_t p = 0; p < PARTS; p++) {
        rect(b, id, p, x, 4, 22, 11);
        bt_plot_label(b, x + 27, 13, "start", "ink", names[p]);
        x += 110;
    }
}

void bt_page_energy(bt_report *r, const bt_page_run *run)
{
    bar bars[BARS_MAX] = {0};
    const size_t n = gather(run, bars);
    bt_range width = {0, 0};
    double part[PARTS] = {0}, whole = 0;
    bt_bytes_text(&r->page, "<h3>Energy at each place</h3>\n");
    for (size_t k = 0; k < n; k++) {
        bt_range_add(&width, length(&bars[k]));
        whole += length(&bars[k]) * (double)bars[k].n;
        for (size_t p = 0; p < PARTS; p++) part[p] += fmax(bars[k].part[p], 0) * (double)bars[k].n;
    }
    if (n == 0 || !(whole > 0)) {
        bt_page_absent(r, "Energy", "no brake torques");
        return;
    }
    char finding[200];
    bt_html_plain(
        finding, sizeof finding,
        "Of the braking energy %0f %% went into the front brakes, %0f %% into the rear brakes, "
        "%0f %% into the motor, %0f %% into tyres and road load.",
        100 * part[FRONT] / whole, 100 * part[REAR] / whole, 100 * part[MOTOR] / whole,
        100 * part[OTHER] / whole);
    const int id =
        bt_page_picture(r, WIDTH, STEP * (double)n + 62, true, "Energy at each place", finding);
    bt_frame f = {.x = 52, .y = 26, .w = WIDTH - 52 - 50, .h = STEP * (double)n};
    f.across = bt_axis_over(width, 6, true);
    f.up = (bt_axis){0, 1, 2, 0};
    f.unit_across = "kJ, mean of a zone";
    bt_frame_draw(&r->page, &f);
    key(&r->page, id, f.x);
    for (size_t k = 0; k < n; k++) {
        const double y = f.y + STEP * (double)k + 3;
        double x = 0;
        char text[32];
        bt_plot_label(&r->page, f.x - 6, y + 11, "end", "ink", bars[k].label);
        for (size_t p = 0; p < PARTS; p++) {
            const double w = fmax(bars[k].part[p], 0);
            if (w > 0)
                rect(&r->page, id, p, bt_frame_x(&f, x), y,
                     bt_frame_x(&f, x + w) - bt_frame_x(&f, x), STEP - 6);
            x += w;
        }
        bt_html_plain(text, sizeof text, "%0f", x);
        bt_plot_label(&r->page, bt_frame_x(&f, x) + 4, y + 11, "start", "", text);
    }
    bt_page_picture_end(r, true, finding);
}
