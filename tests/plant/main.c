/* plant: writes a simulated log, its truth, its car sheet and its channel map. */
#include "plant.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int usage(FILE *to)
{
    fputs("usage: plant [--seed N] [--rate HZ] [--laps N] [--scenario NAME] [-o DIR]\n"
          "       plant --demo DIR\n"
          "       plant --list\n"
          "Writes DIR/NAME.csv.gz, NAME.truth.csv, NAME.events.csv, NAME.car.csv, NAME.map.csv.\n",
          to);
    return to == stderr ? 2 : 0;
}

static int list(void)
{
    for (const plant_scenario *s = plant_scenarios; s->name; s++)
        printf("%-22s %s\n", s->name, s->what);
    return 0;
}

static int failed(const char *what)
{
    fprintf(stderr, "plant: %s: %s\n", what, strerror(errno));
    return 1;
}

typedef struct {
    const char *seed, *rate, *laps, *scenario, *folder, *demo;
} request;

/* 0, or -1 for an argument that is none of ours or lacks its value. */
static int read_arguments(int argc, char **argv, request *r)
{
    const struct {
        const char *name;
        const char **value;
    } table[] = {{"--seed", &r->seed},         {"--rate", &r->rate}, {"--laps", &r->laps},
                 {"--scenario", &r->scenario}, {"-o", &r->folder},   {"--demo", &r->demo}};
    for (int i = 1; i < argc; i += 2) {
        size_t k = 0;
        while (k < sizeof table / sizeof table[0] && strcmp(argv[i], table[k].name) != 0) k++;
        if (k == sizeof table / sizeof table[0] || i + 1 >= argc) return -1;
        *table[k].value = argv[i + 1];
    }
    return 0;
}

static int write_scenario(const request *r, const plant_scenario *s)
{
    char path[1024], truth[1024];
    plant_config cfg;
    plant_log_options opt;
    plant_defaults(&cfg);
    if (r->seed) cfg.seed = strtoull(r->seed, NULL, 10);
    if (r->rate) cfg.rate = strtod(r->rate, NULL);
    if (r->laps) cfg.laps = (int)strtol(r->laps, NULL, 10);
    plant_log_defaults(&opt, &cfg);
    s->prepare(&cfg, &opt);
    if (r->laps) cfg.laps = (int)strtol(r->laps, NULL, 10); /* stands above the scenario's */
    snprintf(truth, sizeof truth, "%s/%s", r->folder, s->name);
    opt.truth = truth;
    snprintf(path, sizeof path, "%s/%s.csv.gz", r->folder, s->name);
    if (plant_write_log(&cfg, path, &opt) != 0) return failed(path);
    snprintf(path, sizeof path, "%s/%s.car.csv", r->folder, s->name);
    if (plant_write_car_sheet(&cfg, path) != 0) return failed(path);
    snprintf(path, sizeof path, "%s/%s.map.csv", r->folder, s->name);
    if (plant_write_map(&cfg, &opt, path) != 0) return failed(path);
    return 0;
}

int main(int argc, char **argv)
{
    request r = {.scenario = "healthy", .folder = "."};
    if (argc == 2 && strcmp(argv[1], "--list") == 0) return list();
    if (argc == 2 && (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0))
        return usage(stdout);
    if (read_arguments(argc, argv, &r) != 0) return usage(stderr);
    if (r.demo) return plant_write_demo(r.demo) == 0 ? 0 : failed(r.demo);
    const plant_scenario *s = plant_scenario_find(r.scenario);
    if (s) return write_scenario(&r, s);
    fprintf(stderr, "plant: no scenario '%s'; --list names them\n", r.scenario);
    return 2;
}
