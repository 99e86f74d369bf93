/* The truth as tables: NAME.truth.csv, a row per zone, and NAME.events.csv, a row per event. */
#ifndef PLANT_TRUTH_H
#define PLANT_TRUTH_H

#include "plant.h"

typedef struct plant_truth_files plant_truth_files;

plant_truth_files *plant_truth_open(const char *base); /* NULL with errno set */
void plant_truth_zone(plant_truth_files *f, const plant_zone *zone);
void plant_truth_event(plant_truth_files *f, const plant_event *event);
int plant_truth_close(plant_truth_files *f); /* 0, or -1 with errno set */

#endif
