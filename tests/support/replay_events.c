/* Replays recordings by the core alone and prints what it says, one JSON object a line, samples
 * left out. No screen, page or port belongs to it, so that it can be built for another processor
 * (other_processor.sh). */
#include <stdio.h>
#include <string.h>

#include "app/player.h"

static void print(void *ctx, const struct oxl_event *ev)
{
    static char text[OXL_RECORD_LINE_MAX];
    const struct oxl_player *p = ctx;
    if (ev->kind != OXL_EV_SAMPLE && oxl_event_json(ev, p->header.mask_vin, text, sizeof text) > 0)
        puts(text);
}

static bool replayed(const char *file)
{
    static struct oxl_player player;
    struct oxl_error err = {0};
    player = (struct oxl_player){0};
    enum oxl_status st = oxl_player_open(&player, file, &player, print, &err);
    if (st == OXL_OK)
        st = oxl_player_run(&player, &err);
    oxl_player_close(&player);
    if (st != OXL_OK)
        fprintf(stderr, "%s: %s\n", file, err.text);
    return st == OXL_OK;
}

int main(int argc, char **argv)
{
    bool all = argc > 1;
    for (int i = 1; i < argc; i++) {
        printf("{\"file\":\"%s\"}\n", strrchr(argv[i], '/') ? strrchr(argv[i], '/') + 1 : argv[i]);
        all = replayed(argv[i]) && all;
    }
    return all ? 0 : 1;
}
