/* The section of one run: its parts in their order, and the table of its zones. */
#include "out/page.h"

#include <math.h>
#include <string.h>

static void opening(bt_report *r, const bt_page_run *run)
{
    bt_bytes *b = &r->page;
    if (strcmp(run->run.status, "ok") != 0)
        bt_html(b,
                "<p class=\"caution\">Not analysed to its end: %s. What follows is what came "
                "before.</p>\n",
                run->run.status);
    if (run->n == 0) {
        bt_bytes_text(b, "<p>No braking zone was found.</p>\n");
        return;
    }
    bt_html(b, "<p>%z braking zone%r in %1f\u00a0min", run->n, run->n == 1 ? "" : "s",
            run->run.duration / 60);
    if (run->run.laps > 0)
        bt_html(b, " and %0f lap%r", run->run.laps, run->run.laps > 1 ? "s" : "");
    if (run->n_drift && run->drift->finding[0]) bt_html(b, "; %s", run->drift->finding);
    for (size_t i = 1; i < run->n_drift; i++)
        if (strcmp(run->drift[i].figure, "bias_setting") == 0)
            bt_html(b, "; %s", run->drift[i].finding);
    bt_bytes_text(b, ".</p>\n");
}

static void zone_table(bt_report *r, const bt_page_run *run)
{
    static const bt_page_column columns[] = {
        {"zone", "Zone", NULL, 0},
        {"lap", "Lap", NULL, 0},
        {"place", "Place", NULL, 0},
        {"start_s", "Start", NULL, 1},
        {"entry_kmh", "Entry", NULL, 1},
        {"exit_kmh", "Exit", NULL, 1},
        {"decel_mean_mps2", "Decel.", NULL, 1},
        {"pedal_peak_bar", "Pedal peak", NULL, 1},
        {"balance_pct", "Balance", "balance_u_pct", 1},
        {"motor_share_pct", "Motor share", NULL, 1},
        {"blend_pct", "Blend error", NULL, 1},
        {"blend_delay_s", "Delay", NULL, 0},
        {"blend_gain", "Gain", NULL, 0},
        {"slip_rear_pct", "Rear slip", NULL, 1},
        {"disc_rear_c", "Rear disc", NULL, 1},
        {"mode", "Mode", NULL, 0},
        {"flags", "Flags", NULL, 0},
    };
    bt_bytes_text(&r->page, "<details open><summary>Zone table</summary>\n");
    bt_page_table(r, "One row per braking zone; ± is one standard uncertainty", BT_TABLE_ZONES,
                  columns, sizeof columns / sizeof *columns, run->zone, sizeof *run->zone, run->n);
    bt_bytes_text(&r->page, "</details>\n");
}

bt_status bt_page_run_section(bt_report *r, size_t i, bt_error *err)
{
    const bt_page_run *run = &r->runs[i];
    bt_html(&r->page,
            "<section class=\"run\" id=\"run-%z\" aria-labelledby=\"h-run-%z\"><h2 "
            "id=\"h-run-%z\">%s</h2>\n",
            i + 1, i + 1, i + 1, run->run.run);
    opening(r, run);
    BT_TRY(bt_page_course(r, run, err));
    bt_page_timeline(r, run);
    if (run->n) {
        bt_page_places(r, run);
        bt_page_torques(r, run);
        bt_page_delay(r, run);
        bt_page_energy(r, run);
        if (r->options.bypass) BT_TRY(bt_page_plan(r, run, err));
        zone_table(r, run);
    }
    bt_bytes_text(&r->page, "</section>\n");
    return BT_OK;
}
