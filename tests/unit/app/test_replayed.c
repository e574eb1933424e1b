/* The examples through the core of today: every event as it was recorded, and none more.
 * What alters a measure, a state or a sentence by accident is noticed here; what alters it on
 * purpose makes the examples anew (examples/make.sh). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <glob.h>

#include "app/player.h"

static void ignore(void *ctx, const struct oxl_event *ev)
{
    (void)ctx, (void)ev;
}

static void replay(const char *file)
{
    static struct oxl_player player;
    struct oxl_error err = {0};
    player = (struct oxl_player){0};
    if (oxl_player_open(&player, file, NULL, ignore, &err) != OXL_OK ||
        oxl_player_run(&player, &err) != OXL_OK)
        fail_msg("%s", err.text);
    if (player.different || player.said_more || player.compared < 30)
        fail_msg("%s: of %llu events %llu differ%s", file, (unsigned long long)player.compared,
                 (unsigned long long)player.different,
                 player.said_more ? ", and more are said" : "");
    oxl_player_close(&player);
}

static void replay_all(const char *pattern, size_t least)
{
    glob_t found;
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    assert_true(found.gl_pathc >= least);
    for (size_t i = 0; i < found.gl_pathc; i++)
        replay(found.gl_pathv[i]);
    globfree(&found);
}

static void the_examples(void **state)
{
    (void)state;
    replay_all(OXL_SOURCE_DIR "/examples/*.jsonl", 12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_examples),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
