/* Several logs on several threads.  Results come out in the order of the command
 * line whatever the number of threads, so that -j changes no byte.  What waits for
 * its turn is small: finished rows, never samples. */
#include "cli.h"

#include <stdlib.h>
#include <unistd.h>

typedef struct {
    const char *path;
    const char *name;  /* of its run, unlike that of any other */
    bt_sketch *sketch; /* NULL = nothing wanted of the samples */
    bool shelved;
    bt_shelf *shelf; /* its zones; NULL = they are in the result, or the log failed */
    bt_result result;
    bt_error err;
    bt_status status;
    bool done;
} job;

typedef struct {
    pthread_mutex_t lock;
    pthread_cond_t finished;
    const bt_setup *setup;
    job *jobs;
    int n, next; /* next = the first that no thread has taken */
    int inner;   /* bt_setup.threads of each log: 1 where the logs themselves keep the cores busy */
} queue;

static void show_progress(void *user, uint64_t done, uint64_t total)
{
    const job *j = user;
    progress_show(j->path, done, total);
}

static bt_status take_sample(void *user, const bt_trace *sample, bt_error *err)
{
    const job *j = user;
    return bt_sketch_take(j->sketch, sample, err);
}

/* inner: threads for this log alone. */
static void analyse(job *j, const bt_setup *common, int inner)
{
    bt_setup setup = *common;
    setup.threads = inner;
    setup.progress = show_progress;
    if (j->sketch) setup.trace = take_sample;
    setup.user = j;
    j->status = j->shelved ? bt_shelf_analyse(&j->shelf, j->path, &setup, &j->result, &j->err)
                           : bt_analyse(j->path, &setup, &j->result, &j->err);
    progress_log_done();
}

static void *work(void *user)
{
    queue *q = user;
    for (;;) {
        pthread_mutex_lock(&q->lock);
        job *j = q->next < q->n ? &q->jobs[q->next++] : NULL;
        pthread_mutex_unlock(&q->lock);
        if (!j) return NULL;
        analyse(j, q->setup, q->inner);
        pthread_mutex_lock(&q->lock);
        j->done = true;
        pthread_cond_broadcast(&q->finished);
        pthread_mutex_unlock(&q->lock);
    }
}

static void wait_for(queue *q, const job *j)
{
    pthread_mutex_lock(&q->lock);
    while (!j->done) pthread_cond_wait(&q->finished, &q->lock);
    pthread_mutex_unlock(&q->lock);
}

/* No thread takes another log. */
static void stop(queue *q)
{
    pthread_mutex_lock(&q->lock);
    q->next = q->n;
    pthread_mutex_unlock(&q->lock);
}

/* Threads started, of at most `want`; 0 if the system gives none. */
static int start(queue *q, pthread_t *threads, int want)
{
    int n = 0;
    while (n < want && pthread_create(&threads[n], NULL, work, q) == 0) n++;
    return n;
}

static void drop_rows(job *j)
{
    bt_result_clear(&j->result);
    bt_shelf_free(j->shelf);
    j->shelf = NULL;
}

static int put_away(const cli *c, job *j)
{
    bt_error err = {0};
    bt_shelf_name(j->shelf, j->name);
    if (bt_shelf_join(c->shelf, j->shelf, &err) == BT_OK) return 0;
    return say_error(&err, j->path, EXIT_LOG);
}

/* Say and hand over what is finished, log by log. */
static int collect(cli *c, queue *q, bool threaded, jobs_emit emit, void *user)
{
    note_tally tally = {0};
    int status = EXIT_ALL;
    for (int i = 0; i < q->n && status != EXIT_OUTPUT; i++) {
        job *j = &q->jobs[i];
        if (threaded)
            wait_for(q, j);
        else
            analyse(j, q->setup, q->inner);
        for (size_t k = 0; k < j->result.n_notes && !c->quiet; k++)
            note_say(&tally, j->path, j->result.notes[k]);
        if (j->status != BT_OK) status = say_error(&j->err, j->path, EXIT_LOG);
        names_give(&j->result, j->name);
        if (j->shelf && put_away(c, j) != 0) status = EXIT_LOG;
        const int emitted = emit(user, &j->result, j->status == BT_OK);
        if (emitted != 0) status = emitted;
        drop_rows(j);
    }
    note_end(&tally);
    return status;
}

static int threads_wanted(const cli *c, int logs)
{
    const long want = c->jobs ? c->jobs : sysconf(_SC_NPROCESSORS_ONLN);
    return want > logs ? logs : want < 1 ? 1 : (int)want;
}

int jobs_run(cli *c, int n, char **logs, jobs_emit emit, void *user)
{
    queue q = {.lock = PTHREAD_MUTEX_INITIALIZER,
               .finished = PTHREAD_COND_INITIALIZER,
               .setup = &c->setup,
               .n = n};
    const int want = threads_wanted(c, n);
    q.jobs = calloc((size_t)n, sizeof *q.jobs);
    pthread_t *threads = calloc((size_t)want, sizeof *threads);
    run_name *names = names_new(n, logs);
    int status = EXIT_LOG;
    if (q.jobs && threads && names) {
        for (int i = 0; i < n; i++) {
            q.jobs[i].path = logs[i];
            q.jobs[i].name = names[i];
            q.jobs[i].shelved = c->shelf != NULL;
            q.jobs[i].sketch = c->sketches ? c->sketches[i] : NULL;
        }
        if (!c->quiet) names_say(names, n, logs);
        progress_start(n, c->quiet);
        q.inner = c->jobs == 1 || (want > 1 && want >= sysconf(_SC_NPROCESSORS_ONLN)) ? 1 : 0;
        const int started = want > 1 ? start(&q, threads, want) : 0;
        status = collect(c, &q, started > 0, emit, user);
        stop(&q);
        for (int i = 0; i < started; i++) pthread_join(threads[i], NULL);
        progress_clear();
        for (int i = 0; i < n; i++) drop_rows(&q.jobs[i]);
    } else {
        say("no memory for %d logs", n);
    }
    free(names);
    free(threads);
    free(q.jobs);
    return status;
}
