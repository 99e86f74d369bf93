/* Runs a command with its output to a file and adds a line to another: wall and processor time in s,
 * peak memory in MiB.  usage: timed TIMES OUTPUT COMMAND... */
#include <fcntl.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double seconds(const struct timeval *t)
{
    return (double)t->tv_sec + 1e-6 * (double)t->tv_usec;
}

int main(int argc, char **argv)
{
    if (argc < 4) return 2;
    struct timespec from, to;
    clock_gettime(CLOCK_MONOTONIC, &from);
    const pid_t child = fork();
    if (child == 0) {
        const int out = open(argv[2], O_WRONLY | O_CREAT | O_TRUNC, 0666);
        if (out < 0 || dup2(out, STDOUT_FILENO) < 0) _exit(126);
        execvp(argv[3], argv + 3);
        _exit(127);
    }
    int status;
    if (child < 0 || waitpid(child, &status, 0) < 0) return 1;
    clock_gettime(CLOCK_MONOTONIC, &to);
    struct rusage use;
    getrusage(RUSAGE_CHILDREN, &use);
    FILE *f = fopen(argv[1], "a");
    if (!f) return 1;
    fprintf(f, "%.4f %.4f %.1f\n",
            (double)(to.tv_sec - from.tv_sec) + 1e-9 * (double)(to.tv_nsec - from.tv_nsec),
            seconds(&use.ru_utime) + seconds(&use.ru_stime), (double)use.ru_maxrss / 1024);
    return fclose(f) != 0 || !WIFEXITED(status) ? 1 : WEXITSTATUS(status);
}
