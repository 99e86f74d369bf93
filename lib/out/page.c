/* The report's life, and the order of the page: see page.h. */
#include "out/page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/grow.h"

bt_status bt_report_new(bt_report **out, const bt_report_options *options, bt_error *err)
{
    *out = calloc(1, sizeof **out);
    if (!*out) return bt_fail(err, BT_NOMEM, "no memory for a report");
    if (options) (*out)->options = *options;
    return BT_OK;
}

static void free_run(bt_page_run *run)
{
    bt_notes notes = {run->notes, run->n_notes, run->n_notes};
    bt_notes_clear(&notes);
    free(run->events);
    free(run->drift);
}

void bt_report_free(bt_report *r)
{
    if (!r) return;
    for (size_t i = 0; i < r->n; i++) free_run(&r->runs[i]);
    free(r->runs);
    bt_zones_free(&r->pool);
    bt_bytes_free(&r->page);
    free(r);
}

static bt_status copy_result(bt_page_run *run, const bt_result *result, bt_error *err)
{
    run->run = result->run;
    run->n = result->n_zones;
    run->events = calloc(result->n_events + 1, sizeof *run->events);
    if (!run->events) return bt_fail(err, BT_NOMEM, "no memory for %zu events", result->n_events);
    if (result->n_events)
        memcpy(run->events, result->events, result->n_events * sizeof *run->events);
    run->n_events = result->n_events;
    bt_notes notes = {0};
    bt_status status = BT_OK;
    for (size_t i = 0; i < result->n_notes && status == BT_OK; i++)
        status = bt_notes_add(&notes, err, "%s", result->notes[i]);
    run->notes = notes.line;
    run->n_notes = notes.n;
    return status;
}

bt_status bt_report_add(bt_report *r, const bt_result *result, const bt_sketch *sketch,
                        bt_error *err)
{
    void *array = r->runs;
    BT_TRY(bt_grow(&array, &r->cap, r->n + 1, sizeof *r->runs, "runs", err));
    r->runs = array;
    bt_page_run run = {.sketch = sketch};
    bt_status status = copy_result(&run, result, err);
    if (status == BT_OK) status = bt_zones_add(&r->pool, result->zones, result->n_zones, err);
    if (status == BT_OK)
        r->runs[r->n++] = run;
    else
        free_run(&run);
    return status;
}

/* ---- what needs all zones ---- */

/* Drift of one run's balance.  It is worked out on a copy, whose places may be named otherwise
 * than the batch's: the names are put back. */
static bt_status drift_of(bt_page_run *run, bt_error *err)
{
    if (run->n == 0) return BT_OK;
    bt_zone *copy = malloc(run->n * sizeof *copy);
    if (!copy) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", run->n);
    memcpy(copy, run->zone, run->n * sizeof *copy);
    const bt_drift_options options = {.of = "balance_pct"};
    const bt_status status = bt_drift_find(copy, run->n, &options, &run->drift, &run->n_drift, err);
    for (size_t i = 0; status == BT_OK && i < run->n_drift; i++) {
        bt_drift *row = &run->drift[i];
        for (size_t k = 0; k < run->n; k++) {
            if (strcmp(row->place, copy[k].place) != 0) continue;
            memcpy(row->place, run->zone[k].place, sizeof row->place);
            break;
        }
    }
    free(copy);
    return status;
}

static void place_events(bt_page_run *run)
{
    for (size_t i = 0; i < run->n_events; i++) {
        bt_event *e = &run->events[i];
        const bt_zone *zone = bt_page_zone(run, e->zone);
        if (!zone) continue;
        memcpy(e->place, zone->place, sizeof e->place);
        if (isnan(e->lap)) e->lap = zone->lap;
    }
}

static bt_status prepare(bt_report *r, bt_error *err)
{
    BT_TRY(bt_places_assign(r->pool.row, r->pool.n, err));
    size_t first = 0;
    for (size_t i = 0; i < r->n; i++) {
        bt_page_run *run = &r->runs[i];
        run->zone = run->n ? r->pool.row + first : NULL;
        first += run->n;
        free(run->drift);
        run->drift = NULL;
        run->n_drift = 0;
        BT_TRY(drift_of(run, err));
        if (run->n) BT_TRY(bt_drift_of_run(&run->run, run->zone, run->n, err));
        place_events(run);
    }
    return BT_OK;
}

/* ---- shared by the parts ---- */

int bt_page_picture(bt_report *r, double w, double h, bool wide, const char *title,
                    const char *finding)
{
    const int id = ++r->pictures;
    bt_bytes_text(&r->page, wide ? "<figure class=\"wide\">" : "<figure>");
    if (wide)
        bt_html(&r->page,
                "<div class=\"scroll\" role=\"group\" tabindex=\"0\" "
                "aria-label=\"%s\">",
                title);
    bt_plot_begin(&r->page, id, w, h, title, finding, false);
    return id;
}

void bt_page_picture_end(bt_report *r, bool wide, const char *caption)
{
    bt_plot_end(&r->page);
    bt_html(&r->page, "%r<figcaption>%s</figcaption></figure>\n", wide ? "</div>" : "", caption);
}

void bt_page_absent(bt_report *r, const char *what, const char *why)
{
    bt_html(&r->page, "<p class=\"absent\">%s: left out, %s.</p>\n", what, why);
}

bool bt_page_off_wire(const bt_zone *zone)
{
    return strcmp(zone->mode, "fallback") == 0 || strcmp(zone->mode, "mixed") == 0;
}

const bt_zone *bt_page_zone(const bt_page_run *run, double number)
{
    if (!(number >= 1) || !(number <= (double)run->n)) return NULL;
    return &run->zone[(size_t)number - 1]; /* zones are numbered from 1 in their order */
}

/* ---- the page ---- */

static void title_of(const bt_report *r, char *title, size_t cap)
{
    const char *given = r->options.title;
    if (given)
        snprintf(title, cap, "%s", given);
    else if (r->n == 1)
        snprintf(title, cap, "%s", r->runs[0].run.run);
    else if (r->n > 1)
        snprintf(title, cap, "%s to %s", r->runs[0].run.run, r->runs[r->n - 1].run.run);
    else
        snprintf(title, cap, "No runs");
}

static void head(bt_report *r)
{
    bt_bytes *b = &r->page;
    char title[2 * BT_NAME_MAX + 8];
    title_of(r, title, sizeof title);
    bt_html(b,
            "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
            "<meta name=\"color-scheme\" content=\"light dark\">\n"
            "<title>Brakes: %s</title>\n<style>\n",
            title);
    bt_plot_style(b);
    bt_page_style(b);
    bt_html(
        b,
        "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#verdict\">Skip to the verdict</a>\n"
        "<header class=\"top\"><p>Did demand and delivery tally? %z run%r, %z braking "
        "zone%r</p><h1>%s</h1></header>\n",
        r->n, r->n == 1 ? "" : "s", r->pool.n, r->pool.n == 1 ? "" : "s", title);
}

static void contents(bt_report *r)
{
    bt_bytes *b = &r->page;
    bt_bytes_text(b, "<nav aria-label=\"Contents\"><ol>"
                     "<li><a href=\"#verdict\">Verdict</a></li>"
                     "<li><a href=\"#figures\">Figures of the day</a></li>"
                     "<li><a href=\"#doubts\">What could not be trusted</a></li>");
    for (size_t i = 0; i < r->n; i++)
        bt_html(b, "<li><a href=\"#run-%z\">%s</a></li>", i + 1, r->runs[i].run.run);
    bt_bytes_text(b, "<li><a href=\"#sheet\">Car sheet</a></li>"
                     "<li><a href=\"#meaning\">What the figures mean</a></li></ol></nav>\n");
}

/* Written part by part, so that the page is never in memory as a whole. */
static bt_status parts(bt_report *r, bt_write_fn write, void *user, bt_error *err)
{
    head(r);
    contents(r);
    bt_bytes_text(&r->page, "<main>\n");
    bt_page_verdict(r);
    bt_page_figures(r);
    bt_page_doubts(r);
    BT_TRY(bt_bytes_write(&r->page, write, user, err));
    for (size_t i = 0; i < r->n; i++) {
        BT_TRY(bt_page_run_section(r, i, err));
        BT_TRY(bt_bytes_write(&r->page, write, user, err));
    }
    bt_page_sheet(r);
    bt_page_meanings(r);
    bt_html(&r->page,
            "</main>\n<footer><p>%s</p><p>Made by braketally %s.</p></footer>\n"
            "</body>\n</html>\n",
            BT_CAUTION, bt_version());
    return bt_bytes_write(&r->page, write, user, err);
}

bt_status bt_report_write(bt_report *r, bt_write_fn write, void *user, bt_error *err)
{
    r->pictures = 0;
    r->page.n = 0;
    memset(r->used, 0, sizeof r->used);
    BT_TRY(prepare(r, err));
    return parts(r, write, user, err);
}
