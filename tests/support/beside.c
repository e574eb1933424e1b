#include "beside.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

enum { CASES = 32 };

struct running {
    pid_t pid;
    FILE *said;
};

static _Noreturn void one_case(const struct CMUnitTest *test, FILE *said)
{
    prctl(PR_SET_PDEATHSIG, SIGKILL); /* it ends with the program that ctest may stop */
    if (dup2(fileno(said), STDOUT_FILENO) < 0 || dup2(fileno(said), STDERR_FILENO) < 0)
        _exit(1);
    exit(_cmocka_run_group_tests(test->name, test, 1, NULL, NULL) == 0 ? 0 : 1);
}

static struct running start(const struct CMUnitTest *test)
{
    struct running r = {.said = tmpfile()};
    fflush(stdout);
    if (!r.said || (r.pid = fork()) < 0) {
        perror("fork");
        exit(1);
    }
    if (r.pid == 0)
        one_case(test, r.said);
    return r;
}

static int finish(struct running *r)
{
    char piece[4096];
    int status = -1;
    waitpid(r->pid, &status, 0);
    rewind(r->said);
    for (size_t n; (n = fread(piece, 1, sizeof piece, r->said)) > 0;)
        fwrite(piece, 1, n, stdout);
    fclose(r->said);
    return !(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

int run_beside(const struct CMUnitTest *tests, size_t n)
{
    struct running all[CASES];
    int failed = 0;
    if (n == 0 || n > CASES)
        return 1;
    for (size_t i = 0; i < n; i++)
        all[i] = start(&tests[i]);
    for (size_t i = 0; i < n; i++) {
        int one = finish(&all[i]);
        if (one)
            printf("FAILED: %s\n", tests[i].name);
        failed += one;
    }
    return failed;
}
