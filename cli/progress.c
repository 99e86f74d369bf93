/* One line on a terminal, after a second, at most ten times a second, erased before
 * anything else is said. */
#include "cli.h"

#include <string.h>
#include <unistd.h>

enum { LINE_WIDTH = 79 };

static struct {
    pthread_mutex_t lock;
    bool wanted;
    int logs, done;
    double start, last; /* s */
    int shown;          /* columns on the terminal now */
} line = {.lock = PTHREAD_MUTEX_INITIALIZER};

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

void progress_start(int logs, bool quiet)
{
    line.wanted = !quiet && isatty(STDERR_FILENO);
    line.logs = logs;
    line.start = now();
}

static void erase(void)
{
    if (line.shown) fprintf(stderr, "\r%*s\r", line.shown, "");
    line.shown = 0;
}

void progress_show(const char *path, uint64_t done, uint64_t total)
{
    if (!line.wanted) return;
    pthread_mutex_lock(&line.lock);
    const double t = now();
    if (t - line.start >= 1 && t - line.last >= 0.1) {
        char text[LINE_WIDTH + 1], amount[32];
        if (total)
            snprintf(amount, sizeof amount, "%.0f %%", 100 * (double)done / (double)total);
        else
            snprintf(amount, sizeof amount, "%.1f MB", 1e-6 * (double)done);
        snprintf(text, sizeof text, "%d of %d logs; %s of %s", line.done, line.logs, amount,
                 path_label(path));
        erase();
        fputs(text, stderr);
        fflush(stderr);
        line.shown = (int)strlen(text);
        line.last = t;
    }
    pthread_mutex_unlock(&line.lock);
}

void progress_log_done(void)
{
    pthread_mutex_lock(&line.lock);
    line.done++;
    pthread_mutex_unlock(&line.lock);
}

void progress_clear(void)
{
    pthread_mutex_lock(&line.lock);
    erase();
    pthread_mutex_unlock(&line.lock);
}
