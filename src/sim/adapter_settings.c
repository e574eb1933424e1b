#include "sim/parts.h"

#include <math.h>

#define SETTING(key_name, field, kind_char, low, high)                                             \
    {                                                                                              \
        "adapter", key_name, kind_char, offsetof(struct oxl_adapter_settings, field),              \
            sizeof(((struct oxl_adapter_settings *)0)->field), low, high                           \
    }

const struct oxl_setting oxl_adapter_setting_table[] = {
    SETTING("baud", baud, 'u', 1200, 2000000),
    SETTING("protocol", protocol, 'u', 1, 9),
    SETTING("latency_ms", latency_ms, 'd', 0, 5000),
    SETTING("jitter_ms", jitter_ms, 'd', 0, 5000),
    SETTING("command_ms", command_ms, 'd', 0, 5000),
    SETTING("slow_commands", slow_commands, 't', 0, 0),
    SETTING("reply_count", reply_count, 'b', 0, 1),
    SETTING("adaptive", adaptive, 'b', 0, 1),
    SETTING("stuck_echo", stuck_echo, 'b', 0, 1),
    SETTING("stuck_spaces", stuck_spaces, 'b', 0, 1),
    SETTING("stuck_linefeeds", stuck_linefeeds, 'b', 0, 1),
    SETTING("silent", silent, 'b', 0, 1),
    SETTING("garbage", garbage, 'b', 0, 1),
    SETTING("unplug_at_s", unplug_at_s, 'd', 0, 1e6),
    SETTING("unplug_in_timing", unplug_in_timing, 'b', 0, 1),
    SETTING("unplug_s", unplug_s, 'd', 0.1, 1e6),
    SETTING("search_ms", search_ms, 'd', 0, 120000),
    SETTING("search_silent", search_silent, 'b', 0, 1),
    SETTING("refuses", refuses, 't', 0, 0),
    SETTING("hollow", hollow, 't', 0, 0),
    SETTING("count_fault", count_fault, 't', 0, 0),
    SETTING("prompt_lost_pct", prompt_lost_pct, 'd', 0, 100),
    SETTING("nul_pct", nul_pct, 'd', 0, 100),
    SETTING("drop_pct", drop_pct, 'd', 0, 100),
    SETTING("double_pct", double_pct, 'd', 0, 100),
    SETTING("flip_pct", flip_pct, 'd', 0, 100),
    SETTING("no_echo", no_echo, 'b', 0, 1),
    SETTING("banner_every_s", banner_every_s, 'd', 0, 1e6),
    SETTING("reset_every_s", reset_every_s, 'd', 0, 1e6),
    SETTING("reset_kind", reset_kind, 't', 0, 0),
    SETTING("buffer_frames", buffer_frames, 'u', 0, 64),
    SETTING("busy_chars", busy_chars, 't', 0, 0),
    SETTING("wake_ms", wake_ms, 'd', 0, 60000),
    SETTING("open_boot_ms", open_boot_ms, 'd', 0, 60000),
    SETTING("resync_ms", resync_ms, 'd', 0, 60000),
    SETTING("held", held, 'b', 0, 1),
    SETTING("stall_at_s", stall_at_s, 'd', 0, 1e6),
    SETTING("stall_s", stall_s, 'd', 0, 1e6),
    SETTING("stall_in_timing", stall_in_timing, 'b', 0, 1),
    SETTING("ignition_off_at_s", ignition_off_at_s, 'd', 0, 1e6),
    SETTING("ignition_off_s", ignition_off_s, 'd', 0, 1e6),
    SETTING("ignition_off_in_timing", ignition_off_in_timing, 'b', 0, 1),
};
const size_t oxl_adapter_setting_count =
    sizeof oxl_adapter_setting_table / sizeof oxl_adapter_setting_table[0];

void oxl_adapter_defaults(struct oxl_adapter_settings *a)
{
    *a = (struct oxl_adapter_settings){
        .baud = 115200,
        .protocol = 6,
        .latency_ms = 4,
        .jitter_ms = 1,
        .reply_count = true,
        .adaptive = true,
        .unplug_at_s = NAN,
        .unplug_s = 3,
        .search_ms = 900,
        .count_fault = "none",
        .reset_kind = "banner",
        .busy_chars = "stop",
        .stall_at_s = NAN,
        .stall_s = 1,
        .ignition_off_at_s = NAN,
        .ignition_off_s = 5,
    };
}
