/* The audio library itself, against devices that need no hardware: one that does not exist, one
 * that plays into nothing, one that plays into a file (plugins of the system's own audio library).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "beside.h"
#include "listen.h"
#include "long.h"
#include "oxylag/sound.h"

static const char base_config[] = "/usr/share/alsa/alsa.conf";
static char folder[] = "/tmp/oxylag-sound-XXXXXX";

static void sleep_ms(int ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

static void path_of(const char *name, char out[64])
{
    snprintf(out, 64, "%s/%s", folder, name);
}

static void use(const char *default_device)
{
    char path[64];
    path_of("config", path);
    FILE *f = fopen(path, "w");
    fprintf(f, "<%s>\n%s\n", base_config, default_device);
    fclose(f);
    setenv("ALSA_CONFIG_PATH", path, 1);
}

/* A process of its own for each device, as the library keeps its configuration. What it printed on
 * standard error is in the file "words". */
static int in_a_process(int (*work)(void))
{
    char words[64];
    path_of("words", words);
    pid_t pid = fork();
    if (pid == 0)
        _exit(freopen(words, "w", stderr) ? work() : 99);
    int status = -1;
    waitpid(pid, &status, 0);
    FILE *f = fopen(words, "r");
    char said[200] = "";
    size_t n = fread(said, 1, sizeof said - 1, f);
    fclose(f);
    if (n)
        fail_msg("the libraries said: %s", said);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

/* 1 heard, 2 gone, 3 neither in ten seconds. */
static int open_and_call(void)
{
    struct oxl_sound_sink sink;
    int outcome = 3;
    if (!oxl_sound_device("/proc/self/exe", &sink))
        return 98;
    struct oxl_sound *s = oxl_sound_open(&sink, NULL, 80);
    for (int i = 0; i < 1000 && outcome == 3; i++) {
        sleep_ms(10);
        outcome = oxl_sound_is_heard(s) ? 1 : oxl_sound_is_gone(s) ? 2 : 3;
    }
    sleep_ms(500);
    oxl_sound_call(s, OXL_CUE_SHUT, NULL);
    sleep_ms(700);
    oxl_sound_call(s, OXL_CUE_HOLD, NULL);
    oxl_sound_close(s, 2000);
    return outcome;
}

static bool built_without(void)
{
    return !oxl_sound_plays() || access(base_config, R_OK) != 0;
}

/* The machine's own default would be used where it has one. */
static void without_a_device_all_is_quiet(void **state)
{
    (void)state;
    if (built_without())
        skip();
    use("pcm.!default { type hw card 31 }\nctl.!default { type hw card 31 }");
    int outcome = in_a_process(open_and_call);
    if (access("/dev/snd", F_OK) == 0) /* another device of this machine may be taken instead */
        assert_true(outcome == 1 || outcome == 2);
    else
        assert_int_equal(outcome, 2);
}

static void a_null_device_is_played_to(void **state)
{
    (void)state;
    if (built_without())
        skip();
    use("pcm.!default { type null }\nctl.!default { type null }");
    assert_int_equal(in_a_process(open_and_call), 1);
}

/* Through the whole of the library and back: the samples in the file hold the cues. */
static void what_the_device_plays_is_what_was_called(void **state)
{
    (void)state;
    if (built_without())
        skip();
    char config[300], raw[64];
    path_of("raw", raw);
    snprintf(config, sizeof config,
             "pcm.!default { type file slave.pcm { type null } file \"%s\" format raw }\n"
             "ctl.!default { type null }",
             raw);
    use(config);
    assert_int_equal(in_a_process(open_and_call), 1);
    static int16_t samples[5 * OXL_SOUND_HZ];
    FILE *f = fopen(raw, "rb");
    assert_non_null(f);
    size_t n = fread(samples, 2, 5 * OXL_SOUND_HZ, f); /* a little-endian machine, as it is here */
    fclose(f);
    struct heard heard[8];
    assert_int_equal(listen_to(samples, n, heard, 8), 2);
    assert_string_equal(heard[0].what, "shut");
    assert_string_equal(heard[1].what, "hold");
}

/* ---- how long it takes to the device --------------------------------------------------------- */
static const char stamp_word[] = "--stamp";
static char self[512];

static int64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* Beyond the library: a process of the file plugin's, which notes when sound comes after silence.
 */
static int stamp(const char *path)
{
    int16_t piece[64];
    int quiet = 0;
    FILE *f = fopen(path, "w");
    for (ssize_t n; f && (n = read(STDIN_FILENO, piece, sizeof piece)) > 0;)
        for (ssize_t i = 0; i < n / 2; i++) {
            if (piece[i] && quiet > OXL_SOUND_HZ / 4)
                fprintf(f, "%lld\n", (long long)now_us());
            quiet = piece[i] ? 0 : quiet + 1;
        }
    return f && fclose(f) == 0 ? 0 : 1;
}

enum { CALLS = 8 };

/* Its exit says the milliseconds of the quickest call: on a busy machine the others may be late. */
static int call_and_measure(void)
{
    struct oxl_sound_sink sink;
    char path[64];
    int64_t called_us[CALLS], least_us = 250000, all_us = 0;
    long long came_us;
    const int calls = (int)long_or(CALLS, 3);
    int n = 0;
    if (!oxl_sound_device("/proc/self/exe", &sink))
        return 251;
    struct oxl_sound *s = oxl_sound_open(&sink, NULL, 80);
    for (int i = 0; i < 1000 && !oxl_sound_is_heard(s); i++)
        sleep_ms(10);
    for (int i = 0; i < calls; i++) {
        sleep_ms(700 + 37 * i); /* at any moment of a piece */
        called_us[i] = now_us();
        oxl_sound_call(s, OXL_CUE_HOLD, NULL);
    }
    oxl_sound_close(s, 2000);
    sleep_ms(300);
    path_of("stamps", path);
    FILE *f = fopen(path, "r");
    for (; f && n < calls && fscanf(f, "%lld", &came_us) == 1; n++) { /* NOLINT(cert-err34-c) */
        int64_t us = came_us - called_us[n];
        least_us = us < least_us ? us : least_us;
        all_us += us;
    }
    if (f)
        fclose(f);
    printf("from the call to the device: %.1f ms at least, %.1f ms on average of %d\n",
           (double)least_us / 1000, (double)all_us / 1000 / (n ? n : 1), n);
    fflush(stdout);
    return n == calls && least_us >= 0 ? (int)(least_us / 1000) : 252;
}

static void a_call_reaches_the_device_within_100_ms(void **state)
{
    (void)state;
    if (built_without())
        skip();
    char config[800], stamps[64];
    path_of("stamps", stamps);
    snprintf(config, sizeof config,
             "pcm.!default { type file slave.pcm { type null } file \"|%s %s %s\" format raw }\n"
             "ctl.!default { type null }",
             self, stamp_word, stamps);
    use(config);
    int ms = 251;
    for (int i = 0; i < 3 && !(ms < 100); i++)
        ms = in_a_process(call_and_measure);
    assert_in_range(ms, 0, 99);
}

/* The library ends its process there; ours goes on. */
static void a_library_that_fails_takes_nobody_along(void **state)
{
    (void)state;
    if (built_without())
        skip();
    setenv("ALSA_CONFIG_PATH", "/dev/null", 1);
    assert_int_equal(in_a_process(open_and_call), 2);
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"config", "raw", "words", "stamps"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[64];
        path_of(names[i], path);
        unlink(path);
    }
    return rmdir(folder);
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], OXL_SOUND_PLAY) == 0)
        return oxl_sound_play();
    if (argc == 3 && strcmp(argv[1], stamp_word) == 0)
        return stamp(argv[2]);
    if (readlink("/proc/self/exe", self, sizeof self - 1) < 0)
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(without_a_device_all_is_quiet, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(a_null_device_is_played_to, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(what_the_device_plays_is_what_was_called, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_call_reaches_the_device_within_100_ms, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_library_that_fails_takes_nobody_along, make_folder,
                                        remove_folder),
    };
    return run_beside(tests, sizeof tests / sizeof tests[0]);
}
