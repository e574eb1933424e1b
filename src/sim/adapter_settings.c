#include "sim/parts.h"

#include <math.h>
#include <string.h>

#define SECTION  "adapter"
#define SETTINGS struct oxl_adapter_settings
#include "sim/setting_rows.h"

const struct oxl_setting oxl_adapter_setting_table[] = {
    U(baud, 1200, 2000000, 115200),
    U(protocol, 1, 9, 6),
    D(latency_ms, 0, 5000, 4),
    D(jitter_ms, 0, 5000, 1),
    D(command_ms, 0, 5000, 0),
    T(slow_commands, ""),
    B(reply_count, true),
    B(adaptive, true),
    B(stuck_echo, false),
    B(stuck_spaces, false),
    B(stuck_linefeeds, false),
    B(silent, false),
    B(garbage, false),
    D(unplug_at_s, 0, 1e6, NAN),
    B(unplug_in_timing, false),
    D(unplug_s, 0.1, 1e6, 3),
    D(search_ms, 0, 120000, 900),
    B(search_silent, false),
    T(refuses, ""),
    T(hollow, ""),
    T(count_fault, "none"),
    D(prompt_lost_pct, 0, 100, 0),
    D(nul_pct, 0, 100, 0),
    D(drop_pct, 0, 100, 0),
    D(double_pct, 0, 100, 0),
    D(flip_pct, 0, 100, 0),
    B(no_echo, false),
    D(banner_every_s, 0, 1e6, 0),
    D(reset_every_s, 0, 1e6, 0),
    T(reset_kind, "banner"),
    U(buffer_frames, 0, 64, 0),
    T(busy_chars, "stop"),
    D(wake_ms, 0, 60000, 0),
    D(open_boot_ms, 0, 60000, 0),
    D(resync_ms, 0, 60000, 0),
    B(held, false),
    D(stall_at_s, 0, 1e6, NAN),
    D(stall_s, 0, 1e6, 1),
    B(stall_in_timing, false),
    D(ignition_off_at_s, 0, 1e6, NAN),
    D(ignition_off_s, 0, 1e6, 5),
    B(ignition_off_in_timing, false),
};
const size_t oxl_adapter_setting_count =
    sizeof oxl_adapter_setting_table / sizeof oxl_adapter_setting_table[0];

void oxl_adapter_defaults(struct oxl_adapter_settings *a)
{
    memset(a, 0, sizeof *a);
    oxl_settings_default(oxl_adapter_setting_table, oxl_adapter_setting_count, a);
}
