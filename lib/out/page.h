/* The page of a report (braketally.h): its parts, each in a file of its own.  All that is drawn and said
 * comes from finished rows and from the sketches of the runs; nothing is computed that a table does not
 * hold, but for means over zones.  Last in the line. */
#ifndef BT_PAGE_H
#define BT_PAGE_H

#include "base/columns.h"
#include "out/html.h"
#include "out/plot.h"
#include "out/sketch.h"

#define BT_PAGE_COLUMNS_MAX 160

/* One run on the page. */
typedef struct {
    bt_run run; /* first, so that runs are rows of the runs table with a wider step */
    bt_event *events;
    size_t n_events;
    char **notes;
    size_t n_notes;
    bt_zone *zone; /* its zones in the report's pool, n of them; set by bt_report_write */
    size_t n;
    bt_drift *drift; /* of its balance: [0] is pooled, then places */
    size_t n_drift;
    const bt_sketch *sketch; /* NULL = none */
} bt_page_run;

struct bt_report {
    bt_report_options options;
    bt_zones pool;
    bt_page_run *runs;
    size_t n, cap;
    int pictures;                                   /* ids given so far */
    bt_bytes page;                                  /* what has not been written yet */
    bool used[BT_TABLE_COUNT][BT_PAGE_COLUMNS_MAX]; /* columns whose meaning the page explains */
};

/* ---- page_table.c ---- */

/* A column of a table on the page. */
typedef struct {
    const char *column, *label; /* name in the column table; heading */
    const char *u;              /* column of its standard uncertainty, set behind it; NULL */
    int fewer;                  /* decimals than the table prints, where a page needs no more */
} bt_page_column;
/* A table of n_rows rows, `step` bytes apart; columns that are blank throughout are left out, the first
 * heads its row. */
void bt_page_table(bt_report *r, const char *caption, bt_table_kind kind,
                   const bt_page_column *columns, size_t n, const void *rows, size_t step,
                   size_t n_rows);

/* ---- parts in the order of the page ---- */
void bt_page_style(bt_bytes *b);
void bt_page_verdict(bt_report *r); /* page_verdict.c */
void bt_page_figures(bt_report *r); /* page_day.c: headline figures, day sheet */
void bt_page_doubts(bt_report *r);  /* page_day.c: what could not be trusted */
bt_status bt_page_run_section(bt_report *r, size_t i, bt_error *err);          /* page_run.c */
bt_status bt_page_course(bt_report *r, const bt_page_run *run, bt_error *err); /* page_course.c */
/* page_lap.c, from the course's speed in km/h; nothing where the log has no distance within a lap */
bt_status bt_page_lap(bt_report *r, const bt_page_run *run, const bt_series *speed, bt_error *err);
void bt_page_timeline(bt_report *r, const bt_page_run *run);                 /* page_course.c */
void bt_page_places(bt_report *r, const bt_page_run *run);                   /* page_place.c */
void bt_page_energy(bt_report *r, const bt_page_run *run);                   /* page_energy.c */
void bt_page_torques(bt_report *r, const bt_page_run *run);                  /* page_zone.c */
void bt_page_delay(bt_report *r, const bt_page_run *run);                    /* page_zone.c */
bt_status bt_page_plan(bt_report *r, const bt_page_run *run, bt_error *err); /* page_plan.c */
void bt_page_sheet(bt_report *r);    /* page_sheet.c: car, files, version */
void bt_page_meanings(bt_report *r); /* page_sheet.c: figures used above */

/* ---- shared by the parts ---- */

/* A figure begins: <figure> and the picture in it.  `wide` ones scroll on a narrow screen.  The
 * caption is what the picture shows; `finding` what it says. */
int bt_page_picture(bt_report *r, double w, double h, bool wide, const char *title,
                    const char *finding);
void bt_page_picture_end(bt_report *r, bool wide, const char *caption);
/* One line in place of a part whose data are absent. */
void bt_page_absent(bt_report *r, const char *what, const char *why);
/* Did the zone's by-wire axle run on its bypass, for a part of it at least? */
bool bt_page_off_wire(const bt_zone *zone);
/* The zone of a run by its number; NULL if there is none. */
const bt_zone *bt_page_zone(const bt_page_run *run, double number);

#endif
