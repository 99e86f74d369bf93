/* Where the result goes: standard output, or a file that takes its name only when
 * it is whole.  Every write, the last one too, is checked. */
#define _XOPEN_SOURCE 700 /* realpath */
#include "cli.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- an interrupt removes the temporary file ---- */

static const char *volatile doomed; /* path for the handler; NULL = nothing to remove */

static void on_signal(int number)
{
    if (doomed) unlink(doomed);
    signal(number, SIG_DFL);
    raise(number);
}

/* SIGPIPE is left alone: `| head` ends quietly. */
static const int numbers[] = {SIGINT, SIGTERM, SIGHUP};

static void catch_signals(void)
{
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        struct sigaction old, action = {.sa_handler = on_signal};
        sigemptyset(&action.sa_mask);
        if (sigaction(numbers[i], NULL, &old) == 0 && old.sa_handler != SIG_IGN)
            sigaction(numbers[i], &action, NULL);
    }
}

/* Makes the file; an interrupt waits until it is known what to remove. */
static int make_temporary(char *path)
{
    sigset_t held, before;
    sigemptyset(&held);
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) sigaddset(&held, numbers[i]);
    pthread_sigmask(SIG_BLOCK, &held, &before);
    const int fd = mkstemp(path), number = errno;
    if (fd >= 0) {
        doomed = path;
        catch_signals();
    }
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    errno = number;
    return fd;
}

/* ---- the file ---- */

static int fail(const output *out, int number)
{
    say("%s: %s", out->name, strerror(number));
    return EXIT_OUTPUT;
}

static void forget_temporary(output *out)
{
    doomed = NULL;
    free(out->temporary);
    free(out->target);
    out->temporary = out->target = NULL;
}

/* "dir/.name.XXXXXX" beside the target: a rename must not cross file systems. */
static char *temporary_name(const char *target)
{
    const char *slash = strrchr(target, '/');
    const char *base = slash ? slash + 1 : target;
    const size_t n = strlen(target) + sizeof ".." + sizeof "XXXXXX";
    char *name = malloc(n);
    if (name) snprintf(name, n, "%.*s.%s.XXXXXX", (int)(base - target), target, base);
    return name;
}

/* The rights the file would have had, had it been written in place. */
static mode_t rights(const struct stat *there)
{
    if (there) return there->st_mode & 0777;
    const mode_t mask = umask(0);
    umask(mask);
    return 0666 & ~mask;
}

static int open_temporary(output *out, const char *path, const struct stat *there)
{
    /* A link keeps pointing where it did: its target is what is replaced. */
    out->target = there ? realpath(path, NULL) : strdup(path);
    out->temporary = out->target ? temporary_name(out->target) : NULL;
    if (!out->temporary) return fail(out, ENOMEM);
    const int fd = make_temporary(out->temporary);
    if (fd < 0) return fail(out, errno);
    if (fchmod(fd, rights(there)) == 0) out->file = fdopen(fd, "w");
    if (out->file) return 0;
    const int number = errno;
    close(fd);
    unlink(out->temporary);
    return fail(out, number);
}

bool same_file(const char *a, const char *b)
{
    struct stat one, other;
    if (!a || !b) return false;
    if (strcmp(b, "-") == 0) b = "/dev/stdin";
    return stat(a, &one) == 0 && stat(b, &other) == 0 && S_ISREG(one.st_mode) &&
           one.st_dev == other.st_dev && one.st_ino == other.st_ino;
}

int output_open(cli *c)
{
    output *out = &c->out;
    out->name = c->output_path ? c->output_path : "standard output";
    out->file = c->output_path ? NULL : stdout;
    if (!c->output_path) return 0;
    struct stat there;
    const bool exists = stat(c->output_path, &there) == 0;
    if (!exists || S_ISREG(there.st_mode)) {
        const int status = open_temporary(out, c->output_path, exists ? &there : NULL);
        if (status != 0) forget_temporary(out);
        return status;
    }
    out->file = fopen(c->output_path, "w"); /* a device or a pipe has no temporary twin */
    return out->file ? 0 : fail(out, errno);
}

int output_close(cli *c, bool keep)
{
    output *out = &c->out;
    if (!out->file) return 0;
    errno = 0;
    bool good = fflush(out->file) == 0 && !ferror(out->file);
    /* Without this a crash of the machine could leave the new name on an empty file. */
    if (good && keep && out->temporary) good = fsync(fileno(out->file)) == 0;
    int number = errno;
    if (fclose(out->file) != 0 && good) {
        good = false;
        number = errno;
    }
    out->file = NULL;
    if (good && keep && out->temporary && rename(out->temporary, out->target) != 0) {
        good = false;
        number = errno;
    }
    if (out->temporary && !(good && keep)) unlink(out->temporary);
    forget_temporary(out);
    if (good || !keep) return 0;
    return fail(out, number ? number : EIO);
}

bt_status output_write(void *user, const char *bytes, size_t n, bt_error *err)
{
    output *out = user;
    if (fwrite(bytes, 1, n, out->file) == n) return BT_OK;
    if (err && err->status == BT_OK) {
        err->status = BT_WRITE;
        snprintf(err->file, sizeof err->file, "%s", out->name);
        snprintf(err->message, sizeof err->message, "%s", strerror(errno));
    }
    return BT_WRITE;
}

/* ---- a table on it ---- */

/* Columns of the terminal; 0 = not known. */
static int terminal_width(void)
{
    const char *set = getenv("COLUMNS");
    const long columns = set ? strtol(set, NULL, 10) : 0;
    if (columns > 0 && columns < 10000) return (int)columns;
    struct winsize size;
    return ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 ? size.ws_col : 0;
}

static void choose_format(cli *c)
{
    const bool csv_asked = c->style.delimiter || c->style.bom;
    if (!c->format_given && !csv_asked && !c->output_path && isatty(STDOUT_FILENO))
        c->style.format = BT_FORMAT_TEXT;
    if (c->style.format == BT_FORMAT_TEXT) c->style.width = terminal_width();
}

int output_table(cli *c, bt_table_kind table, bt_writer **w)
{
    bt_error err = {0};
    *w = NULL;
    choose_format(c);
    const int status = output_open(c);
    if (status != 0) return status;
    const bt_status made = bt_writer_new(w, table, &c->style, output_write, &c->out, &err);
    if (made == BT_OK) return 0;
    say_error(&err, NULL, 0);
    output_close(c, false);
    return made == BT_RANGE ? EXIT_USAGE : EXIT_OUTPUT;
}

int output_finish(cli *c, bt_writer *w, int status, bool partial)
{
    bt_error err = {0};
    const bool whole = status == EXIT_ALL || (status == EXIT_LOG && partial);
    if (whole && w && bt_writer_end(w, &err) != BT_OK) {
        status = EXIT_OUTPUT;
        say_error(&err, NULL, 0);
    }
    bt_writer_free(w);
    if (status == EXIT_OUTPUT) { /* said already */
        output_close(c, false);
        return status;
    }
    const int closed = output_close(c, whole);
    return closed ? closed : status;
}
