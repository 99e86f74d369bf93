/* The tally of a run: what its row, and the doubts about it, take from all of its zones, added up as they come, so
 * that no finished row has to be kept for it.  Only what a later zone may still change is kept of each zone:
 * who was in charge, and the figures of the blend's fit, which no mixed zone has. */
#ifndef BT_TALLY_H
#define BT_TALLY_H

#include "base/error.h"
#include "verdict/fallback.h"

/* Laps with braking in them, in the order of the zones.  n = NaN: none is known. */
typedef struct {
    double n, last;
} bt_lap_count;
#define BT_NO_LAPS ((bt_lap_count){NAN, NAN})
void bt_lap_count_add(bt_lap_count *laps, double lap);

enum { BT_TALLY_FIGURES = 17, BT_TALLY_FIT = 6 };

/* What is kept of a zone. */
typedef struct {
    uint8_t mode;             /* a bt_mode */
    double fit[BT_TALLY_FIT]; /* as in the row, NaN of a mixed zone */
    double delivers;          /* what was delivered over what was asked; NaN = not known */
} bt_tally_zone;

/* Open to be read; zeroed is not empty, see bt_tally_init. */
typedef struct {
    size_t n; /* zones */
    bt_tally_zone *zone;
    size_t cap;
    double figure[BT_TALLY_FIGURES], count[BT_TALLY_FIGURES];
    double worst, worst_zone; /* N*m, the largest blend_rms and where; NaN */
    double locks;             /* zones in which a wheel locked; NaN = no wheel was seen */
    bt_lap_count laps;
} bt_tally;

void bt_tally_init(bt_tally *t);
/* A finished row, in the order of the zones. */
bt_status bt_tally_add(bt_tally *t, const bt_zone *row, bt_error *err) BT_MUST_USE;
/* Zone i, from 0, gets another mode, as bt_zone_give_mode gives it to its row. */
void bt_tally_mode(bt_tally *t, size_t i, bt_mode mode);
/* Fill in what a run's row takes from its zones, NaN where none has the figure; the fit's from zones that are not
 * in fallback. */
void bt_tally_run(const bt_tally *t, bt_run *run);
void bt_tally_clear(bt_tally *t);

/* Give a row its mode.  Who delivered changes within a mixed zone: no one delay and gain belong to both, and it
 * loses them, for good. */
void bt_zone_give_mode(bt_zone *row, bt_mode mode);
/* The mode of a row. */
bt_mode bt_zone_mode(const bt_zone *row);

#endif
