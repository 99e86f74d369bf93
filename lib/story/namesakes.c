/* Runs that share their name, day1/run1.csv and day2/run1.csv, told apart in pooled zone rows: two zones of
 * one number are of two runs.  Public: bt_run_name_again, bt_zones_part in braketally.h. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

void bt_run_name_again(const char *run, unsigned again, char name[BT_NAME_MAX])
{
    char number[16];
    const int n = snprintf(number, sizeof number, " (%u)", again);
    snprintf(name, BT_NAME_MAX, "%.*s%s", BT_NAME_MAX - 1 - n, run, number);
}

static bool has_run(const bt_zones *zones, const char *name)
{
    for (size_t i = 0; i < zones->n; i++)
        if (strcmp(zones->row[i].run, name) == 0) return true;
    return false;
}

static int by_run_and_zone(const void *a, const void *b)
{
    const bt_zone *p = *(const bt_zone *const *)a, *q = *(const bt_zone *const *)b;
    const int run = strcmp(p->run, q->run);
    return run ? run : (p->zone > q->zone) - (p->zone < q->zone);
}

/* Rows of that name from the first on, each time its numbers begin anew a run of its own. */
static void number_runs(bt_zones *zones, const char *name)
{
    char own[BT_NAME_MAX], now[BT_NAME_MAX];
    double last = 0;
    unsigned again = 1;
    snprintf(own, sizeof own, "%s", name);
    snprintf(now, sizeof now, "%s", name);
    for (size_t i = 0; i < zones->n; i++) {
        bt_zone *z = &zones->row[i];
        if (strcmp(z->run, own) != 0) continue;
        if (z->zone <= last) {
            do bt_run_name_again(own, ++again, now);
            while (has_run(zones, now));
        }
        last = z->zone;
        memcpy(z->run, now, sizeof now);
    }
}

bt_status bt_zones_part(bt_zones *zones, char shared[BT_NAME_MAX], bt_error *err)
{
    shared[0] = '\0';
    const bt_zone **sorted = calloc(zones->n + 1, sizeof(const bt_zone *));
    char(*twice)[BT_NAME_MAX] = calloc(zones->n + 1, sizeof *twice);
    size_t n = 0;
    if (sorted && twice) {
        for (size_t i = 0; i < zones->n; i++) sorted[i] = &zones->row[i];
        qsort(sorted, zones->n, sizeof(const bt_zone *), by_run_and_zone);
        for (size_t i = 1; i < zones->n; i++) {
            const bool same = strcmp(sorted[i]->run, sorted[i - 1]->run) == 0 &&
                              sorted[i]->zone <= sorted[i - 1]->zone;
            if (same && (n == 0 || strcmp(twice[n - 1], sorted[i]->run) != 0))
                memcpy(twice[n++], sorted[i]->run, BT_NAME_MAX);
        }
        for (size_t k = 0; k < n; k++) number_runs(zones, twice[k]);
        memcpy(shared, twice[0], BT_NAME_MAX);
    }
    const bool room = sorted && twice;
    free(sorted);
    free(twice);
    return room ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for %zu zones", zones->n);
}
